//! When the first frost of autumn is to be reckoned with at a site, by the years before.
//!
//! Knows nothing of grafts: hands on a date that in 80 of 100 years no frost came before.

use super::past::{PastYears, same_date};
use crate::nursery::{Hemisphere, MonthDay};
use chrono::{Datelike, NaiveDate};

/// Autumn begins at midsummer and is looked at for half a year; in the south six months later.
const MIDSUMMER: MonthDay = MonthDay { month: 7, day: 1 };
const END: MonthDay = MonthDay { month: 12, day: 31 };

/// Of fewer years 80 of 100 cannot be told from all.
const LEAST_YEARS: usize = 5;

/// The first minimum of 0 °C or less after midsummer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Frost {
    /// In 80 of 100 years it comes on this date or later.
    From {
        /// The date in the year that decides; see [`Frost::nearest`].
        date: NaiveDate,
        /// Of how many years.
        years: usize,
    },
    /// In 80 of 100 years there is none in the half year after midsummer.
    Never,
    /// Fewer than five autumns before are wholly known.
    #[default]
    Unknown,
}

impl Frost {
    /// From the autumns that were over before `today`. One with a gap of more than two days before its first frost is
    /// left out, since the frost might lie in it.
    pub fn new(past: &PastYears, hemisphere: Hemisphere, today: NaiveDate) -> Self {
        let first = |year: i32| {
            let end = END.in_year(year, hemisphere);
            let autumn = MIDSUMMER.in_year(year, hemisphere).iter_days();
            for date in autumn.take_while(|&date| date <= end) {
                if past.on(date)?.0 <= 0.0 {
                    return Some(Some(date));
                }
            }
            Some(None)
        };
        let over = |&year: &i32| END.in_year(year, hemisphere) < today;
        let found: Vec<Option<NaiveDate>> = past.years().filter(over).filter_map(first).collect();
        // No year has two autumns: month and day are enough to compare by.
        let earlier = |date: &Option<NaiveDate>| date.map_or((13, 0), |d| (d.month(), d.day()));
        match in_80_of_100(found.iter().map(|date| (earlier(date), *date)).collect()) {
            None => Self::Unknown,
            Some(None) => Self::Never,
            Some(Some(date)) => Self::From {
                date,
                years: found.len(),
            },
        }
    }

    /// The date in the year in which it lies nearest to `day`.
    pub fn nearest(&self, day: NaiveDate) -> Option<NaiveDate> {
        let Self::From { date, .. } = *self else {
            return None;
        };
        (day.year() - 1..=day.year() + 1)
            .filter_map(|year| same_date(year, date))
            .min_by_key(|frost| (*frost - day).num_days().abs())
    }

    /// The first such date on or after `day`.
    pub fn on_or_after(&self, day: NaiveDate) -> Option<NaiveDate> {
        let Self::From { date, .. } = *self else {
            return None;
        };
        (day.year()..=day.year() + 1)
            .filter_map(|year| same_date(year, date))
            .find(|frost| *frost >= day)
    }
}

