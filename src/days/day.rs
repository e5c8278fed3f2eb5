//! One local calendar date at a site.

use chrono::NaiveDate;
use std::fmt;
use std::num::NonZeroU16;

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

/// One day as it is used: judged, and filled where that was possible. Of its words nothing is made before they are read:
/// a round settles hundreds of thousands of days, and shows few.
#[derive(Clone, Copy, Debug, PartialEq)]
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
    /// The source, see [`Series::source`](super::Series::source); none for filled days.
    pub source: Option<Rank>,
    /// Why it is doubted or where it was put in from, where there is anything to say.
    pub remark: Option<Remark>,
    /// By how much it was shifted; not filled days.
    pub shift: Option<Shift>,
}

/// The place of a source among those of its site, in the order of trust.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rank(NonZeroU16);

impl Rank {
    /// The rank of the source at that place, from 0; those beyond the 65,535th share the last.
    pub(super) fn of(place: usize) -> Self {
        let place = u16::try_from(place).unwrap_or(u16::MAX);
        Self(NonZeroU16::MIN.saturating_add(place))
    }

    /// The place, from 0.
    pub(super) fn place(self) -> usize {
        usize::from(self.0.get()) - 1
    }
}

/// What there is to say of a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Remark {
    /// Minimum and maximum are unusually far apart, or close, by so many °C.
    Range(f64),
    /// It is further than so many °C from the day before.
    Jump(f64),
    /// It is the same on so many days running.
    Equal(u32),
    /// It was put in on a line between the days known before and after.
    Between(NaiveDate, NaiveDate),
    /// It was put in as the mean of so many past years.
    Mean(usize),
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Range(range) => write!(f, "a range of {range:.1} °C is unusual"),
            Self::Jump(jump) => write!(f, "more than {jump} °C from the day before"),
            Self::Equal(days) => write!(f, "the same on {days} days running"),
            Self::Between(before, after) => {
                let short = |day: &NaiveDate| day.format("%-d %b").to_string();
                write!(f, "between {} and {}", short(before), short(after))
            }
            Self::Mean(years) => write!(f, "mean of {years} past years"),
        }
    }
}

/// By how much a source that stands in for a better one is shifted, to agree with it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// What was added to the minimum, in °C.
    pub min: f64,
    /// What was added to the maximum, in °C.
    pub max: f64,
    /// The better source.
    pub to: Rank,
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
