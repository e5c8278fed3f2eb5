//! A temperature file to days: daily rows, or readings at any interval grouped by their local date.
//!
//! Reads row by row and keeps only days, so a file may be large. Judges nothing: a minimum above its maximum is for
//! those who judge days. What it could not read is a problem; what was not measured is a day that is not there.

use super::file::{NamedBy, TemperatureFile};
use super::files::files;
use super::gather::{Gathering, Noticed, Passed};
use super::header::{self, Places};
use super::moment::DateForm;
use super::seen::Dates;
use crate::problem::Problem;
use crate::sheet::{Cells, Row, Sheet, open};
use crate::weather::layout::{Columns, Layout, Unit};
use chrono_tz::Tz;
use std::io::{self, Read};
use std::path::Path;

/// No temperature file is larger.
const CAP: u64 = 1 << 30;

/// Loggers write a preamble of up to this many rows above the names of the columns.
const PREAMBLE: usize = 50;

const UNUSED: &str = "nothing was read from it, what was read before stays in force";

/// Reads the file, or all the files of a pattern, in which the newest says most. Moments with an offset are taken to
/// `zone`; without one, or without a zone, they are local as written.
pub fn read(path: &Path, layout: &Layout, zone: Option<Tz>) -> TemperatureFile {
    let mut file = TemperatureFile::new(layout);
    let mut dates = Dates::default();
    let place = path.display().to_string();
    let paths = files(path, UNUSED).unwrap_or_else(|problem| {
        file.problems.push(problem);
        Vec::new()
    });
    for path in paths {
        let place = path.display().to_string();
        let read = open(&path, CAP, UNUSED)
            .and_then(|opened| rows_of(opened.file.take(CAP), &place, layout, zone, &mut file));
        match read {
            Ok(newer) => {
                file.usable = true;
                file.files += 1;
                dates.renew(newer);
            }
            Err(problem) => file.problems.push(problem),
        }
    }
    if file.usable {
        finish(&mut file, &dates, &place, layout);
    }
    file
}

/// Reads a file that came by another way than the disk; `place` stands in messages.
pub fn read_from(
    bytes: impl Read,
    place: &str,
    layout: &Layout,
    zone: Option<Tz>,
) -> TemperatureFile {
    let mut file = TemperatureFile::new(layout);
    match rows_of(bytes, place, layout, zone, &mut file) {
        Ok(dates) => {
            (file.usable, file.files) = (true, 1);
            finish(&mut file, &dates, place, layout);
        }
        Err(problem) => file.problems.push(problem),
    }
    file
}

/// Reads rows that are cells already, under the names of the columns of the layout, in the order of `Columns::named`.
pub fn read_rows(
    rows: impl IntoIterator<Item = Cells>,
    place: &str,
    layout: &Layout,
    zone: Option<Tz>,
) -> TemperatureFile {
    let mut file = TemperatureFile::new(layout);
    let (words, header): (Vec<_>, Vec<_>) = layout
        .columns
        .named()
        .map(|(word, name)| (word, name.to_owned()))
        .unzip();
    let at = |wanted: &str| words.iter().position(|word| *word == wanted);
    let places = Places {
        date: at("date").unwrap_or(header.len()),
        time: at("time"),
        zone: at("zone"),
        min: at("min"),
        max: at("max"),
        temp: at("temp"),
        gust: at("gust"),
        rain: at("rain"),
        unit: None,
    };
    let form = match date_form(layout, zone, place) {
        Ok(form) => form,
        Err(problem) => {
            file.problems.push(problem);
            return file;
        }
    };
    file.columns = layout.columns.clone();
    let mut gathering = Gathering::new(place, &places, &header, form, layout);
    for (number, cells) in (1..).zip(rows) {
        gathering.add(&Row {
            number,
            cells,
            ..Row::default()
        });
    }
    match close(gathering, place, layout, &places, &mut file) {
        Ok(dates) => {
            (file.usable, file.files) = (true, 1);
            finish(&mut file, &dates, place, layout);
        }
        Err(problem) => file.problems.push(problem),
    }
    file
}

/// The days of what was gathered; `place` stands in messages.
fn finish(file: &mut TemperatureFile, dates: &Dates, place: &str, layout: &Layout) {
    if let Err((what, remedy)) = dates.finish(layout, file) {
        file.days.clear();
        file.usable = false;
        file.problems.push(stopped(place, what, remedy));
    }
}

fn stopped(place: &str, what: String, remedy: String) -> Problem {
    Problem::new(place, what, UNUSED, remedy).keyed(format!("{place}: cannot be used"))
}

