//! Lines that name no batch, and speak of a place or of others: never for the batches of the letter.

use super::*;

/// With D-3 of the scion Moss Garden in the block Glasshouse, on a stock that no other has.
fn wider() -> Season {
    season().but(|s| {
        let first = s.batches[0].clone();
        s.batches.push(Batch {
            name: "D-3".into(),
            block: "Glasshouse".into(),
            scion: "Moss Garden".into(),
            understock: "Norway".into(),
            ..first
        });
    })
}

#[track_caller]
fn check_wide(line: &str, expect: &str) {
    let lines = read_in(&wider(), line, Some("head-back"), &["C-14", "C-15"]);
    assert_eq!(meant(&lines[0]), expect, "{line}");
}

/// In answer to a letter for C-14 and C-15.
#[test]
fn a_name_of_the_register_is_said_with_its_batches() {
    for line in [
        "Moss Garden no lines",
        "moss garden no lines",
        "no lines in Moss Garden",
        "no lines, Moss Garden",
        "Moss Garden: no lines",
        "Moss Garden, no lines",
    ] {
        check_wide(
            line,
            "unread: 'Moss Garden' is no batch or block; D-3 is of it. Name the batches, as in C-14 no lines",
        );
    }
    check_wide(
        "Moss Garden headed back",
        "unread: 'Moss Garden' is no batch or block; D-3 is of it. Name the batches, as in C-14 headed back",
    );
    check_wide(
        "Osakazuki done",
        "unread: 'Osakazuki' is no batch or block; C-14, C-15, B 7 are of it. Name the batches, as in C-14 done",
    );
    check_wide(
        "Glasshouse tied in",
        "unread: Glasshouse may be block Glasshouse; write it as in block Glasshouse headed back",
    );
    check_wide(
        "glasshouse tied in",
        "unread: 'Glasshouse' may be block Glasshouse; write a line for each, as in block Glasshouse headed back",
    );
    check_wide(
        "north wall headed back",
        "unread: 'North Wall' may be block North Wall; write a line for each, as in block North Wall headed back",
    );
    check_wide(
        "all at home headed back",
        "unread: 'home' is a site and no batch or block; name the batches, as in C-14 headed back",
    );
}

#[test]
fn what_may_be_a_name_or_a_place_is_asked_about() {
    for (line, name, like) in [
        ("Old Russet tape off", "Old Russet", "tape off"),
        ("no lines in the greenhouse", "greenhouse", "no lines"),
        ("lines 3/10, Polytunnel", "Polytunnel", "lines"),
        ("tape off. In the greenhouse", "greenhouse", "tape off"),
    ] {
        check(
            line,
            &format!("unread: '{name}' is no batch or block; name the batches, as in C-14 {like}"),
        );
    }
    check(
        "polytunnel no lines",
        "unread: 'polytunnel' is not understood, and no batch is named; name the batches, as in C-14 no lines",
    );
    for (line, word) in [
        ("the rest no lines", "rest"),
        ("Other batches no lines", "Other"),
        ("others headed back", "others"),
        ("everywhere else no lines", "else"),
        ("tunnel no lines", "tunnel"),
        ("north side headed back", "north"),
        ("headed back the rest", "rest"),
    ] {
        let lines = read(line, Some("head-back"), &["C-14", "C-15"]);
        let meant = meant(&lines[0]);
        let begins = format!("unread: '{word}' does not say which batches; name them, as in C-14 ");
        assert!(meant.starts_with(&begins), "{line}: {meant}");
    }
    for line in [
        "headed back, not the others",
        "headed back, C-15 not yet",
        "headed back, rest tomorrow",
    ] {
        check(
            line,
            "unread: it does not say for which batches it is done; name them, as in C-14 headed back",
        );
    }
    // Of a letter for one batch the rest is of its grafts, but what was seen on it is not all that is left.
    check_asked(
        "head-back",
        "the rest no lines",
        "unread: 'rest' does not say which batches; name them, as in C-14 no lines",
    );
    check_asked(
        "head-back",
        "tunnel no lines",
        "unread: 'tunnel' does not say which batches; name them, as in C-14 no lines",
    );
}

#[test]
fn what_says_nothing_of_where_is_passed_over() {
    let all = "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back";
    for line in [
        "headed back",
        "all headed back today, thanks",
        "Sorry, all headed back",
        "Maren: headed back",
        "Finally headed back",
        "headed back, thanks Jory",
        "Hi Jory, it's done",
        "that's done as asked",
        "Sorry, done",
        "headed back in time at last",
        "headed back all of them here",
    ] {
        let lines = read(line, Some("head-back"), &["C-14", "C-15"]);
        let found = meant(&lines[0]);
        let bare: Vec<&str> = found
            .lines()
            .map(|l| l.split(" (").next().unwrap())
            .collect();
        assert_eq!(bare.join("\n"), all, "{line}");
    }
    check(
        "headed back in the rain",
        "2026-07-21 C-14 headed-back (headed back in the rain)\n2026-07-21 C-15 headed-back (headed back in the rain)",
    );
    check(
        "headed back, sap is running",
        "2026-07-21 C-14 headed-back (headed back, sap is running)\n2026-07-21 C-15 headed-back (headed back, sap is running)",
    );
}

#[test]
fn beside_a_batch_only_another_name_speaks_against_it() {
    check_wide(
        "C-14 lines, Moss Garden no lines",
        "unread: 'Moss Garden' is no batch or block; D-3 is of it. Name the batches, as in C-14 lines",
    );
    check_wide(
        "C-14 and Moss Garden headed back",
        "unread: 'Moss Garden' is no batch or block; D-3 is of it. Name the batches, as in C-14 headed back",
    );
    check(
        "C-14 and Old Russet headed back",
        "unread: 'Old Russet' is no batch or block; name the batches, as in C-14 headed back",
    );
    for line in [
        "C-14 lines, the rest no lines",
        "C-14 lines, others no lines",
    ] {
        let found = meant(&read(line, Some("head-back"), &["C-14", "C-15"])[0]);
        assert!(
            found.contains("does not say which batches"),
            "{line}: {found}"
        );
    }
    for line in [
        "C-14 and the rest headed back",
        "C-14 and others headed back",
    ] {
        let found = meant(&read(line, Some("head-back"), &["C-14", "C-15"])[0]);
        assert!(found.contains("is no batch or block"), "{line}: {found}");
    }
    for line in [
        "C-14 (Osakazuki): headed back",
        "C-14, Osakazuki, headed back",
        "C-14 Osakazuki headed back",
        "Osakazuki C-14 headed back",
    ] {
        check(line, &format!("2026-07-21 C-14 headed-back ({line})"));
    }
    check(
        "C-14 headed back, Jory helped",
        "2026-07-21 C-14 headed-back (C-14 headed back, Jory helped)",
    );
}
