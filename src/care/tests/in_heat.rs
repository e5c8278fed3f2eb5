//! Work that falls into a spell of heat: what waits, what does not.
//!
//! A day at 33 °C brings 25 °C·d (it is cut off at 30 °C), five thirds of a standard day.

use super::season::{Season, maple};
use crate::care::{Advice, in_heat};

/// "20-23 after 24": the spell, and what is to be done about the step on day `n`.
#[track_caller]
fn check(season: &Season, n: i64, step: &str, expected: &str) {
    let day = |date: chrono::NaiveDate| (date - season.day(0)).num_days();
    let ground = season.ground(season.day(n));
    let (cares, _) = season.cares(&ground);
    let step = cares[0].step(step).unwrap();
    let found = in_heat(&ground, &cares[0], step, &season.workdays);
    let said = found.map_or_else(
        || "-".to_owned(),
        |heat| {
            let advice = match heat.advice {
                Advice::NotPutOff => "now".to_owned(),
                Advice::After(on) => format!("after {}", day(on)),
                Advice::Ease(on) => format!("ease, off {}", day(on)),
                Advice::EarlyInTheDay => "early".to_owned(),
            };
            let spell = heat.spell;
            format!("{}-{} {advice}", day(spell.first), day(spell.last))
        },
    );
    assert_eq!(said, expected);
}

fn headed_back() -> Season {
    maple().records("15 lines, 16 headed-back")
}

#[test]
fn tape_stays_on_until_the_heat_is_over_where_the_window_allows() {
    // 19 standard days by day 19, 25.7 by day 23: open since day 21, in time to day 26.
    let season = headed_back().weather("20x20 4x33 40x20");
    check(&season, 22, "tape-off", "20-23 after 24");
    // Day 0 is a Wednesday: day 24 a Saturday, day 26 a Monday.
    let weekdays = season
        .clone()
        .but(|s| s.workdays = super::season::weekdays());
    check(&weekdays, 22, "tape-off", "20-23 after 26");
    check(&season, 24, "tape-off", "-");
    check(&season.records("22 tape-off"), 23, "tape-off", "-");
}

#[test]
fn where_the_window_closes_in_the_heat_tape_is_eased() {
    // 28 standard days by day 25, and hot to day 29.
    let season = headed_back().weather("20x20 10x33 40x20");
    check(&season, 22, "tape-off", "20-29 ease, off 30");
    check(&season, 27, "tape-off", "20-29 ease, off 30");
}

#[test]
fn what_waits_for_one_spell_waits_for_the_next() {
    // One day between two spells is a Sunday off: day 25.
    let sundays = |s: &mut Season| {
        let days = &super::season::WEEK[..6];
        s.workdays = crate::nursery::Workdays::new(days, Vec::new());
    };
    let season = headed_back()
        .weather("22x20 3x33 1x20 2x33 40x15")
        .but(sundays);
    check(&season, 22, "tape-off", "22-24 ease, off 28");
}

#[test]
fn a_strangling_stock_is_headed_back_in_the_heat() {
    // The limit of 24 standard days is reached on day 22.
    let season = maple().records("15 lines").weather("20x20 4x33 40x20");
    check(&season, 20, "head-back", "20-23 now");
    let seen = maple()
        .records("15 lines, 16 over-callused")
        .weather("16x20 2x33 40x20");
    check(&seen, 16, "head-back", "16-17 now");
}

#[test]
fn heading_back_that_does_not_press_waits() {
    // In time to day 20; the limit comes on day 23.
    let season = maple().records("15 lines").weather("16x20 2x33 40x20");
    check(&season, 16, "head-back", "16-17 after 18");
}

#[test]
fn looks_and_heat_beyond_the_window_are_left_alone() {
    let season = headed_back().weather("20x20 4x33 40x20");
    check(&season, 20, "look-again", "-");
    // Open from day 21 to day 28; hot from day 30 on.
    let later = headed_back().weather("30x20 4x33 40x20");
    check(&later, 22, "tape-off", "-");
}
