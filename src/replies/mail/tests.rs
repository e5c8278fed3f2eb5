use super::*;
use proptest::prelude::*;
use std::fmt::Write;

/// The mails under tests/data/replies, which are invented.
fn kept(name: &str) -> Vec<u8> {
    let path = format!(
        "{}/tests/data/replies/{name}.eml",
        env!("CARGO_MANIFEST_DIR")
    );
    // Mails have CR LF; the files are kept as text.
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
    text.replace('\n', "\r\n").into_bytes()
}

#[track_caller]
fn check(name: &str, words: &str) {
    let mail = read_mail(&kept(name));
    assert_eq!(mail.kind, MailKind::Person, "{name}");
    assert_eq!(mail.words, words, "{name}");
    assert_eq!(
        mail.from.as_deref(),
        Some("maren@alderfold.example"),
        "{name}"
    );
}

#[test]
fn phones_write_in_many_ways() {
    check("above-the-quote", "C-14 headed back 180\nstopped at row 12");
    check("page-only", "done");
    check("page-in-boxes", "C-14 lines 3/10\nC-15 no lines");
    check("between-quotes", "done\nnot yet");
    check("original-message", "tape off, tied, cut");
    check("header-block", "C-14 fertig? no: C-14 headed back");
    check("german-quote", "C-14 lines");
    check("broken-attribution", "yes");
    check("flowed", "block C headed back 18 Aug");
    check("signature", "C-14 take 182");
    check("latin1-base64", "C-14 headed back, weiß Jürgen");
    check("reaction", "👍");
    check("broken-charset", "C-14 lines \u{fffd}");
}

/// A message within a digest within which nothing begins: the library takes it for what should never be, and says so with
/// a panic where its own checks are built in.
const STUMBLED_OVER: &[u8] = b"From: jory@alderfold.example\r\nMessage-ID: <1@phone.example>\r\nSubject: Re: today\r\nContent-Type: multipart/digest; boundary=a\r\n\r\n--a\r\n\r\nContent-Type: message/rfc822\r\n\r\n\r\n--a--\r\n";

#[test]
fn a_mail_that_the_library_stumbles_over_is_known_by_its_headers() {
    let mail = read_mail(STUMBLED_OVER);
    assert_eq!(mail.from.as_deref(), Some("jory@alderfold.example"));
    assert_eq!(
        (mail.id.as_str(), mail.subject.as_str(), mail.words.as_str()),
        ("1@phone.example", "Re: today", "")
    );
    let kind = if cfg!(debug_assertions) {
        MailKind::Broken
    } else {
        MailKind::Person
    };
    assert_eq!(mail.kind, kind);
    // What a program wrote is no less a program's.
    let text = String::from_utf8_lossy(STUMBLED_OVER);
    let text = text.replace("Subject:", "Auto-Submitted: auto-replied\r\nSubject:");
    assert_eq!(read_mail(text.as_bytes()).kind, MailKind::Automatic);
}

#[test]
fn whatever_panics_comes_to_nothing() {
    assert_eq!(guarded(|| 1), Some(1));
    assert_eq!(
        guarded(|| -> u8 { panic!("this is part of the test") }),
        None
    );
}

/// A right-to-left override would show "closed 41-C" as "C-14 desolc", here and wherever it is repeated.
#[test]
fn nothing_unseen_or_ringing_is_left_in_what_was_written() {
    let mail = "From: maren@alderfold.example\r\nSubject: =?utf-8?Q?Re:_=E2=80=AEtoday=C2=AD?=\r\nContent-Type: text/plain; charset=utf-8\r\n\r\n\u{202e}C-14\u{202c} li\u{ad}nes\u{7} \u{2067}3/10\u{2069}\u{1b}[31m\u{feff}\r\n";
    let mail = read_mail(mail.as_bytes());
    assert_eq!(mail.words, "C-14 lines  3/10 [31m");
    assert_eq!(mail.subject, "Re: today");
}

