//! What nobody has answered: the letter once a week, and once a month.

use super::*;
use crate::care::tests::season::{maple, weekdays};
use crate::notices::Diary;
use crate::notices::seasons::news_for;
use crate::nursery::Person;

/// All that Maren Holt is told on day `n`, after rounds on all days before.
fn told(season: &Season, n: i64) -> Vec<Notice> {
    let people = [Person::new("Maren Holt", "maren@alderfold.example")];
    let (mut ledger, mut rounds) = (Ledger::default(), Vec::new());
    for day in 1..n {
        let diary = Diary {
            rounds: &rounds,
            ..Diary::default()
        };
        for notice in news_for(season, day, &ledger, &[], &people, diary) {
            enter(&mut ledger, &notice, season.day(day));
        }
        rounds.push(season.day(day));
    }
    let diary = Diary {
        rounds: &rounds,
        ..Diary::default()
    };
    news_for(season, n, &ledger, &[], &people, diary)
}

fn reminder(season: &Season, n: i64, reply_to: Option<&str>) -> String {
    let mut notices = told(season, n);
    notices.retain(|notice| notice.kind == Kind::Reminder);
    let seasons = std::slice::from_ref(season);
    let units = Units::Metric;
    Morning { seasons, n, units }.look_at(&notices, reply_to, |letter, context| {
        format!("{}\n\n{}", letter.subject, letter.text(context))
    })
}

/// Two batches in block C, one in A; Mondays are days 26, 33, 40, 47.
fn three() -> Season {
    maple().but(|s| {
        s.workdays = weekdays();
        another(s, "C-15", |_| {});
        another(s, "A-2", |b| b.block = "A".into());
    })
}

/// A plan without a limit has no name for what was seen.
#[test]
fn callus_that_ran_on_is_named_without_a_limit_too() {
    let season = three().records("14 C-14 lines, 15 C-14 headed-back, 20 C-14 over-callused");
    let season = season.but(|s| s.plan.limit = None);
    let letter = reminder(&season, 26, None);
    let line = "  over-callusing, block C: C-14, since Tue 21 Jul\n";
    assert!(letter.contains(line), "{letter}");
}

#[test]
fn once_a_week_all_that_nobody_has_answered() {
    insta::assert_snapshot!(reminder(&three(), 33, None), @r"
    Blocks A and C: still not written down (3 batches)

    Alder Fold Nursery, Monday 3 August 2026

    STILL NOT WRITTEN DOWN

    Nothing has been written down of this since we wrote of it. Done?
    Write it down with its date. Not done? Look first what is still
    worth doing. This letter comes once a week, until it is answered.

    Late:
      look for callus lines, block C: C-14, C-15, was due Wed 22 Jul
      look first, then head back where lines show, block C: C-14,
      C-15, was due Wed 22 Jul
      look first, then tape off and tie in, block C: C-14, C-15, was
      due Wed 29 Jul
      look for callus lines, block A: A-2, was due Wed 22 Jul
      look first, then head back where lines show, block A: A-2, was
      due Wed 22 Jul
      look first, then tape off and tie in, block A: A-2, was due Wed
      29 Jul

    -- 
    Temperatures at home: measured by the logger on 32 days, known to
    Sun 2 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn after_a_month_it_says_how_a_batch_is_closed() {
    insta::assert_snapshot!(reminder(&three(), 47, Some("answers@alderfold.example")), @r#"
    Blocks A and C: still not written down (3 batches)

    Alder Fold Nursery, Monday 17 August 2026

    STILL NOT WRITTEN DOWN

    Nothing has been written down of this since we wrote of it. Done?
    Write it down with its date. Not done? Look first what is still
    worth doing. This letter comes once a week, until it is answered.

    What has stood for a month comes once a month from now on. A batch
    that is finished or given up is closed, and no more is said of it:
    answer this letter with a line such as "C-14 closed".

    Late:
      look first, then tape off and tie in, block C: C-14, C-15, was
      due Wed 29 Jul
      look first, then tape off and tie in, block A: A-2, was due Wed
      29 Jul

    For a month and longer:
      look for callus lines, block C: C-14, C-15, since Wed 22 Jul
      look first, then head back where lines show, block C: C-14,
      C-15, since Wed 22 Jul
      look for callus lines, block A: A-2, since Wed 22 Jul
      look first, then head back where lines show, block A: A-2, since
      Wed 22 Jul

    Seen or done something? Answer this letter, a line for each batch,
    such as "C-14 lines 3/10".

    -- 
    Temperatures at home: measured by the logger on 46 days, known to
    Sun 16 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    "#);
    let by_hand = reminder(&three(), 75, None);
    let words: Vec<&str> = by_hand.split_whitespace().collect();
    let by_hand = words.join(" ");
    assert!(
        by_hand.contains(
            "write closed in the field records, or as here: graftwarden note C-14 closed"
        ),
        "{by_hand}"
    );
    assert!(!by_hand.contains("once a week"), "{by_hand}");
}

#[test]
fn fresh_work_has_the_subject() {
    // A batch grafted on day 19, a Monday, shows its lines on day 33.
    let season = three().but(|s| {
        another(s, "C-16", |b| {
            b.grafted_on = b.grafted_on + chrono::Days::new(18);
        });
    });
    let mut notices = told(&season, 33);
    // The letter after a weekend begins with what there is to do today, and says it in full.
    notices.retain(|n| matches!(n.kind, Kind::Opens | Kind::Reminder));
    assert!(notices.iter().any(|n| n.kind == Kind::Reminder));
    let seasons = std::slice::from_ref(&season);
    let units = Units::Metric;
    let subject = Morning {
        seasons,
        n: 33,
        units,
    }
    .look_at(&notices, None, |letter, _| letter.subject.clone());
    assert!(
        subject.starts_with("Block C: look for callus lines now (1 batch, 100 grafts)"),
        "{subject}"
    );
}

/// Seen on day 19; of one batch nothing is written down since, of the other all but the look after it.
#[test]
fn over_callused_and_nothing_written_down_since() {
    let season = three().records("14 C-14 lines, 14 C-15 lines, 15 C-15 headed-back, 19 C-14 over-callused, 19 C-15 over-callused, 20 C-15 tape-eased");
    let text = reminder(&season, 33, None);
    let (_, list) = text.split_once("Over-callused").unwrap();
    let (list, _) = list.split_once("\n\n").unwrap();
    insta::assert_snapshot!(list, @r"
    : head back, ease the tape, look again, and write
    each down:
      over-callusing, block C: C-14, since Mon 20 Jul
      look again after over-callusing, block C: C-15, since Thu 23 Jul
    ");
}
