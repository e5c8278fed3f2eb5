//! Taking one field record back, and no other: the `retract` that does it.
//!
//! Records are only ever added to, so that a record is taken back by another one, which takes back the newest of its
//! word up to its date. Whether that is the one that was meant is found by trying it. Knows nothing of who asks.

use super::facts::in_force;
use crate::nursery::{Count, Record, What, counts_as};
use chrono::NaiveDate;

/// Why a record cannot be taken back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotUndone {
    /// It was taken back before.
    Already,
    /// A `retract` would take back another one, which was written down later.
    Newer,
    /// It is a `retract` itself.
    Retract,
}

/// The record that takes back `which`, one of the records of its batch or block in the order in which they were written.
pub fn taking_back(all: &[&Record], which: &Record) -> Result<Record, NotUndone> {
    if which.what == What::Retract {
        return Err(NotUndone::Retract);
    }
    let is_it = |record: &&Record| std::ptr::eq(*record, which);
    let standing = standing(all);
    if !standing.iter().any(is_it) {
        return Err(NotUndone::Already);
    }
    let retract = Record {
        date: which.date,
        target: which.target.clone(),
        what: What::Retract,
        count: None,
        by: String::new(),
        remarks: counts_as(which).name().to_owned(),
    };
    let with: Vec<&Record> = all.iter().copied().chain([&retract]).collect();
    let left = said(self::standing(&with));
    let wanted = said(standing.into_iter().filter(|r| !is_it(r)).collect());
    if left == wanted {
        Ok(retract)
    } else {
        Err(NotUndone::Newer)
    }
}

fn standing<'a>(records: &[&'a Record]) -> Vec<&'a Record> {
    let (standing, _) = in_force(records.iter().copied().enumerate());
    standing.into_iter().map(|(_, record)| record).collect()
}

/// What records say, whoever wrote them.
fn said(records: Vec<&Record>) -> Vec<(NaiveDate, What, Option<Count>)> {
    let of = |record: &Record| (record.date, counts_as(record), record.count);
    records.into_iter().map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nursery::Target;

    /// `6 Aug headed-back 180` of batch C-14, or of block C.
    fn record(text: &str, target: &Target) -> Record {
        let mut words = text.split(' ');
        let mut next = || words.next().unwrap_or_default();
        let day: u32 = next().parse().unwrap();
        let what = What::named(next()).unwrap();
        let count = next();
        let (count, remarks) = match what {
            What::Retract => (None, count.to_owned()),
            _ => (count.parse().ok().map(Count::Of), String::new()),
        };
        Record {
            date: NaiveDate::from_ymd_opt(2026, 8, day).unwrap(),
            target: target.clone(),
            what,
            count,
            by: String::new(),
            remarks,
        }
    }

    /// What becomes of taking back the record of that place, for a batch and for a block.
    #[track_caller]
    fn check(records: &[&str], which: usize, expect: Result<&str, NotUndone>) {
        for target in [Target::Batch("C-14".into()), Target::Block("C".into())] {
            let records: Vec<Record> = records.iter().map(|r| record(r, &target)).collect();
            let all: Vec<&Record> = records.iter().collect();
            let expect = expect.map(|text| record(text, &target));
            assert_eq!(taking_back(&all, all[which]), expect, "{target:?}");
        }
    }

    #[test]
    fn a_record_is_taken_back_by_its_word_and_date() {
        check(&["6 headed-back 180"], 0, Ok("6 retract headed-back"));
        check(
            &["5 headed-back 100", "6 headed-back 80", "7 looked"],
            1,
            Ok("6 retract headed-back"),
        );
    }

    #[test]
    fn an_older_one_goes_without_the_newer() {
        check(
            &["5 headed-back 100", "6 headed-back 80"],
            0,
            Ok("5 retract headed-back"),
        );
    }

    #[test]
    fn what_was_taken_back_is_not_taken_back_again() {
        check(
            &["5 looked", "6 looked", "6 retract looked"],
            1,
            Err(NotUndone::Already),
        );
    }

    #[test]
    fn one_of_the_same_day_and_another_count_would_be_hit_instead() {
        let twice = ["6 headed-back 180", "6 headed-back 100"];
        check(&twice, 0, Err(NotUndone::Newer));
        check(&twice, 1, Ok("6 retract headed-back"));
        // Of two that say the same it does not matter which goes.
        check(&["6 looked", "6 looked"], 0, Ok("6 retract looked"));
    }

    #[test]
    fn a_retract_stands() {
        check(
            &["6 looked", "6 retract looked"],
            1,
            Err(NotUndone::Retract),
        );
    }
}
