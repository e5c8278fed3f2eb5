//! A site: one place with one weather.

use crate::units::DegreeDays;
use chrono::{Datelike, NaiveDate};
use chrono_tz::Tz;

/// One place with one weather, in which blocks of batches stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// The name used in the register.
    pub id: String,
    /// Degrees, north positive.
    pub latitude: f64,
    /// Degrees, east positive.
    pub longitude: f64,
    /// Metres above the sea.
    pub elevation: Option<f64>,
    /// The zone whose calendar dates are the site's days.
    pub zone: Tz,
    /// What one day of usual grafting-season weather gives here; unset, the plan's reference temperature says it.
    pub standard_day: Option<DegreeDays>,
}

/// Which half of the year is summer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hemisphere {
    /// Summer in July.
    North,
    /// Summer in January.
    South,
}

impl Hemisphere {
    /// The season in which a day lies: the year; in the south, where summers lie across the new year, that of July.
    pub fn season(self, day: NaiveDate) -> i32 {
        match self {
            Self::South if day.month() < 7 => day.year() - 1,
            Self::North | Self::South => day.year(),
        }
    }
}

impl Site {
    /// The half of the globe the site lies on; the equator counts as north.
    pub fn hemisphere(&self) -> Hemisphere {
        if self.latitude < 0.0 {
            Hemisphere::South
        } else {
            Hemisphere::North
        }
    }
}
