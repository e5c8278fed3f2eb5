//! Looks that no window asks for: at the sisters of a batch that shows lines, and early at one batch of a scion, to learn
//! whether it comes earlier than the plan says. Decided on working days only.

use super::{View, grafting, of_batch};
use crate::care::{BatchCare, Group, Sisters, State, StepCare, look_for_lines};
use crate::notices::notice::{Kind, Ledger, Notice};
use crate::nursery::Need;
use crate::units::{DegreeDays, StandardDays};
use chrono::{Days, NaiveDate};
use std::collections::{BTreeMap, BTreeSet};

/// An early look comes at this share of the warmth at which the first look opens: 11 of 14 standard days.
const EARLY: f64 = 11.0 / 14.0;

/// Where so many batches of a scion have been looked at, it is known well enough: judgement.
const KNOWN_WELL: usize = 10;

/// What is to be looked at before its window opens.
pub(super) fn news(view: &View<'_>, ledger: &Ledger) -> Vec<Notice> {
    if !view.workdays.works(view.today) {
        return Vec::new();
    }
    let waiting: Vec<(&BatchCare<'_>, &StepCare<'_>)> = view
        .cares
        .iter()
        .filter_map(|care| Some((care, waits(care)?)))
        .collect();
    let with_lines = Sisters::of(view.cares);
    let sisters = waiting
        .iter()
        .filter_map(|&(care, look)| sisters(&with_lines, care, look, ledger));
    let sisters: Vec<Notice> = sisters.collect();
    // Whose sister shows lines is looked at for that.
    let asked: BTreeSet<&str> = sisters.iter().filter_map(|n| n.about.batch()).collect();
    let alike = alike(view, ledger);
    let mut sentinels: Vec<Notice> = Vec::new();
    for &(care, look) in &waiting {
        if !asked.contains(care.batch.name.as_str()) {
            sentinels.extend(sentinel(care, look, &alike[&of_season(care)]));
        }
    }
    sisters.into_iter().chain(sentinels).collect()
}

/// The batches of which these notices ask for an early look.
pub(in crate::notices) fn early(notices: &[Notice]) -> impl Iterator<Item = &str> {
    let asks = |n: &&Notice| [Kind::Sisters, Kind::Sentinel].contains(&n.kind);
    notices.iter().filter(asks).filter_map(|n| n.about.batch())
}

/// The early look that was asked for of a batch and is not answered: told before, or `now`.
pub(in crate::notices) fn asked_early<'c>(
    care: &'c BatchCare<'_>,
    ledger: &Ledger,
    now: bool,
) -> Option<&'c StepCare<'c>> {
    let (look, anchor) = (waits(care)?, grafting(care));
    let kinds = [Kind::Sisters, Kind::Sentinel];
    let told = |kind| {
        let told = ledger.of(kind, &care.batch.name);
        told.iter().any(|t| t.anchor == anchor)
    };
    (now || kinds.into_iter().any(told)).then_some(look)
}

/// The first look of a batch whose window has not opened and at which nobody has looked.
fn waits<'c>(care: &'c BatchCare<'_>) -> Option<&'c StepCare<'c>> {
    let rule = care.plan.reckoning;
    let look = care.step(&look_for_lines(care.plan)?.id)?;
    let looked = care.facts.first(&[rule.seen, rule.unseen]).is_some();
    (care.is_open() && look.state == State::Ahead && !looked).then_some(look)
}

fn sisters(
    with_lines: &Sisters<'_>,
    care: &BatchCare<'_>,
    look: &StepCare<'_>,
    ledger: &Ledger,
) -> Option<Notice> {
    let shown = with_lines.with_lines(&care.batch);
    let first = shown.iter().map(|&(_, day)| day).min()?;
    let anchor = grafting(care);
    let told = ledger.of(Kind::Sisters, &care.batch.name);
    let is_told = told.iter().any(|t| t.anchor == anchor);
    (!is_told).then(|| of_batch(care, Kind::Sisters, &look.step.id, anchor, 1, first))
}

fn sentinel(care: &BatchCare<'_>, look: &StepCare<'_>, alike: &Alike<'_>) -> Option<Notice> {
    let is_known_well = care.lines.known? >= KNOWN_WELL;
    let is_first = alike.first == place(care);
    if is_known_well || care.batch.scion.is_empty() || !is_first || alike.asked {
        return None;
    }
    let on = reached(care, look, EARLY)?;
    let over = |day: NaiveDate| day <= care.warmth.moment.through;
    // Half-way to the opening of the window itself nobody comes early any more.
    let is_early = !reached(care, look, f64::midpoint(EARLY, 1.0)).is_some_and(over);
    let least = look.step.opens.min_days.unwrap_or(0);
    let on = on.max(care.batch.grafted_on + Days::new(least.into()));
    let anchor = grafting(care);
    (over(on) && is_early).then(|| of_batch(care, Kind::Sentinel, &look.step.id, anchor, 1, on))
}

/// The day on which a share of the warmth is reached at which the look opens.
fn reached(care: &BatchCare<'_>, look: &StepCare<'_>, share: f64) -> Option<NaiveDate> {
    let need = match look.step.opens.warmth? {
        Need::Standard(days) => Need::Standard(StandardDays(days.0 * share)),
        Need::Heat(heat) => Need::Heat(DegreeDays(heat.0 * share)),
    };
    care.warmth.reaches(care.warmth.heat_of(need))
}

/// The batches of the same plan and scion in the same season.
struct Alike<'a> {
    /// The one grafted before the others; of those of one day the first by name.
    first: (NaiveDate, &'a str),
    /// Whether one of them was looked at early.
    asked: bool,
}

/// Every batch, with those that are alike.
fn alike<'a>(view: &View<'a>, ledger: &Ledger) -> BTreeMap<(Group<'a>, i32), Alike<'a>> {
    let mut alike: BTreeMap<(Group<'a>, i32), Alike<'a>> = BTreeMap::new();
    for care in view.cares {
        let (first, asked) = (place(care), false);
        let group = alike.entry(of_season(care));
        let group = group.or_insert(Alike { first, asked });
        group.first = group.first.min(first);
        group.asked |= !ledger.of(Kind::Sentinel, &care.batch.name).is_empty();
    }
    alike
}

fn of_season<'c>(care: &'c BatchCare<'_>) -> (Group<'c>, i32) {
    let hemisphere = care.site.hemisphere();
    (
        Group::of(&care.batch),
        hemisphere.season(care.batch.grafted_on),
    )
}

fn place<'c>(care: &'c BatchCare<'_>) -> (NaiveDate, &'c str) {
    (care.batch.grafted_on, &care.batch.name)
}
