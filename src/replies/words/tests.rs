use super::*;
use crate::care::tests::season::{Season, maple};
use crate::nursery::{Batch, Target, What};

mod elsewhere;
mod laws;
mod letters;
mod odd;
mod parts;
mod people;
mod program;
mod several;
mod vague;

/// C-14 and C-15 of block C, on which lines were seen on 17 July, B 7 of the block North Wall, 100 grafts each, made on
/// Wednesday 1 July; Tuesday 21 July, 20 standard days later.
fn season() -> Season {
    blind().records("16 lines 8/10, 16 C-15 lines")
}

/// The same where nobody has looked.
fn blind() -> Season {
    let mut season = maple();
    let first = season.batches[0].clone();
    for (name, block) in [("C-15", "C"), ("B 7", "North Wall")] {
        season.batches.push(Batch {
            name: name.into(),
            block: block.into(),
            ..first.clone()
        });
    }
    season
}

/// What a record says, on one line.
fn shown(record: &Record) -> String {
    let target = match &record.target {
        Target::Batch(name) => name.clone(),
        Target::Block(name) => format!("block:{name}"),
    };
    let count = match record.count {
        None => String::new(),
        Some(crate::nursery::Count::Of(n)) => format!(" {n}"),
        Some(crate::nursery::Count::Share(n, of)) => format!(" {n}/{of}"),
    };
    let remarks = match record.remarks.as_str() {
        "" => String::new(),
        remarks => format!(" ({remarks})"),
    };
    format!(
        "{} {target} {}{count}{remarks}",
        record.date,
        record.what.name()
    )
}

fn read(words: &str, step: Option<&str>, batches: &[&str]) -> Vec<Line> {
    read_in(&season(), words, step, batches)
}

/// In answer to a letter of the day before.
fn read_in(season: &Season, words: &str, step: Option<&str>, batches: &[&str]) -> Vec<Line> {
    let asked: Vec<(&str, &[&str])> = step.into_iter().map(|step| (step, batches)).collect();
    read_several(season, words, &asked)
}

/// The same in answer to a letter that asked for several steps.
fn read_several(season: &Season, words: &str, asked: &[(&str, &[&str])]) -> Vec<Line> {
    let today = season.day(20);
    let ground = season.ground(today);
    let cares = season.cares(&ground).0;
    let asked: Vec<Asked> = asked
        .iter()
        .map(|(step, batches)| Asked {
            step: (*step).into(),
            batches: batches.iter().map(|b| (*b).to_owned()).collect(),
        })
        .collect();
    let asking = Asking {
        today,
        asked: &asked,
        asked_on: season.day(19),
        cares: &cares,
        by: "Maren Holt",
        people: &["maren holt".into(), "jory penhale".into(), "will".into()],
        nod: Nod::Done,
    };
    understand(words, &asking)
}

fn meant(line: &Line) -> String {
    match &line.meant {
        Meant::Records { noted, left } => {
            let questions = noted.iter().filter_map(|one| one.question.as_ref());
            let all: Vec<String> = noted
                .iter()
                .map(|one| shown(&one.record))
                .chain(questions.map(|q| format!("? {q}")))
                .chain(left.iter().map(|why| format!("left: {why}")))
                .collect();
            all.join("\n")
        }
        Meant::Unread { why } => format!("unread: {why}"),
        Meant::Known { why } => format!("known: {why}"),
        Meant::Which { asked, on } => {
            let steps = asked
                .iter()
                .map(|one| format!("{} of {}", one.step, one.batches.join(" ")));
            format!("which on {on}: {}", steps.collect::<Vec<_>>().join(", "))
        }
        other => format!("{other:?}"),
    }
}

/// A line in answer to a letter that asked to head back C-14 and C-15.
#[track_caller]
fn check(line: &str, expect: &str) {
    let lines = read(line, Some("head-back"), &["C-14", "C-15"]);
    assert_eq!(lines.len(), 1);
    assert_eq!(meant(&lines[0]), expect, "{line}");
}

/// The same in answer to one that asked this step of C-14 alone.
#[track_caller]
fn check_asked(step: &str, line: &str, expect: &str) {
    let lines = read(line, Some(step), &["C-14"]);
    assert_eq!(meant(&lines[0]), expect, "{line}");
}

/// The same in a fresh mail.
#[track_caller]
fn check_fresh(line: &str, expect: &str) {
    assert_eq!(meant(&read(line, None, &[])[0]), expect, "{line}");
}

/// It begins so.
#[track_caller]
fn check_unread(line: &str, begins: &str) {
    let lines = read(line, Some("head-back"), &["C-14", "C-15"]);
    let meant = meant(&lines[0]);
    assert!(
        meant.starts_with(&format!("unread: {begins}")),
        "{line}: {meant}"
    );
}

