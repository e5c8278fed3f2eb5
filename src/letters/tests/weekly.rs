//! The weekly letter and the season's.

use super::away::{maren, summer, whole};
use super::*;
use crate::care::tests::season::date;
use crate::notices::seasons::news_for;
use crate::notices::{About, Diary};

#[test]
fn on_a_monday_with_nothing_due() {
    insta::assert_snapshot!(whole(&summer(), 5, 0..0, &[]), @r"
    All is well: 3 batches, 311 grafts, nothing is due

    Alder Fold Nursery, Monday 6 July 2026

    ALL IS WELL

    3 batches with 311 grafts are followed: nothing is due.

    Mon 6 Jul is a good day for grafting: nothing speaks against it.

    The last days:
      home: 5.0 standard days of warmth in 5 days, up to 20 °C on Wed
      1 Jul.

    Within two weeks:
      look for callus lines, block A: A-2, roughly Tue 14 Jul
      look for callus lines, block C: C-14, C-15, roughly Wed 15 Jul
      look first, then head back where lines show, block A: A-2,
      roughly Sat 18 Jul
      look first, then head back where lines show, block C: C-14,
      C-15, roughly Sun 19 Jul

    The work of two weeks (a graft counts once a day; half the time no
    more than the first figure, nine times in ten than the second):
      Wed 15 Jul: 1 graft, 1 min
      Thu 16 Jul: 310 grafts, 1.0 h

    -- 
    Temperatures at home: measured by the logger on 5 days, known to
    Sun 5 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn on_a_monday_of_winter() {
    let closed = summer().records("10 closed, 10 C-15 closed, 10 A-2 closed");
    insta::assert_snapshot!(whole(&closed, 33, 0..0, &[]), @r"
    All is well: no batch is open, nothing is due

    Alder Fold Nursery, Monday 3 August 2026

    ALL IS WELL

    No batch is open.
    ");
}

/// The summary of the season with these records, in the summer after it.
fn season_with(records: &str) -> String {
    let summer = summer().but(|s| {
        for (batch, by) in s.batches.iter_mut().zip(["Maren", "Jory", "Jory"]) {
            batch.by = by.into();
        }
    });
    let summer = summer.records(records);
    let n = (date("2027-07-01") - summer.day(0)).num_days();
    let mut notices = news_for(
        &summer,
        n,
        &Ledger::default(),
        &[],
        &[maren()],
        Diary::default(),
    );
    notices.retain(|n| n.kind == Kind::Season);
    assert_eq!(notices[0].about, About::Person(maren().email));
    let seasons = std::slice::from_ref(&summer);
    Morning {
        seasons,
        n,
        units: Units::Metric,
    }
    .write(&notices)
}

#[test]
fn a_season_of_which_no_take_is_counted_is_no_success() {
    let text = season_with("16 lines, 20 C-15 dead 10");
    for line in [
        "Living: 301 of 311 grafts. Not counted yet: 3 batches.",
        "  Osakazuki: 101 of 101\n",
        "Not counted yet:\n  C-14, C-15, A-2\n",
    ] {
        assert!(text.contains(line), "{text}");
    }
    assert!(!text.contains('%'), "{text}");
}

#[test]
fn the_season() {
    let text = season_with(
        "16 lines, 15 C-15 lines, 20 C-15 dead 10, 2027-05-10 take 92, 2027-05-10 C-15 take 171",
    );
    insta::assert_snapshot!(text, @r"
    The season of 2026: 264 of 311 grafts living

    Alder Fold Nursery, Thursday 1 July 2027

    THE SEASON OF 2026

    Living: 264 of 311 grafts, 85 % (80 - 88). Not counted yet: 1
    batch. What is not written down of these as lost or dead counts as
    living.

    The range after a share holds the true one 95 times out of 100;
    where two ranges overlap, the difference may be chance.

    By scion:
      Osakazuki: 93 of 101, 92 % (85 - 96)
      Bloodgood: 171 of 210, 81 % (76 - 86)

    By stock:
      palmatum: 264 of 311, 85 % (80 - 88)

    By grafter:
      Maren: 92 of 100, 92 % (85 - 96)
      Jory: 172 of 211, 82 % (76 - 86)

    By block:
      A: 1 of 1, all (21 - 100 %)
      C: 263 of 310, 85 % (80 - 88)

    From grafting to lines written down:
      Bloodgood: 15 days, 15 standard days (1 batch)
      Osakazuki: 16 days, 16 standard days (1 batch)

    Not counted yet:
      A-2
    ");
}
