//! A nursery left to itself, in simulated time, while everything around the program fails: four rounds a day, and faults
//! drawn from a seed (`soak/faults.rs`).
//!
//! Held at the end: no field record is lost, no notice is told twice, no letter has more copies than the program could not
//! know of, no letter is left behind, and all that an undisturbed twin was told of, this one was told of as well, as soon as
//! a round could know it (`soak/laws.rs`). Real temperatures (`tests/data/checks`); the nursery is invented. `SOAK_SEEDS=10` walks three
//! years for each of ten seeds, in place of the one summer that is walked else.

mod farm;
mod faults;
mod laws;
mod lost;
mod ways;

use chrono::{DateTime, Datelike, NaiveDate, TimeDelta, Utc, Weekday};
use farm::{Farm, MOVED, Went, ZONE, days_from};
use faults::{Fate, Fault, HARM};
use lost::Lost;
use std::collections::BTreeSet;
use std::fmt::Write;
use std::ops::Range;
use std::sync::{Arc, Mutex};

/// Four rounds a day.
const SLOT: TimeDelta = TimeDelta::hours(6);
/// At the end nothing fails any more for so many slots: longer than a letter is tried.
const TAIL: u32 = 4 * 12;

/// A run that is over.
struct Walked {
    farm: Farm,
    fate: Fate,
    first: DateTime<Utc>,
    /// The slots at which a round knew everything and came to its end.
    whole: BTreeSet<u32>,
    rounds: u32,
    killed: u32,
    /// What was lost with a memory that was harmed, in order.
    lost: Vec<Lost>,
    /// Rounds that were walked by a clock that ran ahead, or refused by one that did not.
    by_the_clock: Vec<String>,
    /// Resident memory at the end of each year, in kB.
    resident: Vec<u64>,
}

/// What fails of the ways in and out.
const OUTSIDE: [Fault; 4] = [
    Fault::NoWeather,
    Fault::NoMail,
    Fault::Greylisted,
    Fault::Unheard,
];
/// With one of these a round cannot know all that its twin knows.
const BLIND: [Fault; 4] = [
    Fault::NoWeather,
    Fault::TornRegister,
    Fault::NoRegister,
    Fault::ClockBack,
];

fn moment(first: DateTime<Utc>, slot: u32) -> DateTime<Utc> {
    first + SLOT * slot.try_into().unwrap()
}

fn start(year: i32) -> DateTime<Utc> {
    let day = NaiveDate::from_ymd_opt(year, 6, 20).unwrap();
    day.and_hms_opt(10, 10, 0).unwrap().and_utc()
}

/// Walks so many slots. What people do hangs on the seed only, and not on what fails.
async fn walk(seed: u64, year: i32, slots: u32, fate: Fate) -> Walked {
    let mut people = fastrand::Rng::with_seed(seed);
    let mut chance = fastrand::Rng::with_seed(!seed);
    let first = start(year);
    let day = first.with_timezone(&ZONE).date_naive();
    let mut walked = Walked {
        farm: Farm::new(day, Arc::new(days_from(year))),
        fate,
        first,
        whole: BTreeSet::new(),
        rounds: 0,
        killed: 0,
        lost: Vec::new(),
        by_the_clock: Vec::new(),
        resident: Vec::new(),
    };
    for slot in 0..slots {
        walked.slot(slot, &mut people, &mut chance).await;
        if (slot + 1) % (4 * 365) == 0 {
            walked.resident.push(resident());
        }
    }
    walked.farm.stop();
    walked
}

impl Walked {
    /// What people do at that slot, and a round where the machine has current.
    async fn slot(&mut self, slot: u32, people: &mut fastrand::Rng, chance: &mut fastrand::Rng) {
        let (farm, fate) = (&mut self.farm, &self.fate);
        let has = |fault: &Fault| fate.has(slot, *fault);
        let now = moment(self.first, slot);
        let set_back = TimeDelta::hours(has(&Fault::ClockBack).into());
        // At the very first start nothing is known of the time.
        let runs_ahead = has(&Fault::ClockAhead) && !self.whole.is_empty();
        let ahead = TimeDelta::days(if runs_ahead { 365 } else { 0 });
        let faults = OUTSIDE.into_iter().filter(has).collect();
        farm.set(now - set_back + ahead, faults);
        for how in HARM.into_iter().filter(has) {
            self.lost.extend(lost::harm(farm, how, now, chance));
        }
        let today = now.with_timezone(&ZONE).date_naive();
        save(
            farm,
            today,
            has(&Fault::TornRegister),
            has(&Fault::NoRegister),
        );
        let (notes, heard, answers, which) = (
            people.u32(0..40) == 0,
            people.bool(),
            people.u32(0..30) == 0,
            people.usize(..),
        );
        if has(&Fault::Off) {
            farm.stop();
            return;
        }
        if notes {
            farm.note(now, heard, which);
        }
        if answers {
            farm.answer(now, which);
        }
        let steps = has(&Fault::Killed).then(|| chance.u32(1..40));
        let went = farm.round(steps).await;
        if runs_ahead != (went == Went::Refused) {
            self.by_the_clock.push(format!("{now}: {went:?}"));
        }
        self.rounds += u32::from(went != Went::Refused);
        self.killed += u32::from(went == Went::Killed);
        if went == Went::Ended && !BLIND.iter().any(has) {
            self.whole.insert(slot);
        }
    }
}

