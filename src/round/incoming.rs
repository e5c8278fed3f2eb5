//! What comes in from outside: days from the sources, rows of the register, field records.

use super::errands::{self, Whom};
use super::mailbag::Answers;
use crate::assemble::{House, Register};
use crate::config::Config;
use crate::days::PastDay;
use crate::nursery::{Batch, Record};
use crate::problem::Problem;
use crate::register::{ACCEPTED, Known, Read, read_accepted, read_batches, read_records};
use crate::store::{Absorbed, FileRead, Memory, SourceMemory, StoreError};
use crate::weather::Fetched;
use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};
use std::collections::BTreeMap;
use std::path::Path;

/// What came in from outside.
#[derive(Debug, Default)]
pub struct Incoming {
    /// Whom the round asked.
    pub whom: Whom,
    /// Answers that lay in the mailbox.
    pub answers: Answers,
    /// What each source gave that was asked, by site and in order of trust.
    pub days: Vec<Given>,
    /// Years before: site, year, days with minimum and maximum.
    pub past: Vec<(String, i32, Vec<PastDay>)>,
    /// The rows of the register.
    pub batches: Option<Read<Batch>>,
    /// The files of field records, with the name under which their rows are known.
    pub records: Vec<(String, Read<Record>)>,
    /// What could not be read of files that are not listed here.
    pub problems: Vec<Problem>,
}

impl Incoming {
    /// Whether every source was asked and has answered.
    pub fn is_of_everybody(&self) -> bool {
        let answered = |given: &Given| given.fetched.answered;
        self.whom == Whom::Everybody && self.days.iter().all(answered)
    }
}

/// What one source gave for one site.
#[derive(Clone, Debug, PartialEq)]
pub struct Given {
    /// The site.
    pub site: String,
    /// The name under which its days are stored.
    pub source: String,
    /// Whether it is a service, which may ask to be left alone.
    pub remote: bool,
    /// What it gave.
    pub fetched: Fetched,
}

/// Asks every source and reads the register. Sources of one host are asked one after the other, hosts side by side.
pub async fn fetch(house: &House, now: DateTime<Utc>, whom: Whom) -> Incoming {
    fetch_days(house, now, whom, None).await
}

/// The same, with the days since a date of its own instead of those that the batches need.
pub async fn fetch_since(house: &House, now: DateTime<Utc>, since: Option<NaiveDate>) -> Incoming {
    fetch_days(house, now, Whom::Everybody, since).await
}

async fn fetch_days(
    house: &House,
    now: DateTime<Utc>,
    whom: Whom,
    since: Option<NaiveDate>,
) -> Incoming {
    let mut incoming = read_register(house, now);
    let first = incoming
        .batches
        .iter()
        .flat_map(|read| &read.rows)
        .map(|row| row.value.grafted_on)
        .min();
    let from = |today: NaiveDate| since.unwrap_or_else(|| first.unwrap_or(today) - LEAD);
    incoming.whom = whom;
    incoming.days = errands::run(house, now, whom, from).await;
    if whom != Whom::Nobody {
        read_past(house, &mut incoming).await;
    }
    incoming
}

/// Sources are compared over thirty common days, and a week's mean needs seven.
const LEAD: Days = Days::new(42);

/// Reads the files of years before.
async fn read_past(house: &House, incoming: &mut Incoming) {
    for (site, file) in &house.past {
        let (file, id) = (file.clone(), site.clone());
        let read = tokio::task::spawn_blocking(move || file.reading()).await;
        let Ok(reading) = read else { continue };
        incoming.problems.extend(reading.problems.iter().cloned());
        let mut years: BTreeMap<i32, Vec<PastDay>> = BTreeMap::new();
        for day in reading.days.iter().filter(|d| d.min <= d.max) {
            years.entry(day.date.year()).or_default().push(PastDay {
                date: day.date,
                min: day.min,
                max: day.max,
            });
        }
        incoming.past.extend(
            years
                .into_iter()
                .map(|(year, days)| (id.clone(), year, days)),
        );
    }
}

/// The growers' own files: the register, and the field records where there are any, under the name of their file.
#[derive(Debug)]
pub struct Rows {
    batches: Read<Batch>,
    records: Vec<(String, Read<Record>)>,
}

impl Rows {
    /// Reads them; no row is of a day after `today`.
    pub fn read(config: &Config, today: NaiveDate) -> Self {
        let known = Known {
            sites: config.sites.iter().map(|s| s.site.id.clone()).collect(),
            plans: config.plans.iter().map(|p| p.name.clone()).collect(),
            today,
        };
        let batches = read_batches(&config.batches, &known);
        let path = Some(&config.records).filter(|path| path.exists());
        let records = path.map(|path| (file_name(path), read_records(path, today)));
        Self {
            batches,
            records: records.into_iter().collect(),
        }
    }

