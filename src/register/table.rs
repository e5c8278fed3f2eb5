//! One of the growers' tables: finds the columns by their names and hands on rows in a fixed order of columns.
//!
//! Whatever makes the table as a whole useless (no file, a column missing or twice) is one problem. It knows which
//! columns there are and not what their cells mean.

use super::cell::{BadCell, in_words, nearest};
use crate::fingerprint;
use crate::problem::Problem;
use crate::sheet::{self, Sheet, open};
use std::io::{self, Read};
use std::path::Path;

/// A register is no larger.
const CAP: u64 = 512 << 20;

const UNUSED: &str = "the whole file is not used, what was read from it before stays in force";

/// A column by its place in the table's own order.
pub struct Column {
    pub name: &'static str,
    pub required: bool,
}

/// A table as it stood on the disk at one moment, all of it.
#[derive(Debug)]
pub struct Table {
    bytes: Vec<u8>,
    /// For each column where it stands in the file.
    places: Vec<Option<usize>>,
    width: usize,
    file: String,
    path: String,
    /// What does not stop it.
    pub remark: Option<Problem>,
    /// SHA-256 of the bytes in hexadecimal.
    pub hash: String,
}

/// Its rows, one after the other.
pub struct Rows<'t> {
    table: &'t Table,
    sheet: Sheet<&'t [u8]>,
    row: sheet::Row,
}

/// One row, its cells in the order of the table's columns; empty where the file has none.
pub struct TableRow<'r> {
    pub line: u64,
    table: &'r Table,
    row: &'r sheet::Row,
    /// What is wrong with the row as a whole.
    pub bad: Option<BadCell>,
}

impl Table {
    /// Reads the file, and of its rows the header.
    pub fn open(path: &Path, columns: &[Column]) -> Result<Self, Problem> {
        let opened = open(path, CAP, UNUSED)?;
        let place = path.display().to_string();
        let unreadable = |error: &io::Error| cannot_go_on(&place, error);
        // All of it at once: the hash and the rows must be of the same bytes, even while a spreadsheet saves anew.
        let mut bytes = Vec::with_capacity(opened.length as usize + 1);
        opened
            .file
            .take(CAP)
            .read_to_end(&mut bytes)
            .map_err(|e| unreadable(&e))?;
        let hash = fingerprint::of(&bytes);
        let header = Sheet::new(bytes.as_slice(), None)
            .and_then(|mut sheet| sheet.next_row())
            .map_err(|e| unreadable(&e))?
            .unwrap_or_default();
        let file = path
            .file_name()
            .map_or_else(|| place.clone(), |name| name.to_string_lossy().into_owned());
        let places = places(&place, &header, columns)?;
        Ok(Self {
            remark: unknown_columns(&file, &header, &places),
            bytes,
            places,
            width: header.cells.len(),
            file,
            path: place,
            hash,
        })
    }

    /// The rows under the header.
    pub fn rows(&self) -> Result<Rows<'_>, Problem> {
        let mut row = sheet::Row::default();
        let sheet = Sheet::new(self.bytes.as_slice(), None).and_then(|mut sheet| {
            sheet.read_row(&mut row)?;
            Ok(sheet)
        });
        Ok(Rows {
            table: self,
            sheet: sheet.map_err(|error| cannot_go_on(&self.path, &error))?,
            row,
        })
    }
}

impl Rows<'_> {
    /// The next row; an error ends the use of the whole file.
    pub fn next_row(&mut self) -> Result<Option<TableRow<'_>>, Problem> {
        let found = self
            .sheet
            .read_row(&mut self.row)
            .map_err(|error| cannot_go_on(&self.table.path, &error))?;
        Ok(found.then(|| TableRow {
            line: self.row.number,
            table: self.table,
            row: &self.row,
            bad: self.bad_row(),
        }))
    }

    /// What is to be said of the file after its last row.
    pub fn remark(&self) -> Option<Problem> {
        self.sheet.not_utf8().then(|| {
            Problem::new(
                &*self.table.file,
                "the file is not in UTF-8",
                "it was read as Windows-1252",
                "if a letter with an accent looks wrong in a letter to you, save the file as CSV UTF-8",
            )
        })
    }

    fn bad_row(&self) -> Option<BadCell> {
        if self.row.stray_quote {
            return Some(BadCell::new(
                "",
                "a quotation mark is opened and never closed",
                "close it, or take it away",
            ));
        }
        let (filled, width) = (self.row.cells.filled(), self.table.width);
        (filled > width).then(|| {
            BadCell::new(
                "",
                format!("it has {filled} cells under {width} column names"),
                format!(
                    "put a text that has a {} in it between quotation marks",
                    delimiter_name(self.sheet.delimiter())
                ),
            )
        })
    }
}

