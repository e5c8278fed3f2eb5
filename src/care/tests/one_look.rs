//! What one look decides between.

use super::season::{Season, maple};

/// The tasks that are due on day `n`, and how many of them one look decides between.
#[track_caller]
fn check(season: &Season, n: i64, tasks: &[&str], of_one_look: usize) {
    let found = season.on(n, |care| {
        let due = care.steps.iter().filter(|s| s.state.is_due());
        let tasks: Vec<String> = due.map(|step| care.task(step)).collect();
        (tasks, care.one_look().len())
    });
    let tasks = tasks.iter().map(|&task| task.to_owned()).collect();
    assert_eq!(found, (tasks, of_one_look));
}

const LOOK: &str = "look for callus lines";
const HEAD: &str = "look first, then head back";
const TAPE: &str = "look first, then tape off and tie in";
const GRAFT: &str = "look first, then re-graft";

#[test]
fn where_nobody_has_looked_everything_waits_for_one_look() {
    check(&maple(), 15, &[LOOK], 0);
    check(&maple(), 19, &[LOOK, HEAD], 0);
    // Tape does not wait for the record of heading back, but for a look.
    check(&maple(), 22, &[LOOK, HEAD, TAPE], 3);
    check(&maple(), 25, &[LOOK, HEAD, TAPE, GRAFT], 4);
}

#[test]
fn whoever_has_looked_or_headed_back_takes_the_tape_off() {
    let tape = "tape off and tie in";
    let seen = maple().records("16 lines");
    check(&seen, 22, &["head back", tape], 0);
    let headed = maple().records("16 headed-back");
    check(&headed, 22, &["look again", tape], 0);
    // Somebody has looked at the tape; whether to cut or to graft anew is still for a look.
    let looked = maple().records("20 looked");
    check(&looked, 22, &[LOOK, HEAD, tape], 3);
    let none = maple().records("22 no-lines");
    // No lines hold heading back for three standard days.
    check(&none, 25, &[tape, GRAFT], 2);
    check(&none, 26, &[HEAD, tape, GRAFT], 3);
}

#[test]
fn the_dead_are_grafted_anew_whatever_a_look_shows() {
    let season = maple().records("16 lines, 22 dead 5");
    let due = ["head back", "tape off and tie in", "re-graft"];
    check(&season, 25, &due, 0);
}

#[test]
fn buds_are_looked_at_before_they_are_set_anew() {
    let apple = Season::new("apple chip bud", "2026-07-01").weather("120x18");
    let due = [
        "look at the buds",
        "look first, then bud again",
        "look first, then slit or take off the tie",
    ];
    check(&apple, 29, &due, 3);
}
