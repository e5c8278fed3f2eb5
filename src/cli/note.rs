//! `note`: write down something seen or done in the field.

use super::ConfigFile;
use super::exit::{Exit, usage};
use super::look::Look;
use crate::care::Fact;
use crate::clock::{Clock, SystemClock};
use crate::config::Config;
use crate::letters::list;
use crate::nursery::{Batch, Record, Target};
use crate::problem::Problem;
use crate::register::{RecordWords, append, nearest, parse_record_words};
use crate::round::file_name;
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
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
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
        let (mut look, before) = match look_at(&config) {
            Err(error) if error.downcast_ref().is_some_and(StoreError::is_damage) => {
                mend(&config)?;
                look_at(&config)?
            }
            looked => looked?,
        };
        check_target(&before.batches, &record)?;
        let mut store = Store::open(&config.state)?;
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
        look.read(|memory| memory.write_record(&id, &file_name(&accepted), &record))?;
        let after = field(&mut look, &config)?;
        if let Target::Block(block) = &record.target {
            writeln!(out, "{}", touched(block, &before, &after))?;
        }
        let new = |problem: &&Problem| !before.problems.contains(problem);
        for problem in after.problems.iter().filter(new) {
            writeln!(out, "note: {problem}")?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

fn look_at(config: &Config) -> anyhow::Result<(Look, Field)> {
    let mut look = Look::new(config)?;
    let field = field(&mut look, config)?;
    Ok((look, field))
}

/// The memory is damaged or gone: it is mended like at the start of a round, where no other graftwarden is at work on it.
fn mend(config: &Config) -> anyhow::Result<()> {
    let _lock = super::lock(config)?;
    Store::open_mended(&config.state, SystemClock.now())?;
    Ok(())
}

/// The batches with what is written down of each, and what is doubtful about it.
struct Field {
    /// Those that came of re-grafting too.
    batches: Vec<Batch>,
    /// Beside the batches.
    facts: Vec<Vec<Fact>>,
    problems: Vec<Problem>,
}

fn field(look: &mut Look, config: &Config) -> anyhow::Result<Field> {
    let now = look.now;
    Ok(look.read(|memory| {
        survey(memory, config, When::Now(now), |survey| Field {
            facts: survey
                .cares
                .iter()
                .map(|c| c.facts.all().to_vec())
                .collect(),
            batches: survey.cares.into_iter().map(|care| care.batch).collect(),
            problems: survey.problems,
        })
    })?)
}

/// For which batches a record of a whole block counts.
fn touched(block: &str, before: &Field, after: &Field) -> String {
    let known = |batch: &Batch| {
        let at = before.batches.iter().position(|b| b.name == batch.name)?;
        before.facts.get(at)
    };
    let changed = after.batches.iter().zip(&after.facts);
    let names: Vec<String> = changed
        .filter(|(batch, facts)| known(batch) != Some(facts))
        .map(|(batch, _)| batch.name.clone())
        .collect();
    if names.is_empty() {
        format!("it counts for no batch: none of block {block} has that to be done")
    } else {
        format!("it counts for {}", list(&names))
    }
}

/// A record of a batch or block that nobody knows is not taken; the nearest name is offered.
fn check_target(known: &[Batch], record: &Record) -> anyhow::Result<()> {
    let refuse = |why: String| Err(usage(format!("not written down: {why}")));
    let meant = |name: &str, names: Vec<&str>| {
        nearest(name, names).map_or_else(String::new, |near| format!("; did you mean {near}?"))
    };
    match &record.target {
        Target::Batch(name) => match known.iter().find(|batch| batch.name == *name) {
            Some(batch) if record.date < batch.grafted_on => refuse(format!(
                "{} lies before {name} was grafted on {}",
                record.date, batch.grafted_on
            )),
            Some(_) => Ok(()),
            None => refuse(format!(
                "there is no batch {name} in the register{}",
                meant(name, known.iter().map(|b| b.name.as_str()).collect())
            )),
        },
        Target::Block(name)
            if known
                .iter()
                .any(|batch| batch.block.eq_ignore_ascii_case(name)) =>
        {
            Ok(())
        }
        Target::Block(name) => refuse(format!(
            "there is no block {name} in the register{}",
            meant(name, known.iter().map(|b| b.block.as_str()).collect())
        )),
    }
}
