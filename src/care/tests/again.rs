//! Steps that come again: looks by warmth after certain records, ties and suckers in season.

use super::season::{Season, maple};
use super::{check, check_on};

/// The look that has come or comes next on day `n`: "18 = 15 +1", the day, and what it counts from.
#[track_caller]
fn check_look(records: &str, n: i64, expected: &str) {
    let season = maple().records(records);
    let found = season.on(n, |care| {
        care.step("look-again").unwrap().turn.map_or_else(
            || "-".into(),
            |turn| {
                let day = |date: chrono::NaiveDate| (date - season.day(0)).num_days();
                format!(
                    "{} = {} +{}",
                    day(turn.opened.on),
                    day(turn.base),
                    turn.count
                )
            },
        )
    });
    assert_eq!(found, expected);
}

#[test]
fn three_days_after_no_lines_until_day_24() {
    check_look("15 no-lines", 16, "18 = 15 +1");
    check_look("15 no-lines", 21, "18 = 15 +1");
    check_look("15 no-lines", 22, "21 = 15 +2");
    check_look("15 no-lines", 25, "24 = 15 +3");
    check_look("15 no-lines", 40, "24 = 15 +3");
    check_look("16 no-lines", 40, "22 = 16 +2");
    check_look("22 no-lines", 40, "-");
}

#[test]
fn an_answer_begins_the_count_anew() {
    check_look("15 no-lines, 17 looked", 18, "20 = 17 +1");
    check_look("15 no-lines, 18 no-lines", 19, "21 = 18 +1");
}

#[test]
fn lines_end_the_looking_for_them() {
    check_look("15 no-lines, 18 lines", 19, "-");
}

#[test]
fn lines_on_fewer_than_half_bring_one_look_after_two_days() {
    check_look("14 lines 3/10", 15, "16 = 14 +1");
    check_look("14 lines 3/10", 30, "16 = 14 +1");
    check_look("14 lines 5/10", 15, "-");
    check_look("14 lines", 15, "-");
    check_look("14 lines 3/10, 16 lines 4/10", 17, "18 = 16 +1");
    check_look("14 lines 3/10, 16 looked", 17, "-");
}

#[test]
fn every_five_days_after_heading_back_until_the_tape_is_off() {
    check_look("14 lines, 16 headed-back", 17, "21 = 16 +1");
    check_look("14 lines, 16 headed-back", 27, "26 = 16 +2");
    check_look("14 lines, 16 headed-back, 21 looked", 22, "26 = 21 +1");
    check_look("14 lines, 16 headed-back, 22 tape-off 40", 30, "26 = 16 +2");
    check_look("14 lines, 16 headed-back, 22 tape-off", 30, "-");
}

#[test]
fn three_days_after_over_callusing_once() {
    check_look("20 over-callused", 21, "23 = 20 +1");
    check_look("20 over-callused", 40, "23 = 20 +1");
    check_look("20 over-callused, 23 looked", 40, "-");
}

#[test]
fn looking_after_over_callusing_ends_with_the_season_or_the_stumping() {
    let turn = |season: &Season, day: &str| {
        let n = (super::season::date(day) - season.day(0)).num_days();
        season.on(n, |care| care.step("look-again").unwrap().turn.is_some())
    };
    // The week up to 5 October is the first below 10 °C, as for ties and suckers.
    let season = two_years().records("20 over-callused");
    assert!(turn(&season, "2026-10-05") && !turn(&season, "2026-10-06"));
    assert!(!turn(&season, "2027-06-01"));
    // What is seen in the next summer is looked at again in it.
    let next = two_years().records("2027-06-01 over-callused");
    assert!(turn(&next, "2027-07-01") && !turn(&next, "2027-12-01"));
    let stumped = season.records("60 stumped");
    assert!(!turn(&stumped, "2026-09-01"));
}

#[test]
fn five_days_after_easing_the_tape_once() {
    check_look("22 tape-eased", 23, "27 = 22 +1");
    check_look("22 tape-eased, 27 looked", 40, "-");
    check_look("22 tape-eased, 24 tape-off", 40, "-");
    check_look("22 tape-eased, 27 tape-eased", 28, "32 = 27 +1");
}

#[test]
fn the_look_that_has_come_last_is_the_one_to_answer() {
    // After heading back on day 16: 21, 26; after the tape was eased on day 22, from which both count now: 27.
    check_look("16 headed-back, 22 tape-eased", 28, "27 = 22 +1");
}

#[test]
fn a_look_is_never_done_and_waits_for_its_day() {
    let season = maple().records("15 no-lines");
    check(&season, 18, "look-again", "ahead 18..-");
    check(&season, 19, "look-again", "open 18..- heat");
    check(&maple(), 19, "look-again", "ahead -..-");
}

/// Two years: 20 °C to the end of September, 5 °C to the end of March, and so on.
fn two_years() -> Season {
    // 1 July 2026 + 92 days = 1 October, + 182 = 1 April 2027, + 183 = 1 October, + 183 = 1 April 2028.
    Season::new("maple field T-graft", "2026-07-01").weather("92x20 182x5 183x20 183x5 60x20")
}

#[test]
fn ties_and_suckers_come_every_28_days_after_the_tape_is_off() {
    let season = two_years().records("25 tape-off");
    check(&season, 53, "ties-and-suckers", "ahead 53..-");
    check(&season, 54, "ties-and-suckers", "open 53..- calendar");
    check(&season, 82, "ties-and-suckers", "open 81..- calendar");
    let season = season.records("55 suckers-rubbed");
    check(&season, 83, "ties-and-suckers", "ahead 83..-");
    check(&season, 84, "ties-and-suckers", "open 83..- calendar");
}

#[test]
fn they_rest_from_the_first_cold_week_and_come_again_after_the_first_warm_one() {
    // The tape is off on 26 July; turns fall on 23 August, 20 September, 18 October. The mean of seven days falls
    // below 10 °C on 5 October (2 days of 20 and 5 of 5: 9.3) and comes to 10 °C on 3 April 2027 (3 of 20, 4 of 5:
    // 11.4). 28 days later it is 1 May.
    let season = two_years().records("25 tape-off");
    check_on(
        &season,
        "2026-10-05",
        "ties-and-suckers",
        "open 2026-09-20..- calendar",
    );
    check_on(&season, "2026-10-06", "ties-and-suckers", "ahead -..-");
    check_on(&season, "2027-02-01", "ties-and-suckers", "ahead -..-");
    check_on(
        &season,
        "2027-05-01",
        "ties-and-suckers",
        "ahead 2027-05-01..-",
    );
    check_on(
        &season,
        "2027-05-02",
        "ties-and-suckers",
        "open 2027-05-01..- calendar",
    );
}

#[test]
fn they_end_when_the_stub_is_docked() {
    let season = two_years().records("25 tape-off, 40 docked");
    check(&season, 60, "ties-and-suckers", "ahead -..-");
}
