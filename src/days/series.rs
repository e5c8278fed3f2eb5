//! The days of one site in order: for each date the most trusted sound value, gaps filled where the rules allow.

use super::quality::{self, Verdict};
use super::{Day, Origin, RawDay, fill};
use crate::problem::Problem;
use chrono::{Days, NaiveDate};

/// What one source gave, in order of date.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceDays {
    /// The name of the source.
    pub source: String,
    /// Its days, each date once.
    pub days: Vec<RawDay>,
}

/// A contiguous run of days; `None` where nothing is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Series {
    first: NaiveDate,
    days: Vec<Option<Day>>,
}

impl Series {
    /// Chooses and fills the days of a site from its sources, the most trusted first. A day that came to pass is
    /// taken from the first source that has more than a forecast of it. Minimum and maximum never mix two sources.
    pub fn settle(site: &str, sources: &[SourceDays]) -> (Self, Vec<Problem>) {
        let mut problems = Vec::new();
        let dates = || sources.iter().flat_map(|s| &s.days).map(|d| d.date);
        let (Some(first), Some(last)) = (dates().min(), dates().max()) else {
            return (Self::default(), problems);
        };
        let mut days: Vec<Option<Day>> = vec![None; (last - first).num_days() as usize + 1];
        for source in sources {
            if quality::reads_like_fahrenheit(&source.days) {
                problems.push(fahrenheit(site, source));
                continue;
            }
            for (raw, verdict) in source.days.iter().zip(quality::judge(&source.days)) {
                let place = &mut days[(raw.date - first).num_days() as usize];
                let better = place
                    .as_ref()
                    .is_none_or(|held| !held.is_known() && raw.origin != Origin::Forecast);
                match verdict {
                    Verdict::Rejected(reason) => {
                        problems.push(rejected(site, source, raw, &reason));
                    }
                    Verdict::Sound if better => *place = Some(used(raw, source, String::new())),
                    Verdict::Doubted(doubt) if better => *place = Some(used(raw, source, doubt)),
                    Verdict::Sound | Verdict::Doubted(_) => {}
                }
            }
        }
        fill::by_line(first, &mut days);
        (Self { first, days }, problems)
    }

    /// The run without the days that came to pass after `through`: how it looks from there.
    #[must_use]
    pub fn seen_from(mut self, through: NaiveDate) -> Self {
        for day in &mut self.days {
            if day
                .as_ref()
                .is_some_and(|d| d.date > through && d.is_known())
            {
                *day = None;
            }
        }
        self
    }

    /// The first date of the run.
    pub fn first(&self) -> NaiveDate {
        self.first
    }

    /// The run, from [`Series::first`] on.
    pub fn run(&self) -> &[Option<Day>] {
        &self.days
    }

    /// The day of that date, where anything is known of it.
    pub fn day(&self, date: NaiveDate) -> Option<&Day> {
        let at = usize::try_from((date - self.first).num_days()).ok()?;
        self.days.get(at)?.as_ref()
    }

    /// The last day that is more than a forecast.
    pub fn last_known(&self) -> Option<NaiveDate> {
        self.days
            .iter()
            .rev()
            .flatten()
            .find(|d| d.is_known())
            .map(|d| d.date)
    }

    /// The days from `from` to `to`, both included, that are known of.
    pub fn between(&self, from: NaiveDate, to: NaiveDate) -> impl Iterator<Item = &Day> {
        let at = |date: NaiveDate| {
            (date - self.first)
                .num_days()
                .clamp(0, self.days.len() as i64) as usize
        };
        let (start, end) = (at(from), at(to.succ_opt().unwrap_or(to)));
        self.days[start..end.max(start)].iter().flatten()
    }

    /// The first date on or after `from` at whose end the mean of the last 7 days satisfies `is`; all 7 must be known of.
    pub fn first_week(&self, from: NaiveDate, is: impl Fn(f64) -> bool) -> Option<NaiveDate> {
        let start = from.max(self.first);
        let last = self.first + Days::new(self.days.len() as u64);
        start
            .iter_days()
            .take_while(|&d| d < last)
            .find(|&d| self.week_mean(d).is_some_and(&is))
    }

    /// The mean temperature in °C of the 7 days up to and including `date`.
    pub fn week_mean(&self, date: NaiveDate) -> Option<f64> {
        let mut sum = 0.0;
        for back in 0..7 {
            sum += self.day(date - Days::new(back))?.mean();
        }
        Some(sum / 7.0)
    }
}

fn used(raw: &RawDay, source: &SourceDays, remark: String) -> Day {
    Day {
        date: raw.date,
        min: raw.min,
        max: raw.max,
        gust: raw.gust,
        rain: raw.rain,
        origin: raw.origin,
        source: source.source.clone(),
        remark,
    }
}

fn rejected(site: &str, source: &SourceDays, raw: &RawDay, reason: &str) -> Problem {
    Problem::new(
        format!("site {site}, {}, {}", source.source, raw.date),
        reason.to_owned(),
        "the day is not used",
        "look at the instrument or mend the value",
    )
}

