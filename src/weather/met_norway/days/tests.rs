//! Which steps make a day, in which zones, and which do not.

use super::*;
use chrono_tz::{America, Asia, Australia, Etc, Europe, Pacific};

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn moment(text: &str) -> DateTime<Utc> {
    format!("{text}:00:00Z").parse().unwrap()
}

/// A step at `2026-07-02T06` of which only the temperature is known.
fn step(at: &str, temperature: f64) -> Step {
    Step {
        at: moment(at),
        temperature: Some(temperature),
        extremes: None,
        gust: None,
        rain_1: None,
        rain_6: None,
    }
}

/// So many hours of 10 °C.
fn hours(from: &str, count: i64) -> Vec<Step> {
    let first = step(from, 10.0);
    let later = |n| Step {
        at: first.at + TimeDelta::hours(n),
        ..first
    };
    (0..count).map(later).collect()
}

/// Six hours after six hours, each with 10 °C at its beginning and these extremes.
fn blocks(from: &str, extremes: &[(f64, f64)]) -> Vec<Step> {
    let first = step(from, 10.0);
    let block = |(n, &both): (usize, &(f64, f64))| Step {
        at: first.at + SIX_HOURS * n as i32,
        extremes: Some(both),
        ..first
    };
    extremes.iter().enumerate().map(block).collect()
}

#[track_caller]
fn check(steps: &[Step], zone: Tz, expected: &[(&str, f64, f64)]) {
    let found: Vec<_> = gather(steps, zone)
        .days
        .iter()
        .map(|d| (d.date.to_string(), d.min, d.max))
        .collect();
    let expected: Vec<_> = expected
        .iter()
        .map(|(date, min, max)| ((*date).to_owned(), *min, *max))
        .collect();
    assert_eq!(found, expected);
}

#[track_caller]
fn gaps(steps: &[Step], zone: Tz, expected: &[&str]) {
    let expected: Vec<_> = expected.iter().map(|date| day(date)).collect();
    assert_eq!(gather(steps, zone).gaps, expected);
}

#[track_caller]
fn lasts(date: &str, zone: Tz, from: &str, hours: f64) {
    let span = Span::of(day(date), zone);
    let found = (span.to - span.from).num_minutes() as f64 / 60.0;
    assert_eq!((span.from, found), (from.parse().unwrap(), hours));
}

#[test]
fn dates_begin_and_end_by_the_clock_of_the_place() {
    lasts("2026-03-29", Europe::Berlin, "2026-03-28T23:00:00Z", 23.0);
    lasts("2026-10-25", Europe::Berlin, "2026-10-24T22:00:00Z", 25.0);
    lasts(
        "2026-10-04",
        Australia::Melbourne,
        "2026-10-03T14:00:00Z",
        23.0,
    );
    lasts(
        "2026-04-05",
        Australia::Melbourne,
        "2026-04-04T13:00:00Z",
        25.0,
    );
    lasts("2026-07-01", Asia::Kolkata, "2026-06-30T18:30:00Z", 24.0);
    // Its clock moves by half an hour.
    lasts(
        "2026-10-04",
        Australia::Lord_Howe,
        "2026-10-03T13:30:00Z",
        23.5,
    );
    // Midnight itself does not exist there on that day.
    lasts(
        "2026-09-06",
        America::Santiago,
        "2026-09-06T04:00:00Z",
        23.0,
    );
    // Samoa went over the date line and left this date out.
    lasts("2011-12-30", Pacific::Apia, "2011-12-30T10:00:00Z", 0.0);
}

#[test]
fn instants_and_whole_blocks_are_both_taken() {
    let mut steps = hours("2026-07-02T00", 24);
    steps[4].temperature = Some(3.0);
    steps[4].extremes = Some((4.0, 12.0));
    steps[18].extremes = Some((9.0, 21.0));
    check(&steps, Tz::UTC, &[("2026-07-02", 3.0, 21.0)]);
}

#[test]
fn blocks_that_midnight_cuts_are_not_needed_where_hours_are_known() {
    let mut steps = hours("2026-07-01T22", 27);
    // From 23:00 to 05:00 UTC, and from 19:00 to 01:00.
    steps[1].extremes = Some((-8.0, 40.0));
    steps[21].extremes = Some((-9.0, 41.0));
    check(&steps, Tz::UTC, &[("2026-07-02", 10.0, 10.0)]);
}

