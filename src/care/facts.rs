//! What was seen and done on one batch: its records in force, and how far work done in parts has come.
//!
//! Takes back what was retracted and answers "when", "how many" and "how many are left". Knows nothing of warmth.

use crate::nursery::{Batch, Count, Record, What, counts_as};
use chrono::NaiveDate;

/// One thing seen or done on a batch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fact {
    /// The day.
    pub date: NaiveDate,
    /// The word.
    pub what: What,
    /// How many; none means all that is left.
    pub count: Option<Count>,
}

/// How far a step's work has come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Progress {
    /// Grafts done.
    pub done: u32,
    /// Grafts alive, which is all there is to do.
    pub of: u32,
    /// The day on which the last of them was done.
    pub done_on: Option<NaiveDate>,
}

/// The records in force of one batch, in order of date.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    grafts: u32,
    list: Vec<Fact>,
    /// Retractions that have found nothing so far: what they take back may have been written for the whole block.
    waiting: Vec<Missed>,
}

/// A record with its place in the order in which all were written down.
pub type InOrder<'a> = (usize, &'a Record);

/// A retraction that has found nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Missed {
    /// Its place in the order in which records were written down.
    pub at: usize,
    /// Up to which day it takes back.
    pub date: NaiveDate,
    /// The word.
    pub what: What,
}

impl Facts {
    /// Takes the records of one batch, in the order in which they were written down. `retract` takes back the newest
    /// record of its word dated on or before it, of those that were written down before it. A `lines` record that saw none
    /// of those looked at is `no-lines`.
    pub fn new<'a>(batch: &Batch, records: impl IntoIterator<Item = &'a Record>) -> Self {
        Self::in_order(batch, records.into_iter().enumerate())
    }

    /// The same, where other records were written down between them.
    pub(super) fn in_order<'a>(
        batch: &Batch,
        records: impl IntoIterator<Item = InOrder<'a>>,
    ) -> Self {
        let (records, waiting) = in_force(records);
        let fact = |(_, record): InOrder<'_>| Fact {
            date: record.date,
            what: counts_as(record),
            count: record.count,
        };
        Self {
            grafts: batch.grafts,
            list: records.into_iter().map(fact).collect(),
            waiting,
        }
    }

    /// These facts and one of the whole block, of that place in the order of writing, unless it was taken back for this
    /// batch.
    #[must_use]
    pub(super) fn with_shared(mut self, place: usize, fact: Fact) -> Self {
        let takes_back = |missed: &Missed| {
            missed.what == fact.what && fact.date <= missed.date && place < missed.at
        };
        if let Some(at) = self.waiting.iter().position(takes_back) {
            self.waiting.remove(at);
            return self;
        }
        self.with(fact)
    }

    /// What was to be taken back and was not there.
    pub(super) fn missed(&self) -> &[Missed] {
        &self.waiting
    }

    /// These facts and one more, written down after all of them.
    #[must_use]
    pub fn with(mut self, fact: Fact) -> Self {
        let at = self.list.partition_point(|f| f.date <= fact.date);
        self.list.insert(at, fact);
        self
    }

    /// Only what was in force at the end of that day.
    #[must_use]
    pub fn until(&self, day: NaiveDate) -> Self {
        Self {
            grafts: self.grafts,
            list: self
                .list
                .iter()
                .take_while(|f| f.date <= day)
                .copied()
                .collect(),
            waiting: self.waiting.clone(),
        }
    }

    /// All of them, in order of date.
    pub fn all(&self) -> &[Fact] {
        &self.list
    }

    /// The first record of any of these words.
    pub fn first(&self, words: &[What]) -> Option<Fact> {
        self.list.iter().find(|f| words.contains(&f.what)).copied()
    }

    /// The last record of any of these words.
    pub fn last(&self, words: &[What]) -> Option<Fact> {
        self.list.iter().rfind(|f| words.contains(&f.what)).copied()
    }

    /// The last `unseen` record dated before the first `seen` one: afterwards lines are known to show.
    pub fn last_before_first(&self, unseen: What, seen: What) -> Option<Fact> {
        let end = self.first(&[seen]).map_or(NaiveDate::MAX, |f| f.date);
        self.list
            .iter()
            .rfind(|f| f.what == unseen && f.date < end)
            .copied()
    }

    /// The day on which the batch was closed.
    pub fn closed_on(&self) -> Option<NaiveDate> {
        self.first(&[What::Closed]).map(|f| f.date)
    }

    /// Grafts made, less those lost, dead or grafted anew.
    pub fn alive(&self) -> u32 {
        self.list
            .iter()
            .fold(Tally::new(self.grafts), Tally::and)
            .alive()
    }

    /// How far work answered by these words has come. It is done on the day on which its sum reaches the grafts alive
    /// on that day; more than that is kept as written.
    pub fn progress(&self, words: &[What]) -> Progress {
        let mut tally = Tally::new(self.grafts);
        let (mut done, mut done_on) = (0, None);
        for fact in &self.list {
            tally = tally.and(fact);
            if words.contains(&fact.what) {
                done = fact
                    .grafts()
                    .map_or_else(|| tally.alive().max(done), |n| done.saturating_add(n));
            }
            if done > 0 && done >= tally.alive() {
                done_on = done_on.or(Some(fact.date));
            }
        }
        Progress {
            done,
            of: tally.alive(),
            done_on,
        }
    }

    /// How many grafts that work can still be done on. Those that were grafted anew are a batch of their own, and the dead
    /// can be.
    pub fn left(&self, what: What) -> u32 {
        if what == What::Regrafted {
            let tally = self.list.iter().fold(Tally::new(self.grafts), Tally::and);
            let gone = tally.lost.saturating_add(tally.regrafted);
            return self.grafts.saturating_sub(gone);
        }
        let progress = self.progress(&[what]);
        progress.of.saturating_sub(progress.done)
    }

    /// The first sum of written counts of that work that was above the grafts alive on its day: the sum, and the grafts.
    pub fn above_what_is_left(&self, what: What) -> Option<(u32, u32)> {
        let mut tally = Tally::new(self.grafts);
        let mut written = 0;
        self.list.iter().find_map(|fact| {
            tally = tally.and(fact);
            written += fact.grafts().filter(|_| fact.what == what)?;
            (written > tally.alive()).then_some((written, tally.alive()))
        })
    }

    /// The day on which something is fully answered: the last of the work, the first of a look.
    pub fn answered_on(&self, what: What) -> Option<NaiveDate> {
        if what.is_work() {
            self.progress(&[what]).done_on
        } else {
            self.first(&[what]).map(|f| f.date)
        }
    }

    /// Every grafting anew, with its day and its number of grafts: as written, else the dead not yet grafted anew,
    /// else all that are left.
    pub fn regrafts(&self) -> Vec<(NaiveDate, u32)> {
        let mut tally = Tally::new(self.grafts);
        let mut found = Vec::new();
        for fact in &self.list {
            if fact.what == What::Regrafted {
                let waiting = tally.dead.saturating_sub(tally.regrafted);
                let all = if waiting > 0 { waiting } else { tally.alive() };
                let count = fact.grafts().unwrap_or(all);
                tally.regrafted += count;
                found.push((fact.date, count));
            } else {
                tally = tally.and(fact);
            }
        }
        found
    }
}

