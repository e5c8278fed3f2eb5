//! One local calendar date at a site.

use crate::texts::Text;
use chrono::NaiveDate;

/// Where a day's temperatures come from, the most trusted first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Origin {
    /// Read off an instrument.
    Measured,
    /// Worked out by a weather model for a day that has passed.
    Modelled,
    /// Foretold.
    Forecast,
    /// Put in between its neighbours.
    Filled,
}

impl Origin {
    /// Every origin.
    pub const ALL: [Self; 4] = [Self::Measured, Self::Modelled, Self::Forecast, Self::Filled];

    /// The word used in the store, in tables and in `--json`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::Modelled => "modelled",
            Self::Forecast => "forecast",
            Self::Filled => "filled",
        }
    }

    /// The origin of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|o| o.name() == name)
    }
}

/// One day as a source gave it: not yet judged, so anything may be in it that a number can hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RawDay {
    /// The local calendar date at the site.
    pub date: NaiveDate,
    /// Minimum in °C.
    pub min: f64,
    /// Maximum in °C.
    pub max: f64,
    /// Strongest gust in km/h.
    pub gust: Option<f64>,
    /// Rain in mm.
    pub rain: Option<f64>,
    /// Where it comes from; never [`Origin::Filled`].
    pub origin: Origin,
}

/// One day as it is used: judged, and filled where that was possible.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// The local calendar date at the site.
    pub date: NaiveDate,
    /// Minimum in °C; finite and not above `max`.
    pub min: f64,
    /// Maximum in °C.
    pub max: f64,
    /// Strongest gust in km/h.
    pub gust: Option<f64>,
    /// Rain in mm.
    pub rain: Option<f64>,
    /// Where it comes from.
    pub origin: Origin,
    /// The name of the source; empty for filled days.
    pub source: Text,
    /// Why it is doubted or where it was put in from; empty where there is nothing to say.
    pub remark: String,
    /// By how much it was shifted; not filled days.
    pub shift: Option<Box<Shift>>,
}

/// By how much a source that stands in for a better one is shifted, to agree with it.
#[derive(Clone, Debug, PartialEq)]
pub struct Shift {
    /// What was added to the minimum, in °C.
    pub min: f64,
    /// What was added to the maximum, in °C.
    pub max: f64,
    /// The better source.
    pub to: String,
}

impl Day {
    /// The mean of minimum and maximum in °C.
    pub fn mean(&self) -> f64 {
        f64::midpoint(self.min, self.max)
    }

    /// Whether it is more than a forecast.
    pub fn is_known(&self) -> bool {
        self.origin != Origin::Forecast
    }
}