/// The register as people left it that day, or a part of it, or nothing.
fn save(farm: &mut Farm, today: NaiveDate, torn: bool, none: bool) {
    let (batches, records) = farm.register(today);
    for (name, text) in [("batches.csv", batches), ("records.csv", records)] {
        let file = farm.path(name);
        if none {
            let _ = std::fs::remove_file(file);
        } else {
            let length = if torn { text.len() * 2 / 3 } else { text.len() };
            std::fs::write(file, &text[..length]).unwrap();
        }
    }
}

/// Resident memory of this process in kB (proc(5)).
fn resident() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    line.unwrap()
        .trim()
        .trim_end_matches(" kB")
        .parse()
        .unwrap()
}

impl Walked {
    /// The first round at or after that moment, on a working day, that knew everything and came to its end.
    fn first_whole(&self, at: DateTime<Utc>) -> Option<DateTime<Utc>> {
        let moments = self.whole.iter().map(|slot| moment(self.first, *slot));
        let works = |at: &DateTime<Utc>| {
            !matches!(
                at.with_timezone(&ZONE).weekday(),
                Weekday::Sat | Weekday::Sun
            )
        };
        moments.filter(works).find(|moment| *moment >= at)
    }

    fn count(&self, sql: &str) -> String {
        self.farm.memory(sql)[0][0].clone()
    }

    /// The memory grows by less than 1 kB for a day of the site and 2 kB for a notice, beside the room that its tables take
    /// when they are empty.
    fn is_small(&self, slots: u32) {
        let number = |sql| self.count(sql).parse::<u64>().unwrap();
        let empty = 4 * number("SELECT count(*) FROM sqlite_schema");
        let (days, notices) = (u64::from(slots / 4), number("SELECT count(*) FROM notice"));
        let kb = self.farm.memory_kb();
        let most = empty + days + 2 * notices;
        assert!(kb < most, "{kb} kB, more than {most}");
    }

    /// A row of the report.
    fn row(&self, seed: u64, wrong: usize) -> String {
        let slots = |fault| self.fate.slots_with(fault);
        let repeats = self.repeats();
        let mailed = self.farm.mailed();
        let copies: u32 = mailed.copies.values().sum();
        let mut row = format!(
            "{seed:>4} {:>6} {:>6} {:>5} {:>7} {:>8} {:>7} {:>6} {:>6} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>6}",
            self.rounds,
            self.killed,
            slots(Fault::Off),
            slots(Fault::NoWeather),
            slots(Fault::NoRegister) + slots(Fault::TornRegister),
            slots(Fault::NoMail),
            slots(Fault::ClockAhead),
            self.lost.len(),
            self.count("SELECT count(*) FROM record"),
            self.count("SELECT count(*) FROM notice"),
            mailed.copies.len(),
            copies as usize - mailed.copies.len(),
            repeats,
            self.farm.memory_kb(),
            wrong,
        );
        for kb in &self.resident {
            write!(row, " {kb:>7}").unwrap();
        }
        row
    }
}

const HEAD: &str = "seed rounds killed   off  no-sky register no-mail  ahead mended records notices letters doubles repeats   db-kB  wrong  resident kB by year";

/// The years of three that a seed walks, out of those of the series.
fn year_of(seed: u64) -> i32 {
    1991 + MOVED + i32::try_from(seed % 26).unwrap()
}

async fn soak(seed: u64, slots: u32) -> (String, Vec<String>) {
    let year = year_of(seed);
    let fate = Fate::drawn(&mut fastrand::Rng::with_seed(seed), slots - TAIL);
    let twin = walk(seed, year, slots, Fate::kind()).await;
    assert_eq!(twin.wrong(&twin), [""; 0], "where nothing fails");
    twin.is_small(slots);
    let walked = walk(seed, year, slots, fate).await;
    let wrong = walked.wrong(&twin);
    (walked.row(seed, wrong.len()), wrong)
}

/// The seeds one after the other, on two threads.
fn soak_all(seeds: Range<u64>, slots: u32) -> Vec<String> {
    let next = Mutex::new(seeds);
    let wrong = Mutex::new(Vec::new());
    let work = || {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        loop {
            let Some(seed) = next.lock().unwrap().next() else {
                break;
            };
            let (row, found) = runtime.block_on(soak(seed, slots));
            println!("{row}");
            for one in found {
                println!("seed {seed}: {one}");
                wrong.lock().unwrap().push(format!("seed {seed}: {one}"));
            }
        }
    };
    std::thread::scope(|scope| {
        scope.spawn(work);
        work();
    });
    wrong.into_inner().unwrap()
}

#[test]
fn nothing_is_lost_and_nothing_said_twice_whatever_fails() {
    println!("{HEAD}");
    let wrong = match std::env::var("SOAK_SEEDS") {
        Ok(seeds) => soak_all(0..seeds.parse().unwrap(), 4 * 365 * 3),
        Err(_) => soak_all(11..12, 4 * 120),
    };
    assert_eq!(wrong, [""; 0]);
}
