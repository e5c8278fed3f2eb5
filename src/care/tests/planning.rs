//! Whether a day is fit for grafting, and what would follow from grafting on it.

use super::last_graft::mild;
use super::season::{Season, date, maple, weekdays};
use crate::care::{Against, DayAsked, Fit, IfGrafted, Unsure, best, fit};
use crate::days::PastYears;
use chrono::{Datelike, NaiveDate};

/// Five years whose maxima go from 20 to 29 °C with the last figure of the date: of their 240 days of the season the
/// 48th smallest is 21, the 192nd 28.
fn varied() -> PastYears {
    let mut past = PastYears::default();
    for year in 2021..2026 {
        let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
        for date in first.iter_days().take_while(|date| date.year() == year) {
            past.add(year, date, 12.0, 20.0 + f64::from(date.day() % 10));
        }
    }
    past
}

/// How fit day 25 is in a round on day 20: these days before it, this one, and these after it.
#[track_caller]
fn check(before: &str, day: &str, after: &str, expected: &Fit) {
    let season = maple()
        .weather(&format!("{before} {day} {after}"))
        .but(|s| s.past = varied());
    let ground = season.ground(season.day(20));
    let found = fit(&ground, &season.plan, &season.workdays, season.day(25));
    assert_eq!(found, *expected);
}

const BEFORE: &str = "25x14/24g10r3";
const GOOD: &str = "1x14/24g10r0";
const AFTER: &str = "20x14/24g10r0";

fn no() -> Fit {
    Fit::default()
}

fn against(found: Against) -> Fit {
    Fit {
        against: vec![found],
        ..no()
    }
}

#[track_caller]
fn check_day(day: &str, expected: Against) {
    check(BEFORE, day, AFTER, &against(expected));
}

#[test]
fn a_day_like_others_is_fit() {
    check(BEFORE, GOOD, AFTER, &no());
    check(BEFORE, "1x8/21g39r0.9", AFTER, &no());
    check(BEFORE, "1x14/28g10r0", AFTER, &no());
}

#[test]
fn a_day_may_be_cool_hot_windy_or_wet() {
    check_day("1x14/20.9g10r0", Against::Cool(20.9, 21.0));
    check_day("1x14/28.1g10r0", Against::Hot(28.1, 28.0));
    check_day("1x7.9/24g10r0", Against::ColdNight(7.9));
    check_day("1x14/24g40r0", Against::Gusts(40.0));
    check_day("1x14/24g10r1", Against::Rain(1.0));
}

#[test]
fn bark_slips_in_growing_weather() {
    // Six days of 8 °C and one of 19 °C: 67 / 7 = 9.57.
    let expected = against(Against::NotGrowing(67.0 / 7.0));
    check("19x14/24g10r3 6x8g10r3", GOOD, AFTER, &expected);
    // Five of 8 °C and two of 19 °C: 78 / 7 = 11.1.
    check("20x14/24g10r3 5x8g10r3", GOOD, AFTER, &no());
}

#[test]
fn heat_within_a_week_speaks_against_it() {
    let spell = |n, max| against(Against::Spell(maple().day(n), max));
    check(
        BEFORE,
        GOOD,
        "5x14/24g10r0 2x20/33g10r0 9x14/24g10r0",
        &spell(31, 33.0),
    );
    check(
        BEFORE,
        GOOD,
        "6x14/24g10r0 1x20/38g10r0 9x14/24g10r0",
        &spell(32, 38.0),
    );
    // One day of 33 °C is no spell, and the second of these lies beyond the week.
    check(
        BEFORE,
        GOOD,
        "6x14/24g10r0 2x20/33g10r0 9x14/24g10r0",
        &no(),
    );
    check(
        BEFORE,
        GOOD,
        "2x14/24g10r0 1x20/37g10r0 9x14/24g10r0",
        &no(),
    );
}

#[test]
fn dry_ground_is_watered_where_rain_is_known() {
    let dry = |rain| Fit {
        dry: Some(rain),
        ..no()
    };
    check("18x14/24g10r9 7x14/24g10r2", GOOD, AFTER, &dry(14.0));
    check("17x14/24g10r9 8x14/24g10r2.5", GOOD, AFTER, &no());
    // Rain of one of the seven days is not known.
    check(
        "18x14/24g10r9 3x14/24g10r0 1x14/24g10 3x14/24g10r0",
        GOOD,
        AFTER,
        &no(),
    );
}

#[test]
fn what_is_not_known_is_not_guessed() {
    let unsure = |what: &[Unsure]| Fit {
        unsure: what.to_vec(),
        ..no()
    };
    check(BEFORE, "1x?", AFTER, &unsure(&[Unsure::Weather]));
    let silent = [Unsure::Gusts, Unsure::Rain];
    check(BEFORE, "1x14/24", AFTER, &unsure(&silent));
    let ends = [Unsure::HeatAfter(maple().day(26))];
    check(BEFORE, GOOD, "1x14/24g10r0", &unsure(&ends));
    check(
        "22x14/24g10r3 1x? 2x14/24g10r3",
        GOOD,
        AFTER,
        &unsure(&[Unsure::Week]),
    );
}

#[test]
fn without_years_before_nothing_is_usual() {
    let season = maple().weather(&format!("{BEFORE} {GOOD} {AFTER}"));
    let ground = season.ground(season.day(20));
    let found = fit(&ground, &season.plan, &season.workdays, season.day(25));
    let expected = [Unsure::LastGraft, Unsure::Usual];
    assert_eq!(
        (found.against, found.unsure),
        (Vec::new(), expected.to_vec())
    );
}

