//! Whether the open file still lies where it was opened: what is written into one that was deleted is lost without a word.

use rusqlite::Connection;
use std::io::ErrorKind;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// The file that is open, by which it is known whether it still lies in its place.
#[derive(Debug)]
pub(super) struct OpenFile {
    path: PathBuf,
    is: (u64, u64),
}

impl OpenFile {
    /// None of a memory that lies in no file.
    pub(super) fn of(connection: &Connection) -> Option<Self> {
        let path = PathBuf::from(connection.path().filter(|path| !path.is_empty())?);
        let is = which(&path).ok()?;
        Some(Self { path, is })
    }

    pub(super) fn lies_in_its_place(&self) -> bool {
        match which(&self.path) {
            Ok(found) => found == self.is,
            Err(error) => error.kind() != ErrorKind::NotFound,
        }
    }
}

fn which(path: &Path) -> std::io::Result<(u64, u64)> {
    let found = std::fs::metadata(path)?;
    Ok((found.dev(), found.ino()))
}
