//! Letters and the outbox in the store: nothing is sent that is not here first.

use super::readable::moment_at;
use super::{Memory, StoreError, moment};
use crate::letters::Asked;
use chrono::{DateTime, FixedOffset, Utc};

/// A letter to be put into the outbox.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewLetter {
    /// Without angle brackets.
    pub message_id: String,
    /// The address.
    pub recipient: String,
    /// The subject line.
    pub subject: String,
    /// Its Date header.
    pub dated: DateTime<FixedOffset>,
    /// The exact bytes that go out.
    pub bytes: Vec<u8>,
    /// Those of carriers that take something else, by name.
    pub own: Vec<(&'static str, Vec<u8>)>,
    /// The numbers of the notices it carries.
    pub notices: Vec<i64>,
    /// Whether it may break a person's quiet hours.
    pub urgent: bool,
    /// The Message-IDs of the letters it goes on from, the oldest first.
    pub thread: Vec<String>,
    /// The steps that it asks for, and of which batches: what `done` means in answer to it.
    pub asked: Vec<Asked>,
}

/// A letter waiting for one carrier.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutboxRow {
    /// The number of the letter.
    pub letter: i64,
    /// The name of the carrier.
    pub carrier: String,
    /// How often it was tried.
    pub tries: u32,
    /// Without angle brackets.
    pub message_id: String,
    /// The address.
    pub recipient: String,
    /// The subject line.
    pub subject: String,
    /// Whether it may break a person's quiet hours.
    pub urgent: bool,
}

impl Memory<'_> {
    /// Puts a letter into the outbox, once for each carrier.
    pub fn post(
        &self,
        letter: &NewLetter,
        carriers: &[&str],
        round_at: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached("INSERT INTO letter (message_id, round_at, recipient, subject, dated, bytes, urgent, thread) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)")?
            .execute((&letter.message_id, moment(round_at), &letter.recipient, &letter.subject, letter.dated.to_rfc3339(), &letter.bytes, letter.urgent, letter.thread.join(" ")))?;
        let id = self.transaction.last_insert_rowid();
        let mut link = self
            .transaction
            .prepare_cached("INSERT INTO letter_notice (letter, notice) VALUES (?1, ?2)")?;
        for notice in &letter.notices {
            link.execute((id, notice))?;
        }
        let mut ask = self.transaction.prepare_cached(
            "INSERT INTO asked (letter, place, step, batch) VALUES (?1, ?2, ?3, ?4)",
        )?;
        for (place, asked) in (1..).zip(&letter.asked) {
            for batch in &asked.batches {
                ask.execute((id, place, &asked.step, batch))?;
            }
        }
        let mut row = self.transaction.prepare_cached("INSERT INTO outbox (letter, carrier, state, next_try_at, bytes) VALUES (?1, ?2, 'waiting', ?3, ?4)")?;
        for carrier in carriers {
            let own = letter.own.iter().find(|(name, _)| name == carrier);
            row.execute((id, carrier, moment(round_at), own.map(|(_, bytes)| bytes)))?;
        }
        Ok(())
    }

    /// What waits and is due to be tried: first what is urgent and was never tried, then what has been due for longest, what
    /// is urgent, and the oldest. Without the bytes: after days without a mail server there may be thousands.
    pub fn waiting(&self, now: DateTime<Utc>) -> Result<Vec<OutboxRow>, StoreError> {
        // One whose moment cannot be read is due: that moment is written anew once it was tried.
        let mut read = self.transaction.prepare_cached(
            "SELECT subject, recipient, carrier, letter, message_id, tries, urgent
             FROM outbox JOIN letter ON letter.id = outbox.letter
             WHERE state = 'waiting' AND (next_try_at <= ?1 OR julianday(next_try_at) IS NULL)
             ORDER BY urgent AND tries = 0 DESC, next_try_at, urgent DESC, letter, carrier",
        )?;
        self.rows("outbox", &mut read, [moment(now)], |row| {
            let tries = self.spared("outbox", row, row.get(5))?;
            let urgent = self.spared("outbox", row, row.get(6))?;
            Ok(OutboxRow {
                letter: row.get(3)?,
                carrier: row.get(2)?,
                tries: tries.unwrap_or_default(),
                message_id: row.get(4)?,
                recipient: row.get(1)?,
                subject: row.get(0)?,
                urgent: urgent.unwrap_or_default(),
            })
        })
    }

    /// The exact bytes that go out; none where they cannot be read.
    pub fn bytes(&self, row: &OutboxRow) -> Result<Option<Vec<u8>>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT coalesce(outbox.bytes, letter.bytes) AS bytes, subject, recipient, carrier
             FROM outbox JOIN letter ON letter.id = outbox.letter WHERE letter = ?1 AND carrier = ?2",
        )?;
        self.row("outbox", &mut read, (row.letter, &row.carrier), |row| {
            row.get(0)
        })
    }

    /// It is not tried before that moment; this was no try.
    pub fn hold(&self, row: &OutboxRow, until: DateTime<Utc>) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached(
                "UPDATE outbox SET next_try_at = ?3 WHERE letter = ?1 AND carrier = ?2",
            )?
            .execute((row.letter, &row.carrier, moment(until)))?;
        Ok(())
    }

    /// The carrier took it.
    pub fn sent(&self, row: &OutboxRow, at: DateTime<Utc>) -> Result<(), StoreError> {
        self.mark(row, "sent", at, at, "")
    }

    /// The carrier could not take it yet.
    pub fn again(
        &self,
        row: &OutboxRow,
        next_try_at: DateTime<Utc>,
        why: &str,
    ) -> Result<(), StoreError> {
        self.mark(row, "waiting", next_try_at, next_try_at, why)
    }

    /// The carrier will not take it.
    pub fn refused(&self, row: &OutboxRow, at: DateTime<Utc>, why: &str) -> Result<(), StoreError> {
        self.mark(row, "refused", at, at, why)
    }

    fn mark(
        &self,
        row: &OutboxRow,
        state: &str,
        next: DateTime<Utc>,
        at: DateTime<Utc>,
        answer: &str,
    ) -> Result<(), StoreError> {
        let settled = (state != "waiting").then(|| moment(at));
        self.transaction
            .prepare_cached("UPDATE outbox SET state = ?3, tries = tries + 1, next_try_at = ?4, settled_at = ?5, answer = ?6 WHERE letter = ?1 AND carrier = ?2")?
            .execute((row.letter, &row.carrier, state, moment(next), settled, answer))?;
        Ok(())
    }

    /// Letters that a carrier refused for good after a moment: recipient, subject, carrier and what it said.
    pub fn undelivered(
        &self,
        after: DateTime<Utc>,
    ) -> Result<Vec<(String, String, String, String)>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT recipient, subject, carrier, answer FROM outbox JOIN letter ON letter.id = outbox.letter
             WHERE state = 'refused' AND settled_at > ?1 ORDER BY letter",
        )?;
        self.rows("outbox", &mut read, [moment(after)], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
        })
    }

    /// When the next of what waits is to be tried.
    pub fn next_try(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT next_try_at, letter, carrier FROM outbox WHERE state = 'waiting' ORDER BY next_try_at",
        )?;
        self.row("outbox", &mut read, [], |row| moment_at(row, 0))
    }

    /// How many rows wait.
    pub fn depth(&self) -> Result<u32, StoreError> {
        let count = "SELECT count(*) FROM outbox WHERE state = 'waiting'";
        Ok(self.transaction.query_row(count, [], |row| row.get(0))?)
    }
}
