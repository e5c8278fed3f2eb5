//! What comes in from outside: days from the sources, rows of the register, field records.

use crate::assemble::{House, Register};
use crate::config::Config;
use crate::nursery::{Batch, Record};
use crate::problem::Problem;
use crate::register::{Known, Read, read_accepted, read_batches, read_records};
use crate::store::{Absorbed, FileRead, Memory, StoreError};
use crate::weather::{Ask, Fetched};
use chrono::{DateTime, Days, NaiveDate, Utc};
use std::path::Path;

/// What came in from outside.
#[derive(Debug, Default)]
pub struct Incoming {
    /// Site, source and what it gave.
    pub days: Vec<(String, String, Fetched)>,
    /// The rows of the register.
    pub batches: Option<Read<Batch>>,
    /// The files of field records, with the name under which their rows are known.
    pub records: Vec<(String, Read<Record>)>,
}

/// Asks every source and reads the register. One source at a time, so that no service is asked twice at once.
pub async fn fetch(house: &House, now: DateTime<Utc>) -> Incoming {
    let mut incoming = read_register(&house.config, house.register, now);
    let first = incoming
        .batches
        .iter()
        .flat_map(|read| &read.rows)
        .map(|row| row.value.grafted_on)
        .min();
    for (site, sources) in &house.sources {
        let today = now.with_timezone(&site.zone).date_naive();
        let ask = Ask {
            now,
            from: first.unwrap_or(today) - Days::new(14),
        };
        for (name, source) in sources {
            let fetched = source.fetch(ask).await;
            house.health.progress();
            for problem in &fetched.problems {
                tracing::warn!(site = %site.id, source = %name, "{problem}");
            }
            incoming.days.push((site.id.clone(), name.clone(), fetched));
        }
    }
    incoming
}

/// Reads the register and the field records. A rehearsal reads of them what was written by the end of yesterday.
pub fn read_register(config: &Config, register: Register, now: DateTime<Utc>) -> Incoming {
    let today = now.with_timezone(&config.zone).date_naive();
    let live = register == Register::AsItStands;
    let known = Known {
        sites: config.sites.iter().map(|s| s.site.id.clone()).collect(),
        plans: config.plans.iter().map(|p| p.name.clone()).collect(),
        today: if live { today } else { NaiveDate::MAX },
    };
    let mut batches = read_batches(&config.batches, &known);
    let mut records = Vec::new();
    if config.records.exists() {
        records.push((
            file_name(&config.records),
            read_records(&config.records, known.today),
        ));
    }
    if live {
        let accepted = read_accepted(&config.accepted());
        records.push((
            file_name(&config.accepted()),
            accepted.map(|accepted| accepted.record),
        ));
    } else {
        batches.rows.retain(|row| row.value.grafted_on < today);
        for (_, read) in &mut records {
            read.rows.retain(|row| row.value.date < today);
        }
    }
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
    for (site, source, fetched) in &incoming.days {
        memory.absorb_days(site, source, &fetched.days, now)?;
        if !fetched.passing {
            problems.extend(fetched.problems.iter().cloned());
        }
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
        problems.extend(absorbed.vanished.iter().map(|row| vanished(file, row)));
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
