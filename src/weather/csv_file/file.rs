//! What a temperature file says, and how it was understood. Plain words; nothing here reads anything.

use super::evidence::Offer;
use crate::days::{Origin, RawDay};
use crate::problem::Problem;
use crate::weather::layout::{Columns, Layout, Unit};
use chrono::NaiveDate;

/// One day of the file, in °C, km/h and mm. All finite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FileDay {
    /// The local calendar date.
    pub date: NaiveDate,
    /// Minimum in °C.
    pub min: f64,
    /// Maximum in °C.
    pub max: f64,
    /// Strongest gust in km/h.
    pub gust: Option<f64>,
    /// Rain in mm.
    pub rain: Option<f64>,
}

impl FileDay {
    /// As a source hands it on.
    pub fn raw(&self, origin: Origin) -> RawDay {
        RawDay {
            date: self.date,
            min: self.min,
            max: self.max,
            gust: self.gust,
            rain: self.rain,
            origin,
        }
    }
}

/// A date that has readings and is no day for all that.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// The date.
    pub date: NaiveDate,
    /// Why.
    pub why: Why,
}

/// Why a date is left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// Too few readings.
    Few {
        /// So many.
        had: usize,
    },
    /// The last date of the file, and nothing later shows that it is over.
    NotOver {
        /// So many readings.
        had: usize,
    },
    /// It stands there twice and differently.
    Twice,
}

/// Who named the unit of the temperatures.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum NamedBy {
    /// The config.
    Config,
    /// The file.
    File,
    /// Nobody: it was taken to be °C.
    #[default]
    Nobody,
}

/// What a temperature file says, and how it was understood.
#[derive(Clone, Debug, PartialEq)]
pub struct TemperatureFile {
    /// In order of date, each date once.
    pub days: Vec<FileDay>,
    /// What could not be read.
    pub problems: Vec<Problem>,
    /// Columns that look like gusts or rain and are not read.
    pub not_read: Vec<Problem>,
    /// What was passed over and is no trouble, in sentences.
    pub remarks: Vec<String>,
    /// Whether anything could be read at all.
    pub usable: bool,
    /// The unit its temperatures were taken to be in.
    pub unit: Unit,
    /// Who said so.
    pub unit_by: NamedBy,
    /// How many files it is: more than one where the path is a pattern.
    pub files: usize,
    /// How its text is encoded.
    pub encoding: &'static str,
    /// What parts its cells.
    pub delimiter: char,
    /// The decimal sign of its temperatures, where any had one.
    pub decimal: Option<char>,
    /// The row with the names of its columns, as a spreadsheet counts; none where it has no names.
    pub header_row: Option<u64>,
    /// The columns that were used, as they are named in the file.
    pub columns: Columns,
    /// The usual number of readings a day; none where each row is a day.
    pub readings_per_day: Option<usize>,
    /// Dates that are no days, in order.
    pub left_out: Vec<LeftOut>,
    /// The date format that the file itself decides, where one has to be set.
    pub offer: Option<Offer>,
}

impl TemperatureFile {
    /// One of which nothing could be read.
    pub fn of_no_use(problem: Problem) -> Self {
        Self {
            problems: vec![problem],
            ..Self::new(&Layout::default())
        }
    }

    pub(super) fn new(layout: &Layout) -> Self {
        Self {
            days: Vec::new(),
            problems: Vec::new(),
            not_read: Vec::new(),
            remarks: Vec::new(),
            usable: false,
            unit: layout.unit.unwrap_or(Unit::C),
            unit_by: NamedBy::Nobody,
            files: 0,
            encoding: "UTF-8",
            delimiter: layout.delimiter.map_or(',', char::from),
            decimal: None,
            header_row: None,
            columns: Columns::default(),
            readings_per_day: None,
            left_out: Vec::new(),
            offer: None,
        }
    }
}