#[test]
fn a_mail_says_which_letter_it_answers() {
    let mail = read_mail(&kept("above-the-quote"));
    assert_eq!(mail.id, "reply-1@phone.example");
    assert_eq!(
        mail.answers_to,
        ["newest@alderfold.example", "older@alderfold.example"]
    );
    assert_eq!(
        mail.to,
        [
            "answers+0123456789abcdef0123456789abcdef@alderfold.example",
            "crew@alderfold.example"
        ]
    );
    assert_eq!(mail.subject, "Re: Block C: head back now");
    assert_eq!(
        mail.dated.unwrap().to_rfc3339(),
        "2026-08-13T15:02:00+00:00"
    );
}

#[track_caller]
fn check_kind(name: &str, kind: &MailKind) {
    assert_eq!(read_mail(&kept(name)).kind, *kind, "{name}");
}

#[test]
fn programs_are_known_by_what_they_say_of_themselves() {
    for name in [
        "absence-note",
        "mailing-list",
        "null-sender",
        "delayed-report",
    ] {
        check_kind(name, &MailKind::Automatic);
    }
    let head = "From: Maren <maren@alderfold.example>\r\nTo: a@alderfold.example\r\n";
    let kind = |line: &str| read_mail(format!("{head}{line}\r\n\r\ndone\r\n").as_bytes()).kind;
    assert_eq!(kind("Auto-Submitted: auto-replied"), MailKind::Automatic);
    assert_eq!(kind("Auto-Submitted: no"), MailKind::Person);
    assert_eq!(kind("Precedence: bulk"), MailKind::Automatic);
    assert_eq!(kind("Precedence: first-class"), MailKind::Person);
    assert_eq!(kind("Subject: Out of office: Maren"), MailKind::Automatic);
}

#[test]
fn a_letter_that_came_back_is_known() {
    check_kind(
        "bounce",
        &MailKind::Bounce {
            recipient: Some("crew@alderfold.example".into()),
            said: "550 5.1.1 User unknown".into(),
            letter: Some("0123456789abcdef0123456789abcdef@alderfold.example".into()),
        },
    );
    check_kind(
        "bounce-headers-only",
        &MailKind::Bounce {
            recipient: Some("crew@alderfold.example".into()),
            said: "452 4.2.2 Mailbox full".into(),
            letter: Some("0123456789abcdef0123456789abcdef@alderfold.example".into()),
        },
    );
}

/// A plain text mail with these lines.
fn text(lines: &str) -> String {
    let mail = format!("From: maren@alderfold.example\n\n{lines}");
    read_mail(mail.replace('\n', "\r\n").as_bytes()).words
}

#[test]
fn what_the_person_wrote_is_not_lost_beside_a_quote() {
    let wrote = "On Thu, 13 Aug 2026 at 17:02, A <a@alderfold.example> wrote:\n";
    assert_eq!(
        text(&format!(
            "On row 12 stopped, 80 done\n{wrote}> C-14 lines\n"
        )),
        "On row 12 stopped, 80 done"
    );
    assert_eq!(
        text("done\n----------\nC-15 lines\n"),
        "done\n----------\nC-15 lines"
    );
    assert_eq!(
        text("-----Original Message-----\n> From: A\n> C-14 lines\n\ndone\n"),
        "done"
    );
    let rule = "_".repeat(32);
    assert_eq!(
        text(&format!(
            "done\n{rule}\nFrom: A\nSent: Thursday\n\nC-15 lines\n"
        )),
        "done"
    );
    assert_eq!(text("C-14 headed back \u{0}180"), "C-14 headed back  180");
}

