//! Judging the days of one source: what cannot be, is rejected; what is doubtful, is used and said.
//!
//! After Durre et al. 2010, J. Appl. Meteor. Climatol. 49:1615-1633; the usual thresholds are partly from memory. Judges
//! one source at a time and never alters a value.

use super::{Origin, RawDay};
use std::ops::Range;

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
    /// A maximum in °C above which a day looks like °F.
    pub like_fahrenheit: f64,
    /// Two sources whose means are further apart than this, in °C, ...
    pub apart: f64,
    /// ... on so many days running are told.
    pub apart_days: u32,
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
            like_fahrenheit: 50.0,
            apart: 8.0,
            apart_days: 3,
        }
    }
}

/// So many days running that look like °F are °F.
const FAHRENHEIT_DAYS: usize = 3;
/// No weather is hotter, even in °F.
const HOTTEST_FAHRENHEIT: f64 = 140.0;
/// From °F back to °C at -2.5 °C both fall by this; weather in °F hardly ever does from one day to the next (judgement).
const FALL: f64 = 30.0;
/// After a longer gap in days a jump says nothing: it may be another season.
const LONGEST_GAP: i64 = 7;

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

/// The stretches, as places in `days`, in which the source reads like °F where °C is expected. One begins where on three
/// days running the maxima are above [`Thresholds::like_fahrenheit`], or minima and maxima lie above those of the day
/// before by more than the jump allows and stay there (a winter in °F). It ends where both fall back to what they were.
pub fn fahrenheit(days: &[RawDay], thresholds: &Thresholds) -> Vec<Range<usize>> {
    let mut stretches = Vec::new();
    let mut at = 0;
    while at < days.len() {
        if begins(days, at, thresholds) {
            let before = at.checked_sub(1).map(|before| &days[before]);
            let end = (at + FAHRENHEIT_DAYS..days.len())
                .find(|&i| falls_back(&days[i - 1], &days[i], before, thresholds))
                .unwrap_or(days.len());
            stretches.push(at..end);
            at = end;
        } else {
            at += 1;
        }
    }
    stretches
}

fn begins(days: &[RawDay], at: usize, thresholds: &Thresholds) -> bool {
    let Some(next) = days.get(at..at + FAHRENHEIT_DAYS) else {
        return false;
    };
    let hot = |d: &RawDay| d.max > thresholds.like_fahrenheit && d.max < HOTTEST_FAHRENHEIT;
    let jumps = |before: &RawDay| {
        let above = |d: &RawDay| {
            d.min - before.min > thresholds.jump && d.max - before.max > thresholds.jump
        };
        is_soon(before, &next[0]) && next.iter().all(above)
    };
    next.iter().all(hot) || at > 0 && jumps(&days[at - 1])
}

/// Whether a day is in °C again after one in °F; `then` is the last one before the °F.
fn falls_back(last: &RawDay, day: &RawDay, then: Option<&RawDay>, thresholds: &Thresholds) -> bool {
    let near = |then: &RawDay| {
        (day.min - then.min).abs() <= thresholds.jump
            && (day.max - then.max).abs() <= thresholds.jump
    };
    is_soon(last, day)
        && last.min - day.min > FALL
        && last.max - day.max > FALL
        && day.max <= thresholds.like_fahrenheit
        && then.is_none_or(near)
}

fn is_soon(before: &RawDay, day: &RawDay) -> bool {
    (day.date - before.date).num_days() <= LONGEST_GAP
}

