//! The risk of over-callusing: when it is told, told again and asked about.

use super::*;

#[test]
fn after_fourteen_days_the_question_is_not_asked_any_more() {
    let played = Played::default().rounds(&maple(), 1..60);
    let asked: Vec<&String> = played
        .lines
        .iter()
        .filter(|l| l.contains("over-callus-risk"))
        .collect();
    assert_eq!(asked.len(), 15);
    assert_eq!(asked[14], "38: over-callus-risk over-callusing 24 n15");
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

#[test]
fn heading_back_ends_the_asking() {
    Played::default()
        .rounds(&maple().records("27 headed-back"), 20..40)
        .check_of(
            "over-callus-risk",
            &[
                "21: over-callus-risk over-callusing 24 urgent",
                "25: over-callus-risk over-callusing 24 n2",
                "26: over-callus-risk over-callusing 24 n3",
            ],
        );
}
