//! The risk of over-callusing: when it is told, told again and taken back.

use super::*;

#[test]
fn a_limit_that_was_passed_is_not_told_again_and_again() {
    Played::default().rounds(&maple(), 1..60).check_of(
        "over-callus-risk",
        &["21: over-callus-risk over-callusing 24 urgent"],
    );
}

#[test]
fn a_risk_is_told_three_days_ahead() {
    Played::default().rounds(&on_weekdays(), 1..25).check_of(
        "over-callus-risk",
        // Day 24 is a Monday, and Friday the 21st is three days before it.
        &["21: over-callus-risk over-callusing 24 urgent"],
    );
}

/// From day 16 to day 30 nobody is there.
fn holidays() -> Season {
    maple().but(|s| {
        let week = [
            Weekday::Mon,
            Weekday::Tue,
            Weekday::Wed,
            Weekday::Thu,
            Weekday::Fri,
            Weekday::Sat,
            Weekday::Sun,
        ];
        s.workdays = Workdays::new(&week, vec![(s.day(16), s.day(30))]);
    })
}

#[test]
fn a_risk_is_told_when_no_working_day_is_left_before_it() {
    check(
        &holidays(),
        1..31,
        &[
            "15: over-callus-risk over-callusing 24 urgent",
            "15: opens callus-check 14",
        ],
    );
}

#[test]
fn a_risk_is_told_again_when_it_comes_two_days_nearer_on_days_off_too() {
    // 225 °C·d at the end of day 15. At 25 °C (20 a day) the 360 of the limit come on day 22; at 30 °C (25 a day) on
    // day 21, which is only one day nearer.
    Played::default()
        .rounds(&holidays(), 1..16)
        .rounds(&holidays().weather("16x20 40x25"), 16..18)
        .rounds(&holidays().weather("16x20 40x30"), 18..24)
        .check_of(
            "over-callus-risk",
            &[
                "15: over-callus-risk over-callusing 24 urgent",
                "16: over-callus-risk over-callusing 22 n2 urgent",
            ],
        );
}

#[test]
fn a_risk_that_moves_out_is_not_told_again() {
    Played::default()
        .rounds(&holidays(), 1..16)
        .rounds(&holidays().weather("16x20 40x15"), 16..20)
        .check_of(
            "over-callus-risk",
            &["15: over-callus-risk over-callusing 24 urgent"],
        );
}

#[test]
fn where_nobody_works_the_urgent_is_told_all_the_same() {
    let season = maple().but(|s| s.workdays = Workdays::new(&[], Vec::new()));
    check(
        &season,
        1..40,
        &["15: over-callus-risk over-callusing 24 urgent"],
    );
    let hot = season
        .records("15 headed-back")
        .weather("20x20 2x33 20x20")
        .but(|s| s.horizon = 3);
    check(&hot, 1..40, &["19: heat-spike hot 21"]);
}

#[track_caller]
fn check_risks(rounds: &[(&Season, Range<i64>)], expected: &[&str]) {
    let mut played = Played::default();
    for (season, days) in rounds {
        played = played.rounds(season, days.clone());
    }
    let risks = ["over-callus", "risk-over"];
    played
        .lines
        .retain(|l| risks.iter().any(|kind| l.contains(kind)));
    played.check(expected);
}

#[test]
fn a_risk_that_a_later_forecast_takes_away_is_taken_back_and_told_anew() {
    // 330 at the end of day 22. At 20 °C the 360 come on day 24; at 8 °C (3 a day) on day 32, at 12 °C (7) on day 27.
    let warm = on_weekdays();
    let cold = on_weekdays().weather("23x20 60x8");
    let cool = on_weekdays().weather("23x20 60x12");
    check_risks(
        &[
            (&warm, 20..23),
            (&cold, 23..25),
            (&cool, 25..26),
            (&warm, 26..27),
        ],
        &[
            "21: over-callus-risk over-callusing 24 urgent",
            // Day 23 is a Sunday.
            "24: risk-over over-callusing 24",
            "25: over-callus-risk over-callusing 27 n2 urgent",
        ],
    );
    // Headed back meanwhile, it needs no taking back.
    check_risks(
        &[
            (&warm, 20..23),
            (&cold.clone().records("22 headed-back"), 23..26),
        ],
        &["21: over-callus-risk over-callusing 24 urgent"],
    );
}

#[test]
fn one_day_more_takes_no_risk_away() {
    // At 17 °C a day brings 12: 330 + 36 on day 25, which still presses; and one day is no news.
    let warm = on_weekdays();
    let cooler = on_weekdays().weather("23x20 60x17");
    check_risks(
        &[(&warm, 20..23), (&cooler, 23..25)],
        &["21: over-callus-risk over-callusing 24 urgent"],
    );
}

