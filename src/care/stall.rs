//! Cold stalls: days running that bring next to no warmth, so that every window moves out and there is nothing to do.

use super::{Ground, standard_day};
use crate::nursery::Plan;
use chrono::NaiveDate;

/// A day below this share of a standard day is cold.
const COLD: f64 = 0.5;
/// So many cold days running are a stall.
const RUNNING: usize = 3;

/// Cold days running.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stall {
    /// The first.
    pub first: NaiveDate,
    /// The last, by forecast where it lies ahead.
    pub last: NaiveDate,
    /// The third, at whose end it is a stall.
    pub on: NaiveDate,
}

/// The stalls of a site that have come about and went on to `since` or longer, for the batches of one plan; the first first.
pub fn stalls(ground: &Ground<'_>, plan: &Plan, since: NaiveDate) -> Vec<Stall> {
    let cold = standard_day(ground.site, plan).0 * COLD;
    let is_cold = |date: &NaiveDate| {
        let heat = ground.heat_of_day(&plan.model, *date);
        heat.is_some_and(|heat| heat.0 < cold)
    };
    let cold_before = |date: &NaiveDate| date.pred_opt().filter(is_cold);
    let from = std::iter::successors(Some(since), cold_before).last();
    let days = ground.series.between(from.unwrap_or(since), NaiveDate::MAX);
    let days = days.filter(|day| is_cold(&day.date));
    let days: Vec<(NaiveDate, bool)> = days.map(|day| (day.date, day.is_known())).collect();
    days.chunk_by(|a, b| a.0.succ_opt() == Some(b.0))
        .filter_map(|run| {
            let (on, known) = *run.get(RUNNING - 1)?;
            let stall = Stall {
                first: run[0].0,
                last: run[run.len() - 1].0,
                on,
            };
            (known && on <= ground.moment.through && stall.last >= since).then_some(stall)
        })
        .collect()
}
