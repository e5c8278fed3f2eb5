//! Letters that ask for several steps: `done` is asked back, and what says more is taken.

use super::*;
use insta::assert_snapshot;

/// On the morning of 16 July A1, on which lines were seen, waits to be headed back, and A3 to be looked at.
fn two_steps() -> Nursery {
    let row = |n| format!("A{n},A,maple field T-graft,Ember Lace,100,2024-07-01\n");
    let nursery = farm()
        .with(
            "batches.csv",
            &format!(
                "batch,block,plan,scion,grafts,grafted_on\n{}{}{}",
                row(1),
                row(2),
                row(3)
            ),
        )
        .with(
            "records.csv",
            &format!("{RECORDS}2024-07-15,A1,lines,8/10,,\n2024-07-15,A2,lines,9/10,,\n"),
        );
    nursery.round(FIRST).well();
    nursery
}

#[test]
fn done_is_asked_back_with_the_lines_to_send() {
    let nursery = two_steps();
    let letter = last_to(&nursery, JORY);
    let how = said(&letter);
    let how = how.split("Answer this letter").nth(1).unwrap();
    assert_snapshot!(how.split(" -- ").next().unwrap(), @r#" with a line for each thing that you have seen or done: "headed back" (head back: A1 and A2); "lines" or "no lines" (look for callus lines: A3); or a line for each batch, such as "A1 headed back 60". "Done" alone does not say which of these. "Not yet" writes nothing down."#);
    let receipt = answered(&nursery, JORY, "m1@phone.example", "Done, thanks!", SOON);
    assert_snapshot!(receipt.header("Subject"), @r#"Which is done? A question about "Done, thanks!""#);
    assert_snapshot!(body(&receipt), @r#"
    PLEASE SAY WHICH

    "Done, thanks!": the letter asked for more than one thing, and
    this does not say which of them is done. Nothing is written down
    by it.

    Head back (A1 and A2):
      headed back 16 Jul

    Look for callus lines (A3):
      lines 16 Jul
      no lines 16 Jul

    Answer this letter with the lines above that are true.
    "#);
    assert_eq!(records(&nursery).len(), 2);
    // One of the lines, sent back in answer to the receipt.
    let receipt = answered(
        &nursery,
        JORY,
        "m2@phone.example",
        "headed back 16 Jul",
        LATER,
    );
    assert_snapshot!(body(&receipt), @r#"
    WRITTEN DOWN

    "headed back 16 Jul":
      A1 and A2: headed-back, Tue 16 Jul

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back.
    "#);
    assert_snapshot!(records(&nursery)[2..].join("\n"), @r"
    A1 | headed-back | - | 2024-07-16 | Jory Penhale
    A2 | headed-back | - | 2024-07-16 | Jory Penhale
    ");
}

#[test]
fn of_one_step_done_is_taken() {
    let nursery = two_steps();
    let words = "head back done\nA3 no lines";
    let receipt = answered(&nursery, JORY, "m1@phone.example", words, SOON);
    assert_snapshot!(body(&receipt), @r#"
    WRITTEN DOWN

    "head back done":
      A1 and A2: headed-back, Tue 16 Jul

    "A3 no lines":
      A3: no-lines, Tue 16 Jul

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back.
    "#);
    let receipt = answered(&nursery, JORY, "m2@phone.example", "👍", LATER);
    assert!(
        receipt.text.contains("head back done"),
        "a thumb on a receipt is no answer"
    );
}

#[test]
fn not_yet_is_of_every_step() {
    let nursery = two_steps();
    let receipt = answered(&nursery, MAREN, "m1@phone.example", "not yet", SOON);
    assert_snapshot!(body(&receipt), @r"
    NOTHING WRITTEN DOWN

    Head back (2 batches): it is in time to roughly Mon 22 Jul. It is
    told again on the last working day before it closes where a
    forecast shows that day, else once it is late.

    Look for callus lines (1 batch): it is in time to roughly Mon 22
    Jul. It is told again on the last working day before it closes
    where a forecast shows that day, else once it is late.
    ");
    let receipt = answered(&nursery, MAREN, "m2@phone.example", "👍", LATER);
    assert_snapshot!(body(&receipt), @r#"
    NOT WRITTEN DOWN

    "👍": it does not say what was seen or done; write it, as in A1
    headed back.

    What is not written down may be answered anew: answer this letter
    with the line as it should be.
    "#);
}

#[test]
fn a_thumb_is_asked_back_too() {
    let nursery = two_steps();
    let receipt = answered(&nursery, MAREN, "m1@phone.example", "👍", SOON);
    assert_snapshot!(receipt.header("Subject"), @"Which is done? A question about =?utf-8?b?IvCfkY0i?=");
    assert_eq!(records(&nursery).len(), 2);
}

/// To a letter that asks for one step a thumb is done, whoever stands beside it.
#[test]
fn a_thumb_is_done_and_a_name_no_hindrance() {
    let nursery = told();
    answered(&nursery, JORY, "m1@phone.example", "A1 lines - Maren", SOON);
    let letter = last_to(&nursery, MAREN);
    assert!(letter.text.contains("HEAD BACK NOW"), "{}", letter.text);
    answered(&nursery, MAREN, "m2@phone.example", "👍🏽", LATER);
    assert_snapshot!(records(&nursery).join("\n"), @r"
    A1 | lines | - | 2024-07-16 | Jory Penhale | A1 lines - Maren
    A1 | headed-back | - | 2024-07-16 | Maren Holt
    ");
}

/// Read without a name it would be of all that the letter asked, also of what is written down by now.
#[test]
fn a_line_to_send_names_the_batches_where_some_of_them_wait_no_more() {
    let nursery = two_steps();
    answered(&nursery, MAREN, "m1@phone.example", "A2 headed back", SOON);
    let receipt = answered(&nursery, JORY, "m2@phone.example", "done", LATER);
    assert_snapshot!(body(&receipt), @r#"
    PLEASE SAY WHICH

    "done": the letter asked for more than one thing, and this does
    not say which of them is done. Nothing is written down by it.

    Head back (A1):
      A1 headed back 16 Jul

    Look for callus lines (A3):
      lines 16 Jul
      no lines 16 Jul

    Answer this letter with the lines above that are true.
    "#);
}
