//! `days`: the days of a site and where they come from.

mod past;
mod shown;
mod trial;

use super::exit::usage;
use super::look::Look;
use super::{ConfigFile, date};
use crate::clock::{Clock, SystemClock};
use crate::config::{Config, SiteConfig};
use crate::register::nearest;
use crate::survey::{series_from, source_names};
use chrono::{Days, NaiveDate};
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
    /// The site [default: the only one there is]
    #[arg(long, value_name = "S")]
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

/// The site of that name; without a name the only one.
fn the_site<'c>(config: &'c Config, id: Option<&str>) -> anyhow::Result<&'c SiteConfig> {
    let ids = || config.sites.iter().map(|s| s.site.id.as_str());
    let Some(id) = id else {
        if let [only] = config.sites.as_slice() {
            return Ok(only);
        }
        let ids: Vec<&str> = ids().collect();
        return Err(usage(format!(
            "there are several sites: say which with --site ({})",
            ids.join(", ")
        )));
    };
    config
        .sites
        .iter()
        .find(|s| s.site.id == id)
        .ok_or_else(|| {
            let near = nearest(id, ids())
                .map_or_else(String::new, |near| format!("; did you mean {near}?"));
            usage(format!("there is no site {id} in the config{near}"))
        })
}

impl DaysOf {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        if let Some(file) = &self.file {
            return trial::run(file, &self.set, self.zone, self.json, out);
        }
        let config = self.config.load()?;
        let site = the_site(&config, self.site.as_deref())?;
        let today = SystemClock.now().with_timezone(&config.zone).date_naive();
        if let Some(years) = self.fetch_past {
            return past::run(out, &config, site, i32::from(years), today);
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
