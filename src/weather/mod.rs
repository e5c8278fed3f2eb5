//! Sources of temperatures: each file meets one of them and turns its answer into raw days.
//!
//! A source never fails a round: what it could not give is a problem beside what it could. It knows nothing of heat,
//! batches or the store.

pub mod bright_sky;
pub mod csv_file;
pub mod hours;
pub mod http;
pub mod interval;
pub mod layout;
pub mod met_norway;
pub mod noaa_daily;
pub mod open_meteo;
mod place;
pub mod understood;
pub mod url;
pub mod us_weather_service;
mod voice;

use crate::days::RawDay;
use crate::problem::Problem;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use http::HttpError;
use std::future::Future;
use std::pin::Pin;

/// What is asked of a source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ask {
    /// The moment of the round: days from the site's date at this moment on are not over yet.
    pub now: DateTime<Utc>,
    /// The first day of use to anybody.
    pub from: NaiveDate,
    /// What the source asked to be reminded of when it last answered (a Last-Modified date, say).
    pub memo: Option<String>,
}

/// What a source gave.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fetched {
    /// In order of date, each date at most once; days that are not over are forecast.
    pub days: Vec<RawDay>,
    /// What was wrong.
    pub problems: Vec<Problem>,
    /// The problems may pass by themselves: they are logged, and told only by what comes of them (no temperatures).
    pub passing: bool,
    /// Whether the source answered at all; where not, what is stored stays as it is.
    pub answered: bool,
    /// To be handed back in the next [`Ask`]; none forgets what was remembered.
    pub memo: Option<String>,
    /// It asked not to be asked again before then.
    pub not_before: Option<DateTime<Utc>>,
    /// Nothing more is to be asked of its host now: it wants to be left alone by this whole machine, and not only for this
    /// document, or no connection to it came about.
    pub closed: bool,
}

impl Fetched {
    /// What comes of a question without an answer: one problem, and how long the service is left alone by what it said.
    pub fn unheard(problem: Problem, error: &HttpError, now: DateTime<Utc>) -> Self {
        let rest = error.rest(now);
        Self {
            problems: vec![problem],
            passing: error.may_pass(),
            not_before: rest.map(|rest| now + rest),
            closed: rest.is_some() || matches!(error, HttpError::Connect { .. }),
            ..Self::default()
        }
    }

    /// The same, left alone for another while than the service said.
    #[must_use]
    pub fn resting(self, rest: Option<TimeDelta>, now: DateTime<Utc>) -> Self {
        Self {
            not_before: rest.map(|rest| now + rest),
            closed: self.closed || rest.is_some(),
            ..self
        }
    }
}

/// A future that may be stored and sent between threads.
pub type Pending<'a, T> = Pin<Box<dyn Future<Output = T> + Send + 'a>>;

/// One source of temperatures for one site.
pub trait Source: Send + Sync {
    /// The word in the config: "file", "open-meteo".
    fn name(&self) -> &'static str;
    /// The host and port it asks: sources of one are asked one after the other. None for files.
    fn host(&self) -> Option<String> {
        None
    }
    /// Whether its units are the grower's to set, so that a change of all its days at once may be a correction.
    fn is_set_by_the_grower(&self) -> bool {
        false
    }
    /// What must stand in every letter that used it; empty for the grower's own file.
    fn attribution(&self) -> &'static str {
        ""
    }
    /// What it may be used for, shown by `check`; empty where there is nothing to say.
    fn terms(&self) -> &'static str {
        ""
    }
    /// Fetches the days.
    fn fetch(&self, ask: Ask) -> Pending<'_, Fetched>;
    /// Fetches a whole year before; none where the source does not have them.
    fn fetch_year(&self, _year: i32) -> Option<Pending<'_, Fetched>> {
        None
    }
}
