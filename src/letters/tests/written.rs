//! What others wrote down since, as the end of a letter.

use super::*;
use crate::care::tests::season::maple;
use crate::letters::written_since;
use crate::nursery::Person;

/// What Jory is told of the records from the first on, told before of heading back and of the limit.
fn said(season: &Season, told: &[(&str, &str)]) -> String {
    let jory = Person::new("Jory Penhale", "jory@alderfold.example");
    let told: Vec<(String, String)> = told
        .iter()
        .map(|(batch, step)| ((*batch).to_owned(), (*step).to_owned()))
        .collect();
    let section = seen_by(season, 30, |context| {
        written_since(&jory, &told, context.records, context)
    });
    section.map_or_else(String::new, |section| section.paragraphs.join("\n"))
}

fn by(season: Season, names: &[&str]) -> Season {
    season.but(|s| {
        for (record, name) in s.records.iter_mut().zip(names) {
            record.by = (*name).into();
        }
    })
}

const HEAD_BACK: &[(&str, &str)] = &[("C-14", "head-back")];

#[test]
fn what_others_did_of_ones_work_is_one_line() {
    let done = maple().records("16 lines 8/10, 17 headed-back 60, 18 block:C headed-back");
    let done = by(done, &["Maren", "Maren", "Ilse Brandt"]);
    assert_eq!(
        said(&done, HEAD_BACK),
        "C-14 headed back 60 (Maren, Sat 18 Jul); block C headed back (Ilse Brandt, Sun 19 Jul)."
    );
    // What is told of the limit is told of the work that ends it.
    assert_eq!(
        said(&done, &[("C-14", "over-callusing")]),
        said(&done, HEAD_BACK)
    );
    let looked = said(&done, &[("C-14", "callus-check")]);
    assert_eq!(looked, "C-14 lines 8/10 (Maren, Fri 17 Jul).");
}

#[test]
fn what_one_wrote_oneself_what_nobody_signed_and_what_was_taken_back_is_left_out() {
    let own = maple().records("17 headed-back");
    assert_eq!(said(&by(own.clone(), &["jory"]), HEAD_BACK), "");
    assert_eq!(said(&by(own.clone(), &["Jory Penhale"]), HEAD_BACK), "");
    assert_eq!(said(&own, HEAD_BACK), "");
    let back = by(own.records("18 retract headed-back"), &["Maren", "Maren"]);
    assert_eq!(said(&back, HEAD_BACK), "");
    let other = by(maple().records("17 tape-eased"), &["Maren"]);
    assert_eq!(said(&other, HEAD_BACK), "");
    let done = by(maple().records("17 headed-back"), &["Maren"]);
    assert_eq!(said(&done, &[("C-15", "head-back")]), "");
}
