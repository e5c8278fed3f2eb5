//! What goes along with letters: calendars, threads, and letters that wait for quiet hours to end.

use super::*;
use crate::letters::calendar::{Entry, Kept};
use crate::letters::{Asked, Topic};
use crate::notices::{About, Kind, Notice};

const MAREN: &str = "maren@alderfold.example";

fn kept(uid: &str, sequence: u32) -> Kept {
    Kept {
        entry: Entry {
            uid: uid.into(),
            sequence,
            title: "Block C: head back".into(),
            first: day(20),
            last: day(23),
            detail: "C-14\nC-15".into(),
            cancelled: sequence > 1,
        },
        upto: day(25),
    }
}

#[test]
fn a_calendar_is_kept_for_each_person_as_it_was_told_last() {
    let mut store = Store::in_memory().unwrap();
    let found = with(&mut store, |memory| {
        memory.keep_calendar(MAREN, &[kept("b", 0), kept("a", 0)])?;
        memory.keep_calendar(MAREN, &[kept("b", 2)])?;
        memory.keep_calendar("jory@alderfold.example", &[kept("a", 1)])?;
        memory.calendar(MAREN)
    });
    assert_eq!(found, [kept("a", 0), kept("b", 2)]);
}

#[test]
fn nothing_of_a_calendar_stays_of_a_round_that_failed() {
    let mut store = Store::in_memory().unwrap();
    let failed: Result<(), StoreError> = store.settle(|memory| {
        memory.keep_calendar(MAREN, &[kept("a", 0)])?;
        Err(StoreError::Newer { found: 9, known: 3 })
    });
    assert!(failed.is_err());
    assert_eq!(with(&mut store, |memory| memory.calendar(MAREN)), []);
}

/// A letter of that hour to Maren, which tells of a step of some batches or asks for it.
fn post(
    memory: &Memory<'_>,
    id: &str,
    at: u32,
    tells: &[(&str, &str)],
    asks: Option<(&str, &str)>,
) {
    let notices = tells.iter().map(|(step, batch)| {
        let about = About::Batch {
            site: "home".into(),
            block: "C".into(),
            name: (*batch).to_owned(),
        };
        let mut notice = Notice::plain(Kind::Opens, about, format!("{id} {batch}"), 1, day(20));
        notice.step = Some((*step).to_owned());
        memory.enter(&notice, day(20), hour(at)).unwrap().unwrap()
    });
    let topic = Topic {
        steps: asks.iter().map(|(step, _)| *step).collect(),
        batches: asks.iter().map(|(_, batch)| *batch).collect(),
        since: day(1),
    };
    let letter = NewLetter {
        message_id: id.to_owned(),
        recipient: MAREN.to_owned(),
        subject: String::new(),
        dated: hour(at).fixed_offset(),
        bytes: Vec::new(),
        own: Vec::new(),
        notices: notices.collect(),
        urgent: false,
        thread: memory.thread(MAREN, &topic, hour(0)).unwrap(),
        asked: asks
            .map(|(step, batch)| Asked {
                step: step.to_owned(),
                batches: vec![batch.to_owned()],
            })
            .into_iter()
            .collect(),
    };
    memory.post(&letter, &["smtp"], hour(at)).unwrap();
}

/// The thread of a letter about a step of some batches, after three letters; since that hour.
#[track_caller]
fn check_thread(person: &str, steps: &[&str], batches: &[&str], since: u32, expected: &[&str]) {
    let mut store = Store::in_memory().unwrap();
    let found = with(&mut store, |memory| {
        post(
            memory,
            "one",
            6,
            &[("look", "C-14"), ("look", "C-15")],
            None,
        );
        post(
            memory,
            "two",
            7,
            &[("tape-off", "B-2")],
            Some(("look", "C-14")),
        );
        post(memory, "three", 8, &[("head-back", "C-15")], None);
        let topic = Topic {
            steps: steps.to_vec(),
            batches: batches.to_vec(),
            since: day(1),
        };
        memory.thread(person, &topic, hour(since))
    });
    assert_eq!(found, expected, "{steps:?} of {batches:?}");
}

#[test]
fn a_thread_leads_to_the_newest_letter_about_the_same_and_on_from_there() {
    check_thread(MAREN, &["look"], &["C-15"], 0, &["one"]);
    check_thread(MAREN, &["look"], &["C-14", "C-15"], 0, &["one", "two"]);
    check_thread(MAREN, &["look", "head-back"], &["C-15"], 0, &["three"]);
    check_thread(MAREN, &["tape-off"], &["B-2"], 0, &["one", "two"]);
}

#[test]
fn what_is_of_another_step_batch_person_or_year_begins_anew() {
    check_thread(MAREN, &["take"], &["C-14"], 0, &[]);
    check_thread(MAREN, &["head-back"], &["C-14"], 0, &[]);
    check_thread("jory@alderfold.example", &["look"], &["C-14"], 0, &[]);
    check_thread(MAREN, &["look"], &["C-15"], 7, &[]);
}

#[test]
fn a_long_thread_keeps_its_first_letter_and_the_newest_nine() {
    let mut store = Store::in_memory().unwrap();
    let found = with(&mut store, |memory| {
        for n in 1..=12 {
            post(memory, &n.to_string(), n, &[], Some(("look", "C-14")));
        }
        let topic = Topic {
            steps: vec!["look"],
            batches: vec!["C-14"],
            since: day(1),
        };
        memory.thread(MAREN, &topic, hour(0))
    });
    assert_eq!(found, ["1", "4", "5", "6", "7", "8", "9", "10", "11", "12"]);
}

#[test]
fn a_letter_that_is_held_waits_without_a_try_and_is_not_told_as_stuck() {
    let mut store = Store::in_memory().unwrap();
    with(&mut store, |memory| {
        post(memory, "one", 6, &[], None);
        let row = memory.waiting(hour(6))?.remove(0);
        memory.hold(&row, hour(9))
    });
    let (early, next, stuck) = with(&mut store, |memory| {
        Ok((
            memory.waiting(hour(8))?,
            memory.next_try()?,
            memory.unsent_after(hour(5))?,
        ))
    });
    assert_eq!(
        (early, next, stuck),
        (Vec::new(), Some(hour(9)), Vec::new())
    );
    let tries = |memory: &Memory<'_>| Ok(memory.waiting(hour(9))?.remove(0).tries);
    assert_eq!(with(&mut store, tries), 0);
    // Tried in vain it is one that did not get out, also where its next try is held.
    let stuck = with(&mut store, |memory| {
        let row = memory.waiting(hour(9))?.remove(0);
        memory.again(&row, hour(10), "closed")?;
        memory.hold(&row, hour(11))?;
        memory.unsent_after(hour(5))
    });
    assert_eq!(stuck.len(), 1);
}
