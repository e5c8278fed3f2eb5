//! When a step that has not opened yet will open, and how surely: the futures of its site, asked for its warmth.
//!
//! Only for windows that open by warmth since grafting; the rest have a date or wait for a record.

use super::{BatchCare, Ground, State, StepCare};
use crate::days::PastYears;
use crate::nursery::{Anchor, Model};
use crate::outlook::{Band, Dates, Futures, Requirement, arrival};
use chrono::{Days, NaiveDate};
use std::cell::OnceCell;

/// The days between which a window will open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Foreseen {
    /// The earliest tenth, the middle and the latest tenth; none where that lies beyond what is looked at.
    pub band: Band,
    /// No year before could be gone by: the days to come are taken to be as warm as the last ones.
    pub rough: bool,
}

/// When the window of a step will open; none where it has opened, does not open by warmth, or nothing is known.
pub fn foreseen(care: &BatchCare<'_>, step: &StepCare<'_>, futures: &Futures) -> Option<Foreseen> {
    Some(Foreseen {
        band: dates(care, step, futures)?.band(),
        rough: futures.is_rough(),
    })
}

/// The same with every chance.
fn dates(care: &BatchCare<'_>, step: &StepCare<'_>, futures: &Futures) -> Option<Dates> {
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
    sites: Vec<SiteOutlook<'a>>,
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
            let here = cares
                .iter()
                .filter(|c| c.batch.site == ground.site.id && c.is_open());
            let first = here.map(|c| c.batch.grafted_on).min();
            SiteOutlook {
                ground,
                past,
                from: first.unwrap_or(ground.moment.today) + Days::new(1),
                made: ground
                    .models()
                    .map(|model| (model, OnceCell::new()))
                    .collect(),
            }
        };
        Self {
            sites: grounds.iter().zip(past).map(site).collect(),
        }
    }

    /// When the window of a step will open: see [`foreseen`].
    pub fn of(&self, care: &BatchCare<'_>, step: &StepCare<'_>) -> Option<Foreseen> {
        foreseen(
            care,
            step,
            self.futures(&care.batch.site, &care.plan.model)?,
        )
    }

    /// The same with every chance: the days on which the window may open, and how likely.
    pub fn dates(&self, care: &BatchCare<'_>, step: &StepCare<'_>) -> Option<Dates> {
        dates(
            care,
            step,
            self.futures(&care.batch.site, &care.plan.model)?,
        )
    }

    /// How the days of a site may go on by that model; none where no batch there is reckoned by it.
    pub fn futures(&self, site: &str, model: &Model) -> Option<&Futures> {
        let site = self.sites.iter().find(|s| s.ground.site.id == site)?;
        let (_, made) = site.made.iter().find(|(of, _)| of == model)?;
        Some(made.get_or_init(|| site.ground.futures(model, site.past, site.from)))
    }
}
