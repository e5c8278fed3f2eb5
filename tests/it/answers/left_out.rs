//! `done` to a letter about several batches, some of which it cannot be meant for.

use super::*;
use insta::assert_snapshot;

/// Four batches of one day; by the first letters, on Wednesday 17 July, all four wait to be headed back: of A1 to A3 lines
/// were seen, A4 has had its 18 standard days without a look.
fn four() -> Nursery {
    let row = |n| format!("A{n},A,maple field T-graft,Ember Lace,100,2024-06-28\n");
    let batches: String = (1..=4).map(row).collect();
    let nursery = farm()
        .with(
            "batches.csv",
            &format!("batch,block,plan,scion,grafts,grafted_on\n{batches}"),
        )
        .with("temps.csv", &temperatures("2024-07-16"))
        .with(
            "records.csv",
            &format!("{RECORDS}2024-07-15,A1,lines,8/10,,\n2024-07-15,A2,lines,8/10,,\n2024-07-15,A3,lines,8/10,,\n"),
        );
    nursery.round("2024-07-17T06:10:00+02:00").well();
    nursery
}

#[test]
fn each_batch_that_is_left_out_is_named_with_its_reason() {
    let nursery = four();
    let letter = last_to(&nursery, MAREN);
    let subject = "Block A: head back now (3 batches, 300 grafts), and 1 more thing";
    assert_eq!(letter.header("Subject"), subject);
    // Meanwhile Jory has been in the field.
    let words = "A2 headed back\nA3 no lines 0/10, I was wrong on Monday";
    let jory = |id, words| {
        Mail {
            to: last_to(&nursery, JORY).answer_at(),
            id,
            date: "Wed, 17 Jul 2024 10:00:00 +0200",
            words,
            ..Mail::default()
        }
        .comes(&nursery, id);
    };
    jory("m1@phone.example", words);
    nursery.round("2024-07-17T10:05:00+02:00").well();
    jory("m2@phone.example", "A3 no lines 0/10");
    nursery.round("2024-07-17T10:10:00+02:00").well();

    Mail {
        from: MAREN,
        to: letter.answer_at(),
        id: "m3@phone.example",
        date: "Wed, 17 Jul 2024 12:00:00 +0200",
        words: "head back done",
        ..Mail::default()
    }
    .comes(&nursery, "m3");
    nursery.round("2024-07-17T12:05:00+02:00").well();
    let receipt = receipt_to(&nursery, MAREN);
    assert_eq!(
        receipt.header("Subject"),
        "Written down: A1 headed-back, Wed 17 Jul, but not all"
    );
    assert_snapshot!(body(&receipt), @r#"
    WRITTEN DOWN

    "head back done":
      A1: headed-back, Wed 17 Jul

    NOT WRITTEN DOWN

    "head back done": A2 is written down as headed-back already, on
    Wed 17 Jul.

    "head back done": not taken for A3: no-lines was written down on
    Wed 17 Jul, after that letter. If it was done all the same, name
    it, as in "A3 headed back".

    "head back done": not taken for A4: no lines are written down
    there, and the letter says to look first. Write what was seen, as
    in "A4 lines 3/10", or if it is done, name it, as in "A4 headed
    back".

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back. What is not written down may be answered
    anew: answer this letter with the line as it should be.
    "#);
    assert_snapshot!(records(&nursery).join("\n"), @r"
    A1 | lines | 8.0 | 2024-07-15
    A2 | lines | 8.0 | 2024-07-15
    A3 | lines | 8.0 | 2024-07-15
    A2 | headed-back | - | 2024-07-17 | Jory Penhale
    A3 | no-lines | 0.0 | 2024-07-17 | Jory Penhale
    A1 | headed-back | - | 2024-07-17 | Maren Holt
    ");
}

/// Where all are left out, nothing is written down and the subject says so.
#[test]
fn done_for_none_of_them_writes_nothing() {
    let nursery = four();
    let letter = last_to(&nursery, MAREN);
    nursery.append(
        "records.csv",
        "2024-07-17,A1,headed-back,,,\n2024-07-17,A2,headed-back,,,\n2024-07-17,A3,headed-back,,,\n",
    );
    Mail {
        from: MAREN,
        to: letter.answer_at(),
        date: "Wed, 17 Jul 2024 12:00:00 +0200",
        words: "head back done",
        ..Mail::default()
    }
    .comes(&nursery, "m1");
    nursery.round("2024-07-17T12:05:00+02:00").well();
    let receipt = receipt_to(&nursery, MAREN);
    assert_snapshot!(receipt.header("Subject"), @r#"Not written down: "head back done""#);
    assert_snapshot!(body(&receipt), @r#"
    NOT WRITTEN DOWN

    "head back done": A1, A2 and A3 are written down as headed-back
    already, on Wed 17 Jul. Not taken for A4: no lines are written
    down there, and the letter says to look first. Write what was
    seen, as in "A4 lines 3/10", or if it is done, name it, as in "A4
    headed back".

    What is not written down may be answered anew: answer this letter
    with the line as it should be.
    "#);
    assert_eq!(records(&nursery).len(), 6, "only those of the file");
}