fn fahrenheit(site: &str, source: &SourceDays) -> Problem {
    let hottest = source.days.iter().map(|d| d.max).fold(f64::MIN, f64::max);
    Problem::new(
        format!("site {site}, {}", source.source),
        format!("maxima up to {hottest:.0} read like °F where °C is expected"),
        "nothing of this source is used",
        "set unit = \"F\" for it in the config",
    )
    .keyed(format!(
        "site {site}, {}: °F where °C is expected",
        source.source
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(n: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 7, n).unwrap()
    }

    fn source(name: &str, rows: &[(u32, f64, f64, Origin)]) -> SourceDays {
        let days = rows
            .iter()
            .map(|&(n, min, max, origin)| RawDay {
                date: day(n),
                min,
                max,
                gust: None,
                rain: None,
                origin,
            })
            .collect();
        SourceDays {
            source: name.into(),
            days,
        }
    }

    #[track_caller]
    fn check(sources: &[SourceDays], n: u32, expected: Option<(f64, f64, Origin)>) {
        let (series, _) = Series::settle("home", sources);
        assert_eq!(
            series.day(day(n)).map(|d| (d.min, d.max, d.origin)),
            expected
        );
    }

    use Origin::{Filled, Forecast, Measured, Modelled};

    #[test]
    fn the_first_source_is_trusted_and_the_next_stands_in() {
        let own = source("file", &[(1, 10.0, 20.0, Measured)]);
        let other = source(
            "open-meteo",
            &[(1, 11.0, 22.0, Modelled), (2, 12.0, 23.0, Modelled)],
        );
        check(
            &[own.clone(), other.clone()],
            1,
            Some((10.0, 20.0, Measured)),
        );
        check(&[own, other], 2, Some((12.0, 23.0, Modelled)));
    }

    #[test]
    fn a_known_day_of_a_lesser_source_beats_a_forecast_of_a_better_one() {
        let own = source("station", &[(1, 10.0, 20.0, Forecast)]);
        let other = source("file", &[(1, 11.0, 22.0, Measured)]);
        check(&[own, other], 1, Some((11.0, 22.0, Measured)));
    }

    #[test]
    fn a_rejected_day_falls_to_the_next_source_and_is_named() {
        let own = source("file", &[(1, 25.0, 20.0, Measured)]);
        let other = source("open-meteo", &[(1, 11.0, 22.0, Modelled)]);
        let (series, problems) = Series::settle("home", &[own, other]);
        assert_eq!(series.day(day(1)).unwrap().source, "open-meteo");
        assert_eq!(
            problems[0].to_string(),
            "site home, file, 2026-07-01: minimum 25 °C is above maximum 20 °C; the day is not used. Look at the instrument or mend the value."
        );
    }

    #[test]
    fn two_missing_days_are_filled_by_a_line_and_three_are_not() {
        let two = source(
            "file",
            &[(1, 10.0, 20.0, Measured), (4, 13.0, 26.0, Measured)],
        );
        check(std::slice::from_ref(&two), 2, Some((11.0, 22.0, Filled)));
        check(&[two], 3, Some((12.0, 24.0, Filled)));
        check(
            &[source(
                "file",
                &[(1, 10.0, 20.0, Measured), (5, 14.0, 28.0, Measured)],
            )],
            3,
            None,
        );
    }

    #[test]
    fn a_gap_before_a_forecast_is_not_filled() {
        check(
            &[source(
                "open-meteo",
                &[(1, 10.0, 20.0, Modelled), (3, 12.0, 22.0, Forecast)],
            )],
            2,
            None,
        );
    }

    #[test]
    fn a_source_in_fahrenheit_is_stopped() {
        let rows: Vec<_> = (1..=9)
            .map(|n| (n, 60.0, 80.0 + f64::from(n), Measured))
            .collect();
        let (series, problems) = Series::settle("home", &[source("file", &rows)]);
        assert_eq!(series.last_known(), None);
        assert!(problems[0].to_string().contains("unit = \"F\""));
    }

    #[test]
    fn the_mean_of_a_week_needs_all_seven_days() {
        let rows: Vec<_> = (1..=10)
            .map(|n| (n, 0.0, 2.0 * f64::from(n), Measured))
            .collect();
        let (series, _) = Series::settle("home", &[source("file", &rows)]);
        assert_eq!(series.week_mean(day(6)), None);
        // means 1..=7 average 4
        assert_eq!(series.week_mean(day(7)), Some(4.0));
        assert_eq!(series.first_week(day(1), |mean| mean > 4.5), Some(day(8)));
    }

    #[test]
    fn looking_back_sees_no_day_that_came_to_pass_later_but_every_forecast() {
        let rows = [
            (1, 10.0, 20.0, Measured),
            (2, 11.0, 21.0, Measured),
            (3, 12.0, 22.0, Forecast),
        ];
        let (series, _) = Series::settle("home", &[source("file", &rows)]);
        let seen = series.seen_from(day(1));
        assert_eq!(seen.last_known(), Some(day(1)));
        let dates: Vec<NaiveDate> = seen.between(day(1), day(9)).map(|d| d.date).collect();
        assert_eq!(dates, [day(1), day(3)]);
    }

    #[test]
    fn a_span_outside_the_run_has_no_days() {
        let rows = [(5, 10.0, 20.0, Measured), (6, 10.0, 20.0, Measured)];
        let (series, _) = Series::settle("home", &[source("file", &rows)]);
        let count = |from, to| series.between(day(from), day(to)).count();
        assert_eq!(
            [count(1, 4), count(7, 9), count(6, 5), count(1, 9)],
            [0, 0, 0, 2]
        );
        assert_eq!(Series::default().between(day(1), day(9)).count(), 0);
    }

    #[test]
    fn a_rejected_day_between_two_sound_ones_is_filled() {
        let rows = [
            (1, 10.0, 20.0, Measured),
            (2, 30.0, 20.0, Measured),
            (3, 12.0, 24.0, Measured),
        ];
        check(&[source("file", &rows)], 2, Some((11.0, 22.0, Filled)));
    }

    #[test]
    fn a_gap_at_either_end_is_not_filled() {
        let own = source("file", &[(3, 10.0, 20.0, Measured)]);
        let broken = source(
            "other",
            &[(1, 30.0, 20.0, Measured), (5, 30.0, 20.0, Measured)],
        );
        check(&[own.clone(), broken.clone()], 2, None);
        check(&[own, broken], 4, None);
    }
}
