//! A temperature file to days: daily rows, or readings at any interval grouped by their local date.
//!
//! Reads row by row and keeps only days, so a file may be large. Judges nothing: a minimum above its maximum is for
//! those who judge days. What it could not read is a problem; what was not measured is a day that is not there.

use super::cells::DateForm;
use super::gather::Gathering;
use super::header::{self, Places};
use crate::problem::Problem;
use crate::sheet::{Sheet, open};
use crate::weather::layout::{Columns, Layout, Unit};
use chrono::NaiveDate;
use chrono_tz::Tz;
use std::fs::File;
use std::io::{Read, Take};
use std::path::Path;

/// No temperature file is larger.
const CAP: u64 = 1 << 30;

/// Loggers write a preamble of up to this many rows above the names of the columns.
const PREAMBLE: usize = 50;

const UNUSED: &str = "nothing was read from it, what was read before stays in force";

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

/// What a temperature file says, and how it was understood.
#[derive(Clone, Debug, PartialEq)]
pub struct TemperatureFile {
    /// In order of date, each date once.
    pub days: Vec<FileDay>,
    /// What could not be read.
    pub problems: Vec<Problem>,
    /// The unit its temperatures were taken to be in.
    pub unit: Unit,
    /// Whether anything could be read at all.
    pub usable: bool,
    /// What parts its cells.
    pub delimiter: char,
    /// The columns that were used, as they are named in the file.
    pub columns: Columns,
    /// The usual number of readings a day; none where each row is a day.
    pub readings_per_day: Option<usize>,
    /// Days with too few readings to be whole.
    pub left_out: Vec<NaiveDate>,
}

/// Reads the file. Moments with an offset are taken to `zone`; without one, or without a zone, they are local as written.
pub fn read(path: &Path, layout: &Layout, zone: Option<Tz>) -> TemperatureFile {
    let mut file = TemperatureFile {
        days: Vec::new(),
        problems: Vec::new(),
        unit: layout.unit.unwrap_or(Unit::C),
        usable: true,
        delimiter: layout.delimiter.map_or(',', char::from),
        columns: Columns::default(),
        readings_per_day: None,
        left_out: Vec::new(),
    };
    if let Err(problem) = fill(&mut file, path, layout, zone) {
        file.days.clear();
        file.usable = false;
        file.problems.push(problem);
    }
    file
}

fn fill(
    file: &mut TemperatureFile,
    path: &Path,
    layout: &Layout,
    zone: Option<Tz>,
) -> Result<(), Problem> {
    let place = path.display().to_string();
    let stopped = |what: String, remedy: String| {
        Problem::new(&place, what, UNUSED, remedy).keyed(format!("{place}: cannot be used"))
    };
    let broken = |error: std::io::Error| {
        stopped(
            format!("the file could not be read to its end ({error})"),
            "see that it is a CSV file and whole".into(),
        )
    };
    let Some(form) = DateForm::new(layout.date_format.as_deref(), zone) else {
        let format = layout.date_format.as_deref().unwrap_or_default();
        return Err(stopped(
            format!("date_format '{format}' is not understood"),
            "write it with %Y, %m, %d, %H and %M, as %d/%m/%Y for 18/08/2026".into(),
        ));
    };
    let opened = open(path, CAP, UNUSED)?;
    let mut sheet = Sheet::new(opened.file.take(CAP), layout.delimiter).map_err(broken)?;
    file.delimiter = sheet.delimiter();
    let (header, places) = find_header(&mut sheet, layout)
        .map_err(broken)?
        .map_err(|(what, remedy)| stopped(what, remedy))?;
    file.columns = header::names(&header, &places);
    let mut gathering = Gathering::new(&place, &places, &header, form);
    gathering.unit = layout.unit.or(places.unit);
    while let Some(row) = sheet.next_row().map_err(broken)? {
        if let Err((what, remedy)) = gathering.add(&row) {
            return Err(stopped(what, remedy));
        }
    }
    file.unit = gathering.unit.unwrap_or(Unit::C);
    if let (Some(said), Some(found)) = (layout.unit, places.unit)
        && said != found
    {
        file.problems.push(Problem::new(
            &place,
            format!("the config says °{said:?} and the header says °{found:?}"),
            format!("the temperatures are taken to be in °{said:?}"),
            "correct the unit in the config if it is wrong",
        ));
    }
    if !gathering.any_date {
        return Err(stopped(
            "there is no row with a date in it below the header".into(),
            "see that the file is whole, and set date_format where its dates are not written year first".into(),
        ));
    }
    gathering
        .finish(file)
        .map_err(|(what, remedy)| stopped(what, remedy))
}

type Found = Result<(Vec<String>, Places), (String, String)>;

/// The first row in which the columns are found; where none is, what is said of the likeliest one.
fn find_header(sheet: &mut Sheet<Take<File>>, layout: &Layout) -> std::io::Result<Found> {
    let mut first = None;
    for _ in 0..PREAMBLE {
        let Some(row) = sheet.next_row()? else {
            break;
        };
        match header::find(&row.cells, layout) {
            Ok(places) => return Ok(Ok((row.cells, places))),
            Err(said) => {
                // Of a file with a preamble the row with most names is the one to be shown.
                let cells = row.cells.iter().filter(|cell| !cell.is_empty()).count();
                if first.as_ref().is_none_or(|&(most, _)| cells > most) {
                    first = Some((cells, said));
                }
            }
        }
    }
    let said = first.map_or_else(
        || {
            (
                "there is nothing but blank rows in it".into(),
                "see that the file is whole".into(),
            )
        },
        |(_, said)| said,
    );
    Ok(Err(said))
}

#[cfg(test)]
mod tests;
