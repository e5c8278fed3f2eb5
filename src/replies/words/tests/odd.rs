//! What people write beside what was meant to be written, each read as the person would have it read, or asked about.

use super::*;

#[test]
fn what_says_nothing_of_work_is_no_record() {
    for line in ["thx", "Have a nice weekend all!", "see you tomorrow"] {
        check(line, "Courtesy");
    }
    for line in [
        "\u{2705} C-14",
        "C14",
        "C-14 yes",
        "fertig",
        "\u{5d4}\u{5d5}\u{5e9}\u{5dc}\u{5dd} C-14",
        "\u{62a}\u{645}",
        "I'm ill today",
        "Hello, who wants lunch",
    ] {
        let lines = read(line, Some("head-back"), &["C-14", "C-15"]);
        assert!(
            matches!(lines[0].meant, Meant::Unread { .. }),
            "{line}: {lines:?}"
        );
    }
    check_unread(
        "please stop these mails",
        "letters are not stopped by an answer",
    );
    check_unread("unsubscribe", "letters are not stopped by an answer");
}

#[test]
fn not_yet_may_say_why() {
    for line in [
        "not yet, too hot",
        "can't today, raining",
        "too wet today",
        "rained off",
        "tmrw",
        "C-14 not yet, too dry",
    ] {
        check(line, "Later");
    }
    check_unread("C-14 not yet 50", "with 'not' in it");
}

/// A number after a batch and a comma is most likely another batch.
#[test]
fn a_row_of_batches_is_named_batch_by_batch() {
    for line in [
        "C-14, 15 headed back",
        "C-14 and 15 headed back",
        "C-14 & 15 headed back",
    ] {
        check_unread(line, "15 after C-14 may be C-15 or a count");
    }
    for line in ["C-14 to C-15 headed back", "C-14 - C-15 headed back"] {
        check_unread(
            line,
            "it is not plain which batches lie between C-14 and C-15",
        );
    }
    check(
        "C-14 & C-15 headed back",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
    check("C-14, 12 dead", "2026-07-21 C-14 dead 12");
}

#[test]
fn a_block_without_its_word_is_asked_about() {
    check_unread("all of C headed back", "C may be block C");
    check_unread("in C headed back", "C may be block C");
    check("C block headed back", "2026-07-21 block:C headed-back");
}

#[test]
fn counts_in_other_ways() {
    check_unread("C-14 headed back -5", "-5 is no batch and no count");
    check("c 14 lines 3 of 10", "2026-07-21 C-14 lines 3/10");
    check("C-14 lines 7 / 10", "2026-07-21 C-14 lines 7/10");
    check("C-14 lines 7 in 10", "2026-07-21 C-14 lines 7/10");
    check("C-14 lines: no", "2026-07-21 C-14 no-lines");
    check("C-14 lines - none", "2026-07-21 C-14 no-lines");
    check("still no lines on C-14", "2026-07-21 C-14 no-lines");
    check_unread(
        "C-14 nothing to see",
        "with 'nothing' in it, it is not plain what was seen",
    );
    check_unread(
        "C-14 headed back 8/9",
        "'8/9' is not a count of grafts; write how many, or where it is a date",
    );
}

#[test]
fn dates_in_other_ways() {
    for (said, date) in [
        ("on the 18th", "2026-07-18"),
        ("Monday 20th", "2026-07-20"),
        ("Mon 20 July", "2026-07-20"),
        ("2026/07/20", "2026-07-20"),
    ] {
        check(
            &format!("C-14 headed back {said}"),
            &format!("{date} C-14 headed-back"),
        );
    }
    check_unread(
        "C-14 headed back 31 Feb",
        "31 Feb is no day of the calendar",
    );
    check_unread("C-14 headed back Mon 19 July", "it has two dates");
    check(
        "C-14 headed back last Friday",
        "2026-07-17 C-14 headed-back (C-14 headed back last Friday)",
    );
    // The newest 25th that has come is of June.
    check_unread("C-14 headed back the 25th", "2026-06-25 lies before C-14");
}

#[test]
fn what_is_said_twice_is_said_once() {
    check(
        "done done done",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
    check("Hi, c-14 lines 8/10 :)", "2026-07-21 C-14 lines 8/10");
}

/// Who named one batch wrongly and left another open must mend both.
#[test]
fn a_wrong_name_is_said_before_anything_else() {
    check_unread(
        "C-41 lines 3/10, C-14 70 headed back the rest",
        "there is no batch C-41; perhaps C-14 is meant. It is not plain how much",
    );
}

#[test]
fn ten_thousand_lines_are_each_read() {
    let words = "the fox was here\n".repeat(9_999) + "C-14 lines 3/10";
    let lines = read(&words, Some("head-back"), &["C-14"]);
    assert_eq!(lines.len(), 10_000);
    assert_eq!(meant(&lines[9_999]), "2026-07-21 C-14 lines 3/10");
}
