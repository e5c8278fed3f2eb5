//! Which windows are entries of a calendar, and what becomes of an entry from one letter to the next.
//!
//! Day 0 of these seasons is Wednesday 1 July 2026. At 20 °C the maple plan looks for lines on days 14 to 21, heads back
//! from 18 (or from lines) to 21 (or a week of warmth after lines), and takes tape off on days 21 to 28.

use super::*;
use crate::care::tests::season::{WEEK, maple};
use crate::letters::calendar::{Kept, Window, keep, windows};
use crate::nursery::{Gets, Person, Workdays};

fn seen(season: &Season, n: i64) -> Vec<Window> {
    seen_by(season, n, windows)
}

/// Title, days counted from day 0, detail.
fn shown(season: &Season, n: i64) -> String {
    let line = |window: Window| {
        let day = |date: chrono::NaiveDate| (date - season.day(0)).num_days();
        let (first, last) = (day(window.first), day(window.last));
        let detail = window.detail.replace('\n', "\n    ");
        format!("{} {first}..{last}\n    {detail}\n", window.title)
    };
    seen(season, n).into_iter().map(line).collect()
}

/// Three whole years before, a little cooler and warmer than 20 °C.
fn years_before(season: &mut Season) {
    for (year, mean) in [(2023, 18.0), (2024, 20.0), (2025, 22.0)] {
        let first = chrono::NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
        for day in first.iter_days().take(365) {
            season.past.add(year, day, mean, mean);
        }
    }
}

