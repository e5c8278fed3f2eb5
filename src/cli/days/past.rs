//! `days --fetch-past`: years before, year by year, until all asked for are there.
//!
//! Each year is written down before the next is asked for, so that it can be stopped and taken up again.

use crate::assemble::source;
use crate::cli::exit::Exit;
use crate::cli::runtime;
use crate::config::{Config, SiteConfig};
use crate::days::PastDay;
use crate::letters::count_of;
use crate::store::{Store, StoreError};
use crate::weather::http::Patience;
use crate::weather::{Fetched, Source};
use chrono::{Datelike, NaiveDate};
use std::io::Write;
use std::process::ExitCode;
use std::sync::Arc;

/// So many years running without an answer say that there will be none today.
const GIVEN_UP_AFTER: u32 = 3;

/// Asks for every year before that is not known yet, the newest first.
pub fn run(
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
    let line = Patience::USUAL.into();
    let made = |weather| source(&site.site, weather, &line).ok();
    let sources: Vec<_> = site.weather.iter().filter_map(made).collect();
    let runtime = runtime()?;
    let wanted = (today.year() - years..today.year()).rev();
    let wanted: Vec<i32> = wanted.filter(|year| !known.contains(year)).collect();
    let (mut fetched, mut failing) = (0, 0);
    for &year in &wanted {
        let Some((name, answer)) = runtime.block_on(ask(&sources, year)) else {
            return Err(Exit::Unavailable.because(format!("no source of site {id} has years before; name a file with them as past_years in the config")));
        };
        for problem in &answer.problems {
            eprintln!("{problem}");
        }
        if !answer.answered {
            failing += 1;
            // Whoever asks to be left alone, or is not there, is not asked fifteen times.
            if answer.closed || failing == GIVEN_UP_AFTER {
                break;
            }
            continue;
        }
        failing = 0;
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
    let missing = wanted.len() as u32 - fetched;
    if missing > 0 {
        return Err(Exit::TryLater.because(format!(
            "{} could not be fetched; run it again later, what is there is not asked for again",
            count_of(missing, "year")
        )));
    }
    Ok(ExitCode::SUCCESS)
}

/// The answer of the first source that has years before and gives this one, else of the last that has them.
async fn ask(sources: &[Arc<dyn Source>], year: i32) -> Option<(&'static str, Fetched)> {
    let mut heard = None;
    for source in sources {
        let Some(asked) = source.fetch_year(year) else {
            continue;
        };
        let answer = asked.await;
        let answered = answer.answered;
        heard = Some((source.name(), answer));
        if answered {
            break;
        }
    }
    heard
}
