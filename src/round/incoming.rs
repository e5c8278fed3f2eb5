//! What comes in from outside: days from the sources, rows of the register, field records.

use super::errands::{self, Whom};
use super::files::{Came, read_register};
use super::mailbag::Answers;
use crate::assemble::House;
use crate::days::PastDay;
use crate::nursery::{Batch, Record};
use crate::problem::Problem;
use crate::store::{Memory, SourceMemory, StoreError};
use crate::weather::Fetched;
use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};
use std::collections::{BTreeMap, HashSet};

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
    /// The register.
    pub batches: Option<Came<Batch>>,
    /// The files of field records.
    pub records: Vec<Came<Record>>,
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
    let known = |role: &str| house.with_store(|memory| memory.reading(role)).ok()?;
    let mut incoming = read_register(&house.config, &house.register, now, known);
    let first = incoming.batches.as_ref().and_then(|came| came.first);
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
    // Sites may share a file.
    let mut said = HashSet::new();
    problems.retain(|problem| said.insert(problem.clone()));
    for (site, year, days) in &incoming.past {
        memory.absorb_year(site, *year, "file", days)?;
    }
    if let Some(came) = &incoming.batches {
        problems.extend(came.absorb(memory, |file| memory.absorb_batches(file))?);
    }
    for came in &incoming.records {
        problems.extend(came.absorb(memory, |file| memory.absorb_records(file))?);
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
