//! `records.csv`: what was seen and done in the field, one record a row.
//!
//! A record has no name: it is known by batch, date, what, and which of several alike. A row whose count is bad still
//! takes its place among those alike, so that the others keep theirs.

use super::table::{Column, Table, TableRow};
use super::waiting::Waiting;
use super::words::{self, RecordWords, parse_record_words};
use super::{Row, RowFile, Told, cell};
use crate::nursery::{Record, Target, What};
use crate::problem::Problem;
use chrono::NaiveDate;
use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

/// The field records as they stand.
#[derive(Debug)]
pub struct RecordFile {
    path: PathBuf,
    table: Result<Table, Problem>,
    today: NaiveDate,
}

const DATE: usize = 0;
const BATCH: usize = 1;
const WHAT: usize = 2;
const COUNT: usize = 3;
const BY: usize = 4;
const REMARKS: usize = 5;

const COLUMNS: [Column; 6] = [
    Column {
        name: "date",
        required: true,
    },
    Column {
        name: "batch",
        required: true,
    },
    Column {
        name: "what",
        required: true,
    },
    Column {
        name: "count",
        required: false,
    },
    Column {
        name: "by",
        required: false,
    },
    Column {
        name: "remarks",
        required: false,
    },
];

impl RecordFile {
    /// Opens the field records; no record is of a day after `today`.
    pub fn open(path: &Path, today: NaiveDate) -> Self {
        Self {
            path: path.to_owned(),
            table: Table::open(path, &COLUMNS),
            today,
        }
    }
}

impl RowFile for RecordFile {
    type Value = Record;

    fn read(&self, take: &mut dyn FnMut(Row<Record>)) -> Told {
        match &self.table {
            Ok(table) => read(table, self.today, take).unwrap_or_else(Told::nothing),
            Err(problem) => Told::nothing(problem.clone()),
        }
    }

    fn hash(&self) -> &str {
        self.table.as_ref().map_or("", |table| &table.hash)
    }

    fn print(&self) -> Option<String> {
        let hash = &self.table.as_ref().ok()?.hash;
        Some(super::print(&self.path, hash, &[]))
    }
}

/// What a record is known by; `nth` counts those alike from 1.
pub fn identity_of(target: &Target, date: NaiveDate, what: What, nth: u32) -> String {
    let what = what.name();
    match target {
        Target::Batch(name) => format!("{name} | {date} | {what} | {nth}"),
        Target::Block(name) => format!("block:{name} | {date} | {what} | {nth}"),
    }
}

fn read(
    table: &Table,
    today: NaiveDate,
    take: &mut dyn FnMut(Row<Record>),
) -> Result<Told, Problem> {
    let mut problems: Vec<Problem> = table.remark.iter().cloned().collect();
    let mut waiting = Waiting::default();
    let mut identities = HashSet::new();
    let mut alike: HashMap<(Target, NaiveDate, What), u32> = HashMap::new();
    let mut rows = table.rows()?;
    while let Some(row) = rows.next_row()? {
        let identity = known_by(&row).map(|(target, date, what)| {
            let nth = alike.entry((target.clone(), date, what)).or_default();
            *nth += 1;
            identity_of(&target, date, what, *nth)
        });
        identities.extend(identity.clone());
        match (record(&row, today), identity) {
            (Ok(value), Some(identity)) => take(Row {
                line: row.line,
                value,
                identity,
            }),
            (Ok(_), None) => {} // cannot be: a record that parses is known by what was parsed
            (Err(bad), _) => {
                if !waiting.takes(&row, &bad) {
                    problems.extend(bad.iter().map(|bad| row.problem(bad)));
                }
            }
        }
    }
    problems.extend(waiting.problem());
    problems.extend(rows.remark());
    Ok(Told {
        problems,
        identities,
        unreadable: false,
    })
}

fn known_by(row: &TableRow) -> Option<(Target, NaiveDate, What)> {
    Some((
        words::target(row.cell(BATCH)).ok()?,
        cell::iso_date(row.cell(DATE))?,
        words::what(row.cell(WHAT)).ok()?,
    ))
}

