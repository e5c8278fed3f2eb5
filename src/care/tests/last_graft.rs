//! The last safe day for grafting, worked out by hand: 28 standard days of 15 °C·d are 420.

use super::season::{Season, date, maple};
use crate::care::NoLastGraft;
use crate::days::PastYears;
use chrono::{Datelike, NaiveDate};

/// First frosts of ten years: on 15 October or later in eight of them.
const FROSTS: [&str; 10] = [
    "10-20", "11-02", "10-05", "10-30", "-", "10-11", "11-20", "10-25", "11-08", "10-15",
];

/// Years from 2016 on with these first frosts and constant temperatures.
pub(crate) fn years(frosts: &[&str], means: &[f64]) -> PastYears {
    let mut past = PastYears::default();
    for ((year, frost), mean) in (2016..).zip(frosts).zip(means) {
        let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
        for date in first.iter_days().take_while(|date| date.year() == year) {
            let is_frost = date.format("%m-%d").to_string() == **frost;
            past.add(year, date, if is_frost { 0.0 } else { *mean }, *mean);
        }
    }
    past
}

/// Ten years as warm as the plan's reference.
pub(crate) fn mild() -> PastYears {
    years(&FROSTS, &[20.0; 10])
}

fn season(past: PastYears) -> Season {
    maple().but(|s| s.past = past)
}

/// Last safe day and frost of the season that is on.
#[track_caller]
fn check(season: &Season, today: &str, expected: Result<(&str, &str), NoLastGraft>) {
    let ground = season.ground(date(today));
    let last = ground.last_graft("maple field T-graft").unwrap();
    let found = last.map(|last| last.of_season(date(today)).unwrap());
    assert_eq!(
        found,
        expected.map(|(last, frost)| (date(last), date(frost)))
    );
}

#[test]
fn twenty_eight_standard_days_and_three_weeks_before_the_frost() {
    // 15 October less 21 days is 24 September, the last of 28 days from 28 August on.
    let season = season(mild());
    check(&season, "2026-08-01", Ok(("2026-08-27", "2026-10-15")));
    check(&season, "2026-10-15", Ok(("2026-08-27", "2026-10-15")));
    check(&season, "2026-10-16", Ok(("2027-08-27", "2027-10-15")));
}

#[test]
fn warmth_is_that_of_eight_of_ten_years() {
    // At 15 °C 420 °C·d take 42 days: 24 September less 42 days is 13 August.
    let mut means = [20.0; 10];
    means[0] = 15.0;
    means[4] = 15.0;
    check(
        &season(years(&FROSTS, &means)),
        "2026-08-01",
        Ok(("2026-08-27", "2026-10-15")),
    );
    means[7] = 15.0;
    check(
        &season(years(&FROSTS, &means)),
        "2026-08-01",
        Ok(("2026-08-13", "2026-10-15")),
    );
}

#[test]
fn a_standard_day_of_the_site_is_another_amount() {
    // 28 x 12 = 336 °C·d, 22.4 days of 15: 24 September less 23 days is 1 September.
    let season = season(mild()).but(|s| s.site.standard_day = Some(crate::units::DegreeDays(12.0)));
    check(&season, "2026-08-01", Ok(("2026-09-01", "2026-10-15")));
}

#[test]
fn where_there_is_no_such_day_it_is_said_why() {
    let of = |frosts: &[&str], mean| season(years(frosts, &[mean; 10]));
    check(&of(&[], 20.0), "2026-08-01", Err(NoLastGraft::Unknown));
    check(
        &of(&FROSTS[..4], 20.0),
        "2026-08-01",
        Err(NoLastGraft::Unknown),
    );
    check(
        &of(&["-"; 10], 20.0),
        "2026-08-01",
        Err(NoLastGraft::NeverFreezes),
    );
    // 1 °C·d a day: not in half a year.
    check(&of(&FROSTS, 6.0), "2026-08-01", Err(NoLastGraft::TooCold));
}

