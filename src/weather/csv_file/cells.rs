//! What single cells of a temperature file say: temperatures, and moments. Pure.

use crate::units::Celsius;
use crate::weather::layout::Unit;
use chrono::format::{Item, Parsed, StrftimeItems, parse_and_remainder};
use chrono::{Datelike, FixedOffset, NaiveDate, NaiveDateTime, NaiveTime, TimeZone};
use chrono_tz::Tz;

/// What instruments write when they have nothing to say (spreadsheets' error cells among them).
const NOTHING: [&str; 13] = [
    "nan", "na", "n/a", "#n/a", "null", "none", "m", "x", ".", "?", "#name?", "#value!", "#div/0!",
];

/// Numbers that instruments write for the same.
const NO_READING: [f64; 14] = [
    -99.0, -99.9, -99.99, -999.0, -999.9, -999.99, -9999.0, -9999.9, 999.9, 7999.0, 9999.0, 9999.9,
    32767.0, -32768.0,
];

/// A number, nothing, or neither.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Figure {
    Number(f64),
    Missing,
    Unreadable,
}

/// A number with a decimal point or comma; always finite.
pub fn number(text: &str) -> Figure {
    let text = text.trim();
    if text.chars().all(|c| matches!(c, '-' | '–' | '—')) {
        return Figure::Missing; // also the empty cell
    }
    if NOTHING.contains(&text.to_lowercase().as_str()) {
        return Figure::Missing;
    }
    let mut plain = text.replace('\u{2212}', "-");
    if plain.matches(',').count() == 1 && !plain.contains('.') {
        plain = plain.replace(',', ".");
    }
    match plain.parse::<f64>() {
        Ok(number) if !number.is_finite() => Figure::Missing,
        Ok(number) if NO_READING.contains(&number) => Figure::Missing,
        Ok(number) => Figure::Number(number),
        Err(_) => Figure::Unreadable,
    }
}

/// A temperature in °C; a unit behind the number says more than the file's.
pub fn temperature(text: &str, unit: Unit) -> Figure {
    let text = text.trim_end();
    let said = match text.as_bytes().last() {
        Some(b'C' | b'c') => Some(Unit::C),
        Some(b'F' | b'f') => Some(Unit::F),
        _ => None,
    };
    let before = text.get(..text.len().saturating_sub(1)).unwrap_or_default();
    let before = before.trim_end();
    let digits = before.strip_suffix('°').unwrap_or(before).trim_end();
    let (digits, unit) = match said {
        // Not the last letter of a word.
        Some(said) if digits.ends_with(|c: char| c.is_ascii_digit()) => (digits, said),
        _ => (text, unit),
    };
    match (number(digits), unit) {
        (Figure::Number(f), Unit::F) => Figure::Number(Celsius::from_fahrenheit(f).0),
        (figure, _) => figure,
    }
}

/// How the dates of a file are written.
#[derive(Clone, Debug)]
pub struct DateForm {
    items: Option<Vec<Item<'static>>>,
    zone: Option<Tz>,
}

/// A local date, and whether a time stood with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    pub date: NaiveDate,
    pub timed: bool,
}

impl DateForm {
    /// Year first unless a format is given; none where the format makes no sense.
    pub fn new(format: Option<&str>, zone: Option<Tz>) -> Option<Self> {
        let items = match format {
            None => None,
            Some(format) => Some(StrftimeItems::new(format).parse_to_owned().ok()?),
        };
        Some(Self { items, zone })
    }

    /// No format was given.
    pub fn is_year_first(&self) -> bool {
        self.items.is_none()
    }

