//! What hot and cold stretches do to dates. At 20 °C a day gives 15 °C·d, one standard day; at 30 °C it gives 25, at 8 °C 3.

use super::season::{Season, date, maple};
use crate::care::{Stretch, stalls};
use crate::days::PastYears;

/// Standard days of the stretch from day to day, those usual, and by how many days dates of the first batch move.
#[track_caller]
fn check(season: &Season, n: i64, (first, last): (i64, i64), expected: (f64, f64, Option<i64>)) {
    let ground = season.ground(season.day(n));
    let (cares, _) = season.cares(&ground);
    let stretch = Stretch::new(&ground, &season.plan, season.day(first), season.day(last));
    let standard = stretch.standard_days().unwrap().0;
    let usual = stretch.usual_standard_days().0;
    let moved = stretch.moved(&cares[0]);
    assert_eq!((standard, usual, moved), expected);
}

/// Three years before of that temperature, and one of another, in July and August.
fn past(temperature: f64) -> PastYears {
    let mut past = PastYears::default();
    for year in 2023..=2025 {
        for day in date(&format!("{year}-07-01")).iter_days().take(62) {
            past.add(year, day, temperature, temperature);
        }
    }
    past
}

#[test]
fn heat_moves_dates_forward() {
    // 285 at the end of day 19; 75 more by the spell make 360, where 45 are usual. The tape is late at 420: after 4 more
    // days, day 26, instead of 6, day 28.
    let hot = maple().weather("20x20 3x30 60x20");
    check(&hot, 24, (20, 22), (5.0, 3.0, Some(2)));
    // The same is foreseen before it comes.
    check(&hot, 20, (20, 22), (5.0, 3.0, Some(2)));
}

#[test]
fn where_years_before_are_known_the_usual_is_theirs() {
    // At 23 °C a day brings 18: 285 + 54 = 339, and 81 more take until day 28 all the same.
    let hot = maple()
        .weather("20x20 3x30 60x20")
        .but(|s| s.past = past(23.0));
    check(&hot, 24, (20, 22), (5.0, 3.6, Some(2)));
    // What is as hot every year moves nothing.
    let usual = maple()
        .weather("20x20 3x30 60x20")
        .but(|s| s.past = past(30.0));
    check(&usual, 24, (20, 22), (5.0, 5.0, Some(0)));
}

#[test]
fn two_years_before_are_too_few() {
    let mut two = PastYears::default();
    for day in date("2024-07-01").iter_days().take(62) {
        two.add(2024, day, 30.0, 30.0);
        two.add(
            2025,
            date(&day.format("2025-%m-%d").to_string()),
            30.0,
            30.0,
        );
    }
    let hot = maple().weather("20x20 3x30 60x20").but(|s| s.past = two);
    check(&hot, 24, (20, 22), (5.0, 3.0, Some(2)));
}

#[test]
fn beyond_the_forecast_days_are_as_usual() {
    // Two days are foretold, 30 °C both; from day 22 on a usual day brings 15.
    let hot = maple().weather("20x20 3x30 60x20").but(|s| s.horizon = 2);
    // 285 + 50 = 335 or 285 + 30 = 315: 420 on day 27 or 28.
    check(&hot, 20, (20, 21), (2.0 * 25.0 / 15.0, 2.0, Some(1)));
}

#[test]
fn cold_moves_dates_out() {
    // 135 at the end of day 9; 12 more by the end of day 13 where 60 are usual. 210 on day 18 instead of day 14.
    let cold = maple().weather("10x20 4x8 60x20");
    check(&cold, 14, (10, 13), (0.8, 4.0, Some(-4)));
}

#[test]
fn the_calendar_bounds_what_cold_moves() {
    // The tape comes off on day 35 at the latest. 270 at the end of day 18; at 5 °C nothing is added up to day 34.
    let cold = maple().weather("19x20 16x5 60x20");
    let ground = cold.ground(cold.day(35));
    let (cares, _) = cold.cares(&ground);
    let stretch = Stretch::new(&ground, &cold.plan, cold.day(19), cold.day(20));
    // 300 as usual at the end of day 20; 315 on day 21 without and, at the earliest, day 37 with.
    assert_eq!(stretch.moved(&cares[0]), Some(0));
}

#[test]
fn where_no_date_is_left_nothing_moves() {
    let hot = maple().weather("30x20 3x30 60x20");
    check(&hot, 34, (30, 32), (5.0, 3.0, None));
}

#[test]
fn a_batch_grafted_meanwhile_only_has_the_days_after() {
    let hot = maple()
        .weather("20x20 3x30 60x20")
        .but(|s| s.batches[0].grafted_on = s.day(21));
    // 25 instead of 15 on day 22: 210 after 8.4 instead of 9 more.
    let check_moved = |n, expected| {
        let ground = hot.ground(hot.day(n));
        let (cares, _) = hot.cares(&ground);
        let stretch = Stretch::new(&ground, &hot.plan, hot.day(20), hot.day(22));
        assert_eq!(stretch.moved(&cares[0]), expected);
    };
    // 195 as usual after day 22: 13 more days. 185 with: 12.33, 13 more days.
    check_moved(24, Some(0));
}

#[track_caller]
fn check_stalls(weather: &str, n: i64, expected: &[(i64, i64, i64)]) {
    let season = maple().weather(weather);
    let ground = season.ground(season.day(n));
    let day = |date: chrono::NaiveDate| (date - season.day(0)).num_days();
    let found: Vec<_> = stalls(&ground, &season.plan, ground.series.first())
        .into_iter()
        .map(|s| (day(s.first), day(s.last), day(s.on)))
        .collect();
    assert_eq!(found, expected);
}

#[test]
fn three_cold_days_running_are_a_stall_once_they_have_been() {
    // 12 °C gives 7 °C·d, 13 °C gives 8; half a standard day is 7.5.
    check_stalls("10x20 3x12 60x20", 13, &[(10, 12, 12)]);
    check_stalls("10x20 3x12 60x20", 12, &[]);
    check_stalls("10x20 2x12 60x20", 20, &[]);
    check_stalls("10x20 2x12 1x13 2x12 60x20", 20, &[]);
    check_stalls("10x20 5x12 60x20", 13, &[(10, 14, 12)]);
    check_stalls("10x20 2x12 1x12f 60x20", 20, &[]);
}
