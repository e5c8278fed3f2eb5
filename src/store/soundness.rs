//! Whether a file is sound: looked through page by page. Mends nothing.
//!
//! `SQLite` keeps no checksum of its pages: what is found is a broken structure and values of the wrong kind, not a
//! letter that became another one.

use super::{moment_in, schema};
use chrono::{DateTime, Utc};
use rusqlite::{Connection, Error, ErrorCode, OpenFlags, ffi};
use std::path::Path;

/// How closely a file is looked through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Look {
    /// Every page once.
    Quick,
    /// Indexes against their tables too.
    Thorough,
}

/// Whether an error says that the file itself is damaged, and not the disk, the leave or the room: its structure, a value
/// that is not what was put there, or a table that is not as its version has it.
pub(super) fn is_damage(error: &Error) -> bool {
    match error {
        Error::FromSqlConversionFailure(..)
        | Error::InvalidColumnType(..)
        | Error::IntegralValueOutOfRange(..)
        | Error::Utf8Error(..) => true,
        Error::SqlInputError { msg, .. } => is_of_other_tables(msg),
        Error::SqliteFailure(code, said) => match code.code {
            ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt => true,
            ErrorCode::Unknown => said.as_deref().is_some_and(is_of_other_tables),
            _ => false,
        },
        _ => false,
    }
}

fn is_of_other_tables(said: &str) -> bool {
    let words = [
        "no such table",
        "no such column",
        "has no column named",
        "already exists",
        "duplicate column",
    ];
    words.iter().any(|words| said.contains(words))
}

/// Whether another program keeps the file for itself.
pub(super) fn is_busy(error: &Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)
    )
}

/// An error for people: without the statement in which it was met.
pub(super) fn said(error: &Error) -> String {
    match error {
        Error::SqlInputError { msg, .. } => msg.clone(),
        Error::FromSqlConversionFailure(..)
        | Error::InvalidColumnType(..)
        | Error::IntegralValueOutOfRange(..)
        | Error::Utf8Error(..) => "a value in it is not what was put there".into(),
        error => error.to_string(),
    }
}

/// What is damaged in an open file, in plain words; none where it is sound. The log says what the database found.
pub(super) fn damage_in(connection: &Connection, look: Look) -> rusqlite::Result<Option<String>> {
    let name = match look {
        Look::Quick => "PRAGMA quick_check(1)",
        Look::Thorough => "PRAGMA integrity_check(1)",
    };
    let found = connection.query_row(name, [], |row| row.get::<_, String>(0));
    match found {
        Ok(found) => Ok(damage_by(&found)?.then(|| {
            tracing::error!("the database found: {}", found.replace('\n', " "));
            "its structure is broken".into()
        })),
        Err(error) if is_damage(&error) => Ok(Some(said(&error))),
        Err(error) => Err(error),
    }
}

/// Whether what the database found is damage. A page that the disk did not give is an error of the disk, though it is said
/// among what is broken.
fn damage_by(found: &str) -> rusqlite::Result<bool> {
    let code = found.split_once("error code=").map(|(_, rest)| {
        let digits = rest.split(|c: char| !c.is_ascii_digit()).next();
        digits.and_then(|digits| digits.parse::<i32>().ok())
    });
    let of_file = code
        .flatten()
        .is_some_and(|code| [ffi::SQLITE_CORRUPT, ffi::SQLITE_NOTADB].contains(&(code & 0xff)));
    let unread = found.contains("get page") || found.contains("get the page");
    if unread && !of_file {
        let error = ffi::Error::new(ffi::SQLITE_IOERR_READ);
        let said = format!("disk I/O error: {}", found.replace('\n', " "));
        return Err(Error::SqliteFailure(error, Some(said)));
    }
    Ok(found != "ok")
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
    #[error("{}", said(.0))]
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_that_the_disk_did_not_give_is_no_damage() {
        for found in [
            "*** in database main ***\nFreelist: failed to get page 50",
            "*** in database main ***\nTree 12 page 50: unable to get the page. error code=8458",
        ] {
            let error = damage_by(found).unwrap_err();
            assert!(!is_damage(&error), "{error}");
            let code = error.sqlite_error_code();
            assert_eq!(code, Some(ErrorCode::SystemIoFailure), "{error}");
        }
    }

    #[test]
    fn what_else_is_found_is_damage() {
        for found in [
            "*** in database main ***\nTree 12 page 12 cell 2: Rowid 9 out of order",
            "*** in database main ***\nTree 12 page 50: unable to get the page. error code=11",
            "NULL value in letter.subject",
        ] {
            assert!(damage_by(found).unwrap(), "{found}");
        }
        assert!(!damage_by("ok").unwrap());
    }

    /// What a file of other tables and values leads to, and how it is said.
    #[track_caller]
    fn check(tables: &str, asked: &str, is: bool, expected: &str) {
        let file = Connection::open_in_memory().unwrap();
        file.execute_batch(tables).unwrap();
        let error = file
            .query_row(asked, [], |row| row.get::<_, String>(0))
            .unwrap_err();
        assert_eq!((is_damage(&error), said(&error).as_str()), (is, expected));
    }

    #[test]
    fn values_and_tables_that_are_not_what_they_were_are_damage_and_no_statement_is_shown() {
        let table = "CREATE TABLE t (a); INSERT INTO t VALUES (x'ff'), (1);";
        let value = "a value in it is not what was put there";
        check(table, "SELECT a FROM t", true, value);
        check(table, "SELECT CAST(a AS TEXT) FROM t", true, value);
        check(table, "SELECT b FROM t", true, "no such column: b");
        check(table, "SELECT b FROM u", true, "no such table: u");
        check(table, "CREATE TABLE t (a)", true, "table t already exists");
        check(table, "SELECT a FROM t WHERE", false, "incomplete input");
    }
}
