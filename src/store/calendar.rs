//! What each person's calendar was told, in the store.

use super::{Memory, StoreError};
use crate::letters::calendar::{Entry, Kept};

impl Memory<'_> {
    /// Everything that a person's calendar was ever told, as it was told last.
    pub fn calendar(&self, recipient: &str) -> Result<Vec<Kept>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT uid, sequence, title, first, last, detail, cancelled, upto FROM calendar
             WHERE recipient = ?1 ORDER BY uid",
        )?;
        self.rows("calendar", &mut read, [recipient], |row| {
            Ok(Kept {
                entry: Entry {
                    uid: row.get(0)?,
                    sequence: row.get(1)?,
                    title: row.get(2)?,
                    first: row.get(3)?,
                    last: row.get(4)?,
                    detail: row.get(5)?,
                    cancelled: row.get(6)?,
                },
                upto: row.get(7)?,
            })
        })
    }

    /// Remembers what a person's calendar is told.
    pub fn keep_calendar(&self, recipient: &str, kept: &[Kept]) -> Result<(), StoreError> {
        let mut write = self.transaction.prepare_cached(
            "INSERT OR REPLACE INTO calendar (recipient, uid, sequence, title, first, last, detail, cancelled, upto)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        )?;
        for Kept { entry, upto } in kept {
            write.execute((
                recipient,
                &entry.uid,
                entry.sequence,
                &entry.title,
                entry.first,
                entry.last,
                &entry.detail,
                entry.cancelled,
                upto,
            ))?;
        }
        Ok(())
    }
}
