//! Letters that send people to look before a window opens, and what they say of windows that were moved.

use super::*;
use crate::care::tests::season::maple;
use crate::care::{Lines, Tuned};
use crate::outlook::Requirement;

#[test]
fn an_early_look_says_why() {
    let season = maple().but(|s| s.lines.known = Some(0));
    insta::assert_snapshot!(letter(&season, 12, Kind::Sentinel), @r"
    Block C: an early look, to learn (1 batch, 100 grafts)

    Alder Fold Nursery, Monday 13 July 2026

    AN EARLY LOOK: LOOK FOR CALLUS LINES
      Block C: 1 batch, 100 grafts

    To learn whether Osakazuki comes earlier than the plan says. Only
    who looks early sees it. This is asked of one batch of a scion a
    season; the others wait for their time. Write down lines or
    no-lines, both teach.

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

      C-14  100 grafts
            Osakazuki: 11.0 standard days, 165 °C·d

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 11 days, known to
    Sun 12 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn sisters_say_whose() {
    let season = maple().but(|s| another(s, "C-15", |b| b.grafts = 210));
    insta::assert_snapshot!(letter(&season.records("12 lines"), 12, Kind::Sisters), @r"
    Block C: the sisters show lines (1 batch, 210 grafts)

    Alder Fold Nursery, Monday 13 July 2026

    LOOK AT THE SISTERS TOO: LOOK FOR CALLUS LINES
      Block C: 1 batch, 210 grafts

    Lines were written down for C-14 on Mon 13 Jul, of the same scion
    and grafted within two days of these. What shows in one most
    likely shows in its sisters: look before their own time has come.

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

      C-15  210 grafts
            Osakazuki: 11.0 standard days, 165 °C·d

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note C-15 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 11 days, known to
    Sun 12 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

fn tuned(season: Season) -> Season {
    season.but(|s| {
        s.lines = Lines {
            tuned: Some(Box::new(Tuned {
                need: Requirement {
                    need: 15.57,
                    sd: 0.1,
                },
                usual: 17.15,
                batches: 4,
                of: "Osakazuki".into(),
            })),
            ..Lines::default()
        };
    })
}

/// The small print of a letter about one kind of news.
fn small_print(season: &Season, n: i64, kind: Kind) -> Vec<String> {
    let text = letter(season, n, kind);
    let (_, print) = text.split_once("-- \n").unwrap();
    print
        .lines()
        .filter(|line| line.contains("tuned"))
        .map(str::to_owned)
        .collect()
}

#[test]
fn a_letter_about_a_window_that_was_moved_says_by_what() {
    let phrase = ["Windows of C-14: tuned: 15.6 standard days by 4 batches of"];
    assert_eq!(small_print(&tuned(maple()), 15, Kind::Opens), phrase);
    assert_eq!(small_print(&maple(), 15, Kind::Opens), [""; 0]);
    let hot = maple().weather("20x20 3x34 30x20").without_forecast();
    let hot = tuned(hot.records("16 lines, 17 headed-back"));
    assert_eq!(small_print(&hot, 22, Kind::HeatSpike), phrase);
    // Tape comes off by the trade's own window.
    let taped = tuned(maple().records("16 lines, 17 headed-back"));
    assert_eq!(small_print(&taped, 22, Kind::Opens), [""; 0]);
}
