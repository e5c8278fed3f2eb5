//! `tune`: what was seen teaches how much warmth is needed.

use super::exit::{Exit, usage};
use super::shown;
use super::table::{self, Set};
use crate::outlook::{Learned, Prior, learn};
use crate::register::read_sightings;
use clap::Args;
use serde_json::json;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// How much is needed by what was seen: for each group the middle, and between which amounts 80 of 100 batches lie.
#[derive(Debug, Args)]
pub struct Tune {
    /// What was seen: a CSV file with group, above, upto (empty where that end is open, equal where it is exact), one
    /// batch a row; with `seasons_ago` older rows weigh less, half after five seasons
    #[arg(long, value_name = "FILE")]
    intervals: PathBuf,
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
        let (seen, problems) = read_sightings(&self.intervals).map_err(|problem| {
            Exit::Data.because(format!("{}: {}.", problem.place, problem.what))
        })?;
        for problem in &problems {
            eprintln!("{problem}");
        }
        if seen.groups.is_empty() {
            return Err(Exit::Data.because(format!(
                "{}: there is nothing in it to learn from.",
                shown(&self.intervals)
            )));
        }
        let learned: Vec<(String, Learned)> = seen
            .groups
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
        Ok(if seen.left_out > 0 {
            Exit::Data.code()
        } else {
            ExitCode::SUCCESS
        })
    }
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
