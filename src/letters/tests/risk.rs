//! Letters of the risk of over-callusing.

use super::work::three;
use super::*;
use crate::care::tests::season::maple;

#[test]
fn at_risk_in_some_days() {
    insta::assert_snapshot!(letter(&three(), 20, Kind::OverCallusRisk), @r"
    Block A: risk of over-callusing by Fri 24 Jul (1 batch, 1 graft)

    Alder Fold Nursery, Tuesday 21 July 2026

    RISK OF OVER-CALLUSING BY FRI 24 JUL
      Block A: 1 batch, 1 graft, by Fri 24 Jul

    By the forecast the warmth at which over-callusing becomes a risk
    is reached in 3 days, Fri 24 Jul. The time to head back runs out
    before that, on Tue 21 Jul. Today is the last working day for it.

    What moves it: the 4 days up to then bring 60 °C·d, about what
    days of usual weather bring.

    A stock left whole may be driving the callus over the scion by
    then. Where lines show on both sides, head back; where none are
    seen, do not cut, look again.

      A-2  1 graft  by Fri 24 Jul
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
}

#[test]
fn at_risk_today_and_at_risk_since() {
    let on_the_day = of_kind(&maple(), 0..0, 24, Kind::OverCallusRisk);
    let season = maple();
    let seasons = std::slice::from_ref(&season);
    let write = |n, notices: &[Notice]| {
        Morning {
            seasons,
            n,
            units: Units::Metric,
        }
        .write(notices)
    };
    insta::assert_snapshot!(write(24, &on_the_day), @r"
    Block C: risk of over-callusing by Sat 25 Jul (1 batch, 100 grafts)

    Alder Fold Nursery, Saturday 25 July 2026

    RISK OF OVER-CALLUSING BY SAT 25 JUL
      Block C: 1 batch, 100 grafts, by Sat 25 Jul

    By the forecast the warmth at which over-callusing becomes a risk
    is reached today, Sat 25 Jul.

    What moves it: today brings 15 °C·d, about what days of usual
    weather bring.

    A stock left whole may be driving the callus over the scion by
    then. Where lines show on both sides, head back; where none are
    seen, do not cut, look again.

      C-14  100 grafts  by Sat 25 Jul
            Osakazuki: 23.0 standard days, 345 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Looked? Write it in the field records (lines, no-lines), or as
    here: graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 23 days, known to
    Fri 24 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
    let after = of_kind(&maple(), 0..0, 27, Kind::OverCallusRisk);
    insta::assert_snapshot!(write(27, &after), @r"
    Block C: risk of over-callusing since Sat 25 Jul (1 batch, 100 grafts)

    Alder Fold Nursery, Tuesday 28 July 2026

    RISK OF OVER-CALLUSING SINCE SAT 25 JUL
      Block C: 1 batch, 100 grafts

    The warmth at which over-callusing becomes a risk was reached on
    Sat 25 Jul. Not all written down as done: head back.

    A stock left whole may be driving the callus over the scion by
    then. Where lines show on both sides, head back; where none are
    seen, do not cut, look again.

    No lines are written down: look first, and re-graft only where the
    scion is dead or shows no callus on either side: leave the stock
    unheaded, and graft on the opposite side, 5 to 10 cm lower, if the
    bark still slips. Write down regrafted with the number; they
    become a batch of their own.

      C-14  100 grafts  since Sat 25 Jul
            Osakazuki: 26.0 standard days, 390 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Looked? Write it in the field records (lines, no-lines), or as
    here: graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 26 days, known to
    Mon 27 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn at_risk_before_days_off() {
    let season = maple().but(|s| {
        s.workdays = crate::nursery::Workdays::new(&[chrono::Weekday::Thu], Vec::new());
    });
    // The limit comes on Saturday 25 July, day 24; the last Thursday before it is the 23rd.
    let check = |n, expected: &str| {
        let risk = of_kind(&season, 0..0, n, Kind::OverCallusRisk);
        let seasons = std::slice::from_ref(&season);
        let units = Units::Metric;
        let text = Morning { seasons, n, units }.write(&risk);
        let words: Vec<&str> = text.split_whitespace().collect();
        assert!(words.join(" ").contains(expected), "{text}");
    };
    check(
        21,
        "in 3 days, Sat 25 Jul. The time to head back runs out before that, on Wed 22 Jul. No working day is left for it.",
    );
    check(
        22,
        "in 2 days, Sat 25 Jul. Today is the last working day before it.",
    );
    check(
        23,
        "tomorrow, Sat 25 Jul. No working day is left before it.",
    );
}

#[test]
fn heat_moves_the_risk_nearer() {
    // 330 at the end of day 22; 30 more come on two days of 30 °C, where 12 °C·d a day are usual.
    let season = maple()
        .weather("23x20 4x30 40x20")
        .but(|s| s.past = past(17.0));
    let notices = of_kind(&season, 0..0, 23, Kind::OverCallusRisk);
    let seasons = std::slice::from_ref(&season);
    let (n, units) = (23, Units::Metric);
    let text = Morning { seasons, n, units }.write(&notices);
    insta::assert_snapshot!(text, @r"
    Block C: risk of over-callusing by Sat 25 Jul (1 batch, 100 grafts)

    Alder Fold Nursery, Friday 24 July 2026

    RISK OF OVER-CALLUSING BY SAT 25 JUL
      Block C: 1 batch, 100 grafts, by Sat 25 Jul

    By the forecast the warmth at which over-callusing becomes a risk
    is reached tomorrow, Sat 25 Jul. Today is the last working day
    before it.

    What moves it: the 2 days up to then bring 50 °C·d, where 24 °C·d
    is usual for these dates.

    A stock left whole may be driving the callus over the scion by
    then. Where lines show on both sides, head back; where none are
    seen, do not cut, look again.

      C-14  100 grafts  by Sat 25 Jul
            Osakazuki: 22.0 standard days, 330 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    For the crew: water and shade at hand. Local rules and qualified
    advice come first.

    Looked? Write it in the field records (lines, no-lines), or as
    here: graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 22 days, known to
    Thu 23 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn a_risk_that_is_over() {
    let (warm, cold) = (three(), three().weather("21x20 60x8"));
    insta::assert_snapshot!(letter_after(&warm, &cold, 22, Kind::RiskOver), @r"
    Risks that are over

    Alder Fold Nursery, Thursday 23 July 2026

    NOT ANY MORE

    Risk of over-callusing of C-14 by Sat 25 Jul: by what is known
    today it comes about Mon 10 Aug now and does not press.

    Risk of over-callusing of C-15 by Sat 25 Jul: by what is known
    today it comes about Mon 10 Aug now and does not press.

    Risk of over-callusing of A-2 by Fri 24 Jul: by what is known
    today it comes about Wed 5 Aug now and does not press.

    -- 
    Temperatures at home: measured by the logger on 22 days, known to
    Wed 22 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn over_callused() {
    let season = three().records("15 C-14 over-callused, 15 C-15 over-callused");
    insta::assert_snapshot!(letter(&season, 15, Kind::OverCallused), @r"
    Block C: over-callused, head back today (2 batches, 310 grafts)

    Alder Fold Nursery, Thursday 16 July 2026

    OVER-CALLUSED: HEAD BACK TODAY
      Block C: 2 batches, 310 grafts

    Callus was seen to grow over scions of C-14 and C-15 (written down
    for Thu 16 Jul). Left alone it strangles them.

    Today: head back where that is not done; where it is and the stock
    still drives, shorten it once more. Ease the tape: slit it
    opposite the scion, bind again loosely, and write down tape-eased.

    Look again after 3 days of usual warmth, about Sun 19 Jul.

      C-14  100 grafts
            Osakazuki: 14.0 standard days, 210 °C·d
      C-15  210 grafts
            Bloodgood: 14.0 standard days, 210 °C·d

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

/// Seen on 16 July and written down six days later: the look after it is due.
#[test]
fn over_callused_and_written_down_late() {
    let season = three().records("15 C-14 over-callused");
    let letter = letter_after(&three(), &season, 21, Kind::OverCallused);
    let again = letter.lines().find(|line| line.contains("Look again"));
    assert_eq!(again, Some("Look again after 3 days of usual warmth."));
}

#[test]
fn over_callused_though_headed_back() {
    let season = three().records("12 C-14 headed-back, 15 C-14 over-callused");
    insta::assert_snapshot!(letter(&season, 15, Kind::OverCallused), @r"
    Block C: over-callused, ease the tape today (1 batch, 100 grafts)

    Alder Fold Nursery, Thursday 16 July 2026

    OVER-CALLUSED: EASE THE TAPE TODAY
      Block C: 1 batch, 100 grafts

    Callus was seen to grow over scions of C-14 (written down for Thu
    16 Jul). Left alone it strangles them.

    Today: head back is written down as done; where the stock still
    drives, shorten it once more. Ease the tape: slit it opposite the
    scion, bind again loosely, and write down tape-eased.

    Look again after 3 days of usual warmth, about Sun 19 Jul.

      C-14  100 grafts
            Osakazuki: 14.0 standard days, 210 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    -- 
    Temperatures at home: measured by the logger on 14 days, known to
    Wed 15 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

/// Seen on day 12, headed back and eased at once: the look three standard days after it says what it is for.
#[test]
fn the_look_after_over_callusing_says_what_it_is_for() {
    let season = maple().records("12 over-callused, 12 headed-back, 12 tape-eased");
    insta::assert_snapshot!(letter(&season, 16, Kind::Opens), @r"
    Block C: look again after over-callusing (1 batch, 100 grafts)

    Alder Fold Nursery, Friday 17 July 2026

    LOOK AGAIN AFTER OVER-CALLUSING
      Block C: 1 batch, 100 grafts

    Callus was seen to grow over scions: C-14 on Mon 13 Jul. See
    whether it still does. Where it does, shorten the stock once more,
    ease the tape, and write down over-callused again.

    Look for over-callusing, tape cutting in and stock suckers. Write
    down looked if there is nothing to report.

    Opened by warmth on Thu 16 Jul.

      C-14  100 grafts
            Osakazuki: 15.0 standard days, 225 °C·d

    Done? Write it in the field records (looked, no-lines, lines,
    over-callused, tape-eased), or as here: graftwarden note C-14
    looked

    -- 
    Temperatures at home: measured by the logger on 15 days, known to
    Thu 16 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}
