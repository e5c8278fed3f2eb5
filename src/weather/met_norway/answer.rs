//! The document of MET Norway's location forecast, and what must be right in it.
//!
//! A document that is too old, for another place, out of order or not in °C is refused as a whole; single values that
//! cannot be weather, and gusts or rain in another unit, count as unknown. It hands on steps; it knows no dates.

use crate::excerpt::excerpt;
use crate::nursery::Site;
use crate::weather::hours::POSSIBLE;
use crate::weather::place::degrees_apart;
use crate::weather::voice::Bad;
use chrono::{DateTime, TimeDelta, Utc};
use serde::Deserialize;
use std::collections::HashMap;

/// A document made longer ago comes from something that has stopped.
const OLDEST: TimeDelta = TimeDelta::hours(24);
/// The place asked for comes back, perhaps rounded; in degrees.
const NEAR: f64 = 0.5;
/// Forecasts reach ten days; a step further from now than this is a mistake.
const FARTHEST: TimeDelta = TimeDelta::days(30);
const KMH_PER_MS: f64 = 3.6;

/// One step of the forecast. Unknown is unknown, never 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// The instant of temperature and gust, and the beginning of the hours that follow.
    pub at: DateTime<Utc>,
    /// In °C.
    pub temperature: Option<f64>,
    /// Minimum and maximum of the next six hours in °C.
    pub extremes: Option<(f64, f64)>,
    /// In km/h.
    pub gust: Option<f64>,
    /// Rain of the next hour in mm.
    pub rain_1: Option<f64>,
    /// Rain of the next six hours in mm.
    pub rain_6: Option<f64>,
}

/// The document; whatever else is in it is ignored.
#[derive(Debug, Deserialize)]
pub struct Answer {
    geometry: Geometry,
    properties: Properties,
}

#[derive(Debug, Deserialize)]
struct Geometry {
    /// Longitude first.
    coordinates: Vec<f64>,
}

#[derive(Debug, Deserialize)]
struct Properties {
    meta: Meta,
    timeseries: Vec<Entry>,
}

#[derive(Debug, Deserialize)]
struct Meta {
    updated_at: Option<String>,
    #[serde(default)]
    units: HashMap<String, String>,
}

