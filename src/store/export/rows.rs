//! The rows of one file, one after the other, whichever form it has: bounded, numbered, each value judged by its column.
//! Knows nothing of the database.

use super::Form;
use super::cell::{Column, beginning, from_cell, from_json};
use rusqlite::types::Value;
use serde_json::{Map, Value as Json};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};

/// The longest row: no mail server takes a letter of half that size.
const LONGEST: u64 = 64 << 20;

/// So many cells or texts within cells no row of ours has: each takes room before it is known to be none of ours.
const MOST_COMMAS: usize = 1 << 20;

/// What is wrong with a row.
pub struct Bad {
    /// In which column, where it is in one.
    pub column: Option<String>,
    /// What.
    pub what: String,
}

impl Bad {
    /// It is the row as a whole.
    pub fn row(what: impl Into<String>) -> Self {
        Self {
            column: None,
            what: what.into(),
        }
    }
}

/// The rows of a file, one after the other; no row may be longer than [`LONGEST`].
pub struct Rows {
    /// The number of the row that was read last, as a spreadsheet or an editor counts.
    pub row: u64,
    from: Reading,
}

enum Reading {
    Csv(Box<csv::Reader<Bounded>>),
    Json(BufReader<File>),
}

impl Rows {
    /// Begins with the first row of a file.
    pub fn begin(form: Form, file: File) -> Self {
        let from = match form {
            Form::Csv => Reading::Csv(Box::new(
                csv::ReaderBuilder::new()
                    .has_headers(false)
                    .flexible(true)
                    .from_reader(Bounded {
                        file,
                        left: LONGEST,
                        commas: 0,
                    }),
            )),
            Form::Json => Reading::Json(BufReader::new(file)),
        };
        Self { row: 0, from }
    }

    /// Reads the names of the columns, where the form has them.
    pub fn head(&mut self, columns: &[Column]) -> Result<(), Bad> {
        let Reading::Csv(_) = self.from else {
            return Ok(());
        };
        let names: Vec<&str> = columns.iter().map(|c| c.name.as_str()).collect();
        let found = self.cells()?.unwrap_or_default();
        if found.iter().eq(names.iter().copied()) {
            return Ok(());
        }
        let found: Vec<&str> = found.iter().take(names.len() + 1).collect();
        Err(Bad::row(format!(
            "the columns are '{}' and should be '{}'",
            beginning(&found.join(",")),
            names.join(",")
        )))
    }

    /// The values of the next row; none at the end.
    pub fn next(&mut self, columns: &[Column]) -> Result<Option<Vec<Value>>, Bad> {
        match self.from {
            Reading::Csv(_) => {
                let Some(cells) = self.cells()? else {
                    return Ok(None);
                };
                if cells.len() != columns.len() {
                    return Err(Bad::row(format!(
                        "has {} cells instead of {}",
                        cells.len(),
                        columns.len()
                    )));
                }
                values(columns, cells.iter(), from_cell).map(Some)
            }
            Reading::Json(_) => {
                let Some(object) = self.object()? else {
                    return Ok(None);
                };
                let strange = object
                    .keys()
                    .find(|key| columns.iter().all(|c| c.name != **key));
                if let Some(key) = strange {
                    return Err(Bad::row(format!("'{}' is no column", beginning(key))));
                }
                let found: Option<Vec<&Json>> = columns
                    .iter()
                    .map(|column| object.get(&column.name))
                    .collect();
                let found = found.ok_or_else(|| Bad::row("has not all columns"))?;
                values(columns, found, from_json).map(Some)
            }
        }
    }

    fn cells(&mut self) -> Result<Option<csv::StringRecord>, Bad> {
        self.row += 1;
        let Reading::Csv(file) = &mut self.from else {
            return Ok(None);
        };
        (file.get_mut().left, file.get_mut().commas) = (LONGEST, 0);
        let mut record = csv::ByteRecord::new();
        match file.read_byte_record(&mut record) {
            Ok(false) => Ok(None),
            Ok(true) => csv::StringRecord::from_byte_record(record)
                .map(Some)
                .map_err(|_| Bad::row(NOT_TEXT)),
            Err(error) => Err(Bad::row(match error.into_kind() {
                csv::ErrorKind::Io(error) => error.to_string(),
                other => format!("{other:?}"),
            })),
        }
    }

    fn object(&mut self) -> Result<Option<Map<String, Json>>, Bad> {
        self.row += 1;
        let Reading::Json(file) = &mut self.from else {
            return Ok(None);
        };
        let mut line = Vec::new();
        let read = file.by_ref().take(LONGEST).read_until(b'\n', &mut line);
        match read {
            Ok(0) => return Ok(None),
            Err(error) => return Err(Bad::row(error.to_string())),
            Ok(_) if line.last() != Some(&b'\n') => return Err(Bad::row(too_long())),
            Ok(_) => {}
        }
        if commas(&line) > MOST_COMMAS {
            return Err(Bad::row(TOO_MANY));
        }
        let line = std::str::from_utf8(&line).map_err(|_| Bad::row(NOT_TEXT))?;
        let object = serde_json::from_str(line);
        object.map(Some).map_err(|error| {
            Bad::row(format!(
                "is no JSON object, by character {}",
                error.column()
            ))
        })
    }
}

fn commas(bytes: &[u8]) -> usize {
    bytes.split(|byte| *byte == b',').count() - 1
}

const TOO_MANY: &str = "has far too many cells";

const NOT_TEXT: &str = "is no text in UTF-8";

fn too_long() -> String {
    format!("is longer than {} MB", LONGEST >> 20)
}

fn values<T>(
    columns: &[Column],
    found: impl IntoIterator<Item = T>,
    read: impl Fn(T, &Column) -> Result<Value, String>,
) -> Result<Vec<Value>, Bad> {
    let value = |(column, found): (&Column, T)| {
        read(found, column).map_err(|what| Bad {
            column: Some(column.name.clone()),
            what,
        })
    };
    columns.iter().zip(found).map(value).collect()
}

/// A file that was written whole does.
pub fn ends_with_a_line(file: &mut File) -> io::Result<bool> {
    let mut last = [b'\n'];
    if file.metadata()?.len() > 0 {
        file.seek(SeekFrom::End(-1))?;
        file.read_exact(&mut last)?;
        file.rewind()?;
    }
    Ok(last == *b"\n")
}

/// A file that gives no more than was left to it.
struct Bounded {
    file: File,
    left: u64,
    commas: usize,
}

impl Read for Bounded {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.left == 0 {
            return Err(io::Error::other(too_long()));
        }
        let read = self.file.read(buffer)?;
        self.left = self.left.saturating_sub(read as u64);
        self.commas += commas(&buffer[..read]);
        if self.commas > MOST_COMMAS {
            return Err(io::Error::other(TOO_MANY));
        }
        Ok(read)
    }
}
