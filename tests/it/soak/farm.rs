//! A nursery that grafts each July and does its work as warmth asks for it, whatever the program says: what its people
//! write into the register, what they note and what they answer by mail.

use super::ways::{Mailed, Postman, Sky, World};
use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};
use graftwarden::assemble::House;
use graftwarden::clock::{Clock, ManualClock};
use graftwarden::config::Config;
use graftwarden::days::{Origin, RawDay};
use graftwarden::nursery::{Record, Target, What};
use graftwarden::register::append;
use graftwarden::round::{ask_the_time, clock_doubt, file_name, round};
use graftwarden::store::Store;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::future::Future;
use std::path::{Path, PathBuf};
use std::pin::pin;
use std::sync::Arc;
use std::task::Poll;
use tempfile::TempDir;

pub const ZONE: chrono_tz::Tz = chrono_tz::America::New_York;
const MAREN: &str = "maren@alderfold.example";

const CONFIG: &str = r#"version = 1

[nursery]
name = "Alder Fold Nursery"
zone = "America/New_York"
learn = "off"

[[site]]
id = "home"
latitude = 34.7
longitude = -82.8
standard_day = 20.6

[[site.weather]]
source = "file"
path = "no-such-file.csv"

[[people]]
name = "Maren Holt"
email = "maren@alderfold.example"
gets = ["work", "urgent", "weekly", "trouble"]

[[people]]
name = "Jory Penhale"
email = "jory@alderfold.example"
gets = ["work", "urgent"]

[post]
from = "Alder Fold Nursery <letters@alderfold.example>"
folder = "letters"
log = false

[answers]
address = "answers@alderfold.example"
maildir = "mail"
"#;

/// Work of a batch: so many days after grafting, this is written down.
const WORK: [(u64, &str); 4] = [
    (15, "lines"),
    (17, "headed-back"),
    (23, "tape-off"),
    (420, "closed"),
];

/// People speak of batches that were grafted so long ago that the program has read of them, whatever failed.
const LONG_KNOWN: Days = Days::new(30);

/// So many years the series is moved: no clock is right that is before the program. Weekdays and leap years stay.
pub const MOVED: i32 = 56;

/// The days of a series of thirty years from that year on.
pub fn days_from(year: i32) -> Vec<RawDay> {
    let file =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/checks/data/clemson_1991_2020.csv");
    let text = std::fs::read_to_string(file).unwrap();
    let rows = text.lines().skip(1).filter_map(|line| {
        let (date, rest) = line.split_once(',')?;
        let (min, max) = rest.split_once(',')?;
        let date: NaiveDate = date.parse().ok()?;
        Some(RawDay {
            date: date.with_year(date.year() + MOVED)?,
            min: min.parse().ok()?,
            max: max.parse().ok()?,
            gust: None,
            rain: None,
            origin: Origin::Measured,
        })
    });
    rows.filter(|day| day.date.year() >= year).collect()
}

/// What became of a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Went {
    /// It came to its end.
    Ended,
    /// The program was killed within it.
    Killed,
    /// None was walked, since the clock cannot be right.
    Refused,
}

/// The nursery and the machine in it.
pub struct Farm {
    folder: TempDir,
    world: World,
    clock: Arc<ManualClock>,
    days: Arc<Vec<RawDay>>,
    house: Option<House>,
    first: NaiveDate,
    /// What must be in the memory at the end: rows of the register, notes, and the mails that were answers, with the token
    /// of the letter that each answers.
    pub rows: BTreeSet<String>,
    pub notes: BTreeSet<String>,
    pub mails: BTreeMap<String, String>,
}

impl Farm {
    pub fn new(first: NaiveDate, days: Arc<Vec<RawDay>>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("graftwarden.toml"), CONFIG).unwrap();
        for name in ["mail/new", "mail/cur", "mail/tmp"] {
            std::fs::create_dir_all(folder.path().join(name)).unwrap();
        }
        Self {
            folder,
            world: World::default(),
            clock: Arc::new(ManualClock::at(DateTime::UNIX_EPOCH)),
            days,
            house: None,
            first,
            rows: BTreeSet::new(),
            notes: BTreeSet::new(),
            mails: BTreeMap::new(),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn set(&self, now: DateTime<Utc>, faults: Vec<super::faults::Fault>) {
        self.clock.set(now);
        self.world.set(faults);
    }

    pub fn mailed(&self) -> std::sync::MutexGuard<'_, Mailed> {
        self.world.mailed()
    }

