//! Documents of weather services, for whatever place and time a test needs, with the temperatures of a function of time.

use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;
use serde_json::{Value, json};

/// A document like MET Norway's: so many hourly steps, then so many six hours apart. Each has the extremes of the six
/// hours from it on, null where one of them is.
pub fn met_norway(
    (latitude, longitude): (f64, f64),
    from: DateTime<Utc>,
    (hours, blocks): (i64, i64),
    temperature: impl Fn(DateTime<Utc>) -> Option<f64>,
) -> Value {
    let hourly = (0..hours).map(|n| from + TimeDelta::hours(n));
    let later = (0..blocks).map(|n| from + TimeDelta::hours(hours + 6 * n));
    let step = |at: DateTime<Utc>| {
        let six: Option<Vec<f64>> = (0..6)
            .map(|n| temperature(at + TimeDelta::hours(n)))
            .collect();
        let extreme =
            |pick: fn(f64, f64) -> f64| six.clone().and_then(|six| six.into_iter().reduce(pick));
        json!({"time": at.format("%Y-%m-%dT%H:%M:%SZ").to_string(), "data": {
            "instant": {"details": {"air_temperature": temperature(at), "relative_humidity": 70.1}},
            "next_12_hours": {"summary": {"symbol_code": "cloudy"}, "details": {}},
            "next_6_hours": {"summary": {"symbol_code": "cloudy"}, "details": {
                "air_temperature_min": extreme(f64::min), "air_temperature_max": extreme(f64::max)}},
        }})
    };
    json!({
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [longitude, latitude, 118]},
        "properties": {
            "meta": {
                "updated_at": (from - TimeDelta::minutes(20)).format("%Y-%m-%dT%H:%M:%SZ").to_string(),
                "units": {"air_temperature": "celsius", "air_temperature_max": "celsius",
                    "air_temperature_min": "celsius", "relative_humidity": "%"},
            },
            "timeseries": hourly.chain(later).map(step).collect::<Vec<_>>(),
        },
    })
}

/// A document like Bright Sky's: the hours from the midnight that begins one date of the zone to the midnight that
/// begins another, each with its temperature and the kind of source it is from.
pub fn bright_sky(
    (latitude, longitude): (f64, f64),
    zone: Tz,
    (from, to): (NaiveDate, NaiveDate),
    hour: impl Fn(DateTime<Utc>) -> (Option<f64>, &'static str),
) -> Value {
    const KINDS: [&str; 4] = ["historical", "current", "synop", "forecast"];
    let midnight = |date: NaiveDate| {
        let at = zone.from_local_datetime(&date.and_time(NaiveTime::MIN));
        at.earliest().unwrap().to_utc()
    };
    let full = |at: DateTime<Utc>| at.timestamp().div_euclid(3600);
    // Where zones are half an hour off, the first full hour comes after midnight.
    let first = -(-midnight(from).timestamp()).div_euclid(3600);
    let records = (first..=full(midnight(to))).map(|n| {
        let at = DateTime::from_timestamp(n * 3600, 0).unwrap();
        let (temperature, kind) = hour(at);
        json!({
            "timestamp": at.with_timezone(&zone).to_rfc3339(),
            "source_id": KINDS.iter().position(|known| *known == kind).unwrap(),
            "temperature": temperature, "precipitation": 0.0, "wind_gust_speed": 18.0, "relative_humidity": null,
            "icon": "cloudy",
        })
    });
    let sources = KINDS.iter().enumerate().map(|(id, kind)| {
        json!({"id": id, "observation_type": kind, "lat": latitude, "lon": longitude, "distance": 7438.0})
    });
    json!({"weather": records.collect::<Vec<_>>(), "sources": sources.collect::<Vec<_>>()})
}
