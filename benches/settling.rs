//! Settling 10,000 batches when nothing is new: all rows of the register are there again, every batch is surveyed, and
//! it is decided that nothing is to be told.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use graftwarden::assemble::House;
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::round::{Desk, Incoming, Outcome, Whom, fetch, settle};
use graftwarden::store::Store;
use graftwarden::survey::{When, survey};
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;
use tempfile::TempDir;
use tokio::runtime::Builder;

const BATCHES: usize = 10_000;
const SITES: usize = 10;

/// A Tuesday in the season.
const NOW: &str = "2026-08-18T04:10:00Z";

fn main() {
    let nursery = Nursery::new();
    let begun = Instant::now();
    let told = nursery.settle().tellings.len();
    let took = begun.elapsed().as_secs_f64();
    println!("{BATCHES} batches: a first round that tells {told} notices settles in {took:.2} s");
    divan::main();
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn survey_alone(bencher: Bencher) {
    let nursery = Nursery::new();
    bencher
        .counter(ItemsCount::new(BATCHES))
        .bench_local(|| nursery.survey());
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn nothing_new(bencher: Bencher) {
    let nursery = Nursery::new();
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
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let put = |name: &str, text: &str| {
            std::fs::write(folder.path().join(name), text).expect("a file in the folder");
        };
        put("graftwarden.toml", &config());
        put("batches.csv", &register());
        put("records.csv", "date,batch,what,count,by,remarks\n");
        put("temps.csv", &temperatures());
        let house = house(&folder.path().join("graftwarden.toml"));
        let runtime = Builder::new_current_thread().enable_all().build();
        let incoming = runtime
            .expect("a runtime")
            .block_on(fetch(&house, now(), Whom::Everybody));
        Self {
            house,
            incoming,
            _folder: folder,
        }
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
        // What came in is written down once.
        self.house
            .with_store(|memory| {
                if memory.batches()?.is_empty() {
                    graftwarden::round::absorb(memory, &self.incoming, now())?;
                }
                survey(memory, &self.house.config, When::Now(now()), |survey| {
                    assert_eq!(survey.cares.len(), BATCHES);
                    black_box(survey.problems.len());
                })
            })
            .expect("a survey");
    }
}

fn house(config: &Path) -> House {
    let config = Config::load(config).expect("a config without a fault");
    let store = Store::in_memory().expect("a store");
    let (house, problems) = House::live(config, Arc::new(ManualClock::at(now())), store);
    assert!(problems.is_empty(), "{problems:?}");
    house
}

fn now() -> DateTime<Utc> {
    NOW.parse().expect("a moment")
}

fn config() -> String {
    let mut text = String::from(
        "version = 1\n\n[nursery]\nname = \"Alder Fold Nursery\"\nzone = \"Europe/Brussels\"\n\n[post]\nfrom = \"Alder Fold Nursery <letters@alderfold.example>\"\nlog = true\n\n[[people]]\nname = \"Maren Holt\"\nemail = \"maren@alderfold.example\"\n",
    );
    for site in 0..SITES {
        let _ = write!(
            text,
            "\n[[site]]\nid = \"s{site}\"\nlatitude = 50.8\nlongitude = 4.4\n\n[[site.weather]]\nsource = \"file\"\npath = \"temps.csv\"\n"
        );
    }
    text
}

/// Forty days of grafting, on every site.
fn register() -> String {
    let mut text = String::from("batch,site,block,plan,scion,grafts,grafted_on\n");
    for number in 0..BATCHES {
        let (site, block) = (number % SITES, number / SITES % 40);
        let grafted_on = first_of("2026-07-01") + TimeDelta::days((number % 40) as i64);
        let _ = writeln!(
            text,
            "T{number},s{site},B{block},maple field T-graft,Ember Lace,100,{grafted_on}"
        );
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
