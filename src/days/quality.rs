//! Judging the days of one source: what cannot be, is rejected; what is doubtful, is used and said.
//!
//! After Durre et al. 2010, J. Appl. Meteor. Climatol. 49:1615-1633; the usual thresholds are partly from memory. Judges
//! one source at a time and never alters a value.

use super::{Origin, RawDay};
use chrono::NaiveDate;

/// What a site takes for possible and for usual.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thresholds {
    /// Coldest possible temperature in °C.
    pub coldest: f64,
    /// Warmest possible temperature in °C.
    pub warmest: f64,
    /// A smaller daily range in °C is doubted.
    pub least_range: f64,
    /// A larger daily range in °C is doubted.
    pub most_range: f64,
    /// A larger change of minimum or maximum from one day to the next in °C is doubted.
    pub jump: f64,
    /// So many equal days running are doubted.
    pub equal_doubted: u32,
    /// So many equal days running are a stuck instrument.
    pub equal_rejected: u32,
}

impl Default for Thresholds {
    fn default() -> Self {
        Self {
            coldest: -60.0,
            warmest: 55.0,
            least_range: 0.5,
            most_range: 30.0,
            jump: 20.0,
            equal_doubted: 5,
            equal_rejected: 10,
        }
    }
}

/// A maximum in °C above which a day looks like °F.
const LIKE_FAHRENHEIT: f64 = 50.0;
/// So many days running that look like °F are °F.
const FAHRENHEIT_DAYS: usize = 3;

/// An instrument that has shown fewer other days is not called stuck.
const VARIED_LEAST: usize = 10;

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

/// The first day from which the source reads like °F where °C is expected: from there on, on three days running, its
/// maxima are above 50 °C, or its minima and maxima lie above those of the day before by more than the jump allows and
/// stay there (a winter in °F).
pub fn fahrenheit_from(days: &[RawDay], thresholds: &Thresholds) -> Option<NaiveDate> {
    let hot = |d: &RawDay| d.max > LIKE_FAHRENHEIT && d.max < 140.0;
    let (jump, run) = (thresholds.jump, FAHRENHEIT_DAYS);
    let above =
        |d: &RawDay, before: &RawDay| d.min - before.min > jump && d.max - before.max > jump;
    let starts = (0..days.len()).find(|&i| {
        let Some(next) = days.get(i..i + run) else {
            return false;
        };
        next.iter().all(hot) || i > 0 && next.iter().all(|d| above(d, &days[i - 1]))
    });
    starts.map(|i| days[i].date)
}

/// Judges the days of one source, given in order of date.
pub fn judge(days: &[RawDay], thresholds: &Thresholds) -> Vec<Verdict> {
    let runs = equal_runs(days);
    let mut last_sound: Option<&RawDay> = None;
    let mut verdicts = Vec::with_capacity(days.len());
    for (day, &run) in days.iter().zip(&runs) {
        let before = last_sound.filter(|before| before.date.succ_opt() == Some(day.date));
        let stuck = is_stuck(run, &runs, days, thresholds);
        let verdict = match impossible(day, stuck.then_some(run), thresholds) {
            Some(reason) => Verdict::Rejected(reason),
            None => doubt(day, run, before, thresholds).map_or(Verdict::Sound, Verdict::Doubted),
        };
        if !matches!(verdict, Verdict::Rejected(_)) {
            last_sound = Some(day);
        }
        verdicts.push(verdict);
    }
    verdicts
}

/// For each day the length of the run of equal measured days that it belongs to, 1 for what is not measured.
fn equal_runs(days: &[RawDay]) -> Vec<u32> {
    let measured = |d: &RawDay| d.origin == Origin::Measured;
    let alike = |a: &RawDay, b: &RawDay| {
        a.date.succ_opt() == Some(b.date)
            && (a.min, a.max) == (b.min, b.max)
            && measured(a)
            && measured(b)
    };
    days.chunk_by(alike)
        .flat_map(|run| std::iter::repeat_n(run.len() as u32, run.len()))
        .collect()
}

/// Whether an instrument that repeats itself on so many days is stuck. One whose other days mostly repeat themselves
/// too, or that has hardly shown anything else, stands in a room kept at set temperatures: there, equal days say nothing.
fn is_stuck(run: u32, runs: &[u32], days: &[RawDay], thresholds: &Thresholds) -> bool {
    if run < thresholds.equal_rejected {
        return false;
    }
    let measured = days
        .iter()
        .zip(runs)
        .filter(|(d, _)| d.origin == Origin::Measured);
    let (repeating, varied): (Vec<_>, Vec<_>) =
        measured.partition(|(_, run)| **run >= thresholds.equal_doubted);
    varied.len() >= VARIED_LEAST && varied.len() > repeating.len() - run as usize
}

