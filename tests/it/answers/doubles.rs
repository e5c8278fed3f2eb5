//! Killed in the midst, delivered twice, handed in again: each mail counts once, and none is lost.

use super::*;
use std::path::Path;

/// What there is once all is done.
fn outcome(nursery: &Nursery) -> (Vec<String>, Vec<String>, usize, Vec<String>) {
    let accepted = nursery.read("state/accepted.csv");
    let mut rows: Vec<String> = accepted
        .lines()
        .map(|row| row.split(',').next().unwrap().to_owned())
        .collect();
    rows.dedup();
    rows.sort();
    rows.dedup();
    let receipts = letters_to(nursery, JORY)
        .iter()
        .filter(|l| l.text.contains("auto-replied"))
        .count();
    (records(nursery), rows, receipts, states(nursery))
}

fn copy(from: &Path, to: &Path) {
    for file in std::fs::read_dir(from).unwrap() {
        let file = file.unwrap();
        if file.path().is_file() {
            std::fs::copy(file.path(), to.join(file.file_name())).unwrap();
        }
    }
}

const WORDS: &str = "A1 lines 8/10\nA1 headed back 100\nA2 looked";

/// The records were on the disk and nothing else was: the memory is that of before, the mail is unread.
#[test]
fn killed_after_the_records_were_on_the_disk() {
    let nursery = told();
    let before = tempfile::tempdir().unwrap();
    copy(&nursery.path("state"), before.path());
    answered(&nursery, JORY, "m1@phone.example", WORDS, SOON);
    let once = outcome(&nursery);
    assert_eq!((once.0.len(), once.1.len(), once.2), (3, 4, 1));

    let accepted = nursery.read("state/accepted.csv");
    for kept in [accepted.lines().count(), 2] {
        copy(before.path(), &nursery.path("state"));
        // All of its rows, or the first one and the half of the second.
        let mut rows: String = accepted.split_inclusive('\n').take(kept).collect();
        if kept == 2 {
            rows.push_str("mail-");
        }
        nursery.write("state/accepted.csv", rows);
        for letter in std::fs::read_dir(nursery.path("letters")).unwrap() {
            let letter = letter.unwrap().path();
            if std::fs::read_to_string(&letter)
                .unwrap()
                .contains("auto-replied")
            {
                std::fs::remove_file(letter).unwrap();
            }
        }
        std::fs::rename(
            nursery.path("mail/cur/m1@phone.example:2,S"),
            nursery.path("mail/new/m1@phone.example"),
        )
        .unwrap();
        let ran = nursery.round(SOON);
        assert_eq!(ran.code, 0, "{ran}");
        let again = outcome(&nursery);
        assert_eq!(
            (&again.0, again.2, &again.3),
            (&once.0, once.2, &once.3),
            "{kept}"
        );
    }
}

/// Committed, and killed before the mail was marked as read.
#[test]
fn killed_before_the_mail_was_marked() {
    let nursery = told();
    answered(&nursery, JORY, "m1@phone.example", WORDS, SOON);
    let once = outcome(&nursery);
    std::fs::rename(
        nursery.path("mail/cur/m1@phone.example:2,S"),
        nursery.path("mail/new/m1@phone.example"),
    )
    .unwrap();
    nursery.round(LATER).well();
    assert_eq!(outcome(&nursery), once);
    assert_eq!(files(&nursery, "mail/cur"), ["m1@phone.example:2,S"]);
}

#[test]
fn a_mail_that_is_delivered_twice_counts_once() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    let mail = Mail {
        to: letter.answer_at(),
        words: "A1 headed back 100",
        ..Mail::default()
    };
    mail.comes(&nursery, "1");
    mail.comes(&nursery, "2");
    nursery.round(SOON).well();
    mail.comes(&nursery, "3");
    nursery.round(LATER).well();
    assert_eq!(records(&nursery).len(), 1);
    assert_eq!(states(&nursery).len(), 1);
    assert_eq!(files(&nursery, "mail/new"), [""; 0]);
    assert_eq!(files(&nursery, "mail/cur"), ["1:2,S", "2:2,S", "3:2,S"]);
}

/// The disk is full, or the file is not ours: nothing is confirmed, and the mail waits.
#[test]
fn without_a_place_for_the_records_the_mail_waits() {
    let nursery = told();
    std::fs::create_dir(nursery.path("state/accepted.csv")).unwrap();
    let letter = last_to(&nursery, JORY);
    Mail {
        to: letter.answer_at(),
        ..Mail::default()
    }
    .comes(&nursery, "1");
    let ran = nursery.round(SOON);
    assert!(
        ran.err
            .contains("answers are not taken and stay in the mailbox"),
        "{ran}"
    );
    assert_eq!(files(&nursery, "mail/new"), ["1"]);
    assert_eq!((records(&nursery).len(), states(&nursery).len()), (0, 0));
    std::fs::remove_dir(nursery.path("state/accepted.csv")).unwrap();
    nursery.round(LATER);
    assert_eq!(records(&nursery).len(), 1);
}
