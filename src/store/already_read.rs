//! What a memory that lives in the process only has read already.
//!
//! A season that is played asks for the same days, rows and notices in every round. They are kept as they were read, and
//! whoever writes to a table has what was kept of it read anew; the ledger is read on from where it ended, since nothing is
//! ever taken out of it or changed in it. What is read within a transaction that fails is forgotten. A
//! memory in a file keeps nothing: it is asked once an hour, and the service is to be small at rest.

use super::days::ReadDays;
use super::ledger::ReadLedger;
use super::{Memory, StoreError};
use crate::nursery::{Batch, Record};
use std::sync::Arc;

/// What was read, table by table.
#[derive(Debug, Default)]
pub(super) struct AlreadyRead {
    pub(super) days: ReadDays,
    pub(super) ledger: ReadLedger,
    pub(super) batches: Option<Arc<[Arc<Batch>]>>,
    pub(super) records: Option<Arc<[Record]>>,
}

/// What was read of one table.
type Of<T> = fn(&mut AlreadyRead) -> &mut Option<Arc<T>>;

impl Memory<'_> {
    /// What was read of a table already, or else what is read now.
    pub(super) fn read_once<T: ?Sized>(
        &self,
        of: Of<T>,
        read: impl FnOnce() -> Result<Arc<T>, StoreError>,
    ) -> Result<Arc<T>, StoreError> {
        let Some(already) = &self.already_read else {
            return read();
        };
        if let Some(known) = of(&mut already.borrow_mut()) {
            return Ok(Arc::clone(known));
        }
        let found = read()?;
        *of(&mut already.borrow_mut()) = Some(Arc::clone(&found));
        Ok(found)
    }

    /// Has a table read anew that was written to.
    pub(super) fn forget_read<T: ?Sized>(&self, of: Of<T>) {
        if let Some(already) = &self.already_read {
            *of(&mut already.borrow_mut()) = None;
        }
    }
}
