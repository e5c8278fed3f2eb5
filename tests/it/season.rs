//! The invented season, played whole: what is told, day by day, and the letters.
//!
//! What it is to say stands in tests/data/season and is compared byte by byte. With the environment variable
//! `WRITE_SEASON=1` these files are written anew; what has changed in them is then for a person to read.

use crate::heat_letters::limits_in;
use crate::program::{Ran, program};
use chrono::NaiveDate;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// One run of the season.
struct Season {
    ran: Ran,
    letters: TempDir,
}

fn play(words: &str) -> Season {
    let letters = tempfile::tempdir().unwrap();
    let here = letters.path().display().to_string();
    let words = format!("rehearse --config demo-data/graftwarden.toml --letters {here} {words}");
    let output = program(root(), words.split_whitespace()).output().unwrap();
    Season {
        ran: Ran::new(&output, &here),
        letters,
    }
}

impl Season {
    /// Every letter by the name of its file.
    fn letters(&self) -> BTreeMap<String, Vec<u8>> {
        let files = std::fs::read_dir(self.letters.path()).unwrap();
        let named = |file: std::io::Result<std::fs::DirEntry>| {
            let file = file.unwrap();
            let name = file.file_name().into_string().unwrap();
            (name, std::fs::read(file.path()).unwrap())
        };
        files.map(named).collect()
    }

    /// The one letter of that morning to that person.
    #[track_caller]
    fn letter(&self, day: &str, person: &str) -> Vec<u8> {
        let mut letters = self.letters();
        letters.retain(|name, _| name.starts_with(day) && name.contains(person));
        assert_eq!(letters.len(), 1, "{:?}", letters.keys());
        letters.into_values().next().unwrap()
    }

