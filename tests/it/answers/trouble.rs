//! Letters that come back, a mailbox that cannot be read, hostile mails, and answers between the rounds.

use super::*;
use chrono::{DateTime, TimeDelta, Utc};
use graftwarden::assemble::House;
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::round::{Outcome, Whom, gather, round_of};
use graftwarden::store::Store;
use insta::assert_snapshot;
use std::sync::Arc;

/// A report of a mail server that a letter could not be delivered (RFC 3464).
pub fn bounce(id: &str, recipient: &str, letter: &str) -> String {
    format!(
        "From: Mail Delivery System <MAILER-DAEMON@mail.alderfold.example>\r\nReturn-Path: <>\r\nTo: answers@alderfold.example\r\nMessage-ID: <{id}@mail.alderfold.example>\r\nDate: Tue, 16 Jul 2024 06:11:00 +0200\r\nSubject: Undelivered Mail Returned to Sender\r\nAuto-Submitted: auto-replied\r\nMIME-Version: 1.0\r\nContent-Type: multipart/report; report-type=delivery-status; boundary=\"b\"\r\n\r\n--b\r\nContent-Type: text/plain\r\n\r\nA1 lines\r\n\r\n--b\r\nContent-Type: message/delivery-status\r\n\r\nReporting-MTA: dns; mail.alderfold.example\r\n\r\nFinal-Recipient: rfc822; {recipient}\r\nAction: failed\r\nStatus: 5.1.1\r\nDiagnostic-Code: smtp; 550 5.1.1 no such person\r\n\r\n--b\r\nContent-Type: text/rfc822-headers\r\n\r\nMessage-ID: <{letter}>\r\nSubject: Block A: look for callus lines now\r\n\r\n--b--\r\n"
    )
}

fn trouble(nursery: &Nursery) -> Vec<String> {
    nursery.memory("SELECT anchor FROM notice WHERE kind = 'trouble' ORDER BY id")
}

#[test]
fn a_letter_that_comes_back_is_told_to_the_others_once() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    nursery.write("mail/new/1", bounce("b1", JORY, letter.id()));
    nursery.write("mail/new/2", bounce("b2", JORY, letter.id()));
    nursery.round(SOON);
    assert_eq!(records(&nursery), [""; 0]);
    let told = last_to(&nursery, MAREN);
    assert_snapshot!(told.text.split("\n\n").skip(1).collect::<Vec<_>>().join("\n\n"), @r"
    Alder Fold Nursery, Tuesday 16 July 2024

    TROUBLE

    letters to jory@alderfold.example: they come back: 550 5.1.1 no
    such person; this person gets no mail from here. Check the address
    in the config, and tell them by another way.
    ");
    // The letter that tells it comes back too, and so would each after it.
    let letter = last_to(&nursery, JORY);
    nursery.write("mail/new/3", bounce("b3", JORY, letter.id()));
    nursery.round(LATER);
    assert_eq!(trouble(&nursery).len(), 1);
    assert_eq!(
        nursery.memory("SELECT DISTINCT state FROM answer"),
        ["bounce"]
    );
}

#[test]
fn a_receipt_that_comes_back_starts_no_loop() {
    let nursery = told();
    let receipt = answered(&nursery, JORY, "m1@phone.example", "A1 looked", SOON);
    let letters =
        nursery.memory("SELECT count(*) FROM letter WHERE recipient = 'jory@alderfold.example'");
    nursery.write("mail/new/b", bounce("b1", JORY, receipt.id()));
    nursery.round(LATER);
    nursery.round(STILL_LATER);
    assert_eq!(trouble(&nursery).len(), 1);
    // One letter more, which tells it to all who get trouble.
    let after =
        nursery.memory("SELECT count(*) FROM letter WHERE recipient = 'jory@alderfold.example'");
    assert_eq!(
        after[0].parse::<u32>().unwrap(),
        letters[0].parse::<u32>().unwrap() + 1
    );
}

#[test]
fn what_comes_back_of_somebody_else_is_none_of_ours() {
    let nursery = told();
    nursery.write(
        "mail/new/1",
        bounce("b1", "eve@elsewhere.example", "x@elsewhere.example"),
    );
    nursery.round(SOON).well();
    assert_eq!(trouble(&nursery), [""; 0]);
}