#[test]
fn an_old_letter_without_marks_is_no_answer() {
    let wrote = "On Thu, 13 Aug 2026 at 17:02, A <a@alderfold.example> wrote:";
    assert_eq!(
        text(&format!("done\n\n{wrote}\n\nC-15 headed back\n")),
        "done"
    );
    let french = "Le 13 août 2026 à 17:02, A <a@alderfold.example> a écrit\u{a0}:";
    let mail = format!(
        "From: maren@alderfold.example\r\nContent-Type: text/plain; charset=utf-8\r\n\r\ndone\r\n\r\n{french}\r\n> x\r\n"
    );
    assert_eq!(read_mail(mail.as_bytes()).words, "done");
}

#[test]
fn lines_flow_on_only_into_lines_of_the_person() {
    let flowed = |lines: &str| {
        let mail = format!(
            "From: maren@alderfold.example\nContent-Type: text/plain; format=flowed\n\n{lines}"
        );
        read_mail(mail.replace('\n', "\r\n").as_bytes()).words
    };
    assert_eq!(flowed("done \n> C-14 lines\n"), "done");
    assert_eq!(flowed("done \n-- \nMaren\n"), "done");
    assert_eq!(flowed("C-14 headed \nback 80\n"), "C-14 headed back 80");
}

#[test]
fn a_page_says_it_where_the_text_does_not() {
    let page = |kind: &str, body: &str| {
        let mail = format!("From: maren@alderfold.example\nContent-Type: {kind}\n\n{body}");
        read_mail(mail.replace('\n', "\r\n").as_bytes()).words
    };
    assert_eq!(
        page(
            "multipart/alternative; boundary=b",
            "--b\nContent-Type: text/plain\n\n\n--b\nContent-Type: text/html\n\n<p>done</p>\n--b--\n"
        ),
        "done"
    );
    let style = "p{}".repeat(40_000);
    assert_eq!(
        page(
            "text/html",
            &format!("<head><style>{style}</style></head><body>done</body>")
        ),
        "done"
    );
    assert_eq!(
        page(
            "text/html",
            "<div>On Thu, 13 Aug 2026, A &lt;a@b.example&gt; wrote:</div><blockquote>old</blockquote><div>C-14 lines</div>"
        ),
        "C-14 lines"
    );
}

#[test]
fn servers_that_say_it_in_their_own_words_are_understood() {
    let kind = |head: &str| {
        let mail = format!("Return-Path: <>\nFrom: MAILER-DAEMON@mx.example\n{head}\n\nSorry.\n");
        read_mail(mail.replace('\n', "\r\n").as_bytes()).kind
    };
    assert_eq!(
        kind(
            "Subject: Undelivered\nX-Failed-Recipients: Crew@alderfold.example\nIn-Reply-To: <letter@alderfold.example>"
        ),
        MailKind::Bounce {
            recipient: Some("crew@alderfold.example".into()),
            said: "Undelivered".into(),
            letter: Some("letter@alderfold.example".into()),
        }
    );
    assert_eq!(
        kind("Subject: Warning: message delayed 4 hours"),
        MailKind::Automatic
    );
}

#[test]
fn of_several_recipients_the_one_that_got_nothing_counts() {
    let mail = String::from_utf8(kept("bounce")).unwrap();
    let (before, group) = mail.split_once("Final-Recipient:").unwrap();
    let first = "Final-Recipient: rfc822; other@alderfold.example\r\nAction: relayed\r\nStatus: 2.0.0\r\n\r\n";
    let mail = format!("{before}{first}Final-Recipient:{group}");
    let MailKind::Bounce { recipient, .. } = read_mail(mail.as_bytes()).kind else {
        panic!("no bounce");
    };
    assert_eq!(recipient.as_deref(), Some("crew@alderfold.example"));
}

#[test]
fn headers_bring_no_lines_of_their_own() {
    let mail = read_mail(
        b"From: a@b.example\r\nSubject: =?utf-8?q?a=0D=0ABcc:_eve@example.net?=\r\n\r\nx\r\n",
    );
    assert!(mail.subject.contains("Bcc:"), "{}", mail.subject);
    assert!(!mail.subject.contains(char::is_control));
}

