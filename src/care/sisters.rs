//! Sister batches: the same scion under the same plan at the same site, grafted within two days of each other. What
//! shows in one most likely shows in the others.

use super::BatchCare;
use chrono::NaiveDate;

/// Grafted no more days apart than this: common practice, no source.
const DAYS_APART: i64 = 2;

/// The sisters of a batch in which callus lines were written down, by name, each with the day.
pub fn sisters_with_lines<'c>(
    care: &BatchCare<'_>,
    cares: &'c [BatchCare<'_>],
) -> Vec<(&'c str, NaiveDate)> {
    let batch = &care.batch;
    let is_sister = |other: &&BatchCare<'_>| {
        let other = &other.batch;
        other.name != batch.name
            && (&other.site, &other.plan, &other.scion) == (&batch.site, &batch.plan, &batch.scion)
            && (other.grafted_on - batch.grafted_on).num_days().abs() <= DAYS_APART
    };
    if batch.scion.is_empty() {
        return Vec::new();
    }
    let with_lines = |other: &'c BatchCare<'_>| {
        let lines = other.facts.first(&[other.plan.reckoning.seen])?;
        Some((other.batch.name.as_str(), lines.date))
    };
    cares
        .iter()
        .filter(is_sister)
        .filter_map(with_lines)
        .collect()
}
