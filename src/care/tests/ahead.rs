//! When windows will open and close. At 20 °C every year and every day a day is one standard day: what is certain has one
//! date, and lines show when a batch of 17.15 standard days, a tenth sooner than 14.004 and later than 21.003, shows them.

use super::season::{Season, maple};
use crate::care::{Foreseen, Outlook};
use crate::days::PastYears;
use crate::nursery::Vigour;
use chrono::{Datelike, NaiveDate};

/// The years before 2026, each of one temperature all through, the last year last.
fn years(means: &[f64]) -> PastYears {
    let mut past = PastYears::default();
    for (year, &mean) in (2026 - means.len() as i32..).zip(means) {
        let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
        for day in first.iter_days().take_while(|day| day.year() == year) {
            past.add(year, day, mean, mean);
        }
    }
    past
}

/// Nothing is foretold.
fn season() -> Season {
    maple().without_forecast()
}

#[derive(Clone, Copy)]
enum What {
    Opens(&'static str),
    Closes(&'static str),
    Limit,
    Lines,
}
use What::{Closes, Limit, Lines, Opens};

/// "15 18 22": the first batch in a round on day `n`, by days since grafting; "-" beyond what is looked at.
fn when(season: &Season, n: i64, past: &PastYears, what: What) -> String {
    let grounds = [season.ground(season.day(n))];
    let (cares, _) = season.cares(&grounds[0]);
    let past = std::slice::from_ref(past);
    let outlook = Outlook::new(&grounds, past, &cares);
    let care = &cares[0];
    let found = match what {
        Opens(id) => outlook.of(care, care.step(id).unwrap()),
        Closes(id) => outlook.closes(care, care.step(id).unwrap()),
        Limit => outlook.limit(care),
        Lines => outlook.lines(care),
    };
    let Some(Foreseen { band, rough }) = found else {
        return "none".into();
    };
    let day = |date: Option<NaiveDate>| {
        date.map_or_else(
            || "-".into(),
            |d| (d - season.day(0)).num_days().to_string(),
        )
    };
    let rough = if rough { " rough" } else { "" };
    format!(
        "{} {} {}{rough}",
        day(band.p10),
        day(band.p50),
        day(band.p90)
    )
}

#[track_caller]
fn check(season: &Season, n: i64, what: What, expected: &str) {
    assert_eq!(when(season, n, &years(&[20.0; 5]), what), expected);
}

#[test]
fn the_trades_windows_are_certain_but_for_the_weather() {
    check(&season(), 5, Opens("callus-check"), "14 14 14");
    check(&season(), 5, Closes("callus-check"), "21 21 21");
    check(&season(), 5, Opens("tape-off"), "21 21 21");
    check(&season(), 5, Closes("tape-off"), "28 28 28");
    check(&season(), 5, Limit, "24 24 24");
    check(
        &season().but(|s| s.batches[0].vigour = Vigour::Strong),
        5,
        Limit,
        "21 21 21",
    );
    check(&season(), 5, Opens("re-graft"), "24 24 24");
}

#[test]
fn lines_show_when_they_do_and_heading_back_waits_for_them() {
    check(&season(), 5, Lines, "15 18 22");
    // No sooner than the first look, no later than by warmth on day 18.
    check(&season(), 5, Opens("head-back"), "15 18 18");
    check(&season(), 5, Closes("head-back"), "21 21 21");
    // What a look has ruled out does not come again: of fifteen amounts six are left, from 18.1 to 22.9.
    check(&season().records("18 no-lines"), 19, Lines, "19 20 23");
    check(
        &season().records("18 no-lines"),
        19,
        Closes("head-back"),
        "25 25 25",
    );
    check(&season().records("18 no-lines"), 19, Limit, "28 28 28");
    check(&season().records("15 lines"), 16, Lines, "none");
    check(&season().records("30 no-lines"), 31, Lines, "31 31 31");
}

#[test]
fn what_is_open_closed_or_done_has_no_date_to_come() {
    check(&season(), 16, Opens("callus-check"), "none");
    check(&season(), 16, Closes("callus-check"), "21 21 21");
    check(&season(), 22, Closes("callus-check"), "none");
    check(&season(), 25, Limit, "none");
    let done = season().records("15 lines, 16 headed-back");
    check(&done, 17, Closes("head-back"), "none");
    check(&done, 17, Limit, "none");
    check(
        &season().records("5 closed"),
        6,
        Opens("callus-check"),
        "none",
    );
}

#[test]
fn what_waits_for_work_goes_on_from_when_it_will_be_due() {
    // Five days after heading back, which is due on days 15 to 18.
    check(&season(), 5, Opens("look-again"), "20 23 23");
    // It is open: taken to be done today.
    check(
        &season().records("16 lines"),
        16,
        Opens("look-again"),
        "21 21 21",
    );
    check(
        &season().records("15 lines, 16 headed-back"),
        17,
        Opens("look-again"),
        "21 21 21",
    );
    // The tape comes off on day 21, ties are checked 28 days later.
    check(&season(), 5, Opens("ties-and-suckers"), "49 49 49");
    let glass = Season::new("side-veneer under glass", "2026-07-01")
        .weather("10x18")
        .without_forecast();
    let eighteen = years(&[18.0; 5]);
    // Head back on day 42, again 21 days later, until 35 days later.
    assert_eq!(
        when(&glass, 5, &eighteen, Opens("head-back-again")),
        "63 63 63"
    );
    assert_eq!(
        when(&glass, 5, &eighteen, Closes("head-back-again")),
        "77 77 77"
    );
    // 63 + 10, within 14 days.
    assert_eq!(when(&glass, 5, &eighteen, Opens("move-out")), "73 73 73");
    assert_eq!(when(&glass, 5, &eighteen, Closes("move-out")), "87 87 87");
}

#[test]
fn steps_by_the_calendar_have_their_date() {
    // 1 July 2026 and twelve months, then 1 November: 488 days. It closes on 31 December, 60 days later.
    check(&season(), 5, Opens("stump"), "488 488 488");
    check(&season(), 5, Closes("stump"), "548 548 548");
    check(&season(), 5, Opens("dock"), "none");
    check(&season(), 5, Opens("autumn-look"), "none");
    check(&season().records("5 dead 3"), 6, Opens("re-graft"), "none");
}

#[test]
fn nobody_looks_before_the_least_day_or_waits_beyond_the_last() {
    let cold = maple().weather("6x8").without_forecast();
    let eight = years(&[8.0; 5]);
    // 3 °C·d a day: 210 on day 70, but by the calendar on day 35; 315 on day 105.
    assert_eq!(when(&cold, 5, &eight, Opens("callus-check")), "35 35 35");
    assert_eq!(
        when(&cold, 5, &eight, Closes("callus-check")),
        "105 105 105"
    );
    assert_eq!(when(&cold, 5, &eight, Closes("tape-off")), "140 140 140");
    // Five days for each standard day: 14.004, 17.15 and 21.003.
    assert_eq!(when(&cold, 5, &eight, Lines), "71 86 106");
}

#[test]
fn few_years_and_filled_days_make_a_date_less_sure() {
    // Of 210 °C·d 150 are to come after day 4. sd = 0.1 · 150/210 / √n: 0.0714 with one year, 0.0357 with four; the
    // tenth amounts are 14 · exp(∓1.28155 sd): 12.78 and 15.34, 13.37 and 14.66.
    let band = |n: usize| when(&season(), 5, &years(&vec![20.0; n]), Opens("callus-check"));
    assert_eq!(band(1), "13 14 16");
    assert_eq!(band(4), "14 14 15");
    assert_eq!(band(5), "14 14 14");
    // None at all: sd 0.0714 too, and called rough.
    assert_eq!(band(0), "13 14 16 rough");
    // Days 3, 4 and 6 to 7 are filled: 4 of 14. sd = 0.15 · 4/14 = 0.0429: 13.25 and 14.79.
    let filled = maple().weather("3x20 2x? 1x20 2x? 2x20").without_forecast();
    assert_eq!(
        when(&filled, 10, &years(&[20.0; 5]), Opens("callus-check")),
        "14 14 15"
    );
}

#[test]
fn years_that_differ_widen_by_themselves() {
    // 17 to 22 °C: 12 to 17 °C·d a day; 150 more take 13, 12, 11, 10, 10 and 9 days after day 4.
    let warming = years(&[17.0, 18.0, 19.0, 20.0, 21.0, 22.0]);
    let found = when(&season(), 5, &warming, Opens("callus-check"));
    assert_eq!(found, "13 14 17");
}

#[test]
fn nothing_known_has_no_date() {
    let blank = maple().weather("");
    for what in [Opens("callus-check"), Closes("callus-check"), Limit, Lines] {
        assert_eq!(when(&blank, 5, &PastYears::default(), what), "none");
    }
}
