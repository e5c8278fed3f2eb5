//! `days`: the days of a site and where they come from.

mod shown;
mod trial;

use super::exit::{Exit, usage};
use super::look::Look;
use super::{ConfigFile, date, runtime};
use crate::assemble::source;
use crate::clock::{Clock, SystemClock};
use crate::config::{Config, SiteConfig};
use crate::days::PastDay;
use crate::letters::count_of;
use crate::register::nearest;
use crate::store::{Store, StoreError};
use crate::survey::{series_from, source_names};
use chrono::{Datelike, Days, NaiveDate};
use chrono_tz::Tz;
use clap::Args;
use shown::{Eyes, Shown};
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// The days of a site: minimum, maximum, where they come from and since when, what is doubtful about them, by how much
/// they were shifted, and what is not used and why.
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
        let id = &site.site.id;
        let (series, rejected) = look.read(|memory| {
            let past = memory.past_years(id)?;
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
        let names = source_names(site.weather.len(), |i| site.weather[i].name());
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let kept = look.read(|memory| memory.kept(id, &names, from, to))?;
        let shown = Shown::new(&series, &kept);
        if self.json {
            shown.json(out, from, to)
        } else {
            shown.table(
                out,
                from,
                to,
                &Eyes {
                    units: config.units,
                    zone: site.site.zone,
                    now: look.now,
                },
            )
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
