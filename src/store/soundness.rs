//! Whether a file is sound: looked through page by page. Mends nothing.
//!
//! `SQLite` keeps no checksum of its pages: what is found is a broken structure and values of the wrong kind, not a
//! letter that became another one.

use super::{moment_in, schema};
use chrono::{DateTime, Utc};
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::path::Path;

/// How closely a file is looked through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Look {
    /// Every page once.
    Quick,
    /// Indexes against their tables too.
    Thorough,
}

/// Whether an error says that the file itself is damaged, and not the disk, the leave or the room.
pub(super) fn is_damage(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt)
    )
}

/// What is damaged in an open file; none where it is sound.
pub(super) fn damage_in(connection: &Connection, look: Look) -> rusqlite::Result<Option<String>> {
    let name = match look {
        Look::Quick => "PRAGMA quick_check(1)",
        Look::Thorough => "PRAGMA integrity_check(1)",
    };
    let found = connection.query_row(name, [], |row| row.get::<_, String>(0));
    match found {
        Ok(found) if found == "ok" => Ok(None),
        Ok(found) => Ok(Some(found.replace('\n', " "))),
        Err(error) if is_damage(&error) => Ok(Some(error.to_string())),
        Err(error) => Err(error),
    }
}

/// Opens a file at rest to look at it, without making or changing anything beside it.
pub(super) fn open_at_rest(path: &Path) -> rusqlite::Result<Connection> {
    let shown = path.display().to_string();
    let escaped = shown
        .replace('%', "%25")
        .replace('?', "%3f")
        .replace('#', "%23");
    Connection::open_with_flags(
        format!("file:{escaped}?immutable=1"),
        OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI,
    )
}

/// Why a file at rest is of no use.
#[derive(Debug, thiserror::Error)]
pub enum Unsound {
    /// This program cannot read it.
    #[error("it was written by a newer graftwarden")]
    Newer(i64),
    /// It is no memory of this program.
    #[error("it is no memory of this program")]
    Foreign,
    /// What the database found.
    #[error("{0}")]
    Damaged(String),
    /// It cannot be looked through.
    #[error(transparent)]
    Unread(#[from] rusqlite::Error),
}

/// Looks through a file at rest: the moment of the last round in it, where it is sound and a store of ours.
pub(super) fn last_round_in(path: &Path) -> Result<Option<DateTime<Utc>>, Unsound> {
    let file = open_at_rest(path)?;
    if let Some(how) = damage_in(&file, Look::Quick)? {
        return Err(Unsound::Damaged(how));
    }
    match schema::version(&file)? {
        0 => Err(Unsound::Foreign),
        version if schema::known(version).is_err() => Err(Unsound::Newer(version)),
        _ => Ok(moment_in(&file, "last round")?),
    }
}
