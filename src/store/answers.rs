//! Answers in the store: which mails have come in, what became of each, and which records it wrote.

use super::nursery::record_of;
use super::readable::{moment_at, said};
use super::{Memory, StoreError, moment};
use crate::letters::Asked;
use crate::nursery::Record;
use chrono::{DateTime, Utc};
use rusqlite::Row;

/// What became of a mail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AnswerState {
    /// It was read, and what could be written down was.
    Taken,
    /// It waits for its sender's word.
    Held,
    /// It was written by nobody we know.
    PassedOver,
    /// It was written by a program.
    Automatic,
    /// It says that a letter of ours could not be delivered.
    Bounce,
    /// It was held, and its sender has said no.
    Dropped,
}

impl AnswerState {
    const ALL: [Self; 6] = [
        Self::Taken,
        Self::Held,
        Self::PassedOver,
        Self::Automatic,
        Self::Bounce,
        Self::Dropped,
    ];

    fn name(self) -> &'static str {
        match self {
            Self::Taken => "taken",
            Self::Held => "held",
            Self::PassedOver => "passed-over",
            Self::Automatic => "automatic",
            Self::Bounce => "bounce",
            Self::Dropped => "dropped",
        }
    }

    fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.name() == name)
    }
}

/// A mail to be remembered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewAnswer<'a> {
    /// What it is known by.
    pub mail: &'a str,
    /// Who wrote it; for a bounce whom it is about.
    pub sender: &'a str,
    /// The number of the letter it answers.
    pub letter: Option<i64>,
    /// What became of it.
    pub state: AnswerState,
    /// What was written, or for a bounce what was said.
    pub words: &'a str,
    /// When it was written.
    pub dated: DateTime<Utc>,
}

/// A mail that came in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Its number.
    pub id: i64,
    /// What it is known by.
    pub mail: String,
    /// Who wrote it; for a bounce whom it is about.
    pub sender: String,
    /// The number of the letter it answers.
    pub letter: Option<i64>,
    /// What became of it.
    pub state: AnswerState,
    /// What was written, or for a bounce what was said.
    pub words: String,
    /// When it was written.
    pub dated: DateTime<Utc>,
    /// When it came in.
    pub came_at: DateTime<Utc>,
}

/// A letter that went out, as far as an answer to it needs it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SentLetter {
    /// Its number.
    pub id: i64,
    /// Without angle brackets.
    pub message_id: String,
    /// To whom.
    pub recipient: String,
    /// The moment of its round.
    pub written_at: DateTime<Utc>,
    /// What it asks for, in its order: what `done` means in answer to it.
    pub asked: Vec<Asked>,
}

const ANSWER: &str = "id, mail, sender, state, words, dated, came_at, letter";
const LETTER: &str = "SELECT id, message_id, recipient, round_at FROM letter";

