//! One week of a nursery in which three people answer from their phones, as people do; each receipt as it is read.

use super::*;
use insta::assert_snapshot;
use std::fmt::Write;

const TAMSIN: &str = "tamsin@alderfold.example";
const PEOPLE: [(&str, &str); 3] = [(MAREN, "Maren"), (JORY, "Jory"), (TAMSIN, "Tamsin")];

/// The week, and how many letters of it were read.
struct Week {
    nursery: Nursery,
    mails: std::cell::Cell<u32>,
}

/// A mail that somebody writes in answer to a letter.
struct Note<'a> {
    from: &'a str,
    letter: &'a Sent,
    subject: &'a str,
    headers: &'a str,
    body: &'a str,
}

impl Week {
    /// Three people, with letters on the morning of Tuesday 16 July: A1 waits for a look.
    fn begin() -> Self {
        let tamsin = "[[people]]\nname = \"Tamsin Roe\"\nemail = \"tamsin@alderfold.example\"\ngets = [\"work\", \"urgent\"]\n\n[post]";
        let nursery = farm().but("graftwarden.toml", "[post]", tamsin);
        nursery.round(FIRST).well();
        Self {
            nursery,
            mails: std::cell::Cell::new(0),
        }
    }

    /// The last letter to somebody that is no receipt.
    fn letter(&self, to: &str) -> Sent {
        let mut letters = letters_to(&self.nursery, to);
        letters.retain(|l| !l.text.contains("Auto-Submitted: auto-replied"));
        letters.pop().unwrap()
    }

    fn comes(&self, note: &Note<'_>, date: &str) {
        let n = self.mails.get() + 1;
        self.mails.set(n);
        let kind = if note.headers.contains("Content-Type") {
            ""
        } else {
            "Content-Type: text/plain; charset=utf-8\n"
        };
        let text = format!(
            "From: {0} <{0}>\nTo: <{1}>\nMessage-ID: <week{n}@phone.example>\nIn-Reply-To: <{2}>\nReferences: <{2}>\nDate: {date}\nSubject: {3}\nMIME-Version: 1.0\n{4}{kind}\n{5}\n",
            note.from,
            note.letter.answer_at(),
            note.letter.id(),
            note.subject,
            note.headers,
            note.body,
        );
        self.nursery
            .write(&format!("mail/new/{n:02}"), text.replace('\n', "\r\n"));
    }

    /// A round; every receipt that it wrote, as it is read.
    fn round(&self, at: &str) -> String {
        let before: usize = PEOPLE.iter().map(|(p, _)| self.receipts(p).len()).sum();
        let counts: Vec<usize> = PEOPLE.iter().map(|(p, _)| self.receipts(p).len()).collect();
        let ran = self.nursery.round(at);
        assert_eq!(ran.code, 0, "{ran}");
        let mut out = String::new();
        for ((person, name), known) in PEOPLE.iter().zip(counts) {
            for receipt in &self.receipts(person)[known..] {
                let body = body(receipt);
                let subject = receipt.header("Subject");
                writeln!(out, "== to {name}: {subject}\n{}", body.trim()).unwrap();
            }
        }
        let after: usize = PEOPLE.iter().map(|(p, _)| self.receipts(p).len()).sum();
        assert_eq!(after == before, out.is_empty());
        out
    }

    fn receipts(&self, to: &str) -> Vec<Sent> {
        let mut letters = letters_to(&self.nursery, to);
        letters.retain(|l| l.text.contains("Auto-Submitted: auto-replied"));
        letters
    }
}

/// Top-posted above the letter, as most phones do.
fn above(words: &str, letter: &Sent) -> String {
    let quoted: String = body(letter).lines().map(|l| format!("> {l}\n")).collect();
    format!(
        "{words}\n\nOn Tue, 16 Jul 2024 at 06:10, Alder Fold Nursery <letters@alderfold.example> wrote:\n\n{quoted}"
    )
}

