//! What was written in an answer, line by line, to field records.
//!
//! Nothing is guessed and nothing is dropped: each line is records, a word to the program, a courtesy, or unread with the
//! reason. A line is taken as a whole or not at all. `tokens` cuts a line into words, `names`, `phrases` and `when` know
//! batches, the trade's words and dates, `doubts` what makes a line uncertain; `told` sorts them, `clause` puts together
//! what belongs together, `made` makes the records. Pure: who may write is judged elsewhere.

mod clause;
mod doubts;
mod made;
mod names;
mod phrases;
#[cfg(test)]
mod tests;
mod tokens;
mod told;
mod when;

use crate::care::BatchCare;
use crate::letters::Asked;
use crate::nursery::Record;
use chrono::NaiveDate;

/// What an answer is read against.
#[derive(Clone, Copy, Debug)]
pub struct Asking<'a> {
    /// The day of the mail at the nursery; no record is later.
    pub today: NaiveDate,
    /// What the letter asked for that this answers; none for a fresh mail.
    pub asked: Option<&'a Asked>,
    /// Every batch.
    pub cares: &'a [BatchCare<'a>],
    /// The sender's name, who is taken to have done it.
    pub by: &'a str,
}

/// One line of an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// As it was written.
    pub said: String,
    /// What it means.
    pub meant: Meant,
}

/// What a line means.
#[derive(Clone, Debug, PartialEq)]
pub enum Meant {
    /// Field records, at least one, and what is to be asked about them.
    Records {
        /// In the order of the line.
        records: Vec<Record>,
        /// Whole sentences.
        questions: Vec<String>,
    },
    /// The last answer is to be taken back.
    Undo,
    /// Not done yet: nothing to write down.
    Later,
    /// A held mail is confirmed.
    Yes,
    /// A greeting, thanks or a name.
    Courtesy,
    /// Not understood, or not to be written down like this.
    Unread {
        /// Why, and what to write instead.
        why: String,
    },
}

/// The longest line that is read, in characters; nobody writes a longer one about grafts.
const LONGEST: usize = 500;

/// Reads an answer: one [`Line`] for each line that is not empty.
pub fn understand(words: &str, asking: &Asking<'_>) -> Vec<Line> {
    let said = words.lines().map(str::trim).filter(|line| !line.is_empty());
    said.map(|line| Line {
        said: line.to_owned(),
        meant: meaning(line, asking),
    })
    .collect()
}

fn meaning(line: &str, asking: &Asking<'_>) -> Meant {
    if line.chars().count() > LONGEST {
        return unread(format!(
            "it is longer than {LONGEST} characters; write a line for each batch"
        ));
    }
    let words = tokens::words(line);
    if words.is_empty() {
        return Meant::Courtesy;
    }
    if let Some(meant) = phrases::whole_line(&words, asking.by) {
        return meant;
    }
    told::records(line, &words, asking).unwrap_or_else(unread)
}

fn unread(why: String) -> Meant {
    Meant::Unread { why }
}
