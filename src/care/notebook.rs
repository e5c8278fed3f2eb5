//! The field records in force, sorted by the batch or block they are about, each with its place in the order in which they
//! were written down.

use super::facts::{InOrder, Missed, in_force};
use crate::nursery::{Record, Target};
use chrono::NaiveDate;
use std::collections::HashMap;

/// Field records sorted by what they are about.
#[derive(Clone, Debug, Default)]
pub struct Notebook<'a> {
    pub(super) of_batch: HashMap<&'a str, Vec<InOrder<'a>>>,
    pub(super) of_block: HashMap<String, Vec<InOrder<'a>>>,
}

impl<'a> Notebook<'a> {
    /// Takes the records in force in the order in which they were written down; blocks are matched whatever their case.
    pub fn new(records: impl IntoIterator<Item = &'a Record>) -> Self {
        let mut book = Self::default();
        for (at, record) in records.into_iter().enumerate() {
            match &record.target {
                Target::Batch(name) => book.of_batch.entry(name).or_default().push((at, record)),
                Target::Block(name) => book
                    .of_block
                    .entry(name.to_lowercase())
                    .or_default()
                    .push((at, record)),
            }
        }
        book
    }

    /// The names of batches that records speak of.
    pub fn names(&self) -> impl Iterator<Item = &'a str> {
        self.of_batch.keys().copied()
    }

    /// What was to be taken back for a whole block by the end of that day, and was not there: the block as it is written.
    pub fn missed_in_blocks(&self, today: NaiveDate) -> Vec<(&'a str, Missed)> {
        let mut found = Vec::new();
        for records in self.of_block.values() {
            let Some(Target::Block(block)) = records.first().map(|(_, record)| &record.target)
            else {
                continue;
            };
            let by_now = records.iter().filter(|(_, record)| record.date <= today);
            let (_, missed) = in_force(by_now.copied());
            found.extend(missed.into_iter().map(|missed| (block.as_str(), missed)));
        }
        found.sort_by_key(|&(_, missed)| missed.at);
        found
    }

    /// The blocks that records speak of, in lower case.
    pub fn blocks(&self) -> impl Iterator<Item = &str> {
        self.of_block.keys().map(String::as_str)
    }
}
