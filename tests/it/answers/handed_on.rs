//! A letter that was handed on: whoever has it has its token, and can write any From.

use super::*;
use insta::assert_snapshot;

/// From Jory's address, to the letter that was written to Maren.
fn to_marens(nursery: &Nursery, id: &str, words: &str, at: &str) {
    let letters = letters_to(nursery, MAREN);
    Mail {
        to: letters[0].answer_at(),
        id,
        words,
        ..Mail::default()
    }
    .comes(nursery, id);
    nursery.round(at).well();
}

#[test]
fn what_is_seen_is_taken_and_its_owner_told() {
    let nursery = told();
    to_marens(&nursery, "m1@phone.example", "A1 lines 8/10\nthe fox", SOON);
    assert_eq!(
        records(&nursery),
        ["A1 | lines | 8.0 | 2024-07-16 | Jory Penhale"]
    );
    let to_jory = receipt_to(&nursery, JORY);
    assert!(said(&to_jory).contains("The letter you answered was written to Maren Holt."));
    assert_snapshot!(receipt_to(&nursery, MAREN).masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Maren Holt" <maren@alderfold.example>
    Subject: Jory Penhale has answered: A1 lines, on 8 of 10, Tue 16 Jul
    Auto-Submitted: auto-replied
    Date: Tue, 16 Jul 2024 07:05:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <[token]@alderfold.example>
    References: <[token]@alderfold.example>
    MIME-Version: 1.0

    Alder Fold Nursery, Tuesday 16 July 2024

    WRITTEN DOWN FOR SOMEBODY ELSE

    Jory Penhale has answered a letter that was written to you, and
    has the receipt. This was written down. If you did not hand the
    letter on, ask Jory Penhale: whoever has it can write in that
    name.

    "A1 lines 8/10":
      A1: lines, on 8 of 10, Tue 16 Jul
    "#);
}

#[test]
fn what_ends_a_batch_waits_for_a_yes_of_the_one_in_whose_name_it_came() {
    let nursery = told();
    to_marens(&nursery, "m1@phone.example", "A1 looked\nA2 closed", SOON);
    assert_eq!(records(&nursery), [""; 0]);
    assert_snapshot!(body(&receipt_to(&nursery, JORY)), @r#"
    NOT WRITTEN DOWN BEFORE YOU CONFIRM IT

    The letter you answered was written to Maren Holt.

    This ends a batch or begins another one, and whoever the letter
    was handed to could have written it in your name. This is what it
    would write down:

    "A1 looked":
      A1: looked, Tue 16 Jul

    "A2 closed":
      A2: closed, Tue 16 Jul

    Is it yours? Answer this letter with "yes", and it is written
    down. If not, answer "no" or do nothing.
    "#);
    let told = letters_to(&nursery, MAREN).len();
    // Whoever has Maren's letter has not Jory's receipt.
    to_marens(
        &nursery,
        "m2@phone.example",
        "yes",
        "2024-07-16T07:06:00+02:00",
    );
    assert_eq!(records(&nursery), [""; 0]);
    assert_eq!(
        letters_to(&nursery, MAREN).len(),
        told,
        "nothing was written"
    );
    let receipt = letters_to(&nursery, JORY)
        .into_iter()
        .find(|letter| letter.text.contains("Please confirm"))
        .unwrap();
    Mail {
        to: receipt.answer_at(),
        id: "m3@phone.example",
        words: "yes",
        ..Mail::default()
    }
    .comes(&nursery, "3");
    nursery.round(LATER).well();
    assert_snapshot!(records(&nursery).join("\n"), @r"
    A1 | looked | - | 2024-07-16 | Jory Penhale
    A2 | closed | - | 2024-07-16 | Jory Penhale
    ");
}

/// `done` in it means what Maren's letter asked for, after the yes as before.
#[test]
fn regrafts_wait_too() {
    let nursery = told();
    to_marens(&nursery, "m1@phone.example", "lines\nA2 regrafted 12", SOON);
    assert_eq!(records(&nursery), [""; 0]);
    answered(&nursery, JORY, "m2@phone.example", "yes", LATER);
    assert_snapshot!(records(&nursery).join("\n"), @r"
    A1 | lines | - | 2024-07-16 | Jory Penhale
    A2 | regrafted | 12.0 | 2024-07-16 | Jory Penhale
    ");
}

#[test]
fn nothing_is_taken_back_by_somebody_elses_letter() {
    let nursery = told();
    answered(&nursery, JORY, "m1@phone.example", "A1 looked", SOON);
    for (n, words) in ["undo", "no"].iter().enumerate() {
        let id = format!("u{n}@phone.example");
        to_marens(&nursery, &id, words, LATER);
        assert!(
            said(&receipt_to(&nursery, JORY))
                .contains("only in answer to one of our letters to you")
        );
    }
    assert_eq!(records(&nursery).len(), 1);
}

#[test]
fn who_trusts_the_sender_has_said_so() {
    let nursery = told().but(
        "graftwarden.toml",
        "maildir =",
        "trust = \"sender\"\nmaildir =",
    );
    to_marens(&nursery, "m1@phone.example", "A2 closed", SOON);
    assert_eq!(
        records(&nursery),
        ["A2 | closed | - | 2024-07-16 | Jory Penhale"]
    );
}
