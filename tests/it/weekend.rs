//! The hot weekend of the invented season, with the next seven days foretold: which letter goes to whom on which morning,
//! and what the Monday letter says when the machine was off from Saturday noon to Sunday night.
//!
//! Invented data; what the rounds say stands here whole, for a person to judge.

use crate::program::unfolded;
use chrono::{NaiveDate, NaiveDateTime};
use graftwarden::assemble::{Foresight, House};
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::round::round;
use insta::assert_snapshot;
use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;

/// The rounds of a fortnight, the last of them on Tuesday 11 August 2026, by the nursery's clocks. The weekend of 8 and 9
/// August has its rounds only where the machine is on.
fn rounds(machine_off: bool) -> Vec<NaiveDateTime> {
    let first = NaiveDate::from_ymd_opt(2026, 7, 20).unwrap();
    first
        .iter_days()
        .take(23)
        .map(|day| {
            // Sunday's is made up for when the machine is on again.
            let late = machine_off && day == NaiveDate::from_ymd_opt(2026, 8, 9).unwrap();
            let (hour, minute) = if late { (23, 40) } else { (6, 10) };
            day.and_hms_opt(hour, minute, 0).unwrap()
        })
        .collect()
}

/// What went out from Thursday 6 August on, and the letters by their file names.
async fn played(machine_off: bool, letters: &Path) -> String {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/graftwarden.toml");
    let config = Config::load(&demo).unwrap();
    let zone = config.zone;
    let utc = |wall: NaiveDateTime| wall.and_local_timezone(zone).unwrap().to_utc();
    let rounds = rounds(machine_off);
    let clock = Arc::new(ManualClock::at(utc(rounds[0])));
    let house = House::rehearsed(config, clock.clone(), letters, Foresight::Perfect).unwrap();
    let mut out = String::new();
    for wall in rounds {
        clock.set(utc(wall));
        let outcome = round(&house).await.unwrap();
        if wall.date() < NaiveDate::from_ymd_opt(2026, 8, 6).unwrap() {
            continue;
        }
        writeln!(out, "{}", wall.format("%a %-d %b %H:%M")).unwrap();
        for letter in outcome.letters {
            writeln!(out, "  {}: {}", letter.name, letter.subject).unwrap();
        }
    }
    out
}

/// The text of the one letter of that morning to that person.
fn letter(letters: &Path, day: &str, person: &str) -> String {
    let files = std::fs::read_dir(letters).unwrap();
    let named = |name: &str| name.starts_with(day) && name.contains(person);
    let found: Vec<_> = files
        .map(|file| file.unwrap())
        .filter(|file| named(&file.file_name().into_string().unwrap()))
        .collect();
    assert_eq!(found.len(), 1);
    let text = std::fs::read_to_string(found[0].path()).unwrap();
    let (_, body) = text.split_once("\r\n\r\n").unwrap();
    assert!(!body.is_empty());
    unfolded(&text).split_once("\n\n").unwrap().1.to_owned()
}