#[test]
fn a_mailbox_that_cannot_be_read_is_told_after_an_hour_and_once() {
    let nursery = told();
    std::fs::rename(nursery.path("mail"), nursery.path("gone")).unwrap();
    let ran = nursery.round(SOON);
    assert_eq!(ran.code, 0, "{ran}");
    assert_eq!(trouble(&nursery), [""; 0]);
    for at in ["08:05", "09:05"] {
        nursery.round(&format!("2024-07-16T{at}:00+02:00"));
    }
    assert_eq!(trouble(&nursery).len(), 1);
    assert_snapshot!(last_to(&nursery, MAREN).text.split("\n\n").skip(1).collect::<Vec<_>>().join("\n\n"), @r"
    Alder Fold Nursery, Tuesday 16 July 2024

    TROUBLE

    mailbox mail: it has no folders new and cur, so it is not a
    maildir; no answer is read. Name the folder into which your mail
    server puts the mails for answers; most make it with the first
    mail, so send one. Or make it, as the user who runs graftwarden:
    mkdir -p 'mail/new' 'mail/cur' 'mail/tmp'.
    ");
    std::fs::rename(nursery.path("gone"), nursery.path("mail")).unwrap();
    Mail {
        to: last_to(&nursery, JORY).answer_at(),
        ..Mail::default()
    }
    .comes(&nursery, "1");
    nursery.round("2024-07-16T10:05:00+02:00");
    assert_eq!(records(&nursery).len(), 1, "it goes on");
    std::fs::rename(nursery.path("mail"), nursery.path("gone")).unwrap();
    for at in ["11:05", "12:05"] {
        nursery.round(&format!("2024-07-16T{at}:00+02:00"));
    }
    assert_eq!(trouble(&nursery).len(), 2, "another failure is told anew");
}

#[test]
fn a_mail_of_thirty_megabytes_is_not_read_and_its_sender_told() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    Mail {
        to: letter.answer_at(),
        ..Mail::default()
    }
    .comes(&nursery, "1");
    let file = std::fs::File::options()
        .write(true)
        .open(nursery.path("mail/new/1"))
        .unwrap();
    file.set_len(30_000_000).unwrap();
    nursery.round(SOON).well();
    assert_eq!(records(&nursery), [""; 0]);
    assert_snapshot!(receipt_to(&nursery, JORY).masked(), @r#"
    Message-ID: <[token]@alderfold.example>
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Jory Penhale" <jory@alderfold.example>
    Subject: Not written down: Your mail "Re: today" has 30 MB, and no more than
     25 MB are read
    Auto-Submitted: auto-replied
    Date: Tue, 16 Jul 2024 07:05:00 +0200
    Reply-To: answers+[token]@alderfold.example
    In-Reply-To: <m1@phone.example>
    References: <[token]@alderfold.example>
     <m1@phone.example>
    MIME-Version: 1.0

    Alder Fold Nursery, Tuesday 16 July 2024

    NOT WRITTEN DOWN

    Your mail "Re: today" has 30 MB, and no more than 25 MB are read.
    Send the words without the pictures.

    What is not written down may be answered anew: answer this letter
    with the line as it should be.
    "#);
    assert_eq!(files(&nursery, "mail/cur"), ["1:2,S"]);
}

/// Header fields smuggled into what is repeated, an id that would break a header, mails within mails.
#[test]
fn hostile_mails_do_no_harm() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    let to = letter.answer_at();
    let smuggled = "A1 lines =?utf-8?q?=0D=0ABcc:_eve=40elsewhere.example?=\rBcc: eve@elsewhere.example\u{2028}X: y";
    Mail {
        to,
        id: "m1@phone.example",
        words: smuggled,
        ..Mail::default()
    }
    .comes(&nursery, "1");
    let text = Mail {
        to,
        id: "m2\u{7f}> <x@phone.example",
        ..Mail::default()
    }
    .text();
    let subject = "Subject: =?utf-8?q?=0D=0ABcc:_eve=40elsewhere.example?=";
    nursery.write("mail/new/2", text.replace("Subject: Re: today", subject));
    let mut nested = String::from("A1 closed\r\n");
    for depth in 0..200 {
        nested = format!(
            "Content-Type: multipart/mixed; boundary=\"b{depth}\"\r\n\r\n--b{depth}\r\n{nested}\r\n--b{depth}--\r\n"
        );
    }
    nursery.write(
        "mail/new/3",
        format!("From: {JORY}\r\nTo: {to}\r\nMessage-ID: <m3@phone.example>\r\n{nested}"),
    );
    nursery.write("mail/new/4", [0xff, 0x00, 0x0d, 0x0a].repeat(1000));
    nursery.write("mail/new/5", "");
    let ran = nursery.round(SOON);
    assert_eq!(ran.code, 0, "{ran}");
    for letter in nursery.letters() {
        let head = letter.split("\n\n").next().unwrap();
        assert!(
            !head
                .lines()
                .any(|line| line.starts_with("Bcc") || line.starts_with("X:")),
            "{head}"
        );
    }
    let recipients = nursery.memory("SELECT DISTINCT recipient FROM letter ORDER BY recipient");
    assert_eq!(recipients, [JORY, MAREN]);
    assert_eq!(files(&nursery, "mail/cur").len(), 5);
    let inner = nursery.memory("SELECT count(*) FROM record WHERE what = 'closed'");
    assert_eq!(inner, ["0"], "what is 200 deep is nobody's word");
}

