//! `days`: the days of a site and where they come from.

use super::exit::usage;
use super::look::Look;
use super::table::{self, Set};
use super::{ConfigFile, date};
use crate::clock::{Clock, SystemClock};
use crate::days::{Day, Series};
use crate::letters::day_short;
use crate::register::nearest;
use crate::survey::series_from;
use crate::units::{Celsius, Units};
use anyhow::Context as _;
use chrono::{Days, NaiveDate};
use clap::Args;
use serde_json::json;
use std::io::Write;
use std::process::ExitCode;

/// The days of a site: minimum, maximum, where they come from, and what is doubtful about them.
#[derive(Debug, Args)]
pub struct DaysOf {
    #[command(flatten)]
    config: ConfigFile,
    /// The site
    #[arg(long, value_name = "S")]
    site: String,
    /// The first day [default: 30 days ago]
    #[arg(long, value_parser = date)]
    from: Option<NaiveDate>,
    /// The last day [default: the last day known or foretold]
    #[arg(long, value_parser = date)]
    to: Option<NaiveDate>,
    /// One JSON object a day
    #[arg(long)]
    json: bool,
}

impl DaysOf {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        let config = self.config.load()?;
        let ids = || config.sites.iter().map(|s| s.site.id.as_str());
        if !ids().any(|id| id == self.site) {
            let near = nearest(&self.site, ids())
                .map_or_else(String::new, |near| format!("; did you mean {near}?"));
            return Err(usage(format!(
                "there is no site {} in the config{near}",
                self.site
            )));
        }
        let mut look = Look::new(&config)?;
        look.complain();
        let (series, rejected) =
            look.read(|memory| series_from(memory, &config, &self.site, NaiveDate::MIN))?;
        for problem in &rejected {
            eprintln!("{problem}");
        }
        let today = SystemClock.now().with_timezone(&config.zone).date_naive();
        let last = series
            .run()
            .iter()
            .flatten()
            .next_back()
            .map(|day| day.date);
        let to = self.to.or(last).unwrap_or(today);
        let from = self.from.unwrap_or_else(|| to.min(today) - Days::new(30));
        if from > to {
            return Err(usage(format!(
                "the last day {to} lies before the first day {from}"
            )));
        }
        if self.json {
            write_json(out, &series, from, to)
        } else {
            write_table(out, &series, from, to, config.units)
        }?;
        Ok(ExitCode::SUCCESS)
    }
}

fn write_json(
    out: &mut dyn Write,
    series: &Series,
    from: NaiveDate,
    to: NaiveDate,
) -> anyhow::Result<()> {
    for date in from.iter_days().take_while(|d| *d <= to) {
        let day = series.day(date);
        let object = json!({
            "date": date,
            "tmin_c": day.map(|d| d.min),
            "tmax_c": day.map(|d| d.max),
            "gust_kmh": day.and_then(|d| d.gust),
            "rain_mm": day.and_then(|d| d.rain),
            "origin": day.map(|d| d.origin.name()),
            "source": day.map(|d| d.source.as_str()).filter(|s| !s.is_empty()),
            "remark": day.map(|d| d.remark.as_str()).filter(|r| !r.is_empty()),
        });
        writeln!(out, "{object}").context("cannot write")?;
    }
    Ok(())
}

fn write_table(
    out: &mut dyn Write,
    series: &Series,
    from: NaiveDate,
    to: NaiveDate,
    units: Units,
) -> anyhow::Result<()> {
    let figure = |value: Option<f64>| {
        value.map_or_else(|| "-".into(), |t| units.temperature_figure(Celsius(t)))
    };
    let rows: Vec<Vec<String>> = from
        .iter_days()
        .take_while(|d| *d <= to)
        .map(|date| {
            let day = series.day(date);
            let origin = day.map_or("unknown", |d| d.origin.name());
            let text = |of: fn(&Day) -> &str| day.map(of).unwrap_or_default().to_owned();
            vec![
                format!("{date} {}", &day_short(date)[..3]),
                figure(day.map(|d| d.min)),
                figure(day.map(|d| d.max)),
                origin.into(),
                text(|d| &d.source),
                text(|d| &d.remark),
            ]
        })
        .collect();
    let unit = units.temperature_unit();
    let (min, max) = (format!("min {unit}"), format!("max {unit}"));
    let columns = [
        ("date", Set::Left),
        (min.as_str(), Set::Right),
        (max.as_str(), Set::Right),
        ("origin", Set::Left),
        ("source", Set::Left),
        ("remark", Set::Left),
    ];
    table::write(out, &columns, &rows)?;
    Ok(())
}