    /// The local date of a date cell with its time cell, if any. A moment with an offset is taken to the site's zone;
    /// one without is local as written, and a day's last midnight may be written 24:00.
    pub fn read(&self, date: &str, time: &str) -> Option<Moment> {
        let written: Vec<&str> = date
            .split_whitespace()
            .chain(time.split_whitespace())
            .collect();
        let written = written
            .join(" ")
            .replace(" 24:00", " 00:00")
            .replace("T24:00", "T00:00");
        let mut parsed = Parsed::new();
        let (date, rest) = if let Some(items) = &self.items {
            let rest = parse_and_remainder(&mut parsed, &written, items.iter()).ok()?;
            (parsed.to_naive_date().ok()?, rest)
        } else {
            year_first(&written)?
        };
        if !rest.is_empty() && !rest.starts_with([' ', 'T']) {
            return None;
        }
        let rest = rest.get(1..).unwrap_or_default();
        if !rest.is_empty() && !rest.starts_with(|c: char| c.is_ascii_digit()) {
            return None;
        }
        let in_format = (parsed.to_naive_time().ok(), parsed.to_fixed_offset().ok());
        let timed = in_format.0.is_some() || !rest.is_empty();
        let Some(zone) = self.zone else {
            return Some(Moment { date, timed });
        };
        let local = match in_format {
            (Some(time), Some(offset)) => in_zone(date.and_time(time), offset, zone)?,
            _ => match with_offset(rest) {
                Some((clock, offset)) => {
                    let time = in_format.0.or_else(|| clock_time(clock))?;
                    in_zone(date.and_time(time), offset, zone)?
                }
                None => date,
            },
        };
        Some(Moment { date: local, timed })
    }
}

/// Whether the text is a date of which nobody can know whether the day or the month stands first.
pub fn is_two_faced(text: &str) -> bool {
    let day = text.split_whitespace().next().unwrap_or_default();
    let parts: Vec<&str> = day.split(['/', '.', '-']).collect();
    let digits =
        |part: &&str| (1..=2).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
    matches!(parts.as_slice(), [a, b, year] if digits(a) && digits(b)
        && matches!(year.len(), 2 | 4) && year.bytes().all(|c| c.is_ascii_digit()))
}

/// `2026-08-18`, `2026/08/18` or `20260818`, and what follows.
fn year_first(text: &str) -> Option<(NaiveDate, &str)> {
    let digits = |from: usize, to: usize| {
        let part = text.get(from..to)?;
        part.bytes()
            .all(|b| b.is_ascii_digit())
            .then(|| part.parse::<u32>().ok())?
    };
    let mark = *text.as_bytes().get(4)?;
    let (month, day, end) = match mark {
        b'-' | b'/' if text.as_bytes().get(7) == Some(&mark) => (digits(5, 7)?, digits(8, 10)?, 10),
        _ => (digits(4, 6)?, digits(6, 8)?, 8),
    };
    let date = NaiveDate::from_ymd_opt(i32::try_from(digits(0, 4)?).ok()?, month, day)?;
    Some((date, text.get(end..)?))
}

/// The clock time and the offset of `15:30:00+02:00`, `15:30Z`, `15:30 UTC`.
fn with_offset(text: &str) -> Option<(&str, FixedOffset)> {
    for name in ["Z", "z", "UTC", "GMT"] {
        if let Some(clock) = text.strip_suffix(name) {
            return Some((clock.trim_end(), FixedOffset::east_opt(0)?));
        }
    }
    let at = text.rfind(['+', '-'])?;
    let (clock, offset) = text.split_at(at);
    Some((clock.trim_end(), offset_in(offset)?))
}

/// `+02:00`, `+0200` or `+02`.
fn offset_in(text: &str) -> Option<FixedOffset> {
    let digits: String = text.get(1..)?.replace(':', "");
    if !matches!(digits.len(), 2 | 4) || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let hours: i32 = digits.get(..2)?.parse().ok()?;
    let minutes: i32 = digits
        .get(2..)
        .filter(|m| !m.is_empty())
        .map_or(Some(0), |m| m.parse().ok())?;
    let seconds = hours * 3600 + minutes * 60;
    FixedOffset::east_opt(if text.starts_with('-') {
        -seconds
    } else {
        seconds
    })
}

fn clock_time(text: &str) -> Option<NaiveTime> {
    ["%H:%M:%S%.f", "%H:%M", "%I:%M:%S %p", "%I:%M %p"]
        .iter()
        .find_map(|form| NaiveTime::parse_from_str(text, form).ok())
}

