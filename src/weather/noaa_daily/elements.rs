//! The elements of a station's days, and what of them is used.
//!
//! Each value has its own quality flag: whatever failed a check of NOAA's is left out, with the reason, and so is a value
//! that stands in two ways. A date that lacks its maximum or its minimum is no day. Knows nothing of formats.

use super::morning::reads_in_the_morning;
use crate::days::{Origin, RawDay};
use chrono::NaiveDate;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// Temperatures in °C outside this are none.
pub const POSSIBLE: std::ops::RangeInclusive<f64> = -60.0..=60.0;
/// Hours at which a reading is one of the morning.
const MORNING: std::ops::RangeInclusive<u32> = 3..=11;

/// What was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Element {
    /// `TMAX`
    Max,
    /// `TMIN`
    Min,
    /// `PRCP`
    Rain,
    /// `WSFG`: the strongest gust.
    Gust,
}

impl Element {
    /// Those that are of use.
    pub const ALL: [Self; 4] = [Self::Max, Self::Min, Self::Rain, Self::Gust];

    /// The name NOAA gives it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Max => "TMAX",
            Self::Min => "TMIN",
            Self::Rain => "PRCP",
            Self::Gust => "WSFG",
        }
    }

    /// The element of that name, if it is of use.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|element| element.name() == name)
    }

    /// Whether it is a temperature.
    pub fn is_temperature(self) -> bool {
        matches!(self, Self::Max | Self::Min)
    }

    /// A value in °C, mm or m/s in the unit used inside: °C, mm, km/h. Gusts in m/s: from memory.
    pub fn metric(self, value: f64) -> f64 {
        if self == Self::Gust {
            value * 3.6
        } else {
            value
        }
    }
}

/// One value as it stands in a document.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The station's day.
    pub date: NaiveDate,
    /// What it is.
    pub element: Element,
    /// In °C, mm or km/h.
    pub value: f64,
    /// Blank when it passed every check.
    pub quality: char,
    /// When the station was read, as `HHMM` in its own time; blank when it is not said.
    pub time: String,
}

/// The readings of one station.
#[derive(Debug, Default)]
pub struct Readings {
    values: BTreeMap<(NaiveDate, Element), f64>,
    /// Why a value is left out.
    dropped: BTreeMap<(NaiveDate, Element), String>,
    /// How many maxima were read in which hour.
    hours: BTreeMap<u32, usize>,
}

/// What the readings add up to.
#[derive(Debug, PartialEq)]
pub struct Found {
    /// In order of date, each once.
    pub days: Vec<RawDay>,
    /// What was left out and why, in order of date.
    pub dropped: Vec<String>,
    /// Why the maxima seem to belong to the day before.
    pub morning: Option<String>,
}

impl Readings {
    /// Takes a reading in.
    pub fn add(&mut self, reading: &Reading) {
        let &Reading {
            date,
            element,
            value,
            quality,
            ..
        } = reading;
        if !quality.is_whitespace() {
            self.drop(
                date,
                element,
                format!("it failed a check of NOAA's ({})", meaning(quality)),
            );
            return;
        }
        if element.is_temperature() && !POSSIBLE.contains(&value) {
            self.drop(date, element, format!("{value} °C cannot be"));
            return;
        }
        if !element.is_temperature() && value < 0.0 {
            self.drop(date, element, format!("{value} cannot be"));
            return;
        }
        match self.values.entry((date, element)) {
            Entry::Vacant(place) => {
                place.insert(value);
            }
            // The same value twice is the same.
            Entry::Occupied(place) if (place.get() - value).abs() < 1e-9 => return,
            Entry::Occupied(place) => {
                let other = *place.get();
                self.drop(
                    date,
                    element,
                    format!("it stands there as {other} and as {value}"),
                );
                return;
            }
        }
        if element == Element::Max
            && let Some(hour) = hour(&reading.time)
        {
            *self.hours.entry(hour).or_default() += 1;
        }
    }

    /// Leaves a value out.
    pub fn drop(&mut self, date: NaiveDate, element: Element, why: String) {
        self.dropped.insert((date, element), why);
    }

    /// The days, measured all of them.
    pub fn days(self) -> Found {
        let value = |date, element| {
            let key = (date, element);
            self.values
                .get(&key)
                .filter(|_| !self.dropped.contains_key(&key))
                .copied()
        };
        let maxima = self
            .values
            .keys()
            .filter(|(_, element)| *element == Element::Max);
        let days: Vec<RawDay> = maxima
            .filter_map(|&(date, _)| {
                Some(RawDay {
                    date,
                    min: value(date, Element::Min)?,
                    max: value(date, Element::Max)?,
                    gust: value(date, Element::Gust),
                    rain: value(date, Element::Rain),
                    origin: Origin::Measured,
                })
            })
            .collect();
        let dropped = self
            .dropped
            .iter()
            .map(|((date, element), why)| format!("{} of {date}: {why}", element.name()))
            .collect();
        let morning = self.usual_hour().map_or_else(
            || {
                reads_in_the_morning(&days).then(|| {
                    "its maxima lag behind its minima, as at a station that is read in the morning".to_owned()
                })
            },
            |hour| MORNING.contains(&hour).then(|| format!("it is read at {hour:02}:00")),
        );
        Found {
            days,
            dropped,
            morning,
        }
    }

