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
        ended?;
        Ok(ExitCode::SUCCESS)
    }
}
