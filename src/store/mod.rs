//! The store: the program's own memory, in one `SQLite` file. The only place that knows SQL.
//!
//! One writer, in WAL with synchronous FULL. What is stored is what came in and what went out; everything in between is
//! derived. A round writes through [`Store::settle`], one immediate transaction.

mod along;
mod already_read;
mod answers;
pub mod backup;
mod calendar;
mod clock;
mod condition;
mod days;
mod diary;
mod export;
mod facts;
mod in_place;
mod ledger;
mod nursery;
mod outbox;
mod past;
mod readable;
mod recovery;
mod retention;
mod schema;
mod soundness;
mod source;
mod thread;

use already_read::AlreadyRead;
pub use answers::{Answer, AnswerState, NewAnswer, SentLetter};
pub use condition::{Outbox, Waiting};
pub use days::Kept;
pub use diary::StuckLetter;
pub use export::{Carried, CarryError, Form};
pub use nursery::{Absorbed, FileRead, Reading};
pub use outbox::{NewLetter, OutboxRow};
pub use recovery::{PutBack, damage_was_met, is_well};
pub use source::SourceMemory;

use crate::problem::Problem;
use crate::whole_file;
use chrono::{DateTime, SecondsFormat, Utc};
use rusqlite::{
    Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior, backup::Backup,
    config::DbConfig,
};
use std::cell::RefCell;
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
    /// The file is damaged, or gone although there are backups of it.
    #[error(
        "the program's memory {path} is {how}; the next `graftwarden round` or start of the service keeps it aside and puts back the newest good backup"
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// "damaged (file is not a database)".
        how: String,
    },
    /// The file turned out to be damaged while it was read or written.
    #[error(
        "the program's memory is damaged ({0}); the next `graftwarden round` or start of the service looks it through and puts back the newest good backup"
    )]
    DamageMet(String),
    /// The disk is full or does not answer as it should.
    #[error(
        "the program's memory cannot be read or written: {0}; see that there is room on the disk, that it is well, and that this user may write there"
    )]
    Disk(String),
    /// Another program keeps it for itself.
    #[error(
        "another program is using the program's memory; nothing was changed; try again in a minute"
    )]
    Busy,
    /// Something else in the database.
    #[error("the store failed: {}", soundness::said(.0))]
    Sql(rusqlite::Error),
}

impl StoreError {
    /// Whether the memory is damaged, or gone although there are backups: the next opening that may mend puts it right.
    pub fn is_damage(&self) -> bool {
        matches!(self, Self::Damaged { .. } | Self::DamageMet(_))
    }
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            _ if soundness::is_damage(&error) => Self::DamageMet(soundness::damage_by(&error)),
            _ if soundness::is_busy(&error) => Self::Busy,
            Some(ErrorCode::DiskFull | ErrorCode::SystemIoFailure | ErrorCode::ReadOnly) => {
                Self::Disk(error.to_string())
            }
            _ => Self::Sql(error),
        }
    }
}

/// So long is waited for another program.
const PATIENCE: Duration = Duration::from_secs(10);

/// The program's memory.
#[derive(Debug)]
pub struct Store {
    connection: Connection,
    file: Option<in_place::OpenFile>,
    /// Kept from one transaction to the next by what is in memory only.
    already_read: Option<AlreadyRead>,
}

/// The memory inside one transaction: the functions that read and write are here.
#[derive(Debug)]
pub struct Memory<'a> {
    transaction: Transaction<'a>,
    left_out: RefCell<Vec<Problem>>,
    already_read: Option<RefCell<AlreadyRead>>,
}

impl Store {
    /// Makes the state folder, for its owner only, where there is none: letters and addresses lie in it.
    pub fn make_folder(state: &Path) -> Result<(), StoreError> {
        let mut folder = std::fs::DirBuilder::new();
        folder.recursive(true).mode(0o700);
        folder.create(state).map_err(|error| StoreError::Unusable {
            path: Self::file_in(state),
            why: error.to_string(),
        })
    }

    /// Opens or creates the store in a state folder, which is created too. One that is damaged, or gone although there
    /// are backups, is refused and left as it is: see [`Store::open_mended`].
    pub fn open(state: &Path) -> Result<Self, StoreError> {
        Self::make_folder(state)?;
        let path = Self::file_in(state);
        recovery::refuse_what_is_gone(state)?;
        // For its owner only, before anything stands in it.
        whole_file::begin(&path).map_err(|error| StoreError::Unusable {
            path: path.clone(),
            why: error.to_string(),
        })?;
        let connection = Connection::open(&path).map_err(|error| unusable(&path, &error))?;
        prepare(&connection).map_err(|error| unusable(&path, &error))?;
        Self::migrated(connection)
    }

    fn migrated(mut connection: Connection) -> Result<Self, StoreError> {
        if let Some(how) = soundness::is_of_other_tables(&connection)? {
            return Err(StoreError::DamageMet(how));
        }
        schema::migrate(&mut connection)?;
        connection.set_prepared_statement_cache_capacity(STATEMENTS);
        // Else a statement is prepared anew whenever a value that is compared to changes.
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
        let file = in_place::OpenFile::of(&connection);
        Ok(Self {
            connection,
            file,
            already_read: None,
        })
    }

    /// An empty store that is gone when dropped: for a rehearsal.
    pub fn in_memory() -> Result<Self, StoreError> {
        let mut store = Self::migrated(Connection::open_in_memory()?)?;
        store.already_read = Some(AlreadyRead::default());
        Ok(store)
    }

