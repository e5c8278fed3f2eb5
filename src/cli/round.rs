//! `round`: one pass now.

use super::exit::{Exit, usage};
use super::{ConfigFile, runtime};
use crate::assemble::House;
use crate::clock::{Clock, ManualClock, SystemClock};
use crate::letters::count_of;
use crate::lock::Lock;
use crate::round::round;
use crate::store::{Store, StoreError};
use chrono::{DateTime, FixedOffset, Utc};
use clap::Args;
use std::io::Write;
use std::process::ExitCode;
use std::sync::Arc;

/// Walks one round: fetches temperatures, decides what is new, writes the letters and sends what waits.
#[derive(Debug, Args)]
pub struct RoundOnce {
    #[command(flatten)]
    config: ConfigFile,
    /// As if it were this moment, like 2026-08-18T06:10:00+02:00; not before the last round
    #[arg(long, value_name = "RFC3339", value_parser = moment)]
    at: Option<DateTime<FixedOffset>>,
}

fn moment(text: &str) -> Result<DateTime<FixedOffset>, String> {
    DateTime::parse_from_rfc3339(text)
        .map_err(|_| format!("'{text}' is not a moment; write it like 2026-08-18T06:10:00+02:00"))
}

impl RoundOnce {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        let config = self.config.load()?;
        let clock: Arc<dyn Clock> = match self.at {
            Some(at) => Arc::new(ManualClock::at(at.to_utc())),
            None => Arc::new(SystemClock),
        };
        let mut store = Store::open(&config.state)?;
        let _lock = Lock::take(&config.state).map_err(|held| Exit::TryLater.because(held))?;
        let last: Option<DateTime<Utc>> =
            store.settle::<_, StoreError>(|memory| memory.last_round())?;
        if let Some(last) = last.filter(|&last| clock.now() < last) {
            let now = clock.now().with_timezone(&config.zone);
            let last = last.with_timezone(&config.zone).to_rfc3339();
            return match self.at {
                Some(_) => Err(usage(format!("--at {} lies before the last round at {last}; rounds only go forward", now.to_rfc3339()))),
                None => Err(Exit::TryLater.because(format!("this machine's clock says {}, before the last round at {last}; set the clock right", now.to_rfc3339()))),
            };
        }
        let (house, problems) = House::live(config, clock, store);
        for problem in problems {
            eprintln!("{problem}");
        }
        let outcome = runtime()?.block_on(round(&house))?;
        for problem in &outcome.problems {
            eprintln!("{problem}");
        }
        for letter in &outcome.letters {
            writeln!(out, "to {}: {}", letter.name, letter.subject)?;
        }
        let told = count_of(outcome.tellings.len() as u32, "notice");
        writeln!(
            out,
            "{told}, {}",
            count_of(outcome.letters.len() as u32, "letter")
        )?;
        Ok(ExitCode::SUCCESS)
    }
}
