//! The register and the field records, as growers keep them in a spreadsheet.
//!
//! Reads `batches.csv`, `records.csv` and the program's own `accepted.csv` into the words of the nursery. Every row that
//! cannot be used is named beside those that can; what was good of it before is the caller's to keep in force. Knows
//! nothing of the store, of care plans' contents or of the clock: it is told today's date.

mod accepted;
mod batches;
mod cell;
mod intervals;
mod records;
mod table;
mod waiting;
mod words;

pub use accepted::{ACCEPTED, Accepted, append, append_all, read_accepted};
pub use batches::{BatchFile, Known, read_batches};
pub use cell::{BadCell, instead, nearest};
pub use intervals::{Sightings, read_sightings};
pub use records::{RecordFile, identity_of, read_records};
pub use words::{RecordWords, parse_record_words};

use crate::problem::Problem;

/// What one reading of a file gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Read<T> {
    /// The rows that can be used, in the order of the file; each identity at most once.
    pub rows: Vec<Row<T>>,
    /// What was wrong or worth a remark.
    pub problems: Vec<Problem>,
    /// Identities of rows that are there but cannot be used: what was last good of them stays in force.
    pub named_in_bad_rows: Vec<String>,
    /// The file as a whole is of no use: all that was read from it before stays in force.
    pub unreadable: bool,
    /// SHA-256 of the file's bytes in hexadecimal; empty where unreadable.
    pub hash: String,
}

/// One row that can be used.
#[derive(Clone, Debug, PartialEq)]
pub struct Row<T> {
    /// Its number as a spreadsheet shows it.
    pub line: u64,
    /// What it says.
    pub value: T,
    /// Tells it from the other rows, and finds it again at the next reading.
    pub identity: String,
}

impl<T> Read<T> {
    /// The same reading of something else.
    pub fn map<U>(self, of: impl Fn(T) -> U) -> Read<U> {
        let row = |row: Row<T>| Row {
            line: row.line,
            value: of(row.value),
            identity: row.identity,
        };
        Read {
            rows: self.rows.into_iter().map(row).collect(),
            problems: self.problems,
            named_in_bad_rows: self.named_in_bad_rows,
            unreadable: self.unreadable,
            hash: self.hash,
        }
    }

    /// The same reading with these rows of it only.
    #[must_use]
    pub fn filtered(&self, wanted: impl Fn(&T) -> bool) -> Self
    where
        T: Clone,
    {
        let rows = self.rows.iter().filter(|row| wanted(&row.value));
        Read {
            rows: rows.cloned().collect(),
            problems: self.problems.clone(),
            named_in_bad_rows: self.named_in_bad_rows.clone(),
            unreadable: self.unreadable,
            hash: self.hash.clone(),
        }
    }

    fn nothing(problems: Vec<Problem>) -> Self {
        Self {
            rows: Vec::new(),
            problems,
            named_in_bad_rows: Vec::new(),
            unreadable: true,
            hash: String::new(),
        }
    }
}
