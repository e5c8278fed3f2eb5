//! What sources asked for when they were last asked.

use super::readable::moment_if_any;
use super::{Memory, StoreError, moment};
use chrono::{DateTime, Utc};

/// What is remembered of a source at a site.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SourceMemory {
    /// To be handed back to it.
    pub memo: Option<String>,
    /// Not to be asked before.
    pub not_before: Option<DateTime<Utc>>,
    /// Since when it has not answered.
    pub failing_since: Option<DateTime<Utc>>,
    /// When it last answered.
    pub answered_at: Option<DateTime<Utc>>,
}

impl Memory<'_> {
    /// What is remembered of a source.
    pub fn source(&self, site: &str, source: &str) -> Result<SourceMemory, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT memo, not_before, failing_since, answered_at, site, source FROM source WHERE site = ?1 AND source = ?2",
        )?;
        let found = self.row("source", &mut read, (site, source), |row| {
            Ok(SourceMemory {
                memo: row.get(0)?,
                not_before: moment_if_any(row, 1)?,
                failing_since: moment_if_any(row, 2)?,
                answered_at: moment_if_any(row, 3)?,
            })
        })?;
        Ok(found.unwrap_or_default())
    }

    /// Remembers it.
    pub fn remember_source(
        &self,
        site: &str,
        source: &str,
        memory: &SourceMemory,
    ) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached(
                "INSERT INTO source (site, source, memo, not_before, failing_since, answered_at) VALUES (?1, ?2, ?3, ?4, ?5, ?6)
                 ON CONFLICT (site, source) DO UPDATE SET memo = excluded.memo, not_before = excluded.not_before, failing_since = excluded.failing_since,
                   answered_at = excluded.answered_at",
            )?
            .execute((site, source, &memory.memo, memory.not_before.map(moment), memory.failing_since.map(moment), memory.answered_at.map(moment)))?;
        Ok(())
    }
}