/// Of a value for each year, keyed so that what is safe is larger: the one that 80 of 100 years reach or pass, which is
/// the ceil(80 n / 100)-th of n counted from the largest. None with fewer than five years.
pub fn in_80_of_100<K: Ord, T: Copy>(mut years: Vec<(K, T)>) -> Option<T> {
    if years.len() < LEAST_YEARS {
        return None;
    }
    years.sort_by(|a, b| b.0.cmp(&a.0));
    let at = (80 * years.len()).div_ceil(100);
    years.get(at - 1).map(|year| year.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    /// Years from 2016 on in which the first frost comes on these dates ("-" never), 5 °C before and after.
    fn years(frosts: &[&str]) -> PastYears {
        let mut past = PastYears::default();
        for (year, frost) in (2016..).zip(frosts) {
            let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
            for date in first.iter_days().take_while(|d| d.year() == year) {
                let is_frost = date.format("%m-%d").to_string() == **frost;
                past.add(year, date, if is_frost { 0.0 } else { 5.0 }, 20.0);
            }
        }
        past
    }

    #[track_caller]
    fn check(past: &PastYears, hemisphere: Hemisphere, expected: Option<(&str, usize)>) {
        let found = match Frost::new(past, hemisphere, day("2030-08-01")) {
            Frost::From { date, years } => Some((date.format("%m-%d").to_string(), years)),
            Frost::Never => Some(("never".into(), 0)),
            Frost::Unknown => None,
        };
        assert_eq!(found, expected.map(|(date, years)| (date.into(), years)));
    }

    const TEN: [&str; 10] = [
        "10-20", "11-02", "10-05", "10-30", "-", "10-11", "11-20", "10-25", "11-08", "10-15",
    ];

    #[test]
    fn in_eight_of_ten_years_it_comes_no_sooner() {
        // Sooner than 15 October only in the two years of 5 and 11 October.
        check(&years(&TEN), Hemisphere::North, Some(("10-15", 10)));
        // Of five years the earliest but one; of six, 4.8 years are five, so again the earliest but one.
        check(&years(&TEN[..5]), Hemisphere::North, Some(("10-20", 5)));
        check(&years(&TEN[..6]), Hemisphere::North, Some(("10-11", 6)));
    }

    #[test]
    fn of_four_years_nothing_is_said() {
        check(&years(&TEN[..4]), Hemisphere::North, None);
        check(&PastYears::default(), Hemisphere::North, None);
    }

    #[test]
    fn where_it_hardly_ever_freezes_there_is_no_date() {
        check(&years(&["-"; 6]), Hemisphere::North, Some(("never", 0)));
        check(
            &years(&["11-01", "-", "-", "-", "-"]),
            Hemisphere::North,
            Some(("never", 0)),
        );
    }

    #[test]
    fn where_it_freezes_in_every_month_it_is_midsummer() {
        let mut past = years(&["-"; 6]);
        for year in 2016..=2021 {
            for month in 1..=12 {
                let date = NaiveDate::from_ymd_opt(year, month, 3).unwrap();
                past.add(year, date, -1.0, 8.0);
            }
        }
        check(&past, Hemisphere::North, Some(("07-03", 6)));
        check(&past, Hemisphere::South, Some(("01-03", 6)));
    }

    #[test]
    fn autumn_is_half_a_year_later_in_the_south() {
        let autumns = ["05-02", "06-01", "05-20", "05-11", "04-30", "10-01"];
        check(&years(&autumns), Hemisphere::South, Some(("05-02", 6)));
        check(&years(&autumns), Hemisphere::North, Some(("never", 0)));
    }

    #[test]
    fn a_year_with_a_hole_before_its_frost_is_left_out() {
        let hole = |from: &str, days: u64| {
            let mut past = PastYears::default();
            let whole = years(&TEN[..6]);
            let gap = day(from)..day(from) + chrono::Days::new(days);
            for year in 2016..=2021 {
                let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
                for date in first.iter_days().take_while(|d| d.year() == year) {
                    let (min, max) = whole.day(year, date).unwrap();
                    if !gap.contains(&date) {
                        past.add(year, date, min, max);
                    }
                }
            }
            past
        };
        // 2018 is the year of 5 October.
        check(
            &hole("2018-09-01", 2),
            Hemisphere::North,
            Some(("10-11", 6)),
        );
        check(
            &hole("2018-09-01", 3),
            Hemisphere::North,
            Some(("10-20", 5)),
        );
        check(
            &hole("2018-10-10", 30),
            Hemisphere::North,
            Some(("10-11", 6)),
        );
        check(
            &hole("2018-03-01", 30),
            Hemisphere::North,
            Some(("10-11", 6)),
        );
    }

    #[test]
    fn an_autumn_that_is_not_over_does_not_count() {
        let past = years(&TEN[..5]);
        let of = |today| Frost::new(&past, Hemisphere::North, day(today));
        assert_eq!(of("2020-12-31"), Frost::Unknown);
        assert_ne!(of("2021-01-01"), Frost::Unknown);
    }

    #[test]
    fn it_is_asked_for_in_any_year() {
        let frost = Frost::new(&years(&TEN), Hemisphere::North, day("2030-08-01"));
        let nearest = |text| frost.nearest(day(text)).unwrap().to_string();
        assert_eq!(nearest("2026-08-01"), "2026-10-15");
        assert_eq!(nearest("2027-01-10"), "2026-10-15");
        let next = |text| frost.on_or_after(day(text)).unwrap().to_string();
        assert_eq!(next("2026-10-15"), "2026-10-15");
        assert_eq!(next("2026-10-16"), "2027-10-15");
    }
}
