//! The raw forecast of one cell of the grid, made into the site's days.
//!
//! Maxima and minima come for the daytime and the night, not for calendar dates. The maximum belongs to the date on
//! which its interval begins: daytime begins in the morning and may end after midnight in the far west and north. The
//! minimum belongs to the date on which its interval ends: a night is coldest towards its end, at dawn. A date that
//! lacks either is no day.

use super::spans::{Hours, Span};
use crate::days::{Origin, RawDay};
use crate::excerpt::excerpt;
use crate::units::Celsius;
use crate::weather::interval;
use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use serde::Deserialize;
use std::collections::BTreeMap;

/// A document whose last change is further off is a forgotten copy, or a clock is wrong.
const FRESH: TimeDelta = TimeDelta::hours(24);
/// A daytime or a night has at least and at most so many hours; Alaska's nights have 18.
const SHORTEST: TimeDelta = TimeDelta::hours(12);
const LONGEST: TimeDelta = TimeDelta::hours(18);
/// Temperatures in °C outside this are not weather where anything is grafted; the service warns of thousands.
const POSSIBLE: std::ops::RangeInclusive<f64> = -60.0..=60.0;
/// In km/h and in mm per interval.
const MOST_GUST: f64 = 400.0;
const MOST_RAIN: f64 = 1000.0;