/// Below a block of headers and without marks, as office programs do.
fn over_headers(words: &str, letter: &Sent) -> String {
    format!(
        "{words}\n\n________________________________\nFrom: Alder Fold Nursery <letters@alderfold.example>\nSent: Tuesday, July 16, 2024 6:10 AM\nTo: Tamsin Roe\nSubject: {}\n\n{}",
        letter.header("Subject"),
        body(letter)
    )
}

#[test]
#[expect(
    clippy::too_many_lines,
    reason = "nearly all of them are mails and receipts"
)]
fn a_week_of_answers() {
    let week = Week::begin();

    // Tuesday: A1 waits for a look.
    let (maren, jory, tamsin) = (week.letter(MAREN), week.letter(JORY), week.letter(TAMSIN));
    week.comes(
        &Note {
            from: TAMSIN,
            letter: &tamsin,
            subject: "Automatic reply: Block A: look for callus lines now",
            headers: "Auto-Submitted: auto-replied\n",
            body: "I am out of the office until Thursday. A1 lines? Ask Jory.",
        },
        "Tue, 16 Jul 2024 06:11:00 +0200",
    );
    week.comes(
        &Note {
            from: MAREN,
            letter: &maren,
            subject: "Re: Block A: look for callus lines now",
            headers: "Content-Type: text/html; charset=utf-8\n",
            body: "<html><body><div dir=\"auto\">Can't today, thanks &#128591;</div><div dir=\"auto\">Maren</div><div class=\"gmail_quote\">On Tue, 16 Jul 2024, Alder Fold wrote:<blockquote>LOOK FOR CALLUS LINES NOW</blockquote></div></body></html>",
        },
        "Tue, 16 Jul 2024 07:20:00 +0200",
    );
    week.comes(
        &Note {
            from: JORY,
            letter: &jory,
            subject: "Re: Block A: look for callus lines now",
            headers: "",
            body: &above(
                "Hi, a1 lines on 8 of 10 :)\n\nCheers\nJory\n\nSent from my phone",
                &jory,
            ),
        },
        "Tue, 16 Jul 2024 11:02:00 +0200",
    );
    assert_snapshot!(week.round("2024-07-16T12:00:00+02:00"), @r#"
    == to Maren: Nothing written down
    NOTHING WRITTEN DOWN

    Look for callus lines: nothing of it waits any more.
    == to Jory: Written down: A1 lines, on 8 of 10, Tue 16 Jul
    WRITTEN DOWN

    "Hi, a1 lines on 8 of 10 :)":
      A1: lines, on 8 of 10, Tue 16 Jul

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back.
    "#);

    // In the afternoon A1 is to be headed back. Two answers to one letter, and one of somebody else to the same.
    let (jory, tamsin) = (week.letter(JORY), week.letter(TAMSIN));
    week.comes(
        &Note {
            from: JORY,
            letter: &jory,
            subject: "Re: Block A: head back now",
            headers: "",
            body: &above("A1 180 done", &jory),
        },
        "Tue, 16 Jul 2024 15:30:00 +0200",
    );
    week.comes(
        &Note {
            from: JORY,
            letter: &jory,
            subject: "Re: Block A: head back now",
            headers: "",
            body: &above("Done!", &jory),
        },
        "Tue, 16 Jul 2024 17:45:00 +0200",
    );
    week.comes(
        &Note {
            from: TAMSIN,
            letter: &tamsin,
            subject: "RE: Block A: head back now",
            headers: "",
            body: &over_headers(
                "done\n\n-- \nTamsin Roe\nAlder Fold Nursery\nBlock A, row 3",
                &tamsin,
            ),
        },
        "Tue, 16 Jul 2024 18:00:00 +0200",
    );
    assert_snapshot!(week.round("2024-07-16T18:30:00+02:00"), @r#"
    == to Jory: Written down: A1 headed-back, 180 grafts, Tue 16 Jul
    WRITTEN DOWN

    "A1 180 done":
      A1: headed-back, 180 grafts, Tue 16 Jul

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back.
    == to Jory: Written down: A1 headed-back, Tue 16 Jul
    WRITTEN DOWN

    "Done!":
      A1: headed-back, Tue 16 Jul

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back.
    == to Tamsin: Left as it is: "done"
    LEFT AS IT IS

    "done": A1 is written down as headed-back already, on Tue 16 Jul.
    "#);

    // Wednesday: one of the two was too many.
    let receipt = week.receipts(JORY).pop().unwrap();
    week.comes(
        &Note {
            from: JORY,
            letter: &receipt,
            subject: "Re: Written down",
            headers: "",
            body: &above("Oops, undo please", &receipt),
        },
        "Wed, 17 Jul 2024 06:30:00 +0200",
    );
    week.nursery.write("temps.csv", temperatures("2024-07-16"));
    assert_snapshot!(week.round("2024-07-17T07:00:00+02:00"), @r"
    == to Jory: Taken back: A1 headed-back, Tue 16 Jul
    TAKEN BACK

    Not in force any more:
      A1: headed-back, Tue 16 Jul
    ");

    // Thursday: A2 waits for a look. A wrong name, a letter handed on, and one that came back.
    week.nursery.write("temps.csv", temperatures("2024-07-17"));
    week.round("2024-07-18T06:10:00+02:00");
    let (maren, jory, tamsin) = (week.letter(MAREN), week.letter(JORY), week.letter(TAMSIN));
    week.comes(
        &Note {
            from: TAMSIN,
            letter: &tamsin,
            subject: "Re: Block A: look for callus lines now",
            headers: "",
            body: &over_headers("Morning! A22 lines 3/10, A1 rest headed back.", &tamsin),
        },
        "Thu, 18 Jul 2024 09:00:00 +0200",
    );
    week.comes(
        &Note {
            from: MAREN,
            letter: &maren,
            subject: "Fwd: Block A: look for callus lines now",
            headers: "",
            body: &format!("Tamsin can you look at this one?\n\n---------- Forwarded message ---------\nFrom: Alder Fold Nursery <letters@alderfold.example>\nDate: Thu, 18 Jul 2024, 06:10\nSubject: Block A: look for callus lines now\nTo: Maren Holt\n\n{}", body(&maren)),
        },
        "Thu, 18 Jul 2024 09:10:00 +0200",
    );
    week.comes(
        &Note {
            from: JORY,
            letter: &maren,
            subject: "Re: Fwd: Block A: look for callus lines now",
            headers: "",
            body: &above("A2: no lines yet\nB1 nothing to see", &maren),
        },
        "Thu, 18 Jul 2024 09:20:00 +0200",
    );
    // After the one before it and before the next, in whatever second each is written.
    let place = format!("mail/new/{:02}b", week.mails.get());
    week.nursery
        .write(&place, trouble::bounce("b1", TAMSIN, tamsin.id()));
    week.comes(
        &Note {
            from: JORY,
            letter: &jory,
            subject: "Re: Block A: look for callus lines now",
            headers: "",
            body: &above("\u{1f44d}", &jory),
        },
        "Thu, 18 Jul 2024 09:30:00 +0200",
    );
    assert_snapshot!(week.round("2024-07-18T12:00:00+02:00"), @r#"
    == to Maren: Not written down: "Tamsin can you look at this one?"
    NOT WRITTEN DOWN

    "Tamsin can you look at this one?": with 'can' in it, it is not
    sure that it was done; write only what was done, as in A2 headed
    back.

    What is not written down may be answered anew: answer this letter
    with the line as it should be.
    == to Maren: Jory Penhale has answered: A2 no-lines, Thu 18 Jul
    WRITTEN DOWN FOR SOMEBODY ELSE

    Jory Penhale has answered a letter that was written to you, and
    has the receipt. This was written down. If you did not hand the
    letter on, ask Jory Penhale: whoever has it can write in that
    name.

    "A2: no lines yet":
      A2: no-lines, Thu 18 Jul
    == to Jory: Written down: A2 no-lines, Thu 18 Jul, but not all
    WRITTEN DOWN

    The letter you answered was written to Maren Holt.

    "A2: no lines yet":
      A2: no-lines, Thu 18 Jul

    NOT WRITTEN DOWN

    "B1 nothing to see": with 'nothing' in it, it is not plain what
    was seen; where you looked for lines and saw none, write B1 no
    lines.

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back. What is not written down may be answered
    anew: answer this letter with the line as it should be.
    == to Jory: Not written down: =?utf-8?b?IvCfkY0i?=
    NOT WRITTEN DOWN

    "👍": the letter asked to look, so it matters what was seen; write
    lines, no lines or lines 3/10.

    What is not written down may be answered anew: answer this letter
    with the line as it should be.
    == to Tamsin: Not written down: "Morning! A22 lines 3/10, A1 rest headed back."
    NOT WRITTEN DOWN

    "Morning! A22 lines 3/10, A1 rest headed back.": there is no batch
    A22; perhaps A2 is meant. It is not plain how much of it is done;
    write only what was done, as in A1 headed back 70.

    What is not written down may be answered anew: answer this letter
    with the line as it should be.
    "#);

    // Friday: nothing is asked any more, and still somebody writes.
    week.comes(
        &Note {
            from: TAMSIN,
            letter: &tamsin,
            subject: "Re: Block A: look for callus lines now",
            headers: "",
            body: &above("not yet, too hot", &tamsin),
        },
        "Fri, 19 Jul 2024 09:30:00 +0200",
    );
    week.comes(
        &Note {
            from: MAREN,
            letter: &maren,
            subject: "Re: Block A: look for callus lines now",
            headers: "",
            body: &above("A2 lines 9/10, lost 3\n\nHave a nice weekend all!", &maren),
        },
        "Fri, 19 Jul 2024 10:00:00 +0200",
    );
    week.nursery.write("temps.csv", temperatures("2024-07-18"));
    assert_snapshot!(week.round("2024-07-19T12:00:00+02:00"), @r#"
    == to Maren: Written down: A2 lines, on 9 of 10, Fri 19 Jul, and 1 more
    WRITTEN DOWN

    "A2 lines 9/10, lost 3":
      A2: lines, on 9 of 10, Fri 19 Jul
      A2: lost, 3 grafts, Fri 19 Jul

    Wrong? Answer this letter with "undo", and all that is written
    down above is taken back.
    == to Tamsin: Nothing written down
    NOTHING WRITTEN DOWN

    Look for callus lines: nothing of it waits any more.
    "#);

    assert_snapshot!(records(&week.nursery).join("\n"), @r"
    A1 | lines | 8.0 | 2024-07-16 | Jory Penhale
    A1 | headed-back | 180.0 | 2024-07-16 | Jory Penhale
    A1 | headed-back | - | 2024-07-16 | Jory Penhale
    A1 | retract | - | 2024-07-16 | Jory Penhale | headed-back
    A2 | no-lines | - | 2024-07-18 | Jory Penhale
    A2 | lines | 9.0 | 2024-07-19 | Maren Holt
    A2 | lost | 3.0 | 2024-07-19 | Maren Holt
    ");
    assert_snapshot!(states(&week.nursery).join("\n"), @r"
    tamsin@alderfold.example | automatic
    maren@alderfold.example | taken
    jory@alderfold.example | taken
    jory@alderfold.example | taken
    jory@alderfold.example | taken
    tamsin@alderfold.example | taken
    jory@alderfold.example | taken
    tamsin@alderfold.example | taken
    maren@alderfold.example | taken
    jory@alderfold.example | taken
    tamsin@alderfold.example | bounce
    jory@alderfold.example | taken
    tamsin@alderfold.example | taken
    maren@alderfold.example | taken
    ");
}