#[derive(Debug, Deserialize)]
struct Entry {
    time: String,
    data: Data,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Data {
    instant: Part,
    next_1_hours: Part,
    next_6_hours: Part,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Part {
    details: Details,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Details {
    air_temperature: Option<f64>,
    air_temperature_min: Option<f64>,
    air_temperature_max: Option<f64>,
    wind_speed_of_gust: Option<f64>,
    precipitation_amount: Option<f64>,
}

impl Answer {
    /// The steps, and what of them counts as unknown; or why the document is of no use for this site now.
    pub fn steps(self, site: &Site, now: DateTime<Utc>) -> Result<(Vec<Step>, Vec<Bad>), Bad> {
        self.properties.meta.is_fresh(now)?;
        self.geometry.is_near(site)?;
        let Properties { meta, timeseries } = self.properties;
        let mut remarks = Vec::new();
        meta.temperatures_are_celsius(&timeseries)?;
        let gusts = |entry: &Entry| entry.data.instant.details.wind_speed_of_gust;
        let rains = |entry: &Entry| {
            let part = |part: &Part| part.details.precipitation_amount;
            part(&entry.data.next_1_hours).or(part(&entry.data.next_6_hours))
        };
        let mut usable = |name, unit, value: &dyn Fn(&Entry) -> Option<f64>| {
            let given = timeseries.iter().any(|entry| value(entry).is_some());
            let bad = meta.is_unit(name, unit).err().filter(|_| given);
            let fine = bad.is_none();
            remarks.extend(bad);
            fine
        };
        let gust_is_right = usable("wind_speed_of_gust", "m/s", &gusts);
        let rain_is_right = usable("precipitation_amount", "mm", &rains);

        let mut impossible = None;
        let mut steps: Vec<Step> = Vec::with_capacity(timeseries.len());
        for entry in &timeseries {
            let at = entry.time(steps.last(), now)?;
            let details = |part: &Part| part.details.precipitation_amount;
            let rain = |part: &Part| details(part).filter(|mm| rain_is_right && *mm >= 0.0);
            let gust = gusts(entry).filter(|ms| gust_is_right && *ms >= 0.0);
            steps.push(Step {
                at,
                temperature: entry.temperature(&mut impossible),
                extremes: entry.extremes(&mut impossible),
                gust: gust.map(|ms| ms * KMH_PER_MS),
                rain_1: rain(&entry.data.next_1_hours),
                rain_6: rain(&entry.data.next_6_hours),
            });
        }
        remarks.extend(impossible.map(|what| Bad {
            kind: "impossible",
            what,
            remedy: "look whether the url in the config gives °C",
        }));
        Ok((steps, remarks))
    }
}

impl Geometry {
    fn is_near(&self, site: &Site) -> Result<(), Bad> {
        let [longitude, latitude, ..] = self.coordinates[..] else {
            return Err(Bad::shape("it does not say for which place it is"));
        };
        if degrees_apart(site, latitude, longitude) <= NEAR {
            return Ok(());
        }
        Err(Bad {
            kind: "place",
            what: format!(
                "it is for latitude {latitude}, longitude {longitude}, not for the site at {}, {}",
                site.latitude, site.longitude
            ),
            remedy: "look at the url in the config: it must lead to the service itself",
        })
    }
}

impl Meta {
    fn is_fresh(&self, now: DateTime<Utc>) -> Result<(), Bad> {
        let made = self.updated_at.as_deref();
        let made = made.ok_or_else(|| Bad::shape("it does not say when it was made"))?;
        if now - instant(made)? <= OLDEST {
            return Ok(());
        }
        Err(Bad {
            kind: "stale",
            what: format!("it was made on {made}, more than a day ago"),
            remedy: "it is asked again at the next round; if it lasts, the service has stopped or this machine's clock is wrong",
        })
    }

    fn temperatures_are_celsius(&self, entries: &[Entry]) -> Result<(), Bad> {
        self.is_unit("air_temperature", "celsius")?;
        let extremes = |entry: &Entry| {
            let details = &entry.data.next_6_hours.details;
            details.air_temperature_min.is_some() || details.air_temperature_max.is_some()
        };
        if entries.iter().any(extremes) {
            self.is_unit("air_temperature_min", "celsius")?;
            self.is_unit("air_temperature_max", "celsius")?;
        }
        Ok(())
    }

    fn is_unit(&self, name: &str, unit: &str) -> Result<(), Bad> {
        let given = self.units.get(name).map_or("", String::as_str);
        if given == unit {
            return Ok(());
        }
        let given = excerpt(given.as_bytes());
        Err(Bad {
            kind: "unit",
            what: format!("{name} is in '{given}' and not in {unit}"),
            remedy: "it is asked again at the next round; if it lasts, look at the url in the config",
        })
    }
}

impl Entry {
    /// A full hour of these weeks, later than the step before: a step twice or out of order says that something else
    /// is wrong too.
    fn time(&self, before: Option<&Step>, now: DateTime<Utc>) -> Result<DateTime<Utc>, Bad> {
        let at = instant(&self.time)?;
        let said = || excerpt(self.time.as_bytes());
        if before.is_some_and(|before| before.at >= at) {
            let what = format!("its times are not in order before {}", said());
            return Err(Bad::shape(what));
        }
        if at.timestamp() % 3600 != 0 || (at - now).abs() > FARTHEST {
            let what = format!("{} is not a full hour of these weeks", said());
            return Err(Bad::shape(what));
        }
        Ok(at)
    }

    fn temperature(&self, impossible: &mut Option<String>) -> Option<f64> {
        let t = self.data.instant.details.air_temperature?;
        self.check(&[t], impossible).then_some(t)
    }

    /// One without the other is worth nothing: it would move the day's middle.
    fn extremes(&self, impossible: &mut Option<String>) -> Option<(f64, f64)> {
        let details = &self.data.next_6_hours.details;
        let (min, max) = (details.air_temperature_min?, details.air_temperature_max?);
        if min > max {
            let what = || {
                format!(
                    "a minimum of {min} °C above the maximum of {max} °C after {} cannot be",
                    excerpt(self.time.as_bytes())
                )
            };
            impossible.get_or_insert_with(what);
            return None;
        }
        self.check(&[min, max], impossible).then_some((min, max))
    }

    fn check(&self, temperatures: &[f64], impossible: &mut Option<String>) -> bool {
        let Some(t) = temperatures.iter().find(|t| !POSSIBLE.contains(*t)) else {
            return true;
        };
        let what = || format!("{t} °C at {} cannot be", excerpt(self.time.as_bytes()));
        impossible.get_or_insert_with(what);
        false
    }
}

fn instant(text: &str) -> Result<DateTime<Utc>, Bad> {
    let parsed = DateTime::parse_from_rfc3339(text).map(|at| at.to_utc());
    parsed.map_err(|_| {
        let said = excerpt(text.as_bytes());
        Bad::shape(format!("'{said}' is not a time like 2026-07-01T06:00:00Z"))
    })
}

#[cfg(test)]
mod tests;
