//! Letters of limits and closes that no forecast reaches.

use super::work::three;
use super::*;

#[test]
fn at_risk_by_the_years_before() {
    let years = three().without_forecast().but(|s| {
        for (year, mean) in [(2023, 15.0), (2024, 20.0), (2025, 26.0)] {
            let first = chrono::NaiveDate::from_ymd_opt(year, 7, 1).unwrap();
            for day in first.iter_days().take(200) {
                s.past.add(year, day, mean, mean);
            }
        }
    });
    insta::assert_snapshot!(letter(&years, 19, Kind::OverCallusRisk), @r"
    Block A: risk of over-callusing by about Thu 23 Jul (1 batch, 1 graft)

    Alder Fold Nursery, Monday 20 July 2026

    RISK OF OVER-CALLUSING BY ABOUT THU 23 JUL
      Block A: 1 batch, 1 graft, by about Thu 23 Jul

    No forecast reaches so far. In one of ten years before, the warmth
    at which over-callusing becomes a risk is reached by Thu 23 Jul:
    reckon with that day. The time to head back runs out before that,
    on Tue 21 Jul.

    A stock left whole may be driving the callus over the scion by
    then. Where lines show on both sides, head back; where none are
    seen, do not cut, look again.

      A-2  1 graft  by about Thu 23 Jul
           Osakazuki: 19.0 standard days, 285 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Looked? Write it in the field records (lines, no-lines), or as
    here: graftwarden note A-2 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 19 days, known to
    Sun 19 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn at_risk_and_closing_roughly() {
    let rough = three().without_forecast();
    insta::assert_snapshot!(letter(&rough, 20, Kind::OverCallusRisk), @r"
    Block A: risk of over-callusing by about Fri 24 Jul (1 batch, 1 graft)

    Alder Fold Nursery, Tuesday 21 July 2026

    RISK OF OVER-CALLUSING BY ABOUT FRI 24 JUL
      Block A: 1 batch, 1 graft, by about Fri 24 Jul

    No forecast reaches so far. If it stays as warm as it has been,
    the warmth at which over-callusing becomes a risk is reached by
    Fri 24 Jul: reckon with that day. The time to head back runs out
    before that, on Tue 21 Jul. Today is the last working day for it.

    A stock left whole may be driving the callus over the scion by
    then. Where lines show on both sides, head back; where none are
    seen, do not cut, look again.

      A-2  1 graft  by about Fri 24 Jul
           Osakazuki: 20.0 standard days, 300 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Looked? Write it in the field records (lines, no-lines), or as
    here: graftwarden note A-2 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 20 days, known to
    Mon 20 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
    insta::assert_snapshot!(letter(&rough, 21, Kind::LastCall), @r"
    Block C: last working day: no look is written down, look first (2 batches, 310 grafts)

    Alder Fold Nursery, Wednesday 22 July 2026

    LAST WORKING DAY: NO LOOK IS WRITTEN DOWN, LOOK FIRST
      Block C: 2 batches, 310 grafts, by roughly Wed 22 Jul

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

      C-14  100 grafts  by about Wed 22 Jul
            Osakazuki: 20.0 standard days, 300 °C·d
      C-15  210 grafts  by about Wed 22 Jul
            Bloodgood: 20.0 standard days, 300 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 20 days, known to
    Tue 21 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn one_date_a_batch_is_that_of_the_limit_where_it_comes_first() {
    // Not headed back: the limit of 24 standard days comes before the 28 of the tape.
    let season = crate::care::tests::season::maple().records("15 lines");
    let text = letter(&season, 22, Kind::Opens);
    assert!(
        text.contains("Block C: 1 batch, 100 grafts, by Sat 25 Jul\n"),
        "{text}"
    );
    assert!(text.contains("C-14  100 grafts  by Sat 25 Jul\n"), "{text}");
    let text = text.replace('\n', " ");
    assert!(text.contains("The day given is that of over-callusing: the risk of it may come before the window closes."), "{text}");
    assert!(!text.contains("Wed 29 Jul"), "{text}");
}
