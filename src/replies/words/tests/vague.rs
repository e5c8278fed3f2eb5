//! `done`, and words that name no batch: not for what nobody has looked at, nor against what is newer.

use super::*;

/// In answer to a letter of the day before that asked to head back C-14 and C-15.
#[track_caller]
fn check_in(season: &Season, line: &str, expect: &str) {
    let lines = read_in(season, line, Some("head-back"), &["C-14", "C-15"]);
    assert_eq!(meant(&lines[0]), expect, "{line}");
}

#[test]
fn done_is_not_taken_where_nobody_has_looked() {
    let half = blind().records("16 lines");
    check_in(
        &half,
        "done",
        "2026-07-21 C-14 headed-back\nleft: not taken for C-15: no lines are written down there, and the letter says to look first. Write what was seen, as in \"C-15 lines 3/10\", or if it is done, name it, as in \"C-15 headed back\"",
    );
    let none = "unread: not taken for C-14 and C-15: no lines are written down there, and the letter says to look first. Write what was seen, as in \"C-14 lines 3/10\", or if it is done, name it, as in \"C-14 headed back\"";
    check_in(&blind(), "done", none);
    check_in(&blind(), "C-14, C-15 done", none);
    check_in(&blind(), "block C done", none);
    check_in(&blind(), "C-14 headed back", "2026-07-21 C-14 headed-back");
    // Who writes a count has counted.
    check_in(&blind(), "C-14 60 done", "2026-07-21 C-14 headed-back 60");
    let begun = blind().records("18 headed-back 60, 18 C-15 headed-back 60");
    check_in(
        &begun,
        "done",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
}

#[test]
fn done_is_not_all_where_only_a_part_is_to_be_done() {
    let season = blind().records("16 lines 3/10, 16 C-15 lines");
    check_in(
        &season,
        "done",
        "2026-07-21 C-15 headed-back\nleft: not taken for C-14: lines showed on 3 of 10 there, and the letter says to do only those that show them. Write how many it was, as in \"C-14 headed back 60\", or if it was all, \"C-14 headed back\"",
    );
    check_in(&season, "C-14 30 done", "2026-07-21 C-14 headed-back 30");
    check_in(&season, "C-14 headed back", "2026-07-21 C-14 headed-back");
    let more = season.records("18 lines 8/10");
    check_in(
        &more,
        "done",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
}

#[test]
fn what_the_same_mail_saw_was_looked_at() {
    let lines = read_in(
        &blind(),
        "C-14 lines 8/10\ndone",
        Some("head-back"),
        &["C-14"],
    );
    assert_eq!(meant(&lines[1]), "2026-07-21 C-14 headed-back");
}

#[test]
fn done_does_not_speak_against_what_is_newer() {
    for (records, why) in [
        (
            "19 no-lines",
            "no-lines was written down on Mon 20 Jul, after that letter",
        ),
        ("20 closed", "closed on Tue 21 Jul"),
        (
            "20 regrafted 12",
            "regrafted was written down on Tue 21 Jul, after that letter",
        ),
        (
            "18 tape-off",
            "work that follows 'head back' is written down already",
        ),
    ] {
        let season = season().records(records);
        check_in(
            &season,
            "done",
            &format!(
                "2026-07-21 C-15 headed-back\nleft: not taken for C-14: {why}. If it was done all the same, name it, as in \"C-14 headed back\""
            ),
        );
    }
    let done = self::season().records("18 headed-back");
    check_in(
        &done,
        "done",
        "2026-07-21 C-15 headed-back\nleft: C-14 is written down as headed-back already, on Sun 19 Jul",
    );
    let all = self::season().records("18 headed-back, 18 C-15 headed-back");
    check_in(
        &all,
        "done",
        "known: C-14 and C-15 are written down as headed-back already, on Sun 19 Jul",
    );
    // What was written down before that letter, it knew.
    let season = season().records("17 no-lines, 18 lines");
    check_in(
        &season,
        "done",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
    // Nor what has been seen since.
    let season = self::season().records("19 no-lines, 19 lines 8/10");
    check_in(
        &season,
        "done",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
}

/// Block C was done, and C-15 is said not to be in it: it was grafted ten days later.
#[test]
fn a_block_says_which_of_its_batches_it_does_not_count_for() {
    let season = blind().but(|s| s.batches[1].grafted_on = s.day(10));
    check_in(
        &season,
        "block C headed back",
        "2026-07-21 block:C headed-back\nleft: not taken for C-15: 'head back' is not due now. If it was done all the same, name it, as in \"C-15 headed back\"",
    );
}

#[test]
fn nor_does_a_word_that_names_no_batch() {
    let season = season().records("19 no-lines");
    check_in(
        &season,
        "headed back",
        "2026-07-21 C-15 headed-back\nleft: not taken for C-14: no-lines was written down on Mon 20 Jul, after that letter. If it was done all the same, name it, as in \"C-14 headed back\"",
    );
    check_in(&season, "C-14 headed back", "2026-07-21 C-14 headed-back");
}