fn record(row: &TableRow, today: NaiveDate) -> Result<Record, Vec<cell::BadCell>> {
    if let Some(bad) = &row.bad {
        return Err(vec![bad.clone()]);
    }
    let words = RecordWords {
        date: row.cell(DATE),
        batch: row.cell(BATCH),
        what: row.cell(WHAT),
        count: row.cell(COUNT),
        by: row.cell(BY),
        remarks: row.cell(REMARKS),
    };
    parse_record_words(words, today)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nursery::Count;
    use crate::register::all;
    use proptest::prelude::*;

    fn read_text(text: impl AsRef<[u8]>) -> (Vec<Row<Record>>, Told) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.csv");
        std::fs::write(&path, text).unwrap();
        all(&RecordFile::open(&path, "2026-08-20".parse().unwrap()))
    }

    #[track_caller]
    fn check(rows: &str, used: &[&str], named: &[&str], problems: &[&str]) {
        let (rows, told) = read_text(format!("date,batch,what,count,remarks\n{rows}"));
        let found: Vec<&str> = rows.iter().map(|row| row.identity.as_str()).collect();
        let problems_told: Vec<String> = told.problems.iter().map(ToString::to_string).collect();
        assert_eq!(found, used);
        let standing: HashSet<&str> = told.identities.iter().map(String::as_str).collect();
        assert_eq!(standing, used.iter().chain(named).copied().collect());
        assert_eq!(problems_told, problems);
    }

    #[test]
    fn those_alike_are_counted() {
        check(
            "2026-08-18,A1,headed-back,100\n2026-08-18,A1,headed-back,80\n2026-08-18,A2,lines,3/10\n2026-08-18,Block:C,looked,\n",
            &[
                "A1 | 2026-08-18 | headed-back | 1",
                "A1 | 2026-08-18 | headed-back | 2",
                "A2 | 2026-08-18 | lines | 1",
                "block:C | 2026-08-18 | looked | 1",
            ],
            &[],
            &[],
        );
    }

    #[test]
    fn a_bad_row_keeps_its_place_among_those_alike() {
        check(
            "2026-08-18,A1,headed-back,some\n2026-08-18,A1,headed-back,80\n",
            &["A1 | 2026-08-18 | headed-back | 2"],
            &["A1 | 2026-08-18 | headed-back | 1"],
            &[
                "records.csv, row 2, column count: 'some' is not a count for headed-back; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, or leave it empty for all that is left.",
            ],
        );
    }

    #[test]
    fn rows_of_days_to_come_are_one_sentence() {
        check(
            "2026-08-25,A1,lines,\n2026-08-21,A1,lines,\n2026-08-19,A1,lines,\n",
            &["A1 | 2026-08-19 | lines | 1"],
            &["A1 | 2026-08-25 | lines | 1", "A1 | 2026-08-21 | lines | 1"],
            &[
                "records.csv, row 2: this row and 1 more are dated after today, from 2026-08-21 to 2026-08-25; each waits until its day, the last good version of it stays in force if there was one. Correct the dates that are slips.",
            ],
        );
    }

    #[test]
    fn trouble_reads_well() {
        check(
            "2026-08-21,A1,lines,\n18/08/2026,A1,line,\n",
            &[],
            &["A1 | 2026-08-21 | lines | 1"],
            &[
                "records.csv, row 3, column date: '18/08/2026' may have the day first or the month first; this row is not used, the last good version of it stays in force if there was one. Write the year first, as 2026-08-18 for 18 August 2026.",
                "records.csv, row 3, column what: 'line' is not a word of the field records; this row is not used, the last good version of it stays in force if there was one. Perhaps 'lines' is meant.",
                "records.csv, row 2, column date: 2026-08-21 is in the future (today is 2026-08-20); the row waits until then, the last good version of it stays in force if there was one. Correct the date if it is a slip.",
            ],
        );
    }

    #[test]
    fn a_semicolon_file_has_decimal_commas() {
        let (rows, told) = read_text("what;batch;date;count\nhead-length;A1;2026-08-18;32,5\n");
        assert_eq!(told.problems, []);
        assert_eq!(rows[0].value.count, Some(Count::Of(32.5)));
        assert_eq!(rows[0].line, 2);
    }

    proptest! {
        #[test]
        fn whatever_is_in_the_file_is_borne(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
            let mut text = b"date,batch,what,count\n2026-08-18,A1,head-length,".to_vec();
            text.extend(&bytes);
            for text in [bytes, text] {
                for row in read_text(text).0 {
                    if let Some(Count::Of(count)) = row.value.count {
                        prop_assert!(count.is_finite() && count >= 0.0);
                    }
                }
            }
        }
    }
}