#[test]
fn the_season_and_the_week_of_work_count_too() {
    // The last safe day is Thursday 27 August 2026, day 57.
    let season = maple().but(|s| {
        s.past = mild();
        s.workdays = weekdays();
    });
    let ground = season.ground(season.day(50));
    let of = |n| fit(&ground, &season.plan, &season.workdays, season.day(n)).against;
    assert_eq!(of(57), []);
    let late = Against::AfterLast(date("2026-08-27"));
    assert_eq!(of(58), [late]);
    assert_eq!(of(59), [Against::DayOff, late]);
}

/// Grafts made in the season of these days, asked about on day 20.
fn asked(season: &Season, first: i64, look: impl FnOnce(&[DayAsked<'_>])) {
    let ground = season.ground(season.day(20));
    let days = IfGrafted {
        ground: &ground,
        past: &season.past,
        plan: &season.plan,
        workdays: &season.workdays,
        grafts: 200,
        beside: &[],
    };
    look(&days.days(season.day(first), 14));
}

/// "callus-check 39 0.67, head-back 43 2.50": the middle of each date in days since day 0, crew hours, a star on a day
/// off.
fn line(season: &Season, day: &DayAsked<'_>) -> String {
    let steps = day.steps.iter().map(|step| {
        let middle = step.band.p50.map(|day| (day - season.day(0)).num_days());
        let middle = middle.map_or_else(|| "-".into(), |n| n.to_string());
        let star = if step.off { "*" } else { "" };
        format!("{} {middle}{star} {:.2}", step.id, step.hours)
    });
    steps.collect::<Vec<_>>().join(", ")
}

#[test]
fn what_follows_from_a_day() {
    // At 20 °C a day is a standard day: 14, 18, 21 and 14 + 10 days later. 200 grafts at 20, 75 and 150 minutes a
    // hundred. Day 25 is Sunday 26 July, so days 39 and 46 are Sundays.
    let season = maple().but(|s| s.workdays = weekdays());
    asked(&season, 25, |days| {
        assert_eq!(
            line(&season, &days[0]),
            "callus-check 39* 0.67, head-back 43 2.50, tape-off 46* 5.00, over-callusing 49 0.00"
        );
        assert_eq!((days[0].hits(), days.len()), (2, 14));
        assert_eq!(
            line(&season, &days[13]),
            "callus-check 52* 0.67, head-back 56 2.50, tape-off 59* 5.00, over-callusing 62 0.00"
        );
    });
}

#[test]
fn guards_hold_for_grafts_to_come() {
    // At 6 °C a day gives 1 °C·d: looked at and untied by the calendar on day 35, never headed back by warmth.
    let cold = maple().weather("400x6");
    asked(&cold, 25, |days| {
        assert_eq!(
            line(&cold, &days[0]),
            "callus-check 60 0.67, head-back - 2.50, tape-off 60 5.00, over-callusing - 0.00"
        );
    });
}

#[test]
fn years_before_say_how_surely_and_without_any_it_is_rough() {
    let season = maple().without_forecast().but(|s| s.past = mild());
    asked(&season, 25, |days| assert!(!days[0].rough));
    asked(&maple().without_forecast(), 25, |days| {
        assert!(days[0].rough);
        assert_eq!(days[0].steps[0].band.p50, Some(maple().day(39)));
    });
    asked(&maple().weather(""), 25, |days| assert_eq!(days, []));
}

#[test]
fn grafts_may_be_made_on_a_leap_day() {
    // 10 February 2028 and 19 days: 14 days later it is 14 March.
    let season = Season::new("maple field T-graft", "2028-02-10")
        .weather("21x20")
        .without_forecast()
        .but(|s| {
            s.past = mild();
            s.site.latitude = -41.3;
        });
    asked(&season, 19, |days| {
        assert_eq!(days[0].date, date("2028-02-29"));
        assert_eq!(days[0].steps[0].band.p50, Some(date("2028-03-14")));
    });
}

#[track_caller]
fn check_best(season: &Season, first: i64, expected: Option<i64>) {
    asked(season, first, |days| {
        assert_eq!(best(days).map(|at| at as i64 + first), expected);
    });
}

#[test]
fn the_best_day_is_a_working_day_with_least_against_it() {
    let season = maple().but(|s| s.workdays = weekdays());
    // What follows falls on days off 14, 18, 21 and 24 days later; day 25 is a Sunday. Grafted on Monday, day 26:
    // day 44, a Friday, 40, 47 and 50 are no days off.
    check_best(&season, 25, Some(26));
    // A cold night before Monday: of Tuesday's grafts 45 is a Saturday, of Wednesday's 46 and of Thursday's 53 are
    // Sundays; of Friday's, made on day 30, 44, 48, 51 and 54 are no days off.
    let cool = season.weather("26x20 1x7 93x20");
    check_best(&cool, 26, Some(30));
    let never = maple().but(|s| s.workdays = crate::nursery::Workdays::new(&[], Vec::new()));
    check_best(&never, 25, None);
}

#[test]
fn in_the_cold_season_no_forecast_is_needed_to_know_better() {
    let mut past = PastYears::default();
    for date in NaiveDate::from_ymd_opt(2025, 1, 1)
        .unwrap()
        .iter_days()
        .take(365)
    {
        past.add(2025, date, 4.0, 12.0);
    }
    let season = maple().weather("20x14/24g10r3").but(|s| s.past = past);
    let ground = season.ground(season.day(20));
    let found = fit(&ground, &season.plan, &season.workdays, season.day(60));
    assert_eq!(found.against, [Against::UsuallyNotGrowing(8.0)]);
    assert!(found.unsure.contains(&Unsure::Weather));
}
