//! The years before: minimum and maximum by date, for means and for looking ahead.

use chrono::{Datelike, NaiveDate, TimeDelta};
use std::collections::BTreeMap;

/// The longest gap in days that is filled by a line.
const LONGEST_GAP: i64 = 2;

/// What is known of past years at a site.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PastYears {
    years: BTreeMap<i32, Year>,
}

/// Minimum and maximum by month and day.
type Year = BTreeMap<(u32, u32), (f64, f64)>;

/// The date of a year that stands for another: the same month and day; 28 February for a 29th that the year lacks. None
/// outside the calendar.
pub fn same_date(year: i32, date: NaiveDate) -> Option<NaiveDate> {
    date.with_year(year)
        .or_else(|| NaiveDate::from_ymd_opt(year, 2, 28))
}

/// One day of a year before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PastDay {
    /// The date.
    pub date: NaiveDate,
    /// Minimum in °C.
    pub min: f64,
    /// Maximum in °C.
    pub max: f64,
}

impl PastYears {
    /// Adds a day of a year, in °C.
    pub fn add(&mut self, year: i32, date: NaiveDate, min: f64, max: f64) {
        self.years
            .entry(year)
            .or_default()
            .insert((date.month(), date.day()), (min, max));
    }

    /// The years of which anything is known.
    pub fn years(&self) -> impl Iterator<Item = i32> {
        self.years.keys().copied()
    }

    /// The day of a year that stands for a date: the same month and day; 28 February for a 29th that the year lacks.
    pub fn day(&self, year: i32, date: NaiveDate) -> Option<(f64, f64)> {
        let days = self.years.get(&year)?;
        let stands = same_date(year, date)?;
        days.get(&(stands.month(), stands.day())).copied()
    }

    /// A day itself, in its own year; where it is missing, the line between its neighbours if that fills a gap of one or
    /// two days, as in a series of this year.
    pub fn on(&self, date: NaiveDate) -> Option<(f64, f64)> {
        let known = |date: NaiveDate| self.day(date.year(), date);
        let beside = |far: i64| Some((far, known(date + TimeDelta::days(far))?));
        known(date).or_else(|| {
            let (left, before) = beside(-1).or_else(|| beside(-2))?;
            let (right, after) = beside(1).or_else(|| beside(2))?;
            let share = -left as f64 / (right - left) as f64;
            let between = |a: f64, b: f64| a + (b - a) * share;
            (right - left <= LONGEST_GAP + 1)
                .then(|| (between(before.0, after.0), between(before.1, after.1)))
        })
    }

    /// Mean minimum and maximum of the years before the date's own, and of how many years; none where no year knows it.
    pub fn mean(&self, date: NaiveDate) -> Option<(f64, f64, usize)> {
        let days: Vec<(f64, f64)> = self
            .years
            .keys()
            .filter(|&&year| year < date.year())
            .filter_map(|&year| self.day(year, date))
            .collect();
        let count = days.len();
        let mean = |of: fn(&(f64, f64)) -> f64| days.iter().map(of).sum::<f64>() / count as f64;
        (count > 0).then(|| (mean(|d| d.0), mean(|d| d.1), count))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn a_leap_day_is_stood_for_by_the_day_before() {
        let check =
            |date, year, expected| assert_eq!(same_date(year, day(date)), Some(day(expected)));
        check("2028-02-29", 2027, "2027-02-28");
        check("2028-02-29", 2024, "2024-02-29");
        check("2027-03-01", 2024, "2024-03-01");
    }

    #[test]
    fn the_mean_is_of_earlier_years_and_a_leap_day_borrows_the_day_before() {
        let mut past = PastYears::default();
        past.add(2023, day("2023-02-28"), 0.0, 8.0);
        past.add(2024, day("2024-02-29"), 2.0, 10.0);
        past.add(2028, day("2028-02-29"), 50.0, 50.0);
        assert_eq!(past.mean(day("2028-02-29")), Some((1.0, 9.0, 2)));
        assert_eq!(past.mean(day("2028-02-28")), Some((0.0, 8.0, 1)));
        assert_eq!(past.mean(day("2023-02-28")), None);
    }

    #[track_caller]
    fn check_on(known: &[(&str, f64)], date: &str, minimum: Option<f64>) {
        let mut past = PastYears::default();
        for &(date, min) in known {
            past.add(day(date).year(), day(date), min, min + 10.0);
        }
        let found = past.on(day(date));
        assert_eq!(found, minimum.map(|min| (min, min + 10.0)));
    }

    #[test]
    fn a_gap_of_one_or_two_days_is_filled_by_a_line_and_no_longer_one() {
        let one = [("2023-12-31", 0.0), ("2024-01-02", 4.0)];
        check_on(&one, "2024-01-01", Some(2.0));
        check_on(&one, "2024-01-02", Some(4.0));
        check_on(&one, "2024-01-03", None);
        let two = [("2023-02-27", 0.0), ("2023-03-02", 6.0)];
        check_on(&two, "2023-02-28", Some(2.0));
        check_on(&two, "2023-03-01", Some(4.0));
        let three = [("2024-02-27", 0.0), ("2024-03-02", 6.0)];
        check_on(&three, "2024-02-28", None);
        check_on(&three, "2024-02-29", None);
    }
}