fn impossible(day: &RawDay, stuck: Option<u32>, thresholds: &Thresholds) -> Option<String> {
    if !(day.min.is_finite() && day.max.is_finite()) {
        return Some("is not a number".into());
    }
    if day.min > day.max {
        return Some(format!(
            "minimum {} °C is above maximum {} °C",
            day.min, day.max
        ));
    }
    if day.min < thresholds.coldest || day.max > thresholds.warmest {
        return Some(format!("{} to {} °C cannot be", day.min, day.max));
    }
    stuck.map(|days| {
        format!(
            "the same {} and {} °C on {days} days running: the instrument is stuck",
            day.min, day.max
        )
    })
}

fn doubt(
    day: &RawDay,
    equal: u32,
    before: Option<&RawDay>,
    thresholds: &Thresholds,
) -> Option<String> {
    let range = day.max - day.min;
    if range < thresholds.least_range || range > thresholds.most_range {
        return Some(format!("a range of {range:.1} °C is unusual"));
    }
    let jump = thresholds.jump;
    if before.is_some_and(|b| (day.max - b.max).abs() > jump || (day.min - b.min).abs() > jump) {
        return Some(format!("more than {jump} °C from the day before"));
    }
    (equal >= thresholds.equal_doubted).then(|| format!("the same on {equal} days running"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(pairs: &[(f64, f64)]) -> Vec<RawDay> {
        let first = NaiveDate::from_ymd_opt(2026, 7, 1).unwrap();
        let day = |(date, &(min, max)): (NaiveDate, &(f64, f64))| RawDay {
            date,
            min,
            max,
            gust: None,
            rain: None,
            origin: Origin::Measured,
        };
        first.iter_days().zip(pairs).map(day).collect()
    }

    #[track_caller]
    fn check(pairs: &[(f64, f64)], expected: &[&str]) {
        let words: Vec<&str> = judge(&days(pairs), &Thresholds::default())
            .iter()
            .map(|v| match v {
                Verdict::Sound => "sound",
                Verdict::Doubted(_) => "doubted",
                Verdict::Rejected(_) => "rejected",
            })
            .collect();
        assert_eq!(words, expected);
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
    fn an_instrument_that_repeats_itself_is_doubted_then_rejected() {
        let other = |n: u32| (8.0 + f64::from(n % 4), 17.0 + f64::from(n % 3));
        let others: Vec<_> = (0..10).map(other).collect();
        let repeating = |equal: usize| [&others[..], &vec![(10.0, 20.0); equal]].concat();
        let expected =
            |word: &'static str, equal: usize| [&["sound"; 10][..], &vec![word; equal]].concat();
        check(&repeating(4), &expected("sound", 4));
        check(&repeating(5), &expected("doubted", 5));
        check(&repeating(9), &expected("doubted", 9));
        check(&repeating(10), &expected("rejected", 10));
    }

    #[test]
    fn a_room_kept_at_one_temperature_is_no_stuck_instrument() {
        check(&[(25.5, 26.5); 30], &["doubted"; 30]);
        let stages = [
            vec![(25.5, 26.5); 14],
            vec![(19.5, 20.5); 12],
            vec![(9.5, 10.5); 4],
        ]
        .concat();
        check(&stages, &[vec!["doubted"; 26], vec!["sound"; 4]].concat());
    }

    #[test]
    fn thresholds_are_the_sites_own() {
        let strict = Thresholds {
            warmest: 45.0,
            most_range: 15.0,
            ..Thresholds::default()
        };
        let verdicts = judge(&days(&[(20.0, 46.0), (10.0, 26.0)]), &strict);
        assert!(matches!(verdicts[0], Verdict::Rejected(_)), "{verdicts:?}");
        assert!(matches!(verdicts[1], Verdict::Doubted(_)), "{verdicts:?}");
    }

    #[track_caller]
    fn check_fahrenheit(pairs: &[(f64, f64)], from: Option<u32>) {
        let from = from.and_then(|day| NaiveDate::from_ymd_opt(2026, 7, day));
        assert_eq!(fahrenheit_from(&days(pairs), &Thresholds::default()), from);
    }

    #[test]
    fn a_summer_in_fahrenheit_is_recognised_and_a_hot_one_in_celsius_is_not() {
        check_fahrenheit(&[(58.0, 80.0), (60.0, 84.0), (55.0, 77.0)], Some(1));
        check_fahrenheit(&[(28.0, 49.0), (27.0, 51.0), (20.0, 51.0)], None);
    }

    #[test]
    fn a_logger_that_changes_to_fahrenheit_in_winter_is_recognised_by_its_jump() {
        // 2 to 8 °C are 36 to 46 °F.
        check_fahrenheit(
            &[
                (2.0, 8.0),
                (1.0, 7.0),
                (36.0, 46.0),
                (35.0, 44.0),
                (34.0, 45.0),
            ],
            Some(3),
        );
        check_fahrenheit(
            &[
                (2.0, 8.0),
                (1.0, 7.0),
                (24.0, 29.0),
                (10.0, 20.0),
                (9.0, 19.0),
            ],
            None,
        );
    }
}
