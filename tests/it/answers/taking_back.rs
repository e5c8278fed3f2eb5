//! `undo`: what an answer wrote is taken back, and nothing else.

use super::*;
use insta::assert_snapshot;

/// The records in force of a batch, by what `due` says of its first step.
fn in_force(nursery: &Nursery) -> usize {
    let all = records(nursery);
    let back = all.iter().filter(|r| r.contains("| retract |")).count();
    all.len() - 2 * back
}

#[test]
fn an_answer_is_taken_back_whole() {
    let nursery = told();
    answered(
        &nursery,
        JORY,
        "m1@phone.example",
        "A1 lines 8/10\nA2 looked",
        SOON,
    );
    assert_eq!(records(&nursery).len(), 2);
    let receipt = answered(&nursery, JORY, "m2@phone.example", "undo", LATER);
    assert_snapshot!(receipt.masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Jory Penhale" <jory@alderfold.example>
    Subject: Taken back: A1 lines, on 8 of 10, Tue 16 Jul, and 1 more
    Auto-Submitted: auto-replied
    Date: Tue, 16 Jul 2024 07:10:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <m2@phone.example>
    References: <[token]@alderfold.example>
     <m2@phone.example>
    MIME-Version: 1.0

    Alder Fold Nursery, Tuesday 16 July 2024

    TAKEN BACK

    Not in force any more:
      A1: lines, on 8 of 10, Tue 16 Jul
      A2: looked, Tue 16 Jul
    "#);
    assert_snapshot!(records(&nursery).join("\n"), @r"
    A1 | lines | 8.0 | 2024-07-16 | Jory Penhale
    A2 | looked | - | 2024-07-16 | Jory Penhale
    A2 | retract | - | 2024-07-16 | Jory Penhale | looked
    A1 | retract | - | 2024-07-16 | Jory Penhale | lines
    ");
    assert_eq!(in_force(&nursery), 0);
    assert_eq!(nursery.run("check").code, 0);
}

#[test]
fn undo_again_takes_back_the_answer_before() {
    let nursery = told();
    answered(&nursery, JORY, "m1@phone.example", "A1 lines", SOON);
    answered(
        &nursery,
        JORY,
        "m2@phone.example",
        "A2 looked",
        "2024-07-16T07:06:00+02:00",
    );
    answered(&nursery, JORY, "m3@phone.example", "undo", LATER);
    let back = |n: usize| records(&nursery)[n].clone();
    assert_eq!(
        back(2),
        "A2 | retract | - | 2024-07-16 | Jory Penhale | looked"
    );
    answered(
        &nursery,
        JORY,
        "m4@phone.example",
        "undo",
        "2024-07-16T07:11:00+02:00",
    );
    assert_eq!(
        back(3),
        "A1 | retract | - | 2024-07-16 | Jory Penhale | lines"
    );
    let nothing = answered(&nursery, JORY, "m5@phone.example", "undo", STILL_LATER);
    assert!(
        nothing.text.contains("there is nothing of yours"),
        "{}",
        nothing.text
    );
    assert_eq!(records(&nursery).len(), 4);
}

#[test]
fn undo_in_answer_to_a_receipt_takes_back_what_that_says() {
    let nursery = told();
    let first = answered(&nursery, JORY, "m1@phone.example", "A1 lines", SOON);
    answered(&nursery, JORY, "m2@phone.example", "A2 looked", LATER);
    Mail {
        to: first.answer_at(),
        id: "m3@phone.example",
        words: "undo",
        ..Mail::default()
    }
    .comes(&nursery, "3");
    nursery.round(STILL_LATER).well();
    assert_eq!(
        records(&nursery)[2..],
        ["A1 | retract | - | 2024-07-16 | Jory Penhale | lines"]
    );
}

#[test]
fn nobody_takes_back_what_somebody_else_wrote() {
    let nursery = told();
    let receipt = answered(&nursery, JORY, "m1@phone.example", "A1 lines", SOON);
    Mail {
        from: MAREN,
        to: receipt.answer_at(),
        id: "m2@phone.example",
        words: "undo",
        ..Mail::default()
    }
    .comes(&nursery, "2");
    nursery.round(LATER).well();
    assert_eq!(records(&nursery).len(), 1);
}

/// A `retract` by hand would take the newer one; so it is left, and said.
#[test]
fn what_would_hit_another_record_is_left_and_said() {
    let nursery = told();
    answered(
        &nursery,
        JORY,
        "m1@phone.example",
        "A1 headed back 100",
        SOON,
    );
    nursery
        .run("note A1 headed-back --count 80 --on 2024-07-16")
        .well();
    let receipt = answered(&nursery, JORY, "m2@phone.example", "undo", LATER);
    assert_snapshot!(receipt.masked().split("\n\n").skip(1).collect::<Vec<_>>().join("\n\n"), @r#"
    Alder Fold Nursery, Tuesday 16 July 2024

    LEFT AS IT IS

    "undo": headed-back of A1 on Tue 16 Jul stands: somebody has
    written down the same of that day since, which would be taken back
    instead. Write "retract" into the field records, and the right
    count anew.
    "#);
    assert_eq!(records(&nursery).len(), 2);
}

#[test]
fn what_was_taken_back_by_hand_is_not_taken_back_again() {
    let nursery = told();
    nursery.run("note A1 looked --on 2024-07-15").well();
    answered(&nursery, JORY, "m1@phone.example", "A1 looked", SOON);
    nursery
        .run_words(&[
            "note",
            "A1",
            "retract",
            "--on",
            "2024-07-16",
            "--remarks",
            "looked",
        ])
        .well();
    let receipt = answered(&nursery, JORY, "m2@phone.example", "undo", LATER);
    assert!(
        receipt.text.contains("taken back before"),
        "{}",
        receipt.text
    );
    assert_eq!(records(&nursery).len(), 3, "the older one stands");
}