    // ---- the program ----

    fn house(&mut self) -> &House {
        let (path, clock, world, days) = (
            self.path("graftwarden.toml"),
            self.clock.clone(),
            self.world.clone(),
            self.days.clone(),
        );
        self.house.get_or_insert_with(|| {
            let config = Config::load(&path).unwrap();
            let store = Store::open_mended(&config.state, clock.now()).unwrap();
            let (mut house, problems) = House::live(config, clock, store);
            assert_eq!(problems, []);
            for (_, sources) in &mut house.sources {
                for (_, source) in sources {
                    *source = Arc::new(Sky {
                        world: world.clone(),
                        days: days.clone(),
                        zone: ZONE,
                    });
                }
            }
            house.carriers.push(Box::new(Postman { world }));
            house
        })
    }

    /// Walks a round as the service does, but no further than so many steps of its work, after which the program is gone.
    pub async fn round(&mut self, steps: Option<u32>) -> Went {
        let house = self.house();
        if clock_doubt(house).unwrap().is_some() {
            ask_the_time(house).await;
            return Went::Refused;
        }
        let mut left = steps.unwrap_or(u32::MAX);
        let ended = {
            let mut walk = pin!(round(house));
            let walked = std::future::poll_fn(|context| {
                if left == 0 {
                    return Poll::Ready(Ok(false));
                }
                left -= 1;
                walk.as_mut().poll(context).map_ok(|_| true)
            });
            walked.await.unwrap()
        };
        if ended {
            return Went::Ended;
        }
        self.stop();
        Went::Killed
    }

    /// The program is gone, and what it was about to commit is committed or not.
    pub fn stop(&mut self) {
        let Some(house) = self.house.take() else {
            return;
        };
        let store = house.store.clone();
        drop(house);
        // A transaction that was on its way in another thread has ended once nobody else holds the memory.
        while Arc::strong_count(&store) > 1 {
            std::thread::yield_now();
        }
    }

    // ---- its people ----

    /// The batches of a year: three in the second week of July.
    fn grafted(year: i32) -> impl Iterator<Item = (String, NaiveDate)> {
        let day = move |day| NaiveDate::from_ymd_opt(year, 7, day).unwrap();
        [("A", 8), ("B", 9), ("C", 11)]
            .into_iter()
            .map(move |(block, on)| (format!("{block}-{year}"), day(on)))
    }

    fn all_grafted(&self, today: NaiveDate) -> Vec<(String, NaiveDate)> {
        let years = self.first.year()..=today.year();
        let batches = years.flat_map(Self::grafted);
        batches.filter(|(_, on)| *on <= today).collect()
    }

    /// The register as it is written by that day.
    pub fn register(&mut self, today: NaiveDate) -> (String, String) {
        let mut batches = "batch,block,plan,scion,grafts,grafted_on\n".to_owned();
        let mut records = "date,batch,what,count,by,remarks\n".to_owned();
        let mut rows = Vec::new();
        for (name, on) in self.all_grafted(today) {
            let block = &name[..1];
            writeln!(
                batches,
                "{name},{block},maple field T-graft,Ember Lace,100,{on}"
            )
            .unwrap();
            for (after, what) in WORK {
                let date = on + Days::new(after);
                if date <= today {
                    rows.push((date, format!("{date},{name},{what},,Maren,\n")));
                }
            }
        }
        rows.sort();
        for (_, row) in rows {
            records.push_str(&row);
            let cells: Vec<&str> = row.split(',').take(3).collect();
            self.rows.insert(cells.join(" "));
        }
        (batches, records)
    }

