//! The last safe day for grafting: once a season, two weeks ahead.

use super::{Played, Season, maple};
use crate::care::tests::last_graft::mild;
use crate::care::tests::season::weekdays;

/// The last safe day is Thursday 27 August 2026, day 57: two weeks before it is day 43, a Thursday.
fn season() -> Season {
    maple().but(|s| s.past = mild())
}

#[track_caller]
fn check(season: &Season, days: std::ops::Range<i64>, expected: &[&str]) {
    Played::default()
        .rounds(season, days)
        .check_of("last-graft-date", expected);
}

#[test]
fn it_is_told_once_two_weeks_ahead() {
    check(&season(), 1..120, &["43: last-graft-date 43"]);
}

#[test]
fn it_waits_for_a_working_day_and_is_told_late_rather_than_not() {
    // Day 45 is a Saturday, day 47 a Monday.
    let on_weekdays = season().but(|s| s.workdays = weekdays());
    check(&on_weekdays, 45..120, &["47: last-graft-date 47"]);
    check(&season(), 57..120, &["57: last-graft-date 57"]);
    check(&season(), 58..120, &[]);
}

#[test]
fn it_is_told_again_the_next_year_where_the_plan_runs_again() {
    // The batch of the second year is grafted on 1 July 2027, day 365; 13 August 2027 is day 408.
    let again = season().weather("500x20").but(|s| {
        let mut other = s.batches[0].clone();
        other.name = "C-15".into();
        other.grafted_on = s.day(365);
        s.batches.push(other);
    });
    let mut played = Played::default().rounds(&again, 40..50);
    played = played.rounds(&again, 400..412);
    played.check_of(
        "last-graft-date",
        &["43: last-graft-date 43", "408: last-graft-date 408"],
    );
}

#[test]
fn it_is_not_told_where_nothing_runs_or_nothing_is_known() {
    check(&season().records("40 closed"), 1..120, &[]);
    check(&maple(), 1..120, &[]);
    let next_year = season().weather("500x20");
    check(&next_year, 380..430, &[]);
}