fn in_zone(local: NaiveDateTime, offset: FixedOffset, zone: Tz) -> Option<NaiveDate> {
    let moment = local.checked_sub_offset(offset)?;
    // The edges of the calendar have no neighbours to be shifted to.
    let inside = (1..=9998).contains(&moment.year());
    inside.then(|| zone.from_utc_datetime(&moment).date_naive())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check_number(text: &str, expect: Figure) {
        assert_eq!(temperature(text, Unit::C), expect);
    }

    #[test]
    fn numbers_are_read_as_they_are_written() {
        for text in ["21.5", "21,5", "+21.5", "21.5 °C", "21.5C", "70.7 °F"] {
            check_number(text, Figure::Number(21.5));
        }
        check_number("\u{2212}4,5", Figure::Number(-4.5));
        assert_eq!(temperature("50", Unit::F), Figure::Number(10.0));
    }

    #[test]
    fn nothing_is_written_in_many_ways() {
        for text in [
            "", " ", "-", "--", "----", "NaN", "NAN", "NA", "N/A", "null", "M", "inf", "1e999",
        ] {
            check_number(text, Figure::Missing);
        }
        for text in [
            "-9999",
            "-9999.0",
            "-99.9",
            "-99",
            "32767",
            "\u{2212}9999",
            "#N/A",
        ] {
            check_number(text, Figure::Missing);
        }
    }

    #[test]
    fn what_is_no_number_is_said_to_be_none() {
        for text in ["warm", "1.2.3", "1,200.5", "<31", "21.5 K"] {
            check_number(text, Figure::Unreadable);
        }
    }

    /// The date, with `+` behind it where a time stood with it, at a site in Brussels.
    #[track_caller]
    fn check(format: Option<&str>, date: &str, time: &str, expect: &str) {
        let form = DateForm::new(format, Some(chrono_tz::Europe::Brussels)).unwrap();
        let found = form.read(date, time).map_or("none".into(), |moment| {
            format!("{}{}", moment.date, if moment.timed { "+" } else { "" })
        });
        assert_eq!(found, expect);
    }

    #[test]
    fn dates_are_year_first_unless_said() {
        check(None, "2026-08-18", "", "2026-08-18");
        check(None, "20260818", "", "2026-08-18");
        check(None, "2026/08/18", "", "2026-08-18");
        for text in [
            "",
            "02/08/2022",
            "2026-08",
            "2026-13-01",
            "2026-08-18x",
            "2026-08-18 noon",
            "Average",
        ] {
            check(None, text, "", "none");
        }
    }

    #[test]
    fn a_time_is_local_as_written() {
        check(None, "2026-08-18 23:45", "", "2026-08-18+");
        check(None, "2026-08-18T23:45:00", "", "2026-08-18+");
        check(None, "2026-08-18", "11:45 PM", "2026-08-18+");
        check(None, "2026-08-18 24:00", "", "2026-08-18+");
    }

    #[test]
    fn an_offset_is_taken_to_the_zone() {
        check(None, "2026-08-18T21:59:00Z", "", "2026-08-18+");
        check(None, "2026-08-18T22:00:00Z", "", "2026-08-19+");
        check(None, "2026-08-18T22:00:00.000+02:00", "", "2026-08-18+");
        check(None, "2026-08-18", "23:30-0500", "2026-08-19+");
        check(None, "2026-08-18", "22:30 UTC", "2026-08-19+");
        check(None, "2026-12-31T23:00Z", "", "2027-01-01+");
    }

    #[test]
    fn a_format_is_followed() {
        check(Some("%d/%m/%Y"), "02/08/2022   15:30", "", "2022-08-02+");
        check(Some("%d.%m.%Y"), "02.09.2024", "09:31:55", "2024-09-02+");
        check(Some("%d/%m/%y"), "29/11/24", "", "2024-11-29");
        check(
            Some("%d/%m/%Y %H:%M"),
            "02/08/2022 24:00",
            "",
            "2022-08-02+",
        );
        check(
            Some("%d/%m/%Y %H:%M %z"),
            "02/08/2022 23:30 +0000",
            "",
            "2022-08-03+",
        );
        check(Some("%d/%m/%Y"), "31/02/2022", "", "none");
        assert!(DateForm::new(Some("%Q"), None).is_none());
    }

    #[test]
    fn two_faced_dates_are_known() {
        for text in ["02/08/2022", "2.8.22", "02/08/2022   15:30", "18-08-2026"] {
            assert!(is_two_faced(text), "{text}");
        }
        for text in ["2026-08-18", "Average", "1/2", ""] {
            assert!(!is_two_faced(text), "{text}");
        }
    }
}
