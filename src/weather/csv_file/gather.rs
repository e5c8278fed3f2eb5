//! The dates of a temperature file as they come together, row by row.
//!
//! Turns cells into moments and temperatures and keeps no row. What it cannot read is a problem, what is no reading at
//! all (units under the header, a summary at the end) is passed over. Knows nothing of files or headers.

use super::cells::{Figure, Numerals};
use super::evidence::Evidence;
use super::header::Places;
use super::minutes::Minutes;
use super::moment::{Bad, DateForm, Moment};
use super::names::unit_in;
use super::seen::{Dates, Seen};
use crate::problem::Problem;
use crate::sheet::Row;
use crate::weather::layout::{Layout, Unit};

/// So many bad cells are named one by one; of the others only the number is told.
const NAMED: usize = 20;

/// What the rows at the end of an export begin with that sum it up (several languages, from memory).
const SUMMARY: &[&str] = &[
    "min",
    "max",
    "avg",
    "mean",
    "average",
    "minimum",
    "maximum",
    "sum",
    "total",
    "totals",
    "summary",
    "std",
    "stdev",
    "count",
    "median",
    "mittel",
    "mittelwert",
    "durchschnitt",
    "summe",
    "moyenne",
    "somme",
    "gemiddelde",
    "totaal",
    "media",
    "totale",
    "monthly",
];

/// What loggers write under their columns to say how these came about.
const PROCESSING: &[&str] = &["smp", "avg", "max", "min", "tot"];

/// What was noticed on the way.
#[derive(Clone, Debug, Default)]
pub struct Noticed {
    /// The first cell where a date should be and is none.
    pub no_date: Option<String>,
    /// So many temperatures had a decimal comma, a decimal point.
    pub commas: u64,
    pub points: u64,
    /// A row under the header says how the columns came about, as loggers have it that stamp the end of an interval.
    pub processing: bool,
    /// Every time so far was midnight.
    pub midnights: bool,
    /// Rows that sum up.
    pub summaries: Option<Passed>,
    /// Rows of a minute that was there before.
    pub repeats: u64,
}

/// Rows that are passed over: only their number is kept, for a logger may write such a row after each reading.
#[derive(Clone, Copy, Debug)]
pub struct Passed {
    pub count: u64,
    pub first: u64,
    pub last: u64,
}

/// The days as they come together, row by row.
pub struct Gathering<'a> {
    place: &'a str,
    places: &'a Places,
    header: &'a [String],
    form: DateForm,
    numerals: Numerals,
    /// A column may stand where the header has none, because columns are told by their numbers.
    loose: bool,
    /// The unit said by config, header or a row of units.
    pub unit: Option<Unit>,
    pub dates: Dates,
    pub noticed: Noticed,
    /// The dates are two-faced: nothing else is of interest any more.
    pub evidence: Option<Evidence>,
    problems: Vec<Problem>,
    unnamed: u64,
    before: Option<Moment>,
}

impl<'a> Gathering<'a> {
    pub fn new(
        place: &'a str,
        places: &'a Places,
        header: &'a [String],
        form: DateForm,
        layout: &Layout,
    ) -> Self {
        Self {
            place,
            places,
            header,
            form,
            numerals: Numerals::new(layout.decimal, &layout.missing),
            loose: super::header::by_numbers(&layout.columns),
            unit: layout.unit.or(places.unit),
            dates: Dates {
                single: places.temp.is_some(),
                files: vec![place.to_owned()],
                ..Dates::default()
            },
            noticed: Noticed {
                midnights: true,
                ..Noticed::default()
            },
            evidence: None,
            problems: Vec::new(),
            unnamed: 0,
            before: None,
        }
    }

    /// Takes in one row.
    pub fn add(&mut self, row: &Row) {
        let cell = |place: Option<usize>| place.map_or("", |place| row.cells.get(place));
        let date = row.cells.get(self.places.date);
        if let Some(evidence) = &mut self.evidence {
            evidence.see(row.number, date);
            return;
        }
        let (time, zone) = (cell(self.places.time), cell(self.places.zone));
        let moment = match self.form.read(date, time, zone) {
            Ok(moment) => moment,
            Err(Bad::Date) => return self.no_date(row, date),
            Err(Bad::Time) => {
                let place = self.places.time.unwrap_or_default();
                return self.bad_cell(row, place, time, "a time of day");
            }
        };
        self.dates.latest = self.dates.latest.max(Some(moment.date));
        if self.too_long(row) {
            return;
        }
        if let Some((min, max)) = self.temperatures(row) {
            self.reading(row, moment, (min, max));
        }
        self.before = Some(moment);
    }