#[test]
fn a_batch_and_what_was_done_in_any_spelling() {
    for line in [
        "C-14 headed back",
        "c14 headed-back",
        "C 14: Headed Back.",
        "headed back C-14",
        "We have headed back C-14 today, thanks",
        "- C-14 - headed back all",
        "C‑14 headed back done",
    ] {
        let found = meant(&read(line, None, &[])[0]);
        assert!(
            found.starts_with("2026-07-21 C-14 headed-back"),
            "{line}: {found}"
        );
    }
    check_fresh("C-14 headed back", "2026-07-21 C-14 headed-back");
}

#[test]
fn words_of_the_trade() {
    check("C-14 lines", "2026-07-21 C-14 lines");
    check("C-14 lines 3/10", "2026-07-21 C-14 lines 3/10");
    check("lines on 3 of 10 in C-14", "2026-07-21 C-14 lines 3/10");
    check("C-14 lines 0/10", "2026-07-21 C-14 no-lines 0/10");
    check("C-14 no lines yet", "2026-07-21 C-14 no-lines");
    check("C-14 over-callused", "2026-07-21 C-14 over-callused");
    check("C-14 12 dead", "2026-07-21 C-14 dead 12");
    check("B 7 headed back 50", "2026-07-21 B 7 headed-back 50");
    check("b7 headed back 50", "2026-07-21 B 7 headed-back 50");
}

/// As letters show it: the word of the records with spaces for hyphens.
#[test]
fn every_word_of_the_records_can_be_answered() {
    for what in What::ALL.into_iter().filter(|&w| w != What::Retract) {
        let count = match what {
            What::Take | What::HeadLength | What::Lost | What::Dead => " 40",
            _ => "",
        };
        let spoken = what.name().replace('-', " ");
        let lines = read(&format!("C-14 {spoken}{count}"), None, &[]);
        let Meant::Records { noted, .. } = &lines[0].meant else {
            panic!("{spoken}: {:?}", lines[0]);
        };
        let found: Vec<What> = noted.iter().map(|one| one.record.what).collect();
        assert_eq!(found, [what]);
    }
}

