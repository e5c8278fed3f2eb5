//! What is counted for whoever looks at the house from outside.

use super::{Memory, StoreError, moment};
use chrono::{DateTime, NaiveDate, Utc};
use std::collections::BTreeMap;

/// What lies in the outbox.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Outbox {
    /// Letters that some carrier has not taken yet.
    pub waiting: u32,
    /// Since when the oldest of them waits.
    pub oldest: Option<DateTime<Utc>>,
    /// Since when the oldest of them waits that was tried in vain.
    pub stuck: Option<DateTime<Utc>>,
    /// Letters that some carrier will never take.
    pub refused: u32,
}

/// Letters that wait.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Waiting {
    /// How many were tried in vain.
    pub tried: u32,
    /// What was answered to the newest of them.
    pub why: String,
    /// How many wait for an hour at which they may go.
    pub held: u32,
}

impl Memory<'_> {
    /// Which letters wait, and why.
    pub fn why_waiting(&self) -> Result<Waiting, StoreError> {
        let mut waiting = Waiting::default();
        let mut read = self.transaction.prepare_cached(
            "SELECT max(tries) > 0, answer FROM outbox WHERE state = 'waiting' GROUP BY letter ORDER BY letter",
        )?;
        let mut rows = read.query([])?;
        while let Some(row) = rows.next()? {
            if row.get(0)? {
                waiting.tried += 1;
                waiting.why = row.get(1)?;
            } else {
                waiting.held += 1;
            }
        }
        Ok(waiting)
    }

    /// The last day of a site that was measured or worked out from measurements.
    pub fn last_measured(&self, site: &str) -> Result<Option<NaiveDate>, StoreError> {
        Ok(self
            .transaction
            .prepare_cached("SELECT max(date) FROM day WHERE site = ?1 AND origin <> 'forecast'")?
            .query_row([site], |row| row.get(0))?)
    }

    /// How many notices were told, by kind.
    pub fn told_by_kind(&self) -> Result<BTreeMap<String, u32>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT kind, count(*) FROM notice GROUP BY kind")?;
        let rows = read.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }

    /// What lies in the outbox.
    pub fn outbox(&self) -> Result<Outbox, StoreError> {
        let at = |text: Option<String>| text.and_then(|text| text.parse().ok());
        Ok(self.transaction.query_row(
            "SELECT count(DISTINCT iif(state = 'waiting', id, NULL)), min(iif(state = 'waiting', round_at, NULL)),
               min(iif(state = 'waiting' AND tries > 0, round_at, NULL)), count(DISTINCT iif(state = 'refused', id, NULL))
             FROM outbox JOIN letter ON letter.id = outbox.letter WHERE state <> 'sent'",
            [],
            |row| {
                Ok(Outbox {
                    waiting: row.get(0)?,
                    oldest: at(row.get(1)?),
                    stuck: at(row.get(2)?),
                    refused: row.get(3)?,
                })
            },
        )?)
    }

    /// When the last letter to anybody was written.
    pub fn last_letter(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        let text: Option<String> =
            self.transaction
                .query_row("SELECT max(round_at) FROM letter", [], |row| row.get(0))?;
        Ok(text.and_then(|text| text.parse().ok()))
    }

    /// What a carrier last said to letters that were written before a moment and still wait, where it has taken none
    /// since then.
    pub fn takes_nothing_since(
        &self,
        carrier: &str,
        since: DateTime<Utc>,
    ) -> Result<Option<String>, StoreError> {
        use rusqlite::OptionalExtension;
        Ok(self
            .transaction
            .prepare_cached(
                "SELECT answer FROM outbox JOIN letter ON letter.id = outbox.letter
                 WHERE carrier = ?1 AND state = 'waiting' AND tries > 0 AND round_at <= ?2
                   AND NOT EXISTS (SELECT 1 FROM outbox WHERE carrier = ?1 AND state = 'sent' AND settled_at > ?2)
                 ORDER BY letter LIMIT 1",
            )?
            .query_row((carrier, moment(since)), |row| row.get(0))
            .optional()?)
    }

    /// When a carrier last took a letter.
    pub fn last_sent(&self, carrier: &str) -> Result<Option<String>, StoreError> {
        Ok(self
            .transaction
            .prepare_cached(
                "SELECT max(settled_at) FROM outbox WHERE carrier = ?1 AND state = 'sent'",
            )?
            .query_row([carrier], |row| row.get(0))?)
    }
}
