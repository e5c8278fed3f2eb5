//! What holds for any text.

use super::*;
use crate::care::{Facts, taking_back};
use proptest::prelude::*;

/// Lines that say something.
fn telling() -> impl Strategy<Value = String> {
    let names = prop::sample::select(vec!["C-14", "C-15", "B 7", "C-14, C-15", "block C", ""]);
    let words = prop::sample::select(vec![
        "lines 0/10",
        "lines 3/10",
        "lines",
        "no lines",
        "headed back",
        "headed back 40",
        "60 done",
        "done",
        "looked",
        "regrafted 12",
        "dead 3",
        "closed",
        "tape off, tied, cut",
        "over-callused",
    ]);
    let dates = prop::sample::select(vec!["", "yesterday", "18 Jul", "2 July"]);
    (names, words, dates).prop_map(|(name, words, date)| format!("{name} {words} {date}"))
}

/// Lines as people might write them, and then some.
fn line() -> impl Strategy<Value = String> {
    let words = prop::sample::select(vec![
        "C-14",
        "c15",
        "B",
        "7",
        "block",
        "C",
        "north",
        "wall",
        "headed",
        "back",
        "lines",
        "no",
        "done",
        "cut",
        "tape",
        "off",
        "tied",
        "180",
        "3/10",
        "3",
        "of",
        "10",
        "18",
        "Aug",
        "2026-07-18",
        "yesterday",
        "tomorrow",
        "not",
        "yet",
        "undo",
        "yes",
        "row",
        "take",
        "dead",
        "Ä",
        "?",
        "-",
        "8/7/2026",
        "31.2.",
        "monday",
        "C-99",
        "all",
        ",",
        ";",
        "rest",
        "C-88",
        "but",
        "please",
        "sorry",
        "wrong",
        "again",
        "regrafted",
        "closed",
        "Block:C",
        "\u{202e}",
    ]);
    prop::collection::vec(words, 0..9).prop_map(|words| words.join(" "))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_line_is_answered_for_and_no_record_is_made_up(text in prop::collection::vec(prop_oneof![line(), ".{0,40}"], 1..6)) {
        let text = text.join("\n");
        let lines = read(&text, Some("head-back"), &["C-14"]);
        let wanted: Vec<&str> = text.lines().map(str::trim).filter(|l| !l.is_empty()).collect();
        prop_assert_eq!(lines.iter().map(|l| l.said.as_str()).collect::<Vec<_>>(), wanted);
        for line in &lines {
            let Meant::Records { noted, .. } = &line.meant else { continue };
            prop_assert!(!noted.is_empty());
            for Noted { record, .. } in noted {
                prop_assert!(record.date <= season().day(20));
                let said = tokens::plain(&line.said);
                let named = match &record.target {
                    Target::Batch(name) => {
                        let block = if name == "B 7" { "blocknorthwall" } else { "blockc" };
                        name == "C-14" || said.contains(&tokens::plain(name)) || said.contains(block)
                    }
                    Target::Block(name) => said.contains(&tokens::plain(&format!("block{name}"))),
                };
                prop_assert!(named, "{:?}", line);
            }
        }
    }

    #[test]
    fn whatever_an_answer_wrote_can_be_taken_back(text in prop::collection::vec(prop_oneof![telling(), line()], 1..6)) {
        let season = season().records("17 C-15 headed-back 30");
        let lines = read_in(&season, &text.join("\n"), Some("head-back"), &["C-14", "C-15"]);
        let mut all = season.records.clone();
        let before = all.len();
        for line in &lines {
            if let Meant::Records { noted, .. } = &line.meant {
                all.extend(noted.iter().map(|one| one.record.clone()));
            }
        }
        // The newest first, as `undo` does it.
        for at in (before..all.len()).rev() {
            let alike: Vec<&Record> = all.iter().filter(|r| r.target == all[at].target).collect();
            let retract = taking_back(&alike, &all[at]);
            prop_assert!(retract.is_ok(), "{:?}: {:?}", all[at], retract);
            all.extend(retract);
        }
        for batch in &season.batches {
            let own = |records: &[Record]| {
                let target = Target::Batch(batch.name.clone());
                let own = records.iter().filter(|r| r.target == target).collect::<Vec<_>>();
                Facts::new(batch, own)
            };
            prop_assert_eq!(own(&all), own(&season.records));
        }
    }
}
