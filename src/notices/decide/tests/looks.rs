//! Looks that no window asks for: early ones to learn, and at sisters.

use super::*;
use crate::care::Lines;

/// Of its scion so many batches have been looked at; looking is asked for.
fn known(season: Season, batches: usize) -> Season {
    season.but(|s| {
        s.lines = Lines {
            known: Some(batches),
            ..Lines::default()
        };
    })
}

/// C-14 grafted on day 0, C-15 of the same scion `later` days after it.
fn two(later: i64) -> Season {
    maple().but(|s| {
        let mut batch = s.batches[0].clone();
        (batch.name, batch.grafted_on) = ("C-15".into(), s.day(later));
        s.batches.push(batch);
    })
}

#[test]
fn one_batch_of_a_scion_is_looked_at_early() {
    // 11 standard days are reached on day 11; C-15, grafted after it, is not asked for.
    check(
        &known(two(3), 0),
        10..16,
        &["12: sentinel callus-check 11", "15: opens callus-check 14"],
    );
}

#[test]
fn a_scion_that_is_known_well_is_not_looked_at_early() {
    check(
        &known(maple(), 9),
        10..14,
        &["12: sentinel callus-check 11"],
    );
    check(&known(maple(), 10), 10..14, &[]);
    check(&maple(), 10..14, &[]);
    check(
        &known(maple().but(|s| s.batches[0].scion = "".into()), 0),
        10..14,
        &[],
    );
}

#[test]
fn who_has_looked_is_not_asked_to_look_early() {
    Played::default()
        .rounds(&known(maple().records("9 no-lines"), 0), 10..14)
        .check_of("sentinel", &[]);
    check(&known(maple().records("5 closed"), 0), 10..14, &[]);
    // Day 12 is a Wednesday off, day 13 too: on day 15 the window itself has opened.
    let off = |s: &mut Season| {
        s.workdays = Workdays::new(&[Weekday::Thu], vec![]);
    };
    check(
        &known(maple().but(off), 0),
        10..16,
        &["15: opens callus-check 14"],
    );
}

#[test]
fn a_new_season_asks_anew() {
    let next = known(two(365), 0);
    let season = next.weather("500x20");
    Played::default()
        .rounds(&season, 11..13)
        .rounds(&season, 376..379)
        .check_of(
            "sentinel",
            &[
                "12: sentinel callus-check 11",
                "377: sentinel C-15 callus-check 376",
            ],
        );
}

#[test]
fn an_early_look_waits_for_the_least_day() {
    // 25 °C·d a day: 165 on day 7, but nobody looks before day 8.
    let hot = known(maple().weather("40x30"), 0);
    // Half-way to 210, at 187.5, it is day 8 as well: nobody comes early any more.
    check(&hot, 7..11, &["10: opens callus-check 9"]);
    let warm = known(maple().weather("40x28"), 0);
    // 23 °C·d: 165 on day 8, 187.5 on day 9.
    check(&warm, 7..10, &["9: sentinel callus-check 8"]);
}

#[test]
fn lines_in_one_batch_send_people_to_its_sisters_once() {
    let season = two(2).records("12 lines");
    let told = ["12: opens head-back 12", "12: sisters C-15 callus-check 12"];
    check(&season, 12..16, &told);
    let far = two(3).records("12 lines");
    check(&far, 12..16, &["12: opens head-back 12"]);
    let looked = two(2).records("12 lines, 11 C-15 no-lines");
    Played::default()
        .rounds(&looked, 12..16)
        .check_of("sisters", &[]);
    let other = two(2).but(|s| s.batches[1].scion = "Bloodgood".into());
    check(
        &other.records("12 lines"),
        12..16,
        &["12: opens head-back 12"],
    );
    // Its own window has opened: that is told, not this.
    let late = two(1).records("16 lines");
    Played::default()
        .rounds(&late, 15..20)
        .check_of("sisters", &[]);
}

#[test]
fn a_sister_is_not_asked_for_two_reasons() {
    let season = known(two(1), 0)
        .but(|s| s.batches.swap(0, 1))
        .records("11 C-14 lines");
    Played::default()
        .rounds(&season, 11..14)
        .check_of("sentinel", &[]);
}
