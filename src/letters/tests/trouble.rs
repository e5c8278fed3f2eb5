//! Letters of what could not be read or fetched.

use super::*;
use crate::care::tests::season::maple;
use crate::problem::Problem;

#[test]
fn no_temperatures_any_more() {
    let season = maple().without_forecast().weather("11x20");
    insta::assert_snapshot!(letter(&season, 13, Kind::NoTemperatures), @r"
    No temperatures from home

    Alder Fold Nursery, Tuesday 14 July 2026

    NO TEMPERATURES FROM HOME

    None are known after Sat 11 Jul. Until they come, days are put in
    from their neighbours or from the years before where there are
    any; else windows open only by records and by the calendar. Look
    at the instrument, its file, or the line to the weather service;
    `graftwarden check --online` tries each.
    ");
}

#[test]
fn no_temperatures_at_all() {
    let season = maple().without_forecast().weather("");
    insta::assert_snapshot!(letter(&season, 1, Kind::NoTemperatures), @r"
    No temperatures from home

    Alder Fold Nursery, Thursday 2 July 2026

    NO TEMPERATURES FROM HOME

    None have come so far. Until they come, days are put in from their
    neighbours or from the years before where there are any; else
    windows open only by records and by the calendar. Look at the
    instrument, its file, or the line to the weather service;
    `graftwarden check --online` tries each.
    ");
}

fn trouble(problems: &[Problem]) -> String {
    let season = maple();
    let notices = news(&season, 3, &Ledger::default(), problems);
    let seasons = std::slice::from_ref(&season);
    Morning {
        seasons,
        n: 3,
        units: Units::Metric,
    }
    .write(&notices)
}

pub(super) fn rows() -> [Problem; 2] {
    [
        Problem::new(
            "batches.csv, row 7, column grafts",
            "'many' is not a number of grafts",
            "the last good version of this row stays in force",
            "write a whole number above 0",
        ),
        Problem::new(
            "records.csv",
            "the row of C-14 | 2026-07-18 | headed-back | 1 is not there any more",
            "what it said stays in force",
            "put it back, or write down what became of it: closed for a batch, retract for a record",
        ),
    ]
}

#[test]
fn one_thing_was_wrong() {
    insta::assert_snapshot!(trouble(&rows()[..1]), @r"
    Trouble: batches.csv, row 7, column grafts: 'many' is not a number of grafts

    Alder Fold Nursery, Saturday 4 July 2026

    TROUBLE

    batches.csv, row 7, column grafts: 'many' is not a number of
    grafts; the last good version of this row stays in force. Write a
    whole number above 0.
    ");
}

#[test]
fn two_things_were_wrong() {
    insta::assert_snapshot!(trouble(&rows()), @r"
    Trouble: batches.csv, row 7, column grafts: 'many' is not a number of grafts, and 1 more

    Alder Fold Nursery, Saturday 4 July 2026

    TROUBLE

    batches.csv, row 7, column grafts: 'many' is not a number of
    grafts; the last good version of this row stays in force. Write a
    whole number above 0.

    records.csv: the row of C-14 | 2026-07-18 | headed-back | 1 is not
    there any more; what it said stays in force. Put it back, or write
    down what became of it: closed for a batch, retract for a record.
    ");
}
