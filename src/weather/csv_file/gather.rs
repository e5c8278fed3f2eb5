//! The days of a temperature file as they come together, row by row.
//!
//! Keeps one entry a date and not the rows. Says at the end whether the rows were days or readings, and leaves out what
//! is not whole or contradicts itself. Knows nothing of files or headers.

use super::cells::{DateForm, Figure, is_two_faced, number, temperature};
use super::header::{Places, unit_in};
use super::read::{FileDay, TemperatureFile};
use crate::problem::Problem;
use crate::sheet::SheetRow;
use crate::weather::layout::Unit;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// Of the usual number of readings a day must have this share, in percent.
const ENOUGH: usize = 75;

/// So many bad cells are named one by one; of the others only the number is told.
const NAMED: usize = 20;

/// What has been seen of one date.
#[derive(Clone, Debug)]
struct Seen {
    row: u64,
    readings: usize,
    first: (f64, f64),
    min: f64,
    max: f64,
    gust: Option<f64>,
    rain: Option<f64>,
    differs: Option<(u64, (f64, f64))>,
    /// The moment of the first row as it is written.
    written: String,
    /// Another row is of another moment of this date.
    moments: bool,
}

/// The days as they come together, row by row.
pub struct Gathering<'a> {
    place: &'a str,
    places: &'a Places,
    header: &'a [String],
    form: DateForm,
    /// The unit said by config, header or a row of units.
    pub unit: Option<Unit>,
    days: BTreeMap<NaiveDate, Seen>,
    /// A row with a date has come.
    pub any_date: bool,
    problems: Vec<Problem>,
    unnamed: u64,
}

impl<'a> Gathering<'a> {
    pub fn new(place: &'a str, places: &'a Places, header: &'a [String], form: DateForm) -> Self {
        Self {
            place,
            places,
            header,
            form,
            unit: None,
            days: BTreeMap::new(),
            any_date: false,
            problems: Vec::new(),
            unnamed: 0,
        }
    }

    /// Takes in one row; an error ends the use of the file.
    pub fn add(&mut self, row: &SheetRow) -> Result<(), (String, String)> {
        let cell = |place: Option<usize>| {
            let cell = place.and_then(|place| row.cells.get(place));
            cell.map_or("", String::as_str)
        };
        let date = cell(Some(self.places.date));
        let time = cell(self.places.time);
        let Some(moment) = self.form.read(date, time) else {
            return self.no_date(row, date);
        };
        self.any_date = true;
        if self.too_long(row) {
            return Ok(());
        }
        let Some((min, max)) = self.temperatures(row, cell) else {
            return Ok(());
        };
        let extra = |place: Option<usize>| match number(cell(place)) {
            Figure::Number(number) => Some(number),
            _ => None,
        };
        let (gust, rain) = (extra(self.places.gust), extra(self.places.rain));
        let seen = self.days.entry(moment.date).or_insert_with(|| Seen {
            row: row.number,
            readings: 0,
            first: (min, max),
            min,
            max,
            gust: None,
            rain: None,
            differs: None,
            written: format!("{date} {time}"),
            moments: false,
        });
        seen.readings += 1;
        seen.moments |= moment.timed && seen.written != format!("{date} {time}");
        if seen.first != (min, max) {
            seen.differs.get_or_insert((row.number, (min, max)));
        }
        seen.min = seen.min.min(min);
        seen.max = seen.max.max(max);
        seen.gust = seen.gust.into_iter().chain(gust).reduce(f64::max);
        seen.rain = seen.rain.into_iter().chain(rain).reduce(|a, b| a + b);
        Ok(())
    }

    /// A row whose date says nothing: rows of units under the header are passed over in silence.
    fn no_date(&mut self, row: &SheetRow, date: &str) -> Result<(), (String, String)> {
        if !self.any_date && !date.contains(|c: char| c.is_ascii_digit()) {
            let temperatures = [self.places.temp, self.places.min, self.places.max];
            let mut units = temperatures.into_iter().flatten();
            let unit = units.find_map(|place| unit_in(row.cells.get(place)?));
            self.unit = self.unit.or(unit);
            return Ok(());
        }
        if !self.any_date && is_two_faced(date) && self.form.is_year_first() {
            return Err((
                format!("the dates are written as '{date}', with the day first or the month first"),
                "set date_format = \"%d/%m/%Y\" where the day stands first, \"%m/%d/%Y\" where the month does, with the marks of the file between them".into(),
            ));
        }
        self.bad_cell(row, self.places.date, date, "a date");
        Ok(())
    }

