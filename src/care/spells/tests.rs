use super::*;
use crate::care::tests::season::Season;
use crate::days::PastYears;
use chrono::Datelike;

fn day(n: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 8, n).unwrap()
}

/// Days from 1 August on with these maxima.
fn season(maxima: &[f64]) -> Season {
    let days: Vec<String> = maxima.iter().map(|max| format!("18/{max}")).collect();
    Season::new("maple field T-graft", "2026-08-01").weather(&days.join(" "))
}

type Told = (u32, u32, Level, u32);

fn told(spells: Vec<Spell>) -> Vec<Told> {
    let told = |s: Spell| (s.first.day(), s.last.day(), s.level, s.on.day());
    spells.into_iter().map(told).collect()
}

#[track_caller]
fn check(maxima: &[f64], expected: &[Told]) {
    let season = season(maxima);
    assert_eq!(told(spells(&season.ground(day(4)))), expected);
}

/// Five years before whose grafting seasons had one day in eight at `hottest`, and the rest at 25.
fn past(hottest: f64) -> PastYears {
    let mut past = PastYears::default();
    for year in 2021..=2025 {
        let first = NaiveDate::from_ymd_opt(year, 7, 15).unwrap();
        for (n, date) in first.iter_days().take(48).enumerate() {
            past.add(year, date, 15.0, if n % 9 == 0 { hottest } else { 25.0 });
        }
    }
    past
}

#[track_caller]
fn check_where_usual(hottest: f64, maxima: &[f64], expected: &[Told]) {
    let season = season(maxima).but(|s| s.past = past(hottest));
    assert_eq!(told(spells(&season.ground(day(4)))), expected);
}

#[test]
fn two_adjoining_days_are_a_spell_and_one_is_not() {
    check(&[31.0, 32.0, 33.0, 30.0], &[(2, 3, Level::Hot, 3)]);
    check(&[31.0, 36.0, 31.9, 32.0], &[]);
}

#[test]
fn a_single_day_of_injury_counts_always() {
    check(&[30.0, 38.0, 30.0], &[(2, 2, Level::Injury, 2)]);
}

#[test]
fn the_level_is_that_of_the_hottest_day_and_dated_by_it() {
    check(&[32.0, 33.0, 35.5, 34.0], &[(1, 4, Level::VeryHot, 3)]);
    check(&[35.5, 33.0], &[(1, 2, Level::VeryHot, 2)]);
}

#[test]
fn where_it_is_often_hotter_only_what_is_hot_there_counts() {
    // Of 240 days 30 are at 34.5: the 216th smallest is one of them.
    check_where_usual(34.5, &[33.0, 34.0, 34.4, 30.0], &[]);
    check_where_usual(34.5, &[34.0, 34.5, 34.6, 30.0], &[(2, 3, Level::Hot, 3)]);
    check_where_usual(34.5, &[34.0, 38.0, 34.0, 30.0], &[(2, 2, Level::Injury, 2)]);
}

#[test]
fn where_it_is_always_cooler_32_still_counts() {
    check_where_usual(28.0, &[29.0, 30.0, 31.9, 30.0], &[]);
    check_where_usual(28.0, &[29.0, 32.0, 32.0, 30.0], &[(2, 3, Level::Hot, 3)]);
}

#[test]
fn a_day_of_injury_counts_where_even_that_is_usual() {
    check_where_usual(41.0, &[30.0, 38.5, 30.0], &[(2, 2, Level::Injury, 2)]);
}

#[test]
fn a_spell_long_over_is_no_news_but_not_forgotten() {
    let season = season(&[33.0, 33.0, 20.0, 20.0, 20.0, 20.0]);
    assert_eq!(spells(&season.ground(day(5))).len(), 1);
    assert_eq!(spells(&season.ground(day(6))).len(), 0);
    assert_eq!(every_spell(&season.ground(day(6))).len(), 1);
}

#[test]
fn soft_days_are_today_or_to_come_and_in_no_spell() {
    let season = season(&[29.0, 29.0, 28.0, 31.0, 33.0, 33.0, 29.0, 28.9, 30.0]);
    let found = told(soft_spells(&season.ground(day(2))));
    let soft = |first, last| (first, last, Level::Soft, first);
    assert_eq!(found, [soft(2, 2), soft(4, 4), soft(7, 7), soft(9, 9)]);
}
