//! When a step that has not opened yet will open, and how surely: the futures of its site, asked for its warmth.
//!
//! Only for windows that open by warmth since grafting; the rest have a date or wait for a record.

use super::{BatchCare, Ground, State, StepCare};
use crate::days::PastYears;
use crate::nursery::{Anchor, Model};
use crate::outlook::{Band, Dates, Futures, Requirement, arrival};
use chrono::{Days, NaiveDate};

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
    let band = dates.map(guarded).band();
    Some(Foreseen {
        band,
        rough: futures.is_rough(),
    })
}

/// The futures of every site, made when first asked for and shared by its batches.
#[derive(Debug)]
pub struct Outlook<'a> {
    grounds: &'a [Ground<'a>],
    past: &'a [PastYears],
    from: Vec<NaiveDate>,
    made: Vec<(usize, Model, Futures)>,
}

impl<'a> Outlook<'a> {
    /// An outlook for the open ones of these batches; `past` stands site by site beside `grounds`.
    pub fn new(grounds: &'a [Ground<'a>], past: &'a [PastYears], cares: &[BatchCare<'_>]) -> Self {
        let begun = |ground: &Ground<'_>| {
            let here = cares
                .iter()
                .filter(|c| c.batch.site == ground.site.id && c.is_open());
            let first = here.map(|c| c.batch.grafted_on).min();
            first.unwrap_or(ground.moment.today) + Days::new(1)
        };
        Self {
            grounds,
            past,
            from: grounds.iter().map(begun).collect(),
            made: Vec::new(),
        }
    }

    /// When the window of a step will open: see [`foreseen`].
    pub fn of(&mut self, care: &BatchCare<'_>, step: &StepCare<'_>) -> Option<Foreseen> {
        let site = self
            .grounds
            .iter()
            .position(|g| g.site.id == care.batch.site)?;
        let model = care.plan.model;
        let known = self
            .made
            .iter()
            .position(|(at, made, _)| (*at, *made) == (site, model));
        let at = known.unwrap_or_else(|| {
            let futures = self.grounds[site].futures(&model, &self.past[site], self.from[site]);
            self.made.push((site, model, futures));
            self.made.len() - 1
        });
        foreseen(care, step, &self.made[at].2)
    }
}