    fn temperatures<'r>(
        &mut self,
        row: &SheetRow,
        cell: impl Fn(Option<usize>) -> &'r str,
    ) -> Option<(f64, f64)> {
        let unit = self.unit.unwrap_or(Unit::C);
        let places = self.places;
        let mut read = |place: usize| {
            let text = cell(Some(place));
            match temperature(text, unit) {
                Figure::Number(number) => Some(number),
                Figure::Missing => None,
                Figure::Unreadable => {
                    self.bad_cell(row, place, text, "a temperature");
                    None
                }
            }
        };
        match (places.min, places.max, places.temp) {
            (Some(min), Some(max), _) => {
                let (min, max) = (read(min), read(max));
                min.zip(max)
            }
            (_, _, Some(temp)) => read(temp).map(|t| (t, t)),
            _ => None,
        }
    }

    /// A decimal comma between commas would make two cells of one number, and all the others slip.
    fn too_long(&mut self, row: &SheetRow) -> bool {
        let filled = row.cells.iter().rposition(|cell| !cell.is_empty());
        let (filled, width) = (filled.map_or(0, |last| last + 1), self.header.len());
        if filled <= width {
            return false;
        }
        let place = format!("{}, row {}", self.place, row.number);
        let what = format!("it has {filled} cells under {width} column names");
        let date = row.cells.get(self.places.date).map_or("", String::as_str);
        let key = format!("{}: {} too long", self.place, shortened(date));
        let remedy =
            "where numbers have a decimal comma, let the file be written with ; between the cells";
        self.tell(Problem::new(place, what, "this row is not used", remedy).keyed(key));
        true
    }

    /// Names the first few, counts the others.
    fn tell(&mut self, problem: Problem) {
        if self.problems.len() < NAMED {
            self.problems.push(problem);
        } else {
            self.unnamed += 1;
        }
    }

    fn bad_cell(&mut self, row: &SheetRow, column: usize, text: &str, wanted: &str) {
        let name = self.header.get(column).map_or("", String::as_str);
        let date = row.cells.get(self.places.date).map_or("", String::as_str);
        let what = match text {
            "" => "the date is missing".to_owned(), // an empty temperature is no trouble
            _ => format!("'{}' is not {wanted}", shortened(text)),
        };
        self.tell(
            Problem::new(
                format!("{}, row {}, column {name}", self.place, row.number),
                what,
                "this row is not used",
                "correct it, or leave the cell empty where nothing was measured",
            )
            .keyed(format!(
                "{}, {name}: {} {}",
                self.place,
                shortened(date),
                shortened(text)
            )),
        );
    }

    pub fn finish(mut self, file: &mut TemperatureFile) -> Result<(), (String, String)> {
        let usual = median(self.days.values().map(|seen| seen.readings));
        // A daily file may stamp its rows with a time, and have a date twice; readings have many moments on most dates.
        let many = self.days.values().filter(|seen| seen.moments).count();
        let readings = self.places.temp.is_some() || (many > 0 && many * 2 >= self.days.len());
        if self.places.temp.is_some() && usual == 1 {
            return Err((
                "it has one temperature a day, and a day needs its minimum and its maximum".into(),
                "name a column for each in the config, or write readings through the day".into(),
            ));
        }
        file.readings_per_day = readings.then_some(usual);
        for (&date, seen) in &self.days {
            if readings && seen.readings * 100 < usual * ENOUGH {
                file.left_out.push(date);
                continue;
            }
            if let (false, Some((row, other))) = (readings, seen.differs) {
                file.problems
                    .push(twice(self.place, date, seen, row, other));
                continue;
            }
            file.days.push(FileDay {
                date,
                min: seen.min,
                max: seen.max,
                gust: seen.gust.filter(|gust| gust.is_finite()),
                rain: if readings {
                    seen.rain
                } else {
                    seen.rain.map(|sum| sum / seen.readings as f64)
                }
                .filter(|rain| rain.is_finite()),
            });
        }
        if self.unnamed > 0 {
            let what = format!("{} more cells could not be read", self.unnamed);
            let told = Problem::new(
                self.place,
                what,
                "their rows are not used",
                "see the rows named before",
            )
            .keyed(format!("{}: more cells", self.place));
            self.problems.push(told);
        }
        file.problems.append(&mut self.problems);
        Ok(())
    }
}

fn twice(place: &str, date: NaiveDate, seen: &Seen, row: u64, other: (f64, f64)) -> Problem {
    let pair = |(min, max): (f64, f64)| format!("{min:.1} to {max:.1} °C");
    Problem::new(
        format!("{place}, rows {} and {row}", seen.row),
        format!(
            "{date} stands there with {} and with {}",
            pair(seen.first),
            pair(other)
        ),
        "the day is left out",
        "keep the row that is right",
    )
    .keyed(format!("{place}: {date} twice"))
}

fn median(counts: impl Iterator<Item = usize>) -> usize {
    let mut counts: Vec<usize> = counts.collect();
    counts.sort_unstable();
    counts.get(counts.len() / 2).copied().unwrap_or_default()
}

fn shortened(text: &str) -> String {
    const ENOUGH: usize = 40;
    match text.char_indices().nth(ENOUGH) {
        Some((end, _)) => format!("{}...", &text[..end]),
        None => text.to_owned(),
    }
}
