//! Letters that send people to work in the first summer.

use super::*;
use crate::care::tests::season::maple;

/// Two batches in block C and one in block A, grafted a day apart.
pub(super) fn three() -> Season {
    maple().but(|s| {
        let before = s.day(-1);
        another(s, "C-15", |b| {
            (b.scion, b.grafts) = ("Bloodgood".into(), 210);
        });
        another(s, "A-2", |b| {
            (b.block, b.grafts, b.grafted_on) = ("A".into(), 1, before);
        });
    })
}

#[test]
fn opened_by_warmth() {
    insta::assert_snapshot!(letter(&three(), 15, Kind::Opens), @r"
    Block C: look for callus lines now (2 batches, 310 grafts)

    Alder Fold Nursery, Thursday 16 July 2026

    LOOK FOR CALLUS LINES NOW
      Block C: 2 batches, 310 grafts, by Wed 22 Jul

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    Opened by warmth: 14.0 standard days since grafting, reached on
    Wed 15 Jul.

      C-14  100 grafts  by Wed 22 Jul
            Osakazuki: 14.0 standard days, 210 °C·d
      C-15  210 grafts  by Wed 22 Jul
            Bloodgood: 14.0 standard days, 210 °C·d

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 14 days, known to
    Wed 15 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn opened_by_a_record() {
    let season = maple().records("15 lines 8/10");
    insta::assert_snapshot!(letter(&season, 15, Kind::Opens), @r"
    Block C: head back now (1 batch, 100 grafts)

    Alder Fold Nursery, Thursday 16 July 2026

    HEAD BACK NOW
      Block C: 1 batch, 100 grafts, by Wed 22 Jul

    Head the stock back by two-thirds, evenly. If fewer than half of
    the trees looked at show lines, head back only those that do and
    look again in two days of mild weather.

    Opened by what was written down for Thu 16 Jul.

      C-14  100 grafts  by Wed 22 Jul
            Osakazuki: 14.0 standard days, 210 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (headed-back), or as here:
    graftwarden note C-14 headed-back

    -- 
    Temperatures at home: measured by the logger on 14 days, known to
    Wed 15 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn opened_by_records_in_parts() {
    let season = maple().records("16 lines 3/10, 17 headed-back 40, 17 lost 2");
    let notices = of_kind(&season, 0..0, 18, Kind::Opens);
    let seasons = std::slice::from_ref(&season);
    let text = Morning {
        seasons,
        n: 18,
        units: Units::Metric,
    }
    .write(&notices);
    insta::assert_snapshot!(text, @r"
    Block C: look again, then head back (1 batch, 58 grafts)

    Alder Fold Nursery, Sunday 19 July 2026

    LOOK AGAIN, THEN HEAD BACK
      Block C: 1 batch, 58 grafts, by Wed 22 Jul

    C-14: lines showed on 3 of 10 looked at, and 40 of 98 are done.
    Look at the others again, and do this only where lines show now.

    Head the stock back by two-thirds, evenly. If fewer than half of
    the trees looked at show lines, head back only those that do and
    look again in two days of mild weather.

    Opened by what was written down for Fri 17 Jul.

      C-14  58 left of 98 grafts  by Wed 22 Jul
            Osakazuki: 17.0 standard days, 255 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (headed-back), or as here:
    graftwarden note C-14 headed-back --count N

    -- 
    Temperatures at home: measured by the logger on 17 days, known to
    Sat 18 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn opened_by_warmth_alone_and_unseen() {
    let season = maple().records("14 looked");
    insta::assert_snapshot!(letter(&season, 19, Kind::Opens), @r"
    Block C: look first, then head back (1 batch, 100 grafts)

    Alder Fold Nursery, Monday 20 July 2026

    LOOK FIRST, THEN HEAD BACK
      Block C: 1 batch, 100 grafts, by Wed 22 Jul

    No lines are written down: look first, and head back only trees
    that show lines on both sides, by two-thirds, evenly. Cutting
    blind starves the callus and spoils the stock for re-grafting.

    Opened by warmth: 18.0 standard days since grafting, reached on
    Sun 19 Jul.

      C-14  100 grafts  by Wed 22 Jul
            Osakazuki: 18.0 standard days, 270 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Looked? Write it in the field records (lines, no-lines), or as
    here: graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 18 days, known to
    Sun 19 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn opened_by_the_calendar() {
    let season = maple().weather("120x8").records("36 no-lines");
    insta::assert_snapshot!(letter(&season, 36, Kind::Opens), @r"
    Block C: tape off and tie in now (1 batch, 100 grafts)

    Alder Fold Nursery, Thursday 6 August 2026

    TAPE OFF AND TIE IN NOW
      Block C: 1 batch, 100 grafts

    It has been cold, so this comes by the calendar: look, do not take
    the tape off by the date alone. Callus on both sides and scion
    firm: off, and tie to the stock. Otherwise slit the tape opposite
    the scion, rebind loosely and write down tape-eased.

    Opened by the calendar on Wed 5 Aug, for it has been cold.

      C-14  100 grafts
            Osakazuki: 7.0 standard days, 105 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (tape-off), or as here:
    graftwarden note C-14 tape-off

    -- 
    Temperatures at home: measured by the logger on 35 days, known to
    Wed 5 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn late() {
    let season = maple().records("15 lines, 16 headed-back, 22 tape-off 30");
    insta::assert_snapshot!(letter(&season, 29, Kind::Late), @r"
    Block C: late to tape off and tie in (1 batch, 70 grafts)

    Alder Fold Nursery, Thursday 30 July 2026

    LATE: TAPE OFF AND TIE IN
      Block C: 1 batch, 70 grafts, was due by Wed 29 Jul

    The time for this has run out and it is not all written down.
    Done? Write it down with its date. Not done? It is still worth
    doing: look first.

    Callus on both sides and scion firm: tape off, tie the scion to
    the stock, and head back a second time at the same visit if seven
    mild days have passed since the first. Otherwise slit the tape
    opposite the scion, rebind loosely, write down tape-eased, and
    look again in five mild days. Not before strong wind or heavy
    rain, and no bare trunks when 35 °C is forecast.

      C-14  70 left of 100 grafts  was due Wed 29 Jul
            Osakazuki: 28.0 standard days, 420 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (tape-off), or as here:
    graftwarden note C-14 tape-off

    -- 
    Temperatures at home: measured by the logger on 28 days, known to
    Wed 29 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn no_longer_due() {
    let season = three();
    let mut ledger = Ledger::default();
    for notice in news(&season, 15, &ledger, &[]) {
        enter(&mut ledger, &notice, season.day(15));
    }
    let corrected = three().weather("12x20 3x5 40x20");
    let mut notices = news(&corrected, 16, &ledger, &[]);
    notices.retain(|n| n.kind == Kind::NoLongerDue);
    let seasons = &[corrected];
    insta::assert_snapshot!(Morning { seasons, n: 16, units: Units::Metric }.write(&notices), @r"
    No longer due, Blocks A and C: look for callus lines (3 batches, 311 grafts)

    Alder Fold Nursery, Friday 17 July 2026

    NO LONGER DUE: LOOK FOR CALLUS LINES

    A-2: the temperatures have been corrected since, and it was not
    warm enough by Tue 14 Jul.

    C-14 and C-15: the temperatures have been corrected since, and it
    was not warm enough by Wed 15 Jul. By what is known now it comes
    tomorrow, with the warmth of today.

    -- 
    Temperatures at home: measured by the logger on 16 days, known to
    Thu 16 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn everything_at_once() {
    let season = maple();
    let mut notices = Vec::new();
    let mut ledger = Ledger::default();
    for n in [15, 21] {
        for notice in news(&season, n, &ledger, &[]) {
            enter(&mut ledger, &notice, season.day(n));
        }
    }
    notices.extend(news(&season, 29, &ledger, &[]));
    let seasons = std::slice::from_ref(&season);
    insta::assert_snapshot!(Morning { seasons, n: 29, units: Units::Metric }.write(&notices), @r"
    Block C: no look is written down, look first (1 batch, 100 grafts)

    Alder Fold Nursery, Thursday 30 July 2026

    NO LOOK IS WRITTEN DOWN: LOOK FIRST
      Block C: 1 batch, 100 grafts, was due by Wed 22 Jul

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
      Tape off and tie in: Take the tape off only where callus shows
      on both sides and the scion is firm; tie that to the stock.
      Elsewhere slit the tape opposite the scion, rebind loosely,
      write down tape-eased, and look again in five mild days. Not
      before strong wind or heavy rain, and no bare trunks when 35 °C
      is forecast.
      Re-graft only where the scion is dead or shows no callus on
      either side: leave the stock unheaded, and graft on the opposite
      side, 5 to 10 cm lower, if the bark still slips. Write down
      regrafted with the number; they become a batch of their own.

      C-14  100 grafts  was due Wed 22 Jul
            Osakazuki: 28.0 standard days, 420 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 28 days, known to
    Wed 29 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn no_window_was_due_by_days_that_were_mostly_put_in() {
    let told = |pattern: &str, kind| {
        let season = maple().weather(&pattern.repeat(40));
        let notices = of_kind(&season, 0..0, 25, kind);
        Morning {
            seasons: std::slice::from_ref(&season),
            n: 25,
            units: Units::Metric,
        }
        .write(&notices)
    };
    // Two days of three are filled in; the look would have run out on day 21.
    let rough = told("1x20 2x? ", Kind::Opens);
    assert!(rough.contains("about 24.0 standard days"), "{rough}");
    assert!(!rough.contains("was due"), "{rough}");
    let known = told("4x20 1x? ", Kind::Late);
    assert!(known.contains("was due"), "{known}");
}
