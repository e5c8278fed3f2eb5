//! Openings, lateness, days off and steps that come again.

use super::*;

#[test]
fn a_batch_looked_after_in_time_is_told_of_three_times() {
    let season = maple().records("16 lines, 17 headed-back, 23 tape-off");
    check(
        &season,
        1..50,
        &[
            "15: opens callus-check 14",
            "16: opens head-back 16",
            "22: opens tape-off 21",
        ],
    );
}

#[test]
fn a_batch_that_nobody_looks_after_is_told_of_each_thing_once() {
    check(
        &maple(),
        1..31,
        &[
            "15: opens callus-check 14",
            "19: opens head-back 18",
            "21: over-callus-risk over-callusing 24 urgent",
            "21: last-call callus-check 21",
            "21: last-call head-back 21",
            "22: opens tape-off 21",
            "22: late callus-check 21",
            "22: late head-back 21",
            "25: opens re-graft 24",
            "28: last-call tape-off 28",
            "29: late tape-off 28",
        ],
    );
}

#[test]
fn late_is_told_once() {
    let season = maple().records("15 lines, 16 headed-back");
    Played::default()
        .rounds(&season, 1..60)
        .check_of("late", &["29: late tape-off 28"]);
}

#[test]
fn late_stands_in_for_an_opening_that_was_never_told() {
    let season = maple().records("15 lines, 16 headed-back");
    check(
        &season,
        40..44,
        &[
            "40: opens look-again 36",
            "40: late tape-off 28",
            "42: opens look-again 41",
        ],
    );
}

#[test]
fn a_window_that_has_never_been_told_of_is_told_of_however_late_the_round() {
    check(&maple(), 17..18, &["17: opens callus-check 14"]);
}

#[test]
fn work_waits_for_a_working_day() {
    check(&on_weekdays(), 1..19, &["17: opens callus-check 14"]);
}

#[test]
fn work_that_was_answered_on_days_off_is_not_told() {
    check(
        &on_weekdays().records("16 lines, 16 headed-back"),
        1..19,
        &[],
    );
}

#[test]
fn each_turn_of_a_look_is_told_once_and_an_answer_withdraws_nothing() {
    let looks = |season: &Season, days| {
        let mut played = Played::default().rounds(season, days);
        played.lines.retain(|l| l.contains("look-again"));
        played
    };
    looks(&maple().records("15 no-lines"), 15..40).check(&[
        "19: opens look-again 18",
        "22: opens look-again 21",
        "25: opens look-again 24",
    ]);
    looks(&maple().records("15 no-lines, 19 looked"), 15..24).check(&["23: opens look-again 22"]);
    looks(&maple().records("15 no-lines, 20 lines"), 15..40).check(&["19: opens look-again 18"]);
}

#[test]
fn ties_and_suckers_are_told_every_28_days() {
    let season = maple().records("23 tape-off, 81 suckers-rubbed");
    let mut played = Played::default().rounds(&season, 24..115);
    played.lines.retain(|l| l.contains("ties"));
    played.check(&[
        "52: opens ties-and-suckers 51",
        "80: opens ties-and-suckers 79",
        "110: opens ties-and-suckers 109",
    ]);
}

#[test]
fn a_closed_batch_is_silent() {
    check(&maple().records("16 closed"), 16..60, &[]);
}

#[test]
fn a_batch_that_came_of_grafting_anew_has_notices_of_its_own() {
    let season = maple().records("12 dead 5, 13 regrafted, 20 lines, 21 headed-back, 22 tape-off");
    Played::default().rounds(&season, 12..29).check(&[
        "12: opens re-graft 12",
        "15: opens callus-check 14",
        "19: opens head-back 18",
        "28: opens C-14/2 callus-check 27",
    ]);
}

#[test]
fn the_eve_of_an_opening_is_told_once_and_only_by_a_forecast() {
    let eves = |season: &Season| {
        Played::default()
            .rounds(season, 1..40)
            .lines
            .into_iter()
            .filter(|line| line.contains(": heads-up "))
            .collect::<Vec<_>>()
    };
    let season = maple().records("20 headed-back, 23 tape-off");
    assert_eq!(
        eves(&season),
        [
            "14: heads-up callus-check 14",
            "18: heads-up head-back 18",
            "21: heads-up tape-off 21",
        ]
    );
    assert_eq!(eves(&season.without_forecast()), Vec::<String>::new());
}

#[test]
fn before_days_off_there_is_no_word_on_the_eve() {
    // Day 14 is a Friday: what opens with its warmth is told on Monday, and the look-ahead spoke of it.
    let friday = on_weekdays();
    Played::default()
        .rounds(&friday, 1..17)
        .check_of("heads-up", &[]);
    // A day later it is the Sunday, the eve of Monday: nobody works to be told.
    let sunday = Season::new("maple field T-graft", "2026-07-05")
        .weather("120x20")
        .but(|s| s.workdays = weekdays());
    Played::default()
        .rounds(&sunday, 1..15)
        .check_of("heads-up", &[]);
}

#[test]
fn the_last_working_day_is_called_once_for_each_opening() {
    // Closes at the end of day 21, which is a Friday, then a Saturday.
    let friday = on_weekdays();
    Played::default().rounds(&friday, 1..24).check_of(
        "last-call",
        &[
            "21: last-call callus-check 21",
            "21: last-call head-back 21",
        ],
    );
    let saturday = Season::new("maple field T-graft", "2026-07-04")
        .weather("120x20")
        .but(|s| s.workdays = weekdays());
    Played::default().rounds(&saturday, 1..24).check_of(
        "last-call",
        &[
            "20: last-call callus-check 21",
            "20: last-call head-back 21",
        ],
    );
}

#[test]
fn without_a_forecast_the_last_working_day_is_told_too() {
    // 315 °C·d close two windows on Friday the 21st, and 420 the third a week later.
    let blind = on_weekdays().without_forecast();
    let calls = |season: &Season, days, expected: &[&str]| {
        let played = Played::default().rounds(season, days);
        played.check_of("last-call", expected);
    };
    calls(
        &blind,
        1..35,
        &[
            "21: last-call callus-check 21",
            "21: last-call head-back 21",
            "28: last-call tape-off 28",
        ],
    );
    let done = blind.clone().records("20 lines, 20 headed-back");
    calls(&done, 1..35, &["28: last-call tape-off 28"]);
}
