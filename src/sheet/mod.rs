//! Sheets: the rows of a file as spreadsheets and loggers write it, whatever its encoding, delimiter and line ends.
//!
//! Hands on rows of trimmed text, numbered as a spreadsheet shows them, one at a time and in constant memory. It knows
//! nothing of headers or of what the cells mean. The splitting is our own because a row number that a grower can find
//! must count blank lines, lone CRs and lines inside quoted cells as a spreadsheet does, and because one stray
//! quotation mark must cost one row and not the rest of the file.

mod lines;
mod open;
mod split;

pub use open::{Opened, open, size};
pub use split::Cells;

use lines::Lines;
use split::{guess_delimiter, split, split_plainly};
use std::collections::VecDeque;
use std::io::{self, Read};

/// So many lines are looked at to find the delimiter; enough to see past a preamble.
const SAMPLE_LINES: usize = 60;

/// A quoted cell that runs over more lines than this is taken for a quotation mark that was never closed.
const MAX_LINES_IN_ROW: usize = 100;

/// One row that has something in it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SheetRow {
    /// As a spreadsheet shows it: the first row is 1, and blank rows count.
    pub number: u64,
    /// Trimmed, on one line each.
    pub cells: Vec<String>,
    /// A quotation mark was opened and never closed: the row was split without regard to it.
    pub stray_quote: bool,
}

/// The same for those who read long files: filled again with each row.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Row {
    /// As in [`SheetRow`].
    pub number: u64,
    /// The cells.
    pub cells: Cells,
    /// As in [`SheetRow`].
    pub stray_quote: bool,
    /// It is the last one, and the file ends before its line does: it may be half of what it will be.
    pub cut_off: bool,
}

/// The rows of one file.
pub struct Sheet<R> {
    lines: Lines<R>,
    ahead: VecDeque<String>,
    line: String,
    delimiter: char,
    number: u64,
}

impl<R: Read> Sheet<R> {
    /// Looks at the beginning of the file; a delimiter that is not given is found by a consistent count of cells.
    pub fn new(reader: R, delimiter: Option<u8>) -> io::Result<Self> {
        let mut lines = Lines::new(reader)?;
        let mut ahead = VecDeque::new();
        let mut line = String::new();
        while ahead.len() < SAMPLE_LINES && lines.read_line(&mut line)? {
            ahead.push_back(std::mem::take(&mut line));
        }
        let said = ahead.front().and_then(|line| said_delimiter(line));
        if said.is_some() {
            ahead.pop_front(); // spreadsheets obey this line and do not show it
        }
        let delimiter = delimiter.map(char::from).or(said).unwrap_or_else(|| {
            let sample: Vec<&str> = ahead.iter().map(String::as_str).collect();
            guess_delimiter(&sample)
        });
        Ok(Self {
            lines,
            ahead,
            line,
            delimiter,
            number: 0,
        })
    }

    /// What parts the cells.
    pub fn delimiter(&self) -> char {
        self.delimiter
    }

    /// Whether anything so far was not UTF-8 and was read as Windows-1252.
    pub fn not_utf8(&self) -> bool {
        self.lines.not_utf8
    }

    /// How the text is encoded, as far as it has been read.
    pub fn encoding(&self) -> &'static str {
        self.lines.encoding()
    }

    /// The next row that is not blank; none at the end of the file.
    pub fn next_row(&mut self) -> io::Result<Option<SheetRow>> {
        let mut row = Row::default();
        Ok(self.read_row(&mut row)?.then(|| SheetRow {
            number: row.number,
            cells: row.cells.iter().map(str::to_owned).collect(),
            stray_quote: row.stray_quote,
        }))
    }

    /// Puts the next row that is not blank in place of `row`; false at the end of the file.
    pub fn read_row(&mut self, row: &mut Row) -> io::Result<bool> {
        let mut line = std::mem::take(&mut self.line);
        let mut found = false;
        while !found && self.read_line(&mut line)? {
            self.number += 1;
            row.stray_quote = self.fill(&line, &mut row.cells)?;
            row.number = self.number;
            row.cut_off = self.lines.cut_off && self.ahead.is_empty();
            found = row.cells.filled() > 0;
        }
        self.line = line;
        Ok(found)
    }

    /// The cells of the row that begins with this line; true where a quotation mark in it was never closed.
    fn fill(&mut self, first: &str, cells: &mut Cells) -> io::Result<bool> {
        if !split(first, self.delimiter, cells).open {
            return Ok(false);
        }
        let mut text = first.to_owned();
        let mut more = Vec::new();
        while more.len() < MAX_LINES_IN_ROW {
            let mut line = String::new();
            if !self.read_line(&mut line)? {
                break;
            }
            text.push('\n');
            text.push_str(&line);
            let marked = line.contains('"');
            more.push(line);
            if !marked {
                continue; // it cannot close the cell
            }
            let ending = split(&text, self.delimiter, cells);
            if ending.untidy {
                break; // closed by the opening mark of another cell further down
            }
            if !ending.open {
                return Ok(false);
            }
        }
        for line in more.into_iter().rev() {
            self.ahead.push_front(line);
        }
        split_plainly(first, self.delimiter, cells);
        Ok(true)
    }

    fn read_line(&mut self, line: &mut String) -> io::Result<bool> {
        match self.ahead.pop_front() {
            Some(next) => {
                *line = next;
                Ok(true)
            }
            None => self.lines.read_line(line),
        }
    }
}

