//! `watch`: run unattended.

use super::ConfigFile;
use crate::clock::{Clock, SystemClock};
use crate::store::{Store, damage_was_met};
use crate::watch::{WatchError, watch};
use clap::Args;
use std::process::ExitCode;
use std::time::Duration;

/// Runs unattended: walks every scheduled round until stopped. SIGTERM stops it, SIGHUP reads the config again.
#[derive(Debug, Args)]
pub struct Watch {
    #[command(flatten)]
    config: ConfigFile,
}

impl Watch {
    pub fn run(self) -> anyhow::Result<ExitCode> {
        let config = self.config.load()?;
        for warning in &config.warnings {
            tracing::warn!("{warning}");
        }
        let lock = super::lock(&config)?;
        let store = Store::open_mended(&config.state, SystemClock.now())?;
        let state = config.state.clone();
        let runtime = super::runtime()?;
        let ended = runtime.block_on(watch(self.config.path(), config, store));
        // A step that hangs on another thread must not hold up the end; the transaction it was in is rolled back.
        runtime.shutdown_timeout(Duration::from_secs(1));
        if let Err(WatchError::Store(error)) = &ended {
            damage_was_met(&state, error);
        }
        drop(lock);
        ended.map_err(why)?;
        Ok(ExitCode::SUCCESS)
    }
}

/// The trouble itself, by which the exit code is found.
fn why(error: WatchError) -> anyhow::Error {
    match error {
        WatchError::Store(error) => error.into(),
        WatchError::Signals(_) => error.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::exit::{Exit, exit_of};
    use crate::store::StoreError;

    #[test]
    fn a_memory_in_use_may_be_free_another_time_and_a_damaged_one_is_not_there() {
        let exit = |error: StoreError| exit_of(&why(error.into()));
        assert_eq!(exit(StoreError::Busy), Exit::TryLater);
        assert_eq!(
            exit(StoreError::DamageMet("its structure is broken".into())),
            Exit::Unavailable
        );
    }
}
