//! Judging the days of one source: what cannot be, is rejected; what is doubtful, is used and said.
//!
//! After Durre et al. 2010, J. Appl. Meteor. Climatol. 49:1615-1633; the thresholds are partly from memory. Judges
//! one source at a time and never alters a value.

use super::RawDay;
use chrono::NaiveDate;

/// Coldest and warmest temperature taken for possible, in °C.
const POSSIBLE: std::ops::RangeInclusive<f64> = -60.0..=55.0;
/// Daily range in °C outside which a day is doubted.
const USUAL_RANGE: std::ops::RangeInclusive<f64> = 0.5..=30.0;
/// Change of minimum or maximum from one day to the next, in °C, above which a day is doubted.
const JUMP: f64 = 20.0;
/// So many equal days running are doubted.
const EQUAL_DOUBTED: usize = 5;
/// A maximum in °C above which a day looks like °F.
const LIKE_FAHRENHEIT: f64 = 50.0;

/// The judgement on one day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Used.
    Sound,
    /// Used, with the reason for doubt.
    Doubted(String),
    /// Not used, with the reason.
    Rejected(String),
}

/// The days of a source read like °F: most of its summer maxima would be above 50 °C.
pub fn reads_like_fahrenheit(days: &[RawDay]) -> bool {
    let hot = days
        .iter()
        .filter(|d| d.max > LIKE_FAHRENHEIT && d.max < 140.0)
        .count();
    hot >= 3 && hot * 5 >= days.len()
}

/// Judges the days of one source, given in order of date.
pub fn judge(days: &[RawDay]) -> Vec<Verdict> {
    let equal = equal_runs(days);
    let mut last_sound: Option<&RawDay> = None;
    let mut verdicts = Vec::with_capacity(days.len());
    for (day, run) in days.iter().zip(equal) {
        let verdict = impossible(day).map_or_else(
            || {
                doubt(
                    day,
                    run,
                    last_sound.filter(|before| next_to(before.date, day.date)),
                )
                .map_or(Verdict::Sound, Verdict::Doubted)
            },
            Verdict::Rejected,
        );
        if !matches!(verdict, Verdict::Rejected(_)) {
            last_sound = Some(day);
        }
        verdicts.push(verdict);
    }
    verdicts
}

fn next_to(before: NaiveDate, day: NaiveDate) -> bool {
    before.succ_opt() == Some(day)
}

/// For each day the length of the run of equal days that it belongs to. Forecasts may well repeat themselves.
fn equal_runs(days: &[RawDay]) -> Vec<usize> {
    let alike = |a: &RawDay, b: &RawDay| {
        next_to(a.date, b.date)
            && (a.min, a.max) == (b.min, b.max)
            && a.origin == b.origin
            && a.origin == super::Origin::Measured
    };
    days.chunk_by(alike)
        .flat_map(|run| std::iter::repeat_n(run.len(), run.len()))
        .collect()
}

fn impossible(day: &RawDay) -> Option<String> {
    if !(day.min.is_finite() && day.max.is_finite()) {
        return Some("is not a number".into());
    }
    if day.min > day.max {
        return Some(format!(
            "minimum {} °C is above maximum {} °C",
            day.min, day.max
        ));
    }
    if !(POSSIBLE.contains(&day.min) && POSSIBLE.contains(&day.max)) {
        return Some(format!("{} to {} °C cannot be", day.min, day.max));
    }
    None
}

fn doubt(day: &RawDay, equal: usize, before: Option<&RawDay>) -> Option<String> {
    let range = day.max - day.min;
    if !USUAL_RANGE.contains(&range) {
        return Some(format!("a range of {range:.1} °C is unusual"));
    }
    if before.is_some_and(|b| (day.max - b.max).abs() > JUMP || (day.min - b.min).abs() > JUMP) {
        return Some(format!("more than {JUMP} °C from the day before"));
    }
    (equal >= EQUAL_DOUBTED).then(|| format!("the same on {equal} days running"))
}

#[cfg(test)]
mod tests {
    use super::super::Origin;
    use super::*;

    fn days(pairs: &[(f64, f64)]) -> Vec<RawDay> {
        let first = NaiveDate::from_ymd_opt(2026, 7, 1).unwrap();
        first
            .iter_days()
            .zip(pairs)
            .map(|(date, &(min, max))| RawDay {
                date,
                min,
                max,
                gust: None,
                rain: None,
                origin: Origin::Measured,
            })
            .collect()
    }

    #[track_caller]
    fn check(pairs: &[(f64, f64)], expected: &[&str]) {
        let letters: Vec<&str> = judge(&days(pairs))
            .iter()
            .map(|v| match v {
                Verdict::Sound => "sound",
                Verdict::Doubted(_) => "doubted",
                Verdict::Rejected(_) => "rejected",
            })
            .collect();
        assert_eq!(letters, expected);
    }

    #[test]
    fn ordinary_days_are_sound() {
        check(&[(12.0, 24.0), (13.0, 26.0)], &["sound", "sound"]);
    }

    #[test]
    fn what_cannot_be_is_rejected() {
        check(
            &[(24.0, 12.0), (f64::NAN, 20.0), (10.0, 55.1), (-60.1, 0.0)],
            &["rejected"; 4],
        );
    }

    #[test]
    fn a_wide_a_narrow_and_a_jumping_day_are_doubted() {
        check(&[(0.0, 31.0)], &["doubted"]);
        check(&[(10.0, 10.4)], &["doubted"]);
        check(&[(2.0, 10.0), (15.0, 31.0)], &["sound", "doubted"]);
    }

    #[test]
    fn a_jump_is_measured_from_the_last_day_that_can_be() {
        check(
            &[(10.0, 20.0), (30.0, 10.0), (10.0, 45.0)],
            &["sound", "rejected", "doubted"],
        );
        check(
            &[(10.0, 20.0), (90.0, 95.0), (12.0, 22.0)],
            &["sound", "rejected", "sound"],
        );
    }

    #[test]
    fn an_instrument_that_repeats_itself_is_doubted() {
        check(&[(10.0, 20.0); 4], &["sound"; 4]);
        check(&[(10.0, 20.0); 5], &["doubted"; 5]);
    }

    #[test]
    fn a_summer_in_fahrenheit_is_recognised_and_a_hot_one_in_celsius_is_not() {
        assert!(reads_like_fahrenheit(&days(&[
            (58.0, 80.0),
            (60.0, 84.0),
            (55.0, 77.0)
        ])));
        assert!(!reads_like_fahrenheit(&days(&[
            (28.0, 49.0),
            (27.0, 48.0),
            (20.0, 51.0)
        ])));
    }
}
