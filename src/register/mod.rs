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

pub use accepted::{ACCEPTED, Accepted, AcceptedFile, append, append_all};
pub use batches::{BatchFile, Known};
pub use cell::{BadCell, instead, nearest};
pub use intervals::{Sightings, read_sightings};
pub use records::{RecordFile, identity_of};
pub use words::{RecordWords, parse_record_words};

use crate::fingerprint;
use crate::problem::Problem;
use std::collections::HashSet;
use std::fmt::Debug;
use std::path::Path;

/// A file of rows as it stood on the disk at one moment, all of it.
///
/// Its rows are read out of it one by one, as often as they are wanted: a register may have a million, and nobody keeps
/// them side by side.
pub trait RowFile: Debug + Send + Sync {
    /// What a row says.
    type Value;

    /// Hands on every row that can be used, in the order of the file, each identity at most once.
    fn read(&self, take: &mut dyn FnMut(Row<Self::Value>)) -> Told;

    /// SHA-256 of its bytes in hexadecimal; empty where it could not be read.
    fn hash(&self) -> &str;

    /// Tells this reading from every other that could say something else: by these bytes, this program, and whatever
    /// else its rows are made out by. None where there is nothing to read.
    fn print(&self) -> Option<String>;
}

/// What one reading of a file gave beside its rows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Told {
    /// What was wrong or worth a remark.
    pub problems: Vec<Problem>,
    /// The identities that stand in the file, of rows too that cannot be used: what was last good of these stays in force.
    pub identities: HashSet<String>,
    /// The file as a whole is of no use: all that was read from it before stays in force.
    pub unreadable: bool,
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

impl Told {
    fn nothing(problem: Problem) -> Self {
        Self {
            problems: vec![problem],
            unreadable: true,
            ..Self::default()
        }
    }
}

/// The print of a file by its place, its bytes, and the names that its cells are made out by.
fn print(path: &Path, hash: &str, names: &[&[String]]) -> String {
    let names: Vec<String> = names.iter().map(|names| names.join("\u{1f}")).collect();
    let path = path.display();
    let version = env!("CARGO_PKG_VERSION");
    fingerprint::of(format!(
        "{version}\u{1e}{path}\u{1e}{hash}\u{1e}{}",
        names.join("\u{1e}")
    ))
}

/// All rows of a file, and what else there is to say of it.
#[cfg(test)]
fn all<T>(file: &impl RowFile<Value = T>) -> (Vec<Row<T>>, Told) {
    let mut rows = Vec::new();
    let told = file.read(&mut |row| rows.push(row));
    (rows, told)
}