#[test]
fn of_the_blocks_that_midnight_cuts_the_one_that_is_cut_least_counts() {
    let mut steps = hours("2026-07-01T12", 36);
    // Nothing is known from midnight to 06:00 but what the sixes from 21:00, 22:00 and 23:00 say.
    for step in &mut steps[12..18] {
        step.temperature = None;
    }
    steps[9].extremes = Some((-9.0, 40.0));
    steps[10].extremes = Some((-8.0, 39.0));
    steps[11].extremes = Some((4.0, 12.0));
    check(&steps, Tz::UTC, &[("2026-07-02", 4.0, 12.0)]);
}

#[test]
fn tomorrows_dawn_is_not_todays() {
    // Seven hours behind, blocks begin at 23:00, 05:00, 11:00 and 17:00. The one from 23:00 on 2 July has the
    // dawn of the 3rd.
    let steps = blocks(
        "2026-07-02T06",
        &[
            (8.0, 12.0),
            (9.0, 20.0),
            (19.0, 26.0),
            (14.0, 24.0),
            (2.0, 11.0),
            (5.0, 15.0),
            (12.0, 17.0),
            (9.0, 16.0),
            (7.0, 9.0),
        ],
    );
    let expected = [("2026-07-02", 8.0, 26.0), ("2026-07-03", 2.0, 17.0)];
    check(&steps, America::Los_Angeles, &expected);
    gaps(&steps, America::Los_Angeles, &[]);
}

#[test]
fn a_block_cut_in_the_middle_counts_for_the_later_date() {
    // Three hours behind: from 21:00 to 03:00, 03:00 to 09:00 and so on.
    let steps = blocks(
        "2026-07-02T00",
        &[
            (6.0, 11.0),
            (5.0, 15.0),
            (13.0, 22.0),
            (12.0, 20.0),
            (1.0, 30.0),
        ],
    );
    check(&steps, Etc::GMTPlus3, &[("2026-07-02", 5.0, 22.0)]);
    // Three hours ahead: from 03:00 on, so that the date begins three hours before the document.
    check(&steps, Etc::GMTMinus3, &[]);
    gaps(&steps, Etc::GMTMinus3, &[]);
}

#[test]
fn weeks_in_which_clocks_change_are_cut_as_all_others() {
    // Berlin, 24 October 22:00 to 25 October 23:00 UTC: blocks from 00:00, 06:00 and 12:00 lie within; the one
    // from 18:00 has its middle there. The one before, with 1 °C and 29 °C, has not.
    let autumn = blocks(
        "2026-10-24T18",
        &[
            (1.0, 29.0),
            (6.0, 9.0),
            (7.0, 14.0),
            (11.0, 16.0),
            (3.0, 12.0),
            (0.0, 28.0),
        ],
    );
    check(&autumn, Europe::Berlin, &[("2026-10-25", 3.0, 16.0)]);
    // Melbourne, 3 October 14:00 to 4 October 13:00 UTC: blocks from 18:00, 00:00 and 06:00 lie within; the one
    // from 12:00 on the 3rd has its middle there, at 15:00, the next one has not.
    let spring = blocks(
        "2026-10-03T12",
        &[
            (8.0, 13.0),
            (4.0, 12.0),
            (9.0, 19.0),
            (10.0, 18.0),
            (0.0, 28.0),
        ],
    );
    check(&spring, Australia::Melbourne, &[("2026-10-04", 4.0, 19.0)]);
}

#[test]
fn half_hour_zones_have_days_too() {
    // The date begins at 18:30 UTC; its first full hour is 19:00.
    let mut steps = hours("2026-06-30T19", 24);
    steps[23].temperature = Some(17.0);
    check(&steps, Asia::Kolkata, &[("2026-07-01", 10.0, 17.0)]);
    check(&steps[1..], Asia::Kolkata, &[]);
    // Blocks from 23:30 to 05:30 belong to the later date.
    let steps = blocks(
        "2026-06-30T18",
        &[
            (6.0, 25.0),
            (24.0, 33.0),
            (30.0, 36.0),
            (26.0, 31.0),
            (11.0, 40.0),
        ],
    );
    check(&steps, Asia::Kolkata, &[("2026-07-01", 6.0, 36.0)]);
}