/// The delimiter of a first line `sep=;`.
fn said_delimiter(line: &str) -> Option<char> {
    let line = line.trim_matches([' ', '"']);
    let (key, value) = line.split_at_checked(4)?;
    let mut value = value.chars();
    match (value.next(), value.next()) {
        (Some(said), None) if key.eq_ignore_ascii_case("sep=") => Some(said),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows as `number: cell|cell`, with `!` before those that have a stray quotation mark.
    #[track_caller]
    fn check(bytes: impl AsRef<[u8]>, expect: &[&str]) {
        let mut sheet = Sheet::new(bytes.as_ref(), None).unwrap();
        let mut rows = Vec::new();
        while let Some(row) = sheet.next_row().unwrap() {
            let mark = if row.stray_quote { "!" } else { "" };
            rows.push(format!("{mark}{}: {}", row.number, row.cells.join("|")));
        }
        assert_eq!(rows, expect);
    }

    #[test]
    fn each_line_end_counts_once() {
        check("a,b\n1,2\n", &["1: a|b", "2: 1|2"]);
        check("a,b\r\n1,2\r\n", &["1: a|b", "2: 1|2"]);
        check("a,b\r1,2\r", &["1: a|b", "2: 1|2"]);
        check("a,b\n1,2", &["1: a|b", "2: 1|2"]);
    }

    #[test]
    fn blank_rows_are_left_out_and_counted() {
        check("a,b\n\n ,\n1,2\n", &["1: a|b", "4: 1|2"]);
        check("\r\n\r\na;b\r\n", &["3: a|b"]);
        check("", &[]);
    }

    #[test]
    fn a_quoted_cell_may_hold_delimiters_marks_and_lines() {
        check("a,b\n\"1, \"\"x\"\"\",2\n", &["1: a|b", "2: 1, \"x\"|2"]);
        check(
            "a,b\n\"one\ntwo\",2\n3,4\n",
            &["1: a|b", "2: one two|2", "3: 3|4"],
        );
        check(
            "a,b\n\"one\ntwo, three\n\nfour\",2\n3,4\n",
            &["1: a|b", "2: one two, three  four|2", "3: 3|4"],
        );
    }

    #[test]
    fn a_stray_mark_costs_one_row() {
        check(
            "a,b\n\"1,2\n3,4\n5,6\n",
            &["1: a|b", "!2: \"1|2", "3: 3|4", "4: 5|6"],
        );
        check(
            "a,b\n\"1,2\n3,\"x, y\"\n5,6\n",
            &["1: a|b", "!2: \"1|2", "3: 3|x, y", "4: 5|6"],
        );
        check("a,b\n12\" pot,2\n", &["1: a|b", "2: 12\" pot|2"]);
    }

    #[test]
    fn every_delimiter_is_found() {
        check("a;b;c\n1,5;2,5;x\n", &["1: a|b|c", "2: 1,5|2,5|x"]);
        check("a\tb\n1\t\n", &["1: a|b", "2: 1|"]);
        check("sep=;\na,b;c\n", &["1: a,b|c"]);
        check("a\n1\n", &["1: a", "2: 1"]);
    }

    #[test]
    fn every_encoding_is_read() {
        check(b"\xEF\xBB\xBFa,\xC3\xA9\n", &["1: a|é"]);
        check(b"a,\xB0C\n", &["1: a|°C"]);
        let text: Vec<u8> = "\u{feff}a;é\r\n1;2\r\n"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        check(text, &["1: a|é", "2: 1|2"]);
        let text: Vec<u8> = "\u{feff}a;𝄞"
            .encode_utf16()
            .flat_map(u16::to_be_bytes)
            .collect();
        check(text, &["1: a|𝄞"]);
    }

    #[test]
    fn formulas_are_text() {
        check("a,b\n=1+1,@x\n", &["1: a|b", "2: =1+1|@x"]);
    }

    #[test]
    fn a_line_without_end_is_refused() {
        let bytes = vec![b'x'; 2 << 20];
        let error = Sheet::new(bytes.as_slice(), None).err().unwrap();
        assert_eq!(error.to_string(), "a line is over 1 MiB long");
    }
}
