//! `note`: write down something seen or done in the field.

use super::ConfigFile;
use super::exit::{Exit, usage};
use super::look::Look;
use crate::care::{BatchCare, Fact, State};
use crate::clock::{Clock, SystemClock};
use crate::config::Config;
use crate::letters::{list, names as few};
use crate::nursery::{Batch, Record, Target, What};
use crate::problem::Problem;
use crate::register::{RecordWords, append, nearest, parse_record_words};
use crate::replies::question;
use crate::round::file_name;
use crate::store::{Memory, Store, StoreError};
use crate::survey::{When, survey};
use clap::Args;
use std::io::Write;
use std::process::ExitCode;
use std::sync::Arc;

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
        let (mut look, before) = match look_at(&config, &record) {
            Err(error) if error.downcast_ref().is_some_and(StoreError::is_damage) => {
                mend(&config)?;
                look_at(&config, &record)?
            }
            looked => looked?,
        };
        check_target(&before.batches, &record)?;
        let mut store = Store::open(&config.state)?;
        let accepted = config.accepted();
        let id = store.settle::<_, StoreError>(|memory| memory.new_id())?;
        let write = |memory: &Memory<'_>| memory.write_record(&id, &file_name(&accepted), &record);
        if let Target::Block(block) = &record.target
            && look.read(write).is_ok()
            && let Ok(after) = field(&mut look, &config, &record)
            && let Touched { any: false, said } = touched(block, &before, &after)
        {
            return Err(usage(format!(
                "not written down: {said}\nIf it is true of a batch all the same, write it down by the name of that batch."
            )));
        }
        append(&accepted, &record, now, &id).map_err(|e| {
            Exit::Unavailable.because(format!(
                "not written down: {} cannot be written ({e})",
                accepted.display()
            ))
        })?;
        // It is on the disk from here on, whatever becomes of the rest.
        let taken = store.settle::<_, StoreError>(write);
        let after = taken.map_err(anyhow::Error::from).and_then(|_| {
            look.read(write)?;
            field(&mut look, &config, &record)
        });
        let count = self.count.as_deref();
        let count = count.map_or_else(String::new, |count| format!(", {count}"));
        let what = record.what.name();
        let said = format!("{} {what} on {}{count}", self.batch, record.date);
        match after {
            Ok(after) => {
                writeln!(out, "written down: {said}")?;
                self.say_what_follows(&record, &before, &after, out)?;
            }
            Err(error) => {
                let accepted = file_name(&accepted);
                writeln!(
                    out,
                    "written down in {accepted}: {said}; the next round reads it"
                )?;
                // Who tried again would write it down twice.
                if !matches!(error.downcast_ref(), Some(StoreError::Busy)) {
                    writeln!(out, "note: {error}")?;
                }
            }
        }
        Ok(ExitCode::SUCCESS)
    }

    fn say_what_follows(
        &self,
        record: &Record,
        before: &Field,
        after: &Field,
        out: &mut dyn Write,
    ) -> std::io::Result<()> {
        if let Target::Block(block) = &record.target {
            writeln!(out, "{}", touched(block, before, after).said)?;
        }
        if let Some(question) = &before.question {
            return writeln!(
                out,
                "question: {question} If not, take it back: graftwarden note {} retract --on {} --remarks {}",
                quoted(&self.batch),
                record.date,
                record.what.name()
            );
        }
        // The same once more is news too.
        let mut known = before.problems.clone();
        for problem in &after.problems {
            if let Some(at) = known.iter().position(|other| other == problem) {
                known.swap_remove(at);
                continue;
            }
            writeln!(out, "note: {problem}")?;
        }
        Ok(())
    }
}

fn look_at(config: &Config, record: &Record) -> anyhow::Result<(Look, Field)> {
    let mut look = Look::new(config)?;
    let field = field(&mut look, config, record)?;
    Ok((look, field))
}

/// The memory is damaged or gone: it is mended like at the start of a round, where no other graftwarden is at work on it.
fn mend(config: &Config) -> anyhow::Result<()> {
    let _lock = super::lock(config)?;
    Store::open_mended(&config.state, SystemClock.now())?;
    Ok(())
}

