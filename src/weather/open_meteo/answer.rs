//! The document that Open-Meteo answers with, and what must be right in it.
//!
//! A document whose place, times, lengths or unit of temperature are not those asked for is refused as a whole;
//! single values that cannot be weather, and gusts or rain in another unit, count as unknown.

use crate::excerpt::excerpt;
use crate::nursery::Site;
use crate::weather::hours::Hour;
use crate::weather::place::degrees_apart;
use crate::weather::voice::Bad;
use chrono::{DateTime, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Utc};
use serde::Deserialize;
use std::collections::HashMap;
use std::ops::RangeInclusive;

/// Degrees between the place asked for and the cell that answered; the models' cells are smaller.
const NEAR: f64 = 1.5;
/// Temperatures in °C outside this are not weather where anything is grafted.
const POSSIBLE: RangeInclusive<f64> = -60.0..=60.0;

/// The document; whatever else is in it is ignored.
#[derive(Debug, Deserialize)]
pub struct Answer {
    #[serde(default)]
    error: bool,
    reason: Option<String>,
    latitude: Option<f64>,
    longitude: Option<f64>,
    utc_offset_seconds: Option<i64>,
    #[serde(default)]
    hourly_units: HashMap<String, String>,
    hourly: Option<Columns>,
}

#[derive(Debug, Deserialize)]
struct Columns {
    time: Vec<String>,
    temperature_2m: Vec<Option<f64>>,
    wind_gusts_10m: Option<Vec<Option<f64>>>,
    precipitation: Option<Vec<Option<f64>>>,
}

impl Answer {
    /// The hours, and what of them counts as unknown; or why the document is of no use for this site, asked for the
    /// hours from `first` on.
    pub fn hours(mut self, site: &Site, first: NaiveDate) -> Result<(Vec<Hour>, Vec<Bad>), Bad> {
        if self.error {
            let reason = self.reason.unwrap_or_default();
            let said = excerpt(reason.as_bytes());
            return Err(Bad::shape(format!("it reports an error: {said}")));
        }
        self.is_near(site)?;
        if self.utc_offset_seconds != Some(0) {
            let what = match self.utc_offset_seconds {
                Some(seconds) => format!("its times are {seconds} s off GMT"),
                None => "it does not say that its times are in GMT".into(),
            };
            return Err(Bad::shape(what));
        }
        let columns = self.hourly.take();
        let columns = columns.ok_or_else(|| Bad::shape("it has no hours"))?;
        self.is_unit("temperature_2m", "°C")?;
        let times = times(&columns.time)?;
        is_of_today(&times, first)?;
        let count = times.len();
        let temperatures = column("temperature_2m", Some(columns.temperature_2m), count)?;
        let mut gusts = column("wind_gusts_10m", columns.wind_gusts_10m, count)?;
        let mut rains = column("precipitation", columns.precipitation, count)?;

        let mut remarks = Vec::new();
        for (name, unit, values) in [
            ("wind_gusts_10m", "km/h", &mut gusts),
            ("precipitation", "mm", &mut rains),
        ] {
            if values.iter().any(Option::is_some)
                && let Err(bad) = self.is_unit(name, unit)
            {
                values.fill(None);
                remarks.push(bad);
            }
        }
        let impossible = |t: &Option<f64>| t.is_some_and(|t| !POSSIBLE.contains(&t));
        if let Some(first) = temperatures.iter().position(impossible) {
            remarks.push(Bad {
                kind: "impossible",
                what: format!(
                    "{} °C at {} cannot be",
                    temperatures[first].unwrap_or_default(),
                    columns.time[first]
                ),
                remedy: "look whether the url in the config gives °C",
            });
        }
        let hours = (0..count)
            .map(|n| Hour {
                at: times[n],
                temperature: temperatures[n].filter(|t| POSSIBLE.contains(t)),
                gust: gusts[n].filter(|gust| *gust >= 0.0),
                rain: rains[n].filter(|rain| *rain >= 0.0),
            })
            .collect();
        Ok((hours, remarks))
    }