#[test]
fn before_anything_opens_the_next_three_weeks_are_foreseen() {
    // On day 3, day 24 is in sight and day 25 is not.
    let season = maple().but(years_before).without_forecast();
    insta::assert_snapshot!(shown(&season, 3), @r"
    Block C: look for callus lines, foreseen (1 batch, 100 grafts) 14..21
        Opens about Wed 15 Jul (Tue 14 - Sat 18). Warmth may move it.
        Closes about Wed 22 Jul (Mon 20 - Sun 26).
        C-14 Osakazuki, 100 grafts
    Block C: head back, foreseen (1 batch, 100 grafts) 17..21
        Opens about Sat 18 Jul (Wed 15 - Wed 22). Warmth may move it.
        Closes about Wed 22 Jul (Mon 20 - Sun 26).
        C-14 Osakazuki, 100 grafts
    Block C: tape off and tie in, foreseen (1 batch, 100 grafts) 21..28
        Opens about Wed 22 Jul (Mon 20 - Sun 26). Warmth may move it.
        Closes about Wed 29 Jul (Sun 26 Jul - Mon 3 Aug).
        C-14 Osakazuki, 100 grafts
    ");
}

#[test]
fn an_open_window_has_its_own_dates_and_names_the_last_working_day() {
    let off = |from: &str| vec![(from.parse().unwrap(), "2026-07-24".parse().unwrap())];
    let away = |from| maple().but(|s| s.workdays = Workdays::new(&WEEK, off(from)));
    insta::assert_snapshot!(shown(&away("2026-07-21"), 16), @r"
    Block C: look for callus lines (1 batch, 100 grafts) 14..21
        Open since Wed 15 Jul.
        Closes on Wed 22 Jul. The last working day in it is Mon 20 Jul.
        C-14 Osakazuki, 100 grafts
    Block C: head back, foreseen (1 batch, 100 grafts) 18..21
        Opens roughly Sun 19 Jul. Warmth may move it.
        Closes on Wed 22 Jul. The last working day in it is Mon 20 Jul.
        C-14 Osakazuki, 100 grafts
    Block C: tape off and tie in, foreseen (1 batch, 100 grafts) 21..28
        Opens roughly Wed 22 Jul. Warmth may move it.
        Closes on Wed 29 Jul.
        C-14 Osakazuki, 100 grafts
    ");
    let look = &seen(&away("2026-07-17"), 16)[0];
    let said = "Closes on Wed 22 Jul. No working day is left in it.";
    assert_eq!(look.detail.lines().nth(1), Some(said));
}

#[test]
fn batches_of_one_block_and_day_are_one_entry() {
    let season = maple().but(|s| {
        another(s, "C-15", |b| b.grafts = 210);
        another(s, "C-16", |b| {
            b.grafted_on = b.grafted_on + chrono::Days::new(1);
        });
        another(s, "D-1", |b| b.block = "D".into());
    });
    let titles: Vec<String> = seen(&season, 16)
        .into_iter()
        .filter(|window| window.title.contains("callus"))
        .map(|window| window.title)
        .collect();
    assert_eq!(
        titles,
        [
            "Block C: look for callus lines (2 batches, 310 grafts)",
            "Block D: look for callus lines (1 batch, 100 grafts)",
            "Block C: look for callus lines (1 batch, 100 grafts)",
        ]
    );
}

#[test]
fn forty_batches_in_five_blocks_on_one_morning_are_five_entries() {
    let season = maple().but(|s| {
        s.batches[0].block = "A".into();
        for k in 1..40 {
            let block = ["A", "B", "C", "D", "E"][k % 5];
            another(s, &format!("{block}-{k}"), |b| b.block = block.into());
        }
    });
    let found = seen(&season, 15).into_iter();
    let open: Vec<String> = found
        .filter(|window| !window.title.contains("foreseen"))
        .map(|window| window.title)
        .collect();
    let expected = ["A", "B", "C", "D", "E"]
        .map(|block| format!("Block {block}: look for callus lines (8 batches, 800 grafts)"));
    assert_eq!(open, expected);
}

#[test]
fn a_batch_whose_lines_are_seen_has_days_of_its_own_within_the_entry() {
    let season = maple()
        .but(|s| another(s, "C-15", |b| b.grafts = 210))
        .records("15 lines");
    insta::assert_snapshot!(shown(&season, 16), @r"
    Block C: look for callus lines (1 batch, 210 grafts) 14..21
        Open since Wed 15 Jul.
        Closes on Wed 22 Jul.
        C-15 Osakazuki, 210 grafts
    Block C: head back (2 batches, 310 grafts) 15..21
        Open since Thu 16 Jul.
        Closes on Wed 22 Jul.
        C-14 Osakazuki, 100 grafts
        C-15 Osakazuki, 210 grafts, Sun 19 - Wed 22 Jul
    Block C: tape off and tie in, foreseen (2 batches, 310 grafts) 21..28
        Opens roughly Wed 22 Jul. Warmth may move it.
        Closes on Wed 29 Jul.
        C-14 Osakazuki, 100 grafts
        C-15 Osakazuki, 210 grafts
    ");
}

#[test]
fn many_batches_are_named_up_to_a_dozen() {
    let season = maple().but(|s| {
        for k in 0..39 {
            another(s, &format!("C-{}", 20 + k), |_| {});
        }
    });
    let window = seen(&season, 16).remove(0);
    assert_eq!(
        window.title,
        "Block C: look for callus lines (40 batches, 4,000 grafts)"
    );
    assert_eq!(window.detail.lines().count(), 2 + 12 + 1);
    assert!(
        window.detail.ends_with("\nand 28 more"),
        "{}",
        window.detail
    );
}

#[test]
fn a_window_of_months_stands_on_its_first_day() {
    // Stumping: from 1 November of the year after until 31 December.
    let season = maple().records("16 lines, 17 headed-back, 22 tape-off, 2027-04-20 dead 10");
    let n = (crate::care::tests::season::date("2027-11-01") - season.day(0)).num_days();
    let stump = |n| {
        let found = seen(&season, n).into_iter();
        let mut stump = found.filter(|w| w.key.contains("\nstump\n"));
        stump.next().unwrap()
    };
    let foreseen =
        "Block C: stump at the top of the union, foreseen, by Fri 31 Dec (1 batch, 90 grafts)";
    let open = "Block C: stump at the top of the union, by Fri 31 Dec (1 batch, 90 grafts)";
    let days = (season.day(n), season.day(n));
    for (at, title) in [(n - 21, foreseen), (n + 2, open)] {
        let Window {
            title: found,
            first,
            last,
            ..
        } = stump(at);
        assert_eq!((found.as_str(), (first, last)), (title, days));
    }
}

#[test]
fn what_is_finished_and_what_nobody_looks_forward_to_is_no_entry() {
    let closed = maple().records("16 closed");
    assert_eq!(shown(&closed, 17), "");
    // Grafting anew is for what has failed: ahead it is none, once dead are counted it is one.
    let of_anew = |season: &Season, n| {
        let found = seen(season, n);
        found
            .iter()
            .filter(|w| w.title.contains("re-graft"))
            .count()
    };
    assert_eq!(of_anew(&maple(), 16), 0);
    assert_eq!(of_anew(&maple().records("16 dead 20"), 16), 1);
}

#[test]
fn a_person_has_the_windows_of_their_own_blocks() {
    let season = maple().but(|s| another(s, "D-1", |b| b.block = "D".into()));
    let mut person = Person {
        blocks: vec!["d".into()],
        ..people::person("maren", &Gets::ALL)
    };
    let theirs = |person: &Person| -> Vec<String> {
        let found = seen(&season, 16).into_iter();
        let theirs = found.filter(|w| w.concerns(person));
        theirs.map(|w| w.block).collect()
    };
    assert_eq!(theirs(&person), ["D", "D", "D"]);
    person.sites = vec!["hill".into()];
    assert_eq!(theirs(&person), [""; 0]);
}

/// What a phone holds after letters on these mornings, each season as it stood then: of every entry its sequence, days,
/// title, and a cross where it is cancelled.
struct Phone<'a> {
    origin: &'a Season,
    kept: Vec<Kept>,
    sent: Vec<Kept>,
}

impl<'a> Phone<'a> {
    fn new(origin: &'a Season) -> Self {
        Self {
            origin,
            kept: Vec::new(),
            sent: Vec::new(),
        }
    }

    fn letter(&mut self, season: &Season, n: i64) {
        let windows = seen(season, n);
        let uid = |key: &str| key.replace('\n', " ");
        self.sent = keep(self.kept.clone(), &windows, uid, season.day(n));
        let sent = |kept: &Kept| self.sent.iter().any(|s| s.entry.uid == kept.entry.uid);
        self.kept.retain(|kept| !sent(kept));
        self.kept.extend(self.sent.clone());
    }

    /// The entry of a step in the last letter.
    fn of(&self, step: &str) -> String {
        let of = |kept: &&Kept| kept.entry.uid.contains(&format!(" {step} "));
        let found: Vec<String> = self.sent.iter().filter(of).map(|k| self.shown(k)).collect();
        found.join(" | ")
    }

    fn shown(&self, kept: &Kept) -> String {
        let entry = &kept.entry;
        let day = |date: chrono::NaiveDate| (date - self.origin.day(0)).num_days();
        let cross = if entry.cancelled { " x" } else { "" };
        let (first, last) = (day(entry.first), day(entry.last));
        let title = entry.title.trim_start_matches("Block C: ");
        format!("#{} {first}..{last}{cross} {title}", entry.sequence)
    }
}

#[test]
fn nothing_new_is_the_same_entries_with_the_same_numbers() {
    let season = maple();
    let mut phone = Phone::new(&season);
    phone.letter(&season, 16);
    let before = phone.sent.clone();
    assert!(before.len() > 2);
    phone.letter(&season, 16);
    assert_eq!(phone.sent, before);
}

#[test]
fn a_moved_window_moves_its_entry() {
    let season = maple();
    let mut phone = Phone::new(&season);
    phone.letter(&season, 10);
    assert_eq!(
        phone.of("tape-off"),
        "#0 21..28 tape off and tie in, foreseen (1 batch, 100 grafts)"
    );
    // Days 1 to 11 have given 11 standard days, each day after them gives half a one: 21 are reached on day 31, and 28
    // on day 45.
    let cooler = maple().weather("12x20 100x12.5");
    phone.letter(&cooler, 12);
    assert_eq!(
        phone.of("tape-off"),
        "#1 31..45 tape off and tie in, foreseen (1 batch, 100 grafts)"
    );
    // The entry goes along until both its old days and its new ones are over.
    phone.letter(&season, 13);
    assert_eq!(
        phone.of("tape-off"),
        "#2 21..28 tape off and tie in, foreseen (1 batch, 100 grafts)"
    );
    assert!(phone.sent.iter().any(|kept| kept.upto == season.day(45)));
}

#[test]
fn work_that_is_done_ends_its_entry_on_that_day() {
    let season = maple().records("15 lines");
    let mut phone = Phone::new(&season);
    phone.letter(&season, 16);
    assert_eq!(
        phone.of("head-back"),
        "#0 15..21 head back (1 batch, 100 grafts)"
    );
    let some = season.clone().records("16 headed-back 40");
    phone.letter(&some, 17);
    assert_eq!(
        phone.of("head-back"),
        "#1 15..21 head back (1 batch, 60 grafts)"
    );
    let all = some.records("17 headed-back 60");
    phone.letter(&all, 18);
    let ended = "#2 15..17 head back, done (1 batch)";
    assert_eq!(phone.of("head-back"), ended);
    // It goes along until the days are over that the phone may still show, and is told no more after that.
    phone.letter(&all, 21);
    assert_eq!(phone.of("head-back"), ended);
    phone.letter(&all, 22);
    assert_eq!(phone.of("head-back"), "");
    // The last record was wrong: 40 of 100 are done.
    let taken_back = all.records("18 retract headed-back");
    phone.letter(&taken_back, 19);
    assert_eq!(
        phone.of("head-back"),
        "#3 15..21 head back (1 batch, 60 grafts)"
    );
}

#[test]
fn a_window_that_went_away_is_cancelled_and_may_come_back() {
    let season = maple();
    let mut phone = Phone::new(&season);
    phone.letter(&season, 16);
    assert_eq!(
        phone.of("tape-off"),
        "#0 21..28 tape off and tie in, foreseen (1 batch, 100 grafts)"
    );
    let lost = season.clone().records("16 closed");
    phone.letter(&lost, 17);
    let cancelled = "#1 21..28 x tape off and tie in, foreseen (1 batch, 100 grafts)";
    assert_eq!(phone.of("tape-off"), cancelled);
    phone.letter(&lost, 28);
    assert_eq!(phone.of("tape-off"), cancelled);
    phone.letter(&lost, 29);
    assert_eq!(phone.of("tape-off"), "");
    phone.letter(&season, 18);
    assert_eq!(
        phone.of("tape-off"),
        "#2 21..28 tape off and tie in, foreseen (1 batch, 100 grafts)"
    );
}

#[test]
fn what_ran_out_stays_as_it_was() {
    let season = maple();
    let mut phone = Phone::new(&season);
    phone.letter(&season, 16);
    let look = phone.of("callus-check");
    phone.letter(&season, 21);
    assert_eq!(phone.of("callus-check"), look);
    phone.letter(&season, 24);
    assert_eq!(phone.of("callus-check"), "");
    // Done late: the entry has been over for days.
    phone.letter(&season.clone().records("24 lines"), 25);
    assert_eq!(phone.of("callus-check"), "");
}
