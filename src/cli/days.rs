//! `days`: the days of a site and where they come from.

mod trial;

use super::exit::{Exit, usage};
use super::look::Look;
use super::table::{self, Set};
use super::{ConfigFile, date, runtime};
use crate::assemble::source;
use crate::clock::{Clock, SystemClock};
use crate::config::{Config, SiteConfig};
use crate::days::{Day, PastDay, Series};
use crate::letters::{count_of, day_short};
use crate::register::nearest;
use crate::store::{Store, StoreError};
use crate::survey::series_from;
use crate::units::{Celsius, Units};
use anyhow::Context as _;
use chrono::{Datelike, Days, NaiveDate};
use chrono_tz::Tz;
use clap::Args;
use serde_json::json;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// The days of a site: minimum, maximum, where they come from, and what is doubtful about them.
#[derive(Debug, Args)]
pub struct DaysOf {
    #[command(flatten)]
    config: ConfigFile,
    /// The site
    #[arg(long, value_name = "S", required_unless_present = "file")]
    site: Option<String>,
    /// The first day [default: 30 days ago]
    #[arg(long, value_parser = date)]
    from: Option<NaiveDate>,
    /// The last day [default: the last day known or foretold]
    #[arg(long, value_parser = date)]
    to: Option<NaiveDate>,
    /// Fetch so many years before into the program's memory; can be stopped and taken up again
    #[arg(long, value_name = "YEARS", value_parser = clap::value_parser!(u16).range(1..=80), conflicts_with_all = ["from", "to", "json"])]
    fetch_past: Option<u16>,
    /// Says what is understood of a temperature file (or of all that a pattern in quotes means), and how to use it
    #[arg(long = "try", value_name = "FILE", conflicts_with_all = ["site", "config", "from", "to", "fetch_past"])]
    file: Option<PathBuf>,
    /// With --try: a line as under `[[site.weather]]`, as in --set 'unit = "F"'
    #[arg(long, value_name = "LINE", requires = "file")]
    set: Vec<String>,
    /// With --try: the zone of the site, for times that have an offset
    #[arg(long, requires = "file")]
    zone: Option<Tz>,
    /// One JSON object a day; with --try one object
    #[arg(long)]
    json: bool,
}

impl DaysOf {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        if let Some(file) = &self.file {
            return trial::run(file, &self.set, self.zone, self.json, out);
        }
        let id = self.site.clone().unwrap_or_default();
        let config = self.config.load()?;
        let ids = || config.sites.iter().map(|s| s.site.id.as_str());
        let Some(site) = config.sites.iter().find(|s| s.site.id == id) else {
            let near = nearest(&id, ids())
                .map_or_else(String::new, |near| format!("; did you mean {near}?"));
            return Err(usage(format!("there is no site {id} in the config{near}")));
        };
        let today = SystemClock.now().with_timezone(&config.zone).date_naive();
        if let Some(years) = self.fetch_past {
            return fetch_past(out, &config, site, i32::from(years), today);
        }
        let mut look = Look::since(&config, NaiveDate::MIN)?;
        look.complain();
        let (series, rejected) = look.read(|memory| {
            let past = memory.past_years(&site.site.id)?;
            series_from(memory, site, &past, NaiveDate::MIN, today - Days::new(1))
        })?;
        for problem in &rejected {
            eprintln!("{problem}");
        }
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

/// Asks the first source that has them for every year before that is not known yet, the newest first.
fn fetch_past(
    out: &mut dyn Write,
    config: &Config,
    site: &SiteConfig,
    years: i32,
    today: NaiveDate,
) -> anyhow::Result<ExitCode> {
    let mut store = Store::open(&config.state)?;
    let id = &site.site.id;
    let known: Vec<i32> =
        store.settle::<_, StoreError>(|memory| Ok(memory.past_years(id)?.years().collect()))?;
    let sources: Vec<_> = site
        .weather
        .iter()
        .filter_map(|weather| source(&site.site, weather).ok())
        .collect();
    let runtime = runtime()?;
    let (mut fetched, mut failed) = (0, 0);
    for year in (today.year() - years..today.year())
        .rev()
        .filter(|year| !known.contains(year))
    {
        let Some((name, asked)) = sources
            .iter()
            .find_map(|s| s.fetch_year(year).map(|asked| (s.name(), asked)))
        else {
            return Err(Exit::Unavailable.because(format!("no source of site {id} has years before; name a file with them as past_years in the config")));
        };
        let answer = runtime.block_on(asked);
        for problem in &answer.problems {
            eprintln!("{problem}");
        }
        if !answer.answered {
            failed += 1;
            continue;
        }
        let days: Vec<_> = answer
            .days
            .iter()
            .map(|d| PastDay {
                date: d.date,
                min: d.min,
                max: d.max,
            })
            .collect();
        store.settle::<_, StoreError>(|memory| memory.absorb_year(id, year, name, &days))?;
        fetched += 1;
        writeln!(
            out,
            "{year}: {} from {name}",
            count_of(days.len() as u32, "day")
        )?;
        out.flush()?;
    }
    writeln!(
        out,
        "site {id}: {} known before, {} fetched",
        count_of(known.len() as u32, "year"),
        count_of(fetched, "year")
    )?;
    if failed > 0 {
        return Err(Exit::TryLater.because(format!(
            "{} could not be fetched; run it again later, what is there is not asked for again",
            count_of(failed, "year")
        )));
    }
    Ok(ExitCode::SUCCESS)
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
            "not_used": not_used(series, date),
        });
        writeln!(out, "{object}").context("cannot write")?;
    }
    Ok(())
}

/// What sources gave for that date and is not used, with the reason.
fn not_used(series: &Series, date: NaiveDate) -> Vec<serde_json::Value> {
    let of_date = series.rejected().iter().filter(|r| r.raw.date == date);
    of_date
        .map(|r| {
            let (min, max) = (r.raw.min, r.raw.max);
            json!({ "source": r.source, "tmin_c": min, "tmax_c": max, "reason": r.reason })
        })
        .collect()
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
