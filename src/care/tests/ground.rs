//! Days that are unknown, filled in or only foretold, days that are corrected, and spells of heat.

use super::check;
use super::season::{Season, maple};
use crate::care::{spells, touches};
use crate::units::{DegreeDays, StandardDays};

#[test]
fn a_day_that_is_over_but_only_foretold_opens_nothing() {
    // Days 13 to 15 are known only from a forecast: the end of day 16 is the first to count.
    let season = maple().weather("13x20 3x20f 30x20");
    check(&season, 15, "callus-check", "ahead 15..21");
    check(&season, 16, "callus-check", "ahead 16..21");
    check(&season, 17, "callus-check", "open 16..21 heat");
}

#[test]
fn a_day_that_is_over_but_only_foretold_closes_nothing() {
    let season = maple().weather("21x20 3x20f 30x20");
    check(&season, 24, "callus-check", "closing 14..24 heat");
    check(&season, 25, "callus-check", "late 14..24 heat");
}

#[test]
fn heat_is_unknown_beyond_a_long_gap_but_at_least_so_much() {
    let season = maple().weather("5x20 3x? 40x20");
    season.on(15, |care| {
        assert_eq!(care.heat(), None);
        // Days 1 to 4 and 8 to 14.
        assert_eq!(care.standard_days(), StandardDays(11.0));
        assert!(care.filled_share.abs() < 1e-12);
    });
    check(&season, 17, "callus-check", "ahead 17..24");
    check(&season, 18, "callus-check", "open 17..24 heat");
}

#[test]
fn a_gap_of_two_days_is_filled_and_counts() {
    let season = maple().weather("5x20 2x? 40x20");
    season.on(15, |care| {
        assert_eq!(care.heat(), Some(DegreeDays(210.0)));
        assert!((care.filled_share - 2.0 / 14.0).abs() < 1e-9);
    });
    check(&season, 15, "callus-check", "open 14..21 heat");
}

#[test]
fn a_batch_whose_heat_is_mostly_filled_is_not_called_late() {
    let season = |pattern: &str| maple().weather(&pattern.repeat(20));
    check(&season("1x20 2x? "), 25, "callus-check", "open 14..21 heat");
    // A fifth of the heat is filled.
    check(&season("4x20 1x? "), 25, "callus-check", "late 14..21 heat");
}

#[test]
fn a_corrected_day_closes_what_it_had_opened() {
    check(&maple(), 15, "callus-check", "open 14..21 heat");
    let corrected = maple().weather("14x20 1x15 40x20");
    check(&corrected, 15, "callus-check", "ahead 15..22");
}

#[test]
fn the_day_of_grafting_gives_no_heat() {
    let season = maple().weather("1x30 40x20");
    season.on(1, |care| assert_eq!(care.heat(), Some(DegreeDays(0.0))));
    season.on(3, |care| assert_eq!(care.heat(), Some(DegreeDays(30.0))));
}

#[test]
fn nothing_is_known_where_no_temperature_ever_came() {
    let season = maple().weather("");
    check(&season, 20, "callus-check", "ahead -..-");
    check(&season, 36, "callus-check", "open 35..- calendar");
    check(&season, 5, "head-back", "ahead -..-");
    check(
        &season.records("5 lines"),
        5,
        "head-back",
        "open 5..- record",
    );
}

/// Whether the first spell of heat touches the batch in a round on day `n`.
#[track_caller]
fn check_touched(season: &Season, n: i64, expected: bool) {
    let ground = season.ground(season.day(n));
    let (cares, _) = season.cares(&ground);
    let spell = &spells(&ground)[0];
    assert_eq!(touches(spell, &cares[0]), expected);
}

#[test]
fn a_spell_touches_unions_from_the_callus_check_until_the_tape_is_off() {
    // 34 °C on days 12 and 13 gives 25 °C·d each, so the check opens at the end of day 13: 11 x 15 + 2 x 25 = 215.
    let early = |from: &str| maple().weather(&format!("{from}x20 2x34 60x20"));
    check_touched(&early("11"), 10, false);
    check_touched(&early("12"), 11, true);
    check_touched(&early("16"), 17, true);
    check_touched(&early("24").records("23 tape-off"), 24, false);
    check_touched(&early("24").records("23 tape-off 40"), 24, true);
    check_touched(&early("24").records("23 closed"), 24, false);
}

#[test]
fn a_cold_week_that_is_over_but_only_foretold_opens_nothing() {
    // 1 July + 62 days = 1 September. Mean of 20 x 2 and 5 x 5 is 9.3, of 20 and 5 x 6 is 7.1, of 5 x 7 is 5: the
    // week that ends on day 68 is below 7 °C, but days 66 to 69 are only foretold.
    let season = maple().weather("62x20 4x5 4x5f 20x5");
    check(&season, 70, "autumn-look", "ahead 70..100");
    check(&season, 71, "autumn-look", "open 70..100 heat");
}
