//! Letters of batches at which nobody has looked, or where no lines were seen.

use super::*;
use crate::care::tests::season::{maple, weekdays};

#[test]
fn no_look_is_written_down_when_the_tape_is_due() {
    insta::assert_snapshot!(letter(&maple(), 22, Kind::Opens), @r"
    Block C: no look is written down, look first (1 batch, 100 grafts)

    Alder Fold Nursery, Thursday 23 July 2026

    NO LOOK IS WRITTEN DOWN: LOOK FIRST
      Block C: 1 batch, 100 grafts, by Sat 25 Jul

    No look at these is written down. Was there one? Write down what
    was seen, with its date. What is to be done depends on what you
    find.

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    The day given is that of over-callusing: the risk of it may come
    before the window closes.

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

      C-14  100 grafts  by Sat 25 Jul
            Osakazuki: 21.0 standard days, 315 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 21 days, known to
    Wed 22 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn all_of_it_after_days_off_is_one_thing_to_do() {
    // Nobody was told anything before: three windows are late or open on the same day.
    let season = maple();
    let mut notices = news(&season, 22, &Ledger::default(), &[]);
    notices.retain(|n| matches!(n.kind, Kind::Opens | Kind::Late | Kind::LastCall));
    let told: Vec<&str> = notices.iter().filter_map(|n| n.step.as_deref()).collect();
    assert_eq!(told, ["tape-off", "callus-check", "head-back"]);
    let seasons = std::slice::from_ref(&season);
    let units = Units::Metric;
    let morning = Morning {
        seasons,
        n: 22,
        units,
    };
    let headings = morning.look_at(&notices, None, |letter, _| {
        let headings = letter.sections.iter().map(|s| s.heading.clone());
        (headings.collect::<Vec<_>>(), letter.asked[0].step.clone())
    });
    let heading = vec!["No look is written down: look first".to_owned()];
    assert_eq!(headings, (heading, "callus-check".to_owned()));
}

#[test]
fn no_lines_seen_and_time_to_graft_anew() {
    let season = maple().records("22 no-lines");
    insta::assert_snapshot!(letter(&season, 25, Kind::Opens), @r"
    Block C: no lines are written down, look first (1 batch, 100 grafts)

    Alder Fold Nursery, Sunday 26 July 2026

    NO LINES ARE WRITTEN DOWN: LOOK FIRST
      Block C: 1 batch, 100 grafts

    What is to be done here depends on what you find now.

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    What may be found, and what to do then:
      Tape off and tie in: Callus on both sides and scion firm: tape
      off, tie the scion to the stock, and head back a second time at
      the same visit if seven mild days have passed since the first.
      Otherwise slit the tape opposite the scion, rebind loosely,
      write down tape-eased, and look again in five mild days. Not
      before strong wind or heavy rain, and no bare trunks when 35 °C
      is forecast.
      Re-graft only where the scion is dead or shows no callus on
      either side: leave the stock unheaded, and graft on the opposite
      side, 5 to 10 cm lower, if the bark still slips. Write down
      regrafted with the number; they become a batch of their own.

      C-14  100 grafts
            Osakazuki: 24.0 standard days, 360 °C·d

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Looked? Write it in the field records (lines, no-lines), or as
    here: graftwarden note C-14 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 24 days, known to
    Sat 25 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[test]
fn todays_list_has_one_job_for_the_same_grafts() {
    let season = maple().but(|s| s.workdays = weekdays());
    let errands: Vec<crate::notices::Errand> =
        ["callus-check", "head-back", "tape-off", "re-graft"]
            .map(|step| crate::notices::Errand {
                batch: "C-14".into(),
                step: step.into(),
                on: season.day(if step == "tape-off" { 28 } else { 35 }),
            })
            .into();
    let lines = seen_by(&season, 25, |context| {
        let lists = crate::letters::sections::walk_of(&errands, context);
        lists
            .iter()
            .flat_map(|l| l.lines.clone())
            .collect::<Vec<_>>()
    });
    insta::assert_snapshot!(lines.join("\n"), @"C-14 look first, then as it shows: head back, tape off and tie in or re-graft, 100 grafts, 4.1 h, late since Wed 22 Jul");
}

/// What was seen on day 16 was taken back on day 17: that is no batch at which nobody has been.
#[test]
fn a_look_that_was_taken_back_is_not_forgotten() {
    let season = maple().records("16 lines, 17 retract lines").but(|s| {
        s.records[0].by = "Jory".into();
    });
    let words = "Written down and taken back: C-14 lines, Fri 17 Jul (Jory).";
    for n in [19, 22] {
        let text = letter(&season, n, Kind::Opens).replace('\n', " ");
        assert!(text.contains(words), "{text}");
        assert!(!text.to_lowercase().contains("nobody"), "{text}");
    }
    // Seen again since: what was taken back is history.
    let again = season.records("18 lines");
    let text = letter(&again, 22, Kind::Opens).replace('\n', " ");
    assert!(!text.contains("taken back"), "{text}");
}

#[test]
fn the_eve_of_heading_back_says_to_look_first_until_lines_are_written_down() {
    // 18 standard days are reached on day 18, a Sunday on which somebody works.
    let text = letter(&maple(), 18, Kind::HeadsUp);
    let subject = "Block C: look first, then head back from tomorrow (1 batch, 100 grafts)\n";
    assert!(text.starts_with(subject), "{text}");
    let line = "\n  look first, then head back where lines show, block C: C-14 (100\n  grafts)\n";
    assert!(text.contains(line), "{text}");
}
