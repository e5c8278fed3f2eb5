//! What goes wrong if nobody acts: the limit of over-callusing, by known days and forecast.
//!
//! A risk is a finding, not yet a notice: whether it is news is decided in `notices`.

use super::steps::{State, StepCare};
use super::windows::Subject;
use crate::nursery::{Limit, Plan, Vigour};
use crate::units::DegreeDays;
use chrono::NaiveDate;

/// Where a batch stands against its limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitCare<'a> {
    /// The limit.
    pub limit: &'a Limit,
    /// The heat since grafting at which it is reached.
    pub heat: DegreeDays,
    /// The day on which it is reached, by known days and forecast; none while that cannot be foreseen.
    pub reached_on: Option<NaiveDate>,
    /// `ahead` until reached, `late` from then on, `done` or `passed-over` with the step that ends the risk.
    pub state: State,
    /// Whether the batch is past the opening of the step from which the risk counts, and not past the one that ends it.
    pub running: bool,
}

/// Where the batch stands against the limit of its plan.
pub fn limit<'p>(
    subject: &Subject<'_>,
    plan: &'p Plan,
    steps: &[StepCare<'_>],
) -> Option<LimitCare<'p>> {
    let limit = plan.limit.as_ref()?;
    let warmth = subject.warmth;
    let sooner = if subject.batch.vigour == Vigour::Strong {
        warmth.heat_of(limit.strong_sooner).0
    } else {
        0.0
    };
    let heat = subject.callus_lines().0 + warmth.heat_of(limit.warmth).0 - sooner;
    let reached_on = warmth.reaches(DegreeDays(heat));
    let state_of = |id: &str| {
        steps
            .iter()
            .find(|s| s.step.id == id)
            .map_or(State::Ahead, |s| s.state)
    };
    let (from, until) = (state_of(&limit.from), state_of(&limit.until));
    let state = match until {
        State::Done | State::PassedOver => until,
        _ if reached_on.is_some_and(|day| day <= warmth.moment.through) => State::Late,
        _ => State::Ahead,
    };
    Some(LimitCare {
        limit,
        heat: DegreeDays(heat),
        reached_on,
        state,
        running: from != State::Ahead && !until.is_past(),
    })
}