    fn reading(&mut self, row: &Row, moment: Moment, (min, max): (f64, f64)) {
        let gust = self.extra(row, self.places.gust);
        let mut rain = self.extra(row, self.places.rain);
        let seen = self.dates.seen.entry(moment.date).or_insert_with(|| Seen {
            file: 0,
            row: row.number,
            minutes: Minutes::default(),
            untimed: 0,
            first: (min, max),
            min,
            max,
            gust: None,
            rain: None,
            rows_with_rain: 0,
            differs: None,
        });
        match moment.second {
            None => seen.untimed += 1,
            Some(second) => {
                self.noticed.midnights &= second == 0;
                let new = seen.minutes.insert((second / 60) as u16);
                // Some instruments write several times a minute.
                let next = self.before.is_some_and(|b| {
                    b.date == moment.date
                        && b != moment
                        && b.second.map(|s| s / 60) == Some(second / 60)
                });
                // Of daily rows the same date twice is another matter.
                if !new && !next && seen.minutes.count() > 1 {
                    self.noticed.repeats += 1;
                    rain = None;
                }
            }
        }
        if seen.first != (min, max) {
            seen.differs.get_or_insert((row.number, (min, max)));
        }
        seen.min = seen.min.min(min);
        seen.max = seen.max.max(max);
        seen.gust = seen.gust.into_iter().chain(gust).reduce(f64::max);
        seen.rows_with_rain += usize::from(rain.is_some());
        seen.rain = seen.rain.into_iter().chain(rain).reduce(|a, b| a + b);
    }

    fn extra(&self, row: &Row, place: Option<usize>) -> Option<f64> {
        match self.numerals.number(row.cells.get(place?)) {
            Figure::Number(number) => Some(number),
            _ => None,
        }
    }

    /// A row whose date says nothing: what is said under a header of its columns is no trouble, nor what sums up.
    fn no_date(&mut self, row: &Row, date: &str) {
        let digits = date.contains(|c: char| c.is_ascii_digit());
        if self.dates.latest.is_none() && !digits {
            return self.under_the_header(row);
        }
        if self.dates.latest.is_none() && self.form.is_year_first() {
            self.evidence = Evidence::new(row.number, date);
            if self.evidence.is_some() {
                return;
            }
        }
        let words = row.cells.iter().filter(|cell| !cell.is_empty());
        let alone = words.clone().count() == 1;
        if !digits && (alone || words.clone().any(sums_up)) {
            let passed = self.noticed.summaries.get_or_insert(Passed {
                count: 0,
                first: row.number,
                last: row.number,
            });
            passed.count += 1;
            passed.last = row.number;
            return;
        }
        self.noticed.no_date.get_or_insert_with(|| shortened(date));
        self.bad_cell(row, self.places.date, date, "a date");
    }

    fn under_the_header(&mut self, row: &Row) {
        let temperatures = [self.places.temp, self.places.min, self.places.max];
        let mut units = temperatures.into_iter().flatten();
        let unit = units.find_map(|place| unit_in(row.cells.get(place)));
        self.unit = self.unit.or(unit);
        let is = |cell: &str| {
            PROCESSING
                .iter()
                .any(|word| cell.eq_ignore_ascii_case(word))
        };
        let mut cells = row.cells.iter().filter(|cell| !cell.is_empty());
        self.noticed.processing |= cells.clone().count() > 0 && cells.all(is);
    }

    fn temperatures(&mut self, row: &Row) -> Option<(f64, f64)> {
        let places = self.places;
        match (places.min, places.max, places.temp) {
            (Some(min), Some(max), _) => {
                let (min, max) = (self.temperature(row, min), self.temperature(row, max));
                min.zip(max)
            }
            (_, _, Some(temp)) => self.temperature(row, temp).map(|t| (t, t)),
            _ => None,
        }
    }

    fn temperature(&mut self, row: &Row, place: usize) -> Option<f64> {
        let text = row.cells.get(place);
        match self
            .numerals
            .temperature(text, self.unit.unwrap_or(Unit::C))
        {
            Figure::Number(number) => {
                self.noticed.commas += u64::from(text.contains(','));
                self.noticed.points += u64::from(text.contains('.'));
                Some(number)
            }
            Figure::Missing => None,
            Figure::Unreadable => {
                self.bad_cell(row, place, text, "a temperature");
                None
            }
        }
    }

    /// A decimal comma between commas would make two cells of one number, and all the others slip.
    fn too_long(&mut self, row: &Row) -> bool {
        let (filled, width) = (row.cells.filled(), self.header.len());
        if self.loose || filled <= width {
            return false;
        }
        let place = format!("{}, row {}", self.place, row.number);
        let what = format!("it has {filled} cells under {width} column names");
        let date = row.cells.get(self.places.date);
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

    fn bad_cell(&mut self, row: &Row, column: usize, text: &str, wanted: &str) {
        if self.problems.len() >= NAMED {
            self.unnamed += 1;
            return;
        }
        let name = self.header.get(column).map_or("", String::as_str);
        let date = row.cells.get(self.places.date);
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

    /// The problems with single rows.
    pub fn problems(&mut self) -> Vec<Problem> {
        if self.unnamed > 0 {
            let what = format!("{} more cells could not be read", self.unnamed);
            let told = Problem::new(
                self.place,
                what,
                "their rows are not used",
                "see the rows named before",
            );
            let told = told.keyed(format!("{}: more cells", self.place));
            self.problems.push(told);
        }
        std::mem::take(&mut self.problems)
    }
}

fn sums_up(cell: &str) -> bool {
    let word = cell.split([' ', ':', '.', '(']).next().unwrap_or_default();
    SUMMARY.iter().any(|known| word.eq_ignore_ascii_case(known))
}

fn shortened(text: &str) -> String {
    const ENOUGH: usize = 40;
    match text.char_indices().nth(ENOUGH) {
        Some((end, _)) => format!("{}...", &text[..end]),
        None => text.to_owned(),
    }
}
