//! Lines of which a part is taken, and lines that add up.

use super::*;

#[test]
fn of_several_names_the_bad_one_is_said_and_the_others_are_taken() {
    check(
        "C-14, C-15 and C-99 headed back",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back\nleft: there is no batch C-99; the rest of the line is written down",
    );
    check(
        "C-41 lines, C-14 no lines",
        "2026-07-21 C-14 no-lines\nleft: there is no batch C-41; perhaps C-14 is meant; the rest of the line is written down",
    );
    check_unread("C-99 no lines", "there is no batch C-99");
    check_unread("C-99", "there is no batch C-99");
    // How many of which is not known, nor what stands beside a count.
    check_unread(
        "C-14, C-99 headed back 80",
        "there is no batch C-99. 80 of which of C-14 and C-99",
    );
    check_unread(
        "C-14 headed back and C-99",
        "there is no batch C-99. It does not say what was seen or done on C-99",
    );
    check_unread("C-14 headed back ca80", "ca80 is no batch and no count");
    check_unread(
        "block C and C-99 headed back",
        "there is no batch C-99. It names a block and batches",
    );
}

#[test]
fn what_is_done_is_taken_and_what_is_to_come_is_said() {
    for (line, record, plan) in [
        (
            "70 yesterday, rest tomorrow",
            "2026-07-20 C-14 headed-back 70",
            "rest tomorrow",
        ),
        (
            "70 done, the rest on Friday",
            "2026-07-21 C-14 headed-back 70",
            "the rest on Friday",
        ),
        (
            "Headed back 70, will do the rest tomorrow",
            "2026-07-21 C-14 headed-back 70",
            "will do the rest tomorrow",
        ),
        (
            "C-14 headed back 70 but the other half not yet",
            "2026-07-21 C-14 headed-back 70",
            "the other half not yet",
        ),
        (
            "C-14 headed back, C-15 not yet",
            "2026-07-21 C-14 headed-back",
            "C-15 not yet",
        ),
        ("C-14 lines; not C-15", "2026-07-21 C-14 lines", "not C-15"),
    ] {
        check_asked(
            "head-back",
            line,
            &format!(
                "{record}\nleft: \"{plan}\" is not done yet, so nothing of it is written down; answer again when it is"
            ),
        );
    }
}

/// The look and the work that waits for it, in one line.
#[test]
fn of_two_kinds_of_work_one_is_done_and_the_other_not_yet() {
    let not_yet = "left: \"head back not yet\" is not done yet, so nothing of it is written down; answer again when it is";
    let seen = format!("2026-07-21 C-14 lines 3/10\n{not_yet}");
    check_asked("callus-check", "lines 3/10, head back not yet", &seen);
    check_asked("callus-check", "C-14 lines 3/10; head back not yet", &seen);
    check_asked(
        "look-again",
        "look done but head back not yet",
        &format!("2026-07-21 C-14 looked\n{not_yet}"),
    );
    check_asked(
        "look-again",
        "Looked, C-14 tape off not yet",
        "unread: it does not say for which batches it is done; name them, as in C-14 headed back",
    );
    // A look for lines is answered with what was seen, whatever follows it.
    check_asked(
        "callus-check",
        "look done, head back not yet",
        "unread: the letter asked to look, so it matters what was seen; write lines, no lines or lines 3/10",
    );
    for line in [
        "look done and head back not yet",
        "C-14 headed back, head back not yet",
    ] {
        check_unread(
            line,
            "something of it is done and something not yet; write a line for each, as in \"C-14 lines 3/10\" and \"C-14 not yet\"",
        );
    }
}

#[test]
fn what_was_looked_for_and_not_seen_is_no_plan() {
    check(
        "C-14 lines, C-15 no lines yet",
        "2026-07-21 C-14 lines\n2026-07-21 C-15 no-lines",
    );
}

#[test]
fn what_may_all_be_to_come_is_no_record() {
    for line in [
        "C-14 headed back, tomorrow",
        "head back C-14, rest tomorrow",
        "headed back C-14, if dry the rest tomorrow",
        "half done, rest tomorrow",
        "rest tomorrow, 70 done",
        "70 done and the rest on Friday",
        "headed back C-14, C-15 tomorrow",
    ] {
        let lines = read(line, Some("head-back"), &["C-14"]);
        assert!(
            meant(&lines[0]).starts_with("unread: "),
            "{line}: {}",
            meant(&lines[0])
        );
    }
    check_asked(
        "head-back",
        "rest done today",
        "2026-07-21 C-14 headed-back (rest done today)",
    );
    check_asked(
        "head-back",
        "headed back the rest",
        "2026-07-21 C-14 headed-back (headed back the rest)",
    );
}

fn all(words: &str) -> Vec<String> {
    let lines = read(words, Some("head-back"), &["C-14"]);
    lines.iter().map(meant).collect()
}

#[test]
fn lines_of_one_mail_add_up() {
    assert_eq!(
        all("C-14 headed back 60\nC-14 headed back 60"),
        [
            "2026-07-21 C-14 headed-back 60",
            "2026-07-21 C-14 headed-back 60\n? 60 headed-back on C-14, where 40 were left; is the count right?"
        ]
    );
    assert_eq!(
        all("block C headed back\nC-14 headed back 10")[1],
        "2026-07-21 C-14 headed-back 10\n? C-14 was all written down as headed-back before; was this another time?"
    );
    // What was not taken is not counted.
    assert_eq!(
        all("C-14 headed back 60 tomorrow\nC-14 headed back 60")[1],
        "2026-07-21 C-14 headed-back 60"
    );
}

#[test]
fn names_stand_as_they_were_written_and_in_the_examples() {
    check_unread("B 7 headed back C-15x", "C-15x is no batch and no count");
    check_unread(
        "B 7 not headed back",
        "with 'not' in it, it is not sure that it was done; write only what was done, as in B 7 headed back",
    );
    check_unread(
        "half of them",
        "with 'half' in it, it is not sure that it was done; write only what was done, as in C-14 headed back",
    );
    check_fresh(
        "nothing to report",
        "unread: with 'nothing' in it, it is not plain what was seen; where you looked for lines and saw none, write C-14 no lines",
    );
    check_unread("B 7 Drip closed", "'Drip' is not understood");
}
