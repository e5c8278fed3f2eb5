//! Answers by mail through whole rounds: from a mail in the mailbox to records, and a receipt that says so.

mod asked_back;
mod doubles;
mod handed_on;
mod left_out;
mod listening;
mod night;
mod put_back;
mod receipts;
mod several;
mod since;
mod taking_back;
mod trouble;
mod week;

use crate::program::{CONFIG, FIRST, Nursery, RECORDS, temperatures};

const MAREN: &str = "maren@alderfold.example";
const JORY: &str = "jory@alderfold.example";

/// The morning of the first letters, which ask to look at A1 for callus lines, some minutes and a day later.
const SOON: &str = "2024-07-16T07:05:00+02:00";
const LATER: &str = "2024-07-16T07:10:00+02:00";
const STILL_LATER: &str = "2024-07-16T07:15:00+02:00";

/// The small nursery with two people and a maildir for answers.
fn farm() -> Nursery {
    let answers = "\n[answers]\naddress = \"answers@alderfold.example\"\nmaildir = \"mail\"\n";
    let jory = "[[people]]\nname = \"Jory Penhale\"\nemail = \"jory@alderfold.example\"\ngets = [\"work\", \"urgent\", \"trouble\"]\n\n[post]";
    let nursery = Nursery::small().with(
        "graftwarden.toml",
        &(CONFIG.replace("[post]", jory) + answers),
    );
    for folder in ["mail/new", "mail/cur", "mail/tmp"] {
        std::fs::create_dir_all(nursery.path(folder)).unwrap();
    }
    nursery
}

/// The same after its first letters.
fn told() -> Nursery {
    let nursery = farm();
    nursery.round(FIRST).well();
    nursery
}

/// A letter that lies in the folder.
#[derive(Clone, Debug)]
struct Sent {
    text: String,
}

impl Sent {
    fn header(&self, name: &str) -> &str {
        let begin = format!("{name}: ");
        let found = self.text.lines().find_map(|l| l.strip_prefix(&begin));
        found.unwrap_or_else(|| panic!("no {name} in:\n{}", self.text))
    }

    fn id(&self) -> &str {
        self.header("Message-ID").trim_matches(['<', '>'])
    }

    fn answer_at(&self) -> &str {
        self.header("Reply-To")
    }

    /// With the digits that are other ones at each nursery put out of sight.
    fn masked(&self) -> String {
        let mut out = String::new();
        let mut digits = String::new();
        for c in self.text.chars().chain(['\0']) {
            if c.is_ascii_hexdigit() {
                digits.push(c);
                continue;
            }
            out.push_str(if digits.len() == 32 {
                "[token]"
            } else {
                &digits
            });
            digits.clear();
            out.push(c);
        }
        out.trim_end_matches('\0').to_owned()
    }
}

/// The letters to somebody, in the order in which they were written.
fn letters_to(nursery: &Nursery, address: &str) -> Vec<Sent> {
    let order = nursery.memory(&format!(
        "SELECT message_id FROM letter WHERE recipient = '{address}' ORDER BY id"
    ));
    let letters = nursery.letters();
    let of = |id: String| {
        let holds = |text: &&String| text.contains(&format!("Message-ID: <{id}>"));
        Sent {
            text: letters.iter().find(holds).unwrap().clone(),
        }
    };
    order.into_iter().map(of).collect()
}

fn last_to(nursery: &Nursery, address: &str) -> Sent {
    letters_to(nursery, address).pop().unwrap()
}

/// A mail as a phone writes it.
#[derive(Clone, Copy)]
struct Mail<'a> {
    from: &'a str,
    to: &'a str,
    id: &'a str,
    date: &'a str,
    headers: &'a str,
    words: &'a str,
}

impl Default for Mail<'_> {
    fn default() -> Self {
        Self {
            from: JORY,
            to: "answers@alderfold.example",
            id: "m1@phone.example",
            date: "Tue, 16 Jul 2024 07:02:00 +0200",
            headers: "",
            words: "A1 lines",
        }
    }
}

impl Mail<'_> {
    fn text(&self) -> String {
        let words = self.words.replace('\n', "\r\n");
        format!(
            "From: Somebody <{}>\r\nTo: <{}>\r\nMessage-ID: <{}>\r\nDate: {}\r\nSubject: Re: today\r\n{}MIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\n\r\n{words}\r\n\r\nOn Tue, 16 Jul 2024 Alder Fold Nursery wrote:\r\n> LOOK FOR CALLUS LINES NOW\r\n> B1 lines\r\n",
            self.from, self.to, self.id, self.date, self.headers
        )
    }

    /// Comes in as a file of that name.
    fn comes(&self, nursery: &Nursery, file: &str) {
        nursery.write(&format!("mail/new/{file}"), self.text());
    }
}

/// The receipt that was last written to somebody.
#[track_caller]
fn receipt_to(nursery: &Nursery, address: &str) -> Sent {
    let mut letters = letters_to(nursery, address);
    letters.retain(|letter| letter.text.contains("Auto-Submitted: auto-replied"));
    letters.pop().expect("there is a receipt")
}

/// Somebody's answer to the last letter to them, taken in a round at that moment; the receipt of it.
#[track_caller]
fn answered(nursery: &Nursery, from: &str, id: &str, words: &str, at: &str) -> Sent {
    let letter = last_to(nursery, from);
    let mail = Mail {
        from,
        to: letter.answer_at(),
        id,
        words,
        ..Mail::default()
    };
    mail.comes(nursery, id);
    let ran = nursery.round(at);
    assert_eq!(ran.code, 0, "{ran}");
    receipt_to(nursery, from)
}

/// What a letter says below its headers.
fn body(letter: &Sent) -> String {
    let parts: Vec<&str> = letter.text.split("\n\n").skip(2).collect();
    parts.join("\n\n")
}

/// The same as one line, however it is broken.
fn said(letter: &Sent) -> String {
    let body = body(letter);
    body.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Every record: about what, word, count, date, who, and the word taken back.
fn records(nursery: &Nursery) -> Vec<String> {
    let rows = nursery.memory(
        "SELECT coalesce(batch, 'block:' || block), what, coalesce(CAST(count AS TEXT), '-'), date, done_by, remarks FROM record ORDER BY seq",
    );
    let without_end = |row: String| row.trim_end_matches([' ', '|']).to_owned();
    rows.into_iter().map(without_end).collect()
}

/// What became of each mail.
fn states(nursery: &Nursery) -> Vec<String> {
    nursery.memory("SELECT sender, state FROM answer ORDER BY id")
}

/// The names of the files in a folder.
fn files(nursery: &Nursery, folder: &str) -> Vec<String> {
    let files = std::fs::read_dir(nursery.path(folder)).unwrap();
    let mut names: Vec<String> = files
        .map(|file| file.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}
