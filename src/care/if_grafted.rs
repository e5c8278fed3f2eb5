//! What would follow if grafts were made on a day to come: when they would have to be looked at, headed back and untied,
//! and what of it falls on days off.
//!
//! Reckons a batch that does not exist by the futures of its site. Hands on figures and dates, not words.

use super::{Against, DayLoad, Fit, Ground, LOOKED_AT, Unsure, fit, standard_day};
use crate::days::PastYears;
use crate::nursery::{Anchor, Need, Opening, Plan, Workdays};
use crate::outlook::{Band, Dates, Futures, Requirement, arrival};
use crate::units::DegreeDays;
use chrono::{Days, NaiveDate};

/// Grafts that might be made.
#[derive(Clone, Copy, Debug)]
pub struct IfGrafted<'a> {
    /// Where.
    pub ground: &'a Ground<'a>,
    /// The years before there.
    pub past: &'a PastYears,
    /// By which plan.
    pub plan: &'a Plan,
    /// When somebody is in the field.
    pub workdays: &'a Workdays,
    /// How many.
    pub grafts: u32,
    /// The work there is anyway, as far ahead as it is known.
    pub beside: &'a [DayLoad],
}

/// Grafts made on one day.
#[derive(Clone, Debug, PartialEq)]
pub struct DayAsked<'a> {
    /// The day of grafting.
    pub date: NaiveDate,
    /// How fit it is.
    pub fit: Fit,
    /// What follows, in the order of the plan; the limit last.
    pub steps: Vec<StepAsked<'a>>,
    /// Without years before: the days to come are taken to be as warm as the last ones.
    pub rough: bool,
}

/// One thing that follows.
#[derive(Clone, Debug, PartialEq)]
pub struct StepAsked<'a> {
    /// The step or limit, by id.
    pub id: &'a str,
    /// What is done, or what the limit is called.
    pub title: &'a str,
    /// When its window opens, or the limit is reached.
    pub band: Band,
    /// Its middle falls on a day off.
    pub off: bool,
    /// Crew hours of these grafts.
    pub hours: f64,
    /// Crew hours of all other work on the working day on which it falls, more in one case of ten; none where that is
    /// further ahead than the work is known.
    pub beside: Option<f64>,
}

impl<'a> IfGrafted<'a> {
    /// What follows from grafting on each of so many days from `first` on; nothing where no temperature of the site is
    /// known, neither of this year nor of one before.
    pub fn days(&self, first: NaiveDate, count: usize) -> Vec<DayAsked<'a>> {
        let Some(from) = first.succ_opt() else {
            return Vec::new();
        };
        let last = first.checked_add_days(Days::new(count as u64));
        let Some(horizon) = last.and_then(|last| last.checked_add_days(LOOKED_AT)) else {
            return Vec::new();
        };
        let futures = self
            .ground
            .futures_to(&self.plan.model, self.past, from, horizon);
        if futures.is_blank() {
            return Vec::new();
        }
        first
            .iter_days()
            .take(count)
            .map(|date| DayAsked {
                date,
                fit: fit(self.ground, self.plan, self.workdays, date),
                steps: self.follows(date, &futures),
                rough: futures.is_rough(),
            })
            .collect()
    }

    /// What opens by warmth since grafting, and the limit if lines are looked for and not written down.
    fn follows(&self, grafted: NaiveDate, futures: &Futures) -> Vec<StepAsked<'a>> {
        let steps = self.plan.steps.iter().filter(|step| {
            let opens = &step.opens;
            !step.aside && opens.repeat.is_none() && opens.after == Anchor::Grafted
        });
        let opened = steps.filter_map(|step| {
            let dates = reached(grafted, futures, self.heat(step.opens.warmth?));
            let band = dates.map(|day| guarded(&step.opens, grafted, day)).band();
            Some(self.asked(&step.id, &step.title, band, step.hours(self.grafts)))
        });
        let limit = self.plan.limit.as_ref().map(|limit| {
            let heat = self.heat(self.plan.reckoning.assumed).0 + self.heat(limit.warmth).0;
            let band = reached(grafted, futures, DegreeDays(heat)).band();
            self.asked(&limit.id, &limit.title, band, 0.0)
        });
        opened.chain(limit).collect()
    }

    fn asked(&self, id: &'a str, title: &'a str, band: Band, hours: f64) -> StepAsked<'a> {
        let worked_at = band.p50.and_then(|day| self.workdays.next_after(day));
        let beside = worked_at.and_then(|day| self.beside.iter().find(|load| load.date == day));
        StepAsked {
            id,
            title,
            band,
            off: band.p50.is_some_and(|day| !self.workdays.works(day)),
            hours,
            beside: beside.map(|load| load.hours_p90),
        }
    }

    fn heat(&self, need: Need) -> DegreeDays {
        match need {
            Need::Standard(days) => days.as_heat(standard_day(self.ground.site, self.plan)),
            Need::Heat(heat) => heat,
        }
    }
}

fn reached(grafted: NaiveDate, futures: &Futures, need: DegreeDays) -> Dates {
    let need = Requirement::certain(need.0);
    arrival(futures, &Dates::certain(grafted), need)
}

/// No sooner than the least day of an opening, no later than its last.
fn guarded(opens: &Opening, grafted: NaiveDate, day: Option<NaiveDate>) -> Option<NaiveDate> {
    let after = |days: u32| grafted.checked_add_days(Days::new(days.into()));
    let least = opens.min_days.and_then(after);
    let day = day.map(|day| least.map_or(day, |least| day.max(least)));
    let most = opens.max_days.and_then(after);
    day.into_iter().chain(most).min()
}

impl DayAsked<'_> {
    /// How many of the things that follow fall on days off.
    pub fn hits(&self) -> usize {
        self.steps.iter().filter(|step| step.off).count()
    }

    /// Nobody works on it, or it is too late in the year: no weather makes up for that.
    pub fn is_out(&self) -> bool {
        let out = |against: &Against| {
            matches!(
                against,
                Against::DayOff | Against::AfterLast(_) | Against::NoSeason
            )
        };
        self.fit.against.iter().any(out)
    }

    /// Its weather is not known.
    pub fn is_unknown(&self) -> bool {
        self.fit.unsure.contains(&Unsure::Weather)
    }
}

/// Which of the days is best: a working day in the season; with least against it, weather that is not known counting as
/// one thing; with least on days off; the first of them. None where no day is possible.
pub fn best(days: &[DayAsked<'_>]) -> Option<usize> {
    let worth = |day: &DayAsked<'_>| {
        let against = day.fit.against.len() + usize::from(day.is_unknown());
        (against, day.hits())
    };
    let possible = days.iter().enumerate().filter(|(_, day)| !day.is_out());
    possible
        .min_by_key(|(at, day)| (worth(day), *at))
        .map(|(at, _)| at)
}
