//! Answers around a memory that was damaged and put back, or begun anew.

use super::*;

const NEXT_DAY: &str = "2024-07-17T06:10:00+02:00";
const SOON_THEN: &str = "2024-07-17T07:05:00+02:00";
const LATER_THEN: &str = "2024-07-17T07:10:00+02:00";

/// Jory has answered the first letter; then the memory is damaged, and the next morning's round mends it, from the backup
/// of before the answer or from none.
fn mended(nursery: &Nursery, from_backup: bool) -> Sent {
    let letter = last_to(nursery, JORY);
    answered(nursery, JORY, "m1@phone.example", "A1 lines", SOON);
    nursery.write("state/graftwarden.db", "this is no database");
    if !from_backup {
        std::fs::remove_dir_all(nursery.path("state/backups")).unwrap();
    }
    let ran = nursery.round(NEXT_DAY);
    assert!(
        ran.err
            .contains("it was damaged (what stands in it is something else)"),
        "{ran}"
    );
    // What was confirmed is in force, once, and the mail is not taken again.
    assert_eq!(
        records(nursery),
        ["A1 | lines | - | 2024-07-16 | Jory Penhale"]
    );
    assert_eq!(states(nursery), [""; 0]);
    letter
}

fn answers(nursery: &Nursery, to: &Sent, id: &str, words: &str, at: &str) -> Sent {
    let date = "Wed, 17 Jul 2024 07:02:00 +0200";
    Mail {
        to: to.answer_at(),
        id,
        words,
        date,
        ..Mail::default()
    }
    .comes(nursery, id);
    nursery.round(at);
    receipt_to(nursery, JORY)
}

#[test]
fn a_letter_that_the_backup_knows_is_answered_as_before() {
    let nursery = told();
    let letter = mended(&nursery, true);
    answers(
        &nursery,
        &letter,
        "m2@phone.example",
        "A1 headed back 100",
        SOON_THEN,
    );
    assert_eq!(states(&nursery), [format!("{JORY} | taken")]);
    assert_eq!(
        records(&nursery)[1..],
        ["A1 | headed-back | 100.0 | 2024-07-17 | Jory Penhale"]
    );
}

#[test]
fn with_a_memory_begun_anew_an_answer_to_an_old_letter_waits_for_a_yes() {
    let nursery = told();
    let letter = mended(&nursery, false);
    let receipt = answers(
        &nursery,
        &letter,
        "m2@phone.example",
        "A1 headed back 100",
        SOON_THEN,
    );
    assert_eq!(states(&nursery), [format!("{JORY} | held")]);
    assert_eq!(records(&nursery).len(), 1);
    answers(&nursery, &receipt, "m3@phone.example", "yes", LATER_THEN);
    assert_eq!(
        records(&nursery)[1..],
        ["A1 | headed-back | 100.0 | 2024-07-17 | Jory Penhale"]
    );
}

/// It is marked as read in the mailbox, and no record yet.
#[test]
fn a_mail_that_waited_for_a_yes_is_forgotten_and_a_letter_says_that_it_is_to_be_sent_again() {
    for (from_backup, says) in [
        (
            true,
            "An answer since then that waited for a yes has to be written again",
        ),
        (
            false,
            "one that waited for a yes already has to be written again",
        ),
    ] {
        let nursery = told();
        Mail::default().comes(&nursery, "m1");
        nursery.round(SOON).well();
        assert_eq!(states(&nursery), [format!("{JORY} | held")]);
        nursery.write("state/graftwarden.db", "this is no database");
        if !from_backup {
            std::fs::remove_dir_all(nursery.path("state/backups")).unwrap();
        }
        nursery.round(NEXT_DAY);
        assert_eq!((states(&nursery), records(&nursery)), (vec![], vec![]));
        let letter = said(&last_to(&nursery, JORY));
        assert!(letter.contains(says), "{letter}");
    }
}

#[test]
fn an_answer_to_a_letter_of_before_the_secret_was_lost_is_taken_and_the_loss_is_told() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    nursery.memory("DELETE FROM fact WHERE key = 'secret'");
    nursery.round(SOON);
    assert!(said(&last_to(&nursery, JORY)).contains("a new one was drawn"));
    let receipt = answers(&nursery, &letter, "m1@phone.example", "A1 lines", LATER);
    assert!(said(&receipt).contains("WRITTEN DOWN"), "{}", receipt.text);
    let written = records(&nursery);
    assert_eq!(written.len(), 1, "{written:?}");
    assert!(written[0].starts_with("A1 | lines"), "{written:?}");
}
