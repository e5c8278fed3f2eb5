//! `accepted.csv`: the program's own file of the records it has confirmed to somebody, one a row, never rewritten.
//!
//! A record is on the disk before it is confirmed. A row that a power cut left without its end was never confirmed; the
//! next one to be written marks it as cut off, so that half a row is never taken for a whole one.

use super::words::{RecordWords, parse_record_words};
use super::{Row, RowFile, Told};
use crate::fingerprint;
use crate::nursery::{Count, Record, Target};
use crate::problem::Problem;
use crate::sheet::{Sheet, SheetRow, open};
use crate::whole_file;
use chrono::{DateTime, NaiveDate, SecondsFormat, Utc};
use std::collections::HashSet;
use std::fs::{File, OpenOptions};
use std::io::{self, Read as _, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// The name of the file.
pub const ACCEPTED: &str = "accepted.csv";

const COLUMNS: [&str; 8] = [
    "id",
    "accepted_at",
    "date",
    "batch",
    "what",
    "count",
    "by",
    "remarks",
];

/// Ends a row that was cut off: it then has too many cells to be read.
const CUT_OFF: &[u8] = b"\",,,,,,,,cut off\n";

/// Larger than any nursery's lifetime of notes.
const CAP: u64 = 512 << 20;

/// One record that was confirmed.
#[derive(Clone, Debug, PartialEq)]
pub struct Accepted {
    /// What was written down.
    pub record: Record,
    /// When.
    pub accepted_at: DateTime<Utc>,
}

/// Writes the record to the end of the file, made if need be, and returns when it is on the disk.
pub fn append(
    path: &Path,
    record: &Record,
    accepted_at: DateTime<Utc>,
    id: &str,
) -> io::Result<()> {
    append_all(path, [(id, record)], accepted_at)
}

/// The same for several records, each with its id: all of them are on the disk when it returns, and after a crash within
/// it those at the beginning may be.
pub fn append_all<'r>(
    path: &Path,
    records: impl IntoIterator<Item = (&'r str, &'r Record)>,
    accepted_at: DateTime<Utc>,
) -> io::Result<()> {
    whole_file::begin(path)?;
    let mut file = OpenOptions::new().read(true).append(true).open(path)?;
    // Two notes at once must not both write the header, nor take each other's half-written row for a cut-off one.
    file.lock()?;
    let length = file.metadata()?.len();
    let mut bytes = Vec::new();
    if length == 0 {
        bytes.extend(row(COLUMNS.map(str::to_owned))?);
    } else if !ends_with_line_end(&mut file)? {
        bytes.extend(CUT_OFF);
    }
    for (id, record) in records {
        bytes.extend(row(cells(record, accepted_at, id))?);
    }
    file.write_all(&bytes)?;
    file.sync_all()?;
    if length == 0 {
        // The name of a new file is only safe once its folder is.
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        File::open(folder.unwrap_or(Path::new(".")))?.sync_all()?;
    }
    Ok(())
}

/// What was confirmed so far.
#[derive(Debug)]
pub struct AcceptedFile {
    path: PathBuf,
    bytes: Result<Vec<u8>, Problem>,
    hash: String,
}

impl AcceptedFile {
    /// Opens the file; one that is not there yet is empty.
    pub fn open(path: &Path) -> Self {
        let bytes = bytes(path);
        Self {
            path: path.to_owned(),
            hash: bytes
                .as_ref()
                .map_or_else(|_| String::new(), fingerprint::of),
            bytes,
        }
    }

    /// What was confirmed, and when.
    pub fn confirmed(&self, take: &mut dyn FnMut(Row<Accepted>)) -> Told {
        let bytes = match &self.bytes {
            Ok(bytes) => bytes,
            Err(problem) => return Told::nothing(problem.clone()),
        };
        // A last row without its end was never confirmed, or is being written now.
        let whole = bytes
            .iter()
            .rposition(|&b| b == b'\n')
            .map_or(0, |at| at + 1);
        read(&bytes[..whole], &self.path, take).unwrap_or_else(|error| {
            Told::nothing(Problem::new(
                self.path.display().to_string(),
                format!("the file could not be read to its end ({error})"),
                "the records confirmed earlier are not read from it",
                "see that it is the file that the program wrote",
            ))
        })
    }
}

impl RowFile for AcceptedFile {
    type Value = Record;

    /// The identity of a row is its id.
    fn read(&self, take: &mut dyn FnMut(Row<Record>)) -> Told {
        self.confirmed(&mut |row| {
            take(Row {
                line: row.line,
                value: row.value.record,
                identity: row.identity,
            });
        })
    }

    fn hash(&self) -> &str {
        &self.hash
    }