#[test]
fn above_the_arctic_circle_frost_in_every_month_leaves_no_day() {
    let mut past = years(&FROSTS, &[9.0; 10]);
    for year in 2016..2026 {
        for month in 1..=12 {
            past.add(
                year,
                NaiveDate::from_ymd_opt(year, month, 2).unwrap(),
                -3.0,
                9.0,
            );
        }
    }
    let season = season(past).but(|s| s.site.latitude = 69.6);
    check(&season, "2026-07-10", Err(NoLastGraft::TooCold));
    // Nothing of it holds up the plan: the window is simply open, without an end.
    assert_eq!(
        season.records("15 lines, 26 dead 5").step(27, "re-graft"),
        "open 26..- record"
    );
}

#[test]
fn in_the_south_it_is_autumn_in_march_and_a_leap_day_counts() {
    let season = season(years(&["03-20"; 6], &[20.0; 6])).but(|s| s.site.latitude = -41.3);
    // 20 March less 21 and 28 days: 30 January, in a leap year 31 January.
    check(&season, "2026-12-01", Ok(("2027-01-30", "2027-03-20")));
    check(&season, "2027-12-01", Ok(("2028-01-31", "2028-03-20")));
}

#[test]
fn a_year_with_a_hole_does_not_count() {
    let mut past = PastYears::default();
    let whole = years(&FROSTS, &[20.0; 10]);
    for year in 2016..2022 {
        let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
        for day in first.iter_days().take_while(|day| day.year() == year) {
            let hole = year > 2016 && (day.month(), day.day() / 4) == (9, 3);
            if let Some((min, max)) = whole.day(year, day).filter(|_| !hole) {
                past.add(year, day, min, max);
            }
        }
    }
    check(&season(past), "2026-08-01", Err(NoLastGraft::Unknown));
}

#[test]
fn plans_under_glass_and_on_the_bench_have_no_last_day() {
    let plans = crate::config::built_in();
    let season = season(mild());
    let ground = season.ground(date("2026-08-01"));
    let ground = ground.with_last_grafts(&season.past, &plans);
    let known = |name: &str| ground.last_graft(name).is_some();
    assert!(known("maple field T-graft") && known("apple chip bud"));
    assert!(!known("side-veneer under glass") && !known("grape bench graft"));
}

#[test]
fn grafting_anew_ends_with_it() {
    // 27 August is day 57.
    let season = season(mild());
    let dead = |day: i64| season.clone().records(&format!("15 lines, {day} dead 5"));
    assert_eq!(dead(26).step(27, "re-graft"), "open 26..57 record");
    assert_eq!(dead(26).step(58, "re-graft"), "late 26..57 record");
    // What dies later waits for the next season.
    assert_eq!(dead(57).step(57, "re-graft"), "closing 57..57 record");
    assert_eq!(dead(58).step(60, "re-graft"), "ahead -..-");
    // Without years before it has no end.
    let without = maple().records("15 lines, 26 dead 5");
    assert_eq!(without.step(58, "re-graft"), "open 26..- record");
}

#[test]
fn frost_is_near_for_six_weeks_before_and_after() {
    let season = season(mild());
    let near = |today: &str| season.ground(date(today)).frost_near().is_some();
    assert!(!near("2026-09-02") && near("2026-09-03"));
    assert!(near("2026-11-26") && !near("2026-11-27"));
}

#[test]
fn a_usual_day_is_the_mean_of_the_grafting_seasons_before() {
    // Six years of 15 °C·d and four of 10, with as many days in each.
    let means = [20.0, 15.0, 20.0, 15.0, 20.0, 20.0, 15.0, 20.0, 15.0, 20.0];
    let season = season(years(&["-"; 10], &means));
    let usual = |season: &Season| {
        season
            .ground(date("2026-08-01"))
            .usual_day(&season.plan.model)
    };
    let (heat, days) = usual(&season).unwrap();
    assert!((heat.0 - 13.0).abs() < 1e-9, "{heat:?}");
    assert_eq!(days, 480);
    assert_eq!(usual(&maple()), None);
}