/// The house of a nursery, at a moment that can be set.
fn house(nursery: &Nursery, at: &str) -> (House, Arc<ManualClock>) {
    let config = Config::load(&nursery.path("graftwarden.toml")).unwrap();
    let clock = Arc::new(ManualClock::at(moment(at)));
    let store = Store::open(&config.state).unwrap();
    let (house, problems) = House::live(config, clock.clone(), store);
    assert_eq!(problems, []);
    (house, clock)
}

fn moment(text: &str) -> DateTime<Utc> {
    text.parse::<DateTime<Utc>>().unwrap()
}

async fn between(house: &House) -> Outcome {
    let answers = gather(house).await;
    round_of(house, Whom::Nobody, answers).await.unwrap()
}

fn subjects(outcome: &Outcome) -> Vec<&str> {
    outcome.letters.iter().map(|l| l.subject.as_str()).collect()
}

/// Lines seen open heading back, and it is told at once, from temperatures that are there already.
#[tokio::test]
async fn what_an_answer_opens_is_told_at_once() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    Mail {
        to: letter.answer_at(),
        ..Mail::default()
    }
    .comes(&nursery, "1");
    nursery.write("temps.csv", "not to be read now");
    let (house, _) = house(&nursery, SOON);
    let outcome = between(&house).await;
    assert_eq!(outcome.problems, []);
    assert_snapshot!(subjects(&outcome).join("\n"), @r"
    Written down: A1 lines, Tue 16 Jul
    Block A: head back now (1 batch, 310 grafts)
    Block A: head back now (1 batch, 310 grafts)
    ");
    assert_eq!(between(&house).await, Outcome::default(), "nothing twice");
}

/// At night, before the day's own round, only what is urgent is told; the rest comes with the round.
#[tokio::test]
async fn before_the_days_own_round_only_what_is_urgent_is_told() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    let mail = |id: &str, words: &str| {
        Mail {
            to: letter.answer_at(),
            id,
            words,
            date: "Wed, 17 Jul 2024 00:30:00 +0200",
            ..Mail::default()
        }
        .comes(&nursery, id);
    };
    mail("m1@phone.example", "A1 lines");
    let (house, clock) = house(&nursery, "2024-07-17T00:31:00+02:00");
    let outcome = between(&house).await;
    assert_eq!(outcome.tellings, []);
    assert_eq!(records(&nursery).len(), 1);
    mail("m2@phone.example", "A1 over-callused");
    clock.advance(TimeDelta::minutes(2));
    let outcome = between(&house).await;
    let kinds: Vec<&str> = outcome
        .tellings
        .iter()
        .map(|t| t.notice.kind.name())
        .collect();
    assert_eq!(kinds, ["over-callused"]);
    let rounds = nursery.memory("SELECT date FROM round_on");
    assert_eq!(rounds, ["2024-07-16"], "none of these was the day's own");
}

/// A message within a digest over which the mail library stumbles, where its own checks are built in.
#[test]
fn a_mail_that_cannot_be_made_out_stays_and_is_told() {
    let nursery = told();
    let letter = last_to(&nursery, JORY);
    let broken = format!(
        "From: {JORY}\r\nTo: {}\r\nMessage-ID: <m1@phone.example>\r\nSubject: Re: today\r\nContent-Type: multipart/digest; boundary=a\r\n\r\n--a\r\n\r\nContent-Type: message/rfc822\r\n\r\n\r\n--a--\r\n",
        letter.answer_at()
    );
    nursery.write("mail/new/1", &broken);
    // The one after it is read as ever.
    Mail {
        from: MAREN,
        to: last_to(&nursery, MAREN).answer_at(),
        id: "m2@phone.example",
        ..Mail::default()
    }
    .comes(&nursery, "2");
    let ran = nursery.round(SOON);
    assert_eq!(ran.code, 0, "{ran}");
    assert_eq!(
        records(&nursery),
        ["A1 | lines | - | 2024-07-16 | Maren Holt"]
    );
    assert_eq!(files(&nursery, "mail/new"), [""; 0]);
    assert_eq!(nursery.read("mail/cur/1:2,S"), broken, "it stays");
    if !cfg!(debug_assertions) {
        return;
    }
    assert_snapshot!(body(&receipt_to(&nursery, JORY)), @r#"
    NOT WRITTEN DOWN

    Your mail "Re: today" could not be read: it was broken on its way,
    or by the program that wrote it. Write the words anew.

    What is not written down may be answered anew: answer this letter
    with the line as it should be.
    "#);
    assert_eq!(trouble(&nursery), ["broken mail m1@phone.example"]);
    nursery.round(LATER);
    assert_eq!(trouble(&nursery).len(), 1, "told once");
}
