//! Letters of spells of heat.

use super::*;
use crate::care::tests::season::maple;

/// Heat from day 20 on, three days foreseen, three batches with the tape on.
pub(super) fn hot(weather: &str) -> Season {
    maple()
        .records("15 lines, 16 headed-back")
        .weather(weather)
        .but(|s| {
            s.horizon = 3;
            another(s, "C-15", |b| b.scion = "".into());
            another(s, "D-1", |b| b.block = "D".into());
        })
}

#[test]
fn hot_by_forecast() {
    insta::assert_snapshot!(letter(&hot("20x20 4x33 40x20"), 19, Kind::HeatSpike), @r"
    Hot spell Tue 21 - Wed 22 Jul: 3 batches at home

    Alder Fold Nursery, Monday 20 July 2026

    HOT SPELL AT HOME, TUE 21 - WED 22 JUL

    By the forecast up to 33 °C, while the unions of C-14, C-15 and
    D-1 are callusing or in tape.

    It brings 3.3 standard days in 2 days. Their windows come 1 day
    earlier.

    Look at the strongest stocks first. Take off no tape and bare no
    trunks in this heat; water, and shade where you can.

    Block C
      C-14  100 grafts
            Osakazuki: 18.0 standard days, 270 °C·d
      C-15  100 grafts
            18.0 standard days, 270 °C·d
    Block D
      D-1   100 grafts
            Osakazuki: 18.0 standard days, 270 °C·d

    For the crew: start early, rest in the shade, drink before you are
    thirsty, look after each other. Local rules and qualified advice
    come first.

    -- 
    Temperatures at home: measured by the logger on 18 days, known to
    Sun 19 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn very_hot_and_on() {
    insta::assert_snapshot!(letter(&hot("20x20 2x33 2x36 40x20"), 20, Kind::HeatSpike), @r"
    Very hot spell Tue 21 - Thu 23 Jul: 3 batches at home

    Alder Fold Nursery, Tuesday 21 July 2026

    VERY HOT SPELL AT HOME, TUE 21 - THU 23 JUL

    By the forecast up to 36 °C, while the unions of C-14, C-15 and
    D-1 are callusing or in tape.

    It brings 5.0 standard days in 3 days. Their windows come 2 days
    earlier.

    Look at the strongest stocks first. Take off no tape and bare no
    trunks in this heat; water, and shade where you can.

    Not to be put off for it, for over-callusing runs on the faster:
    head back C-15 and D-1, early in the morning, where lines show on
    both sides.

    Block C
      C-14  100 grafts
            Osakazuki: 19.0 standard days, 285 °C·d
      C-15  100 grafts
            19.0 standard days, 285 °C·d
    Block D
      D-1   100 grafts
            Osakazuki: 19.0 standard days, 285 °C·d

    For the crew: move heavy work to dawn, shade and cool water at
    hand, rest often, never alone. Local rules and qualified advice
    come first.

    -- 
    Temperatures at home: measured by the logger on 19 days, known to
    Mon 20 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn injuring_and_over() {
    let season = hot("20x20 1x38.4 40x20")
        .but(|s| s.horizon = 0)
        .records("30 tape-off");
    let notices = of_kind(&season, 0..0, 22, Kind::HeatSpike);
    let seasons = std::slice::from_ref(&season);
    let text = Morning {
        seasons,
        n: 22,
        units: Units::Metric,
    }
    .write(&notices);
    insta::assert_snapshot!(text, @r"
    Dangerous heat Tue 21 Jul: 3 batches at home

    Alder Fold Nursery, Thursday 23 July 2026

    DANGEROUS HEAT AT HOME, TUE 21 JUL

    It was up to 38 °C, while the unions of C-14, C-15 and D-1 were
    callusing or in tape. A single day of this may injure them.

    It brought 1.7 standard days in 1 day. Their windows have hardly
    moved.

    Look at them soon, the strongest stocks first: callus may have run
    on or been hurt.

    Block C
      C-14  100 grafts
            Osakazuki: 21.7 standard days, 325 °C·d
      C-15  100 grafts
            21.7 standard days, 325 °C·d
    Block D
      D-1   100 grafts
            Osakazuki: 21.7 standard days, 325 °C·d

    -- 
    Temperatures at home: measured by the logger on 21 days, known to
    Wed 22 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn in_the_measures_of_the_us() {
    let season = hot("20x20 4x35 40x20");
    let seasons = std::slice::from_ref(&season);
    let write = |kind| {
        Morning {
            seasons,
            n: 19,
            units: Units::Us,
        }
        .write(&of_kind(&season, 0..0, 19, kind))
    };
    insta::assert_snapshot!(write(Kind::HeatSpike), @r"
    Very hot spell Tue 21 - Wed 22 Jul: 3 batches at home

    Alder Fold Nursery, Monday 20 July 2026

    VERY HOT SPELL AT HOME, TUE 21 - WED 22 JUL

    By the forecast up to 95 °F, while the unions of C-14, C-15 and
    D-1 are callusing or in tape.

    It brings 3.3 standard days in 2 days. Their windows come 1 day
    earlier.

    Look at the strongest stocks first. Take off no tape and bare no
    trunks in this heat; water, and shade where you can.

    Block C
      C-14  100 grafts
            Osakazuki: 18.0 standard days, 486 °F·d
      C-15  100 grafts
            18.0 standard days, 486 °F·d
    Block D
      D-1   100 grafts
            Osakazuki: 18.0 standard days, 486 °F·d

    For the crew: move heavy work to dawn, shade and cool water at
    hand, rest often, never alone. Local rules and qualified advice
    come first.

    -- 
    Temperatures at home: measured by the logger on 18 days, known to
    Sun 19 Jul.
    Heat for maple field T-graft: single sine above 41 °F, horizontal
    cutoff at 86 °F. One standard day is 27.0 °F·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
    insta::assert_snapshot!(write(Kind::Opens), @r"
    Blocks C and D: no look is written down, look first (2 batches, 200 grafts)

    Alder Fold Nursery, Monday 20 July 2026

    NO LOOK IS WRITTEN DOWN: LOOK FIRST
      Block C: 1 batch, 100 grafts, by Wed 22 Jul
      Block D: 1 batch, 100 grafts, by Wed 22 Jul

    Head back: The heat foretold for Tue 21 - Wed 22 Jul (up to 95 °F)
    lasts as long as there is time for this: do it before it, or early
    in the morning, and shade what is bared.

    No look at these is written down. Was there one? Write down what
    was seen, with its date. What is to be done depends on what you
    find.

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    What may be found, and what to do then:
      Head back only trees that show lines on both sides, by
      two-thirds, evenly. Cutting blind starves the callus and spoils
      the stock for re-grafting.

    Block C
      C-15  100 grafts  by Wed 22 Jul
            18.0 standard days, 486 °F·d
    Block D
      D-1   100 grafts  by Wed 22 Jul
            Osakazuki: 18.0 standard days, 486 °F·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note C-15 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 18 days, known to
    Sun 19 Jul.
    Heat for maple field T-graft: single sine above 41 °F, horizontal
    cutoff at 86 °F. One standard day is 27.0 °F·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn hot_where_the_years_before_are_known() {
    let season = hot("20x20 4x33 40x20").but(|s| s.past = past(22.0));
    insta::assert_snapshot!(letter(&season, 19, Kind::HeatSpike), @r"
    Hot spell Tue 21 - Wed 22 Jul: 3 batches at home

    Alder Fold Nursery, Monday 20 July 2026

    HOT SPELL AT HOME, TUE 21 - WED 22 JUL

    By the forecast up to 33 °C, while the unions of C-14, C-15 and
    D-1 are callusing or in tape.

    It brings 3.3 standard days in 2 days, where 2.3 are usual. Their
    windows come 1 day earlier.

    Look at the strongest stocks first. Take off no tape and bare no
    trunks in this heat; water, and shade where you can.

    Block C
      C-14  100 grafts
            Osakazuki: 18.0 standard days, 270 °C·d
      C-15  100 grafts
            18.0 standard days, 270 °C·d
    Block D
      D-1   100 grafts
            Osakazuki: 18.0 standard days, 270 °C·d

    For the crew: start early, rest in the shade, drink before you are
    thirsty, look after each other. Local rules and qualified advice
    come first.

    -- 
    Temperatures at home: measured by the logger on 18 days, known to
    Sun 19 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn the_spell_is_over() {
    let season = hot("20x20 3x33 40x20")
        .but(|s| s.past = past(22.0))
        .records("21 looked");
    insta::assert_snapshot!(letter(&season, 23, Kind::SpellOver), @r"
    The hot spell at home is over

    Alder Fold Nursery, Friday 24 July 2026

    THE HOT SPELL AT HOME IS OVER

    The spell of Tue 21 - Thu 23 Jul (up to 33 °C) is over: 5.0
    standard days in 3 days, where 3.4 are usual; windows of these 3
    batches now come 2 days earlier (C-14, C-15 and D-1).

    -- 
    Temperatures at home: measured by the logger on 22 days, known to
    Thu 23 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn the_spell_did_not_come() {
    let foretold = hot("20x20 3x33 40x20");
    insta::assert_snapshot!(letter_after(&foretold, &hot("80x20"), 20, Kind::RiskOver), @r"
    Not any more: hot spell at home, Tue 21 - Wed 22 Jul

    Alder Fold Nursery, Tuesday 21 July 2026

    NOT ANY MORE

    Hot spell at home, Tue 21 - Wed 22 Jul: by the forecast of today
    it does not come.

    -- 
    Temperatures at home: measured by the logger on 19 days, known to
    Mon 20 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn cold_moves_windows_out() {
    let season = maple()
        .weather("10x20 4x8 60x20")
        .but(|s| another(s, "C-15", |b| b.grafts = 40));
    insta::assert_snapshot!(letter(&season, 13, Kind::ColdStall), @r"
    Cold at home Sat 11 - Tue 14 Jul: windows come later

    Alder Fold Nursery, Tuesday 14 July 2026

    COLD AT HOME: WINDOWS COME LATER

    It has been cold, Sat 11 - Tue 14 Jul, the last by forecast: 0.8
    standard days in 4 days; windows of these 2 batches now come 4
    days later (C-14 and C-15). There is nothing to do but wait:
    callus comes with the warmth.

    -- 
    Temperatures at home: measured by the logger on 12 days, known to
    Mon 13 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn the_crew_is_told_to_drink_on_a_warm_day() {
    let warm = |max: &str| maple().weather(&format!("15x20 1x13/{max} 40x20"));
    let told = |max| {
        let text = letter(&warm(max), 15, Kind::Opens);
        text.contains("For the crew: water and shade at hand.")
    };
    assert_eq!((told("26.9"), told("27")), (false, true));
}
