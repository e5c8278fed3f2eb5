//! `due`: what is due, block by block. Looks at a copy in memory and changes nothing.

mod ahead;
mod if_grafted;
mod season;

use super::exit::Exit;
use super::look::Look;
use super::table::{self, Set, cut};
use super::{ConfigFile, date, figure};
use crate::care::{BatchCare, DayLoad, FORTNIGHT, Foreseen, Outlook, StepCare, Tuned, workload};
use crate::clock::{Clock, SystemClock};
use crate::config::Config;
use crate::letters::{count_of, day, day_near, list, tuned_groups};
use crate::notices;
use crate::nursery::Hemisphere;
use crate::pages::standing;
use crate::survey::{Survey, When, survey};
use chrono::{DateTime, NaiveDate, Utc};
use clap::Args;
use serde_json::json;
use std::io::Write;
use std::process::ExitCode;

/// What is due, block by block: from the register and the temperature files as they are now, and what the last round
/// fetched. Opens no connection and changes nothing.
#[derive(Debug, Args)]
pub struct Due {
    #[command(flatten)]
    config: ConfigFile,
    /// On this day instead of today
    #[arg(long, value_parser = date)]
    on: Option<NaiveDate>,
    /// What became of the grafts of a season (the year in which they were made; without a year the last): takes with
    /// their intervals, days to lines, how well dates have held
    #[arg(long, value_name = "YEAR", num_args = 0..=1, default_missing_value = "0", conflicts_with = "on")]
    season: Option<i32>,
    /// Which of fourteen days from D on is good for grafting, and what would follow: a day, if needed a care plan, if
    /// needed how many grafts (100)
    #[arg(long, value_name = "D[,PLAN][,COUNT]")]
    if_grafted: Option<if_grafted::Question>,
    /// With --if-grafted, at this site
    #[arg(long, value_name = "SITE", requires = "if_grafted")]
    site: Option<String>,
    /// One JSON object a batch, then one with the work of the next fourteen days
    #[arg(long)]
    json: bool,
}

