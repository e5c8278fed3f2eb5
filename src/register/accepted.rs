//! `accepted.csv`: the program's own file of the records it has confirmed to somebody, one a row, never rewritten.
//!
//! A record is on the disk before it is confirmed. A row that a power cut left without its end was never confirmed; the
//! next one to be written marks it as cut off, so that half a row is never taken for a whole one.

use super::words::{RecordWords, parse_record_words};
use super::{Read, Row};
use crate::fingerprint;
use crate::nursery::{Count, Record, Target};
use crate::problem::Problem;
use crate::sheet::{Sheet, SheetRow, open};
use crate::whole_file;
use chrono::{DateTime, NaiveDate, SecondsFormat, Utc};
use std::collections::HashSet;
use std::fs::{File, OpenOptions};
use std::io::{self, Read as _, Seek, SeekFrom, Write};
use std::path::Path;

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

/// Reads what was confirmed so far; a file that is not there yet is empty. The identity of a row is its id.
pub fn read_accepted(path: &Path) -> Read<Accepted> {
    let empty = || Read {
        unreadable: false,
        ..Read::nothing(Vec::new())
    };
    match std::fs::metadata(path) {
        // Where its folder cannot be, there is nothing either; that trouble is told where the folder is needed.
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
            ) =>
        {
            return empty();
        }
        Ok(about) if about.is_file() && about.len() == 0 => return empty(), // made, and then the power went
        _ => {}
    }
    let mut bytes = Vec::new();
    let opened = open(
        path,
        CAP,
        "the records confirmed earlier are not read from it",
    );
    let read = opened.and_then(|opened| {
        opened.file.take(CAP).read_to_end(&mut bytes).map_err(|e| {
            Problem::new(
                path.display().to_string(),
                format!("the file could not be read ({e})"),
                "the records confirmed earlier are not read from it",
                "see whether the disk it lies on is well",
            )
        })
    });
    if let Err(problem) = read {
        return Read::nothing(vec![problem]);
    }
    // A last row without its end was never confirmed, or is being written now.
    let whole = bytes
        .iter()
        .rposition(|&b| b == b'\n')
        .map_or(0, |at| at + 1);
    let mut found = Read {
        hash: fingerprint::of(&bytes),
        ..empty()
    };
    if let Err(error) = read_rows(&bytes[..whole], path, &mut found) {
        return Read::nothing(vec![Problem::new(
            path.display().to_string(),
            format!("the file could not be read to its end ({error})"),
            "the records confirmed earlier are not read from it",
            "see that it is the file that the program wrote",
        )]);
    }
    found
}

fn read_rows(bytes: &[u8], path: &Path, found: &mut Read<Accepted>) -> io::Result<()> {
    let mut sheet = Sheet::new(bytes, Some(b','))?;
    let mut ids = HashSet::new();
    while let Some(row) = sheet.next_row()? {
        if row.cells == COLUMNS {
            continue;
        }
        match accepted(&row) {
            Ok(value) if ids.insert(row.cells[0].clone()) => found.rows.push(Row {
                line: row.number,
                value,
                identity: row.cells[0].clone(),
            }),
            Ok(_) => {} // the same note written again after a crash
            Err(what) => {
                // It is there, and is not asked about as if it were gone.
                found.named_in_bad_rows.extend(row.cells.first().cloned());
                let content = fingerprint::of(row.cells.join("\u{1f}"));
                let place = format!("{}, row {}", path.display(), row.number);
                found.problems.push(
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
    Ok(())
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
