//! Single facts by name, in the store.

use super::readable::said;
use super::{Memory, StoreError};
use crate::problem::Problem;
use chrono::{DateTime, Utc};

impl Memory<'_> {
    /// A single fact by name: the secret, the last round.
    pub fn fact(&self, key: &str) -> Result<Option<String>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT value, key FROM fact WHERE key = ?1")?;
        self.row("fact", &mut read, [key], |row| row.get(0))
    }

    /// The same, read as what it should be; none where it is empty.
    pub fn fact_as<T>(
        &self,
        key: &str,
        of: impl Fn(&str) -> Option<T>,
    ) -> Result<Option<T>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT value, key FROM fact WHERE key = ?1 AND value <> ''")?;
        self.row("fact", &mut read, [key], |row| said(row, 0, &of))
    }

    /// A moment among the facts; none where it is empty.
    pub fn moment_of(&self, key: &str) -> Result<Option<DateTime<Utc>>, StoreError> {
        self.fact_as(key, |text| text.parse().ok())
    }

    /// Remembers a single fact.
    pub fn remember(&self, key: &str, value: &str) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached("INSERT INTO fact (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = excluded.value")?
            .execute((key, value))?;
        Ok(())
    }

    pub(super) fn forget_fact(&self, key: &str) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached("DELETE FROM fact WHERE key = ?1")?
            .execute([key])?;
        Ok(())
    }

    /// What makes this installation's Message-IDs its own; made once. Where it is gone or cannot be read although letters
    /// were made with it, a new one is drawn and that is told.
    pub fn secret(&self) -> Result<String, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT value FROM fact WHERE key = 'secret'")?;
        let held = self.row("fact", &mut read, [], |row| {
            Ok(row.get::<_, String>(0).ok())
        })?;
        if let Some(Some(secret)) = held {
            return Ok(secret);
        }
        let secret: String =
            self.transaction
                .query_row("SELECT lower(hex(randomblob(16)))", [], |row| row.get(0))?;
        self.remember("secret", &secret)?;
        let written = self
            .transaction
            .prepare_cached("SELECT 1 FROM letter")?
            .exists([])?;
        if held.is_some() || written {
            self.leave_out(secret_is_lost(&self.new_id()?));
        }
        Ok(secret)
    }
}

/// It is told each time it happens.
fn secret_is_lost(which: &str) -> Problem {
    let problem = Problem::new(
        "the program's memory, table fact",
        "the secret out of which the letters' Message-IDs are made is gone or cannot be read",
        "a new one was drawn; answers to letters of before are understood as they were, and what stands in calendars by such letters is cancelled there and given anew",
        "see whether the disk is well",
    );
    problem.keyed(format!("secret lost {which}"))
}
