//! Whether a station's maxima belong to the day before, judged by its days alone.
//!
//! A station that is read in the morning writes yesterday afternoon's maximum beside today's date. Its days look like
//! any others one by one; what gives it away is how they follow each other. Pure.

use crate::days::RawDay;
use chrono::{Days, NaiveDate};
use std::collections::BTreeMap;

/// A difference in °C that is more than rounding: a little over 1 °F, the step of many stations.
const ROUNDING: f64 = 0.7;
/// So many impossible nights are no chance reading.
const NIGHTS: usize = 3;
/// Fewer pairs of days prove nothing by their correlation.
const PAIRS: usize = 90;
/// Standard errors that the difference must have.
const CERTAIN: f64 = 3.0;

/// Whether the maxima lag behind the minima, as at a station that is read in the morning. Says yes only to what can be
/// shown, so a no means little for a short or a very even series.
///
/// Two things show it. First, the days of any one instrument touch: the moment that ends one begins the next, so the
/// next day's minimum cannot lie above this day's maximum. Where it does by more than rounding, the maximum was taken
/// over hours that ended before those of the minimum began. Second, a dawn has more to do with the afternoon before it
/// than with the one after the next: when the changes of the minima from day to day go along with the changes of the
/// maxima one row *later* (the same calendar day's, moved on) clearly more than one row earlier, the rows are moved. The
/// standard error of a correlation of n pairs is about 1/√n (Fisher; from memory), of a difference of two √(2/n).
pub fn reads_in_the_morning(days: &[RawDay]) -> bool {
    if nights_above_the_day(days, ROUNDING) >= NIGHTS {
        return true;
    }
    let (Some(later), Some(earlier)) = (going_along(days, 1), going_along(days, -1)) else {
        return false;
    };
    let pairs = later.pairs.min(earlier.pairs);
    pairs >= PAIRS
        && later.correlation - earlier.correlation > CERTAIN * (2.0 / pairs as f64).sqrt()
}

/// Days whose maximum lies below the next day's minimum by more than `margin` °C.
fn nights_above_the_day(days: &[RawDay], margin: f64) -> usize {
    days.windows(2)
        .filter(|pair| {
            pair[0].date.succ_opt() == Some(pair[1].date) && pair[1].min - pair[0].max > margin
        })
        .count()
}

struct Along {
    correlation: f64,
    pairs: usize,
}

