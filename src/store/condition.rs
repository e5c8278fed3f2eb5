//! What is counted for whoever looks at the house from outside.

use super::readable::{moment_at, said};
use super::{Memory, StoreError, moment};
use crate::days::Origin;
use chrono::{DateTime, NaiveDate, Utc};
use std::collections::{BTreeMap, BTreeSet};

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
        let mut read = self.transaction.prepare_cached(
            "SELECT letter, max(tries) > 0, answer FROM outbox WHERE state = 'waiting' GROUP BY letter ORDER BY letter",
        )?;
        let letters: Vec<(bool, String)> = self.rows("outbox", &mut read, [], |row| {
            Ok((row.get(1)?, row.get(2)?))
        })?;
        let mut waiting = Waiting::default();
        for (tried, why) in letters {
            if tried {
                waiting.tried += 1;
                waiting.why = why;
            } else {
                waiting.held += 1;
            }
        }
        Ok(waiting)
    }

    /// The last day of a site that was measured or worked out from measurements.
    pub fn last_measured(&self, site: &str) -> Result<Option<NaiveDate>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT date, origin, source FROM day WHERE site = ?1 AND origin <> 'forecast' ORDER BY date DESC",
        )?;
        self.row("day", &mut read, [site], |row| {
            said(row, 1, Origin::named)?;
            row.get(0)
        })
    }

    /// How many notices were told, by kind.
    pub fn told_by_kind(&self) -> Result<BTreeMap<String, u32>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT kind, count(*) FROM notice GROUP BY kind")?;
        let kinds = self.rows("notice", &mut read, [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })?;
        Ok(kinds.into_iter().collect())
    }

    /// What lies in the outbox.
    pub fn outbox(&self) -> Result<Outbox, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT recipient, subject, letter.id, state = 'waiting', tries > 0, round_at
             FROM outbox JOIN letter ON letter.id = outbox.letter WHERE state <> 'sent'",
        )?;
        let rows: Vec<(i64, bool, bool, DateTime<Utc>)> =
            self.rows("outbox", &mut read, [], |row| {
                Ok((row.get(2)?, row.get(3)?, row.get(4)?, moment_at(row, 5)?))
            })?;
        let (waiting, refused): (Vec<_>, Vec<_>) = rows.into_iter().partition(|row| row.1);
        let letters = |rows: &[(i64, bool, bool, DateTime<Utc>)]| {
            rows.iter().map(|row| row.0).collect::<BTreeSet<_>>().len() as u32
        };
        Ok(Outbox {
            waiting: letters(&waiting),
            oldest: waiting.iter().map(|row| row.3).min(),
            stuck: waiting.iter().filter(|row| row.2).map(|row| row.3).min(),
            refused: letters(&refused),
        })
    }

    /// When the last letter to anybody was written.
    pub fn last_letter(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT round_at, recipient FROM letter ORDER BY round_at DESC")?;
        self.row("letter", &mut read, [], |row| moment_at(row, 0))
    }

    /// What a carrier last said to letters that were written before a moment and still wait, where it has taken none
    /// since then.
    pub fn takes_nothing_since(
        &self,
        carrier: &str,
        since: DateTime<Utc>,
    ) -> Result<Option<String>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT answer, recipient, subject FROM outbox JOIN letter ON letter.id = outbox.letter
             WHERE carrier = ?1 AND state = 'waiting' AND tries > 0 AND round_at <= ?2
               AND NOT EXISTS (SELECT 1 FROM outbox WHERE carrier = ?1 AND state = 'sent' AND settled_at > ?2)
             ORDER BY letter",
        )?;
        self.row("outbox", &mut read, (carrier, moment(since)), |row| {
            row.get(0)
        })
    }

    /// When a carrier last took a letter.
    pub fn last_sent(&self, carrier: &str) -> Result<Option<DateTime<Utc>>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT settled_at, letter FROM outbox WHERE carrier = ?1 AND state = 'sent' ORDER BY settled_at DESC",
        )?;
        self.row("outbox", &mut read, [carrier], |row| moment_at(row, 0))
    }
}
