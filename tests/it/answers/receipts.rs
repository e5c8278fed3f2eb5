//! What is written down, and the receipt of it, whole.

use super::*;
use insta::assert_snapshot;

#[test]
fn a_line_in_answer_to_a_letter_is_written_down() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    let token = letter.id().split('@').next().unwrap();
    assert_eq!(
        letter.answer_at(),
        format!("answers+{token}@alderfold.example")
    );
    let receipt = answered(&nursery, JORY, "m1@phone.example", "A1 lines 8/10", SOON);
    assert_snapshot!(receipt.masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Jory Penhale" <jory@alderfold.example>
    Subject: Written down: A1 lines, on 8 of 10, Tue 16 Jul
    Auto-Submitted: auto-replied
    Date: Tue, 16 Jul 2024 07:05:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <m1@phone.example>
    References: <[token]@alderfold.example>
     <m1@phone.example>
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
        receipt.header("In-Reply-To"),
        "<m1@phone.example>",
        "in the thread of the mail"
    );
    assert!(receipt.header("References").contains(letter.id()));
    assert_eq!(files(&nursery, "mail/new"), [""; 0]);
    assert_eq!(files(&nursery, "mail/cur"), ["m1@phone.example:2,S"]);
    assert_eq!(
        letters_to(&nursery, MAREN)
            .iter()
            .filter(|l| l.text.contains("auto-replied"))
            .count(),
        0,
        "to the sender only"
    );
}

