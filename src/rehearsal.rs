//! A past season played through at full speed: every scheduled round, with a clock set by hand, an empty store, and
//! the register and temperature files as they stood on each day.

use crate::assemble::{Foresight, House};
use crate::clock::ManualClock;
use crate::config::Config;
use crate::days::{Origin, RawDay};
use crate::problem::Problem;
use crate::register::{BatchFile, RowFile};
use crate::round::{Outcome, names, round};
use crate::schedule::Slot;
use crate::store::StoreError;
use crate::weather::csv_file::FileSource;
use crate::weather::{Ask, Fetched, Pending, Source};
use chrono::{DateTime, Days, NaiveDate, NaiveTime, Utc};
use chrono_tz::Tz;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

/// So many days to come a perfect forecast knows.
const FORESEEN: Days = Days::new(7);

/// A temperature file as it stood: days that are over, and perhaps the next ones as a forecast.
pub struct Rehearsed {
    days: Vec<RawDay>,
    problems: Vec<Problem>,
    zone: Tz,
    foresight: Foresight,
    /// The days that were over when it was last asked: from, and before. They stand in the memory and never change.
    given: Mutex<Option<(NaiveDate, NaiveDate)>>,
}

impl Rehearsed {
    /// Reads the file once.
    pub fn new(file: &FileSource, zone: Tz, foresight: Foresight) -> Self {
        let reading = file.reading();
        let days = reading.days.iter().map(|day| day.raw(Origin::Measured));
        Self {
            days: days.collect(),
            problems: reading.problems.clone(),
            zone,
            foresight,
            given: Mutex::default(),
        }
    }

    /// The first day that is not in the memory yet.
    fn first_new(&self, from: NaiveDate, today: NaiveDate) -> NaiveDate {
        let mut given = self.given.lock().unwrap_or_else(PoisonError::into_inner);
        match given.replace((from, today)) {
            Some((since, before)) if since <= from && before <= today => before.max(from),
            _ => from,
        }
    }
}

impl Source for Rehearsed {
    fn name(&self) -> &'static str {
        "file"
    }

    fn fetch(&self, ask: Ask) -> Pending<'_, Fetched> {
        let today = ask.now.with_timezone(&self.zone).date_naive();
        let foreseen = match self.foresight {
            Foresight::None => today,
            Foresight::Perfect => today + FORESEEN,
        };
        let from = self.first_new(ask.from, today);
        let days = |date| self.days.partition_point(|day| day.date < date);
        let as_it_stood = self.days[days(from).min(days(foreseen))..days(foreseen)]
            .iter()
            .map(|day| RawDay {
                origin: if day.date < today {
                    Origin::Measured
                } else {
                    Origin::Forecast
                },
                ..*day
            });
        let fetched = Fetched {
            days: as_it_stood.collect(),
            problems: self.problems.clone(),
            passing: false,
            answered: true,
            ..Fetched::default()
        };
        Box::pin(std::future::ready(fetched))
    }
}

/// One round of a rehearsal.
#[derive(Clone, Debug, PartialEq)]
pub struct Played {
    /// When it was due.
    pub slot: Slot,
    /// What it told.
    pub outcome: Outcome,
}

/// Plays every round from one date to another, both included, and hands each to `told`; stops when `told` says so.
pub async fn play(
    house: &House,
    clock: &ManualClock,
    span: (NaiveDate, NaiveDate),
    mut told: impl FnMut(Played) -> bool,
) -> Result<(), StoreError> {
    let zone = house.config.zone;
    let midnight = |day: NaiveDate| -> DateTime<Utc> {
        day.and_time(NaiveTime::MIN)
            .and_local_timezone(zone)
            .earliest()
            .map_or_else(|| day.and_time(NaiveTime::MIN).and_utc(), |t| t.to_utc())
    };
    let (after, upto) = (
        midnight(span.0) - chrono::TimeDelta::seconds(1),
        midnight(span.1 + Days::new(1)) - chrono::TimeDelta::seconds(1),
    );
    for slot in house.config.schedule.scheduled_between(after, upto, zone) {
        clock.set(slot.at);
        let outcome = round(house).await?;
        if !told(Played { slot, outcome }) {
            break;
        }
    }
    Ok(())
}

/// The season to play unless told otherwise: from the first grafting to the day after the last temperature.
pub fn season(config: &Config) -> Option<(NaiveDate, NaiveDate)> {
    let mut first = None;
    let every = names(config, NaiveDate::MAX);
    BatchFile::open(&config.batches, every).read(&mut |row| {
        let date = row.value.grafted_on;
        first = Some(first.map_or(date, |first: NaiveDate| first.min(date)));
    });
    let first = first?;
    let last_day = |site: &crate::config::SiteConfig| {
        let files = site.weather.iter().filter_map(|weather| match weather {
            crate::config::WeatherConfig::File(file) => Some(FileSource::new(
                file.path.clone(),
                file.layout.clone(),
                site.site.zone,
            )),
            _ => None,
        });
        files
            .filter_map(|file| file.reading().days.last().map(|day| day.date))
            .max()
    };
    let last = config.sites.iter().filter_map(last_day).max()?;
    (first <= last).then_some((first, last + Days::new(1)))
}

/// A house for a rehearsal and the clock that it runs by.
pub fn house(
    config: Config,
    letters: &Path,
    foresight: Foresight,
) -> Result<(House, Arc<ManualClock>), StoreError> {
    let clock = Arc::new(ManualClock::at(DateTime::UNIX_EPOCH));
    let house = House::rehearsed(config, clock.clone(), letters, foresight)?;
    Ok((house, clock))
}
