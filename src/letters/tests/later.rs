//! Letters of steps that come again and of the later years.

use super::*;
use crate::care::tests::season::{date, maple};

pub(super) fn years() -> Season {
    maple().weather("92x20 182x5 183x20 183x5 183x20 182x5 183x20 182x5")
}

/// The letter about one step on a date, of which nothing was told before.
fn step(season: &Season, on: &str, step: &str) -> String {
    let n = (date(on) - season.day(0)).num_days();
    let mut notices = news(season, n, &Ledger::default(), &[]);
    notices.retain(|notice| notice.step.as_deref() == Some(step));
    let seasons = std::slice::from_ref(season);
    Morning {
        seasons,
        n,
        units: Units::Metric,
    }
    .write(&notices)
}

#[test]
fn look_again() {
    insta::assert_snapshot!(step(&maple().records("15 no-lines"), "2026-07-20", "look-again"), @r"
    Block C: look again now (1 batch, 100 grafts)

    Alder Fold Nursery, Monday 20 July 2026

    LOOK AGAIN NOW
      Block C: 1 batch, 100 grafts, by Sun 26 Jul

    Look for over-callusing, tape cutting in and stock suckers. Write
    down looked if there is nothing to report.

    Opened by warmth on Sun 19 Jul.

    The day given is that of over-callusing: the risk of it may come
    before the window closes.

      C-14  100 grafts  by Sun 26 Jul
            Osakazuki: 18.0 standard days, 270 °C·d

    Done? Write it in the field records (looked, no-lines, lines,
    over-callused, tape-eased), or as here: graftwarden note C-14
    looked

    -- 
    Temperatures at home: measured by the logger on 18 days, known to
    Sun 19 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn graft_the_dead_anew() {
    insta::assert_snapshot!(step(&maple().records("12 dead 8, 20 regrafted 5"), "2026-07-22", "re-graft"), @r"
    Block C: re-graft now (1 batch, 3 grafts)

    Alder Fold Nursery, Wednesday 22 July 2026

    RE-GRAFT NOW
      Block C: 1 batch, 3 grafts

    Only where the scion is dead or shows no callus on either side:
    leave the stock unheaded and re-graft on the opposite side, 5 to
    10 cm lower, if the bark still slips. Write down regrafted with
    the number; they become a batch of their own.

    Opened by what was written down for Mon 13 Jul.

      C-14  3 left of 8 grafts
            Osakazuki: 20.0 standard days, 300 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (regrafted), or as here:
    graftwarden note C-14 regrafted

    -- 
    Temperatures at home: measured by the logger on 20 days, known to
    Tue 21 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn ties_and_suckers() {
    insta::assert_snapshot!(step(&maple().records("23 tape-off"), "2026-08-22", "ties-and-suckers"), @r"
    Block C: check ties, rub off suckers now (1 batch, 100 grafts)

    Alder Fold Nursery, Saturday 22 August 2026

    CHECK TIES, RUB OFF SUCKERS NOW
      Block C: 1 batch, 100 grafts

    Rub off suckers of the stock while they are soft, and see that no
    tie cuts in.

    Opened by the calendar on Fri 21 Aug.

      C-14  100 grafts
            Osakazuki: 51.0 standard days, 765 °C·d

    Done? Write it in the field records (suckers-rubbed), or as here:
    graftwarden note C-14 suckers-rubbed

    -- 
    Temperatures at home: measured by the logger on 51 days, known to
    Fri 21 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn autumn_look() {
    insta::assert_snapshot!(step(&years().records("23 tape-off"), "2026-10-08", "autumn-look"), @r"
    Block C: autumn look now (1 batch, 100 grafts)

    Alder Fold Nursery, Thursday 8 October 2026

    AUTUMN LOOK NOW
      Block C: 1 batch, 100 grafts, by Fri 6 Nov

    Scratch ten scions for green, measure head lengths in cm, and
    close batches that are finished.

    Opened by the cold week up to Wed 7 Oct.

      C-14  100 grafts  by Fri 6 Nov
            Osakazuki: 91.0 standard days, 1365 °C·d

    Done? Write it in the field records (head-length, closed), or as
    here: graftwarden note C-14 head-length --count N (N in cm)

    -- 
    Temperatures at home: measured by the logger on 98 days, known to
    Wed 7 Oct.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn take() {
    insta::assert_snapshot!(step(&years().records("23 tape-off"), "2027-04-21", "take"), @r"
    Block C: count the take now (1 batch, 100 grafts)

    Alder Fold Nursery, Wednesday 21 April 2027

    COUNT THE TAKE NOW
      Block C: 1 batch, 100 grafts, by Tue 18 May

    Count the living scions and write down take with the number.

    Opened by warmth on Tue 20 Apr.

      C-14  100 grafts  by Tue 18 May
            Osakazuki: 111.0 standard days, 1665 °C·d

    Done? Write it in the field records (take), or as here:
    graftwarden note C-14 take --count N

    -- 
    Temperatures at home: measured by the logger on 293 days, known to
    Tue 20 Apr.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn stump() {
    insta::assert_snapshot!(step(&years().records("23 tape-off, 2027-04-25 take 88"), "2027-11-02", "stump"), @r"
    Block C: stump at the top of the union now (1 batch, 100 grafts)

    Alder Fold Nursery, Tuesday 2 November 2027

    STUMP AT THE TOP OF THE UNION NOW
      Block C: 1 batch, 100 grafts, by Fri 31 Dec

    Stump the stock at the top of the union, living scions only, and
    keep the stub as a stake. Maples bleed when cut later. Choose days
    above -5 °C.

    Opened by the calendar on Mon 1 Nov.

      C-14  100 grafts  by Fri 31 Dec
            Osakazuki: 274.0 standard days, 4110 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (stumped), or as here:
    graftwarden note C-14 stumped

    -- 
    Temperatures at home: measured by the logger on 488 days, known to
    Mon 1 Nov.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}
