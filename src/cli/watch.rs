//! `watch`: run unattended.

use super::ConfigFile;
use super::exit::Exit;
use crate::lock::Lock;
use crate::store::Store;
use crate::watch::watch;
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
        let store = Store::open(&config.state)?;
        let lock = Lock::take(&config.state).map_err(|held| Exit::TryLater.because(held))?;
        let runtime = super::runtime()?;
        let ended = runtime.block_on(watch(self.config.path(), config, store));
        // A step that hangs on another thread must not hold up the end; the transaction it was in is rolled back.
        runtime.shutdown_timeout(Duration::from_secs(1));
        drop(lock);
        ended?;
        Ok(ExitCode::SUCCESS)
    }
}
