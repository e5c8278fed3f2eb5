//! The growers' files of rows, and the program's own: how they come in and are written down.
//!
//! A file that is byte for byte what was written down last, and had nothing to tell, is known again by its fingerprint and
//! not read: its rows stand in the store.

use super::Incoming;
use crate::assemble::Register;
use crate::config::Config;
use crate::nursery::{Batch, Record};
use crate::problem::Problem;
use crate::register::{ACCEPTED, AcceptedFile, BatchFile, Known, RecordFile, Row, RowFile, Told};
use crate::store::{Absorbed, FileRead, Memory, Reading, StoreError};
use chrono::{DateTime, NaiveDate, Utc};
use std::fmt::Debug;
use std::path::Path;
use std::sync::Arc;

/// One file of rows as it came in.
#[derive(Debug)]
pub struct Came<T> {
    /// What it is to the program, whatever its name.
    role: &'static str,
    /// The name under which its rows are known.
    name: String,
    /// What is to be told of it.
    pub told: Told,
    /// The earliest date of its rows.
    pub first: Option<NaiveDate>,
    /// By what it is known again once its rows are written down; none where it has to be read again.
    reading: Option<Reading>,
    /// None where all its rows stand in the store already.
    rows: Option<Box<dyn RowFile<Value = T>>>,
}

impl<T> Came<T> {
    /// `begun` is the earliest date of rows that the file does not hand on, since they stand in the store.
    fn of(
        role: &'static str,
        path: &Path,
        file: impl RowFile<Value = T> + 'static,
        date: fn(&T) -> NaiveDate,
        (today, known): (NaiveDate, Option<Reading>),
        begun: Option<NaiveDate>,
    ) -> Self {
        let name = file_name(path);
        let print = file.print();
        if let Some(known) = known
            && print.as_ref() == Some(&known.print)
            && known.on <= today
        {
            return Self {
                role,
                name,
                told: Told::default(),
                first: known.first,
                reading: None,
                rows: None,
            };
        }
        let mut first = begun;
        let told = file.read(&mut |row| {
            let date = date(&row.value);
            first = Some(first.map_or(date, |first| first.min(date)));
        });
        let print = print.filter(|_| told.problems.is_empty());
        Self {
            role,
            name,
            told,
            first,
            reading: print.map(|print| Reading {
                print,
                on: today,
                first,
            }),
            rows: Some(Box::new(file)),
        }
    }

    /// Whether it was known again, and so not read.
    pub fn is_known(&self) -> bool {
        self.rows.is_none()
    }

    /// Writes its rows down; the problems are those to be told.
    pub(super) fn absorb(
        &self,
        memory: &Memory<'_>,
        write: impl FnOnce(&FileRead<'_, T>) -> Result<Absorbed, StoreError>,
    ) -> Result<Vec<Problem>, StoreError> {
        let file = &self.name;
        let mut problems = self.told.problems.clone();
        let Some(rows) = self.rows.as_ref().filter(|_| !self.told.unreadable) else {
            return Ok(problems);
        };
        let absorbed = write(&FileRead {
            file,
            identities: &self.told.identities,
            rows: &|take| {
                rows.read(&mut |row| take(&row.identity, &row.value));
            },
        })?;
        tracing::debug!(%file, rows = absorbed.written, "new or changed");
        let reading = self.reading.as_ref().filter(|_| !absorbed.refused);
        memory.remember_reading(self.role, reading)?;
        if absorbed.refused {
            problems.push(
                Problem::new(
                    file,
                    format!("{} of its rows are gone at once", absorbed.vanished.len()),
                    "nothing of this reading is used, all rows stay as they were",
                    "put the rows back; to begin a new season's file, give it a new name in the config",
                )
                .keyed(format!("{file} {} lost rows", rows.hash())),
            );
        } else {
            // Nobody takes a row out of the program's own file: those that are gone are those that are damaged, which is told.
            let damaged = if file == ACCEPTED {
                self.told.problems.len()
            } else {
                0
            };
            let gone = absorbed.vanished.iter().skip(damaged);
            problems.extend(gone.map(|row| vanished(file, row)));
        }
        Ok(problems)
    }
}

/// The files of rows as a rehearsal has them: read once, for all its rounds.
#[derive(Clone, Debug)]
pub struct ReadOnce {
    batches: Arc<AllRows<Batch>>,
    records: Option<Arc<AllRows<Record>>>,
}

impl ReadOnce {
    /// Reads them all, whatever the dates of their rows.
    pub fn of(config: &Config) -> Self {
        let latest = NaiveDate::MAX;
        let batches = AllRows::of(&BatchFile::open(&config.batches, names(config, latest)));
        let records = config.records.exists();
        let records = records.then(|| AllRows::of(&RecordFile::open(&config.records, latest)));
        Self {
            batches: Arc::new(batches),
            records: records.map(Arc::new),
        }
    }
}

/// All that one reading of a file gave.
#[derive(Debug)]
struct AllRows<T> {
    rows: Vec<Row<T>>,
    told: Told,
    hash: String,
    print: Option<String>,
}

impl<T> AllRows<T> {
    fn of(file: &impl RowFile<Value = T>) -> Self {
        let mut rows = Vec::new();
        let told = file.read(&mut |row| rows.push(row));
        Self {
            rows,
            told,
            hash: file.hash().to_owned(),
            print: file.print(),
        }
    }
}

/// A file as it stood by the end of the day before, without the rows that an earlier round has written down.
#[derive(Debug)]
struct AsItStood<T> {
    all: Arc<AllRows<T>>,
    today: NaiveDate,
    date: fn(&T) -> NaiveDate,
    /// Rows of days before that were written down.
    written: Option<NaiveDate>,
}

impl<T> AsItStood<T> {
    fn rows(&self) -> impl Iterator<Item = &Row<T>> {
        let before = |row: &&Row<T>| (self.date)(&row.value) < self.today;
        self.all.rows.iter().filter(before)
    }
}

impl<T: Clone + Debug + Send + Sync + 'static> AsItStood<T> {
    fn came(
        role: &'static str,
        path: &Path,
        all: &Arc<AllRows<T>>,
        date: fn(&T) -> NaiveDate,
        (today, known): (NaiveDate, Option<Reading>),
    ) -> Came<T> {
        let is_of_it = |known: &&Reading| {
            let print = all.print.as_deref();
            print.is_some_and(|print| known.print.starts_with(print)) && known.on <= today
        };
        let written = known.as_ref().filter(is_of_it);
        let file = Self {
            all: Arc::clone(all),
            today,
            date,
            written: written.map(|reading| reading.on),
        };
        let begun = written.and_then(|reading| reading.first);
        Came::of(role, path, file, date, (today, known), begun)
    }
}

