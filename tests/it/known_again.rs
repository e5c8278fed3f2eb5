//! Files that have not changed are known again and not read: every letter of a season is the same with it and without.

use crate::program::{Nursery, demo};
use chrono::{DateTime, NaiveDate, Utc};
use graftwarden::assemble::{House, Register};
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::round::{read_register, round};
use graftwarden::store::{Store, StoreError};
use std::sync::Arc;

/// What a season came to.
#[derive(Debug, PartialEq)]
struct Season {
    /// All letters, byte for byte.
    letters: Vec<String>,
    /// What was told in each round.
    told: Vec<Vec<String>>,
    /// Every batch and record at the end.
    held: String,
}

/// The invented season from 6 July to 12 September, as its files grew: the season, and how many files were known again.
fn season(known_again: bool) -> (Season, usize) {
    let nursery = Nursery::demo();
    let config = Config::load(&nursery.path("graftwarden.toml")).unwrap();
    let store = Store::in_memory().unwrap();
    let clock = Arc::new(ManualClock::at(DateTime::UNIX_EPOCH));
    let (house, problems) = House::live(config, clock.clone(), store);
    assert_eq!(problems, []);
    let secret = |memory: &graftwarden::store::Memory<'_>| memory.remember("secret", "the same");
    house.with_store(secret).unwrap();
    let mut runtime = tokio::runtime::Builder::new_current_thread();
    let runtime = runtime.enable_all().build().unwrap();
    let (mut told, mut known) = (Vec::new(), 0);
    let first: NaiveDate = "2026-07-06".parse().unwrap();
    for day in first.iter_days().take(69) {
        grow(&nursery, day);
        let at: DateTime<Utc> = format!("{day}T04:10:00Z").parse().unwrap();
        clock.set(at);
        if !known_again {
            let forget = |memory: &graftwarden::store::Memory<'_>| {
                for role in ["batches", "records", "what was confirmed"] {
                    memory.remember_reading(role, None)?;
                }
                Ok::<_, StoreError>(())
            };
            house.with_store(forget).unwrap();
        }
        known += files_known(&house, at);
        let outcome = runtime.block_on(round(&house)).unwrap();
        told.push(outcome.problems.iter().map(ToString::to_string).collect());
    }
    let held = house.with_store(|memory| {
        let (batches, records) = (memory.batches()?, memory.records()?);
        Ok::<_, StoreError>(format!("{batches:#?}\n{records:#?}"))
    });
    let here = nursery.path("").display().to_string();
    let told = told
        .into_iter()
        .map(|round: Vec<String>| round.iter().map(|p| p.replace(&here, "")).collect())
        .collect();
    let season = Season {
        letters: letters(&nursery),
        told,
        held: held.unwrap(),
    };
    (season, known)
}

/// The files as they were on that morning. For some days a row is bad, one is gone, one says something else.
fn grow(nursery: &Nursery, day: NaiveDate) {
    let today = day.to_string();
    let until = |name: &str, column: usize| -> String {
        let text = std::fs::read_to_string(demo().join(name)).unwrap();
        let written = |row: &&str| {
            row.split(',')
                .nth(column)
                .is_some_and(|date| date < &*today)
        };
        let head = text.lines().take(1);
        let rows = text.lines().skip(1).filter(written);
        head.chain(rows).map(|row| format!("{row}\n")).collect()
    };
    for name in ["temperatures-home.csv", "temperatures-hill.csv"] {
        nursery.write(name, until(name, 0));
    }
    nursery.write("records.csv", until("records.csv", 0));
    let mut batches = until("batches.csv", 8);
    match &*today {
        "2026-08-04" | "2026-08-05" => batches = batches.replace(",310,", ",many,"),
        "2026-08-12" | "2026-08-13" => {
            let others = batches.lines().filter(|row| !row.starts_with("C2,"));
            batches = others.map(|row| format!("{row}\n")).collect();
        }
        late if late > "2026-08-20" => batches = batches.replace("Copper Thimble", "Tin Thimble"),
        _ => {}
    }
    nursery.write("batches.csv", batches);
}

fn files_known(house: &House, at: DateTime<Utc>) -> usize {
    let reading = |role: &str| house.with_store(|memory| memory.reading(role)).unwrap();
    let incoming = read_register(&house.config, &Register::AsItStands, at, reading);
    let batches = incoming.batches.iter().filter(|came| came.is_known());
    let records = incoming.records.iter().filter(|came| came.is_known());
    batches.count() + records.count()
}

fn letters(nursery: &Nursery) -> Vec<String> {
    let folder = std::fs::read_dir(nursery.path("state/letters")).unwrap();
    let mut files: Vec<_> = folder.map(|file| file.unwrap().path()).collect();
    files.sort();
    let read = |path: &std::path::PathBuf| std::fs::read_to_string(path).unwrap();
    files.iter().map(read).collect()
}

#[test]
fn a_season_is_the_same_whether_files_are_known_again_or_read() {
    let ((with, known), (without, none)) = (season(true), season(false));
    assert_eq!(none, 0);
    assert!(known > 60, "{known}");
    assert!(with.letters.len() > 40, "{}", with.letters.len());
    let told = with.told.concat().join("\n");
    assert!(told.contains("'many' is not a number"), "{told}");
    assert!(told.contains("the row of C2 is not there"), "{told}");
    assert!(with == without);
}