fn date_form(layout: &Layout, zone: Option<Tz>, place: &str) -> Result<DateForm, Problem> {
    DateForm::new(layout, zone).ok_or_else(|| {
        let format = layout.date_format.as_deref().unwrap_or_default();
        stopped(
            place,
            format!("date_format '{format}' is not understood"),
            "write it with %Y, %m, %d, %H and %M, as %d/%m/%Y for 18/08/2026".into(),
        )
    })
}

/// The dates of one file; how it was understood is put into `file`.
fn rows_of(
    bytes: impl Read,
    place: &str,
    layout: &Layout,
    zone: Option<Tz>,
    file: &mut TemperatureFile,
) -> Result<Dates, Problem> {
    let broken = |error: io::Error| {
        stopped(
            place,
            format!("the file could not be read to its end ({error})"),
            "see that it is a CSV file and whole".into(),
        )
    };
    let form = date_form(layout, zone, place)?;
    let mut sheet = Sheet::new(bytes, layout.delimiter).map_err(broken)?;
    file.delimiter = sheet.delimiter();
    let mut row = Row::default();
    let (header, places) = find_header(&mut sheet, &mut row, layout)
        .map_err(broken)?
        .map_err(|(what, remedy)| stopped(place, what, remedy))?;
    file.columns = header::names(&header, &places);
    file.not_read = header::not_read(&header, &places)
        .iter()
        .map(|one| not_read(one, place))
        .collect();
    file.header_row = Some(row.number);
    let cell = |place: Option<usize>| place.map_or("", |place| row.cells.get(place));
    let (time, offset) = (cell(places.time), cell(places.zone));
    let nameless = header::by_numbers(&layout.columns)
        && form.read(cell(Some(places.date)), time, offset).is_ok();
    let mut gathering = Gathering::new(place, &places, &header, form, layout);
    if nameless {
        file.header_row = None;
        file.columns = layout.columns.clone();
        gathering.add(&row);
    }
    let mut before = row;
    let mut row = Row::default();
    while sheet.read_row(&mut row).map_err(broken)? {
        if row.cut_off && is_half(&row, &before) {
            file.remarks.push(format!(
                "row {}, the last one, is only half written: it is left until it is whole",
                row.number
            ));
            break;
        }
        gathering.add(&row);
        std::mem::swap(&mut row, &mut before);
    }
    file.encoding = sheet.encoding();
    close(gathering, place, layout, &places, file)
}

/// What is left to be said of a file after its last row.
fn close(
    mut gathering: Gathering<'_>,
    place: &str,
    layout: &Layout,
    places: &Places,
    file: &mut TemperatureFile,
) -> Result<Dates, Problem> {
    if let Some(evidence) = gathering.evidence {
        file.offer = evidence.offer();
        let (what, remedy) = evidence.complaint();
        return Err(stopped(place, what, remedy));
    }
    if gathering.dates.latest.is_none() {
        return Err(no_dates(&gathering.noticed, place));
    }
    file.unit = gathering.unit.unwrap_or(Unit::C);
    file.unit_by = match (layout.unit, gathering.unit) {
        (Some(_), _) => NamedBy::Config,
        (_, Some(_)) => NamedBy::File,
        _ => NamedBy::Nobody,
    };
    if let (Some(said), Some(found)) = (layout.unit, places.unit)
        && (said == Unit::F) != (found == Unit::F)
    {
        let (said, found) = (said.shown(), found.shown());
        file.problems.push(Problem::new(
            place,
            format!("the config says {said} and the header says {found}"),
            format!("the temperatures are taken to be in {said}"),
            "correct the unit in the config if it is wrong",
        ));
    }
    let noticed = &gathering.noticed;
    file.decimal = match (noticed.commas, noticed.points) {
        (1.., 0) => Some(','),
        (0, 1..) => Some('.'),
        _ => None,
    };
    let timed = gathering
        .dates
        .seen
        .values()
        .any(|seen| seen.minutes.count() > 0);
    file.remarks.extend(remarks(noticed, layout, timed));
    let problems = gathering.problems();
    if gathering.dates.seen.is_empty() && problems.is_empty() {
        file.problems.push(nothing_measured(&file.columns, place));
    }
    file.problems.extend(problems);
    Ok(gathering.dates)
}