#[test]
fn done_means_what_the_letter_asked_for() {
    let nursery = told();
    let looked = answered(&nursery, MAREN, "m0@phone.example", "done", SOON);
    assert!(
        looked.text.contains("it matters what was seen"),
        "{}",
        looked.text
    );
    answered(&nursery, JORY, "m1@phone.example", "A1 lines", LATER);
    let letter = last_to(&nursery, MAREN);
    assert!(letter.text.contains("HEAD BACK NOW"), "{}", letter.text);
    let receipt = answered(&nursery, MAREN, "m2@phone.example", "done", STILL_LATER);
    assert_snapshot!(receipt.masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Maren Holt" <maren@alderfold.example>
    Subject: Written down: A1 headed-back, Tue 16 Jul
    Auto-Submitted: auto-replied
    Date: Tue, 16 Jul 2024 07:15:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <m2@phone.example>
    References: <[token]@alderfold.example>
     <m2@phone.example>
    MIME-Version: 1.0

    Alder Fold Nursery, Tuesday 16 July 2024

    WRITTEN DOWN

    "done":
      A1: headed-back, Tue 16 Jul

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back.
    "#);
    assert_snapshot!(records(&nursery).join("\n"), @r"
    A1 | lines | - | 2024-07-16 | Jory Penhale
    A1 | headed-back | - | 2024-07-16 | Maren Holt
    ");
}

#[test]
fn several_lines_and_one_that_cannot_be_read() {
    let nursery = told();
    let words = "A1 lines\nA2 looked 15 Jul\nA1 headed back 400\nthe fox was here again";
    let receipt = answered(&nursery, JORY, "m1@phone.example", words, SOON);
    assert_snapshot!(receipt.masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Jory Penhale" <jory@alderfold.example>
    Subject: Written down: A1 lines, Tue 16 Jul, and 1 more, but not all
    Auto-Submitted: auto-replied
    Date: Tue, 16 Jul 2024 07:05:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <m1@phone.example>
    References: <[token]@alderfold.example>
     <m1@phone.example>
    MIME-Version: 1.0

    Alder Fold Nursery, Tuesday 16 July 2024

    WRITTEN DOWN

    "A1 lines":
      A1: lines, Tue 16 Jul

    "A2 looked 15 Jul":
      A2: looked, Mon 15 Jul

    NOT WRITTEN DOWN

    "A1 headed back 400": A1 has 310 grafts, not 400; write the count
    again.

    "the fox was here again": it does not say what was seen or done;
    write it as in A1 headed back, A1 lines 3/10 or A1 tape off 18
    Aug.

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back. What is not written down may be answered
    anew: answer this letter with the line as it should be.
    "#);
    assert_snapshot!(records(&nursery).join("\n"), @r"
    A1 | lines | - | 2024-07-16 | Jory Penhale
    A2 | looked | - | 2024-07-15 | Jory Penhale
    ");
}

#[test]
fn not_yet_writes_nothing_and_says_when_it_is_told_again() {
    let nursery = told();
    let receipt = answered(&nursery, JORY, "m1@phone.example", "not yet", SOON);
    assert_snapshot!(receipt.masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Jory Penhale" <jory@alderfold.example>
    Subject: Nothing written down
    Auto-Submitted: auto-replied
    Date: Tue, 16 Jul 2024 07:05:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <m1@phone.example>
    References: <[token]@alderfold.example>
     <m1@phone.example>
    MIME-Version: 1.0

    Alder Fold Nursery, Tuesday 16 July 2024

    NOTHING WRITTEN DOWN

    Look for callus lines (1 batch): it is in time to roughly Mon 22
    Jul. It is told again on the last working day before it closes
    where a forecast shows that day, else once it is late.
    "#);
    assert_eq!(records(&nursery), [""; 0]);
}

#[test]
fn a_mail_without_words_is_told_so() {
    let nursery = told();
    let receipt = answered(&nursery, JORY, "m1@phone.example", "", SOON);
    assert_snapshot!(receipt.header("Subject"), @r"Not written down: There are no words of yours in the mail");
    assert_eq!(records(&nursery), [""; 0]);
}

/// The references of a reply do where the address has no token.
#[test]
fn a_reply_is_known_by_its_references() {
    let nursery = told();
    let id = last_to(&nursery, JORY).id().to_owned();
    let headers = format!("In-Reply-To: <{id}>\r\nReferences: <{id}>\r\n");
    Mail {
        headers: &headers,
        words: "lines",
        ..Mail::default()
    }
    .comes(&nursery, "1");
    nursery.round(SOON).well();
    assert_eq!(states(&nursery), [format!("{JORY} | taken")]);
    assert_eq!(records(&nursery).len(), 1);
}

#[test]
fn a_reply_is_known_by_the_token_in_its_subject() {
    let nursery = told().but("graftwarden.toml", "maildir =", "plus = false\nmaildir =");
    let id = last_to(&nursery, JORY).id().to_owned();
    let token = id.split('@').next().unwrap();
    let text = Mail::default().text();
    let text = text.replace(
        "Subject: Re: today",
        &format!("Subject: Re: today [{token}]"),
    );
    nursery.write("mail/new/1", text);
    nursery.round(SOON).well();
    assert_eq!(states(&nursery), [format!("{JORY} | taken")]);
    let receipt = receipt_to(&nursery, JORY);
    assert_eq!(receipt.answer_at(), "answers@alderfold.example");
}

/// Two months on nobody knows what `done` was said of; a line that says it all is as good as ever.
#[test]
fn a_letter_of_long_ago_does_not_say_what_done_means() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    let mail = Mail {
        to: letter.answer_at(),
        date: "Mon, 13 Jul 2026 07:02:00 +0200",
        words: "done\nA1 take 182 on 2024-10-01",
        ..Mail::default()
    };
    mail.comes(&nursery, "1");
    let ran = nursery.round("2026-07-13T07:05:00+02:00");
    assert_eq!(ran.code, 0, "{ran}");
    let ours = letters_to(&nursery, JORY);
    let receipt = ours
        .iter()
        .find(|l| l.text.contains("auto-replied"))
        .unwrap();
    assert_snapshot!(receipt.masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Jory Penhale" <jory@alderfold.example>
    Subject: Written down: A1 take, 182 alive, 1 October 2024, but not all
    Auto-Submitted: auto-replied
    Date: Mon, 13 Jul 2026 07:05:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <m1@phone.example>
    References: <[token]@alderfold.example>
     <m1@phone.example>
    MIME-Version: 1.0

    Alder Fold Nursery, Monday 13 July 2026

    WRITTEN DOWN

    The letter you answered is of 16 July 2024: "done" cannot be known
    to mean what it asked for. Name the batch, what was done, and the
    date.

    "A1 take 182 on 2024-10-01":
      A1: take, 182 alive, 1 October 2024

    NOT WRITTEN DOWN

    "done": it names no batch, and answers no letter that asks for
    something; write it as in A1 headed back.

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back. What is not written down may be answered
    anew: answer this letter with the line as it should be.
    "#);
    assert_snapshot!(records(&nursery).join("\n"), @r"A1 | take | 182.0 | 2024-10-01 | Jory Penhale");
}

/// A count may wait for its letter's reply for as long as a phone has no net; a clock that stands wrong says nothing.
#[test]
fn a_mail_is_of_its_own_date_unless_that_cannot_be() {
    for (date, on) in [
        ("Mon, 15 Jul 2024 19:00:00 +0200", "2024-07-15"),
        ("Wed, 17 Jul 2024 19:00:00 +0200", "2024-07-16"),
        ("Thu, 1 Jan 1970 00:00:00 +0000", "2024-07-16"),
    ] {
        let nursery = told();
        let letter = last_to(&nursery, JORY);
        let mail = Mail {
            to: letter.answer_at(),
            date,
            ..Mail::default()
        };
        mail.comes(&nursery, "1");
        nursery.round(SOON).well();
        assert_eq!(
            records(&nursery),
            [format!("A1 | lines | - | {on} | Jory Penhale")],
            "{date}"
        );
    }
}
