//! What earlier lines of a mail have said of a batch, on top of what was written down before it.
//!
//! Lines of one mail are taken in their order, as if each had come by itself. Knows nothing of what is odd about them.

use super::made::{is_open, step_of};
use crate::care::{BatchCare, Fact, Facts};
use crate::nursery::{Record, Target};

/// The records that a mail has made so far.
#[derive(Clone, Debug, Default)]
pub struct Heard {
    records: Vec<Record>,
}

impl Heard {
    /// One more.
    pub fn hear(&mut self, record: &Record) {
        self.records.push(record.clone());
    }

    /// What was seen and done on a batch, with what the mail says of it.
    pub fn facts(&self, care: &BatchCare<'_>) -> Facts {
        let of = |record: &&Record| match &record.target {
            Target::Batch(name) => *name == care.batch.name,
            Target::Block(name) => {
                let step = step_of(care, record.what);
                *name == care.batch.block && step.is_some_and(|step| is_open(step.state))
            }
        };
        let said = self.records.iter().filter(of);
        said.fold(care.facts.clone(), |facts, record| {
            facts.with(Fact {
                date: record.date,
                what: record.what,
                count: record.count,
            })
        })
    }
}