#[test]
fn a_broken_line_is_not_kept_in_part() {
    let line = "C-14 headed back 180\n";
    let words = text(&line.repeat(MOST_TEXT / 10));
    assert!(words.len() > MOST_TEXT / 2);
    assert!(words.lines().all(|kept| kept == line.trim()));
}

#[test]
fn two_senders_are_none() {
    let from = |lines: &str| read_mail(format!("{lines}\r\n\r\ndone\r\n").as_bytes()).from;
    assert_eq!(
        from("From: maren@alderfold.example\r\nFrom: eve@example.net"),
        None
    );
    assert_eq!(from("From: maren@alderfold.example, eve@example.net"), None);
    assert_eq!(
        from("From: \"maren@alderfold.example\" <eve@example.net>"),
        Some("eve@example.net".into())
    );
    assert_eq!(from("Subject: x"), None);
}

#[test]
fn without_a_message_id_the_bytes_are_its_name() {
    let id = |text: &str| read_mail(format!("From: a@b.example\r\n\r\n{text}").as_bytes()).id;
    assert_eq!(id("done"), id("done"));
    assert_ne!(id("done"), id("undo"));
    assert!(id("done").ends_with("@no-message-id"));
}

#[test]
fn hostile_mails_are_read_to_an_end() {
    let mut nested = String::from("From: maren@alderfold.example\r\n");
    for depth in 0..200 {
        let kind = "Content-Type: multipart/mixed";
        let _ = write!(
            nested,
            "{kind}; boundary=\"b{depth}\"\r\n\r\n--b{depth}\r\n"
        );
    }
    nested += "Content-Type: text/plain\r\n\r\ndone\r\n";
    assert_eq!(
        read_mail(nested.as_bytes()).from.as_deref(),
        Some("maren@alderfold.example")
    );
    // A mail in a mail in a mail: each is let go of within the other.
    let layers = "Content-Type: message/rfc822\r\n\r\n".repeat(300_000);
    let folded = "content-type \t:\r\n message/rfc822\r\n\r\n".repeat(300_000);
    for layers in [layers, folded] {
        let mail = format!("From: maren@alderfold.example\r\n{layers}\r\ndone\r\n");
        assert_eq!(
            read_mail(mail.as_bytes()).from.as_deref(),
            Some("maren@alderfold.example")
        );
    }
    let long = format!(
        "From: maren@alderfold.example\r\n\r\n{}",
        "a line of words\r\n".repeat(200_000)
    );
    assert!(read_mail(long.as_bytes()).words.len() <= MOST_TEXT);
    let tags = format!(
        "From: maren@alderfold.example\r\nContent-Type: text/html\r\n\r\n{}",
        "<div><blockquote>".repeat(20_000)
    );
    assert_eq!(read_mail(tags.as_bytes()).words, "");
    let many = format!(
        "From: maren@alderfold.example\r\nTo: {}\r\n\r\nx",
        "a@b.example, ".repeat(5_000)
    );
    assert_eq!(read_mail(many.as_bytes()).to.len(), MOST_NAMES);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_a_mail(bytes in prop::collection::vec(any::<u8>(), 0..2000)) {
        let mail = read_mail(&bytes);
        prop_assert!(!mail.id.is_empty() && mail.words.len() <= MOST_TEXT);
    }

    #[test]
    fn a_damaged_mail_is_still_one(which in 0..4usize, at in 0..4000usize, length in 0..50usize, junk in prop::collection::vec(any::<u8>(), 0..50)) {
        let names = ["above-the-quote", "page-in-boxes", "bounce", "latin1-base64"];
        let mut bytes = kept(names[which]);
        let from = at.min(bytes.len());
        let to = (from + length).min(bytes.len());
        bytes.splice(from..to, junk);
        let mail = read_mail(&bytes);
        prop_assert!(!mail.id.is_empty() && mail.words.len() <= MOST_TEXT);
    }
}
