//! The receipt of an answer: what was written down line by line, what was not and why, and how to take it back.
//!
//! Takes what became of each line as values. Knows nothing of mails, nor of who is believed. `not_yet` says when what
//! waits is told again, `which` asks what is done.

mod not_yet;
mod which;

use super::answer::{Answer, Reply};
use super::letter::{Asked, Context, Letter, List, Section};
use super::words::{count_of, day_short, list, shortened};
use crate::nursery::{Count, Record, Target, What};
use chrono::{Datelike, NaiveDate};
use not_yet::not_yet;
use which::which;

/// What became of one answer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Receipt {
    /// Line by line.
    pub lines: Vec<Line>,
    /// Nothing is written down until its sender confirms it, and why.
    pub held: Option<Held>,
    /// Who wrote the answer, where this is told to whoever had the letter.
    pub by: Option<String>,
    /// What else there is to know, a paragraph each.
    pub remarks: Vec<String>,
    /// What `done` means in answer to this receipt.
    pub asked: Vec<Asked>,
}

/// Why an answer waits for its sender's word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// It answers no letter of ours.
    Fresh,
    /// It answers a letter to somebody else, and ends a batch or begins one.
    HandedOn,
}

/// One line of an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What was written; may be empty.
    pub said: String,
    /// What became of it.
    pub became: Became,
}

/// What became of a line.
#[derive(Clone, Debug, PartialEq)]
pub enum Became {
    /// These records, and what is to be asked about them.
    Written {
        /// As they were written down.
        records: Vec<Record>,
        /// Each a sentence.
        questions: Vec<String>,
    },
    /// These records are taken back.
    TakenBack(Vec<Record>),
    /// Nothing: what the letter asked for waits.
    Later,
    /// Nothing: it does not say which of these steps is done, on that day.
    Which(Vec<Asked>, NaiveDate),
    /// A word to the program that changes nothing, and why.
    Unchanged(String),
    /// It was not read, or not done, and why.
    Not(String),
}

/// So much of what was said is shown.
const SHOWN: usize = 120;

/// The letter that says so.
pub fn receipt(receipt: &Receipt, context: &Context<'_>) -> Letter {
    let mut sections: Vec<Section> = [
        written(receipt, context.today),
        taken_back(receipt, context.today),
        which(receipt, context),
        not_written(receipt),
        questions(receipt),
        later(receipt, context),
        unchanged(receipt),
    ]
    .into_iter()
    .flatten()
    .collect();
    if sections.is_empty() {
        sections.push(Section {
            heading: "Nothing written down".into(),
            subject: "Nothing written down".into(),
            ..Section::default()
        });
    }
    sections[0].paragraphs.splice(0..0, receipt.remarks.clone());
    let more = more_than_written(receipt);
    Letter {
        subject: format!("{}{more}", sections[0].subject),
        sections,
        charts: Vec::new(),
        cautions: Vec::new(),
        answer: answer(receipt, context),
        asked: receipt.asked.clone(),
        small_print: Vec::new(),
    }
}

/// What a subject that tells of records leaves out: whoever reads no more than that must not take all for well.
fn more_than_written(receipt: &Receipt) -> &'static str {
    let wrote = |line: &Line| matches!(&line.became, Became::Written { records, .. } if !records.is_empty());
    let unread = |line: &Line| matches!(line.became, Became::Not(_));
    let asks = |line: &Line| match &line.became {
        Became::Written { questions, .. } => !questions.is_empty(),
        Became::Which(..) => true,
        _ => false,
    };
    let any = |is: &dyn Fn(&Line) -> bool| receipt.lines.iter().any(is);
    match (any(&wrote), any(&unread), any(&asks)) {
        (true, true, _) => ", but not all",
        (true, false, true) => ", and a question",
        _ => "",
    }
}