/// What there is before a record is written down, or after.
struct Field {
    /// Those that came of re-grafting too.
    batches: Vec<Batch>,
    /// Beside the batches: what is written down of each.
    facts: Vec<Vec<Fact>>,
    /// Beside the batches: why a record of the whole block may not count for it.
    waits: Vec<String>,
    /// What is doubtful.
    problems: Vec<Problem>,
    /// What is to be asked about the record, were it written down now.
    question: Option<String>,
}

fn field(look: &mut Look, config: &Config, record: &Record) -> anyhow::Result<Field> {
    let now = look.now;
    Ok(look.read(|memory| {
        survey(memory, config, When::Now(now), |survey| {
            let cares = &survey.cares;
            let of = |name: &String| cares.iter().find(|care| care.batch.name == *name);
            Field {
                facts: cares.iter().map(|c| c.facts.all().to_vec()).collect(),
                waits: cares.iter().map(|care| why_not(care, record)).collect(),
                question: match &record.target {
                    Target::Batch(name) => of(name).and_then(|care| question(care, record)),
                    Target::Block(_) => None,
                },
                batches: survey
                    .cares
                    .into_iter()
                    .map(|care| Arc::unwrap_or_clone(care.batch))
                    .collect(),
                problems: survey.problems,
            }
        })
    })?)
}

/// Why a record of its whole block does not count for a batch.
fn why_not(care: &BatchCare<'_>, record: &Record) -> String {
    if let Some(on) = care.facts.closed_on() {
        return format!("closed on {on}");
    }
    if record.date < care.batch.grafted_on {
        return format!("grafted on {}", care.batch.grafted_on);
    }
    if record.what == What::Retract {
        return format!("no {} there to take back", record.remarks);
    }
    let step = care.steps.iter().find(|step| step.takes(record.what));
    let Some(step) = step else {
        return "written down already".into();
    };
    let title = &step.step.title;
    match step.state {
        State::Done => format!("'{title}' is done already"),
        State::PassedOver => format!("work that follows '{title}' is done already"),
        State::Ahead => format!("'{title}' is not due yet"),
        State::Open | State::Closing | State::Late => {
            format!("'{title}' was not due on {}", record.date)
        }
    }
}

/// What a record of a whole block comes to.
struct Touched {
    /// Whether it counts for any batch.
    any: bool,
    /// For which, and for which not and why.
    said: String,
}

/// For which batches a record of a whole block counts, and for which of it not and why.
fn touched(block: &str, before: &Field, after: &Field) -> Touched {
    let known = |batch: &Batch| {
        let at = before.batches.iter().position(|b| b.name == batch.name)?;
        Some((&before.facts[at], before.waits[at].as_str()))
    };
    let mut counts: Vec<&str> = Vec::new();
    let mut left: Vec<(&str, Vec<&str>)> = Vec::new();
    for (batch, facts) in after.batches.iter().zip(&after.facts) {
        match known(batch) {
            Some((same, why)) if same == facts => {
                if !batch.block.eq_ignore_ascii_case(block) {
                    continue;
                }
                match left.iter_mut().find(|(other, _)| *other == why) {
                    Some((_, names)) => names.push(&batch.name),
                    None => left.push((why, vec![&batch.name])),
                }
            }
            _ => counts.push(&batch.name),
        }
    }
    let said = if counts.is_empty() {
        format!("it counts for no batch of block {block}")
    } else {
        format!("it counts for {}", first_few(&counts))
    };
    let any = !counts.is_empty();
    if left.is_empty() {
        return Touched { any, said };
    }
    let groups = left.iter();
    let groups = groups.map(|(why, names)| format!("{} ({why})", first_few(names)));
    let groups: Vec<String> = groups.collect();
    let said = format!("{said}\nnot for {}", groups.join("; "));
    Touched { any, said }
}

/// Names in a sentence; of many the first and how many more.
fn first_few(names: &[&str]) -> String {
    if names.len() > 8 {
        return few(names);
    }
    let names: Vec<String> = names.iter().map(|&name| name.to_owned()).collect();
    list(&names)
}

/// As one word of a command line.
fn quoted(name: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_/.:".contains(c);
    if name.chars().all(plain) {
        name.to_owned()
    } else {
        format!("'{}'", name.replace('\'', "'\\''"))
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
