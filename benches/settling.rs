//! Settling when nothing is new: the register is known again, every batch is surveyed, and it is decided that nothing is to
//! be told. The goals: 10,000 batches under 120 ms, a million on 2,000 sites under 10 s, and no faster growth than with the
//! batches: the last column and the exponent, fitted through all lines, say so. And when each window of 100,000 batches opens
//! and closes, by thirty years before: under 2 s for six steps of each.

use chrono::{DateTime, Datelike, NaiveDate, TimeDelta, Utc};
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use graftwarden::assemble::House;
use graftwarden::care::Outlook;
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::round::{Desk, Incoming, Outcome, Whom, fetch, settle};
use graftwarden::store::Store;
use graftwarden::survey::{Survey, When, survey};
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;
use tempfile::TempDir;
use tokio::runtime::Builder;

const BATCHES: usize = 10_000;
/// Batches on one site.
const CROWD: usize = 500;
/// The years before, where they are looked at.
const YEARS_BEFORE: usize = 30;
/// Of so many rounds the fastest counts.
const TRIES: usize = 3;

/// A Tuesday in the season.
const NOW: &str = "2026-08-18T04:10:00Z";

fn main() {
    let nursery = Nursery::new(BATCHES);
    let (told, took) = timed(|| nursery.settle().tellings.len());
    println!("{BATCHES} batches: a first round that tells {told} notices settles in {took:.2} s");
    drop(nursery);
    growth(&[1_000, 10_000, 100_000, 1_000_000], false);
    growth(&[1_000, 10_000, 100_000], true);
    for (batches, noted) in [(100_000, false), (100_000, true)] {
        looking_ahead(batches, noted);
    }
    divan::main();
}

/// How long it takes to say when every window opens and closes; `noted` where something is written down of each batch.
fn looking_ahead(batches: usize, noted: bool) {
    let nursery = Nursery::with(batches, noted, YEARS_BEFORE);
    let (asked, took) = nursery.surveyed(|survey| {
        assert_eq!(survey.cares.len(), batches);
        timed(|| {
            let outlook = Outlook::new(survey.grounds, survey.past, &survey.cares);
            let mut asked = 0;
            for care in &survey.cares {
                for step in care.steps.iter() {
                    black_box((outlook.of(care, step), outlook.closes(care, step)));
                    asked += 1;
                }
            }
            asked
        })
    });
    println!(
        "{batches} batches {}, {YEARS_BEFORE} years before: {asked} windows foreseen in {took:.2} s",
        which(noted)
    );
}

fn which(noted: bool) -> &'static str {
    if noted {
        "with a record each"
    } else {
        "without records"
    }
}

/// How long a round takes in which nothing is new, by the number of batches; `noted` where something is written down of each.
fn growth(sizes: &[usize], noted: bool) {
    println!("batches {}, seconds, microseconds a batch", which(noted));
    let mut logs = Vec::new();
    for &batches in sizes {
        let mut nursery = Nursery::with(batches, noted, 0);
        // All is told before anybody is there to be written to: a letter of millions of notices is another question.
        let mut nobody = Config::clone(&nursery.house.config);
        nobody.people.clear();
        let config = std::mem::replace(&mut nursery.house.config, nobody.into());
        nursery.settle();
        nursery.house.config = config;
        let mut round = || {
            nursery.fetch();
            nursery.settle().tellings.len()
        };
        round();
        let mut quiet = || {
            let (told, took) = timed(&mut round);
            assert_eq!(told, 0);
            took
        };
        let took = (0..TRIES).map(|_| quiet()).fold(f64::INFINITY, f64::min);
        println!("{batches}, {took:.3}, {:.2}", took / batches as f64 * 1e6);
        logs.push(((batches as f64).ln(), took.ln()));
    }
    let mean = |of: fn(&(f64, f64)) -> f64| logs.iter().map(of).sum::<f64>() / logs.len() as f64;
    let (x, y) = (mean(|log| log.0), mean(|log| log.1));
    let slope =
        |of: fn(f64, f64) -> f64| logs.iter().map(|log| of(log.0 - x, log.1 - y)).sum::<f64>();
    let exponent = slope(|x, y| x * y) / slope(|x, _| x * x);
    println!("grows with the {exponent:.2}th power of the batches");
}