    /// With the sign of a coordinate wrong, some ocean answers.
    fn is_near(&self, site: &Site) -> Result<(), Bad> {
        let (Some(latitude), Some(longitude)) = (self.latitude, self.longitude) else {
            return Err(Bad::shape("it does not say for which place it is"));
        };
        if degrees_apart(site, latitude, longitude) <= NEAR {
            return Ok(());
        }
        Err(Bad {
            kind: "place",
            what: format!(
                "it is for latitude {latitude}, longitude {longitude}, far from the site at {}, {}",
                site.latitude, site.longitude
            ),
            remedy: "look at the site's latitude and longitude in the config: east is positive, west negative",
        })
    }

    fn is_unit(&self, name: &str, unit: &str) -> Result<(), Bad> {
        let given = self.hourly_units.get(name).map_or("", String::as_str);
        if given == unit {
            return Ok(());
        }
        let given = excerpt(given.as_bytes());
        Err(Bad {
            kind: "unit",
            what: format!("{name} is in '{given}' and not in {unit}"),
            remedy: "look at the url in the config: it must leave the units as they are",
        })
    }
}

/// Hour by hour, none left out or doubled.
fn times(texts: &[String]) -> Result<Vec<DateTime<Utc>>, Bad> {
    let mut times: Vec<DateTime<Utc>> = Vec::with_capacity(texts.len());
    for text in texts {
        let time = NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M").map_err(|_| {
            let said = excerpt(text.as_bytes());
            Bad::shape(format!("'{said}' is not a time like 2026-07-01T06:00"))
        })?;
        let time = time.and_utc();
        if let Some(before) = times.last()
            && time - *before != TimeDelta::hours(1)
        {
            let what = format!("its times do not follow hour by hour before {text}");
            return Err(Bad::shape(what));
        }
        times.push(time);
    }
    if times.is_empty() {
        return Err(Bad::shape("it has no hours"));
    }
    Ok(times)
}

/// The document has no date of its own. One that begins earlier than was asked was made for another day, and what it
/// foretold then would be taken for what came to pass.
fn is_of_today(times: &[DateTime<Utc>], first: NaiveDate) -> Result<(), Bad> {
    let asked = first.and_time(NaiveTime::MIN).and_utc();
    match times.first() {
        // Midnight may lie between the question and the answer.
        Some(begins) if asked - *begins > TimeDelta::days(1) => Err(Bad {
            kind: "stale",
            what: format!(
                "its hours begin on {} and not on {first}: it was made for another day",
                begins.date_naive()
            ),
            remedy: "it is asked again at the next round; if it lasts, the service has stopped or this machine's clock is wrong",
        }),
        _ => Ok(()),
    }
}

