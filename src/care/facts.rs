//! What was seen and done on one batch: its records in force, and how far work done in parts has come.
//!
//! Takes back what was retracted and answers "when", "how many" and "how many are left". Knows nothing of warmth.

use crate::nursery::{Batch, Count, Record, What};
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
}

impl Facts {
    /// Takes the records of one batch, in the order in which they were written down. `retract` takes back the newest
    /// record of its word dated on or before it. A `lines` record that saw none of those looked at is `no-lines`.
    pub fn new<'a>(batch: &Batch, records: impl IntoIterator<Item = &'a Record>) -> Self {
        let mut facts = Self {
            grafts: batch.grafts,
            list: Vec::new(),
        };
        let mut retracted: Vec<(NaiveDate, What)> = Vec::new();
        for record in records {
            if record.what == What::Retract {
                retracted
                    .extend(What::named(record.remarks.trim()).map(|what| (record.date, what)));
                continue;
            }
            let what = match (record.what, record.count) {
                (What::Lines, Some(Count::Share(0, _))) => What::NoLines,
                (what, _) => what,
            };
            facts.list.push(Fact {
                date: record.date,
                what,
                count: record.count,
            });
        }
        facts.list.sort_by_key(|f| f.date);
        for (date, what) in retracted {
            if let Some(at) = facts
                .list
                .iter()
                .rposition(|f| f.what == what && f.date <= date)
            {
                facts.list.remove(at);
            }
        }
        facts
    }

    /// These facts and one more.
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
                    .map_or_else(|| tally.alive().max(done), |n| done + n);
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
mod tests {
    use super::*;
    use crate::nursery::{Target, Vigour};

    fn batch(grafts: u32) -> Batch {
        Batch {
            name: "C-14".into(),
            site: "home".into(),
            block: "C".into(),
            plan: "maple field T-graft".into(),
            scion: String::new(),
            understock: String::new(),
            vigour: Vigour::Usual,
            grafts,
            grafted_on: "2026-07-01".parse().unwrap(),
            by: String::new(),
            remarks: String::new(),
        }
    }

    /// "12 headed-back 180, 15 lost 10" in July 2026.
    fn facts(text: &str) -> Facts {
        let records: Vec<Record> = text
            .split(", ")
            .filter(|part| !part.is_empty())
            .map(|part| {
                let words: Vec<&str> = part.split(' ').collect();
                let count = words.get(2).and_then(|w| w.parse().ok()).map(Count::Of);
                Record {
                    date: NaiveDate::from_ymd_opt(2026, 7, words[0].parse().unwrap()).unwrap(),
                    target: Target::Batch("C-14".into()),
                    what: What::named(words[1]).unwrap(),
                    count,
                    by: String::new(),
                    remarks: words.get(2).copied().unwrap_or_default().into(),
                }
            })
            .collect();
        Facts::new(&batch(310), &records)
    }

    #[track_caller]
    fn check(text: &str, done: u32, of: u32, done_on: Option<u32>) {
        let progress = facts(text).progress(&[What::HeadedBack]);
        assert_eq!((progress.done, progress.of), (done, of));
        assert_eq!(
            progress.done_on,
            done_on.and_then(|d| NaiveDate::from_ymd_opt(2026, 7, d))
        );
    }

    #[test]
    fn work_in_parts_adds_up_and_is_done_when_the_living_are_reached() {
        check("", 0, 310, None);
        check("12 headed-back 180", 180, 310, None);
        check("12 headed-back 180, 14 headed-back 130", 310, 310, Some(14));
        check(
            "12 headed-back 180, 13 lost 10, 14 headed-back 120",
            300,
            300,
            Some(14),
        );
    }

    #[test]
    fn an_empty_count_is_all_that_is_left() {
        check("12 headed-back 180, 14 headed-back", 310, 310, Some(14));
        check("10 dead 10, 14 headed-back", 300, 300, Some(14));
    }

    #[test]
    fn losses_can_finish_what_was_begun() {
        check("12 headed-back 300, 15 lost 10", 300, 300, Some(15));
    }

    #[test]
    fn more_than_is_left_is_kept_as_written() {
        check("12 headed-back 400", 400, 310, Some(12));
    }

    #[test]
    fn a_retraction_takes_back_the_newest_of_its_word() {
        check(
            "12 headed-back 180, 14 headed-back 130, 15 retract headed-back",
            180,
            310,
            None,
        );
        check(
            "12 headed-back 310, 11 retract headed-back",
            310,
            310,
            Some(12),
        );
    }

    #[test]
    fn the_dead_that_are_grafted_anew_are_gone_once() {
        let facts = facts("10 dead 10, 12 regrafted, 14 regrafted 5");
        assert_eq!(facts.alive(), 295);
        let counts: Vec<u32> = facts.regrafts().iter().map(|&(_, n)| n).collect();
        assert_eq!(counts, [10, 5]);
    }
}