impl TableRow<'_> {
    /// The text of the column at that place in the table's order.
    pub fn cell(&self, column: usize) -> &str {
        let place = self.table.places.get(column).copied().flatten();
        let cell = place.map_or("", |place| self.row.cells.get(place));
        if self.row.stray_quote {
            // Its name is still wanted: what was last good of the row stays in force.
            return cell.trim_matches('"');
        }
        cell
    }

    /// The name of the file.
    pub fn file(&self) -> &str {
        &self.table.file
    }

    /// A bad cell of this row as a problem; its key is made of the row's content.
    pub fn problem(&self, bad: &BadCell) -> Problem {
        let (file, line) = (self.file(), self.line);
        let cells: Vec<&str> = (0..self.table.places.len())
            .map(|column| self.cell(column))
            .collect();
        let content = fingerprint::of(cells.join("\u{1f}"));
        let content = &content[..16];
        let (place, key) = match bad.column {
            "" => (format!("{file}, row {line}"), format!("{file}, {content}")),
            column => (
                format!("{file}, row {line}, column {column}"),
                format!("{file}, {column}, {content}"),
            ),
        };
        Problem::new(place, &bad.what, bad.done, &bad.remedy).keyed(key)
    }
}

/// Header names are told apart without regard to case, and `grafted on` is `grafted_on`.
fn plain(name: &str) -> String {
    name.to_lowercase().replace([' ', '-'], "_")
}

fn places(
    place: &str,
    header: &sheet::SheetRow,
    columns: &[Column],
) -> Result<Vec<Option<usize>>, Problem> {
    let names: Vec<String> = header.cells.iter().map(|name| plain(name)).collect();
    let problem = |what: String, remedy: String| {
        Problem::new(place, what, UNUSED, remedy).keyed(format!("{place}: cannot be used"))
    };
    let places: Vec<Option<usize>> = columns
        .iter()
        .map(|column| names.iter().position(|name| name == column.name))
        .collect();
    let twice = columns
        .iter()
        .find(|column| names.iter().filter(|name| *name == column.name).count() > 1);
    if let Some(column) = twice {
        return Err(problem(
            format!("two columns are named {}", column.name),
            "rename or delete the one that is not meant".into(),
        ));
    }
    let missing: Vec<&str> = columns
        .iter()
        .zip(&places)
        .filter(|(column, place)| column.required && place.is_none())
        .map(|(column, _)| column.name)
        .collect();
    let Some(first) = missing.first() else {
        return Ok(places);
    };
    let unknown = header
        .cells
        .iter()
        .map(String::as_str)
        .filter(|name| columns.iter().all(|column| column.name != plain(name)));
    let remedy = match nearest(first, unknown) {
        Some(found) if missing.len() == 1 => {
            format!("perhaps '{found}' is meant: rename it {first}")
        }
        _ => format!(
            "write all column names into the first row: {}",
            columns
                .iter()
                .filter(|column| column.required)
                .map(|column| column.name)
                .collect::<Vec<_>>()
                .join(", ")
        ),
    };
    let what = match missing.len() {
        1 => format!("the column {first} is missing"),
        _ => format!("the columns {} are missing", in_words(&missing, "and")),
    };
    Err(problem(what, remedy))
}

/// One remark that names the columns of which nothing is used.
fn unknown_columns(
    file: &str,
    header: &sheet::SheetRow,
    places: &[Option<usize>],
) -> Option<Problem> {
    let unknown: Vec<&str> = header
        .cells
        .iter()
        .enumerate()
        .filter(|(place, name)| !name.is_empty() && !places.contains(&Some(*place)))
        .map(|(_, name)| name.as_str())
        .collect();
    let (what, done) = match unknown.len() {
        0 => return None,
        1 => (
            format!("the column {} is not known", unknown[0]),
            "it is left unread",
        ),
        _ => (
            format!("the columns {} are not known", in_words(&unknown, "and")),
            "they are left unread",
        ),
    };
    Some(Problem::new(file, what, done, ""))
}

fn cannot_go_on(place: &str, error: &io::Error) -> Problem {
    Problem::new(
        place,
        format!("the file could not be read to its end ({error})"),
        UNUSED,
        "save it again from the spreadsheet as CSV (UTF-8)",
    )
    .keyed(format!("{place}: cannot be used"))
}

fn delimiter_name(delimiter: char) -> &'static str {
    match delimiter {
        ';' => "semicolon",
        '\t' => "tab",
        _ => "comma",
    }
}

#[cfg(test)]
mod tests;
