use super::*;
use crate::nursery::{Target, Vigour};

fn batch(grafts: u32) -> Batch {
    Batch {
        name: "C-14".into(),
        site: "home".into(),
        block: "C".into(),
        plan: "maple field T-graft".into(),
        scion: "".into(),
        understock: "".into(),
        vigour: Vigour::Usual,
        grafts,
        grafted_on: "2026-07-01".parse().unwrap(),
        by: "".into(),
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
