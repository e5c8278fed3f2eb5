//! The store: the program's own memory, in one `SQLite` file. The only place that knows SQL.
//!
//! One writer, in WAL with synchronous FULL. What is stored is what came in and what went out; everything in between is
//! derived. A round writes through [`Store::settle`], one immediate transaction.

mod answers;
mod calendar;
mod clock;
mod condition;
mod days;
mod diary;
mod ledger;
mod nursery;
mod outbox;
mod past;
mod schema;
mod source;
mod thread;

pub use answers::{Answer, AnswerState, NewAnswer, SentLetter};
pub use condition::{Outbox, Waiting};
pub use days::Kept;
pub use diary::StuckLetter;
pub use nursery::{Absorbed, FileRead};
pub use outbox::{NewLetter, OutboxRow};
pub use source::SourceMemory;

use chrono::{DateTime, SecondsFormat, Utc};
use rusqlite::{
    Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior, backup::Backup,
};
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// What can go wrong with the store; each stops the round.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The file belongs to a newer program.
    #[error(
        "the store was written by a newer graftwarden (schema {found}, this one knows {known}); install that version or newer"
    )]
    Newer {
        /// The version of the file.
        found: i64,
        /// The newest version this program knows.
        known: i64,
    },
    /// The folder or file cannot be used.
    #[error(
        "cannot use the store {path}: {why}; check that the folder exists and that this user may use it"
    )]
    Unusable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        why: String,
    },
    /// The file is there, but no database.
    #[error(
        "{path} is damaged or was not written by graftwarden ({why}); put back a copy of it, or move it away to begin with an empty memory"
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What the database said.
        why: String,
    },
    /// Something else in the database.
    #[error("the store failed: {0}")]
    Sql(#[from] rusqlite::Error),
}

/// The program's memory.
#[derive(Debug)]
pub struct Store {
    connection: Connection,
}

/// The memory inside one transaction: the functions that read and write are here.
#[derive(Debug)]
pub struct Memory<'a> {
    transaction: Transaction<'a>,
}

impl Store {
    /// Opens or creates the store in a state folder, which is created too.
    pub fn open(state: &Path) -> Result<Self, StoreError> {
        let path = Self::file_in(state);
        // Letters and addresses lie in it.
        let mut folder = std::fs::DirBuilder::new();
        folder.recursive(true).mode(0o700);
        folder.create(state).map_err(|error| StoreError::Unusable {
            path: path.clone(),
            why: error.to_string(),
        })?;
        let mut connection = Connection::open(&path).map_err(|error| unusable(&path, &error))?;
        prepare(&connection).map_err(|error| unusable(&path, &error))?;
        schema::migrate(&mut connection)?;
        Ok(Self { connection })
    }

    /// An empty store that is gone when dropped: for a rehearsal.
    pub fn in_memory() -> Result<Self, StoreError> {
        let mut connection = Connection::open_in_memory()?;
        schema::migrate(&mut connection)?;
        Ok(Self { connection })
    }

    /// A copy in memory of what the state folder holds (empty where there is nothing yet), for looking without touching.
    pub fn copy_of(state: &Path) -> Result<Self, StoreError> {
        let path = Self::file_in(state);
        let unusable = |error: &dyn std::fmt::Display| StoreError::Unusable {
            path: path.clone(),
            why: error.to_string(),
        };
        // A folder that may not be looked into is not one without a store.
        if !path.try_exists().map_err(|error| unusable(&error))? {
            return Self::in_memory();
        }
        let source = Connection::open_with_flags(
            &path,
            OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI,
        )
        .and_then(readable)
        .or_else(|error| {
            // Only at rest: what is still in the log would not be seen.
            if std::fs::metadata(path.with_extension("db-wal")).is_ok_and(|log| log.len() > 0) {
                return Err(error);
            }
            Connection::open_with_flags(
                format!("file:{}?immutable=1", path.display()),
                OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI,
            )
        })
        .map_err(|error| unusable(&error))?;
        let mut connection = Connection::open_in_memory()?;
        {
            let backup = Backup::new(&source, &mut connection).map_err(|error| unusable(&error))?;
            backup
                .run_to_completion(1000, Duration::from_millis(5), None)
                .map_err(|error| unusable(&error))?;
        }
        schema::migrate(&mut connection)?;
        Ok(Self { connection })
    }

    /// The database file in a state folder.
    pub fn file_in(state: &Path) -> PathBuf {
        state.join("graftwarden.db")
    }

    /// Does everything in one immediate transaction; nothing of it stays when `work` fails.
    pub fn settle<T, E: From<StoreError>>(
        &mut self,
        work: impl FnOnce(&Memory<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(StoreError::from)?;
        let memory = Memory { transaction };
        let result = work(&memory)?;
        memory.transaction.commit().map_err(StoreError::from)?;
        Ok(result)
    }
}

fn unusable(path: &Path, error: &rusqlite::Error) -> StoreError {
    let (path, why) = (path.to_owned(), error.to_string());
    match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt) => {
            StoreError::Damaged { path, why }
        }
        _ => StoreError::Unusable { path, why },
    }
}

fn prepare(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(Duration::from_secs(10))?;
    connection.pragma_update(None, "journal_mode", "WAL")?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    Ok(())
}

impl Memory<'_> {
    /// A single fact by name: the secret, the last round.
    pub fn fact(&self, key: &str) -> Result<Option<String>, StoreError> {
        use rusqlite::OptionalExtension;
        let found = self
            .transaction
            .prepare_cached("SELECT value FROM fact WHERE key = ?1")?
            .query_row([key], |row| row.get(0))
            .optional()?;
        Ok(found)
    }

    /// Remembers a single fact.
    pub fn remember(&self, key: &str, value: &str) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached("INSERT INTO fact (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = excluded.value")?
            .execute((key, value))?;
        Ok(())
    }

    /// What makes this installation's Message-IDs its own; made once.
    pub fn secret(&self) -> Result<String, StoreError> {
        if let Some(secret) = self.fact("secret")? {
            return Ok(secret);
        }
        let secret: String =
            self.transaction
                .query_row("SELECT lower(hex(randomblob(16)))", [], |row| row.get(0))?;
        self.remember("secret", &secret)?;
        Ok(secret)
    }

    /// An id that no other record has.
    pub fn new_id(&self) -> Result<String, StoreError> {
        Ok(self
            .transaction
            .query_row("SELECT lower(hex(randomblob(8)))", [], |row| row.get(0))?)
    }
}

/// A moment as text, to the second, in UTC.
fn moment(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// Opening is not yet reading: only that shows whether this user may.
fn readable(connection: Connection) -> rusqlite::Result<Connection> {
    connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))?;
    Ok(connection)
}

#[cfg(test)]
mod tests;