fn timed<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let begun = Instant::now();
    (work(), begun.elapsed().as_secs_f64())
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn survey_alone(bencher: Bencher) {
    let nursery = Nursery::new(BATCHES);
    bencher
        .counter(ItemsCount::new(BATCHES))
        .bench_local(|| nursery.survey());
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn nothing_new(bencher: Bencher) {
    let nursery = Nursery::new(BATCHES);
    let told = nursery.settle();
    assert!(told.tellings.len() > BATCHES / 2, "{}", told.tellings.len());
    bencher.counter(ItemsCount::new(BATCHES)).bench_local(|| {
        let again = nursery.settle();
        assert!(again.tellings.is_empty(), "{:?}", again.tellings);
    });
}

/// A nursery with as many batches, and what comes in from outside.
struct Nursery {
    house: House,
    incoming: Incoming,
    _folder: TempDir,
}

impl Nursery {
    fn new(batches: usize) -> Self {
        Self::with(batches, false, 0)
    }

    fn with(batches: usize, noted: bool, years: usize) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let put = |name: &str, text: &str| {
            std::fs::write(folder.path().join(name), text).expect("a file in the folder");
        };
        put("graftwarden.toml", &config(batches / CROWD, years > 0));
        put("past.csv", &past(years));
        put("batches.csv", &register(batches));
        put("records.csv", &records(if noted { batches } else { 0 }));
        put("temps.csv", &temperatures());
        let house = house(&folder.path().join("graftwarden.toml"));
        let mut nursery = Self {
            house,
            incoming: Incoming::default(),
            _folder: folder,
        };
        nursery.fetch();
        nursery
    }

    fn fetch(&mut self) {
        let runtime = Builder::new_current_thread().enable_all().build();
        let runtime = runtime.expect("a runtime");
        self.incoming = runtime.block_on(fetch(&self.house, now(), Whom::Everybody));
    }

    fn settle(&self) -> Outcome {
        let (carriers, sources) = (self.house.carrier_names(), self.house.source_list());
        let desk = Desk {
            carriers: &carriers,
            sources: &sources,
        };
        let settled = self
            .house
            .with_store(|memory| settle(memory, &self.house.config, &self.incoming, &desk, now()));
        settled.expect("a round")
    }

    fn survey(&self) {
        self.surveyed(|survey| {
            assert_eq!(survey.cares.len(), BATCHES);
            black_box(survey.problems.len());
        });
    }

    fn surveyed<T>(&self, look: impl FnOnce(Survey<'_>) -> T) -> T {
        // What came in is written down once.
        let surveyed = self.house.with_store(|memory| {
            if memory.batches()?.is_empty() {
                graftwarden::round::absorb(memory, &self.incoming, now())?;
            }
            survey(memory, &self.house.config, When::Now(now()), look)
        });
        surveyed.expect("a survey")
    }
}

fn house(config: &Path) -> House {
    let config = Config::load(config).expect("a config without a fault");
    let store = Store::open(&config.state).expect("a store");
    let (house, problems) = House::live(config, Arc::new(ManualClock::at(now())), store);
    assert!(problems.is_empty(), "{problems:?}");
    house
}

fn now() -> DateTime<Utc> {
    NOW.parse().expect("a moment")
}

fn config(sites: usize, past: bool) -> String {
    let mut text = String::from(
        "version = 1\n\n[nursery]\nname = \"Alder Fold Nursery\"\nzone = \"Europe/Brussels\"\n\n[post]\nfrom = \"Alder Fold Nursery <letters@alderfold.example>\"\nlog = true\n\n[[people]]\nname = \"Maren Holt\"\nemail = \"maren@alderfold.example\"\n",
    );
    let past = if past {
        "past_years = \"past.csv\"\n"
    } else {
        ""
    };
    for site in 0..sites {
        let _ = write!(
            text,
            "\n[[site]]\nid = \"s{site}\"\nlatitude = 50.8\nlongitude = 4.4\n{past}\n[[site.weather]]\nsource = \"file\"\npath = \"temps.csv\"\n"
        );
    }
    text
}

/// Forty days of grafting, on every site.
fn register(batches: usize) -> String {
    let sites = batches / CROWD;
    let mut text = String::from("batch,site,block,plan,scion,grafts,grafted_on\n");
    for number in 0..batches {
        let (site, block) = (number % sites, number / sites % 40);
        let grafted_on = first_of("2026-07-01") + TimeDelta::days((number % 40) as i64);
        let _ = writeln!(
            text,
            "T{number},s{site},B{block},maple field T-graft,Ember Lace,100,{grafted_on}"
        );
    }
    text
}

/// A look at each of so many batches that found nothing.
fn records(batches: usize) -> String {
    let mut text = String::from("date,batch,what,count,by,remarks\n");
    for number in 0..batches {
        let date = first_of("2026-08-10") + TimeDelta::days((number % 7) as i64);
        let _ = writeln!(text, "{date},T{number},no-lines,,,");
    }
    text
}

/// So many whole years before this one, each with a weather of its own.
fn past(years: usize) -> String {
    let mut text = String::from("date,tmin_c,tmax_c\n");
    let first = NaiveDate::from_ymd_opt(2026 - years as i32, 1, 1).expect("a date");
    for date in first.iter_days().take_while(|date| date.year() < 2026) {
        let season = (f64::from(date.ordinal()) / 365.25 * std::f64::consts::TAU).cos();
        let own = f64::from((date.num_days_from_ce() * 7919).rem_euclid(61)) / 10.0;
        let (min, max) = (6.0 - 8.0 * season + own, 12.0 - 10.0 * season + 2.0 * own);
        let _ = writeln!(text, "{date},{min:.1},{max:.1}");
    }
    text
}

/// A mild summer up to yesterday.
fn temperatures() -> String {
    let mut text = String::from("date,tmin_c,tmax_c\n");
    for (date, own) in first_of("2026-05-15")
        .iter_days()
        .take(95)
        .zip((0..7).cycle())
    {
        let _ = writeln!(
            text,
            "{date},{:.1},{:.1}",
            13.0 + f64::from(own) / 4.0,
            25.0 + f64::from(own) / 3.0
        );
    }
    text
}

fn first_of(text: &str) -> NaiveDate {
    text.parse().expect("a date")
}