#[tokio::test]
#[expect(clippy::too_many_lines, reason = "a letter is told whole")]
async fn which_letter_goes_to_whom_on_which_morning() {
    let letters = tempfile::tempdir().unwrap();
    assert_snapshot!(played(false, letters.path()).await, @r"
    Thu 6 Aug 06:10
      Maren Holt: Block D at hill: risk of over-callusing by Sun 9 Aug (1 batch, 60 grafts), and 3 more things
      Jory Penhale: Block B at home: look first, then head back (1 batch, 150 grafts), and 1 more thing
      Ilse Brandt: Block D at hill: last working day: head back (1 batch, 60 grafts), and 1 more thing
    Fri 7 Aug 06:10
      Maren Holt: Block B at home: last working day: no look is written down, look first (1 batch, 150 grafts), and 3 more things
      Jory Penhale: Block B at home: last working day: no look is written down, look first (1 batch, 150 grafts), and 3 more things
      Ilse Brandt: Block D at hill: tape off and tie in now (1 batch, 160 grafts)
    Sat 8 Aug 06:10
    Sun 9 Aug 06:10
    Mon 10 Aug 06:10
      Maren Holt: Blocks B and C at home: risk of over-callusing by Thu 13 Aug (2 batches, 350 grafts), and 8 more things
      Jory Penhale: Blocks B and C at home: risk of over-callusing by Thu 13 Aug (2 batches, 350 grafts), and 7 more things
      Ilse Brandt: Since Fri 7 Aug: 1 thing to do today, about 4.0 h of crew time
    Tue 11 Aug 06:10
      Maren Holt: Block B at home: over-callused, ease the tape today (1 batch, 150 grafts), and 6 more things
      Jory Penhale: Block B at home: over-callused, ease the tape today (1 batch, 150 grafts), and 5 more things
      Ilse Brandt: Block D at hill: last working day: tape off and tie in (1 batch, 160 grafts), and 1 more thing
    ");
    assert_snapshot!(letter(letters.path(), "2026-08-07", "jory"), @r"
    Alder Fold Nursery, Friday 7 August 2026

    LAST WORKING DAY: NO LOOK IS WRITTEN DOWN, LOOK FIRST
      Block B at home: 1 batch, 150 grafts, by Fri 7 Aug

    Head back: The heat of Fri 7 - Mon 10 Aug (up to 38 °C) is no
    reason to wait: it drives callus over the scion all the faster. Do
    this early in the morning.

    No look at these is written down. Was there one? Write down what
    was seen, with its date. What is to be done depends on what you
    find.

    Written down and taken back: B2 lines, Mon 3 Aug (Maren).

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    What may be found, and what to do then:
      Head back only trees that show lines on both sides, by
      two-thirds, evenly. Cutting blind starves the callus and spoils
      the stock for re-grafting.

      B2  150 grafts  by Fri 7 Aug
          Winter Sparrow: 19.9 standard days, 298 °C·d

    LAST WORKING DAY: TAPE OFF AND TIE IN
      Block A at home: 1 batch, 120 grafts, by Sun 9 Aug

    Take no tape off in the heat of Fri 7 - Mon 10 Aug (up to 38 °C):
    until it is over, slit it opposite the scion early in the morning
    where it cuts in, rebind loosely and write down tape-eased; take
    it off from Tue 11 Aug on.

    Its last day is Sun 9 Aug, before the next working day. Callus on
    both sides and scion firm: tape off, tie the scion to the stock,
    and head back a second time at the same visit if seven mild days
    have passed since the first. Otherwise slit the tape opposite the
    scion, rebind loosely, write down tape-eased, and look again in
    five mild days. Not before strong wind or heavy rain, and no bare
    trunks when 35 °C is forecast.

      A3  120 grafts  by Sun 9 Aug
          Grey Heron: 25.0 standard days, 375 °C·d

    TAPE OFF AND TIE IN AFTER THE HEAT, FROM TUE 11 AUG
      Block B at home: 1 batch, 194 grafts, by Tue 11 Aug

    Not in the heat of Fri 7 - Mon 10 Aug (up to 38 °C): leave the
    tape on and bare no trunk until it is over, and do this from Tue
    11 Aug on.

    Callus on both sides and scion firm: tape off, tie the scion to
    the stock, and head back a second time at the same visit if seven
    mild days have passed since the first. Otherwise slit the tape
    opposite the scion, rebind loosely, write down tape-eased, and
    look again in five mild days. Not before strong wind or heavy
    rain, and no bare trunks when 35 °C is forecast.

    Opened by warmth: 21.5 standard days since grafting, reached on
    Thu 6 Aug.

      B1  194 grafts  by Tue 11 Aug
          Tidemark Red: 21.5 standard days, 323 °C·d

    BEFORE MON 10 AUG

    Nobody works on Sat 8 - Sun 9 Aug. This may fall due meanwhile, by
    what is known today. What can be done today need not wait; who is
    at hand in between may be told.

    Runs out today:
      look for callus lines, block B at home: B2, by today, Fri 7 Aug
      look first, then head back where lines show, block B at home:
      B2, by today, Fri 7 Aug

    May run out:
      tape off and tie in, block A at home: A3, by Sun 9 Aug

    May open:
      tape off and tie in, block B at home: B2, about Fri 7 Aug
      look first, then head back where lines show, block B at home:
      B3, about Fri 7 Aug (Fri 7 - Sat 8)
      look for callus lines, block C at home: C1, about Fri 7 Aug
      look again, block A at home: A3, about Sat 8 Aug
      look again, block B at home: B1, about Sun 9 Aug
      look first, then head back where lines show, block C at home:
      C1, about Sun 9 Aug (Fri 7 - Mon 10)
      look for callus lines, block C at home: C2, about Sun 9 Aug
      look first, then head back where lines show, block C at home:
      C2, about Wed 12 Aug (Sun 9 - Thu 13)

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    For the crew: start early, rest in the shade, drink before you are
    thirsty, look after each other. Local rules and qualified advice
    come first.

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note B2 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 27 days, known to
    Thu 6 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}

#[tokio::test]
#[expect(clippy::too_many_lines, reason = "a letter is told whole")]
async fn a_machine_that_was_off_from_saturday_noon_to_sunday_night_makes_up_for_it() {
    let letters = tempfile::tempdir().unwrap();
    assert_snapshot!(played(true, letters.path()).await, @r"
    Thu 6 Aug 06:10
      Maren Holt: Block D at hill: risk of over-callusing by Sun 9 Aug (1 batch, 60 grafts), and 3 more things
      Jory Penhale: Block B at home: look first, then head back (1 batch, 150 grafts), and 1 more thing
      Ilse Brandt: Block D at hill: last working day: head back (1 batch, 60 grafts), and 1 more thing
    Fri 7 Aug 06:10
      Maren Holt: Block B at home: last working day: no look is written down, look first (1 batch, 150 grafts), and 3 more things
      Jory Penhale: Block B at home: last working day: no look is written down, look first (1 batch, 150 grafts), and 3 more things
      Ilse Brandt: Block D at hill: tape off and tie in now (1 batch, 160 grafts)
    Sat 8 Aug 06:10
    Sun 9 Aug 23:40
    Mon 10 Aug 06:10
      Maren Holt: Blocks B and C at home: risk of over-callusing by Thu 13 Aug (2 batches, 350 grafts), and 8 more things
      Jory Penhale: Blocks B and C at home: risk of over-callusing by Thu 13 Aug (2 batches, 350 grafts), and 7 more things
      Ilse Brandt: Since Fri 7 Aug: 1 thing to do today, about 4.0 h of crew time
    Tue 11 Aug 06:10
      Maren Holt: Block B at home: over-callused, ease the tape today (1 batch, 150 grafts), and 6 more things
      Jory Penhale: Block B at home: over-callused, ease the tape today (1 batch, 150 grafts), and 5 more things
      Ilse Brandt: Block D at hill: last working day: tape off and tie in (1 batch, 160 grafts), and 1 more thing
    ");
    assert_snapshot!(letter(letters.path(), "2026-08-10", "jory"), @r"
    Alder Fold Nursery, Monday 10 August 2026

    RISK OF OVER-CALLUSING BY THU 13 AUG
      Block B at home: 1 batch, 90 grafts, by Thu 13 Aug
      Block C at home: 1 batch, 260 grafts, by Thu 13 Aug

    By the forecast the warmth at which over-callusing becomes a risk
    is reached in 3 days, Thu 13 Aug. The time to head back runs out
    before that, on Mon 10 Aug. Today is the last working day for it.

    What moves it: the 4 days up to then bring 67 °C·d, where 51 °C·d
    is usual for these dates.

    A stock left whole may be driving the callus over the scion by
    then. Where lines show on both sides, head back; where none are
    seen, do not cut, look again.

    B3: The heat of Fri 7 - Mon 10 Aug (up to 38 °C) lasts as long as
    there is time for this: do it early in the morning, and shade what
    is bared.

    Block B at home
      B3   90 grafts  by Thu 13 Aug
          Ember Lace: 20.6 standard days, 308 °C·d
    Block C at home
      C1  260 grafts  by Thu 13 Aug
          Copper Thimble: 17.5 standard days, 262 °C·d

    SINCE FRI 7 AUG

    home: 4.1 standard days of warmth in 3 days, up to 38 °C on Sun 9
    Aug.

    This program did not run from Sat 8 Aug 06:10 to Sun 9 Aug 23:40;
    what it missed is made up for in this letter.

    Opened:
      re-graft, block A at home: A3, since Fri 7 Aug
      look again, block B at home: B1, since Sun 9 Aug
      tape off and tie in, block B at home: B2, since Fri 7 Aug
      look first, then head back where lines show, block B at home:
      B3, since Sat 8 Aug
      look for callus lines, block C at home: C1, since Fri 7 Aug
      look for callus lines, block C at home: C2, since Sun 9 Aug

    LAST WORKING DAY: NO LOOK IS WRITTEN DOWN, LOOK FIRST
      Block B at home: 1 batch, 90 grafts, by Mon 10 Aug

    Head back: The heat of Fri 7 - Mon 10 Aug (up to 38 °C) lasts as
    long as there is time for this: do it early in the morning, and
    shade what is bared.

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

      B3  90 grafts  by Mon 10 Aug
          Ember Lace: 20.6 standard days, 308 °C·d

    TAPE OFF AND TIE IN AFTER THE HEAT, FROM TUE 11 AUG
      Block B at home: 1 batch, 150 grafts, by Thu 13 Aug

    Not in the heat of Fri 7 - Mon 10 Aug (up to 38 °C): leave the
    tape on and bare no trunk until it is over, and do this from Tue
    11 Aug on.

    Callus on both sides and scion firm: tape off, tie the scion to
    the stock, and head back a second time at the same visit if seven
    mild days have passed since the first. Otherwise slit the tape
    opposite the scion, rebind loosely, write down tape-eased, and
    look again in five mild days. Not before strong wind or heavy
    rain, and no bare trunks when 35 °C is forecast.

    Opened by warmth: 21.2 standard days since grafting, reached on
    Fri 7 Aug.

      B2  150 grafts  by Thu 13 Aug
          Winter Sparrow: 24.0 standard days, 360 °C·d

    LOOK FOR CALLUS LINES NOW
      Block C at home: 2 batches, 440 grafts, by Thu 13 Aug

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    Opened by warmth: 14.0 to 14.6 standard days since grafting,
    reached on Fri 7 - Sun 9 Aug.

      C1  260 grafts  by Thu 13 Aug
          Copper Thimble: 17.5 standard days, 262 °C·d
      C2  180 grafts  by Sun 16 Aug
          Fox Cinder: 14.0 standard days, 211 °C·d

    RE-GRAFT NOW
      Block A at home: 1 batch, 4 grafts, by Fri 4 Sep

    Only where the scion is dead or shows no callus on either side:
    leave the stock unheaded and re-graft on the opposite side, 5 to
    10 cm lower, if the bark still slips. Write down regrafted with
    the number; they become a batch of their own.

    Opened by what was written down for Fri 7 Aug.

      A3  4 grafts  by Fri 4 Sep
          Grey Heron: 29.1 standard days, 437 °C·d

    LOOK AGAIN NOW
      Block B at home: 1 batch, 194 grafts

    Look for over-callusing, tape cutting in and stock suckers. Write
    down looked if there is nothing to report.

    Opened by warmth on Sun 9 Aug.

      B1  194 grafts
          Tidemark Red: 25.6 standard days, 384 °C·d

    TOMORROW, BY THE FORECAST

    These windows open with today's warmth. Nothing is to be done yet;
    you are told when they are open.

    Opens:
      look first, then head back where lines show, block C at home: C1
      (260 grafts)
      tape off and tie in, block B at home: B3 (90 grafts)
      look for callus lines, block C at home: C3 (140 grafts)

    TODAY, IN THE ORDER TO WALK IT

    8 things, about 12 h of crew time.

    Block A at home:
      A3 re-graft, 4 grafts, 16 min, by Fri 4 Sep

    Block B at home:
      B1 look again, 194 grafts, 29 min
      B1 tape off and tie in, 194 grafts, 4.8 h, by Tue 11 Aug, not in
      the heat: from Tue 11 Aug on
      B2 tape off and tie in, 150 grafts, 3.8 h, by Thu 13 Aug, not in
      the heat: from Tue 11 Aug on
      B3 look for callus lines, 90 grafts, 18 min, by today, Mon 10
      Aug
      B3 then head back, the same grafts, 1.1 h, by today, Mon 10 Aug,
      early in the morning for the heat

    Block C at home:
      C1 look for callus lines, 260 grafts, 52 min, by Thu 13 Aug
      C2 look for callus lines, 180 grafts, 36 min, by Sun 16 Aug

    WRITTEN DOWN SINCE OUR LAST LETTER

    A3 tape off 116 (Maren, Fri 7 Aug); B2 lines 6/10 (Maren, Fri 7
    Aug); B2 headed back (Maren, Fri 7 Aug).

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    For the crew: move heavy work to dawn, shade and cool water at
    hand, rest often, never alone. Local rules and qualified advice
    come first.

    Looked? Write it in the field records (lines, no-lines), or as
    here: graftwarden note B3 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 34 days, known to
    Sun 9 Aug.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
}
