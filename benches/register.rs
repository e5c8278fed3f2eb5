//! A register of a million batches on 2,000 sites: its first import, the same file again, and the file with one row
//! changed.
//!
//! Goals: the import, reading and writing down, under 8 s with a peak under 500 MB of which no part is the rows side by
//! side; the same file again is known by its bytes, under 1 s; of a changed file only the changed rows are written, and it
//! takes no longer than the import.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use divan::Bencher;
use divan::counter::ItemsCount;
use graftwarden::assemble::Register;
use graftwarden::config::Config;
use graftwarden::round::{Incoming, absorb, read_register};
use graftwarden::store::{Store, StoreError};
use std::fmt::Write as _;
use std::time::Instant;
use tempfile::TempDir;

const BATCHES: usize = 1_000_000;
const SITES: usize = 2_000;

/// After the last day of grafting.
const NOW: &str = "2026-08-18T04:10:00Z";

fn main() {
    let mut farm = Farm::new();
    let timed = |name: &str, goal: &str, farm: &mut Farm| {
        let begun = Instant::now();
        let (read, problems) = farm.look();
        let took = begun.elapsed().as_secs_f64();
        let read = if read { "read" } else { "known again" };
        println!("{BATCHES} batches, {name}: {took:.2} s ({goal}), {read}, {problems} problems");
    };
    timed("first import", "goal: under 8 s", &mut farm);
    timed("the same file", "goal: under 1 s", &mut farm);
    farm.edit();
    timed(
        "one row changed",
        "goal: no longer than the import",
        &mut farm,
    );
    if let Some(peak) = peak() {
        println!("peak of memory: {peak} (goal: under 500 MB)");
    }
    drop(farm);
    divan::main();
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn first_import(bencher: Bencher) {
    let mut farm = Farm::new();
    bencher.counter(ItemsCount::new(BATCHES)).bench_local(|| {
        farm.forget();
        assert_eq!(farm.look(), (true, 0));
    });
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn the_same_file(bencher: Bencher) {
    let mut farm = Farm::new();
    farm.look();
    bencher.counter(ItemsCount::new(BATCHES)).bench_local(|| {
        assert_eq!(farm.look(), (false, 0));
    });
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn one_row_changed(bencher: Bencher) {
    let mut farm = Farm::new();
    farm.look();
    bencher.counter(ItemsCount::new(BATCHES)).bench_local(|| {
        farm.edit();
        assert_eq!(farm.look(), (true, 0));
    });
}

/// A folder with a register, and a memory in a file.
struct Farm {
    folder: TempDir,
    config: Config,
    store: Store,
    register: String,
}

impl Farm {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("graftwarden.toml");
        std::fs::write(&path, config()).expect("a config in the folder");
        let config = Config::load(&path).expect("a config without a fault");
        let store = Store::open(&config.state).expect("a store");
        let register = register();
        std::fs::write(&config.batches, &register).expect("a register in the folder");
        Self {
            folder,
            config,
            store,
            register,
        }
    }

    /// Begins a new memory.
    fn forget(&mut self) {
        self.store = Store::in_memory().expect("a store");
        std::fs::remove_dir_all(&self.config.state).expect("a state folder");
        self.store = Store::open(&self.config.state).expect("a store");
    }

    /// Somebody counts the grafts of the first batch again.
    fn edit(&mut self) {
        let row = self.register.find(",10").expect("a count of grafts") + 3;
        let digit = self.register.as_bytes()[row];
        let next = if digit == b'0' { "1" } else { "0" };
        self.register.replace_range(row..=row, next);
        let path = self.folder.path().join("batches.csv");
        std::fs::write(path, &self.register).expect("a register in the folder");
    }

    /// What a round does with the register: whether it was read, and how many problems it had.
    fn look(&mut self) -> (bool, usize) {
        let now: DateTime<Utc> = NOW.parse().expect("a moment");
        let reading = self
            .store
            .settle::<_, StoreError>(|memory| memory.reading("batches"))
            .expect("what is remembered");
        let known = |role: &str| reading.clone().filter(|_| role == "batches");
        let incoming: Incoming = read_register(&self.config, &Register::AsItStands, now, known);
        let problems = self
            .store
            .settle::<_, StoreError>(|memory| absorb(memory, &incoming, now))
            .expect("a store that takes it");
        let batches = incoming.batches.expect("a register");
        (!batches.is_known(), problems.len())
    }
}

/// The most that this process has had in use so far, as Linux tells it.
fn peak() -> Option<String> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    Some(line.trim_start_matches("VmHWM:").trim().to_owned())
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
    let first: NaiveDate = "2026-07-01".parse().expect("a date");
    let mut text = String::from(
        "batch,site,block,plan,scion,understock,vigour,grafts,grafted_on,by,remarks\n",
    );
    for number in 0..BATCHES {
        let (site, block) = (number % SITES, number / SITES % 40);
        let grafted_on = first + TimeDelta::days((number % 40) as i64);
        let _ = writeln!(
            text,
            "T{number},s{site},B{block},maple field T-graft,Ember Lace {},green maple seedling,usual,100,{grafted_on},Maren,",
            number % 97
        );
    }
    text
}
