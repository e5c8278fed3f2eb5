//! Letters of windows that are not open after all: what closed them.

use super::*;
use crate::care::tests::season::maple;

/// The paragraphs of the letter on day `n`, without its places and small print.
fn said(told: &Season, season: &Season, n: i64) -> String {
    let letter = letter_after(told, season, n, Kind::NoLongerDue);
    let (_, body) = letter.split_once("NO LONGER DUE").unwrap();
    let (body, _) = body.split_once("\n-- \n").unwrap();
    body.split_once("\n\n").unwrap().1.trim().replace('\n', " ")
}

fn by_jory(season: Season) -> Season {
    season.but(|s| s.records.last_mut().unwrap().by = "Jory".into())
}

#[test]
fn a_record_that_holds_it_back_is_named_with_who_wrote_it() {
    // Opened by warmth on day 18; no lines on day 17 hold it back to the end of day 20.
    let held = by_jory(maple().records("17 no-lines"));
    insta::assert_snapshot!(said(&maple(), &held, 20), @"C-14: no-lines was written down for Sat 18 Jul (Jory). By what is known now it comes tomorrow, with the warmth of today.  The risk of over-callusing of C-14 stands, by Tue 28 Jul: Jory, who looked last, or whoever is at hand looks again by Tue 21 Jul, and heads back what shows lines on both sides.");
    let unsigned = maple().records("17 lines 0/10");
    insta::assert_snapshot!(said(&maple(), &unsigned, 20), @"C-14: no-lines was written down for Sat 18 Jul. By what is known now it comes tomorrow, with the warmth of today.  The risk of over-callusing of C-14 stands, by Tue 28 Jul: whoever is at hand looks again by Tue 21 Jul, and heads back what shows lines on both sides.");
}

#[test]
fn a_record_that_was_taken_back_is_named_with_who_did() {
    let seen = maple().records("16 lines");
    let back = by_jory(seen.clone().records("17 retract lines"));
    insta::assert_snapshot!(said(&seen, &back, 17), @"C-14: lines was taken back on Sat 18 Jul (Jory). By what is known now it comes about Sun 19 Jul.  The risk of over-callusing of C-14 stands, by Sat 25 Jul: whoever is at hand looks again by Fri 24 Jul, and heads back what shows lines on both sides.");
}

#[test]
fn another_day_of_grafting_is_the_registers() {
    let later = maple().but(|s| s.batches[0].grafted_on = s.day(5));
    insta::assert_snapshot!(said(&maple(), &later, 16), @"C-14: the register now says that it was grafted on Mon 6 Jul. By what is known now it comes about Mon 20 Jul.");
}

#[test]
fn colder_days_are_the_temperatures() {
    let colder = maple().weather("12x20 3x5 40x20");
    insta::assert_snapshot!(said(&maple(), &colder, 16), @"C-14: the temperatures have been corrected since, and it was not warm enough by Wed 15 Jul. By what is known now it comes about Sat 18 Jul.");
}

#[test]
fn the_risk_that_stands_is_said_with_who_looks_next() {
    // No lines on day 20, told as open on day 19: the limit comes ten standard days later, and the plan looks on day 23.
    let held = by_jory(maple().records("20 no-lines"));
    insta::assert_snapshot!(said(&maple(), &held, 21), @"C-14: no-lines was written down for Tue 21 Jul (Jory). By what is known now it comes about Fri 24 Jul.  The risk of over-callusing of C-14 stands, by Fri 31 Jul: Jory, who looked last, or whoever is at hand looks again by Fri 24 Jul, and heads back what shows lines on both sides.");
    // Lines are taken back, nobody looked: the limit is that of the worst case.
    let seen = maple().records("16 lines");
    let back = seen.clone().records("17 retract lines");
    insta::assert_snapshot!(said(&seen, &back, 17), @"C-14: lines was taken back on Sat 18 Jul. By what is known now it comes about Sun 19 Jul.  The risk of over-callusing of C-14 stands, by Sat 25 Jul: whoever is at hand looks again by Fri 24 Jul, and heads back what shows lines on both sides.");
}
