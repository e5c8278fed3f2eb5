//! When windows that have not opened or closed yet will, and how surely: the futures of every site, shared by its batches,
//! and what `dates` makes of them for one batch. Hands on the middle of a distribution and its tenths.

use super::dates::Sight;
use super::{BatchCare, Ground, State, StepCare, on_site};
use crate::days::PastYears;
use crate::nursery::{Anchor, Model};
use crate::outlook::{Band, Dates, Futures, Requirement, arrival};
use chrono::{Days, NaiveDate};
use std::cell::OnceCell;
use std::collections::HashMap;

/// The days between which something will come: a window opens, closes, a limit is reached, lines show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Foreseen {
    /// The earliest tenth, the middle and the latest tenth; none where that lies beyond what is looked at.
    pub band: Band,
    /// No year before could be gone by: the days to come are taken to be as warm as the last ones.
    pub rough: bool,
}

/// When the window of a step will open; none where it has opened, waits for what nobody can foresee, or nothing is known.
pub fn foreseen(care: &BatchCare<'_>, step: &StepCare<'_>, futures: &Futures) -> Option<Foreseen> {
    Sight::new(care, futures)
        .opening(step)
        .map(|dates| Foreseen::of(&dates, futures))
}

/// A day to act before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Deadline {
    /// The day as it is known or foretold; where no forecast reaches it, the earliest tenth of what is foreseen. *A walk that
    /// comes a day early costs an hour, one that comes too late the grafts.*
    pub on: NaiveDate,
    /// The days between which it is foreseen, where no forecast reaches it.
    pub foreseen: Option<Foreseen>,
}

impl Deadline {
    fn of(known: Option<NaiveDate>, foreseen: impl FnOnce() -> Option<Foreseen>) -> Option<Self> {
        if let Some(on) = known {
            let foreseen = None;
            return Some(Self { on, foreseen });
        }
        let foreseen = foreseen()?;
        Some(Self {
            on: foreseen.band.p10?,
            foreseen: Some(foreseen),
        })
    }

    /// The middle of what is foreseen, or the day itself where it lies beyond what is looked at; none where the day is known
    /// or foretold.
    pub fn middle(&self) -> Option<NaiveDate> {
        self.foreseen.map(|f| f.band.p50.unwrap_or(self.on))
    }
}

impl Foreseen {
    /// A day that is known, or told by a forecast.
    pub fn certain(day: NaiveDate) -> Self {
        let day = Some(day);
        let band = Band {
            p10: day,
            p50: day,
            p90: day,
        };
        Self { band, rough: false }
    }

    fn of(dates: &Dates, futures: &Futures) -> Self {
        Self {
            band: dates.band(),
            rough: futures.is_rough(),
        }
    }
}

/// The days on which a window may open that opens by warmth since grafting, as the program itself opens it: records that
/// may open it sooner are left out of account.
fn by_warmth(care: &BatchCare<'_>, step: &StepCare<'_>, futures: &Futures) -> Option<Dates> {
    let opens = &step.step.opens;
    let waits =
        step.state == State::Ahead && opens.repeat.is_none() && opens.after == Anchor::Grafted;
    let ruled_out = care.facts.first(&opens.unless).is_some();
    if !waits || ruled_out || futures.is_blank() {
        return None;
    }
    let mut need = care.warmth.heat_of(opens.warmth?).0;
    if let Some(held) = opens.held
        && let Some(fact) = care.facts.last(&[held.by])
    {
        need = need.max(care.warmth.at_least(fact.date).0 + care.warmth.heat_of(held.during).0);
    }
    let grafted = care.batch.grafted_on;
    let after = |days: u32| grafted + Days::new(days.into());
    let (least, most) = (opens.min_days.map(after), opens.max_days.map(after));
    // What has not opened by now opens no sooner than with the next day.
    let next = care.warmth.moment.through.succ_opt()?;
    let guarded = |day: Option<NaiveDate>| {
        let day = day.map(|day| day.max(next).max(least.unwrap_or(next)));
        day.into_iter().chain(most).min().map(|day| day.max(next))
    };
    let dates = arrival(
        futures,
        &Dates::certain(grafted),
        Requirement::certain(need),
    );
    Some(dates.map(guarded))
}