/// A column that was not sent is unknown all along; one of another length cannot be told apart by hour.
fn column(
    name: &str,
    values: Option<Vec<Option<f64>>>,
    count: usize,
) -> Result<Vec<Option<f64>>, Bad> {
    let values = values.unwrap_or_else(|| vec![None; count]);
    if values.len() == count {
        return Ok(values);
    }
    Err(Bad::shape(format!(
        "it has {count} times but {} values of {name}",
        values.len()
    )))
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono_tz::Tz;

    fn site(latitude: f64, longitude: f64) -> Site {
        Site {
            id: "hill".into(),
            latitude,
            longitude,
            elevation: None,
            zone: Tz::UTC,
            standard_day: None,
        }
    }

    fn first() -> NaiveDate {
        "2026-07-01".parse().unwrap()
    }

    /// Two hours, with one text of the document replaced by another.
    fn hours(from: &str, to: &str) -> Result<(Vec<Hour>, Vec<Bad>), Bad> {
        let document = r#"{"latitude":47.5,"longitude":8.25,"generationtime_ms":0.1,"utc_offset_seconds":0,
            "hourly_units":{"time":"iso8601","temperature_2m":"°C","wind_gusts_10m":"km/h","precipitation":"mm"},
            "hourly":{"time":["2026-07-01T00:00","2026-07-01T01:00"],"temperature_2m":[14,-0],
            "wind_gusts_10m":[9.4,null],"precipitation":[0.2,0.00]}}"#;
        assert!(document.contains(from), "{from}");
        let document = document.replace(from, to);
        serde_json::from_str::<Answer>(&document)
            .unwrap()
            .hours(&site(47.52, 8.21), first())
    }

    #[track_caller]
    fn refused(from: &str, to: &str, what: &str) {
        assert_eq!(hours(from, to).unwrap_err().what, what);
    }

    #[track_caller]
    fn remarked(from: &str, to: &str, what: &str) -> Vec<Hour> {
        let (hours, remarks) = hours(from, to).unwrap();
        let whats: Vec<_> = remarks.iter().map(|bad| bad.what.as_str()).collect();
        assert_eq!(whats, [what]);
        hours
    }

    #[test]
    fn a_right_answer_gives_its_hours() {
        let (hours, remarks) = hours("", "").unwrap();
        assert!(remarks.is_empty());
        assert_eq!(
            hours,
            [
                Hour {
                    at: "2026-07-01T00:00:00Z".parse().unwrap(),
                    temperature: Some(14.0),
                    gust: Some(9.4),
                    rain: Some(0.2),
                },
                Hour {
                    at: "2026-07-01T01:00:00Z".parse().unwrap(),
                    temperature: Some(0.0),
                    gust: None,
                    rain: Some(0.0),
                },
            ]
        );
    }

    #[test]
    fn what_was_not_asked_for_is_refused_as_a_whole() {
        refused(
            r#""temperature_2m":"°C""#,
            r#""temperature_2m":"°F""#,
            "temperature_2m is in '°F' and not in °C",
        );
        refused(
            r#""temperature_2m":"°C","#,
            "",
            "temperature_2m is in 'nothing' and not in °C",
        );
        refused(
            "[0.2,0.00]",
            "[0.2,0,0]",
            "it has 2 times but 3 values of precipitation",
        );
        refused(
            "01T01:00",
            "01T02:00",
            "its times do not follow hour by hour before 2026-07-01T02:00",
        );
        refused(
            "01T01:00",
            "noon",
            "'2026-07-noon' is not a time like 2026-07-01T06:00",
        );
        refused(
            r#""utc_offset_seconds":0"#,
            r#""utc_offset_seconds":7200"#,
            "its times are 7200 s off GMT",
        );
        refused(
            r#""utc_offset_seconds":0,"#,
            "",
            "it does not say that its times are in GMT",
        );
        refused(
            r#""longitude":8.25,"#,
            "",
            "it does not say for which place it is",
        );
        refused(
            r#"["2026-07-01T00:00","2026-07-01T01:00"]"#,
            r#"["2026-06-29T23:00","2026-06-30T00:00"]"#,
            "its hours begin on 2026-06-29 and not on 2026-07-01: it was made for another day",
        );
        refused(r#""hourly":"#, r#""daily":"#, "it has no hours");
    }

    #[test]
    fn an_error_is_seen_in_either_order_of_keys() {
        for document in [
            r#"{"error":true,"reason":"no such place"}"#,
            r#"{"reason":"no such place","error":true}"#,
        ] {
            let answer: Answer = serde_json::from_str(document).unwrap();
            assert_eq!(
                answer.hours(&site(0.0, 0.0), first()).unwrap_err().what,
                "it reports an error: no such place"
            );
        }
    }

    #[test]
    fn values_that_cannot_be_count_as_unknown() {
        let found = remarked(
            "[14,-0]",
            "[140,12]",
            "140 °C at 2026-07-01T00:00 cannot be",
        );
        assert_eq!(found[0].temperature, None);
        assert_eq!(found[1].temperature, Some(12.0));
        let found = remarked(
            r#""precipitation":"mm""#,
            r#""precipitation":"inch""#,
            "precipitation is in 'inch' and not in mm",
        );
        assert_eq!(found[0].rain, None);
        assert_eq!(found[0].temperature, Some(14.0));
    }

    #[test]
    fn cells_across_the_date_line_are_near() {
        let answer = |latitude, longitude| {
            let document = serde_json::json!({"latitude": latitude, "longitude": longitude});
            serde_json::from_value::<Answer>(document).unwrap()
        };
        assert!(answer(-17.0, -179.9).is_near(&site(-17.0, 179.9)).is_ok());
        // A degree of longitude is half as long at 60° north.
        assert!(answer(60.0, 12.5).is_near(&site(60.0, 10.0)).is_ok());
        assert!(answer(0.0, 12.5).is_near(&site(0.0, 10.0)).is_err());
    }
}
