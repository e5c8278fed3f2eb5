//! What single cells say: dates, counts, names from a list; and how a cell that says nothing is told.
//!
//! Pure. A date must be year first: day-first and month-first forms cannot be told apart safely, and a day's warmth
//! more or less is what this program is about.

use chrono::{Datelike, NaiveDate};
use std::collections::{HashMap, HashSet};
use std::fmt;

/// What becomes of a row that has a bad cell.
const NOT_USED: &str =
    "this row is not used, the last good version of it stays in force if there was one";

/// A cell of which no sense can be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadCell {
    /// The column's name; empty where it is about the row.
    pub column: &'static str,
    /// What is wrong.
    pub what: String,
    /// What becomes of the row in a file.
    pub done: &'static str,
    /// What to do.
    pub remedy: String,
    /// The day that is still to come, where that is all that is wrong.
    pub waits_until: Option<NaiveDate>,
}

impl BadCell {
    pub(super) fn new(
        column: &'static str,
        what: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            column,
            what: what.into(),
            done: NOT_USED,
            remedy: remedy.into(),
            waits_until: None,
        }
    }

    /// A day that is still to come is no mistake for ever.
    pub(super) fn in_the_future(column: &'static str, date: NaiveDate, today: NaiveDate) -> Self {
        Self {
            waits_until: Some(date),
            done: "the row waits until then, the last good version of it stays in force if there was one",
            ..Self::new(
                column,
                format!("{date} is in the future (today is {today})"),
                "correct the date if it is a slip",
            )
        }
    }
}

impl fmt::Display for BadCell {
    /// For the command line, where there is neither row nor column: `what; remedy`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.what, self.remedy)
    }
}

/// A day, written year first; not later than `today`.
pub fn date(column: &'static str, text: &str, today: NaiveDate) -> Result<NaiveDate, BadCell> {
    let date = iso_date(text).ok_or_else(|| no_date(column, text))?;
    if date > today {
        return Err(BadCell::in_the_future(column, date, today));
    }
    Ok(date)
}

/// `2026-08-18`, also with a time of midnight behind it, as some spreadsheets write dates.
pub fn iso_date(text: &str) -> Option<NaiveDate> {
    let day = ["T00:00:00", " 00:00:00", "T00:00", " 00:00"]
        .iter()
        .find_map(|midnight| text.strip_suffix(midnight))
        .unwrap_or(text);
    let digits = |part: &str, most: usize| {
        (1..=most).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit())
    };
    let mut parts = day.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() || year.len() != 4 || !digits(year, 4) {
        return None;
    }
    if !digits(month, 2) || !digits(day, 2) {
        return None;
    }
    NaiveDate::from_ymd_opt(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?)
        .filter(|date| date.year() >= 1900)
}

fn no_date(column: &'static str, text: &str) -> BadCell {
    let year_first = "write the year first, as 2026-08-18 for 18 August 2026";
    if text.is_empty() {
        return BadCell::new(column, "the date is missing", year_first);
    }
    let numbers: Vec<&str> = text.split(['-', '/', '.']).map(str::trim).collect();
    let all_digits = numbers
        .iter()
        .all(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()));
    match numbers.as_slice() {
        [_] if all_digits && text.len() == 5 => BadCell::new(
            column,
            format!("'{text}' is the number by which a spreadsheet counts this day"),
            "set the format of the column to a date with the year first, as 2026-08-18, before saving",
        ),
        [year, _, _] if all_digits && year.len() == 4 => BadCell::new(
            column,
            format!("'{text}' is no day of the calendar written year-month-day"),
            year_first,
        ),
        [_, _, _] if all_digits => BadCell::new(
            column,
            format!("'{text}' may have the day first or the month first"),
            year_first,
        ),
        _ => BadCell::new(column, format!("'{text}' is not a date"), year_first),
    }
}

/// Nobody makes more grafts in a batch; a larger number is a slip, and sums of such numbers must not overflow.
const MOST: u32 = 1_000_000;

/// A whole number in plain digits, to a million: thousands separators and decimals are left to nobody's guess.
pub fn whole(text: &str) -> Option<u32> {
    let digits = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let number: Option<u32> = if digits { text.parse().ok() } else { None };
    number.filter(|n| *n <= MOST)
}

/// A number of digits with at most one decimal point or comma.
pub fn decimal(text: &str) -> Option<f64> {
    let marks = text.matches(['.', ',']).count();
    let plain = text
        .bytes()
        .all(|b| b.is_ascii_digit() || b == b'.' || b == b',');
    if marks > 1 || !plain {
        return None;
    }
    text.replace(',', ".").parse().ok()
}

/// The known name that the text means: case and the width of gaps do not matter.
pub fn known<'a>(text: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let wanted = plain(text);
    let mut folded = None;
    for name in names {
        if name == text {
            return Some(name);
        }
        if plain(name) == wanted {
            folded.get_or_insert(name);
        }
    }
    folded
}

fn plain(name: &str) -> String {
    let words: Vec<&str> = name.split_whitespace().collect();
    words.join(" ").to_lowercase()
}

/// Names that are looked up for every row of a long file.
pub struct Names<'a> {
    pub all: &'a [String],
    exact: HashSet<&'a str>,
    /// Of those that read alike the first.
    folded: HashMap<String, &'a str>,
}