impl Due {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        let config = self.config.load()?;
        let clock = SystemClock;
        let now = clock.now();
        let today = now.with_timezone(&config.zone).date_naive();
        let when = self.on.map_or(When::Now(now), |day| When::On(day, now));
        let mut look = Look::new(&config)?;
        look.complain();
        if let Some(year) = self.season {
            return self.season(out, &config, &mut look, year, now);
        }
        let written = look.read(|memory| {
            survey(memory, &config, when, |survey| {
                for problem in &survey.problems {
                    eprintln!("{problem}");
                }
                if let Some(question) = &self.if_grafted {
                    let site = self.site.as_deref();
                    return if_grafted::answer(out, &config, &survey, question, site, self.json);
                }
                let on = self.on.unwrap_or(today);
                let outlook = Outlook::new(survey.grounds, survey.past, &survey.cares);
                let loads = workload(&survey.cares, &outlook, &config.workdays, on, FORTNIGHT);
                if self.json {
                    write_json(out, &survey, &outlook, &loads)
                } else {
                    write_blocks(out, &config, &survey, &outlook, on)?;
                    ahead::write_workload(out, &loads)
                }
            })
        })?;
        written?;
        Ok(ExitCode::SUCCESS)
    }

    fn season(
        &self,
        out: &mut dyn Write,
        config: &Config,
        look: &mut Look,
        year: i32,
        now: DateTime<Utc>,
    ) -> anyhow::Result<ExitCode> {
        let hemisphere = config
            .sites
            .first()
            .map_or(Hemisphere::North, |site| site.site.hemisphere());
        let told = look.read(|memory| {
            survey(memory, config, When::Now(now), |survey| {
                let graftings = survey.cares.iter().map(|care| care.batch.grafted_on);
                let last = graftings.map(|day| hemisphere.season(day)).max();
                let year = if year == 0 { last? } else { year };
                Some(memory.foretold_in(year).map(|foretold| {
                    notices::season(year, survey.cares.iter(), hemisphere, &foretold)
                }))
            })
        })?;
        let season = told.transpose()?.filter(|season| season.batches > 0);
        let Some(season) = season else {
            return Err(Exit::Data.because(match year {
                0 => "there is no batch in the register".to_owned(),
                year => format!("no batch was grafted in the season of {year}"),
            }));
        };
        if self.json {
            season::write_json(out, &season)?;
        } else {
            season::write_text(out, &season)?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

fn write_json(
    out: &mut dyn Write,
    survey: &Survey<'_>,
    outlook: &Outlook<'_>,
    loads: &[DayLoad],
) -> anyhow::Result<()> {
    for care in &survey.cares {
        let batch = &care.batch;
        let steps: Vec<serde_json::Value> = care
            .steps
            .iter()
            .map(|step| step_json(step, outlook.of(care, step), outlook.closes(care, step)))
            .chain(
                care.limit
                    .iter()
                    .map(|limit| limit_json(limit, outlook.limit(care))),
            )
            .collect();
        let heat = care.heat();
        let object = json!({
            "batch": batch.name,
            "site": batch.site.as_str(),
            "block": batch.block.as_str(),
            "plan": batch.plan.as_str(),
            "grafted_on": batch.grafted_on,
            "grafts": batch.grafts,
            "days": care.days(),
            "heat_cday": heat.map(|h| figure(h.0)),
            "standard_days": heat.map(|h| figure(care.warmth.standard(h).0)),
            "filled_share": figure(care.filled_share),
            "open": care.is_open(),
            "last_safe_graft_on": last_graft(care, survey),
            "lines_about": outlook.lines(care).map(band_json),
            "tuned": care.lines.tuned.as_deref().map(tuned_json),
            "steps": steps,
        });
        writeln!(out, "{object}")?;
    }
    writeln!(out, "{}", ahead::workload_json(loads))?;
    Ok(())
}

/// The last safe day for grafting by the plan of a batch, in the season that is on.
fn last_graft(care: &BatchCare<'_>, survey: &Survey<'_>) -> Option<NaiveDate> {
    let site = &care.batch.site;
    let ground = survey.grounds.iter().find(|g| g.site.id == *site)?;
    let last = ground.last_graft(&care.batch.plan)?.ok()?;
    Some(last.of_season(ground.moment.today)?.0)
}

fn band_json(foreseen: Foreseen) -> serde_json::Value {
    let band = foreseen.band;
    json!({ "p10": band.p10, "p50": band.p50, "p90": band.p90, "rough": foreseen.rough })
}

fn tuned_json(tuned: &Tuned) -> serde_json::Value {
    json!({
        "of": tuned.of,
        "batches": tuned.batches,
        "need": figure(tuned.need.need),
        "sd": figure(tuned.need.sd),
        "usual": figure(tuned.usual),
    })
}

fn step_json(
    step: &StepCare<'_>,
    opens: Option<Foreseen>,
    closes: Option<Foreseen>,
) -> serde_json::Value {
    json!({
        "step": step.step.id,
        "state": step.state.name(),
        "opens_on": step.opened.map(|o| o.on),
        "closes_on": step.closes_on,
        "by": step.opened.map(|o| o.by.name()),
        "done": step.progress.done,
        "of": step.progress.of,
        "opens_about": opens.map(band_json),
        "closes_about": closes.map(band_json),
    })
}

/// The limit has no window: it closes on the day it is reached.
fn limit_json(limit: &crate::care::LimitCare<'_>, closes: Option<Foreseen>) -> serde_json::Value {
    json!({
        "step": limit.limit.id,
        "state": limit.state.name(),
        "opens_on": null,
        "closes_on": limit.reached_on,
        "by": null,
        "done": null,
        "of": null,
        "closes_about": closes.map(band_json),
    })
}

fn write_blocks(
    out: &mut dyn Write,
    config: &Config,
    survey: &Survey<'_>,
    outlook: &Outlook<'_>,
    today: NaiveDate,
) -> anyhow::Result<()> {
    writeln!(out, "{}, {}", config.name, day(today))?;
    let open: Vec<&BatchCare<'_>> = survey.cares.iter().filter(|c| c.is_open()).collect();
    let mut anything = false;
    for block in standing::blocks(&open) {
        let rows: Vec<Vec<String>> = block
            .iter()
            .flat_map(|care| due_rows(care, outlook, today))
            .collect();
        if rows.is_empty() {
            continue;
        }
        anything = true;
        let place = if config.sites.len() > 1 {
            format!(" at {}", block[0].batch.site)
        } else {
            String::new()
        };
        writeln!(out, "\nBlock {}{place}", block[0].batch.block)?;
        let columns = [
            ("batch", Set::Left),
            ("warmth", Set::Right),
            ("to do", Set::Left),
            ("left", Set::Right),
            ("since", Set::Left),
            ("until", Set::Left),
            ("", Set::Left),
        ];
        table::write(out, &columns, &rows)?;
    }
    if !anything {
        writeln!(out, "\nNothing is due.")?;
    }
    ahead::write_frost(out, survey.grounds, &open)?;
    write_ahead(out, &open, outlook, today)?;
    write_tuned(out, &open)?;
    if open.iter().any(|c| c.heat().is_none()) {
        writeln!(out, "\n+ at least: days are missing in the temperatures")?;
    }
    ahead::write_last_grafts(out, survey.grounds, &open)?;
    Ok(())
}

fn due_rows(care: &BatchCare<'_>, outlook: &Outlook<'_>, today: NaiveDate) -> Vec<Vec<String>> {
    let row = |step: &StepCare<'_>| {
        let left = step.left();
        vec![
            cut(&care.batch.name, 16),
            standing::warmth(care),
            care.task(step),
            if step.progress.done > 0 {
                format!("{left} of {}", step.progress.of)
            } else {
                left.to_string()
            },
            step.opened
                .map_or_else(String::new, |o| day_near(o.on, today)),
            standing::until(care, step, outlook, today),
            standing::pressing(step.state).to_owned(),
        ]
    };
    standing::due(care).map(row).collect()
}

/// Whose windows were moved by what was learned, and by how much warmth: a line for each group.
fn write_tuned(out: &mut dyn Write, open: &[&BatchCare<'_>]) -> anyhow::Result<()> {
    let groups = tuned_groups(open.iter().copied().filter(|care| care.shows_tuned()));
    if !groups.is_empty() {
        writeln!(out)?;
    }
    for (phrase, names) in groups {
        writeln!(out, "{}: {phrase}", list(&names))?;
    }
    Ok(())
}

/// One line of what is not due: how many batches wait, and for what first.
fn write_ahead(
    out: &mut dyn Write,
    open: &[&BatchCare<'_>],
    outlook: &Outlook<'_>,
    today: NaiveDate,
) -> anyhow::Result<()> {
    let waiting: Vec<&&BatchCare<'_>> = open
        .iter()
        .filter(|care| standing::due(care).next().is_none())
        .collect();
    if waiting.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\nNothing due yet on {}:",
        count_of(waiting.len() as u32, "batch")
    )?;
    let rows: Vec<Vec<String>> = waiting
        .iter()
        .map(|care| {
            let next = standing::next(care);
            vec![
                cut(&care.batch.name, 16),
                format!("block {}", care.batch.block),
                standing::warmth(care),
                next.map_or_else(String::new, |s| s.step.title.clone()),
                next.map_or_else(String::new, |step| {
                    standing::opens(care, step, outlook, today)
                }),
            ]
        })
        .collect();
    let columns = [
        ("batch", Set::Left),
        ("where", Set::Left),
        ("warmth", Set::Right),
        ("next", Set::Left),
        ("when", Set::Left),
    ];
    table::write(out, &columns, &rows)?;
    Ok(())
}
