//! Whether a file is sound: looked through page by page. Mends nothing.
//!
//! `SQLite` keeps no checksum of its pages: what is found is a broken structure, values of the wrong kind and tables that
//! are not ours, not a letter that became another one.

use super::{StoreError, moment_in, schema};
use chrono::{DateTime, Utc};
use rusqlite::{Connection, Error, ErrorCode, OpenFlags, ffi};
use std::collections::BTreeSet;
use std::path::Path;

/// What is said of whatever the database found.
const BROKEN: &str = "its structure is broken";

/// How closely a file is looked through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Look {
    /// Every page once.
    Quick,
    /// Indexes against their tables too.
    Thorough,
}

/// Whether an error says that the file itself is damaged, and not the disk, the leave, the room or this program.
pub(super) fn is_damage(error: &Error) -> bool {
    let code = error.sqlite_error_code();
    matches!(
        code,
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt)
    )
}

/// Whether a value could not be read as what it should be, which says nothing of the file.
pub(super) fn is_unreadable(error: &Error) -> bool {
    matches!(
        error,
        Error::FromSqlConversionFailure(..)
            | Error::InvalidColumnType(..)
            | Error::IntegralValueOutOfRange(..)
            | Error::Utf8Error(..)
    )
}

/// Whether an open file has not the tables that its version should have, in plain words. One without a version must have
/// none of ours.
pub(super) fn is_of_other_tables(connection: &Connection) -> Result<Option<String>, StoreError> {
    let version = schema::version(connection)?;
    schema::known(version)?;
    let mut own = Connection::open_in_memory()?;
    schema::migrate_to(
        &mut own,
        if version == 0 {
            schema::NEWEST
        } else {
            version
        },
    )?;
    let (expected, found) = (columns(&own)?, columns(connection)?);
    let as_it_should_be = match version {
        0 => expected.is_disjoint(&found),
        _ => expected.is_subset(&found),
    };
    Ok((!as_it_should_be).then(|| "its tables are not those of this program".into()))
}

/// Every column with its table.
fn columns(connection: &Connection) -> rusqlite::Result<BTreeSet<(String, String)>> {
    let mut read = connection.prepare(
        "SELECT t.name, c.name FROM sqlite_schema AS t JOIN pragma_table_info(t.name) AS c WHERE t.type = 'table'",
    )?;
    let rows = read.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    rows.collect()
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
        error if is_unreadable(error) => "a value in it cannot be read".into(),
        error => match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseCorrupt) => BROKEN.into(),
            Some(ErrorCode::NotADatabase) => "what stands in it is something else".into(),
            _ => match error {
                Error::SqlInputError { msg, .. } => msg.clone(),
                error => error.to_string(),
            },
        },
    }
}

/// The same of damage, and the log says what the database found.
pub(super) fn damage_by(error: &Error) -> String {
    tracing::error!("the database found: {error}");
    said(error)
}

/// What is damaged in an open file, in plain words; none where it is sound. The log says what the database found.
pub(super) fn damage_in(connection: &Connection, look: Look) -> rusqlite::Result<Option<String>> {
    let name = match look {
        Look::Quick => "PRAGMA quick_check(1)",
        Look::Thorough => "PRAGMA integrity_check(1)",
    };
    let found = connection.query_row(name, [], |row| row.get::<_, String>(0));
    match found {
        Ok(found) => Ok(is_broken(&found)?.then(|| {
            tracing::error!("the database found: {}", found.replace('\n', " "));
            BROKEN.into()
        })),
        Err(error) if is_damage(&error) => Ok(Some(damage_by(&error))),
        Err(error) => Err(error),
    }
}

/// Whether what the database found is damage. A page that the disk did not give is an error of the disk, though it is said
/// among what is broken.
fn is_broken(found: &str) -> rusqlite::Result<bool> {
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
        _ if is_of_other_tables(&file).is_ok_and(|found| found.is_some()) => Err(Unsound::Foreign),
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
            let error = is_broken(found).unwrap_err();
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
            assert!(is_broken(found).unwrap(), "{found}");
        }
        assert!(!is_broken("ok").unwrap());
    }

    /// What is asked of a file leads to no damage, and how it is said.
    #[track_caller]
    fn check(asked: &str, unreadable: bool, expected: &str) {
        let file = Connection::open_in_memory().unwrap();
        file.execute_batch("CREATE TABLE t (a); INSERT INTO t VALUES (x'ff'), (1)")
            .unwrap();
        let error = file
            .query_row(asked, [], |row| row.get::<_, String>(0))
            .unwrap_err();
        assert!(!is_damage(&error), "{error}");
        assert_eq!(
            (is_unreadable(&error), said(&error).as_str()),
            (unreadable, expected)
        );
    }

    #[test]
    fn what_this_program_asks_or_reads_wrongly_is_no_damage_and_no_statement_is_shown() {
        let value = "a value in it cannot be read";
        check("SELECT a FROM t", true, value);
        check("SELECT CAST(a AS TEXT) FROM t", true, value);
        check("SELECT b FROM t", false, "no such column: b");
        check("SELECT b FROM u", false, "no such table: u");
        check("CREATE TABLE t (a)", false, "table t already exists");
        check("SELECT a FROM t WHERE", false, "incomplete input");
    }

    #[test]
    fn a_file_has_the_tables_of_its_version_or_is_none_of_ours() {
        let of = |version: i64, sql: &str| {
            let mut file = Connection::open_in_memory().unwrap();
            schema::migrate_to(&mut file, version).unwrap();
            file.execute_batch(sql).unwrap();
            is_of_other_tables(&file).unwrap().is_some()
        };
        for version in 0..=schema::NEWEST {
            assert!(!of(version, "CREATE TABLE other (a)"), "{version}");
        }
        assert!(of(0, "CREATE TABLE day (site)"));
        assert!(of(2, "DROP TABLE foretold"));
        assert!(of(schema::NEWEST, "ALTER TABLE letter DROP COLUMN thread"));
    }
}
