//! The last safe day for grafting, and work when the first frost is near.

use super::*;
use crate::care::tests::last_graft::mild;
use crate::care::tests::season::{maple, weekdays};
use crate::care::{DayAsked, IfGrafted};
use crate::letters::grafting::advice;

pub(super) fn season() -> Season {
    maple().but(|s| s.past = mild())
}

#[test]
fn two_weeks_ahead() {
    let season = season().but(|s| another(s, "C-15", |_| {}));
    insta::assert_snapshot!(letter(&season, 43, Kind::LastGraft), @r"
    Last day for maple field T-graft at home: Thu 27 Aug

    Alder Fold Nursery, Thursday 13 August 2026

    LAST DAY FOR MAPLE FIELD T-GRAFT AT HOME: THU 27 AUG

    By maple field T-graft, Thu 27 Aug is the last day on which grafts
    made at home will have grown together and hardened before the
    first frost: 14 days left.

    In 80 of 100 years the first frost came on Thu 15 Oct or later (by
    10 years before); before it a graft needs 28 standard days to grow
    together and 21 days to harden.

    Re-graft by then what is to be grafted anew; later ones are better
    left for next season.

    -- 
    Temperatures at home: measured by the logger on 42 days, known to
    Wed 12 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn grafting_anew_too_late_in_the_year_is_not_worth_doing() {
    let season = season().records("15 lines, 16 headed-back, 22 tape-off, 40 dead 5");
    insta::assert_snapshot!(letter(&season, 58, Kind::Late), @r"
    Block C: late to re-graft (1 batch, 5 grafts)

    Alder Fold Nursery, Friday 28 August 2026

    LATE: RE-GRAFT
      Block C: 1 batch, 5 grafts, was due by Thu 27 Aug

    The last day for this has passed. Done before it? Write it down
    with its date. What is not done: leave the stock unheaded for next
    season, and write down lost with the number if you give it up.

      C-14  5 grafts  was due Thu 27 Aug
            Osakazuki: 57.0 standard days, 855 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (regrafted), or as here:
    graftwarden note C-14 regrafted

    -- 
    Temperatures at home: measured by the logger on 57 days, known to
    Thu 27 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn near_the_frost_one_third_only() {
    // Grafted on 20 August; 15 October less 42 days is 3 September, day 14.
    let late = Season::new("maple field T-graft", "2026-08-20")
        .weather("60x20")
        .but(|s| s.past = mild());
    let seen = late.clone().records("15 lines");
    insta::assert_snapshot!(letter(&seen, 15, Kind::Opens), @r"
    Block C: head back now (1 batch, 100 grafts)

    Alder Fold Nursery, Friday 4 September 2026

    HEAD BACK NOW
      Block C: 1 batch, 100 grafts, by Thu 10 Sep

    The first frost is near: head back by one third only, evenly, and
    the rest once the stock is dormant. Only trees that show lines on
    both sides; where none are written down, look first.

    In 80 of 100 years the first frost came on Thu 15 Oct or later.

    Opened by what was written down for Fri 4 Sep.

      C-14  100 grafts  by Thu 10 Sep
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
    Thu 3 Sep.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
    let unseen = letter(&late, 19, Kind::Opens);
    assert!(unseen.contains("by one third only"), "{unseen}");
    assert!(!unseen.contains("two-thirds"), "{unseen}");
    let early = letter(&season().records("15 lines"), 15, Kind::Opens);
    assert!(early.contains("two-thirds"), "{early}");
}

/// The advice of a round on day 20 about days from `first` on.
fn asked(season: &Season, first: i64) -> String {
    let ground = season.ground(season.day(20));
    let days: Vec<DayAsked<'_>> = IfGrafted {
        ground: &ground,
        past: &season.past,
        plan: &season.plan,
        workdays: &season.workdays,
        grafts: 100,
        beside: &[],
    }
    .days(season.day(first), 14);
    advice(&days, Units::Metric)
}

#[test]
fn advice_says_which_day_and_why() {
    // Day 0 is a Wednesday: day 26 is Monday 27 July. See the dates in the tests of care.
    let good = season().but(|s| s.workdays = weekdays());
    insta::assert_snapshot!(asked(&good, 26), @r"Mon 27 Jul is a good day for grafting: nothing speaks against it.");
    insta::assert_snapshot!(asked(&good, 25), @r"The best day for grafting is Mon 27 Jul. Sun 26 Jul is not as good: it is a day off; the day to look for callus lines would be Sun 9 Aug, a day off; the day to tape off and tie in would be Sun 16 Aug, a day off.");
    insta::assert_snapshot!(asked(&good, 27), @r"The best day for grafting is Fri 31 Jul. Tue 28 Jul is not as good: the day to head back would be Sat 15 Aug, a day off.");
    let cold = good.clone().weather("26x20 1x7 93x20");
    insta::assert_snapshot!(asked(&cold, 26), @r"The best day for grafting is Fri 31 Jul. Mon 27 Jul is not as good: it is cool for here, 7 °C (most days reach 20 °C); a cold night, 7 °C.");
    insta::assert_snapshot!(asked(&good.clone().without_forecast(), 26), @r"For grafting Mon 27 Jul will do, and so will other working days: no forecast tells of their weather yet.");
    insta::assert_snapshot!(asked(&good, 60), @r"Do not graft: it is after the last safe day, Thu 27 Aug.");
    let hot = good.clone().weather("26x20 3x20/39 93x20");
    insta::assert_snapshot!(asked(&hot, 26), @r"The best day for grafting is Fri 31 Jul. Mon 27 Jul is not as good: it is hot for here, 39 °C (most days stay under 20 °C); heat of 39 °C comes from Mon 27 Jul.");
    let never = good.but(|s| s.workdays = crate::nursery::Workdays::new(&[], Vec::new()));
    insta::assert_snapshot!(asked(&never, 26), @r"None of the 14 days is a working day.");
}
