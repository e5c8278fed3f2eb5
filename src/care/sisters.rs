//! Sister batches: the same scion under the same plan at the same site, grafted within two days of each other. What
//! shows in one most likely shows in the others.

use super::BatchCare;
use crate::nursery::Batch;
use chrono::NaiveDate;
use std::collections::HashMap;

/// Grafted no more days apart than this: common practice, no source.
const DAYS_APART: i64 = 2;

/// Every batch in which callus lines were written down, ready to be asked for by its sisters.
#[derive(Debug)]
pub struct Sisters<'c> {
    with_lines: HashMap<Alike<'c>, Vec<(&'c Batch, NaiveDate)>>,
}

/// Site, plan and scion.
type Alike<'c> = (&'c str, &'c str, &'c str);

fn alike(batch: &Batch) -> Alike<'_> {
    (&batch.site, &batch.plan, &batch.scion)
}

impl<'c> Sisters<'c> {
    /// Of these batches.
    pub fn of(cares: &'c [BatchCare<'_>]) -> Self {
        let mut with_lines: HashMap<_, Vec<_>> = HashMap::new();
        for care in cares {
            let lines = care.facts.first(&[care.plan.reckoning.seen]);
            if let Some(lines) = lines.filter(|_| !care.batch.scion.is_empty()) {
                let sisters = with_lines.entry(alike(&care.batch)).or_default();
                sisters.push((&*care.batch, lines.date));
            }
        }
        Self { with_lines }
    }

    /// The sisters of a batch in which lines were written down, by name, each with the day.
    pub fn with_lines(&self, batch: &Batch) -> Vec<(&'c str, NaiveDate)> {
        let is_sister = |other: &Batch| {
            let apart = (other.grafted_on - batch.grafted_on).num_days().abs();
            other.name != batch.name && apart <= DAYS_APART
        };
        let alike = self.with_lines.get(&alike(batch));
        alike
            .into_iter()
            .flatten()
            .filter(|(other, _)| is_sister(other))
            .map(|(other, day)| (other.name.as_str(), *day))
            .collect()
    }
}
