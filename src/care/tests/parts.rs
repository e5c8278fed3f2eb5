//! Work in parts, losses, records of whole blocks, and batches that come of grafting anew.

use super::check;
use super::season::{Season, maple};

#[test]
fn parts_add_up_and_the_rest_keeps_its_window() {
    let season = maple().records("15 lines, 16 headed-back 40");
    check(&season, 17, "head-back", "open 15..21 record 40/100");
    check(&season, 22, "head-back", "late 15..21 record 40/100");
    let season = season.records("23 headed-back 60");
    check(&season, 22, "head-back", "late 15..21 record 40/100");
    check(&season, 23, "head-back", "done 23");
}

#[test]
fn an_empty_count_is_all_that_is_left() {
    check(
        &maple().records("15 headed-back 40, 16 headed-back"),
        16,
        "head-back",
        "done 16",
    );
}

#[test]
fn the_lost_and_the_dead_are_not_waited_for() {
    let season = maple().records("15 headed-back 88, 17 lost 10, 18 dead 2");
    check(&season, 17, "head-back", "ahead 18..21 88/90");
    check(&season, 18, "head-back", "done 18");
}

#[test]
fn a_record_taken_back_counts_no_more() {
    let season = maple().records("15 lines, 17 retract lines");
    check(&season, 18, "callus-check", "open 14..21 heat");
    check(&season, 18, "head-back", "ahead 18..21");
    check(
        &maple().records("15 lines, 14 retract lines"),
        18,
        "callus-check",
        "done 15",
    );
}

/// Two batches of block C, grafted on days 0 and 10, and one of block D.
fn blocks() -> Season {
    maple().but(|s| {
        let mut other = s.batches[0].clone();
        other.name = "C-15".into();
        other.grafted_on = s.day(10);
        let mut elsewhere = s.batches[0].clone();
        (elsewhere.name, elsewhere.block) = ("D-1".into(), "D".into());
        s.batches.extend([other, elsewhere]);
    })
}

#[track_caller]
fn check_all(season: &Season, n: i64, step: &str, expected: &[&str]) {
    let ground = season.ground(season.day(n));
    let (cares, _) = season.cares(&ground);
    let found: Vec<String> = cares
        .iter()
        .map(|care| {
            format!(
                "{} {}",
                care.batch.name,
                care.step(step).unwrap().state.name()
            )
        })
        .collect();
    assert_eq!(found, expected);
}

#[test]
fn a_record_of_a_block_touches_its_batches_that_have_the_step_open() {
    let season = blocks().records("15 block:c lines");
    check_all(
        &season,
        15,
        "callus-check",
        &["C-14 done", "C-15 ahead", "D-1 open"],
    );
    let season = blocks().records("19 block:C headed-back, 19 D-1 headed-back 5");
    check_all(
        &season,
        19,
        "head-back",
        &["C-14 done", "C-15 ahead", "D-1 open"],
    );
}

#[test]
fn a_record_of_a_block_on_the_day_before_the_window_opens_does_not_count() {
    check_all(
        &blocks().records("17 block:C headed-back"),
        19,
        "head-back",
        &["C-14 open", "C-15 ahead", "D-1 open"],
    );
    check_all(
        &blocks().records("18 block:C headed-back"),
        19,
        "head-back",
        &["C-14 done", "C-15 ahead", "D-1 open"],
    );
}

#[test]
fn grafting_anew_counts_the_dead() {
    check(
        &maple().records("12 dead 8, 20 regrafted 5"),
        21,
        "re-graft",
        "open 12..- record 5/8",
    );
    check(
        &maple().records("12 dead 8, 20 regrafted"),
        21,
        "re-graft",
        "done 20",
    );
}

#[test]
fn a_batch_without_living_grafts_or_that_is_closed_is_over() {
    let is_open = |records: &str| maple().records(records).on(30, |care| care.is_open());
    assert!(is_open("20 lost 99"));
    assert!(!is_open("20 lost 100"));
    assert!(!is_open("20 dead 60, 21 lost 40"));
    assert!(!is_open("20 closed"));
    assert!(is_open("20 closed, 21 retract closed"));
    assert!(!is_open("20 docked"));
}

#[track_caller]
fn check_problems(records: &str, expected: &[&str]) {
    let season = maple().records(records);
    let ground = season.ground(season.day(60));
    let (_, problems) = season.cares(&ground);
    let found: Vec<String> = problems
        .iter()
        .map(|p| format!("{}: {}", p.place, p.what))
        .collect();
    assert_eq!(found, expected);
}

#[test]
fn records_from_before_the_grafting_are_named_and_not_used() {
    let season = maple()
        .records("0 lines")
        .but(|s| s.batches[0].grafted_on = s.day(1));
    check(&season, 16, "callus-check", "open 15..22 heat");
    let ground = season.ground(season.day(15));
    assert_eq!(season.cares(&ground).1.len(), 1);
}

#[test]
fn the_dead_that_are_grafted_anew_become_batches_of_their_own() {
    let season = maple().records("12 dead 8, 20 regrafted 5, 22 regrafted, 40 C-14/2 lines");
    let ground = season.ground(season.day(36));
    let (cares, _) = season.cares(&ground);
    let found: Vec<String> = cares
        .iter()
        .map(|c| {
            let check = c.step("callus-check").unwrap();
            format!(
                "{} {} of {}: {}",
                c.batch.name,
                c.facts.alive(),
                c.batch.grafts,
                season.day(0) + (check.opened.unwrap().on - season.day(0))
            )
        })
        .collect();
    // Fourteen days after days 20 and 22, which are 21 and 23 July.
    assert_eq!(
        found,
        [
            "C-14 92 of 100: 2026-07-15",
            "C-14/2 5 of 5: 2026-08-04",
            "C-14/3 3 of 3: 2026-08-06"
        ]
    );
}

#[test]
fn a_block_whose_tape_is_eased_has_it_eased_where_the_tape_is_due() {
    let season = blocks().records("25 block:C tape-eased");
    check(&season, 26, "tape-off", "open 21..30 heat");
}

#[test]
fn what_was_written_for_a_block_can_be_taken_back_for_it_or_for_one_batch() {
    let season = blocks().records("15 block:C lines, 16 block:C retract lines");
    check_all(
        &season,
        16,
        "callus-check",
        &["C-14 open", "C-15 ahead", "D-1 open"],
    );
    let season = blocks().records("25 block:C lines, 26 C-15 retract lines");
    check_all(
        &season,
        26,
        "callus-check",
        &["C-14 done", "C-15 open", "D-1 late"],
    );
}

#[test]
fn counts_above_what_is_left_are_questioned() {
    check_problems("16 headed-back 60, 17 headed-back 40", &[]);
    check_problems("16 headed-back 100, 17 lost 10", &[]);
    check_problems(
        "16 headed-back 60, 17 headed-back 41",
        &["field records of C-14: headed-back adds up to 101, more than its 100 grafts"],
    );
    check_problems(
        "16 lost 10, 17 headed-back 95",
        &["field records of C-14: headed-back adds up to 95, more than the 90 alive by then"],
    );
    check_problems(
        "16 lost 60, 17 dead 41",
        &["field records of C-14: lost and dead add up to 101, more than its 100 grafts"],
    );
    check_problems(
        "59 take 101",
        &["field records of C-14: take counts 101, more than its 100 grafts"],
    );
}
