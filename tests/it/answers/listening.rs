//! Who is listened to: people of the config, in answer to a letter; and programs never.

use super::*;
use insta::assert_snapshot;

#[test]
fn a_fresh_mail_is_held_until_its_sender_says_yes() {
    let nursery = told();
    Mail {
        words: "A1 lines 8/10",
        ..Mail::default()
    }
    .comes(&nursery, "1");
    nursery.round(SOON).well();
    assert_eq!(records(&nursery), [""; 0]);
    assert_eq!(states(&nursery), [format!("{JORY} | held")]);
    let receipt = receipt_to(&nursery, JORY);
    assert_snapshot!(receipt.masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Jory Penhale" <jory@alderfold.example>
    Subject: Please confirm: A1 lines, on 8 of 10, Tue 16 Jul
    Auto-Submitted: auto-replied
    Date: Tue, 16 Jul 2024 07:05:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <m1@phone.example>
    References: <m1@phone.example>
    MIME-Version: 1.0

    Alder Fold Nursery, Tuesday 16 July 2024

    NOT WRITTEN DOWN BEFORE YOU CONFIRM IT

    Your mail was no answer to one of our letters, and anybody can
    write your address on a mail. This is what it would write down:

    "A1 lines 8/10":
      A1: lines, on 8 of 10, Tue 16 Jul

    Is it yours? Answer this letter with "yes", and it is written
    down. If not, answer "no" or do nothing.
    "#);

    let written = answered(&nursery, JORY, "m2@phone.example", "yes", LATER);
    assert_snapshot!(written.masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Jory Penhale" <jory@alderfold.example>
    Subject: Written down: A1 lines, on 8 of 10, Tue 16 Jul
    Auto-Submitted: auto-replied
    Date: Tue, 16 Jul 2024 07:10:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <m2@phone.example>
    References: <[token]@alderfold.example>
     <m2@phone.example>
    MIME-Version: 1.0

    Alder Fold Nursery, Tuesday 16 July 2024

    WRITTEN DOWN

    "A1 lines 8/10":
      A1: lines, on 8 of 10, Tue 16 Jul

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back.
    "#);
    assert_eq!(
        records(&nursery),
        ["A1 | lines | 8.0 | 2024-07-16 | Jory Penhale"]
    );
    assert_eq!(
        states(&nursery),
        [format!("{JORY} | taken"), format!("{JORY} | taken")]
    );

    // A second yes to the same receipt, and one to another letter.
    let to = receipt.answer_at();
    for (id, to) in [
        ("m3@phone.example", to),
        ("m4@phone.example", written.answer_at()),
    ] {
        Mail {
            to,
            id,
            words: "yes",
            ..Mail::default()
        }
        .comes(&nursery, id);
    }
    nursery.round(STILL_LATER).well();
    assert_eq!(records(&nursery).len(), 1);
}

/// Anybody can write Jory's address on a mail; the receipt goes to Jory, and only its address lets the mail pass.
#[test]
fn a_forged_sender_writes_nothing() {
    let nursery = told();
    let forged = "Return-Path: <eve@elsewhere.example>\r\nReply-To: eve@elsewhere.example\r\n";
    let mail = Mail {
        headers: forged,
        words: "A1 closed",
        ..Mail::default()
    };
    mail.comes(&nursery, "1");
    for (n, words) in ["yes", "undo"].iter().enumerate() {
        let id = format!("y{n}@elsewhere.example");
        Mail {
            id: &id,
            headers: "In-Reply-To: <m1@phone.example>\r\n",
            words,
            ..Mail::default()
        }
        .comes(&nursery, &format!("2{n}"));
    }
    nursery.round(SOON).well();
    assert_eq!(records(&nursery), [""; 0]);
    let recipients = nursery.memory("SELECT DISTINCT recipient FROM letter ORDER BY recipient");
    assert_eq!(recipients, [JORY, MAREN]);
}

/// Somebody else's `yes` does not do either, though it has the token.
#[test]
fn only_its_sender_lets_a_held_mail_pass() {
    let nursery = told();
    Mail::default().comes(&nursery, "1");
    nursery.round(SOON).well();
    let receipt = receipt_to(&nursery, JORY);
    Mail {
        from: MAREN,
        to: receipt.answer_at(),
        id: "m2@phone.example",
        words: "yes",
        ..Mail::default()
    }
    .comes(&nursery, "2");
    nursery.round(LATER).well();
    assert_eq!(records(&nursery), [""; 0]);
    let told = receipt_to(&nursery, MAREN);
    assert!(
        told.text
            .contains("there is nothing here that waits for a yes"),
        "{}",
        told.text
    );
}

#[test]
fn a_sender_may_be_trusted() {
    let nursery = told().but(
        "graftwarden.toml",
        "maildir =",
        "trust = \"sender\"\nmaildir =",
    );
    Mail {
        from: "JORY@alderfold.example",
        ..Mail::default()
    }
    .comes(&nursery, "1");
    nursery.round(SOON).well();
    assert_eq!(
        records(&nursery),
        ["A1 | lines | - | 2024-07-16 | Jory Penhale"]
    );
}

#[test]
fn a_letter_that_was_handed_on_may_be_answered() {
    let nursery = told();
    let letter = last_to(&nursery, MAREN);
    Mail {
        to: letter.answer_at(),
        ..Mail::default()
    }
    .comes(&nursery, "1");
    nursery.round(SOON).well();
    assert_eq!(
        records(&nursery),
        ["A1 | lines | - | 2024-07-16 | Jory Penhale"]
    );
    let receipt = receipt_to(&nursery, JORY);
    assert!(
        receipt
            .text
            .contains("The letter you answered was written to Maren Holt."),
        "{}",
        receipt.text
    );
}

#[test]
fn strangers_are_not_answered_and_told_once_a_day() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    let stranger = |n: u32, from: &str| {
        let id = format!("s{n}@elsewhere.example");
        Mail {
            from,
            to: letter.answer_at(),
            id: &id,
            ..Mail::default()
        }
        .comes(&nursery, &n.to_string());
    };
    stranger(1, "eve@elsewhere.example");
    stranger(2, "eve@elsewhere.example");
    nursery.round(SOON);
    stranger(3, "eve@elsewhere.example");
    nursery.round(LATER);
    assert_eq!(records(&nursery), [""; 0]);
    let told = nursery.memory("SELECT anchor FROM notice WHERE kind = 'trouble'");
    assert_eq!(told, ["mail from eve@elsewhere.example on 2024-07-16"]);
    let recipients = nursery.memory("SELECT DISTINCT recipient FROM letter ORDER BY recipient");
    assert_eq!(recipients, [JORY, MAREN]);
    assert_snapshot!(last_to(&nursery, MAREN).text.split("\n\n").skip(1).collect::<Vec<_>>().join("\n\n"), @r"
    Alder Fold Nursery, Tuesday 16 July 2024

    TROUBLE

    mail from eve@elsewhere.example: it is from nobody in [[people]];
    nothing in it was written down, it stays in the mailbox and was
    not answered. If it is one of your people, write with the address
    of the config, or add this one.
    ");
    for n in 4..12 {
        stranger(n, &format!("eve{n}@elsewhere.example"));
    }
    nursery.round(STILL_LATER);
    let many = nursery.memory("SELECT anchor FROM notice WHERE kind = 'trouble'");
    assert_eq!(many.len(), 6, "{many:?}");
    assert_eq!(files(&nursery, "mail/cur").len(), 11, "kept");
}

/// What a program wrote is no record and gets no answer, whatever it quotes.
#[test]
fn programs_are_never_answered() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    let written = nursery.memory("SELECT count(*) FROM letter");
    for (n, headers) in [
        "Auto-Submitted: auto-replied\r\n",
        "Auto-Submitted: auto-generated (vacation)\r\n",
        "Precedence: bulk\r\n",
        "X-Autoreply: yes\r\n",
    ]
    .iter()
    .enumerate()
    {
        let id = format!("a{n}@phone.example");
        Mail {
            to: letter.answer_at(),
            id: &id,
            headers,
            ..Mail::default()
        }
        .comes(&nursery, &id);
    }
    let ours = Mail {
        from: "letters@alderfold.example",
        to: letter.answer_at(),
        ..Mail::default()
    };
    ours.comes(&nursery, "ours");
    nursery.round(SOON).well();
    assert_eq!(records(&nursery), [""; 0]);
    assert_eq!(nursery.memory("SELECT count(*) FROM letter"), written);
    assert_eq!(
        nursery.memory("SELECT DISTINCT state FROM answer"),
        ["automatic"]
    );
}

/// A program that answers every receipt and does not say that it is one.
#[test]
fn two_programs_that_answer_each_other_come_to_an_end() {
    let nursery = told();
    let receipts = || {
        let letters = letters_to(&nursery, JORY);
        letters
            .iter()
            .filter(|l| l.text.contains("auto-replied"))
            .count()
    };
    let mut n = 0;
    for minute in 5..25 {
        for letter in letters_to(&nursery, JORY) {
            n += 1;
            let id = format!("loop{n}@phone.example");
            Mail {
                to: letter.answer_at(),
                id: &id,
                words: "Your message has been received by us.",
                ..Mail::default()
            }
            .comes(&nursery, &id);
            if n % 3 == 0 {
                break;
            }
        }
        nursery
            .round(&format!("2024-07-16T07:{minute:02}:00+02:00"))
            .well();
    }
    assert!(n > 30, "{n}");
    assert_eq!(receipts(), 30);
    assert_eq!(records(&nursery), [""; 0]);
}

#[test]
fn two_words_of_yes_write_a_held_mail_down_once() {
    let nursery = told();
    Mail {
        words: "A1 12 dead",
        ..Mail::default()
    }
    .comes(&nursery, "1");
    nursery.round(SOON).well();
    let yes = "Yes\nthat's right\nno";
    let receipt = answered(&nursery, JORY, "m2@phone.example", yes, LATER);
    assert!(said(&receipt).contains("this mail says yes as well"));
    assert_eq!(
        records(&nursery),
        ["A1 | dead | 12.0 | 2024-07-16 | Jory Penhale"]
    );
}

#[test]
fn what_waited_for_a_yes_keeps_the_day_on_which_it_was_written() {
    let nursery = told();
    Mail {
        words: "A1 headed back",
        ..Mail::default()
    }
    .comes(&nursery, "1");
    nursery.round(SOON).well();
    answered(
        &nursery,
        JORY,
        "m2@phone.example",
        "yes",
        "2024-08-25T07:10:00+02:00",
    );
    assert_eq!(
        records(&nursery),
        ["A1 | headed-back | - | 2024-07-16 | Jory Penhale"]
    );
}
