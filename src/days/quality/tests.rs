//! Each check at and beside its threshold.

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

#[track_caller]
fn check_contradiction(known: &[(f64, f64)], given: &[(f64, f64)], first: Option<u32>) {
    let found = contradiction(&days(known), &days(given), 3, 20.0);
    let expected = first.and_then(|day| NaiveDate::from_ymd_opt(2026, 7, day));
    assert_eq!(found.map(|(_, given)| given.date), expected);
}

#[test]
fn a_source_that_takes_back_most_of_its_days_contradicts_itself() {
    let known = [(10.0, 20.0), (11.0, 21.0), (12.0, 22.0), (9.0, 15.0)];
    let fahrenheit = known.map(|(min, max)| (min * 1.8 + 32.0, max * 1.8 + 32.0));
    check_contradiction(&known, &fahrenheit, Some(1));
    // Winter in tenths: -2 to 5 °C.
    let winter = [(-2.0, 5.0), (-1.0, 4.0), (0.0, 3.0)];
    check_contradiction(&winter, &winter.map(|(a, b)| (a * 10.0, b * 10.0)), Some(1));
}

#[test]
fn mended_days_are_no_contradiction() {
    let known = [(10.0, 20.0), (11.0, 21.0), (12.0, 22.0), (9.0, 15.0)];
    check_contradiction(&known, &known.map(|(a, b)| (a - 3.0, b + 4.0)), None);
    // One or two days of four may have been wrong.
    let mended = [(10.0, 20.0), (11.0, 45.0), (-12.0, 22.0), (9.0, 15.0)];
    check_contradiction(&known, &mended, None);
    // Two days are too few to say who is right.
    check_contradiction(&known[..2], &[(50.0, 68.0), (52.0, 70.0)], None);
    check_contradiction(&[], &known, None);
}