    /// A note about one of the batches, of the true day however the clock stands; it counts once it is in `accepted.csv`, whether the memory has heard of it or not.
    pub fn note(&mut self, now: DateTime<Utc>, heard: bool, which: usize) {
        let today = now.with_timezone(&ZONE).date_naive();
        let batches = self.all_grafted(today - LONG_KNOWN);
        let Some((name, _)) = batches.get(which % batches.len().max(1)) else {
            return;
        };
        let record = Record {
            date: today,
            target: Target::Batch(name.clone()),
            what: What::Looked,
            count: None,
            by: "Jory".into(),
            remarks: "by the way".into(),
        };
        let (id, accepted) = {
            let house = self.house();
            let id = house.with_store(|memory| memory.new_id());
            (id.unwrap(), house.config.accepted())
        };
        append(&accepted, &record, self.clock.now(), &id).unwrap();
        if heard {
            let write = |memory: &graftwarden::store::Memory<'_>| {
                memory.write_record(&id, &file_name(&accepted), &record)
            };
            self.house().with_store(write).unwrap();
        }
        self.notes.insert(id);
    }

    /// An answer to the newest letter that reached Maren.
    pub fn answer(&mut self, now: DateTime<Utc>, which: usize) {
        let today = now.with_timezone(&ZONE).date_naive();
        let batches = self.all_grafted(today - LONG_KNOWN);
        let letters = self.mailed().letters.clone();
        let newest = letters.iter().rev().find(|letter| letter.to == MAREN);
        let (Some(letter), Some((name, _))) = (newest, batches.get(which % batches.len().max(1)))
        else {
            return;
        };
        let token = token_of(&letter.id);
        let id = format!("{}@phone.example", now.timestamp());
        let mail = format!(
            "From: {MAREN}\r\nTo: answers+{token}@alderfold.example\r\nMessage-ID: <{id}>\r\nDate: {}\r\n\r\n{name} suckers rubbed\r\n",
            now.to_rfc2822()
        );
        std::fs::write(self.path(&format!("mail/new/{}", now.timestamp())), mail).unwrap();
        self.mails.insert(id, token.to_owned());
    }

    /// On which day that work of a batch is written down as done; none where it never is.
    pub fn done(batch: &str, step: &str) -> Option<NaiveDate> {
        let (_, year) = batch.split_once('-')?;
        let (_, on) = Self::grafted(year.parse().ok()?).find(|(name, _)| name == batch)?;
        let word = match step {
            "callus-check" => "lines",
            "head-back" => "headed-back",
            "tape-off" => "tape-off",
            _ => "closed",
        };
        let (after, _) = WORK.iter().find(|(_, what)| *what == word)?;
        Some(on + Days::new(*after))
    }

    /// The size of the memory's file in kB.
    pub fn memory_kb(&self) -> u64 {
        let file = Store::file_in(&self.path("state"));
        std::fs::metadata(file).unwrap().len() / 1024
    }

    /// Rows of the memory.
    pub fn memory(&self, sql: &str) -> Vec<Vec<String>> {
        rows_of(&Store::file_in(&self.path("state")), sql)
    }
}

/// The part of a Message-ID by which an answer is known.
pub fn token_of(id: &str) -> &str {
    id.trim_matches(['<', '>']).split('@').next().unwrap()
}

/// Rows of a memory, or of a copy of it.
pub fn rows_of(file: &Path, sql: &str) -> Vec<Vec<String>> {
    let memory = rusqlite::Connection::open(file).unwrap();
    let mut asked = memory.prepare(sql).unwrap();
    let width = asked.column_count();
    let value = |row: &rusqlite::Row<'_>, i| match row.get_ref(i).unwrap() {
        rusqlite::types::ValueRef::Integer(n) => n.to_string(),
        rusqlite::types::ValueRef::Null => String::new(),
        other => String::from_utf8_lossy(other.as_bytes().unwrap()).into_owned(),
    };
    let rows = asked.query_map([], |row| Ok((0..width).map(|i| value(row, i)).collect()));
    rows.unwrap().map(Result::unwrap).collect()
}
