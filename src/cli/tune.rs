//! `tune`: what was seen teaches how much warmth is needed.

mod records;

use super::exit::{Exit, usage};
use super::table::{self, Set};
use super::{ConfigFile, date, shown};
use crate::outlook::{Learned, Prior, Sighting, learn};
use crate::register::read_sightings;
use chrono::NaiveDate;
use clap::Args;
use serde_json::json;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// How much is needed by what was seen: for each group the middle, and between which amounts 80 of 100 batches lie. From
/// the field records it is standard days from grafting to callus lines, by care plan and scion, and what that would move
/// in the windows of the batches that wait for lines. Changes nothing: `learn = "use"` in the config does.
#[derive(Debug, Args)]
pub struct Tune {
    #[command(flatten)]
    config: ConfigFile,
    /// As it was on this day instead of today
    #[arg(long, value_parser = date, conflicts_with = "intervals")]
    on: Option<NaiveDate>,
    /// What was seen: a CSV file with group, above, upto (empty where that end is open, equal where it is exact), one
    /// batch a row; with `seasons_ago` older rows weigh less, half after five seasons
    #[arg(long, value_name = "FILE", conflicts_with = "config")]
    intervals: Option<PathBuf>,
    /// What is needed as a rule, before anything was seen; in the same unit as the file [default: 17.15; for field
    /// records the middle of the plan's window for looking]
    #[arg(long)]
    need: Option<f64>,
    /// How much groups differ from that: standard deviation of the natural logarithm [default: 0.13; for field records
    /// so that 80 of 100 batches lie in that window]
    #[arg(long, value_name = "SD")]
    prior_sd: Option<f64>,
    /// How much batches of one group differ: standard deviation of the natural logarithm [default: 0.09; for field
    /// records as above]
    #[arg(long, value_name = "SD")]
    batch_sd: Option<f64>,
    /// A JSON object a group instead of a table
    #[arg(long)]
    json: bool,
}

/// What was seen, by group.
type Groups = Vec<(String, Vec<Sighting>)>;

impl Tune {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        let left_out = match &self.intervals {
            Some(file) => self.of_file(file, out)?,
            None => self.of_records(out)?,
        };
        Ok(if left_out > 0 {
            Exit::Data.code()
        } else {
            ExitCode::SUCCESS
        })
    }

    /// What is believed beforehand: `usual`, unless the command line says otherwise.
    fn prior(&self, usual: Prior) -> anyhow::Result<Prior> {
        let or = |asked: Option<f64>, usual| asked.unwrap_or(usual);
        Prior::new(
            or(self.need, usual.need),
            or(self.prior_sd, usual.group_sd),
            or(self.batch_sd, usual.batch_sd),
        )
        .map_err(usage)
    }

    fn of_file(&self, file: &Path, out: &mut dyn Write) -> anyhow::Result<usize> {
        let prior = self.prior(Prior::LINES)?;
        let (groups, left_out) = from_file(file)?;
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
        Ok(left_out)
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
