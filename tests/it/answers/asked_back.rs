//! What a receipt asks is answered with yes or no.

use super::*;
use insta::assert_snapshot;

/// A count above what is left is written down and asked about.
fn asked() -> (Nursery, Sent) {
    let nursery = told();
    let words = "A1 lines 8/10\nA1 headed back 200\nA1 headed back 200";
    let receipt = answered(&nursery, JORY, "m1@phone.example", words, SOON);
    (nursery, receipt)
}

/// Jory's answer to that receipt, and its own.
fn answered_to(nursery: &Nursery, receipt: &Sent, id: &str, words: &str, at: &str) -> Sent {
    Mail {
        to: receipt.answer_at(),
        id,
        words,
        ..Mail::default()
    }
    .comes(nursery, id);
    nursery.round(at);
    receipt_to(nursery, JORY)
}

#[test]
fn a_question_says_how_it_is_answered() {
    let (nursery, receipt) = asked();
    assert_snapshot!(body(&receipt), @r#"
    WRITTEN DOWN

    "A1 lines 8/10":
      A1: lines, on 8 of 10, Tue 16 Jul

    "A1 headed back 200":
      A1: headed-back, 200 grafts, Tue 16 Jul

    "A1 headed back 200":
      A1: headed-back, 200 grafts, Tue 16 Jul

    PLEASE SAY

    "A1 headed back 200": 200 headed-back on A1, where 110 were left;
    is the count right?

    Is it right? Answer "yes" or do nothing, and it stands. If not,
    answer "no", and what is asked about is taken back. "undo" takes
    back all that is written down above.
    "#);
    assert_eq!(records(&nursery).len(), 3);
}

#[test]
fn yes_leaves_it_as_it_is() {
    let (nursery, receipt) = asked();
    let receipt = answered_to(&nursery, &receipt, "m2@phone.example", "Yes", LATER);
    assert_snapshot!(body(&receipt), @r#"
    LEFT AS IT IS

    "Yes": what was written down before stands.
    "#);
    assert_eq!(records(&nursery).len(), 3);
}

#[test]
fn no_takes_back_what_was_asked_about_and_nothing_else() {
    let (nursery, receipt) = asked();
    let no = answered_to(&nursery, &receipt, "m2@phone.example", "no, sorry", LATER);
    assert_snapshot!(body(&no), @r"
    TAKEN BACK

    Not in force any more:
      A1: headed-back, 200 grafts, Tue 16 Jul
    ");
    assert_snapshot!(records(&nursery).join("\n"), @r"
    A1 | lines | 8.0 | 2024-07-16 | Jory Penhale
    A1 | headed-back | 200.0 | 2024-07-16 | Jory Penhale
    A1 | headed-back | 200.0 | 2024-07-16 | Jory Penhale
    A1 | retract | - | 2024-07-16 | Jory Penhale | headed-back
    ");
    // A second time there is nothing left of it to be taken back.
    let again = answered_to(&nursery, &receipt, "m3@phone.example", "no", STILL_LATER);
    assert!(said(&again).contains("it was taken back before"));
    assert_eq!(records(&nursery).len(), 4);
}

#[test]
fn no_to_a_plain_receipt_takes_back_what_it_says() {
    let nursery = told();
    let receipt = answered(&nursery, JORY, "m1@phone.example", "A1 looked", SOON);
    answered_to(&nursery, &receipt, "m2@phone.example", "no", LATER);
    assert_eq!(
        records(&nursery)[1],
        "A1 | retract | - | 2024-07-16 | Jory Penhale | looked"
    );
}

#[test]
fn no_to_a_letter_that_asked_to_look_is_no_record() {
    let nursery = told();
    let receipt = answered(&nursery, JORY, "m1@phone.example", "no", SOON);
    assert_snapshot!(body(&receipt), @r#"
    LEFT AS IT IS

    "no": there is nothing here that was asked. Where you looked for
    lines and saw none, write "no lines".
    "#);
    assert_eq!(records(&nursery), [""; 0]);
}

#[test]
fn no_to_a_held_mail_drops_it() {
    let nursery = told();
    Mail::default().comes(&nursery, "1");
    nursery.round(SOON).well();
    let no = answered(&nursery, JORY, "m2@phone.example", "no", LATER);
    assert_snapshot!(body(&no), @r#"
    LEFT AS IT IS

    "no": nothing of that mail is written down.
    "#);
    let first = letters_to(&nursery, JORY)
        .into_iter()
        .find(|letter| letter.text.contains("Please confirm"))
        .unwrap();
    let yes = answered_to(&nursery, &first, "m3@phone.example", "yes", STILL_LATER);
    assert_eq!(records(&nursery), [""; 0]);
    assert!(said(&yes).contains("you said no to that mail before"));
}

#[test]
fn what_is_wrong_points_to_undo() {
    let nursery = told();
    answered(&nursery, JORY, "m1@phone.example", "A1 looked", SOON);
    let receipt = answered(&nursery, JORY, "m2@phone.example", "that was wrong", LATER);
    assert_snapshot!(body(&receipt), @r#"
    LEFT AS IT IS

    "that was wrong": nothing is taken back by this, since it does not
    say what is wrong. Answer "undo" to the receipt of what was wrong,
    and all that it says is taken back; then write what is right.
    "#);
    assert_eq!(records(&nursery).len(), 1);
}

#[test]
fn a_yes_to_a_letter_is_told_what_done_is() {
    let nursery = told();
    let receipt = answered(&nursery, JORY, "m1@phone.example", "ok", SOON);
    assert_snapshot!(body(&receipt), @r#"
    LEFT AS IT IS

    "ok": there is nothing here that waits for a yes. If what the
    letter asks for is done, answer "done".
    "#);
}
