//! `round`: one pass now.

use super::exit::{Exit, usage};
use super::{ConfigFile, runtime};
use crate::assemble::House;
use crate::clock::{Clock, ManualClock, REMEDY, SystemClock};
use crate::letters::count_of;
use crate::lock::{Lock, LockError};
use crate::round::{ask_the_time, clock_doubt, round, say_clock_is_right, sign_off};
use crate::store::{Store, Waiting, damage_was_met};
use anyhow::Context as _;
use chrono::{DateTime, FixedOffset};
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
    /// This machine's clock is right, although it does not look so; also tells a service that waits for this word
    #[arg(long, conflicts_with = "at")]
    clock_is_right: bool,
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
        Store::make_folder(&config.state)?;
        if self.clock_is_right {
            say_clock_is_right(&config.state, clock.now())
                .with_context(|| format!("cannot write into {}", config.state.display()))?;
        }
        let _lock = match Lock::take(&config.state) {
            Err(LockError::Held { .. }) if self.clock_is_right => {
                writeln!(
                    out,
                    "the running service is told; it goes on within a minute"
                )?;
                return Ok(ExitCode::SUCCESS);
            }
            lock => lock.map_err(super::no_lock)?,
        };
        let store = Store::open_mended(&config.state, clock.now())?;
        let (house, problems) = House::live(config, clock, store);
        let runtime = runtime()?;
        if self.at.is_none() {
            runtime.block_on(believe_the_clock(&house))?;
        }
        self.goes_forward(&house)?;
        for problem in problems {
            eprintln!("{problem}");
        }
        let walked = runtime.block_on(round(&house));
        if let Err(error) = &walked {
            damage_was_met(&house.config.state, error);
        }
        let outcome = walked?;
        for problem in &outcome.problems {
            eprintln!("{problem}");
        }
        for letter in &outcome.letters {
            writeln!(out, "to {}: {}", letter.name, letter.subject)?;
        }
        if self.at.is_none() {
            runtime.block_on(sign_off(&house))?;
        }
        let told = count_of(outcome.tellings.len() as u32, "notice");
        let letters = count_of(outcome.letters.len() as u32, "letter");
        let waiting = house.with_store(|memory| memory.why_waiting())?;
        writeln!(out, "{told}, {letters}{}", and_wait(&waiting))?;
        Ok(match waiting.tried {
            0 => ExitCode::SUCCESS,
            _ => Exit::TryLater.code(),
        })
    }

    fn goes_forward(&self, house: &House) -> anyhow::Result<()> {
        let (now, zone) = (house.clock.now(), house.config.zone);
        let last = house.with_store(|memory| memory.last_round())?;
        let Some(last) = last.filter(|&last| now < last) else {
            return Ok(());
        };
        let [now, last] = [now, last].map(|at| at.with_timezone(&zone).to_rfc3339());
        Err(match self.at {
            Some(_) => usage(format!("--at {now} lies before the last round at {last}; rounds only go forward")),
            None => Exit::TryLater.because(format!("this machine's clock says {now}, before the last round at {last}; wait until then, or set the clock right")),
        })
    }
}

/// What has not got out, and why.
fn and_wait(waiting: &Waiting) -> String {
    let held = match waiting.held {
        0 => String::new(),
        n => format!("; {n} held until quiet hours end"),
    };
    let tried = match waiting.tried {
        0 => String::new(),
        1 => format!("; 1 waits to be tried again: {}", waiting.why),
        n => format!("; {n} wait to be tried again: {}", waiting.why),
    };
    held + &tried
}

/// Ends the command where the clock cannot be right, and no service confirms it.
async fn believe_the_clock(house: &House) -> anyhow::Result<()> {
    if clock_doubt(house)?.is_some() {
        ask_the_time(house).await;
    }
    match clock_doubt(house)? {
        Some(doubt) => Err(Exit::TryLater.because(format!(
            "{doubt}; no round is walked and nothing is sent. To mend it, {REMEDY}"
        ))),
        None => Ok(()),
    }
}