impl<'a> Names<'a> {
    pub fn of(all: &'a [String]) -> Self {
        let mut folded = HashMap::new();
        for name in all {
            folded.entry(plain(name)).or_insert(name.as_str());
        }
        Self {
            all,
            exact: all.iter().map(String::as_str).collect(),
            folded,
        }
    }

    /// As [`known`] finds it.
    pub fn known(&self, text: &str) -> Option<&'a str> {
        let exact = self.exact.get(text).copied();
        exact.or_else(|| self.folded.get(&plain(text)).copied())
    }
}

/// The known word that a mistyped one is nearest to, if any is near.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    const NEAR: f64 = 0.8;
    let word = word.to_lowercase();
    known
        .into_iter()
        .map(|name| (strsim::jaro_winkler(&word, &name.to_lowercase()), name))
        .filter(|&(nearness, _)| nearness >= NEAR)
        // Of those that are as near, always the same, in whatever order they are known.
        .max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.cmp(a.1)))
        .map(|(_, name)| name)
}

/// What to write instead of an unknown word: the nearest one, or all of them where they are few.
pub fn instead<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    const FEW: usize = 8;
    let names: Vec<&str> = known.into_iter().collect();
    match nearest(word, names.iter().copied()) {
        Some(name) => format!("perhaps '{name}' is meant"),
        None if names.is_empty() => "none is known: see the config".into(),
        None if names.len() <= FEW => format!("write {}", in_words(&names, "or")),
        None => format!("write one of {}", names.join(", ")),
    }
}

/// `a, b and c`.
pub fn in_words(names: &[&str], and: &str) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} {and} {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expect: &str) {
        let today = NaiveDate::from_ymd_opt(2026, 8, 20).unwrap();
        let found = match date("grafted_on", text, today) {
            Ok(date) => date.to_string(),
            Err(bad) => bad.to_string(),
        };
        assert_eq!(found, expect);
    }

    #[test]
    fn dates_are_year_first() {
        check("2026-08-18", "2026-08-18");
        check("2026-8-1", "2026-08-01");
        check("2026-08-18 00:00:00", "2026-08-18");
        check("2026-08-20", "2026-08-20");
    }

    #[test]
    fn other_dates_are_told_how_to_be_written() {
        const FIRST: &str = "write the year first, as 2026-08-18 for 18 August 2026";
        check("", &format!("the date is missing; {FIRST}"));
        for text in ["18/08/2026", "8/18/26", "18.08.2026", "18-08-2026"] {
            check(
                text,
                &format!("'{text}' may have the day first or the month first; {FIRST}"),
            );
        }
        for text in ["2026-18-08", "2026-02-29", "2026/08/18"] {
            check(
                text,
                &format!("'{text}' is no day of the calendar written year-month-day; {FIRST}"),
            );
        }
        for text in [
            "tomorrow",
            "2026-08",
            "20260818",
            "2026-+8-18",
            "0026-08-18x",
        ] {
            check(text, &format!("'{text}' is not a date; {FIRST}"));
        }
        check(
            "46252",
            "'46252' is the number by which a spreadsheet counts this day; set the format of the column to a date with the year first, as 2026-08-18, before saving",
        );
    }

    #[test]
    fn the_future_waits() {
        check(
            "2026-08-21",
            "2026-08-21 is in the future (today is 2026-08-20); correct the date if it is a slip",
        );
    }

    #[test]
    fn numbers_are_plain() {
        assert_eq!(whole("310"), Some(310));
        assert_eq!(whole("1000000"), Some(1_000_000));
        assert_eq!(whole("1000001"), None);
        for text in ["", "-3", "+3", "3.0", "1,200", "many", "99999999999"] {
            assert_eq!(whole(text), None, "{text}");
        }
        assert_eq!(decimal("32,5"), Some(32.5));
        assert_eq!(decimal("32.5"), Some(32.5));
        assert_eq!(decimal("30"), Some(30.0));
        for text in ["", ",", "1.200,5", "-3", "inf", "NaN", "1e3"] {
            assert_eq!(decimal(text), None, "{text}");
        }
    }

    #[test]
    fn names_are_known_by_sight() {
        assert_eq!(known("Hill", ["hill", "valley"]), Some("hill"));
        assert_eq!(known("Hill", ["hill", "Hill"]), Some("Hill"));
        assert_eq!(known("maple  field", ["maple field"]), Some("maple field"));
        assert_eq!(known("hil", ["hill"]), None);
        assert_eq!(
            nearest("headback", ["headed-back", "lost"]),
            Some("headed-back")
        );
        assert_eq!(instead("zz", ["hill", "valley"]), "write hill or valley");
        assert_eq!(instead("zz", []), "none is known: see the config");
    }

    #[test]
    fn many_names_are_known_as_few_are() {
        let all = ["hill", "Hill", "Maple  Field", "valley"].map(str::to_owned);
        let names = Names::of(&all);
        for (text, name) in [
            ("Hill", Some("Hill")),
            ("HILL", Some("hill")),
            (" maple field", Some("Maple  Field")),
            ("hil", None),
            ("", None),
        ] {
            assert_eq!(names.known(text), name, "{text}");
            assert_eq!(known(text, all.iter().map(String::as_str)), name, "{text}");
        }
    }

    #[test]
    fn of_two_as_near_the_same_is_proposed_in_any_order() {
        assert_eq!(nearest("C-1", ["C-14", "C-15"]), Some("C-14"));
        assert_eq!(nearest("C-1", ["C-15", "C-14"]), Some("C-14"));
    }
}