    fn print(&self) -> Option<String> {
        let there = self.bytes.as_ref().is_ok_and(|bytes| !bytes.is_empty());
        there.then(|| super::print(&self.path, &self.hash, &[]))
    }
}

fn bytes(path: &Path) -> Result<Vec<u8>, Problem> {
    match std::fs::metadata(path) {
        // Where its folder cannot be, there is nothing either; that trouble is told where the folder is needed.
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
            ) =>
        {
            return Ok(Vec::new());
        }
        Ok(about) if about.is_file() && about.len() == 0 => return Ok(Vec::new()), // made, and then the power went
        _ => {}
    }
    let unread = "the records confirmed earlier are not read from it";
    let opened = open(path, CAP, unread)?;
    let mut bytes = Vec::with_capacity(opened.length as usize + 1);
    let read = opened.file.take(CAP).read_to_end(&mut bytes);
    read.map_err(|error| {
        Problem::new(
            path.display().to_string(),
            format!("the file could not be read ({error})"),
            unread,
            "see whether the disk it lies on is well",
        )
    })?;
    Ok(bytes)
}

fn read(bytes: &[u8], path: &Path, take: &mut dyn FnMut(Row<Accepted>)) -> io::Result<Told> {
    let mut sheet = Sheet::new(bytes, Some(b','))?;
    let mut ids = HashSet::new();
    let mut told = Told::default();
    while let Some(row) = sheet.next_row()? {
        if row.cells == COLUMNS {
            continue;
        }
        match accepted(&row) {
            Ok(value) if ids.insert(row.cells[0].clone()) => take(Row {
                line: row.number,
                value,
                identity: row.cells[0].clone(),
            }),
            Ok(_) => {} // the same note written again after a crash
            Err(what) => {
                // It is there, and is not asked about as if it were gone.
                told.identities.extend(row.cells.first().cloned());
                let content = fingerprint::of(row.cells.join("\u{1f}"));
                let place = format!("{}, row {}", path.display(), row.number);
                told.problems.push(
                    Problem::new(
                        place,
                        what,
                        "the row is not read; where it was read before, what it said then stays in force",
                        "see with due whether its record is missing, and only then write it down again with note",
                    )
                    .keyed(format!("{}, {}", path.display(), &content[..16])),
                );
            }
        }
    }
    told.identities.extend(ids);
    Ok(told)
}

fn accepted(row: &SheetRow) -> Result<Accepted, String> {
    let cells: Vec<&str> = row.cells.iter().map(String::as_str).collect();
    let &[id, at, date, batch, what, count, by, remarks] = cells.as_slice() else {
        return Err("the row was cut off when it was written, before it was confirmed".into());
    };
    if row.stray_quote || id.is_empty() {
        return Err("the row is damaged".into());
    }
    let words = RecordWords {
        date,
        batch,
        what,
        count,
        by,
        remarks,
    };
    // Whether the day lay in the future was asked when it was accepted.
    let record = parse_record_words(words, NaiveDate::MAX).map_err(|bad| {
        let told: Vec<String> = bad.iter().map(|bad| bad.what.clone()).collect();
        told.join(", ")
    })?;
    let accepted_at = DateTime::parse_from_rfc3339(at)
        .map_err(|_| format!("'{at}' is not a moment"))?
        .to_utc();
    Ok(Accepted {
        record,
        accepted_at,
    })
}

fn cells(record: &Record, accepted_at: DateTime<Utc>, id: &str) -> [String; 8] {
    let batch = match &record.target {
        Target::Batch(name) => name.clone(),
        Target::Block(name) => format!("block:{name}"),
    };
    let count = match record.count {
        None => String::new(),
        Some(Count::Of(number)) => number.to_string(),
        Some(Count::Share(seen, of)) => format!("{seen}/{of}"),
    };
    [
        id.to_owned(),
        accepted_at.to_rfc3339_opts(SecondsFormat::AutoSi, true),
        record.date.to_string(),
        batch,
        record.what.name().to_owned(),
        count,
        record.by.clone(),
        record.remarks.clone(),
    ]
}

/// One line whatever is in it: a line break inside a cell would make a whole row look cut off.
fn row(cells: [String; 8]) -> io::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(cells.map(|cell| cell.replace(char::is_control, " ")))?;
    writer.into_inner().map_err(csv::IntoInnerError::into_error)
}

fn ends_with_line_end(file: &mut File) -> io::Result<bool> {
    let mut last = [0];
    file.seek(SeekFrom::End(-1))?;
    file.read_exact(&mut last)?;
    Ok(last == *b"\n")
}

#[cfg(test)]
mod tests;