impl<T: Clone + Debug + Send + Sync> RowFile for AsItStood<T> {
    type Value = T;

    fn read(&self, take: &mut dyn FnMut(Row<T>)) -> Told {
        let written = self.written.unwrap_or(NaiveDate::MIN);
        let new = |row: &&Row<T>| (self.date)(&row.value) >= written;
        self.rows().filter(new).cloned().for_each(take);
        self.all.told.clone()
    }

    fn hash(&self) -> &str {
        &self.all.hash
    }

    /// Rows are only ever added to it: it is the same as long as there are as many.
    fn print(&self) -> Option<String> {
        let print = self.all.print.as_ref()?;
        Some(format!("{print}-{}", self.rows().count()))
    }
}

/// What the cells of the register may name, and the last date that its rows may have.
pub fn names(config: &Config, today: NaiveDate) -> Known {
    Known {
        sites: config.sites.iter().map(|s| s.site.id.clone()).collect(),
        plans: config.plans.iter().map(|p| p.name.clone()).collect(),
        today,
    }
}

/// Reads the register and the field records, each unless it is `known` as what was written down last. A rehearsal reads of
/// them what was written by the end of yesterday.
pub fn read_register(
    config: &Config,
    register: &Register,
    now: DateTime<Utc>,
    known: impl Fn(&str) -> Option<Reading>,
) -> Incoming {
    const BATCHES: &str = "batches";
    const RECORDS: &str = "records";
    const CONFIRMED: &str = "what was confirmed";
    let today = now.with_timezone(&config.zone).date_naive();
    let as_known = |role| (today, known(role));
    let (batches, records) = match register {
        Register::AsItStands => {
            let (path, known) = (&config.batches, as_known(BATCHES));
            let file = BatchFile::open(path, names(config, today));
            let batches = Came::of(BATCHES, path, file, grafted_on, known, None);
            let mut records = Vec::new();
            let (path, known) = (&config.records, as_known(RECORDS));
            if path.exists() {
                let file = RecordFile::open(path, today);
                records.push(Came::of(RECORDS, path, file, date, known, None));
            }
            let (path, known) = (&config.accepted(), as_known(CONFIRMED));
            let file = AcceptedFile::open(path);
            records.push(Came::of(CONFIRMED, path, file, date, known, None));
            (batches, records)
        }
        Register::AsItStood(once) => {
            let (path, known) = (&config.batches, as_known(BATCHES));
            let batches = AsItStood::came(BATCHES, path, &once.batches, grafted_on, known);
            let records = once
                .records
                .iter()
                .map(|all| AsItStood::came(RECORDS, &config.records, all, date, as_known(RECORDS)));
            (batches, records.collect())
        }
    };
    Incoming {
        batches: Some(batches),
        records,
        ..Incoming::default()
    }
}

fn grafted_on(batch: &Batch) -> NaiveDate {
    batch.grafted_on
}

fn date(record: &Record) -> NaiveDate {
    record.date
}

/// The name under which the rows of a file are known in the store.
pub fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

fn vanished(file: &str, row: &str) -> Problem {
    Problem::new(
        file,
        format!("the row of {row} is not there any more"),
        "what it said stays in force",
        "put it back, or write down what became of it: closed for a batch, retract for a record",
    )
}

#[cfg(test)]
mod tests;
