//! A grower whose only source is a logger: risks of over-callusing are told before they are there, by the years before, and
//! not much more often than where the next seven days are foretold.
//!
//! Real temperatures of a warm site and a cool one; twelve batches a season that nobody looks after.

use crate::heat_letters::{Season, cool, warm};
use chrono::{DateTime, Datelike, NaiveDate, Weekday};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// What was told of the limit of one batch.
#[derive(Debug, Default)]
struct Batch {
    /// The dates of urgent risks.
    told: Vec<NaiveDate>,
    /// How often one was taken back.
    taken_back: usize,
}

fn of_limits(told: &[Value]) -> BTreeMap<String, Batch> {
    let mut batches: BTreeMap<String, Batch> = BTreeMap::new();
    for notice in told {
        let text = |key: &str| notice[key].as_str().unwrap();
        let kind = text("kind");
        if !["over-callus-risk", "risk-over"].contains(&kind) || notice["batch"].is_null() {
            continue;
        }
        let batch = batches.entry(text("batch").to_owned()).or_default();
        let round = DateTime::parse_from_rfc3339(text("round_at")).unwrap();
        match kind {
            "risk-over" => batch.taken_back += 1,
            _ => batch.told.push(round.date_naive()),
        }
    }
    batches
}

fn last_calls(told: &[Value]) -> usize {
    told.iter().filter(|n| n["kind"] == "last-call").count()
}

fn letters(told: &[Value]) -> usize {
    let letters = told.iter().flat_map(|n| n["letter"].as_array().unwrap());
    letters
        .map(|id| id.as_str().unwrap())
        .collect::<BTreeSet<_>>()
        .len()
}

fn works(day: NaiveDate) -> bool {
    !matches!(day.weekday(), Weekday::Sat | Weekday::Sun)
}

/// Whether somebody can act between the telling and the limit: on a working day, the morning of the telling included.
fn in_time(told: NaiveDate, reached: NaiveDate) -> bool {
    told.iter_days().take_while(|day| *day < reached).any(works)
}

fn check(season: &Season) {
    let (logger, foretold) = (season.told(false, false), season.told(false, true));
    let (blind, seeing) = (of_limits(&logger), of_limits(&foretold));
    assert_eq!(
        blind.keys().collect::<Vec<_>>(),
        seeing.keys().collect::<Vec<_>>()
    );
    let count = |batches: &BTreeMap<String, Batch>| {
        let told: usize = batches.values().map(|b| b.told.len()).sum();
        let back: usize = batches.values().map(|b| b.taken_back).sum();
        (told, back)
    };
    let reached = season.limits();
    let days_before: Vec<i64> = blind
        .iter()
        .map(|(name, b)| (reached[name] - b.told[0]).num_days())
        .collect();
    let in_all = [&logger, &foretold].map(|told| letters(told));
    let calls = [&logger, &foretold].map(|told| last_calls(told));
    println!(
        "{:5} {} letters {in_all:?}, last calls {calls:?}, risks told and taken back {:?} {:?}, days before {days_before:?}",
        season.site,
        season.year,
        count(&blind),
        count(&seeing)
    );
    assert_eq!(blind.len(), 12, "each batch comes to its limit");
    for (name, batch) in &blind {
        assert!(
            in_time(batch.told[0], reached[name]),
            "{} {name}: {batch:?}",
            season.year
        );
        assert!(
            batch.told.len() <= 2 && batch.taken_back <= 1,
            "{} {name}: {batch:?}",
            season.year
        );
    }
    let (told, back) = count(&blind);
    let (told_seeing, _) = count(&seeing);
    assert!(
        told <= told_seeing + 3 && back <= 1,
        "{}: {told} and {back}",
        season.year
    );
    // Beside the weekly run of letters, a few come on a day of their own.
    assert!(
        in_all[0] <= in_all[1] + in_all[1] / 5,
        "{}: {in_all:?}",
        season.year
    );
}

#[test]
fn with_a_logger_only_the_risk_is_told_while_somebody_can_act() {
    check(&warm(2013));
    check(&cool(2015));
}
