//! Letters before and after days off.

use super::*;
use crate::care::tests::season::{Season as Summer, maple, weekdays};
use crate::notices::seasons::news_for;
use crate::notices::{Diary, Unsent};
use crate::nursery::Person;

pub(super) fn maren() -> Person {
    Person::new("Maren Holt", "maren@alderfold.example")
}

/// Three batches grafted on 30 June and 1 July 2026 at 20 °C; nobody works at the weekend. Day 16 is a Friday.
pub(super) fn summer() -> Summer {
    super::work::three().but(|s| s.workdays = weekdays())
}

/// The letter to one person on day `n`, the rounds of the days before having been, but for those missed.
pub(super) fn whole(
    summer: &Summer,
    n: i64,
    missed: std::ops::Range<i64>,
    unsent: &[Unsent],
) -> String {
    let mut ledger = Ledger::default();
    let mut rounds = Vec::new();
    for day in 0..n {
        if missed.contains(&day) {
            continue;
        }
        for notice in told(summer, day, &ledger, &rounds, &[], &[]) {
            enter(&mut ledger, &notice, summer.day(day));
        }
        rounds.push(summer.day(day));
    }
    let at = |day| summer.day(day).and_hms_opt(6, 10, 0).unwrap();
    let down = [(at(missed.start - 1), at(missed.end))];
    let down = if missed.is_empty() {
        &[][..]
    } else {
        &down[..]
    };
    let notices = told(summer, n, &ledger, &rounds, down, unsent);
    let seasons = std::slice::from_ref(summer);
    Morning {
        seasons,
        n,
        units: Units::Metric,
    }
    .write(&notices)
}

fn told(
    summer: &Summer,
    n: i64,
    ledger: &Ledger,
    rounds: &[chrono::NaiveDate],
    down: &[(chrono::NaiveDateTime, chrono::NaiveDateTime)],
    unsent: &[Unsent],
) -> Vec<Notice> {
    let diary = Diary {
        rounds,
        down,
        unsent,
        foretold: &[],
    };
    news_for(summer, n, ledger, &[], &[maren()], diary)
}