    /// Whether it lies in a file, and not in memory only.
    pub fn is_kept(&self) -> bool {
        self.file.is_some()
    }

    /// A copy in memory of what the state folder holds (empty where there is nothing yet), for looking without touching.
    pub fn copy_of(state: &Path) -> Result<Self, StoreError> {
        Self::copy_within(state, PATIENCE)
    }

    /// The same, waiting so long for another program that keeps the file for itself.
    fn copy_within(state: &Path, patience: Duration) -> Result<Self, StoreError> {
        let path = Self::file_in(state);
        // A folder that may not be looked into is not one without a store.
        let there = path.try_exists().map_err(|error| StoreError::Unusable {
            path: path.clone(),
            why: error.to_string(),
        })?;
        recovery::refuse_what_is_gone(state)?;
        if !there {
            return Self::in_memory();
        }
        let source = Connection::open_with_flags(
            &path,
            OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI,
        )
        .and_then(|source| {
            source.busy_timeout(patience)?;
            readable(source)
        })
        .or_else(|error| {
            // Only at rest: what is still in the log, or about to be written, would not be seen.
            let log = std::fs::metadata(path.with_extension("db-wal"));
            if soundness::is_busy(&error) || log.is_ok_and(|log| log.len() > 0) {
                return Err(error);
            }
            soundness::open_at_rest(&path)
        })
        .map_err(|error| unusable(&path, &error))?;
        let mut connection = Connection::open_in_memory()?;
        Backup::new(&source, &mut connection)
            .and_then(|backup| backup.run_to_completion(1000, Duration::from_millis(5), None))
            .map_err(|error| unusable(&path, &error))?;
        Self::migrated(connection)
    }

    /// Brings all that stands in the log into the file.
    fn checkpoint(&self) -> Result<(), StoreError> {
        let name = "PRAGMA wal_checkpoint(TRUNCATE)";
        let left: i64 = self.connection.query_row(name, [], |row| row.get(0))?;
        match left {
            0 => Ok(()),
            _ => Err(StoreError::Disk("its log could not be brought in".into())),
        }
    }

    /// The same while it is in use, so that a log that is damaged later takes little with it. Where others are at work on
    /// it, it is left for another time.
    pub fn bring_in_log(&self) -> Result<(), StoreError> {
        self.connection.busy_timeout(Duration::from_millis(500))?;
        let done = self.checkpoint();
        self.connection.busy_timeout(PATIENCE)?;
        match done {
            Err(error) if error.is_damage() => Err(error),
            Err(error) => {
                tracing::debug!("{error}");
                Ok(())
            }
            Ok(()) => Ok(()),
        }
    }

    /// Looks it through: an error says how it is damaged.
    pub fn look_through(&self) -> Result<(), StoreError> {
        look_through(&self.connection)
    }

    /// The same of what lies on the disk: an open memory goes on with pages that it read before.
    pub fn look_through_on_disk(state: &Path) -> Result<(), StoreError> {
        let read_only = OpenFlags::SQLITE_OPEN_READ_ONLY;
        let connection = Connection::open_with_flags(Self::file_in(state), read_only)?;
        connection.busy_timeout(PATIENCE)?;
        look_through(&connection)
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
        let file = self.file.as_ref();
        if file.is_some_and(|file| !file.lies_in_its_place()) {
            let how = "its file was deleted or replaced while it was in use";
            return Err(StoreError::DamageMet(how.into()).into());
        }
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(StoreError::from)?;
        // What is read within a transaction that fails is forgotten.
        let already_read = self.already_read.as_mut().map(std::mem::take);
        let memory = Memory {
            transaction,
            left_out: RefCell::default(),
            already_read: already_read.map(RefCell::new),
        };
        let result = work(&memory)?;
        memory.note_left_out()?;
        memory.transaction.commit().map_err(StoreError::from)?;
        self.already_read = memory.already_read.map(RefCell::into_inner);
        Ok(result)
    }
}

fn look_through(connection: &Connection) -> Result<(), StoreError> {
    match soundness::damage_in(connection, soundness::Look::Quick)? {
        Some(how) => Err(StoreError::DamageMet(how)),
        None => Ok(()),
    }
}

fn unusable(path: &Path, error: &rusqlite::Error) -> StoreError {
    let path = path.to_owned();
    if soundness::is_damage(error) {
        let how = format!("damaged ({})", soundness::damage_by(error));
        return StoreError::Damaged { path, how };
    }
    if soundness::is_busy(error) {
        return StoreError::Busy;
    }
    let why = soundness::said(error);
    StoreError::Unusable { path, why }
}

fn prepare(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(PATIENCE)?;
    connection.pragma_update(None, "journal_mode", "WAL")?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    Ok(())
}

/// All that is asked in a round stays prepared for the next.
const STATEMENTS: usize = 128;

impl Memory<'_> {
    /// An id that no other record has.
    pub fn new_id(&self) -> Result<String, StoreError> {
        Ok(self
            .transaction
            .query_row("SELECT lower(hex(randomblob(8)))", [], |row| row.get(0))?)
    }
}

/// A moment among the facts of an open file; none where it cannot be read.
fn moment_in(connection: &Connection, key: &str) -> rusqlite::Result<Option<DateTime<Utc>>> {
    use rusqlite::OptionalExtension;
    let read = "SELECT value FROM fact WHERE key = ?1";
    let text = connection.query_row(read, [key], |row| row.get::<_, String>(0));
    match text.optional() {
        Err(error) if soundness::is_unreadable(&error) => Ok(None),
        text => Ok(text?.and_then(|text| text.parse().ok())),
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
