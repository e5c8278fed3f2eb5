//! Before days off: what will open, run out or be reached before this person is back.

use super::{Coming, Desk, Errand, errand};
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
    /// Open windows that run out before, with their last day.
    pub closing: Vec<Errand>,
    /// Limits that are reached before, with the day.
    pub limits: Vec<Errand>,
}

/// None on a day that is not the last before days off, and where there is nothing to say.
pub(super) fn digest(desk: &Desk<'_>) -> Option<LookAhead> {
    let today = desk.view.today;
    let back = desk.workdays.next_after(today)?;
    if Some(back) == today.succ_opt() {
        return None;
    }
    let closing = desk
        .due()
        .filter_map(|(care, step)| Some(errand(care, &step.step.id, step.closes_on?)))
        .filter(|e| (today..back).contains(&e.on))
        .collect();
    let limits = desk
        .open()
        .filter_map(|care| {
            let limit = care.limit.filter(|l| !l.state.is_past())?;
            Some(errand(care, &limit.limit.id, limit.reached_on?))
        })
        .filter(|e| (today..back).contains(&e.on))
        .collect();
    let digest = LookAhead {
        back,
        others_work: desk.view.workdays.next_after(today) != Some(back),
        opening: desk.coming(back),
        closing,
        limits,
    };
    let says =
        !(digest.opening.is_empty() && digest.closing.is_empty() && digest.limits.is_empty());
    says.then_some(digest)
}
