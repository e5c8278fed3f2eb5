//! One instance at a time: `watch` and `round` hold a lock in the state folder, which a crash releases too.

use crate::whole_file;
use std::fs::{File, OpenOptions, TryLockError};
use std::os::unix::fs::MetadataExt;
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
        let path = state.join("lock");
        whole_file::begin(&path).map_err(unusable)?;
        let file = OpenOptions::new()
            .write(true)
            .open(path)
            .map_err(unusable)?;
        match file.try_lock() {
            Ok(()) => Ok(Self { _file: file }),
            Err(TryLockError::WouldBlock) => Err(LockError::Held { folder }),
            Err(TryLockError::Error(why)) => Err(unusable(why)),
        }
    }

    /// Whether somebody holds the lock, without taking it even for a moment: by the system's list of locks. None where
    /// it has none.
    pub fn is_held(state: &Path) -> Option<bool> {
        let list = std::fs::read_to_string("/proc/locks").ok()?;
        let Ok(file) = std::fs::metadata(state.join("lock")) else {
            return Some(false);
        };
        // "1: FLOCK ADVISORY WRITE 4711 fd:01:131 0 EOF": after the process stand device and number of the file.
        let number = format!(":{}", file.ino());
        Some(list.lines().any(|line| {
            let words: Vec<&str> = line.split_whitespace().collect();
            words.get(1) == Some(&"FLOCK") && words.get(5).is_some_and(|of| of.ends_with(&number))
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_holds_it_is_seen_from_outside() {
        let state = tempfile::tempdir().unwrap();
        assert_eq!(Lock::is_held(state.path()), Some(false));
        let lock = Lock::take(state.path()).unwrap();
        assert_eq!(Lock::is_held(state.path()), Some(true));
        drop(lock);
        assert_eq!(Lock::is_held(state.path()), Some(false));
    }
}
