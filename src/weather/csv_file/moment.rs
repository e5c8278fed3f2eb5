//! The moments of a temperature file: how its dates are written, off which clock, and to which day they belong. Pure.
//!
//! Hands on the site's own date and the second of that day. It never guesses whether the day or the month stands first.

mod pattern;

use super::cells::{Figure, Numerals};
use super::clock::{DAY, digit, offset, time_of_day};
use crate::weather::layout::{EXCEL, Layout, UNIX};
use chrono::{
    DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeDelta, TimeZone, Timelike,
};
use chrono_tz::Tz;
use pattern::{Matched, Pattern, four_digits};

/// Above this, seconds since 1970 would lie beyond the year 5000: they are thousandths.
const THOUSANDTHS: f64 = 1e11;

/// How the dates of a file are written.
#[derive(Clone, Debug)]
pub struct DateForm {
    written: Written,
    clock: Option<i32>,
    interval_end: bool,
    zone: Option<Tz>,
}

#[derive(Clone, Debug)]
enum Written {
    YearFirst,
    Pattern(Pattern),
    Excel,
    Unix,
}

/// A date at the site, and the second of that day (0 to 86 400) where a time stood with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    pub date: NaiveDate,
    pub second: Option<u32>,
}

/// Which cell says nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bad {
    Date,
    Time,
}

impl DateForm {
    /// Year first unless a format is given; none where the format makes no sense.
    pub fn new(layout: &Layout, zone: Option<Tz>) -> Option<Self> {
        let written = match layout.date_format.as_deref() {
            None => Written::YearFirst,
            Some(EXCEL) => Written::Excel,
            Some(UNIX) => Written::Unix,
            Some(format) => Written::Pattern(Pattern::new(format)?),
        };
        Some(Self {
            written,
            clock: layout.clock.map(|clock| clock.local_minus_utc()),
            interval_end: layout.interval_end,
            zone,
        })
    }

    /// No format was given.
    pub fn is_year_first(&self) -> bool {
        matches!(self.written, Written::YearFirst)
    }

    /// The moment of a date cell, with its time cell and the cell of its offset, if any. One with an offset is taken to
    /// the site's zone; one without was read off the clock of the config, or is local as written.
    pub fn read(&self, date: &str, time: &str, zone: &str) -> Result<Moment, Bad> {
        let found = self.date(date).ok_or(Bad::Date)?;
        let rest = behind_a_date(found.rest).ok_or(Bad::Date)?;
        let (second, tail) = match (time, found.second) {
            ("", Some(second)) => (Some(second), rest),
            ("", None) if rest.is_empty() => (None, rest),
            ("", None) => clock_time(rest).ok_or(Bad::Date)?,
            (time, _) => self.time(time).ok_or(Bad::Time)?,
        };
        let Some(second) = second else {
            return Ok(Moment {
                date: found.date,
                second: None,
            });
        };
        let said = found.offset.or_else(|| offset(tail));
        let east = said.or_else(|| offset(zone)).or(self.clock);
        self.at_the_site(found.date, second, east).ok_or(Bad::Date)
    }

    fn date<'t>(&self, text: &'t str) -> Option<Matched<'t>> {
        match &self.written {
            Written::YearFirst => year_first(text),
            Written::Pattern(pattern) => pattern.follow(text),
            Written::Excel => excel(text),
            Written::Unix => unix(text),
        }
    }

    /// A spreadsheet that writes days as numbers writes times as parts of a day.
    fn time<'t>(&self, text: &'t str) -> Option<(Option<u32>, &'t str)> {
        if matches!(self.written, Written::Excel)
            && let Figure::Number(part) = Numerals::default().number(text)
            && (0.0..1.0).contains(&part)
        {
            return Some((Some(seconds_of(part)), ""));
        }
        clock_time(text)
    }

    fn at_the_site(&self, date: NaiveDate, second: u32, east: Option<i32>) -> Option<Moment> {
        // The end of an interval is the moment before: its last midnight is the day's own.
        let before = u32::from(self.interval_end);
        let (Some(zone), Some(east)) = (self.zone, east) else {
            return Some(match second.checked_sub(before) {
                Some(second) => Moment {
                    date,
                    second: Some(second),
                },
                None => Moment {
                    date: date.pred_opt()?,
                    second: Some(DAY - 1),
                },
            });
        };
        // The edges of the calendar have no neighbours to be shifted to.
        if !(1..=9998).contains(&date.year()) {
            return None;
        }
        let utc = date.and_time(NaiveTime::MIN)
            + TimeDelta::seconds(i64::from(second) - i64::from(east) - i64::from(before));
        let local: NaiveDateTime = utc + zone.offset_from_utc_datetime(&utc).fix();
        Some(Moment {
            date: local.date(),
            second: Some(local.time().num_seconds_from_midnight()),
        })
    }
}

