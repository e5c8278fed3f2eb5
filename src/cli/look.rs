//! Looking without touching: a copy of the store in memory, with the register and the temperature files as they are now.

use super::runtime;
use crate::assemble::House;
use crate::clock::SystemClock;
use crate::config::{Config, WeatherConfig};
use crate::problem::Problem;
use crate::round::{absorb, fetch_since};
use crate::store::{Store, StoreError};
use chrono::{DateTime, NaiveDate, Utc};
use std::sync::Arc;

/// What can be seen without a connection, and what was wrong with it.
pub struct Look {
    /// The copy; what is written to it is gone when it is dropped.
    pub store: Store,
    /// What could not be read.
    pub problems: Vec<Problem>,
    /// When it was looked.
    pub now: DateTime<Utc>,
}

impl Look {
    /// Looks at everything that needs no connection.
    pub fn new(config: &Config) -> anyhow::Result<Self> {
        Self::at(config, Store::copy_of(&config.state)?)
    }

    /// The same, with all days of the temperature files since a date, whether a batch needs them or not.
    pub fn since(config: &Config, from: NaiveDate) -> anyhow::Result<Self> {
        Self::over(config, Store::copy_of(&config.state)?, Some(from))
    }

    /// The same over a given store.
    pub fn at(config: &Config, store: Store) -> anyhow::Result<Self> {
        Self::over(config, store, None)
    }

    fn over(config: &Config, store: Store, since: Option<NaiveDate>) -> anyhow::Result<Self> {
        let mut files_only = config.clone();
        for site in &mut files_only.sites {
            site.weather
                .retain(|weather| matches!(weather, WeatherConfig::File(_)));
        }
        let (house, _) = House::live(files_only, Arc::new(SystemClock), store);
        let now = house.clock.now();
        let incoming = runtime()?.block_on(fetch_since(&house, now, since));
        let problems = house.with_store(|memory| absorb(memory, &incoming, now))?;
        let store = Arc::into_inner(house.store).and_then(|store| store.into_inner().ok());
        let store =
            store.ok_or_else(|| anyhow::anyhow!("the copy of the store is still in use"))?;
        Ok(Self {
            store,
            problems,
            now,
        })
    }

    /// Says on standard error what could not be read.
    pub fn complain(&self) {
        for problem in &self.problems {
            eprintln!("{problem}");
        }
    }

    /// Reads the copy.
    pub fn read<T>(
        &mut self,
        work: impl FnOnce(&crate::store::Memory<'_>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        self.store.settle(work)
    }
}