    fn notices(self) -> Vec<Value> {
        let lines = self.ran.well();
        lines
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A letter with the bytes of its pictures left out, which a person cannot read.
fn without_pictures(letter: &[u8]) -> Vec<u8> {
    let letter = std::str::from_utf8(letter).unwrap();
    let mut kept = String::new();
    let (mut picture, mut bytes) = (false, false);
    for line in letter.split_inclusive('\n') {
        let starts = line.starts_with("--");
        (picture, bytes) = (picture && !starts, bytes && !starts);
        picture |= line.starts_with("Content-Type: image/png");
        if !bytes {
            kept.push_str(line);
        }
        bytes |= picture && line.trim().is_empty();
    }
    kept.into_bytes()
}

/// Compares with a file of tests/data/season, or writes it.
#[track_caller]
fn same_as(name: &str, found: &[u8]) {
    let file: PathBuf = root().join("tests/data/season").join(name);
    if std::env::var_os("WRITE_SEASON").is_some() {
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        std::fs::write(&file, found).unwrap();
    }
    let kept = std::fs::read(&file).unwrap();
    if let Some(difference) = difference(&kept, found) {
        panic!(
            "{} is not what came out (WRITE_SEASON=1 writes it anew):\n{difference}",
            file.display()
        );
    }
}

/// The lines around the first difference, those kept marked `-`, those found `+`.
fn difference(kept: &[u8], found: &[u8]) -> Option<String> {
    if kept == found {
        return None;
    }
    let (kept, found) = (
        String::from_utf8_lossy(kept),
        String::from_utf8_lossy(found),
    );
    let (kept, found): (Vec<&str>, Vec<&str>) =
        (kept.split('\n').collect(), found.split('\n').collect());
    let same = kept.iter().zip(&found).take_while(|(a, b)| a == b).count();
    let part = |lines: &[&str], from: usize, to: usize, mark: &str| -> String {
        let lines = lines.iter().enumerate().take(to).skip(from);
        lines
            .map(|(n, line)| format!("{mark} {:4} {}\n", n + 1, line.escape_debug()))
            .collect()
    };
    Some(
        part(&kept, same.saturating_sub(3), same, " ")
            + &part(&kept, same, same + 5, "-")
            + &part(&found, same, same + 5, "+"),
    )
}

#[test]
fn a_difference_is_shown_where_it_is() {
    assert_eq!(difference(b"a\nb\n", b"a\nb\n"), None);
    assert_eq!(
        difference(b"a\nb\r\nc\n", b"a\nb\nc\n").unwrap(),
        "     1 a\n-    2 b\\r\n-    3 c\n-    4 \n+    2 b\n+    3 c\n+    4 \n"
    );
    assert!(difference(b"a\n", b"a").is_some());
}

#[test]
fn the_season_in_words_and_its_letters() {
    let season = play("");
    same_as("season.txt", season.ran.clone().well().as_bytes());
    // The Monday after the hot weekend: nothing is as full. The first letter of all: nothing is as plain.
    same_as(
        "hot-monday.eml",
        &without_pictures(&season.letter("2026-08-10", "maren")),
    );
    same_as(
        "first.eml",
        &without_pictures(&season.letter("2026-07-23", "jory")),
    );
    let told = season
        .ran
        .out
        .lines()
        .filter(|line| line.starts_with("    to "))
        .count();
    assert_eq!(season.letters().len(), told);
    let said = format!("\n{told} letters in [here]\n");
    assert!(season.ran.out.contains(&said), "{said}");
}

#[test]
fn the_season_as_json() {
    let season = play("--json");
    same_as("season.jsonl", season.ran.clone().well().as_bytes());
    let letters = season.letters().len();
    let mut ids: Vec<String> = Vec::new();
    for notice in season.notices() {
        let (to, letter) = (
            notice["to"].as_array().unwrap(),
            notice["letter"].as_array().unwrap(),
        );
        assert_eq!(to.len(), letter.len(), "{notice}");
        ids.extend(letter.iter().map(|id| id.as_str().unwrap().to_owned()));
    }
    ids.sort();
    ids.dedup();
    assert_eq!(
        ids.len(),
        letters,
        "each letter carries a notice, each notice's letter is there"
    );
}

#[test]
fn the_same_season_gives_the_same_bytes() {
    let (one, two) = (play("--json"), play("--json"));
    assert_eq!(one.ran, two.ran);
    assert_eq!(one.letters(), two.letters());
}

/// When each batch's first urgent risk of over-callusing was told.
fn risks(notices: &[Value]) -> BTreeMap<String, String> {
    let mut first = BTreeMap::new();
    for notice in notices {
        if notice["kind"] == "over-callus-risk" {
            let text = |key: &str| notice[key].as_str().unwrap().to_owned();
            first.entry(text("batch")).or_insert(text("round_at"));
        }
    }
    first
}

/// Those batches that came to their limit with the stock not headed back, by `due` and the field records, and the day.
fn limits() -> BTreeMap<String, String> {
    let words = "due --config demo-data/graftwarden.toml --on 2026-09-30 --json";
    let ran = program(root(), words.split_whitespace()).output().unwrap();
    let mut limits = limits_in(std::str::from_utf8(&ran.stdout).unwrap());
    let records = std::fs::read_to_string(root().join("demo-data/records.csv")).unwrap();
    for record in records.lines() {
        let cells: Vec<&str> = record.split(',').collect();
        if cells[2] == "headed-back" {
            let day: NaiveDate = cells[0].parse().unwrap();
            let meant = |batch: &str| match cells[1].strip_prefix("block:") {
                Some(block) => batch.starts_with(block),
                None => batch == cells[1],
            };
            limits.retain(|batch, limit| !meant(batch) || *limit < day);
        }
    }
    let named = limits
        .into_iter()
        .map(|(name, day)| (name, day.to_string()));
    named.collect()
}

#[test]
fn the_risk_is_told_before_it_is_there_by_a_forecast_and_by_the_years_before() {
    let blind = play("--json").notices();
    let foreseen = play("--json --forecast perfect").notices();
    assert_ne!(blind, foreseen);
    for notices in [&blind, &foreseen] {
        let (told, limits) = (risks(notices), limits());
        assert!(!limits.is_empty());
        for (batch, limit) in &limits {
            assert!(told[batch] < *limit, "{batch}: {} and {limit}", told[batch]);
        }
    }
    // What is told of days to come names the day before it comes.
    for notice in &foreseen {
        if notice["kind"] == "opens" {
            assert!(
                notice["on"].as_str() < notice["round_at"].as_str(),
                "a forecast opens nothing: {notice}"
            );
        }
    }
}