/// Judges the days of one source, given in order of date.
pub fn judge(days: &[RawDay], thresholds: &Thresholds) -> Vec<Verdict> {
    let runs = equal_runs(days);
    let shown = Shown::on(days, &runs, thresholds);
    let mut last_sound: Option<&RawDay> = None;
    let mut verdicts = Vec::with_capacity(days.len());
    for (day, &run) in days.iter().zip(&runs) {
        let before = last_sound.filter(|before| before.date.succ_opt() == Some(day.date));
        let stuck = shown.is_stuck(run, thresholds);
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

/// On how many measured days an instrument repeated itself for so long that it is doubted, and on how many not.
struct Shown {
    repeating: usize,
    varied: usize,
}

impl Shown {
    fn on(days: &[RawDay], runs: &[u32], thresholds: &Thresholds) -> Self {
        let mut shown = Self {
            repeating: 0,
            varied: 0,
        };
        for (day, &run) in days.iter().zip(runs) {
            if day.origin == Origin::Measured {
                let repeats = run >= thresholds.equal_doubted;
                shown.repeating += usize::from(repeats);
                shown.varied += usize::from(!repeats);
            }
        }
        shown
    }

    /// Whether an instrument that repeats itself on so many days is stuck. One whose other days mostly repeat themselves
    /// too, or that has hardly shown anything else, stands in a room kept at set temperatures: there, equal days say
    /// nothing.
    fn is_stuck(&self, run: u32, thresholds: &Thresholds) -> bool {
        run >= thresholds.equal_rejected
            && self.varied >= VARIED_LEAST
            && self.varied + run as usize > self.repeating
    }
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
    use chrono::{Datelike, NaiveDate};
    use std::ops::RangeInclusive;

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
    fn equal_days_may_be_rejected_before_they_are_doubted() {
        let thresholds = Thresholds {
            equal_doubted: 12,
            equal_rejected: 6,
            ..Thresholds::default()
        };
        let others = (0..10).map(|n| (8.0 + f64::from(n % 4), 17.0 + f64::from(n % 3)));
        let equal = std::iter::repeat_n((10.0, 20.0), 6);
        let pairs: Vec<_> = others.chain(equal).collect();
        let verdicts = judge(&days(&pairs), &thresholds);
        assert!(verdicts[..10].iter().all(|v| *v == Verdict::Sound));
        assert!(
            verdicts[10..]
                .iter()
                .all(|v| matches!(v, Verdict::Rejected(_))),
            "{verdicts:?}"
        );
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

    /// `read` are the days of July that read like °F.
    #[track_caller]
    fn check_fahrenheit(days: &[RawDay], read: &[RangeInclusive<u32>]) {
        let found: Vec<_> = fahrenheit(days, &Thresholds::default())
            .into_iter()
            .map(|places| days[places.start].date.day()..=days[places.end - 1].date.day())
            .collect();
        assert_eq!(found, read);
    }

    #[test]
    fn a_summer_in_fahrenheit_is_recognised_and_a_hot_one_in_celsius_is_not() {
        let summer = days(&[(58.0, 80.0), (60.0, 84.0), (55.0, 77.0)]);
        check_fahrenheit(&summer, &[1..=3]);
        check_fahrenheit(&days(&[(28.0, 49.0), (27.0, 51.0), (20.0, 51.0)]), &[]);
    }

    #[test]
    fn a_logger_that_changes_to_fahrenheit_in_winter_is_recognised_by_its_jump() {
        // 2 to 8 °C are 36 to 46 °F.
        let rows = [
            (2.0, 8.0),
            (1.0, 7.0),
            (36.0, 46.0),
            (35.0, 44.0),
            (34.0, 45.0),
        ];
        check_fahrenheit(&days(&rows), &[3..=5]);
        let warm_day = [
            (2.0, 8.0),
            (1.0, 7.0),
            (24.0, 29.0),
            (10.0, 20.0),
            (9.0, 19.0),
        ];
        check_fahrenheit(&days(&warm_day), &[]);
    }

    #[test]
    fn another_season_after_a_gap_is_no_fahrenheit() {
        let rows = [(-9.0, -2.0), (14.0, 25.0), (15.0, 26.0), (13.0, 24.0)];
        let mut winter = days(&rows);
        winter[0].date = NaiveDate::from_ymd_opt(2026, 1, 20).unwrap();
        check_fahrenheit(&winter, &[]);
    }

    #[test]
    fn a_logger_set_back_to_celsius_is_believed_again() {
        // 12 and 24 °C are 54 and 75 °F.
        let rows = [
            (12.0, 24.0),
            (54.0, 75.0),
            (55.0, 77.0),
            (52.0, 71.0),
            (13.0, 23.0),
            (12.0, 22.0),
        ];
        check_fahrenheit(&days(&rows), &[2..=4]);
        // From the very beginning in °F, then back.
        check_fahrenheit(&days(&rows[1..]), &[1..=3]);
        let twice = [&rows[..], &rows[1..4]].concat();
        check_fahrenheit(&days(&twice), &[2..=4, 7..=9]);
    }

    #[test]
    fn a_cold_front_in_fahrenheit_is_not_taken_for_celsius() {
        // From 20 and 32 °C to 7 and 18 °C.
        let rows = [
            (20.0, 31.0),
            (68.0, 90.0),
            (66.0, 88.0),
            (68.0, 90.0),
            (45.0, 64.0),
            (44.0, 60.0),
        ];
        check_fahrenheit(&days(&rows), &[2..=6]);
    }
}
