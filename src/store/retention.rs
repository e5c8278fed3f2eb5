//! What the memory lets go of, so that it does not grow for ever.
//!
//! Days, notices, records and dates are small, and what is reckoned and told hangs on them: they stay. Nearly all of the
//! file would be the bytes of letters, which nothing needs once they are out: a letter is read where it went.

use super::{Memory, StoreError, moment};
use chrono::{DateTime, Utc};

impl Memory<'_> {
    /// Lets go of the bytes of letters of the rounds before that wait for no carrier; of how many. To whom they went, under
    /// which Message-ID and what they asked stays, so that an answer to them is still known for what it is.
    pub fn let_go(&self, now: DateTime<Utc>) -> Result<usize, StoreError> {
        self.transaction
            .prepare_cached(
                "UPDATE outbox SET bytes = NULL WHERE bytes IS NOT NULL AND state <> 'waiting'
                 AND letter IN (SELECT id FROM letter WHERE round_at < ?1)",
            )?
            .execute([moment(now)])?;
        Ok(self
            .transaction
            .prepare_cached(
                "UPDATE letter SET bytes = x'' WHERE round_at < ?1 AND length(bytes) > 0
                 AND NOT EXISTS (SELECT 1 FROM outbox WHERE letter = letter.id AND state = 'waiting')",
            )?
            .execute([moment(now)])?)
    }
}
