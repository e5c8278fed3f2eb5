//! Wind, frost and rain: which days are told, and which batches they may hurt.

use super::season::{Season, maple, weekdays};
use crate::care::{Harm, bouts};

/// First and last day, the worst of it, and how many batches it may hurt.
type Told = (i64, i64, f64, usize);

#[track_caller]
fn check(harm: Harm, season: &Season, n: i64, expected: &[Told]) {
    let ground = season.ground(season.day(n));
    let (cares, _) = season.cares(&ground);
    let day = |date: chrono::NaiveDate| (date - season.day(0)).num_days();
    let found: Vec<Told> = bouts(harm, &ground, &season.workdays, &cares)
        .into_iter()
        .map(|b| (day(b.first), day(b.last), b.worst, b.batches.len()))
        .collect();
    assert_eq!(found, expected);
}

fn blow(weather: &str) -> Season {
    maple().weather(weather)
}

#[test]
fn gusts_are_told_from_today_to_three_days_ahead() {
    let season = blow("20x20 1x20g59.9 2x20g60 1x20 1x20g75 60x20");
    check(Harm::Wind, &season, 17, &[]);
    check(Harm::Wind, &season, 18, &[(21, 22, 60.0, 1)]);
    check(Harm::Wind, &season, 19, &[(21, 22, 60.0, 1)]);
    check(
        Harm::Wind,
        &season,
        22,
        &[(22, 22, 60.0, 1), (24, 24, 75.0, 1)],
    );
    check(Harm::Wind, &season, 25, &[]);
}

#[test]
fn wind_hurts_from_the_first_look_until_the_scion_is_tied_or_two_weeks_after_the_tape() {
    let check_hurt = |gust: usize, records: &str, expected| {
        let season = blow(&format!("{gust}x20 1x20g70 60x20")).records(records);
        let day = gust as i64;
        check(Harm::Wind, &season, day, &[(day, day, 70.0, expected)]);
    };
    check_hurt(13, "", 0);
    check_hurt(14, "", 1);
    check_hurt(25, "15 lines, 16 headed-back, 23 tape-off", 1);
    check_hurt(25, "15 lines, 16 headed-back, 23 tape-off, 24 tied-in", 0);
    check_hurt(37, "15 lines, 16 headed-back, 23 tape-off", 1);
    check_hurt(38, "15 lines, 16 headed-back, 23 tape-off", 0);
    check_hurt(38, "15 lines, 16 headed-back, 23 tape-off 40", 1);
    check_hurt(25, "20 closed", 0);
}

#[test]
fn under_glass_no_wind_frost_or_rain_comes() {
    let glass =
        |weather: &str| Season::new("side-veneer under glass", "2026-07-01").weather(weather);
    let season = glass("40x20 1x20g70 60x20");
    check(Harm::Wind, &season, 40, &[(40, 40, 70.0, 0)]);
    check(
        Harm::Rain,
        &glass("5x20 1x20r30 60x20"),
        5,
        &[(5, 5, 30.0, 0)],
    );
    check(
        Harm::Frost,
        &glass("20x20 1x-3/10 60x20"),
        20,
        &[(20, 20, -3.0, 0)],
    );
}

#[test]
fn frost_is_told_from_last_night_on() {
    let season = blow("60x20 1x0.1/12 1x0/12 1x-2.5/9 60x20");
    check(Harm::Frost, &season, 58, &[(61, 62, -2.5, 1)]);
    check(Harm::Frost, &season, 60, &[(61, 62, -2.5, 1)]);
    check(Harm::Frost, &season, 63, &[(62, 62, -2.5, 1)]);
    check(Harm::Frost, &season, 64, &[]);
}

#[test]
fn before_days_off_frost_is_looked_for_until_somebody_is_back() {
    // Day 58 is Friday 28 August; Monday and Tuesday are off too, so that Wednesday is day 63.
    let season = blow("62x20 1x-1/12 60x20").but(|s| {
        s.workdays = weekdays().and_off(&[(s.day(61), s.day(62))]);
    });
    check(Harm::Frost, &season, 57, &[]);
    check(Harm::Frost, &season, 58, &[(62, 62, -1.0, 1)]);
}

#[test]
fn after_leaf_fall_frost_hurts_no_more() {
    // A week at 5 °C ends on day 75 (14 September): leaf fall.
    let season = blow("69x20 7x5 20x8 1x-3/12 60x8");
    check(Harm::Frost, &season, 96, &[(96, 96, -3.0, 0)]);
    let mild = blow("96x12 1x-3/12 60x12");
    check(Harm::Frost, &mild, 96, &[(96, 96, -3.0, 1)]);
}

#[test]
fn growth_is_not_soft_after_midwinter() {
    let frost = |days| blow(&format!("{days}x12 1x-3/20 60x12"));
    // 1 July + 183 = 31 December.
    check(Harm::Frost, &frost(183), 183, &[(183, 183, -3.0, 1)]);
    check(Harm::Frost, &frost(184), 184, &[(184, 184, -3.0, 0)]);
}

#[test]
fn rain_is_told_of_ten_days_after_grafting_when_it_has_fallen_or_is_near() {
    let season = |day: usize| blow(&format!("{day}x20 1x20r10 60x20"));
    check(Harm::Rain, &season(10), 9, &[(10, 10, 10.0, 1)]);
    check(Harm::Rain, &season(10), 13, &[(10, 10, 10.0, 1)]);
    check(Harm::Rain, &season(10), 8, &[]);
    check(Harm::Rain, &season(10), 14, &[]);
    check(Harm::Rain, &season(11), 11, &[(11, 11, 10.0, 0)]);
    check(Harm::Rain, &blow("5x20 1x20r9.9 60x20"), 5, &[]);
}

#[test]
fn a_plan_that_waits_for_no_leaf_fall_knows_no_soft_growth() {
    let buds = Season::new("apple chip bud", "2026-07-01").weather("60x20 1x-3/10 60x20");
    check(Harm::Frost, &buds, 60, &[(60, 60, -3.0, 0)]);
}
