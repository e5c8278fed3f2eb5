//! Before days off: what will open, run out or be reached before this person is back.

use super::{Coming, Desk, coming_of};
use crate::care::{Deadline, Foreseen};
use chrono::NaiveDate;

/// What one person is told before days off.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LookAhead {
    /// The day on which they are back.
    pub back: NaiveDate,
    /// Whether others work meanwhile: it is only this person who is away.
    pub others_work: bool,
    /// Windows that may open before.
    pub opening: Vec<Coming>,
    /// Open windows that may run out before, with their last day.
    pub closing: Vec<Coming>,
    /// Limits that may be reached before, with the day.
    pub limits: Vec<Coming>,
}

/// None on a day that is not the last before days off, and where there is nothing to say.
pub(super) fn digest(desk: &Desk<'_>) -> Option<LookAhead> {
    let today = desk.view.today;
    let back = desk.workdays.next_after(today)?;
    if Some(back) == today.succ_opt() {
        return None;
    }
    let outlook = desk.view.outlook;
    let before = |coming: &Coming| {
        let band = coming.foreseen.band;
        band.p10.is_some_and(|day| day < back) && band.p90.is_none_or(|day| day >= today)
    };
    // Where no forecast reaches the day, the years before tell about when it will be.
    let foreseen = |by: Deadline| by.foreseen.unwrap_or(Foreseen::certain(by.on));
    let closing = desk.due().filter_map(|(care, step)| {
        let by = outlook.act_before_close(care, step)?;
        Some(coming_of(care, &step.step.id, foreseen(by)))
    });
    let limits = desk.open().filter_map(|care| {
        let limit = care.limit.filter(|l| !l.state.is_past())?;
        let by = outlook.act_before_limit(care)?;
        Some(coming_of(care, &limit.limit.id, foreseen(by)))
    });
    let digest = LookAhead {
        back,
        others_work: desk.view.workdays.next_after(today) != Some(back),
        opening: desk.coming(back),
        closing: closing.filter(before).collect(),
        limits: limits.filter(before).collect(),
    };
    let says =
        !(digest.opening.is_empty() && digest.closing.is_empty() && digest.limits.is_empty());
    says.then_some(digest)
}