/// The futures of every site, made when first asked for and shared by its batches.
#[derive(Debug)]
pub struct Outlook<'a> {
    sites: HashMap<&'a str, SiteOutlook<'a>>,
}

#[derive(Debug)]
struct SiteOutlook<'a> {
    ground: &'a Ground<'a>,
    past: &'a PastYears,
    from: NaiveDate,
    made: Vec<(Model, OnceCell<Futures>)>,
}

impl<'a> Outlook<'a> {
    /// An outlook for the open ones of these batches; `past` stands site by site beside `grounds`.
    pub fn new(grounds: &'a [Ground<'a>], past: &'a [PastYears], cares: &[BatchCare<'_>]) -> Self {
        let site = |(ground, past): (&'a Ground<'a>, &'a PastYears)| {
            let here = on_site(cares, &ground.site.id).iter();
            let open = here.filter(|care| care.is_open());
            let first = open.map(|care| care.batch.grafted_on).min();
            let outlook = SiteOutlook {
                ground,
                past,
                from: first.unwrap_or(ground.moment.today) + Days::new(1),
                made: ground
                    .models()
                    .map(|model| (model, OnceCell::new()))
                    .collect(),
            };
            (ground.site.id.as_str(), outlook)
        };
        Self {
            sites: grounds.iter().zip(past).map(site).collect(),
        }
    }

    /// When the window of a step will open: see [`foreseen`].
    pub fn of(&self, care: &BatchCare<'_>, step: &StepCare<'_>) -> Option<Foreseen> {
        foreseen(care, step, self.futures_of(care)?)
    }

    /// When its window will close; none where it has or never does.
    pub fn closes(&self, care: &BatchCare<'_>, step: &StepCare<'_>) -> Option<Foreseen> {
        self.sight(care, |sight| sight.closing(step))
    }

    /// When the limit of the batch will be reached; none where it has been or the risk is over.
    pub fn limit(&self, care: &BatchCare<'_>) -> Option<Foreseen> {
        self.sight(care, |sight| sight.limit())
    }

    /// The day before which somebody has to act on the limit of the batch; none where the risk is over or nothing is known.
    pub fn act_before_limit(&self, care: &BatchCare<'_>) -> Option<Deadline> {
        Deadline::of(care.limit?.reached_on, || self.limit(care))
    }

    /// The last day on which a step is to be reckoned with as in time; none where it never closes or nothing is known.
    pub fn act_before_close(&self, care: &BatchCare<'_>, step: &StepCare<'_>) -> Option<Deadline> {
        Deadline::of(step.closes_on, || self.closes(care, step))
    }

    /// When callus lines will show; none where they have.
    pub fn lines(&self, care: &BatchCare<'_>) -> Option<Foreseen> {
        self.sight(care, |sight| sight.lines())
    }

    /// The days on which a window may open by warmth alone since grafting, and how likely; none where it has opened or
    /// does not open so.
    pub fn by_warmth(&self, care: &BatchCare<'_>, step: &StepCare<'_>) -> Option<Dates> {
        by_warmth(care, step, self.futures_of(care)?)
    }

    fn sight(
        &self,
        care: &BatchCare<'_>,
        ask: impl FnOnce(Sight<'_, '_>) -> Option<Dates>,
    ) -> Option<Foreseen> {
        let futures = self.futures_of(care)?;
        ask(Sight::new(care, futures)).map(|dates| Foreseen::of(&dates, futures))
    }

    /// None for a batch that is finished: its days may lie before those that are looked at.
    fn futures_of(&self, care: &BatchCare<'_>) -> Option<&Futures> {
        if !care.is_open() {
            return None;
        }
        self.futures(&care.batch.site, &care.plan.model)
    }

    /// The years before at a site.
    pub fn past(&self, site: &str) -> Option<&'a PastYears> {
        let site = self.sites.get(site)?;
        Some(site.past)
    }

    /// How the days of a site may go on by that model; none where no batch there is reckoned by it.
    pub fn futures(&self, site: &str, model: &Model) -> Option<&Futures> {
        let site = self.sites.get(site)?;
        let (_, made) = site.made.iter().find(|(of, _)| of == model)?;
        Some(made.get_or_init(|| site.ground.futures(model, site.past, site.from)))
    }
}
