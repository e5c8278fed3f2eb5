//! What one mail does: the records it writes, those it takes back, and the mail that it confirms.
//!
//! First everything is put on the disk, then entered into the store; the ids follow from the mail, so that doing it
//! again after a crash writes the same rows, which count once.

use crate::fingerprint;
use crate::nursery::Record;
use crate::problem::Problem;
use crate::register::append_all;
use crate::replies::Noted;
use crate::store::{Answer, AnswerState, Memory, StoreError};
use chrono::{DateTime, Utc};
use std::path::Path;

/// What one mail does.
#[derive(Debug)]
pub struct Deeds {
    beginning: String,
    written: Vec<Deed>,
    undone: Vec<(i64, String)>,
    /// The records that its receipt asks about.
    questioned: Vec<String>,
    /// What becomes of an earlier mail that was held.
    settled: Option<(i64, AnswerState)>,
}

/// One record to be written.
#[derive(Debug)]
struct Deed {
    id: String,
    record: Record,
    whose: Whose,
}

/// To which answer a record belongs, should it be taken back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Whose {
    /// The mail's own.
    Own,
    /// An earlier answer's, which was held.
    Of(i64),
    /// Nobody's: it takes back another one itself.
    Nobody,
}

impl Deeds {
    /// None so far, of the mail that is known by this.
    pub fn of(mail: &str) -> Self {
        Self {
            beginning: beginning_of(mail),
            written: Vec::new(),
            undone: Vec::new(),
            questioned: Vec::new(),
            settled: None,
        }
    }

    /// With what the ids of its records begin, before a dash.
    pub fn beginning(&self) -> &str {
        &self.beginning
    }

    /// Writes records down.
    pub fn write(&mut self, noted: &[Noted]) {
        let beginning = self.beginning.clone();
        self.note(&beginning, noted, Whose::Own);
    }

    /// Writes down what a mail said that was held.
    pub fn write_held(&mut self, held: &Answer, noted: &[Noted]) {
        self.note(&beginning_of(&held.mail), noted, Whose::Of(held.id));
    }

    /// That mail is not held any more.
    pub fn settle(&mut self, held: i64, state: AnswerState) {
        self.settled = Some((held, state));
    }

    /// Whether this mail has said already what becomes of that one.
    pub fn has_settled(&self, held: i64) -> bool {
        self.settled.is_some_and(|(of, _)| of == held)
    }

    fn note(&mut self, beginning: &str, noted: &[Noted], whose: Whose) {
        for Noted { record, question } in noted {
            let id = self.push(beginning, record.clone(), whose);
            self.questioned.extend(question.as_ref().map(|_| id));
        }
    }

    /// A record of an answer is taken back, by this one; by none where it was taken back otherwise.
    pub fn take_back(&mut self, answer: i64, record: &str, by: Option<Record>) {
        self.undone.push((answer, record.to_owned()));
        if let Some(retract) = by {
            let beginning = self.beginning.clone();
            self.push(&beginning, retract, Whose::Nobody);
        }
    }

    /// Whether a record of that answer was taken back by this mail already.
    pub fn took_back(&self, answer: i64) -> bool {
        self.undone.iter().any(|(of, _)| *of == answer)
    }

    /// The records written so far.
    pub fn records(&self) -> impl Iterator<Item = &Record> {
        self.written.iter().map(|deed| &deed.record)
    }

    fn push(&mut self, beginning: &str, record: Record, whose: Whose) -> String {
        let id = format!("{beginning}-{:04}", self.written.len() + 1);
        self.written.push(Deed {
            id: id.clone(),
            record,
            whose,
        });
        id
    }

    /// Puts the records on the disk, where they count from then on.
    pub fn put_on_disk(&self, accepted: &Path, now: DateTime<Utc>) -> Result<(), Problem> {
        if self.written.is_empty() {
            return Ok(());
        }
        let rows = self
            .written
            .iter()
            .map(|deed| (deed.id.as_str(), &deed.record));
        append_all(accepted, rows, now).map_err(|error| {
            Problem::new(
                accepted.display().to_string(),
                format!("it could not be written ({error})"),
                "answers are not taken and stay in the mailbox",
                "make room on the disk, and see that the user who runs graftwarden may write the file",
            )
        })
    }

    /// Enters them into the store, as those of the answer of that number.
    pub fn enter(&self, memory: &Memory<'_>, file: &str, own: i64) -> Result<(), StoreError> {
        for Deed { id, record, whose } in &self.written {
            memory.write_record(id, file, record)?;
            match whose {
                Whose::Own => memory.wrote(own, id)?,
                Whose::Of(answer) => memory.wrote(*answer, id)?,
                Whose::Nobody => {}
            }
        }
        for (answer, record) in &self.undone {
            memory.undone(*answer, record)?;
        }
        if !self.questioned.is_empty() {
            memory.asked_back(own, &self.questioned)?;
        }
        let Some((held, state)) = self.settled else {
            return Ok(());
        };
        if state == AnswerState::Taken {
            memory.confirmed(own, held)?;
        }
        memory.mark_answer(held, state)
    }
}

fn beginning_of(mail: &str) -> String {
    let mut print = fingerprint::of(mail);
    print.truncate(16);
    format!("mail-{print}")
}