/// A column of gusts or rain in a unit that nobody says.
fn not_read(column: &header::NotRead, place: &str) -> Problem {
    let header::NotRead {
        heading,
        word,
        unit,
    } = column;
    Problem::new(
        place,
        format!("column '{heading}' is not read, since its heading does not say that it is in {unit}"),
        format!("no {word} is taken from it, the temperatures are"),
        format!("if it is in {unit}, head it '{word}_{}', or name it in the config: columns = {{ {word} = \"{heading}\" }}", unit.replace('/', "")),
    )
    .keyed(format!("{place}: column {heading} is not read"))
}

/// Rows with dates and not one temperature: an instrument that is not connected, or the wrong columns.
fn nothing_measured(columns: &Columns, place: &str) -> Problem {
    let name = |wanted: &str| columns.named().find(|(word, _)| *word == wanted);
    let what = match (name("min"), name("max"), name("temp")) {
        (Some((_, min)), Some((_, max)), _) => {
            format!("no row has both a minimum in column {min} and a maximum in column {max}")
        }
        (_, _, Some((_, temp))) => format!("no row has a temperature in column {temp}"),
        _ => "no row has a temperature".into(),
    };
    Problem::new(
        place,
        what,
        "no day comes from it",
        "see that the instrument is connected, and name other columns in the config if these are the wrong ones",
    )
    .keyed(format!("{place}: nothing measured"))
}

fn remarks(noticed: &Noticed, layout: &Layout, timed: bool) -> Vec<String> {
    let mut remarks = Vec::new();
    remarks.extend(noticed.summaries.map(|passed| match passed {
        Passed {
            count: 1, first, ..
        } => {
            format!("row {first} has no date and sums up: it is passed over")
        }
        Passed { count, first, last } => {
            format!(
                "{count} rows from {first} to {last} have no date and sum up: they are passed over"
            )
        }
    }));
    if noticed.repeats > 0 {
        let rows = match noticed.repeats {
            1 => "1 row is".to_owned(),
            rows => format!("{rows} rows are"),
        };
        remarks.push(format!(
            "{rows} of a minute that was there before (exports that overlap, or the hour that autumn repeats): each minute counts once"
        ));
    }
    if !layout.interval_end && timed && (noticed.processing || noticed.midnights) {
        remarks.push(
            "if its times mark the end of each interval, as loggers' often do, set interval_end = true: midnight then belongs to the day before".into(),
        );
    }
    remarks
}

fn no_dates(noticed: &Noticed, place: &str) -> Problem {
    let number = noticed.no_date.as_deref().unwrap_or_default();
    let digits = number.split(['.', ',']).next().unwrap_or_default();
    let whole = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    let (of, format) = match digits.len() {
        5 if whole => ("a spreadsheet's days", "excel"),
        10 | 13 if whole => ("seconds since 1970", "unix"),
        _ => {
            return stopped(
                place,
                "there is no row with a date in it below the header".into(),
                "see that the file is whole, and set date_format where its dates are not written year first".into(),
            );
        }
    };
    stopped(
        place,
        format!("where the dates should be there is '{number}', which may be one of {of}"),
        format!("set date_format = \"{format}\" if it is"),
    )
}

type Found = Result<(Vec<String>, Places), header::Said>;

/// The first row in which the columns are found, left in `row`; where none is, what is said of the likeliest one.
fn find_header(sheet: &mut Sheet<impl Read>, row: &mut Row, layout: &Layout) -> io::Result<Found> {
    let mut first = None;
    for _ in 0..PREAMBLE {
        if !sheet.read_row(row)? {
            break;
        }
        let cells: Vec<String> = row.cells.iter().map(str::to_owned).collect();
        match header::find(&cells, layout) {
            Ok(places) => return Ok(Ok((cells, places))),
            Err(said) => {
                // Of a file with a preamble the row with most names is the one to be shown.
                let cells = cells.iter().filter(|cell| !cell.is_empty()).count();
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

/// Whether a row that ends without the end of its line is less than the row before it: fewer cells, or a last number
/// with fewer digits, which may be the beginning of another number.
fn is_half(row: &Row, before: &Row) -> bool {
    let last = before.cells.len().saturating_sub(1);
    let (now, then) = (row.cells.get(last), before.cells.get(last));
    let number = |text: &str| text.ends_with(|c: char| c.is_ascii_digit());
    let decimals = |text: &str| text.rfind(['.', ',']).map_or(0, |at| text.len() - at);
    let shorter = match (decimals(now), decimals(then)) {
        (0, 0) => now.len() < then.len(),
        (now, then) => now < then,
    };
    row.stray_quote
        || row.cells.len() < before.cells.len()
        || (number(then) && (!number(now) || shorter))
}

#[cfg(test)]
mod habits_tests;
#[cfg(test)]
mod shapes;
#[cfg(test)]
mod tests;