#[test]
fn the_date_on_which_a_document_begins_is_there_only_if_it_begins_with_it() {
    let two = |from| {
        let mut steps = hours(from, 24);
        steps.extend(hours("2026-07-03T00", 24));
        steps
    };
    let both = [("2026-07-02", 10.0, 10.0), ("2026-07-03", 10.0, 10.0)];
    check(&two("2026-07-02T00"), Tz::UTC, &both);
    let late = &two("2026-07-02T00")[1..];
    check(late, Tz::UTC, &both[1..]);
    gaps(late, Tz::UTC, &[]);
}

#[test]
fn three_unknown_hours_running_are_the_most() {
    let mut steps = hours("2026-07-02T00", 48);
    (steps[10].temperature, steps[11].temperature) = (None, None);
    let both = [("2026-07-02", 10.0, 10.0), ("2026-07-03", 10.0, 10.0)];
    check(&steps, Tz::UTC, &both);
    steps[12].temperature = None;
    check(&steps, Tz::UTC, &both[1..]);
    gaps(&steps, Tz::UTC, &["2026-07-02"]);
    // Left out altogether is no better than unknown.
    steps.drain(10..=12);
    gaps(&steps, Tz::UTC, &["2026-07-02"]);
    // Six hours from 8 o'clock on say what it was.
    steps[8].extremes = Some((9.0, 19.0));
    check(&steps, Tz::UTC, &[("2026-07-02", 9.0, 19.0), both[1]]);
}

#[test]
fn instants_six_hours_apart_make_no_day() {
    let mut steps = blocks("2026-07-02T00", &[(5.0, 20.0); 8]);
    steps[1].extremes = None;
    check(&steps, Tz::UTC, &[("2026-07-03", 5.0, 20.0)]);
    gaps(&steps, Tz::UTC, &["2026-07-02"]);
    for step in &mut steps {
        step.extremes = None;
    }
    check(&steps, Tz::UTC, &[]);
}

#[test]
fn what_the_end_of_the_document_cuts_is_no_day_and_no_gap() {
    let steps = blocks("2026-07-02T00", &[(5.0, 20.0); 7]);
    check(&steps, Tz::UTC, &[("2026-07-02", 5.0, 20.0)]);
    gaps(&steps, Tz::UTC, &[]);
    check(&[], Tz::UTC, &[]);
}

#[test]
fn rain_is_counted_once() {
    let mut steps = hours("2026-07-02T00", 12);
    for step in &mut steps {
        (step.rain_1, step.rain_6) = (Some(0.5), Some(3.0));
    }
    steps.extend(blocks("2026-07-02T12", &[(5.0, 20.0); 3]));
    steps[12].rain_6 = Some(1.25);
    steps[13].rain_6 = Some(0.25);
    steps[14].rain_6 = Some(7.0);
    let rain = |steps: &[Step], zone| gather(steps, zone).days[0].rain;
    // Twelve hours of 0.5, then 1.25 and 0.25.
    assert_eq!(rain(&steps, Tz::UTC), Some(7.5));
    // One hour is not known: the six from it on are, with the five others in them. 3 x 0.5 + 3 + 3 x 0.5 + 1.5.
    steps[3].rain_1 = None;
    assert_eq!(rain(&steps, Tz::UTC), Some(7.5));
    // Nothing is known of six hours: not dry.
    steps[13].rain_6 = None;
    assert_eq!(rain(&steps, Tz::UTC), None);
}

#[test]
fn gusts_are_told_only_of_dates_known_hour_by_hour() {
    let mut steps = hours("2026-07-02T00", 24);
    for step in &mut steps {
        step.gust = Some(20.0);
    }
    steps[15].gust = Some(61.5);
    steps.extend(blocks("2026-07-03T00", &[(5.0, 20.0); 4]));
    for step in &mut steps[24..] {
        step.gust = Some(30.0);
    }
    let gusts: Vec<_> = gather(&steps, Tz::UTC)
        .days
        .iter()
        .map(|d| d.gust)
        .collect();
    assert_eq!(gusts, [Some(61.5), None]);
}
