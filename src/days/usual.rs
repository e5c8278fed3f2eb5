//! What is usual at a site in the grafting season, from the years before: the measure of what is hot there, of a day
//! fit for grafting, and of a standard day.

use super::past::{PastDay, PastYears};
use crate::nursery::{Hemisphere, MonthDay};
use chrono::{Datelike, NaiveDate};

/// First and last day of the grafting season in the north; six months later in the south.
const SEASON: (MonthDay, MonthDay) = (
    MonthDay { month: 7, day: 15 },
    MonthDay { month: 8, day: 31 },
);

/// With fewer days than in three seasons nothing is called usual.
const LEAST_DAYS: usize = 3 * 45;

/// The days of the grafting seasons before.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Usual {
    days: Vec<PastDay>,
    /// Maxima in °C, the lowest first.
    maxima: Vec<f64>,
}

impl Usual {
    /// The grafting seasons (15 July to 31 August; south 15 January to the end of February) of the years before that of `today`; empty where less than three whole ones are known.
    pub fn new(past: &PastYears, hemisphere: Hemisphere, today: NaiveDate) -> Self {
        let season = |year: i32| {
            let (first, last) = (
                SEASON.0.in_year(year, hemisphere),
                SEASON.1.in_year(year, hemisphere),
            );
            first.iter_days().take_while(move |&day| day <= last)
        };
        let days: Vec<PastDay> = past
            .years()
            .filter(|&year| year < today.year())
            .flat_map(|year| season(year).map(move |date| (year, date)))
            .filter_map(|(year, date)| {
                let (min, max) = past.day(year, date)?;
                Some(PastDay { date, min, max })
            })
            .collect();
        if days.len() < LEAST_DAYS {
            return Self::default();
        }
        let mut maxima: Vec<f64> = days.iter().map(|day| day.max).collect();
        maxima.sort_by(f64::total_cmp);
        Self { days, maxima }
    }

    /// The maximum in °C that `percent` of 100 days do not exceed: the ceil(percent · n / 100)-th smallest of n. None
    /// where nothing is known to be usual.
    pub fn maximum(&self, percent: usize) -> Option<f64> {
        let at = (percent * self.maxima.len()).div_ceil(100).max(1);
        self.maxima.get(at - 1).copied()
    }

    /// The days themselves.
    pub fn days(&self) -> &[PastDay] {
        &self.days
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    /// Whole years with the same maximum each day, but for one hotter month of August.
    fn years(years: std::ops::RangeInclusive<i32>) -> PastYears {
        let mut past = PastYears::default();
        for year in years {
            for date in NaiveDate::from_ymd_opt(year, 1, 1)
                .unwrap()
                .iter_days()
                .take(365)
            {
                let max = if date.month() == 8 { 30.0 } else { 20.0 };
                past.add(year, date, 10.0, max);
            }
        }
        past
    }

    #[test]
    fn the_season_is_that_of_the_half_of_the_globe() {
        let past = years(2021..=2025);
        let north = Usual::new(&past, Hemisphere::North, day("2026-07-01"));
        // 17 days of July and 31 of August.
        assert_eq!(north.days().len(), 5 * 48);
        assert_eq!(
            (north.maximum(35), north.maximum(36)),
            (Some(20.0), Some(30.0))
        );
        let south = Usual::new(&past, Hemisphere::South, day("2026-07-01"));
        // 15 January to the end of February, once with a 29th.
        assert_eq!(south.days().len(), 5 * 45 + 1);
        assert_eq!(south.maximum(100), Some(20.0));
    }

    #[test]
    fn of_two_years_nothing_is_usual_and_the_present_one_does_not_count() {
        let two = Usual::new(&years(2024..=2026), Hemisphere::North, day("2026-07-01"));
        assert_eq!(two.maximum(90), None);
    }
}
