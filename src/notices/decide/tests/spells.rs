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

/// What is told of the heat as a spell is foretold, comes and goes.
#[track_caller]
fn check_heat(rounds: &[(&str, Range<i64>)], expected: &[&str]) {
    let mut played = Played::default();
    for (weather, days) in rounds {
        played = played.rounds(&hot(weather), days.clone());
    }
    let heat = ["heat-spike", "spell-over", "risk-over"];
    played
        .lines
        .retain(|l| heat.iter().any(|kind| l.contains(kind)));
    played.check(expected);
}

#[test]
fn a_spell_that_is_over_is_told_once() {
    check_heat(
        &[("20x20 4x33 40x20", 17..40)],
        &["19: heat-spike hot 21", "24: spell-over 23"],
    );
    // It goes on for longer than was foretold first.
    check_heat(
        &[("20x20 2x33 40x20", 17..20), ("20x20 5x33 40x20", 20..40)],
        &["19: heat-spike hot 21", "25: spell-over 24"],
    );
}

#[test]
fn a_spell_of_a_month_ends_too_and_an_old_one_is_let_be() {
    check_heat(
        &[("20x20 30x33 40x20", 17..60)],
        &["19: heat-spike hot 21", "50: spell-over 49"],
    );
    // Nobody was told for three weeks after it.
    check_heat(
        &[("20x20 2x33 40x20", 17..20), ("20x20 2x33 60x20", 42..50)],
        &["19: heat-spike hot 21"],
    );
}

#[test]
fn who_is_told_after_the_spell_is_not_told_that_it_is_over() {
    check_heat(&[("20x20 2x33 40x20", 22..30)], &["22: heat-spike hot 21"]);
}

#[test]
fn a_spell_is_not_over_while_the_day_after_is_unknown() {
    let blind = |weather: &str| hot(weather).but(|s| s.horizon = 0);
    let of = |weather: &str| {
        let mut played = Played::default().rounds(&blind(weather), 22..40);
        played.lines.retain(|l| l.contains("spell"));
        played
    };
    // Told in the round of day 22; day 23 is as hot, and day 24 is known on day 25.
    of("20x20 4x33 40x20").check(&["25: spell-over 23"]);
    of("20x20 4x33").check(&["27: spell-over 23"]);
}

#[test]
fn the_end_of_a_spell_waits_for_a_working_day() {
    // Grafted on a Friday; days 22 and 23 are a Saturday and a Sunday.
    let season = on_weekdays()
        .weather("20x20 2x33 40x20")
        .records("15 lines, 16 headed-back")
        .but(|s| s.horizon = 3);
    let mut played = Played::default().rounds(&season, 18..30);
    played.lines.retain(|l| l.contains("sp"));
    played.check(&["19: heat-spike hot 21", "24: spell-over 21"]);
}

#[test]
fn a_spell_that_the_forecast_takes_away_is_taken_back_and_may_come_again() {
    let (hot, cool) = ("20x20 2x33 40x20", "60x20");
    check_heat(
        &[(hot, 18..20), (cool, 20..21), (hot, 21..40)],
        &[
            "19: heat-spike hot 21",
            "20: risk-over heat-spike 20",
            "21: heat-spike hot 21 n2",
            "22: spell-over 21 n2",
        ],
    );
    check_heat(
        &[(hot, 18..20), (cool, 20..21), (hot, 21..22), (cool, 22..40)],
        &[
            "19: heat-spike hot 21",
            "20: risk-over heat-spike 20",
            "21: heat-spike hot 21 n2",
            "22: risk-over heat-spike 20 n2",
        ],
    );
}

#[test]
fn a_forecast_that_fails_takes_nothing_away() {
    // On day 19 the spell of days 20 and 21 is foretold; on day 20 nothing is known of the days to come.
    let mut played = Played::default()
        .rounds(&hot("20x20 2x33 40x20"), 18..20)
        .rounds(&hot("20x20"), 20..22);
    played.lines.retain(|l| l.contains("risk-over"));
    played.check(&[]);
}

#[test]
fn where_it_is_often_hotter_33_is_no_spell() {
    let season = hot("20x20 4x33 40x20").but(|s| {
        for year in 2023..=2025 {
            for date in crate::care::tests::season::date(&format!("{year}-07-15"))
                .iter_days()
                .take(48)
            {
                s.past.add(year, date, 20.0, 34.0);
            }
        }
    });
    Played::default()
        .rounds(&season, 17..40)
        .check_of("heat-spike", &[]);
}

#[test]
fn a_cold_stall_is_told_once_on_a_working_day() {
    let told = |season: &Season| {
        let mut played = Played::default().rounds(season, 1..40);
        played.lines.retain(|l| l.contains("cold"));
        played
    };
    told(&maple().weather("10x20 6x8 60x20")).check(&["13: cold-stall 12"]);
    told(&maple().weather("10x20 2x8 60x20")).check(&[]);
    told(&maple().weather("5x20 3x8 1x20 3x8 60x20"))
        .check(&["8: cold-stall 7", "12: cold-stall 11"]);
    // Grafted on a Friday; day 14 is a Friday, the third cold day; Saturday waits for Monday.
    told(&on_weekdays().weather("12x20 3x8 60x20")).check(&["17: cold-stall 14"]);
}

#[test]
fn a_stall_that_moves_no_window_is_not_told() {
    let mut played = Played::default().rounds(&maple().weather("22x20 6x8 60x20"), 20..40);
    played.lines.retain(|l| l.contains("cold"));
    played.check(&[]);
}