#[test]
fn beyond_the_forecast_a_risk_is_gone_only_where_nothing_is_missing() {
    // Eight days are foretold. At 8 °C the limit lies beyond them: at the earliest on day 31.
    let warm = on_weekdays().but(|s| s.horizon = 8);
    let cold = |gap: &str| {
        on_weekdays()
            .weather(&format!("23x20 4x8 {gap} 60x8"))
            .but(|s| s.horizon = 8)
    };
    check_risks(
        &[(&warm, 20..23), (&cold("1x8"), 23..25)],
        &[
            "21: over-callus-risk over-callusing 24 urgent",
            "24: risk-over over-callusing 24",
        ],
    );
    check_risks(
        &[(&warm, 20..23), (&cold("3x?"), 23..25)],
        &["21: over-callus-risk over-callusing 24 urgent"],
    );
    // A forecast that fails takes nothing away.
    let blind = on_weekdays().but(|s| s.horizon = 0);
    check_risks(
        &[(&warm, 20..23), (&blind, 23..24)],
        &["21: over-callus-risk over-callusing 24 urgent"],
    );
}

#[test]
fn without_a_forecast_a_risk_is_told_before_it_is_there() {
    // As warm as of late: 300 by Friday the 21st, and 60 more by Monday the 24th.
    let blind = on_weekdays().without_forecast();
    check_risks(
        &[(&blind, 1..26)],
        &["21: over-callus-risk over-callusing 24 urgent"],
    );
}

#[test]
fn by_the_years_before_the_hot_ones_count() {
    // One year in three brought 21 a day: 285 by Thursday the 20th, and 75 more in four days. It came at 15 a day.
    let blind = on_weekdays().without_forecast().but(|s| {
        for (year, mean) in [(2023, 14.0), (2024, 20.0), (2025, 26.0)] {
            let first = NaiveDate::from_ymd_opt(year, 7, 1).unwrap();
            for day in first.iter_days().take(200) {
                s.past.add(year, day, mean, mean);
            }
        }
    });
    check_risks(
        &[(&blind, 1..26)],
        &["20: over-callus-risk over-callusing 23 urgent"],
    );
}

#[test]
fn without_a_forecast_a_record_takes_a_risk_back() {
    // No lines on day 22: the limit comes ten standard days after it. Day 24 is a Monday.
    let blind = on_weekdays().without_forecast();
    check_risks(
        &[
            (&blind, 20..22),
            (&blind.clone().records("22 no-lines"), 22..32),
        ],
        &[
            "21: over-callus-risk over-callusing 24 urgent",
            "24: risk-over over-callusing 24",
            "29: over-callus-risk over-callusing 32 n2 urgent",
        ],
    );
}

#[test]
fn without_a_forecast_cold_days_take_nothing_back_while_it_presses() {
    // Told on day 21 of day 24; at 8 °C (3 a day) it is still to come on day 26, and is said no more.
    let blind = on_weekdays().without_forecast().weather("21x20 60x8");
    check_risks(
        &[(&blind, 20..28)],
        &["21: over-callus-risk over-callusing 24 urgent"],
    );
}

#[test]
fn over_callusing_that_was_seen_is_told_at_once_and_once() {
    let told = |records: &str, days| {
        let mut played = Played::default().rounds(&on_weekdays().records(records), days);
        played.lines.retain(|l| l.contains("over-callused"));
        played
    };
    // Day 15 is a Saturday; what was seen on day 5 is told although the first look is far off.
    told("15 over-callused", 10..30).check(&["15: over-callused over-callusing 15 urgent"]);
    told("5 over-callused", 5..30).check(&["5: over-callused over-callusing 5 urgent"]);
    told("15 over-callused, 18 over-callused", 10..30).check(&[
        "15: over-callused over-callusing 15 urgent",
        "18: over-callused over-callusing 18 urgent",
    ]);
    // All of it was done with it, or it was seen long ago.
    told("15 over-callused, 15 headed-back, 15 tape-eased", 10..30).check(&[]);
    told("15 over-callused, 15 headed-back", 10..30)
        .check(&["15: over-callused over-callusing 15 urgent"]);
    told("15 over-callused", 43..50).check(&["43: over-callused over-callusing 15 urgent"]);
    told("15 over-callused", 44..50).check(&[]);
    told("15 over-callused, 16 closed", 16..30).check(&[]);
}

#[test]
fn after_over_callusing_the_plan_looks_again() {
    let season = maple().records("15 lines, 16 headed-back, 22 over-callused, 22 tape-eased");
    let mut played = Played::default().rounds(&season, 22..27);
    played.lines.retain(|l| l.contains("look-again"));
    // Three standard days after day 22, at the end of day 25.
    played.check(&["26: opens look-again 25"]);
}
