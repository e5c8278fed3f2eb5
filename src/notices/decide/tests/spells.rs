//! Spells of heat: one notice for each spell and level.

use super::*;

/// Three days are foreseen; the tape is on and the stock headed back.
fn hot(weather: &str) -> Season {
    maple()
        .records("15 lines, 16 headed-back, 20 looked, 24 looked, 28 looked")
        .weather(weather)
        .but(|s| s.horizon = 3)
}

#[track_caller]
fn check_spikes(weather: &str, expected: &[&str]) {
    Played::default()
        .rounds(&hot(weather), 17..40)
        .check_of("heat-spike", expected);
}

#[test]
fn a_spell_is_told_once_when_it_is_foreseen() {
    check_spikes("20x20 4x33 40x20", &["19: heat-spike hot 21"]);
    check_spikes("20x20 1x33 40x20", &[]);
}

#[test]
fn two_spells_are_told_each_and_one_with_a_day_between_is_another() {
    check_spikes(
        "20x20 2x33 1x31 2x33 40x20",
        &["19: heat-spike hot 21", "22: heat-spike hot 24"],
    );
}

#[test]
fn a_spell_that_grows_hotter_is_told_for_each_level() {
    check_spikes(
        "20x20 2x33 2x36 1x39 40x20",
        &[
            "19: heat-spike hot 21",
            "20: heat-spike very hot 22",
            "22: heat-spike injury 24",
        ],
    );
    check_spikes("20x20 2x36 2x33 40x20", &["19: heat-spike very hot 21"]);
}

#[test]
fn a_single_day_of_injury_is_told() {
    check_spikes("20x20 1x38 40x20", &["18: heat-spike injury 20"]);
}

#[test]
fn a_spell_stays_the_same_when_its_first_day_turns_out_cooler() {
    let foreseen = hot("20x20 2x33 40x20");
    let turned_out = hot("20x20 1x31 3x33 40x20");
    Played::default()
        .rounds(&foreseen, 19..20)
        .rounds(&turned_out, 20..30)
        .check_of("heat-spike", &["19: heat-spike hot 21"]);
}

#[test]
fn a_spell_that_touches_no_batch_is_not_told() {
    let season = hot("20x20 2x33 40x20").records("18 tape-off");
    Played::default()
        .rounds(&season, 18..30)
        .check_of("heat-spike", &[]);
}