fn written(receipt: &Receipt, today: NaiveDate) -> Option<Section> {
    let mut lists = Vec::new();
    let mut first = None;
    let mut many = 0;
    for line in &receipt.lines {
        let Became::Written { records, .. } = &line.became else {
            continue;
        };
        if records.is_empty() {
            continue;
        }
        let lines = grouped(records, today);
        first.get_or_insert_with(|| lines[0].replacen(": ", " ", 1));
        many += lines.len();
        lists.push(List {
            title: title(&line.said),
            lines,
        });
    }
    let first = first?;
    let (heading, word, paragraph) = match (receipt.held, &receipt.by) {
        (Some(Held::Fresh), _) => (
            "Not written down before you confirm it",
            "Please confirm".to_owned(),
            "Your mail was no answer to one of our letters, and anybody can write your address on a mail. This is what it would write down:".to_owned(),
        ),
        (Some(Held::HandedOn), _) => (
            "Not written down before you confirm it",
            "Please confirm".to_owned(),
            "This ends a batch or begins another one, and whoever the letter was handed to could have written it in your name. This is what it would write down:".to_owned(),
        ),
        (None, Some(by)) => (
            "Written down for somebody else",
            format!("{by} has answered"),
            format!(
                "{by} has answered a letter that was written to you, and has the receipt. This was written down. If you did not hand the letter on, ask {by}: whoever has it can write in that name."
            ),
        ),
        (None, None) => ("Written down", "Written down".to_owned(), String::new()),
    };
    let paragraphs = Some(paragraph).filter(|p| !p.is_empty());
    let paragraphs = paragraphs.into_iter().collect();
    let word = word.as_str();
    Some(Section {
        heading: heading.into(),
        subject: subject(word, &first, many),
        paragraphs,
        lists,
        ..Section::default()
    })
}

fn taken_back(receipt: &Receipt, today: NaiveDate) -> Option<Section> {
    let records: Vec<Record> = receipt
        .lines
        .iter()
        .filter_map(|line| match &line.became {
            Became::TakenBack(records) => Some(records.clone()),
            _ => None,
        })
        .flatten()
        .collect();
    let lines = grouped(&records, today);
    let first = lines.first()?.replacen(": ", " ", 1);
    Some(Section {
        heading: "Taken back".into(),
        subject: subject("Taken back", &first, lines.len()),
        lists: vec![List {
            title: "Not in force any more:".into(),
            lines,
        }],
        ..Section::default()
    })
}

fn not_written(receipt: &Receipt) -> Option<Section> {
    let told: Vec<(&str, &str)> = receipt
        .lines
        .iter()
        .filter_map(|line| match &line.became {
            Became::Not(why) => Some((line.said.as_str(), why.as_str())),
            _ => None,
        })
        .collect();
    let (said, why) = told.first()?;
    let what = if said.is_empty() {
        let first = why.split(". ").next().unwrap_or(why);
        shortened(first, SHOWN)
    } else {
        quoted(said)
    };
    Some(Section {
        heading: "Not written down".into(),
        subject: subject("Not written down", &what, told.len()),
        paragraphs: told
            .iter()
            .map(|(said, why)| match *said {
                "" => sentence(why),
                said => format!("{}: {}", quoted(said), sentence(why)),
            })
            .collect(),
        ..Section::default()
    })
}

fn questions(receipt: &Receipt) -> Option<Section> {
    let lines = receipt.lines.iter().filter_map(|line| match &line.became {
        Became::Written { records, questions } => {
            Some((line.said.as_str(), records.is_empty(), questions))
        }
        _ => None,
    });
    let mut subject = String::new();
    let mut paragraphs = Vec::new();
    for (said, alone, questions) in lines {
        for question in questions {
            paragraphs.push(format!("{}: {}", quoted(said), sentence(question)));
            if subject.is_empty() && alone {
                subject = format!("A question about {}", quoted(said));
            } else if subject.is_empty() {
                subject = "A question".into();
            }
        }
    }
    (!paragraphs.is_empty()).then(|| Section {
        heading: "Please say".into(),
        subject,
        paragraphs,
        ..Section::default()
    })
}

fn later(receipt: &Receipt, context: &Context<'_>) -> Option<Section> {
    let waits = receipt
        .lines
        .iter()
        .any(|line| line.became == Became::Later);
    waits.then(|| Section {
        heading: "Nothing written down".into(),
        subject: "Nothing written down".into(),
        paragraphs: not_yet(&receipt.asked, context),
        ..Section::default()
    })
}

/// What was left as it is.
fn unchanged(receipt: &Receipt) -> Option<Section> {
    let told = receipt.lines.iter().filter_map(|line| match &line.became {
        Became::Unchanged(what) => Some((quoted(&line.said), sentence(what))),
        _ => None,
    });
    let told: Vec<(String, String)> = told.collect();
    let (first, _) = told.first()?;
    Some(Section {
        heading: "Left as it is".into(),
        subject: format!("Left as it is: {first}"),
        paragraphs: told
            .iter()
            .map(|(said, what)| format!("{said}: {what}"))
            .collect(),
        ..Section::default()
    })
}

