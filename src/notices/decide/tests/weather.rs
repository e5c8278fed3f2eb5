//! Wind, frost and rain: told once for each bout, taken back where a later forecast does without.

use super::*;

/// What is told of wind, frost and rain.
#[track_caller]
fn check_weather(rounds: &[(&Season, Range<i64>)], expected: &[&str]) {
    let mut played = Played::default();
    for (season, days) in rounds {
        played = played.rounds(season, days.clone());
    }
    let kinds = ["wind", "frost", "rain"];
    played
        .lines
        .retain(|l| kinds.iter().any(|kind| l.contains(kind)));
    played.check(expected);
}

fn headed_back(weather: &str) -> Season {
    maple()
        .weather(weather)
        .records("15 lines, 16 headed-back, 20 looked, 24 looked, 28 looked")
}

#[test]
fn wind_is_told_once_for_each_blow_on_days_off_too() {
    let windy = headed_back("20x20 2x20g70 2x20 1x20g80 60x20");
    check_weather(
        &[(&windy, 15..30)],
        &["17: wind 20 urgent", "21: wind 24 urgent"],
    );
    let at_the_weekend = on_weekdays()
        .weather("18x20 1x20g70 60x20")
        .records("15 lines, 16 headed-back");
    check_weather(&[(&at_the_weekend, 10..30)], &["15: wind 18 urgent"]);
}

#[test]
fn a_blow_that_grows_longer_or_stronger_is_the_same() {
    let (short, long) = (
        headed_back("20x20 1x20g70 60x20"),
        headed_back("19x20 3x20g90 60x20"),
    );
    check_weather(
        &[(&short, 17..18), (&long, 18..30)],
        &["17: wind 20 urgent"],
    );
}

#[test]
fn wind_that_the_forecast_takes_away_is_taken_back_and_may_come_again() {
    let (windy, calm) = (
        headed_back("20x20g20 1x20g70 60x20g20"),
        headed_back("80x20g20"),
    );
    check_weather(
        &[(&windy, 17..18), (&calm, 18..19), (&windy, 19..30)],
        &[
            "17: wind 20 urgent",
            "18: risk-over wind 20",
            "19: wind 20 n2 urgent",
        ],
    );
    // Nothing is said of gusts any more: nothing is known.
    let silent = headed_back("80x20");
    check_weather(
        &[(&windy, 17..18), (&silent, 18..30)],
        &["17: wind 20 urgent"],
    );
    // Who has tied the scions in does not need to know.
    let tied = calm.records("18 tape-off, 18 tied-in");
    check_weather(
        &[(&windy, 17..18), (&tied, 18..30)],
        &["17: wind 20 urgent"],
    );
}

#[test]
fn frost_is_told_on_working_days_and_again_only_when_it_is_harder() {
    // Day 59 is Monday 31 August 2026.
    let near = |night: &str| {
        on_weekdays()
            .weather(&format!("62x12 1x{night}/12 3x12 1x-1/12 60x12"))
            .records("15 closed")
            .but(|s| {
                let mut batch = s.batches[0].clone();
                batch.name = "C-15".into();
                batch.grafted_on = s.day(40);
                s.batches.push(batch);
            })
    };
    check_weather(&[(&near("-1"), 55..80)], &["59: frost 62"]);
    check_weather(&[(&near("-2"), 55..80)], &["59: frost hard 62"]);
    check_weather(
        &[(&near("-1"), 55..60), (&near("-3"), 60..80)],
        &["59: frost 62", "60: frost hard 62"],
    );
    check_weather(
        &[(&near("-1"), 55..60), (&near("4"), 60..63)],
        &["59: frost 62", "60: risk-over frost 62"],
    );
}

#[test]
fn rain_on_new_grafts_is_told_on_the_next_working_day() {
    // Day 1 is a Saturday.
    let wet = on_weekdays().weather("1x20 1x20r14 60x20");
    check_weather(&[(&wet, 1..20)], &["3: rain 1"]);
    let foretold = on_weekdays().weather("5x20r0 1x20r14 1x20r2 1x20r11 60x20r0");
    check_weather(&[(&foretold, 1..20)], &["4: rain 5"]);
    let dry = on_weekdays().weather("60x20r0");
    check_weather(
        &[(&foretold, 4..5), (&dry, 5..20)],
        &["4: rain 5", "5: risk-over rain 5"],
    );
}