#[test]
fn done_is_what_the_letter_asked_for() {
    check(
        "done",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
    check(
        "Done!",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
    check("C-15 done", "2026-07-21 C-15 headed-back");
    check(
        "yesterday all done",
        "2026-07-20 C-14 headed-back\n2026-07-20 C-15 headed-back",
    );
    check_asked(
        "head-back",
        "stopped row 12, 80 done",
        "2026-07-21 C-14 headed-back 80 (stopped row 12, 80 done)",
    );
    check_unread("80 done", "80 of which of C-14 and C-15");
    check_asked(
        "callus-check",
        "done",
        "unread: the letter asked to look, so it matters what was seen; write lines, no lines or lines 3/10",
    );
    check_fresh(
        "done",
        "unread: it names no batch, and answers no letter that asks for something; write it as in C-14 headed back",
    );
}

#[test]
fn one_line_may_tell_several_things() {
    check_asked(
        "tape-off",
        "tape off, tied, cut",
        "2026-07-21 C-14 tape-off\n2026-07-21 C-14 tied-in\n2026-07-21 C-14 headed-back\n? 'tape off and tie in' of C-14 is not due yet; is tape-off really meant for it?",
    );
    check(
        "C-14, C-15 and B 7 headed back",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back\n2026-07-21 B 7 headed-back",
    );
    check(
        "C-14 lines, C-15 no lines",
        "2026-07-21 C-14 lines\n2026-07-21 C-15 no-lines",
    );
    check(
        "headed back C-14 and C-15",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
    check(
        "headed back C-14, lines C-15",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 lines",
    );
    check(
        "C-14 headed back 18 Jul, C-15 headed back 19 Jul",
        "2026-07-18 C-14 headed-back\n2026-07-19 C-15 headed-back",
    );
    check_unread(
        "C-14 lines yesterday, C-15 no lines",
        "it is not plain which date",
    );
}

#[test]
fn a_block_is_one_record_for_what_waits_in_it() {
    check(
        "block C headed back 18 Jul",
        "2026-07-18 block:C headed-back",
    );
    check("Block:C headed back", "2026-07-21 block:C headed-back");
    check(
        "block north wall headed back",
        "2026-07-21 block:North Wall headed-back",
    );
    check(
        "block C done",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
    check_unread("block D headed back", "there is no block D");
    check_unread(
        "block C headed back 80",
        "the count 80 is for a whole block",
    );
    check_unread("block C docked", "in block C nothing waits for docked");
}

#[test]
fn dates_in_words_or_figures() {
    for (said, date) in [
        ("today", "2026-07-21"),
        ("yesterday", "2026-07-20"),
        ("Monday", "2026-07-20"),
        ("on Tue", "2026-07-21"),
        ("Wednesday", "2026-07-15"),
        ("18 July", "2026-07-18"),
        ("July 18th", "2026-07-18"),
        ("18. Jul 2026", "2026-07-18"),
        ("18.7.", "2026-07-18"),
        ("18.07.26", "2026-07-18"),
        ("2026-07-18", "2026-07-18"),
        ("18/7/2026", "2026-07-18"),
        ("7/18/2026", "2026-07-18"),
    ] {
        check(
            &format!("C-14 headed back {said}"),
            &format!("{date} C-14 headed-back"),
        );
    }
    check_unread("C-14 headed back 8/7/2026", "8/7/2026 may be two days");
    check_unread("C-14 headed back 2026-07-22", "2026-07-22 has not come yet");
    check_unread(
        "C-14 headed back 30 Feb",
        "30 Feb is no day of the calendar",
    );
    check_unread(
        "C-14 headed back 30 June",
        "2026-06-30 lies before C-14 was grafted on 2026-07-01",
    );
    // In July, December is last year's.
    check_unread("C-14 headed back 24 Dec", "2025-12-24 lies before");
}

/// Words of the trade that say something else here.
#[test]
fn work_that_is_not_on_grafts_is_no_record() {
    for (line, word) in [
        ("tape cut off on C-14", "tape"),
        ("cut my finger at C-14", "my"),
        ("drip line broken at C-14", "drip"),
        ("gate of C-14 closed", "gate"),
        ("3 dead hares in C-14", "hares"),
        ("lost 2 knives in C-14", "knives"),
        ("lunch done", "lunch"),
    ] {
        check_unread(line, &format!("'{word}' is not understood"));
    }
    check_unread("C-14 has lots of suckers", "it does not say what was seen");
    check_unread("everything closed", "closed ends a batch for good");
    check("C-14 closed", "2026-07-21 C-14 closed");
    check(
        "C-14 lines clear on both sides, thanks",
        "2026-07-21 C-14 lines (C-14 lines clear on both sides, thanks)",
    );
    check("cut C-14", "2026-07-21 C-14 headed-back");
    check_fresh(
        "cut C-14",
        "2026-07-21 C-14 headed-back\n? 'cut' was taken as headed-back of C-14; is that what was cut?",
    );
}

#[test]
fn days_and_counts_that_are_not_plain_are_asked_for() {
    check_unread(
        "C-14 lines three of ten",
        "with 'three' in it, it is not sure how many",
    );
    for (line, word) in [
        ("C-14 headed back last week", "week"),
        ("C-14 headed back 3 days ago", "days"),
        ("C-14 headed back day before yesterday", "before"),
    ] {
        check_unread(line, &format!("with '{word}' in it, it is not sure when"));
    }
    check_unread("C-14 headed back in full sun", "'sun' may be a day");
    check("C-14 headed back on Sun", "2026-07-19 C-14 headed-back");
    for said in ["~80", "80+", "<80", "8:30"] {
        check_unread(&format!("C-14 dead {said}"), &format!("{said} is no batch"));
    }
    check_unread("rows 3 to 5 done", "how many grafts these rows have");
    check_unread("stopped at row 12 of 20", "it does not say");
    check_asked(
        "head-back",
        "rows 3 to 5, 40 done",
        "2026-07-21 C-14 headed-back 40 (rows 3 to 5, 40 done)",
    );
    check(
        "C-14:headed back 80 of 100",
        "2026-07-21 C-14 headed-back 80",
    );
    check_unread("C-14 headed back 8/9", "'8/9' is not a count");
}

#[test]
fn no_batch_of_a_line_is_passed_over() {
    check_unread(
        "C-14 lines 3/10, C-15 2/10",
        "it does not say what was seen or done on C-15",
    );
    check_unread(
        "C-14 headed back and C-15",
        "it does not say what was seen or done on C-15",
    );
}

#[test]
fn counts_are_questioned_and_never_clipped() {
    check_unread("C-14 headed back 500", "C-14 has 100 grafts, not 500");
    check("C-14 headed back 100", "2026-07-21 C-14 headed-back 100");
    let lines = read("C-14 docked 5", None, &[]);
    assert_eq!(
        meant(&lines[0]),
        "2026-07-21 C-14 docked 5\n? 'dock the stub' of C-14 is not due yet; is docked really meant for it?"
    );
}

#[test]
fn a_name_that_may_be_two_batches_is_asked_about() {
    let mut season = season();
    season.batches[1].name = "C14".into();
    let today = season.day(20);
    let ground = season.ground(today);
    let cares = season.cares(&ground).0;
    let asking = Asking {
        today,
        asked: &[],
        asked_on: today,
        cares: &cares,
        by: "",
        people: &[],
        nod: Nod::Done,
    };
    let said = |line: &str| meant(&understand(line, &asking)[0]);
    assert_eq!(said("C-14 lines"), "2026-07-21 C-14 lines");
    assert_eq!(said("c14 lines"), "2026-07-21 C14 lines");
    assert_eq!(
        said("C 14 lines"),
        "unread: c14 may be C-14 or C14; write the name as it stands in the register"
    );
}