/// How the changes of the minima from day to day go along with those of the maxima so many rows later. None where
/// nothing changes.
fn going_along(days: &[RawDay], later: i64) -> Option<Along> {
    let changes: BTreeMap<NaiveDate, (f64, f64)> = days
        .windows(2)
        .filter(|pair| pair[0].date.succ_opt() == Some(pair[1].date))
        .map(|pair| {
            (
                pair[1].date,
                (pair[1].min - pair[0].min, pair[1].max - pair[0].max),
            )
        })
        .collect();
    let shift = Days::new(later.unsigned_abs());
    let pairs: Vec<(f64, f64)> = changes
        .iter()
        .filter_map(|(date, (min, _))| {
            let there = if later < 0 {
                date.checked_sub_days(shift)
            } else {
                date.checked_add_days(shift)
            };
            Some((*min, changes.get(&there?)?.1))
        })
        .collect();
    let count = pairs.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / count;
    let (mean_min, mean_max) = (mean(|p| p.0), mean(|p| p.1));
    let (mut both, mut min, mut max) = (0.0, 0.0, 0.0);
    for (a, b) in &pairs {
        let (a, b) = (a - mean_min, b - mean_max);
        both += a * b;
        min += a * a;
        max += b * b;
    }
    let correlation = both / (min * max).sqrt();
    correlation.is_finite().then_some(Along {
        correlation,
        pairs: pairs.len(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::days::Origin;
    use chrono::{DateTime, TimeDelta, Utc};

    fn day(date: NaiveDate, min: f64, max: f64) -> RawDay {
        RawDay {
            date,
            min,
            max,
            gust: None,
            rain: None,
            origin: Origin::Measured,
        }
    }

    /// The days of a file with the columns date, minimum and maximum.
    fn days(text: &str) -> Vec<RawDay> {
        text.lines()
            .skip(1)
            .map(|line| {
                let cells: Vec<&str> = line.split(',').collect();
                let number = |n: usize| cells[n].parse().unwrap();
                day(cells[0].parse().unwrap(), number(1), number(2))
            })
            .collect()
    }

    fn seattle() -> Vec<RawDay> {
        days(include_str!("../../../tests/data/checks/data/seattle.csv"))
    }

    fn clemson() -> Vec<RawDay> {
        days(include_str!(
            "../../../tests/data/checks/data/clemson_1991_2020.csv"
        ))
    }

    /// A year of New York in days that end at an hour of the local winter clock.
    fn new_york(ends_at: i64) -> Vec<RawDay> {
        let mut extremes: BTreeMap<NaiveDate, (f64, f64, usize)> = BTreeMap::new();
        for line in include_str!("../../../tests/data/checks/data/nyc_hourly_ewr.csv")
            .lines()
            .skip(1)
        {
            let (at, t) = line.split_once(',').unwrap();
            let Ok(t) = t.parse::<f64>() else { continue };
            let at: DateTime<Utc> = at.parse().unwrap();
            // A reading at 7:00 on a date ends the stretch of that date; the next begins with it.
            let moved = at - TimeDelta::hours(5) + TimeDelta::hours((24 - ends_at) % 24);
            for moved in [moved, moved - TimeDelta::seconds(1)] {
                let (min, max, count) = extremes.entry(moved.date_naive()).or_insert((t, t, 0));
                (*min, *max, *count) = (min.min(t), max.max(t), *count + 1);
            }
        }
        let whole = extremes
            .into_iter()
            .filter(|(_, (_, _, count))| *count >= 46);
        whole
            .map(|(date, (min, max, _))| day(date, min, max))
            .collect()
    }

    #[test]
    fn impossible_nights_are_counted() {
        // Counted by a few lines of Python over the files too: 50 of 10901 pairs, 36 of them by 1.1 °C or more.
        assert_eq!(nights_above_the_day(&clemson(), 0.0), 50);
        assert_eq!(nights_above_the_day(&clemson(), ROUNDING), 36);
        assert_eq!(nights_above_the_day(&seattle(), 0.0), 0);
    }

    #[track_caller]
    fn check(days: &[RawDay], morning: bool) {
        assert_eq!(reads_in_the_morning(days), morning);
    }

    #[test]
    fn a_station_that_is_read_in_the_morning_is_recognised() {
        check(&clemson(), true);
        check(&new_york(7), true);
        check(&new_york(8), true);
    }

    #[test]
    fn a_station_of_whole_days_is_not_taken_for_one() {
        check(&seattle(), false);
        check(&new_york(0), false);
        check(&new_york(17), false);
        for year in seattle().chunks(120) {
            check(year, false);
        }
    }

    #[test]
    fn maxima_moved_on_by_a_row_are_recognised() {
        let right = seattle();
        let moved: Vec<RawDay> = right
            .windows(2)
            .map(|pair| day(pair[1].date, pair[1].min, pair[0].max))
            .collect();
        check(&moved, true);
        let back: Vec<RawDay> = right
            .windows(2)
            .map(|pair| day(pair[0].date, pair[0].min, pair[1].max))
            .collect();
        check(&back, false);
    }

    /// With the impossible nights taken out, only the correlation is left to say it.
    #[test]
    fn the_correlation_alone_says_it_too() {
        let even: Vec<RawDay> = clemson()
            .windows(2)
            .filter(|pair| pair[1].min <= pair[0].max)
            .map(|pair| pair[0])
            .collect();
        assert_eq!(nights_above_the_day(&even, 0.0), 0);
        check(&even, true);
    }

    #[test]
    fn too_few_days_and_days_without_change_say_nothing() {
        check(&[], false);
        check(&new_york(7)[..60], false);
        let first = seattle()[0];
        let same: Vec<RawDay> = first
            .date
            .iter_days()
            .take(200)
            .map(|date| day(date, 5.0, 12.0))
            .collect();
        check(&same, false);
    }
}