#[test]
fn on_friday() {
    insta::assert_snapshot!(whole(&summer(), 16, 0..0, &[]), @r"
    Before Mon 20 Jul: 3 windows may open

    Alder Fold Nursery, Friday 17 July 2026

    BEFORE MON 20 JUL

    Nobody works on Sat 18 - Sun 19 Jul. This may fall due meanwhile,
    by what is known today. What can be done today need not wait; who
    is at hand in between may be told.

    May open:
      look first, then head back where lines show, block A: A-2,
      roughly Sat 18 Jul
      look first, then head back where lines show, block C: C-14,
      C-15, roughly Sun 19 Jul

    -- 
    Temperatures at home: measured by the logger on 16 days, known to
    Thu 16 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn on_monday() {
    insta::assert_snapshot!(whole(&summer(), 19, 0..0, &[]), @r"
    Since Fri 17 Jul: 6 things to do today, about 4.9 h of crew time

    Alder Fold Nursery, Monday 20 July 2026

    SINCE FRI 17 JUL

    home: 3.0 standard days of warmth in 3 days, up to 20 °C on Fri 17
    Jul.

    Opened:
      look first, then head back where lines show, block C: C-14,
      C-15, since Sun 19 Jul
      look first, then head back where lines show, block A: A-2, since
      Sat 18 Jul

    LOOK FIRST, THEN HEAD BACK
      Block A: 1 batch, 1 graft, by Tue 21 Jul
      Block C: 2 batches, 310 grafts, by Wed 22 Jul

    No lines are written down: look first, and head back only trees
    that show lines on both sides, by two-thirds, evenly. Cutting
    blind starves the callus and spoils the stock for re-grafting.

    Opened by warmth: 18.0 standard days since grafting, reached on
    Sat 18 - Sun 19 Jul.

    Block A
      A-2      1 graft  by Tue 21 Jul
            Osakazuki: 19.0 standard days, 285 °C·d
    Block C
      C-14  100 grafts  by Wed 22 Jul
            Osakazuki: 18.0 standard days, 270 °C·d
      C-15  210 grafts  by Wed 22 Jul
            Bloodgood: 18.0 standard days, 270 °C·d

    ALL IS WELL

    3 batches with 311 grafts are followed: 6 things due, about 4.9 h
    of crew time.

    The last days:
      home: 7.0 standard days of warmth in 7 days, up to 20 °C on Mon
      13 Jul.

    Within two weeks:
      tape off and tie in, block A: A-2, roughly Tue 21 Jul
      tape off and tie in, block C: C-14, C-15, roughly Wed 22 Jul

    The work of two weeks (a graft counts once a day; half the time no
    more than the first figure, nine times in ten than the second):
      Mon 20 Jul: 311 grafts, 4.9 h
      Wed 22 Jul: 1 graft, 2 min
      Thu 23 Jul: 310 grafts, 7.8 h

    TODAY, IN THE ORDER TO WALK IT

    6 things, about 4.9 h of crew time.

    Block C:
      C-14 look for callus lines, 100 grafts, 20 min, by Wed 22 Jul
      C-14 then head back, the same grafts, 1.2 h, by Wed 22 Jul
      C-15 look for callus lines, 210 grafts, 42 min, by Wed 22 Jul
      C-15 then head back, the same grafts, 2.6 h, by Wed 22 Jul

    Block A:
      A-2 look for callus lines, 1 graft, 1 min, by Tue 21 Jul
      A-2 then head back, the same grafts, 1 min, by Tue 21 Jul

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
#[expect(clippy::too_many_lines, reason = "a letter is told whole")]
fn on_monday_with_the_machine_off_since_saturday_and_a_letter_that_did_not_get_out() {
    let unsent = Unsent {
        recipient: "jory@alderfold.example".into(),
        subject: "Block C: head back now (1 batch, 100 grafts)".into(),
        written_on: summer().day(16),
        waiting: false,
    };
    let hot = summer().weather("16x20 24/38 24/38 24/37 60x20");
    insta::assert_snapshot!(whole(&hot, 19, 17..19, &[unsent]), @r"
    Block A: risk of over-callusing by Thu 23 Jul (1 batch, 1 graft), and 6 more things

    Alder Fold Nursery, Monday 20 July 2026

    RISK OF OVER-CALLUSING BY THU 23 JUL
      Block A: 1 batch, 1 graft, by Thu 23 Jul

    By the forecast the warmth at which over-callusing becomes a risk
    is reached in 3 days, Thu 23 Jul. The time to head back runs out
    before that, on Mon 20 Jul. Today is the last working day for it.

    What moves it: the 4 days up to then bring 60 °C·d, about what
    days of usual weather bring.

    A stock left whole may be driving the callus over the scion by
    then. Where lines show on both sides, head back; where none are
    seen, do not cut, look again.

      A-2  1 graft  by Thu 23 Jul
           Osakazuki: 20.6 standard days, 310 °C·d

    SINCE FRI 17 JUL

    home: 4.6 standard days of warmth in 3 days, up to 38 °C on Fri 17
    Jul.

    This program did not run from Fri 17 Jul 06:10 to Mon 20 Jul
    06:10; what it missed is made up for in this letter.

    1 letter did not get out: 'Block C: head back now (1 batch, 100
    grafts)' to jory@alderfold.example (given up).

    Opened:
      look first, then head back where lines show, block C: C-14,
      C-15, since Sat 18 Jul
      look first, then head back where lines show, block A: A-2, since
      Sat 18 Jul

    LAST WORKING DAY: NO LOOK IS WRITTEN DOWN, LOOK FIRST
      Block A: 1 batch, 1 graft, by Mon 20 Jul

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

      A-2  1 graft  by Mon 20 Jul
           Osakazuki: 20.6 standard days, 310 °C·d

    LOOK FIRST, THEN HEAD BACK
      Block C: 2 batches, 310 grafts, by Tue 21 Jul

    No lines are written down: look first, and head back only trees
    that show lines on both sides, by two-thirds, evenly. Cutting
    blind starves the callus and spoils the stock for re-grafting.

    Opened by warmth: 18.1 standard days since grafting, reached on
    Sat 18 Jul.

      C-14  100 grafts  by Tue 21 Jul
            Osakazuki: 19.6 standard days, 295 °C·d
      C-15  210 grafts  by Tue 21 Jul
            Bloodgood: 19.6 standard days, 295 °C·d

    THE HOT SPELL AT HOME IS OVER

    The spell of Fri 17 - Sun 19 Jul (up to 38 °C) is over: 4.6
    standard days in 3 days; windows of these 3 batches now come 1 day
    earlier (C-14, C-15 and A-2).

    TOMORROW, BY THE FORECAST

    These windows open with today's warmth. Nothing is to be done yet;
    you are told when they are open.

    Opens:
      tape off and tie in, block A: A-2 (1 graft)

    THE WEEK

    3 batches with 311 grafts are followed: 6 things due, about 4.9 h
    of crew time. 1 batch is at its limit or near it.

    At the limit or near it:
      over-callusing, block A: A-2, by Thu 23 Jul

    The last days:
      home: 8.6 standard days of warmth in 7 days, up to 38 °C on Fri
      17 Jul.

    Within two weeks:
      tape off and tie in, block A: A-2, roughly Mon 20 Jul
      tape off and tie in, block C: C-14, C-15, roughly Tue 21 Jul

    The work of two weeks (a graft counts once a day; half the time no
    more than the first figure, nine times in ten than the second):
      Mon 20 Jul: 311 grafts, 4.9 h
      Tue 21 Jul: 1 graft, 2 min
      Wed 22 Jul: 310 grafts, 7.8 h

    TODAY, IN THE ORDER TO WALK IT

    6 things, about 4.9 h of crew time.

    Block C:
      C-14 look for callus lines, 100 grafts, 20 min, by Tue 21 Jul
      C-14 then head back, the same grafts, 1.2 h, by Tue 21 Jul
      C-15 look for callus lines, 210 grafts, 42 min, by Tue 21 Jul
      C-15 then head back, the same grafts, 2.6 h, by Tue 21 Jul

    Block A:
      A-2 look for callus lines, 1 graft, 1 min, by today, Mon 20 Jul
      A-2 then head back, the same grafts, 1 min, by today, Mon 20 Jul

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
fn the_eve_and_the_last_working_day() {
    let found: Vec<String> = [(13, Kind::HeadsUp), (21, Kind::LastCall)]
        .map(|(n, kind)| letter(&summer(), n, kind))
        .into();
    insta::assert_snapshot!(found.join("\n= = =\n\n"), @r"
    Block A: look for callus lines from tomorrow (1 batch, 1 graft)

    Alder Fold Nursery, Tuesday 14 July 2026

    TOMORROW, BY THE FORECAST

    These windows open with today's warmth. Nothing is to be done yet;
    you are told when they are open.

    Opens:
      look for callus lines, block A: A-2 (1 graft)

    -- 
    Temperatures at home: measured by the logger on 13 days, known to
    Mon 13 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.

    = = =

    Block C: last working day: no look is written down, look first (2 batches, 310 grafts)

    Alder Fold Nursery, Wednesday 22 July 2026

    LAST WORKING DAY: NO LOOK IS WRITTEN DOWN, LOOK FIRST
      Block C: 2 batches, 310 grafts, by Wed 22 Jul

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

      C-14  100 grafts  by Wed 22 Jul
            Osakazuki: 20.0 standard days, 300 °C·d
      C-15  210 grafts  by Wed 22 Jul
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

/// Crowds do not make a letter that nobody reads.
#[test]
fn a_hundred_batches_are_cut_to_what_is_read() {
    let crowd = maple().but(|s| {
        s.workdays = weekdays();
        for n in 0..100 {
            another(s, &format!("X-{n}"), |b| {
                b.block = format!("{}", n % 40).into();
            });
        }
    });
    let text = whole(&crowd, 19, 0..0, &[]);
    assert!(text.contains("more: graftwarden due shows all"), "{text}");
}

#[test]
fn without_working_days_nothing_is_summed_up() {
    let never = maple().but(|s| s.workdays = crate::nursery::Workdays::new(&[], Vec::new()));
    for n in 0..20 {
        let told = told(&never, n, &Ledger::default(), &[never.day(0)], &[], &[]);
        assert!(told.iter().all(|notice| notice.digest.is_none()));
    }
}

#[test]
fn an_early_look_stands_in_the_list_of_the_day_after_days_off() {
    // 11 standard days of A-2, grafted first, by Saturday day 10: asked for on Monday, and in the list until it is answered.
    let season = summer().but(|s| s.lines.known = Some(0));
    let text = whole(&season, 12, 0..0, &[]).replace('\n', " ");
    assert!(
        text.contains("A-2 look for callus lines, early, 1 graft"),
        "{text}"
    );
    let text = whole(&summer(), 19, 0..0, &[]);
    assert!(!text.contains(", early"), "{text}");
}