    /// The hour at which most maxima were read.
    fn usual_hour(&self) -> Option<u32> {
        let most = self.hours.iter().max_by_key(|(_, count)| **count)?;
        Some(*most.0)
    }
}

/// The hour of `0700`; `2400` is 24.
fn hour(time: &str) -> Option<u32> {
    let time = time.trim();
    if time.is_empty() || time.len() > 4 {
        return None;
    }
    let time: u32 = time.parse().ok()?;
    (time <= 2400).then_some(time / 100)
}

/// What a quality flag says (from memory of the readme of GHCN-Daily).
fn meaning(flag: char) -> String {
    let words = match flag {
        'D' => "doubled",
        'G' => "far from all others",
        'I' => "not consistent with the day's other values",
        'K' => "the same for too many days",
        'L' => "gathered over several days",
        'M' => "not consistent with its month",
        'N' => "a nought that is none",
        'O' => "far outside the climate",
        'R' => "too far from the days around it",
        'S' => "far from its neighbour stations",
        'T' => "jumps from day to day",
        'W' => "too warm for snow",
        'X' => "outside what is possible",
        'Z' => "found wrong by a person",
        _ => return format!("flag {flag}"),
    };
    format!("flag {flag}: {words}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(date: &str, element: Element, value: f64, quality: char, time: &str) -> Reading {
        Reading {
            date: date.parse().unwrap(),
            element,
            value,
            quality,
            time: time.into(),
        }
    }

    fn found(readings: &[Reading]) -> Found {
        let mut all = Readings::default();
        for reading in readings {
            all.add(reading);
        }
        all.days()
    }

    #[track_caller]
    fn check(readings: &[Reading], days: &[(&str, f64, f64)], dropped: &[&str]) {
        let found = found(readings);
        let got: Vec<_> = found
            .days
            .iter()
            .map(|d| (d.date.to_string(), d.min, d.max))
            .collect();
        let expected: Vec<_> = days
            .iter()
            .map(|(date, min, max)| ((*date).to_owned(), *min, *max))
            .collect();
        assert_eq!(got, expected);
        assert_eq!(found.dropped, dropped);
    }

    #[test]
    fn a_day_has_both_and_whatever_is_flagged_is_left_out() {
        check(
            &[
                reading("2026-10-02", Element::Min, 7.2, ' ', ""),
                reading("2026-10-01", Element::Max, 19.4, ' ', ""),
                reading("2026-10-01", Element::Min, 8.3, ' ', ""),
                reading("2026-10-02", Element::Max, 48.9, 'S', ""),
                reading("2026-10-03", Element::Max, 18.0, ' ', ""),
            ],
            &[("2026-10-01", 8.3, 19.4)],
            &[
                "TMAX of 2026-10-02: it failed a check of NOAA's (flag S: far from its neighbour stations)",
            ],
        );
    }

    #[test]
    fn a_value_that_stands_in_two_ways_is_left_out() {
        check(
            &[
                reading("2026-10-01", Element::Max, 19.4, ' ', ""),
                reading("2026-10-01", Element::Max, 19.4, ' ', ""),
                reading("2026-10-01", Element::Min, 8.3, ' ', ""),
                reading("2026-10-02", Element::Max, 20.0, ' ', ""),
                reading("2026-10-02", Element::Max, 21.0, ' ', ""),
                reading("2026-10-02", Element::Min, 8.3, ' ', ""),
            ],
            &[("2026-10-01", 8.3, 19.4)],
            &["TMAX of 2026-10-02: it stands there as 20 and as 21"],
        );
    }

    #[test]
    fn what_cannot_be_is_left_out() {
        check(
            &[
                reading("2026-10-01", Element::Max, 72.0, ' ', ""),
                reading("2026-10-01", Element::Min, 8.3, ' ', ""),
            ],
            &[],
            &["TMAX of 2026-10-01: 72 °C cannot be"],
        );
    }

    #[test]
    fn the_hour_of_most_maxima_says_whether_it_is_read_in_the_morning() {
        let read_at = |time| {
            found(&[
                reading("2026-10-01", Element::Max, 19.4, ' ', time),
                reading("2026-10-02", Element::Max, 19.4, ' ', time),
                reading("2026-10-03", Element::Max, 19.4, ' ', "1200"),
                // The minimum's hour is no matter.
                reading("2026-10-03", Element::Min, 9.4, ' ', "0700"),
            ])
            .morning
        };
        assert_eq!(read_at("0700").as_deref(), Some("it is read at 07:00"));
        assert_eq!(read_at("830").as_deref(), Some("it is read at 08:00"));
        assert_eq!(read_at("2400"), None);
        assert_eq!(read_at("1700"), None);
        assert_eq!(read_at(""), None);
    }

    #[test]
    fn gusts_come_in_metres_a_second() {
        assert!((Element::Gust.metric(10.0) - 36.0).abs() < 1e-9);
        assert!((Element::Max.metric(10.0) - 10.0).abs() < 1e-9);
    }
}
