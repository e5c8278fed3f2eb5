//! The field records in force, sorted by the batch or block they are about. Knows nothing of what they mean.

use crate::nursery::{Record, Target};
use std::collections::HashMap;

/// Field records sorted by what they are about.
#[derive(Clone, Debug, Default)]
pub struct Notebook<'a> {
    pub(super) of_batch: HashMap<&'a str, Vec<&'a Record>>,
    pub(super) of_block: HashMap<String, Vec<&'a Record>>,
}

impl<'a> Notebook<'a> {
    /// Takes the records in force in the order in which they were written down; blocks are matched whatever their case.
    pub fn new(records: impl IntoIterator<Item = &'a Record>) -> Self {
        let mut book = Self::default();
        for record in records {
            match &record.target {
                Target::Batch(name) => book.of_batch.entry(name).or_default().push(record),
                Target::Block(name) => book
                    .of_block
                    .entry(name.to_lowercase())
                    .or_default()
                    .push(record),
            }
        }
        book
    }

    /// The names of batches that records speak of.
    pub fn names(&self) -> impl Iterator<Item = &'a str> {
        self.of_batch.keys().copied()
    }

    /// The blocks that records speak of, in lower case.
    pub fn blocks(&self) -> impl Iterator<Item = &str> {
        self.of_block.keys().map(String::as_str)
    }
}
