//! `tune`: what was seen teaches how much warmth is needed.

use super::exit::{Exit, usage};
use super::look::Look;
use super::table::{self, Set};
use super::{ConfigFile, shown};
use crate::care::sighting;
use crate::clock::{Clock, SystemClock};
use crate::nursery::Batch;
use crate::outlook::{Learned, Prior, Sighting, learn};
use crate::register::read_sightings;
use crate::survey::{When, survey};
use chrono::Datelike;
use clap::Args;
use serde_json::json;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// How much is needed by what was seen: for each group the middle, and between which amounts 80 of 100 batches lie. From
/// the field records it is standard days from grafting to callus lines, by care plan and scion. Changes nothing.
#[derive(Debug, Args)]
pub struct Tune {
    #[command(flatten)]
    config: ConfigFile,
    /// What was seen: a CSV file with group, above, upto (empty where that end is open, equal where it is exact), one
    /// batch a row; with `seasons_ago` older rows weigh less, half after five seasons
    #[arg(long, value_name = "FILE", conflicts_with = "config")]
    intervals: Option<PathBuf>,
    /// What is needed as a rule, before anything was seen; in the same unit as the file
    #[arg(long, default_value_t = Prior::LINES.need)]
    need: f64,
    /// How much groups differ from that: standard deviation of the natural logarithm
    #[arg(long, value_name = "SD", default_value_t = Prior::LINES.group_sd)]
    prior_sd: f64,
    /// How much batches of one group differ: standard deviation of the natural logarithm
    #[arg(long, value_name = "SD", default_value_t = Prior::LINES.batch_sd)]
    batch_sd: f64,
    /// A JSON object a group instead of a table
    #[arg(long)]
    json: bool,
}

impl Tune {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        let prior = Prior::new(self.need, self.prior_sd, self.batch_sd).map_err(usage)?;
        let (groups, left_out) = match &self.intervals {
            Some(file) => from_file(file)?,
            None => self.of_records()?,
        };
        let learned: Vec<(String, Learned)> = groups
            .into_iter()
            .map(|(group, seen)| (group, learn(&prior, &seen)))
            .collect();
        if self.json {
            for (group, learned) in &learned {
                writeln!(out, "{}", as_json(group, learned))?;
            }
        } else {
            write_table(out, &learned)?;
        }
        Ok(if left_out > 0 {
            Exit::Data.code()
        } else {
            ExitCode::SUCCESS
        })
    }

    /// What the field records say, by care plan and scion.
    fn of_records(&self) -> anyhow::Result<(Groups, usize)> {
        let config = self.config.load()?;
        let mut look = Look::new(&config)?;
        look.complain();
        let now = SystemClock.now();
        let year = now.with_timezone(&config.zone).year();
        let (groups, problems) = look.read(|memory| {
            survey(memory, &config, When::Now(now), |survey| {
                let mut groups: Vec<(String, Vec<Sighting>)> = Vec::new();
                let mut problems = Vec::new();
                for care in &survey.cares {
                    match sighting(care, year) {
                        Some(Ok(seen)) => put(&mut groups, group_of(&care.batch), seen),
                        Some(Err(problem)) => problems.push(problem),
                        None => {}
                    }
                }
                (groups, problems)
            })
        })?;
        for problem in &problems {
            eprintln!("{problem}");
        }
        if groups.is_empty() {
            return Err(
                Exit::Data.because("there are no records of lines or no-lines to learn from yet")
            );
        }
        let mut groups = groups;
        groups.sort_by(|(a, _), (b, _)| a.cmp(b));
        Ok((groups, problems.len()))
    }
}

/// What was seen, by group.
type Groups = Vec<(String, Vec<Sighting>)>;

fn group_of(batch: &Batch) -> String {
    match batch.scion.as_str() {
        "" => batch.plan.clone(),
        scion => format!("{}, {scion}", batch.plan),
    }
}

fn put(groups: &mut Groups, name: String, seen: Sighting) {
    match groups.iter_mut().find(|(group, _)| *group == name) {
        Some((_, all)) => all.push(seen),
        None => groups.push((name, vec![seen])),
    }
}

fn from_file(file: &Path) -> anyhow::Result<(Groups, usize)> {
    let (seen, problems) = read_sightings(file)
        .map_err(|problem| Exit::Data.because(format!("{}: {}.", problem.place, problem.what)))?;
    for problem in &problems {
        eprintln!("{problem}");
    }
    if seen.groups.is_empty() {
        return Err(Exit::Data.because(format!(
            "{}: there is nothing in it to learn from.",
            shown(file)
        )));
    }
    Ok((seen.groups, seen.left_out))
}

fn as_json(group: &str, learned: &Learned) -> serde_json::Value {
    let requirement = learned.requirement();
    let (low, high) = requirement.band80();
    json!({
        "group": group,
        "n": learned.batches,
        "need": requirement.need,
        "sd": requirement.sd,
        "low80": low,
        "high80": high,
    })
}

fn write_table(out: &mut dyn Write, learned: &[(String, Learned)]) -> anyhow::Result<()> {
    let columns = [
        ("group", Set::Left),
        ("batches", Set::Right),
        ("need", Set::Right),
        ("sd", Set::Right),
        ("80 of 100 between", Set::Right),
    ];
    let rows: Vec<Vec<String>> = learned
        .iter()
        .map(|(group, learned)| {
            let requirement = learned.requirement();
            let (low, high) = requirement.band80();
            vec![
                table::cut(group, 50),
                learned.batches.to_string(),
                format!("{:.1}", requirement.need),
                format!("{:.3}", requirement.sd),
                format!("{low:.1} and {high:.1}"),
            ]
        })
        .collect();
    table::write(out, &columns, &rows)?;
    Ok(())
}
