//! What each person was told of, and what has been written down since, in the store.

use super::nursery::record_of;
use super::{Memory, StoreError, moment};
use crate::nursery::Record;
use chrono::{DateTime, Utc};

impl Memory<'_> {
    /// The steps and limits of batches that letters to that person named since a moment: batch and step.
    pub fn told_to(
        &self,
        recipient: &str,
        since: DateTime<Utc>,
    ) -> Result<Vec<(String, String)>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT notice.subject, notice.step FROM letter
               JOIN letter_notice ON letter_notice.letter = letter.id JOIN notice ON notice.id = letter_notice.notice
               WHERE recipient = ?1 AND letter.round_at >= ?2 AND notice.step <> ''
             UNION
             SELECT batch, step FROM letter JOIN asked ON asked.letter = letter.id WHERE recipient = ?1 AND round_at >= ?2",
        )?;
        self.rows("notice", &mut read, (recipient, moment(since)), |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
    }

    /// The records that were written down since this was last asked for that person; none the first time.
    pub fn written_since_last(&self, recipient: &str) -> Result<Vec<Record>, StoreError> {
        let key = format!("records known to {recipient}");
        let known = self.fact_as(&key, |seq| seq.parse::<i64>().ok())?;
        let newest: Option<i64> = self
            .transaction
            .prepare_cached("SELECT max(seq) FROM record")?
            .query_row([], |row| row.get(0))?;
        let newest = newest.unwrap_or(0);
        self.remember(&key, &newest.to_string())?;
        let mut read = self.transaction.prepare_cached(
            "SELECT date, batch, block, what, count, of, done_by, remarks FROM record WHERE seq > ?1 ORDER BY seq",
        )?;
        self.rows("record", &mut read, [known.unwrap_or(newest)], record_of)
    }
}