/// How a receipt is answered in its turn.
fn answer(receipt: &Receipt, context: &Context<'_>) -> Option<Answer> {
    if receipt.by.is_some() {
        return None;
    }
    let mut records = 0;
    let (mut asks, mut unread) = (false, false);
    for line in &receipt.lines {
        match &line.became {
            Became::Written {
                records: theirs,
                questions,
            } => {
                records += theirs.len();
                asks |= !questions.is_empty();
            }
            Became::Not(_) => unread = true,
            _ => {}
        }
    }
    let mut say: Vec<&str> = Vec::new();
    let mut replies = Vec::new();
    let mut reply = |label, word: &str| replies.push(Reply::new(label, vec![word.into()]));
    if records > 0 && receipt.held.is_some() {
        say.push(
            "Is it yours? Answer this letter with \"yes\", and it is written down. If not, answer \"no\" or do nothing.",
        );
        reply("Yes, write it down", "yes");
        reply("No", "no");
    } else if records > 0 && asks {
        say.push(
            "Is it right? Answer \"yes\" or do nothing, and it stands. If not, answer \"no\", and what is asked about is taken back.",
        );
        reply("Yes, it is right", "yes");
        reply("No, take it back", "no");
        if records > 1 {
            say.push("\"undo\" takes back all that is written down above.");
            reply("Undo all", "undo");
        }
    } else if records > 0 {
        say.push(
            "Wrong? Answer this letter with \"undo\", and all that is written down above is taken back.",
        );
        reply("Undo", "undo");
    }
    let which = which::replies(receipt, context);
    if !which.is_empty() {
        say.push("Answer this letter with the lines above that are true.");
        replies.extend(which);
    }
    if unread {
        say.push("What is not written down may be answered anew: answer this letter with the line as it should be.");
        replies.push(Reply::new("Write it anew", Vec::new()));
    }
    (!say.is_empty()).then(|| Answer {
        say: say.join(" "),
        replies,
    })
}

/// "Written down: C-14 headed-back, Tue 18 Aug, and 1 more".
fn subject(word: &str, first: &str, many: usize) -> String {
    match many {
        0 | 1 => format!("{word}: {first}"),
        many => format!("{word}: {first}, and {} more", many - 1),
    }
}

/// One line for all records that say the same of several batches: "C-14 and C-15: headed-back, Tue 18 Aug".
fn grouped(records: &[Record], today: NaiveDate) -> Vec<String> {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for record in records {
        let says = says(record, today);
        let of = match &record.target {
            Target::Batch(name) => name.clone(),
            Target::Block(name) => format!("block {name}"),
        };
        match groups.iter_mut().find(|(said, _)| *said == says) {
            Some((_, targets)) => targets.push(of),
            None => groups.push((says, vec![of])),
        }
    }
    let line = |(says, targets): (String, Vec<String>)| format!("{}: {says}", list(&targets));
    groups.into_iter().map(line).collect()
}

/// "headed-back, 180 grafts, Tue 18 Aug".
fn says(record: &Record, today: NaiveDate) -> String {
    let count = match (record.what, record.count) {
        (_, None) => String::new(),
        (What::HeadLength, Some(Count::Of(cm))) => format!(", {cm} cm"),
        (What::Take, Some(Count::Of(n))) => format!(", {n} alive"),
        (_, Some(Count::Of(n))) => format!(", {}", count_of(n as u32, "graft")),
        (_, Some(Count::Share(seen, of))) => format!(", on {seen} of {of}"),
    };
    let day = if record.date.year() == today.year() {
        day_short(record.date)
    } else {
        record.date.format("%-d %B %Y").to_string()
    };
    format!("{}{count}, {day}", record.what.name())
}

fn title(said: &str) -> String {
    match said {
        "" => "As you wrote:".into(),
        said => format!("{}:", quoted(said)),
    }
}

/// What was said, in quotes and not too long.
fn quoted(said: &str) -> String {
    let plain = shortened(said, SHOWN);
    format!("\"{plain}\"")
}

/// With a full stop, unless it has an end of its own.
fn sentence(text: &str) -> String {
    if text.ends_with(['.', '?', '!']) {
        text.to_owned()
    } else {
        format!("{text}.")
    }
}
