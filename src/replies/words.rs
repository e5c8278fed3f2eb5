//! What was written in an answer, line by line, to field records.
//!
//! Nothing is guessed and nothing is dropped: each line is records, a word to the program, a courtesy, or unread with the
//! reason. What of a line is left out is said. `tokens` cuts a line into words; `names`, `phrases`, `titles`, `program`
//! and `when` know batches, the trade's words, those of the plans, those to the program, and dates, `figures` counts;
//! `people` and `nod` know who was there and a thumb held up, `doubts` what makes a line uncertain, `elsewhere` what may be another place than the letter's. `told` sorts them into what is `named`,
//! `plan` parts what is to come from what is done, `clause` puts together what belongs together, `made` makes the
//! records, on top of what was `heard`; `meanwhile` says what stands against them. Pure: who may write is judged in the
//! round.

mod clause;
mod doubts;
mod elsewhere;
mod figures;
mod heard;
mod made;
mod meanwhile;
mod named;
mod names;
mod nod;
mod people;
mod phrases;
mod plan;
mod program;
#[cfg(test)]
mod tests;
mod titles;
mod tokens;
mod told;
mod when;

use crate::care::BatchCare;
use crate::letters::Asked;
use crate::nursery::Record;
use chrono::NaiveDate;
use heard::Heard;

/// What an answer is read against.
#[derive(Clone, Copy, Debug)]
pub struct Asking<'a> {
    /// The day of the mail at the nursery; no record is later.
    pub today: NaiveDate,
    /// What the letter asked for that this answers, step by step; nothing for a fresh mail.
    pub asked: &'a [Asked],
    /// The day of that letter at the nursery.
    pub asked_on: NaiveDate,
    /// Every batch.
    pub cares: &'a [BatchCare<'a>],
    /// The sender's name, who is taken to have done it.
    pub by: &'a str,
    /// Names of people of ours that name nothing else, in small letters: who was there, or who signs.
    pub people: &'a [String],
    /// What a thumb held up means, with nothing else in the mail.
    pub nod: Nod,
}

/// What a thumb held up means.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Nod {
    /// That it is done.
    #[default]
    Done,
    /// Yes to what was asked.
    Yes,
    /// That it was read.
    Read,
    /// Nothing that could be known.
    Unknown,
}

impl<'a> Asking<'a> {
    /// The steps that the letter asked for of a batch. Where it asked for one, it is that one of any batch.
    fn asked_of(&self, batch: &str) -> impl Iterator<Item = &'a Asked> {
        let only = self.asked.len() == 1;
        let of = move |asked: &&Asked| only || asked.batches.iter().any(|name| name == batch);
        self.asked.iter().filter(of)
    }

    /// A batch to show how a line is written: this one, else the letter's first, else one that is open.
    fn like(&self, named: Option<&str>) -> String {
        let asked = self.asked.iter().find_map(|asked| asked.batches.first());
        let open = || self.cares.iter().find(|care| care.is_open());
        let name = named.or(asked.map(String::as_str));
        let name = name.or_else(|| open().map(|care| care.batch.name.as_str()));
        name.unwrap_or("C-14").to_owned()
    }
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
    /// Field records, at least one.
    Records {
        /// In the order of the line.
        noted: Vec<Noted>,
        /// What of the line is not written down, and why; a sentence each.
        left: Vec<String>,
    },
    /// The last answer is to be taken back.
    Undo,
    /// What was said is written down already.
    Known {
        /// Of which batches, and since when.
        why: String,
    },
    /// Not plain which of these steps is done, that day, each of those batches.
    Which {
        /// As the letter asked them.
        asked: Vec<Asked>,
        /// The day of which it is said.
        on: NaiveDate,
    },
    /// Not done yet: nothing to write down.
    Later,
    /// A held mail is confirmed, or what was asked about is right.
    Yes,
    /// It is not.
    No,
    /// Something is to be taken back, but it is not plain what.
    Wrong,
    /// A greeting, thanks or a name.
    Courtesy,
    /// Not understood, or not to be written down like this.
    Unread {
        /// Why, and what to write instead.
        why: String,
    },
}

/// A field record as it was understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Noted {
    /// The record.
    pub record: Record,
    /// What is to be asked about it, a whole sentence.
    pub question: Option<String>,
}

/// The longest line that is read, in characters; nobody writes a longer one about grafts.
const LONGEST: usize = 500;

/// Reads an answer: one [`Line`] for each line that is not empty.
pub fn understand(words: &str, asking: &Asking<'_>) -> Vec<Line> {
    let mut heard = Heard::default();
    let said = words.lines().map(str::trim).filter(|line| !line.is_empty());
    let mut lines: Vec<Line> = said
        .map(|line| {
            // A line that is not taken is not heard either.
            let mut with = heard.clone();
            let meant = meaning(line, asking, &mut with);
            if matches!(meant, Meant::Records { .. }) {
                heard = with;
            }
            Line {
                said: line.to_owned(),
                meant,
            }
        })
        .collect();
    let wishes = |line: &Line| program::is_wish(&tokens::words(&line.said));
    if lines.iter().all(|line| line.meant == Meant::Courtesy)
        && !lines.iter().any(wishes)
        && let Some((line, nod)) = lines.iter_mut().find_map(|line| {
            let nod = nod::of(&line.said)?;
            Some((line, nod))
        })
    {
        line.meant = nod.meant(asking, &mut heard);
    }
    lines
}

fn meaning(line: &str, asking: &Asking<'_>, heard: &mut Heard) -> Meant {
    if line.chars().count() > LONGEST {
        return unread(format!(
            "it is longer than {LONGEST} characters; write a line for each batch"
        ));
    }
    if nod::is_denied(line) {
        return nod::Sign::Down.meant(asking, heard);
    }
    let words = tokens::words(line);
    if words.is_empty() {
        return Meant::Courtesy;
    }
    if let Some(meant) = program::whole_line(&words, asking) {
        return meant;
    }
    if doubts::is_stop(&words) {
        return unread("letters are not stopped by an answer. Ask whoever looks after graftwarden: your days off, quiet hours and what you are told stand under your name in its config".into());
    }
    told::records(line, asking, heard).unwrap_or_else(unread)
}

/// What is to be asked about a record of one batch, on top of all that is written down of it; a whole sentence.
pub fn question(care: &BatchCare<'_>, record: &Record) -> Option<String> {
    made::question(care, record, &care.facts)
}

fn unread(why: String) -> Meant {
    Meant::Unread { why }
}
