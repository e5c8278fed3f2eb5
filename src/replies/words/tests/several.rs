//! Letters that ask for several steps: what `done` is, and what says more than that.

use super::*;

/// In answer to a letter that asked to head back C-14 and C-15, to take the tape off C-15 and to look at B 7.
const ASKED: &[(&str, &[&str])] = &[
    ("head-back", &["C-14", "C-15"]),
    ("tape-off", &["C-15"]),
    ("callus-check", &["B 7"]),
];

#[track_caller]
fn check_several(line: &str, expect: &str) {
    let lines = read_several(&season(), line, ASKED);
    assert_eq!(meant(&lines[0]), expect, "{line}");
}

#[test]
fn done_is_asked_back() {
    let all = "head-back of C-14 C-15, tape-off of C-15, callus-check of B 7";
    check_several("done", &format!("which on 2026-07-21: {all}"));
    check_several("All done, thanks!", &format!("which on 2026-07-21: {all}"));
    check_several("done yesterday", &format!("which on 2026-07-20: {all}"));
    check_several(
        "C-15 done",
        "which on 2026-07-21: head-back of C-15, tape-off of C-15",
    );
    check_several(
        "40 done, rest tomorrow",
        &format!("which on 2026-07-21: {all}"),
    );
}

#[test]
fn of_a_batch_of_which_one_step_is_asked_done_is_plain() {
    check_several("C-14 done", "2026-07-21 C-14 headed-back");
    check_several(
        "B 7 done",
        "unread: the letter asked to look, so it matters what was seen; write lines, no lines or lines 3/10",
    );
    check_several(
        "C-14 headed back, C-15 done",
        "unread: the letter asked for more than one thing, and it is not plain which of them is done; write what was done, a line for each, as in C-14 headed back",
    );
    let asked: &[(&str, &[&str])] = &[("head-back", &["C-14"]), ("tape-off", &["C-15"])];
    let line = &read_several(&season(), "B 7 done", asked)[0];
    assert_eq!(
        meant(line),
        "unread: the letter asked for more than one thing, and not for one of B 7; write what was done, as in B 7 headed back"
    );
}

#[test]
fn a_word_for_the_work_takes_the_batches_of_its_step() {
    let both = "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back";
    check_several("head back done", both);
    check_several("headed back", both);
    check_several("Done: head back", both);
    let tape = "unread: not taken for C-15: 'tape off and tie in' is not due now. If it was done all the same, name it, as in \"C-15 tape off\"";
    check_several("tape off and tie in done", tape);
    check_several("tape off", tape);
    check_several("lines 3/10", "2026-07-21 B 7 lines 3/10");
    check_several("no lines", "2026-07-21 B 7 no-lines");
    check_several("looked", "2026-07-21 B 7 looked");
    check_several(
        "look done",
        "unread: the letter asked to look, so it matters what was seen; write lines, no lines or lines 3/10",
    );
    check_several(
        "suckers rubbed off",
        "unread: the letter asked for more than one thing, and it is not plain of which batches this is said; name them, as in C-14 headed back",
    );
}

/// The later look may be answered as such, all being well.
#[test]
fn a_look_that_needs_no_more_than_looking_is_done() {
    let asked: &[(&str, &[&str])] = &[("head-back", &["C-14"]), ("look-again", &["B 7"])];
    for line in [
        "look done",
        "look again done",
        "looked",
        "Looks done, all well",
    ] {
        let said = &read_several(&season(), line, asked)[0];
        let found = meant(said);
        assert!(
            found.starts_with("2026-07-21 B 7 looked"),
            "{line}: {found}"
        );
    }
    let twice: &[(&str, &[&str])] = &[("callus-check", &["C-14"]), ("look-again", &["B 7"])];
    assert_eq!(
        meant(&read_several(&season(), "lines", twice)[0]),
        "unread: the letter asked for more than one thing, and it is not plain of which batches this is said; name them, as in C-14 headed back"
    );
}

#[test]
fn not_yet_is_said_of_all_or_of_one() {
    for line in [
        "not yet",
        "Head back not yet",
        "tape off: not yet",
        "C-15 not yet",
    ] {
        check_several(line, "Later");
    }
}

/// A block is done where what waits in it is one step.
#[test]
fn a_block_is_done_where_one_step_waits_in_it() {
    check_several(
        "block C done",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
    let late = season().records("16 lines 8/10, 16 C-15 lines, 17 C-15 headed-back");
    let line = &read_several(&late, "block C done", ASKED)[0];
    assert_eq!(meant(line), "2026-07-21 C-14 headed-back");
}
