//! One of the growers' tables: finds the columns by their names and hands on rows in a fixed order of columns.
//!
//! Whatever makes the table as a whole useless (no file, a column missing or twice) is one problem. It knows which
//! columns there are and not what their cells mean.

use super::cell::{BadCell, in_words, nearest};
use crate::fingerprint;
use crate::problem::Problem;
use crate::sheet::{Sheet, SheetRow, open};
use std::io::{self, Cursor, Read};
use std::path::Path;
use std::rc::Rc;

/// A register is no larger.
const CAP: u64 = 512 << 20;

const UNUSED: &str = "the whole file is not used, what was read from it before stays in force";

/// A column by its place in the table's own order.
pub struct Column {
    pub name: &'static str,
    pub required: bool,
}

/// An open table.
pub struct Table {
    sheet: Sheet<Cursor<Vec<u8>>>,
    /// For each column where it stands in the file.
    places: Vec<Option<usize>>,
    width: usize,
    file: Rc<str>,
    path: String,
    /// SHA-256 of the bytes in hexadecimal.
    pub hash: String,
}

/// One row, its cells in the order of the table's columns; empty where the file has none.
pub struct TableRow {
    pub line: u64,
    cells: Vec<String>,
    pub file: Rc<str>,
    /// What is wrong with the row as a whole.
    pub bad: Option<BadCell>,
}

impl Table {
    /// Reads the file and its header; remarks that do not stop it are added to `problems`.
    pub fn open(
        path: &Path,
        columns: &[Column],
        problems: &mut Vec<Problem>,
    ) -> Result<Self, Problem> {
        let mut opened = open(path, CAP, UNUSED)?;
        let place = path.display().to_string();
        let unreadable = |error: &io::Error| cannot_go_on(&place, error);
        // All of it at once: the hash and the rows must be of the same bytes, even while a spreadsheet saves anew.
        let mut bytes = Vec::new();
        opened
            .file
            .by_ref()
            .take(CAP)
            .read_to_end(&mut bytes)
            .map_err(|e| unreadable(&e))?;
        let hash = fingerprint::of(&bytes);
        let mut sheet = Sheet::new(Cursor::new(bytes), None).map_err(|e| unreadable(&e))?;
        let header = sheet
            .next_row()
            .map_err(|e| unreadable(&e))?
            .unwrap_or_default();
        let file = path
            .file_name()
            .map_or_else(|| place.clone(), |name| name.to_string_lossy().into_owned());
        let places = places(&place, &header, columns)?;
        problems.extend(unknown_columns(&file, &header, &places));
        Ok(Self {
            sheet,
            places,
            width: header.cells.len(),
            file: file.into(),
            path: place,
            hash,
        })
    }

    /// The next row; an error ends the use of the whole file.
    pub fn next_row(&mut self) -> Result<Option<TableRow>, Problem> {
        let row = self
            .sheet
            .next_row()
            .map_err(|error| cannot_go_on(&self.path, &error))?;
        Ok(row.map(|row| self.in_order(row)))
    }

    /// What is to be said of the file after its last row.
    pub fn remark(&self) -> Option<Problem> {
        self.sheet.not_utf8().then(|| {
            Problem::new(
                &*self.file,
                "the file is not in UTF-8",
                "it was read as Windows-1252",
                "if a letter with an accent looks wrong in a letter to you, save the file as CSV UTF-8",
            )
        })
    }

    fn in_order(&self, mut row: SheetRow) -> TableRow {
        let bad = self.bad_row(&row);
        if row.stray_quote {
            // Its name is still wanted: what was last good of the row stays in force.
            for cell in &mut row.cells {
                *cell = cell.trim_matches('"').to_owned();
            }
        }
        let cells = self
            .places
            .iter()
            .map(|place| {
                let cell = place.and_then(|place| row.cells.get_mut(place));
                cell.map(std::mem::take).unwrap_or_default()
            })
            .collect();
        TableRow {
            line: row.number,
            cells,
            file: Rc::clone(&self.file),
            bad,
        }
    }

    fn bad_row(&self, row: &SheetRow) -> Option<BadCell> {
        if row.stray_quote {
            return Some(BadCell::new(
                "",
                "a quotation mark is opened and never closed",
                "close it, or take it away",
            ));
        }
        let filled = row.cells.iter().rposition(|cell| !cell.is_empty())? + 1;
        (filled > self.width).then(|| {
            BadCell::new(
                "",
                format!("it has {filled} cells under {} column names", self.width),
                format!(
                    "put a text that has a {} in it between quotation marks",
                    delimiter_name(self.sheet.delimiter())
                ),
            )
        })
    }
}

impl TableRow {
    /// The text of the column at that place in the table's order.
    pub fn cell(&self, column: usize) -> &str {
        self.cells.get(column).map_or("", String::as_str)
    }

    /// A bad cell of this row as a problem; its key is made of the row's content.
    pub fn problem(&self, bad: &BadCell) -> Problem {
        let (file, line) = (&self.file, self.line);
        let content = fingerprint::of(self.cells.join("\u{1f}"));
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
    header: &SheetRow,
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
fn unknown_columns(file: &str, header: &SheetRow, places: &[Option<usize>]) -> Option<Problem> {
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
