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

/// A yes after a no: what was taken back is not written down again by it, and nobody is told that it stands.
#[test]
fn a_yes_after_a_no_says_that_it_was_taken_back() {
    let (nursery, receipt) = asked();
    answered_to(&nursery, &receipt, "m2@phone.example", "no", LATER);
    let yes = answered_to(&nursery, &receipt, "m3@phone.example", "yes", STILL_LATER);
    assert_snapshot!(body(&yes), @r#"
    LEFT AS IT IS

    "yes": what was asked about was taken back before; if it is right
    after all, write it again.
    "#);
    assert_eq!(records(&nursery).len(), 4);
}

/// A held mail, and the receipt that asks whether it is Jory's.
fn held(words: &str) -> (Nursery, Sent) {
    let nursery = told();
    Mail {
        words,
        ..Mail::default()
    }
    .comes(&nursery, "held");
    nursery.round(SOON).well();
    let receipt = receipt_to(&nursery, JORY);
    assert!(receipt.text.contains("Please confirm"), "{}", receipt.text);
    (nursery, receipt)
}

/// Before Jory says yes, Maren writes down most of it.
#[test]
fn what_is_confirmed_late_is_read_by_what_is_known_by_then() {
    let (nursery, receipt) = held("A1 headed back 200\nA2 lines 8/10");
    nursery.write(
        "records.csv",
        format!("{RECORDS}2024-07-16,A1,headed-back,250,Maren,\n2024-07-16,A2,closed,,Maren,\n"),
    );
    let yes = answered_to(&nursery, &receipt, "m2@phone.example", "yes", LATER);
    assert_snapshot!(body(&yes), @r#"
    WRITTEN DOWN

    "A1 headed back 200":
      A1: headed-back, 200 grafts, Tue 16 Jul

    "A2 lines 8/10":
      A2: lines, on 8 of 10, Tue 16 Jul

    PLEASE SAY

    "A1 headed back 200": 200 headed-back on A1, where 60 were left;
    is the count right?

    "A2 lines 8/10": A2 is closed; is lines really meant for it?

    Is it right? Answer "yes" or do nothing, and it stands. If not,
    answer "no", and what is asked about is taken back. "undo" takes
    back all that is written down above.
    "#);
    assert_snapshot!(records(&nursery).join("\n"), @r"
    A1 | headed-back | 250.0 | 2024-07-16 | Maren
    A2 | closed | - | 2024-07-16 | Maren
    A1 | headed-back | 200.0 | 2024-07-16 | Jory Penhale
    A2 | lines | 8.0 | 2024-07-16 | Jory Penhale
    ");
    // What that asks is answered like any other question.
    let no = answered_to(&nursery, &yes, "m3@phone.example", "no", STILL_LATER);
    assert_snapshot!(body(&no), @r"
    TAKEN BACK

    Not in force any more:
      A1: headed-back, 200 grafts, Tue 16 Jul
      A2: lines, on 8 of 10, Tue 16 Jul
    ");
}

/// Every answer to the receipt of what was confirmed is about that.
#[test]
fn a_yes_to_the_receipt_of_what_was_confirmed_leaves_it_and_undo_takes_it_back() {
    let (nursery, receipt) = held("A1 lines 8/10");
    let yes = answered_to(&nursery, &receipt, "m2@phone.example", "yes", LATER);
    assert_eq!(records(&nursery).len(), 1);
    let other = answered(&nursery, JORY, "m3@phone.example", "A2 looked", LATER);
    assert!(said(&other).contains("A2: looked"));
    let again = answered_to(&nursery, &yes, "m4@phone.example", "yes", STILL_LATER);
    assert!(
        said(&again).contains("what was written down before stands"),
        "{}",
        again.text
    );
    let undo = answered_to(
        &nursery,
        &yes,
        "m5@phone.example",
        "undo",
        "2024-07-16T07:20:00+02:00",
    );
    assert_snapshot!(body(&undo), @r"
    TAKEN BACK

    Not in force any more:
      A1: lines, on 8 of 10, Tue 16 Jul
    ");
}

/// Lines that cannot be taken any more by then are said, and the others are written down.
#[test]
fn a_line_that_is_not_plain_any_more_is_said_and_the_rest_is_taken() {
    let (nursery, receipt) = held("A1 lines 8/10\nA 2 lines 8/10");
    let twin = "A-2,A,maple field T-graft,Fox Cinder,120,2024-07-03\n";
    nursery.write("batches.csv", nursery.read("batches.csv") + twin);
    let yes = answered_to(&nursery, &receipt, "m2@phone.example", "yes", LATER);
    assert_snapshot!(body(&yes), @r#"
    WRITTEN DOWN

    "A1 lines 8/10":
      A1: lines, on 8 of 10, Tue 16 Jul

    NOT WRITTEN DOWN

    "A 2 lines 8/10": a2 may be A-2 or A2; write the name as it stands
    in the register.

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back. What is not written down may be answered
    anew: answer this letter with the line as it should be.
    "#);
    assert_snapshot!(records(&nursery).join("\n"), @"A1 | lines | 8.0 | 2024-07-16 | Jory Penhale");
}