/// The records of one batch, or of one block, in order of date, less those taken back, and the retractions that found
/// nothing. What is written down after a retraction stands: nobody who takes something back knows of it.
pub fn in_force<'a>(
    records: impl IntoIterator<Item = InOrder<'a>>,
) -> (Vec<InOrder<'a>>, Vec<Missed>) {
    let (mut list, mut waiting): (Vec<InOrder<'a>>, Vec<Missed>) = (Vec::new(), Vec::new());
    for (at, record) in records {
        if record.what != What::Retract {
            list.push((at, record));
            continue;
        }
        let Some(what) = What::named(record.remarks.trim()) else {
            continue;
        };
        let date = record.date;
        let takes_back = |r: &Record| counts_as(r) == what && r.date <= date;
        let before = list.iter().enumerate();
        let found = before.filter(|(_, (_, record))| takes_back(record));
        match found.max_by_key(|(_, (_, record))| record.date) {
            Some((newest, _)) => {
                list.remove(newest);
            }
            None => waiting.push(Missed { at, date, what }),
        }
    }
    list.sort_by_key(|(_, record)| record.date);
    (list, waiting)
}

impl Fact {
    /// The number of grafts written down.
    pub fn grafts(&self) -> Option<u32> {
        match self.count? {
            Count::Of(n) => Some(n as u32),
            Count::Share(n, _) => Some(n),
        }
    }

    /// Lines were looked for and fewer than half of those looked at showed them.
    pub fn under_half(&self) -> bool {
        matches!(self.count, Some(Count::Share(n, of)) if n * 2 < of)
    }
}

/// What became of the grafts. A graft made anew was dead before: the larger of the two numbers is gone.
#[derive(Clone, Copy)]
struct Tally {
    grafts: u32,
    lost: u32,
    dead: u32,
    regrafted: u32,
}

impl Tally {
    fn new(grafts: u32) -> Self {
        Self {
            grafts,
            lost: 0,
            dead: 0,
            regrafted: 0,
        }
    }

    fn alive(self) -> u32 {
        self.grafts
            .saturating_sub(self.lost)
            .saturating_sub(self.dead.max(self.regrafted))
    }

    fn and(mut self, fact: &Fact) -> Self {
        let count = fact.grafts();
        match fact.what {
            What::Lost => self.lost += count.unwrap_or(0),
            What::Dead => self.dead += count.unwrap_or(0),
            What::Regrafted => {
                let waiting = self.dead.saturating_sub(self.regrafted);
                self.regrafted += count.unwrap_or(if waiting > 0 { waiting } else { self.alive() });
            }
            _ => {}
        }
        self
    }
}

#[cfg(test)]
mod tests;
