//! One instance at a time: `watch` and `round` hold a lock in the state folder, which a crash releases too.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::Path;

/// Held as long as it lives.
#[derive(Debug)]
pub struct Lock {
    _file: File,
}

/// Why the lock could not be taken.
#[derive(Debug, thiserror::Error)]
pub enum LockError {
    /// Another instance runs.
    #[error(
        "another graftwarden is at work on {folder}; stop it first, or wait for its round to end"
    )]
    Held {
        /// The state folder.
        folder: String,
    },
    /// The lock file cannot be used.
    #[error(
        "cannot use the state folder {folder}: {why}; check that it exists and that this user may write to it"
    )]
    Unusable {
        /// The state folder.
        folder: String,
        /// What the system said.
        why: std::io::Error,
    },
}

impl Lock {
    /// Takes the lock of a state folder, at once or not at all.
    pub fn take(state: &Path) -> Result<Self, LockError> {
        let folder = state.display().to_string();
        let unusable = |why| LockError::Unusable {
            folder: folder.clone(),
            why,
        };
        let file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(state.join("lock"))
            .map_err(unusable)?;
        match file.try_lock() {
            Ok(()) => Ok(Self { _file: file }),
            Err(TryLockError::WouldBlock) => Err(LockError::Held { folder }),
            Err(TryLockError::Error(why)) => Err(unusable(why)),
        }
    }
}