impl Memory<'_> {
    /// Whether a mail has come in before.
    pub fn knows_mail(&self, mail: &str) -> Result<bool, StoreError> {
        Ok(self
            .transaction
            .prepare_cached("SELECT 1 FROM answer WHERE mail = ?1")?
            .exists([mail])?)
    }

    /// The letter of that Message-ID.
    pub fn letter_named(&self, message_id: &str) -> Result<Option<SentLetter>, StoreError> {
        self.letter_between(message_id, &format!("{message_id}\u{1}"))
    }

    /// The letter whose Message-ID has that local part.
    pub fn letter_of_token(&self, token: &str) -> Result<Option<SentLetter>, StoreError> {
        // `A` comes right after `@`.
        self.letter_between(&format!("{token}@"), &format!("{token}A"))
    }

    fn letter_between(&self, from: &str, below: &str) -> Result<Option<SentLetter>, StoreError> {
        let mut read = self.transaction.prepare_cached(&format!(
            "{LETTER} WHERE message_id >= ?1 AND message_id < ?2"
        ))?;
        let found = self.row("letter", &mut read, [from, below], letter_of)?;
        self.with_asked(found)
    }

    /// The letter of that number.
    pub fn letter_numbered(&self, id: i64) -> Result<Option<SentLetter>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached(&format!("{LETTER} WHERE id = ?1"))?;
        let found = self.row("letter", &mut read, [id], letter_of)?;
        self.with_asked(found)
    }

    fn with_asked(&self, found: Option<SentLetter>) -> Result<Option<SentLetter>, StoreError> {
        let Some(letter) = found else { return Ok(None) };
        let asked = self.asked_in(letter.id)?;
        Ok(Some(SentLetter { asked, ..letter }))
    }

    fn asked_in(&self, letter: i64) -> Result<Vec<Asked>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT step, batch FROM asked WHERE letter = ?1 ORDER BY place, step, batch",
        )?;
        let rows: Vec<(String, String)> = self.rows("asked", &mut read, [letter], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })?;
        let pairs = rows
            .iter()
            .map(|(step, batch)| (step.as_str(), batch.as_str()));
        Ok(Asked::gather(pairs))
    }

    /// Remembers a mail and gives its number.
    pub fn enter_answer(
        &self,
        answer: &NewAnswer<'_>,
        came_at: DateTime<Utc>,
    ) -> Result<i64, StoreError> {
        self.transaction
            .prepare_cached("INSERT INTO answer (mail, came_at, sender, letter, state, words, dated) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)")?
            .execute((answer.mail, moment(came_at), answer.sender, answer.letter, answer.state.name(), answer.words, moment(answer.dated)))?;
        Ok(self.transaction.last_insert_rowid())
    }

    /// What became of a mail that was held.
    pub fn mark_answer(&self, id: i64, state: AnswerState) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached("UPDATE answer SET state = ?2 WHERE id = ?1")?
            .execute((id, state.name()))?;
        Ok(())
    }

    /// Remembers the receipt of a mail.
    pub fn receipted(&self, id: i64, message_id: &str) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached("UPDATE answer SET receipt = ?2 WHERE id = ?1")?
            .execute((id, message_id))?;
        Ok(())
    }

    /// The mail to which that letter is the receipt.
    pub fn answer_with_receipt(&self, message_id: &str) -> Result<Option<Answer>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached(&format!("SELECT {ANSWER} FROM answer WHERE receipt = ?1"))?;
        self.row("answer", &mut read, [message_id], answer_of)
    }

    /// The newest mail of a sender since a moment that wrote records which are not taken back.
    pub fn newest_answer(
        &self,
        sender: &str,
        since: DateTime<Utc>,
    ) -> Result<Option<Answer>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached(&format!(
                "SELECT {ANSWER} FROM answer WHERE sender = ?1 AND came_at >= ?2 AND state = 'taken'
                 AND EXISTS (SELECT 1 FROM answer_record WHERE answer = answer.id AND NOT undone) ORDER BY id DESC LIMIT 1"
            ))?;
        self.row("answer", &mut read, (sender, moment(since)), answer_of)
    }

    /// How many receipts a sender has had since a moment.
    pub fn receipts_since(&self, sender: &str, since: DateTime<Utc>) -> Result<u32, StoreError> {
        Ok(self
            .transaction
            .prepare_cached("SELECT count(*) FROM answer WHERE sender = ?1 AND came_at >= ?2 AND receipt IS NOT NULL")?
            .query_row((sender, moment(since)), |row| row.get(0))?)
    }

    /// Mails of one kind that came in since a moment, in order.
    pub fn answers_since(
        &self,
        state: AnswerState,
        since: DateTime<Utc>,
    ) -> Result<Vec<Answer>, StoreError> {
        let mut read = self.transaction.prepare_cached(&format!(
            "SELECT {ANSWER} FROM answer WHERE state = ?1 AND came_at >= ?2 ORDER BY id"
        ))?;
        self.rows(
            "answer",
            &mut read,
            (state.name(), moment(since)),
            answer_of,
        )
    }

    /// Remembers that an answer wrote a record, by the record's identity.
    pub fn wrote(&self, answer: i64, record: &str) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached(
                "INSERT INTO answer_record (answer, record) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
            )?
            .execute((answer, record))?;
        Ok(())
    }

    /// The identities of the records that an answer wrote and that are not taken back, in the order they were written; those
    /// of a mail that was held and that it confirmed among them.
    pub fn written_by(&self, answer: i64) -> Result<Vec<String>, StoreError> {
        let held = self.fact_as(&confirmed_by(answer), |held| held.parse::<i64>().ok())?;
        let held = held.unwrap_or(answer);
        let mut read = self.transaction.prepare_cached(
            "SELECT record FROM answer_record JOIN record ON record.identity = answer_record.record
             WHERE answer IN (?1, ?2) AND NOT undone ORDER BY seq",
        )?;
        self.rows("answer_record", &mut read, [answer, held], |row| row.get(0))
    }

    /// Remembers that an answer confirmed a mail that was held.
    pub fn confirmed(&self, answer: i64, held: i64) -> Result<(), StoreError> {
        self.remember(&confirmed_by(answer), &held.to_string())
    }

    /// The answer that wrote a record, unless it was taken back.
    pub fn writer_of(&self, record: &str) -> Result<Option<i64>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT answer, record FROM answer_record WHERE record = ?1 AND NOT undone",
        )?;
        self.row("answer_record", &mut read, [record], |row| row.get(0))
    }

    /// Remembers which records the receipt of an answer asks about.
    pub fn asked_back(&self, answer: i64, records: &[String]) -> Result<(), StoreError> {
        self.remember(&questions_of(answer), &records.join(" "))
    }

    /// The records that the receipt of an answer asks about.
    pub fn questions_of(&self, answer: i64) -> Result<Vec<String>, StoreError> {
        let found = self.fact(&questions_of(answer))?.unwrap_or_default();
        Ok(found.split_whitespace().map(str::to_owned).collect())
    }

    /// Remembers that a record of an answer was taken back.
    pub fn undone(&self, answer: i64, record: &str) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached(
                "UPDATE answer_record SET undone = 1 WHERE answer = ?1 AND record = ?2",
            )?
            .execute((answer, record))?;
        Ok(())
    }

    /// Every field record in force with its identity, in the order in which they were written down.
    pub fn records_named(&self) -> Result<Vec<(String, Record)>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT date, batch, block, what, count, of, done_by, remarks, identity FROM record ORDER BY seq",
        )?;
        self.rows("record", &mut read, [], |row| {
            Ok((row.get(8)?, record_of(row)?))
        })
    }

    /// Forgets the records whose identity begins with that and a dash: a mail that was cut short in being taken is taken
    /// anew.
    pub fn forget_records(&self, beginning: &str) -> Result<(), StoreError> {
        // The dot comes right after the dash.
        let forgotten = self
            .transaction
            .prepare_cached("DELETE FROM record WHERE identity >= ?1 AND identity < ?2")?
            .execute([format!("{beginning}-"), format!("{beginning}.")])?;
        if forgotten > 0 {
            self.forget_read(|already| &mut already.records);
            self.forget_readings()?;
        }
        Ok(())
    }
}

fn confirmed_by(answer: i64) -> String {
    format!("mail confirmed by answer {answer}")
}

fn questions_of(answer: i64) -> String {
    format!("questions of answer {answer}")
}

fn letter_of(row: &Row<'_>) -> rusqlite::Result<SentLetter> {
    Ok(SentLetter {
        id: row.get(0)?,
        message_id: row.get(1)?,
        recipient: row.get(2)?,
        written_at: moment_at(row, 3)?,
        asked: Vec::new(),
    })
}

fn answer_of(row: &Row<'_>) -> rusqlite::Result<Answer> {
    Ok(Answer {
        id: row.get(0)?,
        mail: row.get(1)?,
        sender: row.get(2)?,
        state: said(row, 3, AnswerState::named)?,
        words: row.get(4)?,
        dated: moment_at(row, 5)?,
        came_at: moment_at(row, 6)?,
        letter: row.get(7)?,
    })
}
