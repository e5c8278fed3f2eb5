//! Work in the words in which letters ask for it, and counts, days and times beside it.

use super::*;

/// A hundred grafts B-2 of this plan, in answer to a letter about them; what is asked about them is left out.
#[track_caller]
fn check_of(plan: &str, line: &str, expect: &str) {
    let season = Season::new(plan, "2026-07-01")
        .weather("120x20")
        .but(|s| s.batches[0].name = "B-2".into());
    let found = meant(&read_in(&season, line, Some("head-back"), &["B-2"])[0]);
    assert_eq!(found.lines().next().unwrap(), expect, "{plan}: {line}");
}

#[test]
fn the_title_of_a_step_is_its_work() {
    let apple = "apple chip bud";
    check_of(apple, "B-2 tie off", "2026-07-21 B-2 tape-off");
    check_of(apple, "B-2 slit the tie", "2026-07-21 B-2 tape-off");
    check_of(apple, "B-2 tie slit 80", "2026-07-21 B-2 tape-off 80");
    check_of(
        apple,
        "B-2 slit or take off the tie",
        "2026-07-21 B-2 tape-off",
    );
    check_of(apple, "B-2 bud again 20", "2026-07-21 B-2 regrafted 20");
    check_of(apple, "B-2 budded again 20", "2026-07-21 B-2 regrafted 20");
    check_of(
        apple,
        "B-2 headed back to the bud",
        "2026-07-21 B-2 headed-back",
    );
    check_of(apple, "B-2 tied the shoots in", "2026-07-21 B-2 tied-in");
    check_of(apple, "count the take 90", "2026-07-21 B-2 take 90");
    // Two things, though the step of that title brings one.
    check_asked(
        "tape-off",
        "tape off and tied in",
        "2026-07-21 C-14 tape-off\n2026-07-21 C-14 tied-in\n? 'tape off and tie in' of C-14 is not due yet; is tape-off really meant for it?",
    );
    let walnut = "walnut field graft";
    check_of(
        walnut,
        "B-2 shortened nurse branches",
        "2026-07-21 B-2 headed-back",
    );
    check_of(
        walnut,
        "B-2 took the nurse branches off",
        "2026-07-21 B-2 headed-back-again",
    );
    let veneer = "side-veneer under glass";
    check_of(veneer, "tie off", "2026-07-21 B-2 tape-off");
    check_of(
        veneer,
        "B-2 gave air, eased the ties",
        "2026-07-21 B-2 tape-eased",
    );
    let grape = "grape bench graft";
    check_of(
        grape,
        "uncovered and hardened off",
        "2026-07-21 B-2 tape-off",
    );
    check_of(grape, "planted out", "2026-07-21 B-2 tied-in");
}

/// For a look it matters what was seen, and what ends a batch is written so.
#[test]
fn the_title_of_a_look_or_of_an_end_is_none() {
    let nothing = "unread: it does not say what was seen or done; write it as in B-2 headed back, B-2 lines 3/10 or B-2 tape off 18 Aug";
    check_of("apple chip bud", "B-2 look at the buds", nothing);
    check_of("apple chip bud", "B-2 look again", nothing);
    check_of("grape bench graft", "B-2 lifted and graded", nothing);
}

/// The maple plan slits the tape where it eases it.
#[test]
fn slit_is_asked_about_where_the_step_does_not_say_it() {
    check(
        "C-14 tape slit",
        "2026-07-21 C-14 tape-eased\n? 'slit' was taken as tape-eased of C-14; is that right, and the tie not off?",
    );
}

#[test]
fn callus_alone_is_pointed_at_its_words() {
    check("C-14 callus over scion", "2026-07-21 C-14 over-callused");
    for line in ["C-14: no callus yet", "no callus seen on C-14"] {
        check(
            line,
            "unread: where you looked for lines and saw none, write C-14 no lines",
        );
    }
    check(
        "C-14 callus is growing over",
        "unread: where callus has grown over the scion, write C-14 over callused",
    );
    check(
        "C-14 callus",
        "unread: where callus lines show, write C-14 lines 3/10, and where it has grown over the scion, C-14 over callused",
    );
}

#[test]
fn a_look_with_nothing_to_report_is_a_look() {
    check("C-14 looked, nothing to report", "2026-07-21 C-14 looked");
    check(
        "looked at C-14, nothing to report",
        "2026-07-21 C-14 looked",
    );
    check_unread(
        "C-14 headed back, nothing to report",
        "with 'nothing' in it",
    );
}

#[test]
fn a_count_is_of_the_work_that_it_stands_before() {
    check(
        "C-14: headed back, 12 dead",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-14 dead 12",
    );
    check(
        "C-14 2 dead, 1 lost",
        "2026-07-21 C-14 dead 2\n2026-07-21 C-14 lost 1",
    );
    check(
        "C-14 headed back 60, 12 dead and 3 lost",
        "2026-07-21 C-14 headed-back 60\n2026-07-21 C-14 dead 12\n2026-07-21 C-14 lost 3",
    );
    check(
        "12 dead C-14, 5 dead C-15",
        "2026-07-21 C-14 dead 12\n2026-07-21 C-15 dead 5",
    );
    check(
        "C-14 headed back, dead 12, lost 3",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-14 dead 12\n2026-07-21 C-14 lost 3",
    );
    check(
        "C-14 2 dead 1 lost",
        "2026-07-21 C-14 dead 2\n2026-07-21 C-14 lost 1",
    );
    check_unread("C-14 headed back 80, 20 done", "it has two counts");
    check_asked(
        "head-back",
        "headed back, 40 done",
        "2026-07-21 C-14 headed-back 40",
    );
    check_unread(
        "C-14 headed back 12 dead",
        "the count before 'dead' may be of that or of what stands before it",
    );
    check_unread("C-14 headed back 80 20", "it has two counts");
}

#[test]
fn a_day_that_is_about_to_come_is_not_one_of_last_year() {
    check_unread(
        "C-14 headed back 22.7.",
        "22.7. is tomorrow; write it when it is done, or with its year",
    );
    check_unread(
        "C-14 headed back 18 Aug",
        "18 Aug comes in 28 days; write it when it is done, or with its year",
    );
}

#[test]
fn times_of_day_and_wishes_change_nothing() {
    for line in [
        "Did C-14 lines 4/10 today",
        "C-14 lines 4/10 this am",
        "C-14 lines 4/10 at 4pm",
        "C-14 lines 4/10 4.30 pm",
        "C-14 lines 4/10 at 16:30",
        "4 pm C-14 lines 4/10",
        "C-14 lines 4/10 at 4 o'clock",
        "C-14 lines 4/10, see you tomorrow!",
        "C-14 lines 4/10 - have a nice weekend",
    ] {
        check(line, "2026-07-21 C-14 lines 4/10");
    }
    check(
        "done, see you tomorrow",
        "2026-07-21 C-14 headed-back\n2026-07-21 C-15 headed-back",
    );
    check_unread("C-14 headed back see you tomorrow", "with 'tomorrow'");
}