    /// Those of days before.
    fn before(&self, day: NaiveDate) -> Self {
        let records = self.records.iter();
        Self {
            batches: self.batches.filtered(|batch| batch.grafted_on < day),
            records: records
                .map(|(file, read)| (file.clone(), read.filtered(|record| record.date < day)))
                .collect(),
        }
    }
}

/// Reads the register and the field records.
fn read_register(house: &House, now: DateTime<Utc>) -> Incoming {
    let config = &house.config;
    let today = now.with_timezone(&config.zone).date_naive();
    let Rows { batches, records } = match &house.register {
        Register::AsItStands => {
            let mut rows = Rows::read(config, today);
            let accepted = read_accepted(&config.accepted());
            rows.records.push((
                file_name(&config.accepted()),
                accepted.map(|accepted| accepted.record),
            ));
            rows
        }
        Register::AsItStood(rows) => rows.before(today),
    };
    Incoming {
        batches: Some(batches),
        records,
        ..Incoming::default()
    }
}

/// The name under which the rows of a file are known in the store.
pub fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// Writes down what came in. The problems are those to be told.
pub fn absorb(
    memory: &Memory<'_>,
    incoming: &Incoming,
    now: DateTime<Utc>,
) -> Result<Vec<Problem>, StoreError> {
    let mut problems = Vec::new();
    problems.extend(incoming.problems.iter().cloned());
    for Given {
        site,
        source,
        remote,
        fetched,
    } in &incoming.days
    {
        memory.absorb_days(site, source, &fetched.days, now)?;
        if *remote {
            remember(memory, site, source, fetched, now)?;
        }
        if !fetched.passing {
            problems.extend(fetched.problems.iter().cloned());
        }
    }
    for (site, year, days) in &incoming.past {
        memory.absorb_year(site, *year, "file", days)?;
    }
    if let Some(read) = &incoming.batches {
        problems.extend(absorb_file(read, "batches.csv", |file| {
            memory.absorb_batches(file)
        })?);
    }
    for (file, read) in &incoming.records {
        problems.extend(absorb_file(read, file, |file| memory.absorb_records(file))?);
    }
    Ok(problems)
}

/// Remembers what a service asked for, and since when it has not answered.
fn remember(
    memory: &Memory<'_>,
    site: &str,
    source: &str,
    fetched: &Fetched,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    let before = memory.source(site, source)?;
    let failing_since = (!fetched.answered).then(|| before.failing_since.unwrap_or(now));
    let memo = if fetched.answered {
        fetched.memo.clone()
    } else {
        before.memo
    };
    memory.remember_source(
        site,
        source,
        &SourceMemory {
            memo,
            not_before: fetched.not_before,
            failing_since,
            answered_at: if fetched.answered {
                Some(now)
            } else {
                before.answered_at
            },
        },
    )
}

fn absorb_file<T: Clone>(
    read: &Read<T>,
    file: &str,
    write: impl FnOnce(&FileRead<'_, T>) -> Result<Absorbed, StoreError>,
) -> Result<Vec<Problem>, StoreError> {
    let mut problems = read.problems.clone();
    if read.unreadable {
        return Ok(problems);
    }
    let rows: Vec<(String, T)> = read
        .rows
        .iter()
        .map(|row| (row.identity.clone(), row.value.clone()))
        .collect();
    let absorbed = write(&FileRead {
        file,
        rows: &rows,
        unreadable: &read.named_in_bad_rows,
    })?;
    if absorbed.refused {
        problems.push(
            Problem::new(
                file,
                format!("{} of its rows are gone at once", absorbed.vanished.len()),
                "nothing of this reading is used, all rows stay as they were",
                "put the rows back; to begin a new season's file, give it a new name in the config",
            )
            .keyed(format!("{file} {} lost rows", read.hash)),
        );
    } else {
        // Nobody takes a row out of the program's own file: those that are gone are those that are damaged, which is told.
        let damaged = if file == ACCEPTED {
            read.problems.len()
        } else {
            0
        };
        let gone = absorbed.vanished.iter().skip(damaged);
        problems.extend(gone.map(|row| vanished(file, row)));
    }
    Ok(problems)
}

fn vanished(file: &str, row: &str) -> Problem {
    Problem::new(
        file,
        format!("the row of {row} is not there any more"),
        "what it said stays in force",
        "put it back, or write down what became of it: closed for a batch, retract for a record",
    )
}