/// What stands behind a date: nothing, or something set apart from it.
fn behind_a_date(rest: &str) -> Option<&str> {
    match rest.chars().next() {
        None => Some(""),
        Some(' ' | '\u{a0}' | 'T' | ',') => Some(rest[rest.chars().next()?.len_utf8()..].trim()),
        Some('+' | '-' | 'Z') => Some(rest),
        Some(_) => None,
    }
}

fn clock_time(text: &str) -> Option<(Option<u32>, &str)> {
    let (second, rest) = time_of_day(text)?;
    // Behind a time stands an offset or the name of a zone.
    let rest = rest.trim();
    let odd = rest
        .starts_with(|c: char| !(c.is_alphabetic() || matches!(c, '+' | '-' | '\u{2212}' | '(')));
    (!odd).then_some((Some(second), rest))
}

/// `2026-08-18`, `2026/08/18`, `2026.08.18` or `20260818`, and what follows.
fn year_first(text: &str) -> Option<Matched<'_>> {
    let (year, rest) = four_digits(text)?;
    let bytes = rest.as_bytes();
    let pair = |at: usize| Some(digit(*bytes.get(at)?)? * 10 + digit(*bytes.get(at + 1)?)?);
    let (month, day, end) = match *bytes.first()? {
        mark @ (b'-' | b'/' | b'.') if bytes.get(3) == Some(&mark) => (pair(1)?, pair(4)?, 6),
        _ => (pair(0)?, pair(2)?, 4),
    };
    Some(Matched {
        date: NaiveDate::from_ymd_opt(year, month, day)?,
        second: None,
        offset: None,
        rest: &rest[end..],
    })
}

/// Days since 30 December 1899, which is right from March 1900 on.
fn excel(text: &str) -> Option<Matched<'_>> {
    let Figure::Number(days) = Numerals::default().number(text) else {
        return None;
    };
    // 1927 to 2119: a number outside is no day of this program.
    if !(10_000.0..80_000.0).contains(&days) {
        return None;
    }
    let whole = days.floor();
    let date = NaiveDate::from_ymd_opt(1899, 12, 30)? + TimeDelta::days(whole as i64);
    let timed = text.contains(['.', ',']);
    Some(Matched {
        date,
        second: timed.then(|| seconds_of(days - whole)),
        offset: None,
        rest: "",
    })
}

/// The second of a part of a day. A few decimals are rounded, so the nearest one is meant.
fn seconds_of(part: f64) -> u32 {
    (part * f64::from(DAY)).round() as u32
}

/// Seconds, or thousandths of them, since 1970 in Greenwich.
fn unix(text: &str) -> Option<Matched<'_>> {
    let Figure::Number(number) = Numerals::default().number(text) else {
        return None;
    };
    let seconds = if number.abs() > THOUSANDTHS {
        number / 1000.0
    } else {
        number
    };
    let moment = DateTime::from_timestamp(seconds.floor() as i64, 0)?.naive_utc();
    Some(Matched {
        date: moment.date(),
        second: Some(moment.time().num_seconds_from_midnight()),
        offset: Some(0),
        rest: "",
    })
}

#[cfg(test)]
mod tests;
