//! `note`: write down something seen or done in the field.

use super::ConfigFile;
use super::exit::{Exit, usage};
use crate::clock::{Clock, SystemClock};
use crate::config::Config;
use crate::nursery::{Record, Target};
use crate::register::{RecordWords, append, nearest, parse_record_words};
use crate::round::{absorb, file_name, read_register};
use crate::store::{Store, StoreError};
use crate::survey::{When, survey};
use clap::Args;
use std::io::Write;
use std::process::ExitCode;

/// Writes down something seen or done in the field. It is on the disk before it is confirmed.
#[derive(Debug, Args)]
pub struct Note {
    #[command(flatten)]
    config: ConfigFile,
    /// The batch, or `block:C` for every batch of a block that has the step open
    batch: String,
    /// What: lines, no-lines, headed-back, tape-off, looked, take ... (all words are in config/README.md)
    what: String,
    /// The day [default: today]
    #[arg(long, value_name = "D")]
    on: Option<String>,
    /// How many grafts, 3/10 for lines, centimetres for head-length [default: all that is left]
    #[arg(long, value_name = "N")]
    count: Option<String>,
    /// Who
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// Anything else; for retract the word taken back
    #[arg(long, value_name = "T")]
    remarks: Option<String>,
}

impl Note {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        let config = self.config.load()?;
        let now = SystemClock.now();
        let today = now.with_timezone(&config.zone).date_naive();
        let date = self.on.clone().unwrap_or_else(|| today.to_string());
        let words = RecordWords {
            date: &date,
            batch: &self.batch,
            what: &self.what,
            count: self.count.as_deref().unwrap_or_default(),
            by: self.by.as_deref().unwrap_or_default(),
            remarks: self.remarks.as_deref().unwrap_or_default(),
        };
        let record = parse_record_words(words, today).map_err(|bad| {
            let lines: Vec<String> = bad.iter().map(ToString::to_string).collect();
            usage(format!("not written down: {}", lines.join("\n")))
        })?;
        let mut store = Store::open(&config.state)?;
        check_target(&config, &mut store, &record)?;
        let accepted = config.accepted();
        let id = store.settle::<_, StoreError>(|memory| memory.new_id())?;
        append(&accepted, &record, now, &id).map_err(|e| {
            Exit::Unavailable.because(format!(
                "not written down: {} cannot be written ({e})",
                accepted.display()
            ))
        })?;
        store.settle::<(), StoreError>(|memory| {
            memory.write_record(&id, &file_name(&accepted), &record)
        })?;
        let count = self
            .count
            .map_or_else(String::new, |count| format!(", {count}"));
        writeln!(
            out,
            "written down: {} {} on {}{count}",
            self.batch,
            record.what.name(),
            record.date
        )?;
        Ok(ExitCode::SUCCESS)
    }
}

/// A record of a batch or block that nobody knows is not taken; the nearest name is offered.
fn check_target(config: &Config, store: &mut Store, record: &Record) -> anyhow::Result<()> {
    let (mut look, _) = (Store::copy_of(&config.state)?, store);
    let now = SystemClock.now();
    let incoming = read_register(config, crate::assemble::Register::AsItStands, now);
    let known = look.settle::<_, StoreError>(|memory| {
        absorb(memory, &incoming, now)?;
        survey(memory, config, When::Now(now), |survey| {
            let batches: Vec<(String, String, chrono::NaiveDate)> = survey
                .cares
                .iter()
                .map(|care| {
                    (
                        care.batch.name.clone(),
                        care.batch.block.clone(),
                        care.batch.grafted_on,
                    )
                })
                .collect();
            batches
        })
    })?;
    match &record.target {
        Target::Batch(name) => {
            let Some((_, _, grafted_on)) = known.iter().find(|(batch, _, _)| batch == name) else {
                let near = nearest(name, known.iter().map(|(batch, _, _)| batch.as_str()))
                    .map_or_else(String::new, |near| format!("; did you mean {near}?"));
                return Err(usage(format!(
                    "not written down: there is no batch {name} in the register{near}"
                )));
            };
            if record.date < *grafted_on {
                return Err(usage(format!(
                    "not written down: {} lies before {name} was grafted on {grafted_on}",
                    record.date
                )));
            }
        }
        Target::Block(name) => {
            if !known
                .iter()
                .any(|(_, block, _)| block.eq_ignore_ascii_case(name))
            {
                let near = nearest(name, known.iter().map(|(_, block, _)| block.as_str()))
                    .map_or_else(String::new, |near| format!("; did you mean {near}?"));
                return Err(usage(format!(
                    "not written down: there is no block {name} in the register{near}"
                )));
            }
        }
    }
    Ok(())
}
