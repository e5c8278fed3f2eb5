//! Windows that were told of and are not open after all.

use super::*;

#[test]
fn a_window_that_was_corrected_away_is_no_longer_due_and_may_open_again() {
    // Nothing on days 12 to 14: 165 at the end of day 11, 210 at the end of day 17.
    let corrected = maple().weather("12x20 3x5 40x20");
    Played::default()
        .rounds(&maple(), 1..16)
        .rounds(&corrected, 16..20)
        .check(&[
            "15: opens callus-check 14",
            "16: cold-stall 14",
            "16: no-longer-due callus-check 14",
            "18: opens callus-check 17 n2",
        ]);
}

#[test]
fn a_window_may_be_withdrawn_twice() {
    let corrected = maple().weather("12x20 3x5 40x20");
    Played::default()
        .rounds(&maple(), 1..16)
        .rounds(&corrected, 16..17)
        .rounds(&maple(), 17..18)
        .rounds(&maple().weather("12x20 6x5 40x20"), 18..21)
        .check(&[
            "15: opens callus-check 14",
            "16: cold-stall 14",
            "16: no-longer-due callus-check 14",
            "17: opens callus-check 14 n2",
            "18: no-longer-due callus-check 14 n2",
        ]);
}

#[test]
fn lines_taken_back_withdraw_the_heading_back() {
    let seen = maple().records("16 lines");
    let taken_back = seen.clone().records("17 retract lines");
    Played::default()
        .rounds(&seen, 16..17)
        .rounds(&taken_back, 17..20)
        .check(&[
            "16: opens head-back 16",
            "17: opens callus-check 14",
            "17: no-longer-due head-back 16",
            "19: opens head-back 18 n2",
        ]);
}

fn grafted_later(days: i64) -> Season {
    maple().but(|s| s.batches[0].grafted_on = s.day(days))
}

#[test]
fn another_day_of_grafting_says_what_is_no_longer_due() {
    Played::default()
        .rounds(&maple(), 1..16)
        .rounds(&grafted_later(5), 16..22)
        .check(&[
            "15: opens callus-check 14",
            "16: no-longer-due callus-check 14",
            "20: opens callus-check 19",
        ]);
}

#[test]
fn what_is_due_by_the_new_day_of_grafting_too_is_not_called_no_longer_due() {
    Played::default()
        .rounds(&maple(), 1..18)
        .rounds(&grafted_later(2), 18..19)
        .check(&["15: opens callus-check 14", "18: opens callus-check 16"]);
}

#[test]
fn what_was_told_by_two_days_of_grafting_is_withdrawn_once() {
    Played::default()
        .rounds(&maple(), 1..18)
        .rounds(&grafted_later(2), 18..19)
        .rounds(&grafted_later(10), 19..20)
        .check_of("no-longer-due", &["19: no-longer-due callus-check 16"]);
}

#[test]
fn another_plan_says_what_is_no_longer_due_even_if_their_names_begin_alike() {
    let ours = |name: &str, days: f64| {
        maple().but(|s| {
            s.plan.name = name.into();
            s.batches[0].plan = name.into();
            let need = crate::nursery::Need::Standard(crate::units::StandardDays(days));
            s.plan.steps[0].opens.warmth = Some(need);
        })
    };
    Played::default()
        .rounds(&ours("maple field T-graft, ours", 14.0), 15..16)
        .rounds(&ours("maple field T-graft", 17.0), 16..19)
        .check(&[
            "15: opens callus-check 14",
            "16: no-longer-due callus-check 14",
            "18: opens callus-check 17",
        ]);
}

#[test]
fn what_was_told_as_late_only_is_withdrawn_too() {
    Played::default()
        .rounds(&maple(), 22..23)
        .rounds(&grafted_later(20), 23..24)
        .check_of(
            "no-longer-due",
            &[
                "23: no-longer-due tape-off 21",
                "23: no-longer-due callus-check 21",
                "23: no-longer-due head-back 21",
            ],
        );
}

#[test]
fn what_was_told_as_late_only_is_withdrawn_once() {
    let corrected = grafted_later(20);
    Played::default()
        .rounds(&maple(), 22..23)
        .rounds(&corrected, 23..24)
        .rounds(&maple(), 24..25)
        .rounds(&corrected, 25..37)
        .check_of(
            "no-longer-due",
            &[
                "23: no-longer-due tape-off 21",
                "23: no-longer-due callus-check 21",
                "23: no-longer-due head-back 21",
                "25: no-longer-due tape-off 21 n2",
            ],
        );
}
