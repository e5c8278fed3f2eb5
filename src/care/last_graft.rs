//! How late in the year can be grafted: early enough for the union to be grown together before the first frost.
//!
//! Also what else the years before tell of a site: the frost from which on little is cut, the heat of its usual day.

use super::{Ground, standard_day};
use crate::days::{Frost, PastYears, in_80_of_100};
use crate::heat::{Extremes, of_day};
use crate::nursery::{Model, Plan, What};
use crate::units::{DegreeDays, StandardDays};
use chrono::{Days, NaiveDate};

/// A graft needs so much warmth to grow together, and then so many days to harden before the first frost: common
/// practice, no source.
const TO_GROW: StandardDays = StandardDays(28.0);
const TO_HARDEN: u64 = 21;

/// The warmth is looked for in so many days before the frost: half a year.
const LOOKED_BACK: u64 = 183;

/// So many days before and after the first frost little is cut off: common practice, no source.
const NEAR: i64 = 42;

/// The last day on which can be grafted, and the frost that sets it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastGraft {
    frost: Frost,
    before: Days,
}

/// Why there is no such day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoLastGraft {
    /// Fewer than five years before are wholly known.
    Unknown,
    /// The site hardly ever freezes in the half year after midsummer: frost sets no end.
    NeverFreezes,
    /// Before autumn too little warmth without frost is gathered, whenever it is begun.
    TooCold,
}

impl LastGraft {
    /// From the years before. In 80 of 100 of them the first frost came on the frost date or later; in 80 of 100 of them
    /// `need` was gathered without a frost from the day after this one to 21 days before the frost date, that day
    /// included.
    pub fn new(
        frost: Frost,
        past: &PastYears,
        today: NaiveDate,
        model: &Model,
        need: DegreeDays,
    ) -> Result<Self, NoLastGraft> {
        match frost {
            Frost::Unknown => return Err(NoLastGraft::Unknown),
            Frost::Never => return Err(NoLastGraft::NeverFreezes),
            Frost::From { .. } => {}
        }
        let days = |year: i32| {
            let date = frost.on_or_after(NaiveDate::from_ymd_opt(year, 1, 1)?)?;
            if date >= today {
                return None;
            }
            let until = date.checked_sub_days(Days::new(TO_HARDEN))?;
            days_back(past, until, model, need)
        };
        // The fewer days are needed, the safer.
        let years = past.years().filter_map(days);
        let needed = in_80_of_100(years.map(|n| (std::cmp::Reverse(n), n)).collect());
        match needed {
            None => Err(NoLastGraft::Unknown),
            Some(n) if n > LOOKED_BACK => Err(NoLastGraft::TooCold),
            Some(n) => Ok(Self {
                frost,
                before: Days::new(TO_HARDEN + n),
            }),
        }
    }

    /// The last day of the season that ends with the first frost on or after `day`: it may lie before `day`. With it
    /// the date of that frost.
    pub fn of_season(&self, day: NaiveDate) -> Option<(NaiveDate, NaiveDate)> {
        let frost = self.frost.on_or_after(day)?;
        Some((frost.checked_sub_days(self.before)?, frost))
    }

    /// By how many years the frost date goes.
    pub fn years(&self) -> usize {
        match self.frost {
            Frost::From { years, .. } => years,
            Frost::Never | Frost::Unknown => 0,
        }
    }
}

/// How many days without frost, the last of them `until`, it took to gather `need`; more than are looked at where it
/// took longer or a frost came in between.
/// None where one of them is unknown.
fn days_back(past: &PastYears, until: NaiveDate, model: &Model, need: DegreeDays) -> Option<u64> {
    let mut heat = 0.0;
    for n in 0..LOOKED_BACK {
        let date = until.checked_sub_days(Days::new(n))?;
        let (min, max) = past.on(date)?;
        if min <= 0.0 {
            break;
        }
        let next_min = past.on(date.succ_opt()?).map(|next| next.0);
        heat += of_day(model, Extremes { min, max }, next_min);
        if heat >= need.0 * (1.0 - 1e-9) {
            return Some(n + 1);
        }
    }
    Some(LOOKED_BACK + 1)
}

/// What the years before say of a site's autumn.
#[derive(Clone, Debug, Default)]
pub(super) struct Autumn {
    frost: Frost,
    /// By the names of plans.
    last_grafts: Vec<(String, Result<LastGraft, NoLastGraft>)>,
}

/// Whether a plan is of grafts that can be made anew in the same season, in the field.
fn has_an_end(plan: &Plan) -> bool {
    plan.steps
        .iter()
        .any(|step| step.brings == [What::Regrafted])
}

impl Ground<'_> {
    /// The same, with the last days for grafting by those plans of which grafts can be made anew in the season.
    #[must_use]
    pub fn with_last_grafts<'p>(
        mut self,
        past: &PastYears,
        plans: impl IntoIterator<Item = &'p Plan>,
    ) -> Self {
        let today = self.moment.today;
        self.autumn.frost = Frost::new(past, self.site.hemisphere(), today);
        for plan in plans.into_iter().filter(|plan| has_an_end(plan)) {
            let need = TO_GROW.as_heat(standard_day(self.site, plan));
            let last = LastGraft::new(self.autumn.frost, past, today, &plan.model, need);
            self.autumn.last_grafts.push((plan.name.clone(), last));
        }
        self
    }

    /// The last day for grafting by a plan; none where its grafts do not depend on the season.
    pub fn last_graft(&self, plan: &str) -> Option<Result<LastGraft, NoLastGraft>> {
        let found = self
            .autumn
            .last_grafts
            .iter()
            .find(|(name, _)| name == plan);
        found.map(|(_, last)| *last)
    }

    /// The date from which on the first frost is to be reckoned with, where it lies within 42 days of today, before or
    /// after.
    pub fn frost_near(&self) -> Option<NaiveDate> {
        let today = self.moment.today;
        let frost = self.autumn.frost.nearest(today)?;
        ((frost - today).num_days().abs() <= NEAR).then_some(frost)
    }

    /// The mean daily heat by that model of the grafting seasons before, which is a standard day at the site, and by how
    /// many days; none where nothing is known to be usual.
    pub fn usual_day(&self, model: &Model) -> Option<(DegreeDays, usize)> {
        let days = self.usual.days();
        let heat = days.iter().enumerate().map(|(at, day)| {
            let next = days.get(at + 1);
            let next = next.filter(|next| day.date.succ_opt() == Some(next.date));
            let (min, max) = (day.min, day.max);
            of_day(model, Extremes { min, max }, next.map(|next| next.min))
        });
        let mean = heat.sum::<f64>() / days.len() as f64;
        (!days.is_empty()).then_some((DegreeDays(mean), days.len()))
    }
}