/// The document; whatever else is in it is ignored.
#[derive(Debug, Deserialize)]
pub struct GridAnswer {
    properties: Properties,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
struct Properties {
    update_time: Option<DateTime<Utc>>,
    max_temperature: Option<Layer>,
    min_temperature: Option<Layer>,
    wind_gust: Option<Layer>,
    quantitative_precipitation: Option<Layer>,
}

#[derive(Debug, Default, Deserialize)]
struct Layer {
    uom: Option<String>,
    #[serde(default)]
    values: Vec<Value>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
struct Value {
    valid_time: String,
    value: Option<f64>,
}

/// Something that is not used.
#[derive(Debug, PartialEq, Eq)]
pub struct Bad {
    /// A short word for it, the same each time.
    pub kind: &'static str,
    /// What was wrong.
    pub what: String,
}

impl Bad {
    fn new(kind: &'static str, what: impl Into<String>) -> Self {
        Self {
            kind,
            what: what.into(),
        }
    }
}

impl GridAnswer {
    /// The days from today on, in order of date, and what of the document is not used; or why none of it is.
    pub fn days(self, zone: Tz, now: DateTime<Utc>) -> Result<(Vec<RawDay>, Vec<Bad>), Bad> {
        let Properties {
            update_time,
            max_temperature,
            min_temperature,
            wind_gust,
            quantitative_precipitation,
        } = self.properties;
        let updated =
            update_time.ok_or_else(|| Bad::new("shape", "it does not say when it was updated"))?;
        if (now - updated).abs() > FRESH {
            let hours = FRESH.num_hours();
            let what = format!(
                "it was updated at {}, more than {hours} hours from now",
                updated.format("%Y-%m-%d %H:%M GMT")
            );
            return Err(Bad::new("stale", what));
        }
        let mut bad = Vec::new();
        let local = |at: DateTime<Utc>| at.with_timezone(&zone).date_naive();
        let mut maxima = BTreeMap::new();
        for span in extremes("maxTemperature", max_temperature, now, &mut bad)? {
            let max: &mut f64 = maxima.entry(local(span.from)).or_insert(span.value);
            *max = max.max(span.value);
        }
        let mut minima = BTreeMap::new();
        for span in extremes("minTemperature", min_temperature, now, &mut bad)? {
            let min: &mut f64 = minima.entry(local(span.to)).or_insert(span.value);
            *min = min.min(span.value);
        }
        let gusts = amounts("windGust", wind_gust, MOST_GUST, now, &mut bad);
        let rains = amounts(
            "quantitativePrecipitation",
            quantitative_precipitation,
            MOST_RAIN,
            now,
            &mut bad,
        );
        let today = local(now);
        let days = maxima
            .into_iter()
            .filter(|(date, _)| *date >= today)
            .filter_map(|(date, max)| {
                let hours = Hours::of(date, zone)?;
                Some(RawDay {
                    date,
                    min: *minima.get(&date)?,
                    max,
                    gust: hours.strongest(&gusts),
                    rain: hours.sum(&rains),
                    origin: Origin::Forecast,
                })
            });
        Ok((days.collect(), one_of_each(bad)))
    }
}

/// The first of each kind, with the number of the others: a document may have thousands.
fn one_of_each(bad: Vec<Bad>) -> Vec<Bad> {
    let mut kinds: Vec<(Bad, usize)> = Vec::new();
    for bad in bad {
        match kinds.iter_mut().find(|(first, _)| first.kind == bad.kind) {
            Some((_, more)) => *more += 1,
            None => kinds.push((bad, 0)),
        }
    }
    let told = |(first, more): (Bad, usize)| match more {
        0 => first,
        _ => Bad::new(
            first.kind,
            format!("{}, and {more} more like it", first.what),
        ),
    };
    kinds.into_iter().map(told).collect()
}

/// The usable spans of a layer of maxima or minima, in °C.
fn extremes(
    name: &str,
    layer: Option<Layer>,
    now: DateTime<Utc>,
    bad: &mut Vec<Bad>,
) -> Result<Vec<Span>, Bad> {
    let layer = layer.ok_or_else(|| Bad::new("shape", format!("it has no {name}")))?;
    let fahrenheit = match unit(&layer) {
        "degC" => false,
        "degF" => true,
        other => {
            let said = excerpt(other.as_bytes());
            return Err(Bad::new(
                "unit",
                format!("{name} is in '{said}' and not in degC"),
            ));
        }
    };
    let mut spans = spans(name, layer, now, bad);
    spans.sort_by_key(|span| span.from);
    for span in &mut spans {
        if fahrenheit {
            span.value = Celsius::from_fahrenheit(span.value).0;
        }
    }
    spans.retain(|span| {
        let possible = POSSIBLE.contains(&span.value);
        if !possible {
            let what = format!(
                "{name} of {} °C from {} on cannot be",
                span.value,
                shown(span.from)
            );
            bad.push(Bad::new("impossible", what));
        }
        possible
    });
    // What was cut at the edge of the forecast has lost the hours in which the extreme may lie.
    let usual = spans
        .iter()
        .map(|span| span.to - span.from)
        .filter(|long| *long <= LONGEST)
        .max();
    let last = spans.len().saturating_sub(1);
    let mut used = Vec::with_capacity(spans.len());
    for (n, span) in spans.into_iter().enumerate() {
        let long = span.to - span.from;
        if long > LONGEST {
            let what = format!(
                "{name} from {} on is for {} hours at once",
                shown(span.from),
                long.num_hours()
            );
            bad.push(Bad::new("long", what));
        } else if long >= SHORTEST && !((n == 0 || n == last) && Some(long) < usual) {
            used.push(span);
        }
    }
    Ok(used)
}

/// The spans of a layer of gusts or rain, none overlapping; a layer in another unit is unknown.
fn amounts(
    name: &str,
    layer: Option<Layer>,
    most: f64,
    now: DateTime<Utc>,
    bad: &mut Vec<Bad>,
) -> Vec<Span> {
    let layer = layer.unwrap_or_default();
    if layer.values.is_empty() {
        return Vec::new();
    }
    let factor = match (name, unit(&layer)) {
        ("windGust", "km_h-1") | ("quantitativePrecipitation", "mm") => 1.0,
        ("windGust", "m_s-1") => 3.6,
        (_, other) => {
            let said = excerpt(other.as_bytes());
            bad.push(Bad::new(
                "unit",
                format!("{name} is in the unexpected unit '{said}'"),
            ));
            return Vec::new();
        }
    };
    let mut spans = spans(name, layer, now, bad);
    spans.sort_by_key(|span| span.from);
    let mut end = DateTime::<Utc>::MIN_UTC;
    spans.retain_mut(|span| {
        span.value *= factor;
        let apart = span.from >= end && span.from < span.to;
        let possible = (0.0..=most).contains(&span.value);
        if apart {
            end = span.to;
        }
        apart && possible
    });
    spans
}

/// Whose intervals can be read and whose values are known.
fn spans(name: &str, layer: Layer, now: DateTime<Utc>, bad: &mut Vec<Bad>) -> Vec<Span> {
    let mut spans = Vec::with_capacity(layer.values.len());
    for Value { valid_time, value } in layer.values {
        match (interval::parse(&valid_time, now), value) {
            (Ok((from, to)), Some(value)) => spans.push(Span { from, to, value }),
            (Ok(_), None) => {}
            (Err(why), _) => {
                let said = excerpt(valid_time.as_bytes());
                bad.push(Bad::new(
                    "interval",
                    format!("{name} has the interval '{said}': {why}"),
                ));
            }
        }
    }
    spans
}

/// The unit without the name of the list that it stands in, which has changed over the years.
fn unit(layer: &Layer) -> &str {
    bare_unit(layer.uom.as_deref().unwrap_or_default())
}

/// `degC` of `wmoUnit:degC` and `unit:degC`.
pub fn bare_unit(unit: &str) -> &str {
    unit.rsplit_once(':').map_or(unit, |(_, bare)| bare)
}

fn shown(at: DateTime<Utc>) -> String {
    at.format("%Y-%m-%d %H:%M GMT").to_string()
}

#[cfg(test)]
mod tests;
