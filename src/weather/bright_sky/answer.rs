//! The document that Bright Sky answers with, and what must be right in it.
//!
//! It does not name its units, so temperatures that cannot be °C count as unknown. A document whose hours are out of
//! order or whose stations are somewhere else is refused as a whole. It hands on hours and which of them were measured.

use crate::excerpt::excerpt;
use crate::nursery::Site;
use crate::weather::hours::{Hour, POSSIBLE};
use crate::weather::place::degrees_apart;
use crate::weather::voice::Bad;
use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Deserialize;
use std::collections::{BTreeSet, HashMap};

/// Degrees between the site and a station; 50 km are asked for.
const NEAR: f64 = 1.5;
/// The kinds of source that have an instrument.
const OBSERVED: [&str; 3] = ["historical", "current", "synop"];

/// The document; whatever else is in it is ignored.
#[derive(Debug, Deserialize)]
pub struct Answer {
    weather: Vec<Record>,
    sources: Vec<Station>,
}

#[derive(Debug, Deserialize)]
struct Record {
    timestamp: String,
    source_id: Option<i64>,
    temperature: Option<f64>,
    wind_gust_speed: Option<f64>,
    precipitation: Option<f64>,
    /// Single values may come from another source than the rest (memory).
    #[serde(default)]
    fallback_source_ids: Option<HashMap<String, Option<i64>>>,
}

#[derive(Debug, Deserialize)]
struct Station {
    id: i64,
    #[serde(default)]
    observation_type: String,
    lat: Option<f64>,
    lon: Option<f64>,
}

/// What a document says.
#[derive(Debug, PartialEq)]
pub struct Heard {
    /// In order of time.
    pub hours: Vec<Hour>,
    /// The instants of temperatures that no instrument has shown.
    pub foretold: Vec<DateTime<Utc>>,
    /// What counts as unknown.
    pub remarks: Vec<Bad>,
}

impl Heard {
    /// The dates of which at least one temperature was not measured.
    pub fn foretold_dates(&self, zone: Tz) -> BTreeSet<NaiveDate> {
        let date = |at: &DateTime<Utc>| at.with_timezone(&zone).date_naive();
        self.foretold.iter().map(date).collect()
    }
}

impl Answer {
    /// The hours, or why the document is of no use for this site.
    pub fn hours(self, site: &Site) -> Result<Heard, Bad> {
        if self.weather.is_empty() {
            return Err(Bad {
                kind: "empty",
                what: "it has no hours: its stations have nothing for these days".into(),
                remedy: "it is asked again at the next round; if it lasts, use another source for this site",
            });
        }
        self.is_near(site)?;
        let observed: BTreeSet<i64> = self
            .sources
            .iter()
            .filter(|station| OBSERVED.contains(&station.observation_type.as_str()))
            .map(|station| station.id)
            .collect();
        let mut heard = Heard {
            hours: Vec::with_capacity(self.weather.len()),
            foretold: Vec::new(),
            remarks: Vec::new(),
        };
        for record in &self.weather {
            let at = record.full_hour()?;
            if heard.hours.last().is_some_and(|before| before.at >= at) {
                let said = excerpt(record.timestamp.as_bytes());
                return Err(Bad::shape(format!(
                    "its hours are not in order before {said}"
                )));
            }
            let hour = record.hour(at, &mut heard.remarks);
            let measured = record
                .source("temperature")
                .is_some_and(|id| observed.contains(&id));
            if hour.temperature.is_some() && !measured {
                heard.foretold.push(at);
            }
            heard.hours.push(hour);
        }
        Ok(heard)
    }

    fn is_near(&self, site: &Site) -> Result<(), Bad> {
        let mut places = self.sources.iter().filter_map(|s| s.lat.zip(s.lon));
        let far =
            places.find(|(latitude, longitude)| degrees_apart(site, *latitude, *longitude) > NEAR);
        let Some((latitude, longitude)) = far else {
            return Ok(());
        };
        Err(Bad {
            kind: "place",
            what: format!(
                "it is from a station at latitude {latitude}, longitude {longitude}, far from the site at {}, {}",
                site.latitude, site.longitude
            ),
            remedy: "look at the url in the config: it must lead to the service itself",
        })
    }
}

impl Record {
    fn full_hour(&self) -> Result<DateTime<Utc>, Bad> {
        let bad = || {
            let said = excerpt(self.timestamp.as_bytes());
            Bad::shape(format!(
                "'{said}' is not an hour like 2026-07-01T06:00:00+02:00"
            ))
        };
        let at = DateTime::parse_from_rfc3339(&self.timestamp).map_err(|_| bad())?;
        if at.timestamp() % 3600 == 0 {
            Ok(at.to_utc())
        } else {
            Err(bad())
        }
    }

    /// One remark is enough however many hours cannot be.
    fn hour(&self, at: DateTime<Utc>, remarks: &mut Vec<Bad>) -> Hour {
        let temperature = self.temperature.filter(|t| POSSIBLE.contains(t));
        if let Some(t) = self.temperature
            && temperature.is_none()
            && remarks.is_empty()
        {
            let said = excerpt(self.timestamp.as_bytes());
            remarks.push(Bad {
                kind: "impossible",
                what: format!("{t} °C at {said} cannot be"),
                remedy: "look whether the url in the config gives °C",
            });
        }
        Hour {
            at,
            temperature,
            gust: self.wind_gust_speed.filter(|gust| *gust >= 0.0),
            rain: self.precipitation.filter(|rain| *rain >= 0.0),
        }
    }

    /// Where a value comes from.
    fn source(&self, name: &str) -> Option<i64> {
        let other = self.fallback_source_ids.as_ref();
        let other = other.and_then(|ids| ids.get(name).copied().flatten());
        other.or(self.source_id)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn site(latitude: f64, longitude: f64) -> Site {
        Site {
            id: "hill".into(),
            latitude,
            longitude,
            elevation: None,
            zone: Tz::Europe__Berlin,
            standard_day: None,
        }
    }

    /// Two hours, the first measured and the second foretold, with one text of the document replaced by another.
    fn hours(from: &str, to: &str) -> Result<Heard, Bad> {
        let document = r#"{"weather":[
            {"timestamp":"2026-07-01T00:00:00+02:00","source_id":7,"temperature":14,"wind_gust_speed":9.4,"precipitation":0.2},
            {"timestamp":"2026-07-01T01:00:00+02:00","source_id":8,"temperature":-0,"wind_gust_speed":null,"icon":"cloudy"}],
            "sources":[{"id":7,"observation_type":"synop","lat":49.9,"lon":10.9},
            {"id":8,"observation_type":"forecast","lat":49.8,"lon":11}]}"#;
        assert!(document.contains(from), "{from}");
        let document = document.replacen(from, to, 1);
        let answer: Answer = serde_json::from_str(&document).unwrap();
        answer.hours(&site(49.88, 10.92))
    }

    /// The instants foretold, in the shape of `HH:MM` UTC.
    #[track_caller]
    fn foretold(from: &str, to: &str, expected: &[&str]) {
        let heard = hours(from, to).unwrap();
        let found: Vec<_> = heard
            .foretold
            .iter()
            .map(|at| at.format("%H:%M").to_string())
            .collect();
        assert_eq!(found, expected, "{to}");
    }

    #[track_caller]
    fn refused(from: &str, to: &str, what: &str) {
        assert_eq!(hours(from, to).unwrap_err().what, what);
    }

    #[test]
    fn a_right_answer_gives_its_hours() {
        let heard = hours("", "").unwrap();
        let expected = [
            Hour {
                at: "2026-06-30T22:00:00Z".parse().unwrap(),
                temperature: Some(14.0),
                gust: Some(9.4),
                rain: Some(0.2),
            },
            Hour {
                at: "2026-06-30T23:00:00Z".parse().unwrap(),
                temperature: Some(0.0),
                gust: None,
                rain: None,
            },
        ];
        assert_eq!(heard.hours, expected);
        assert_eq!(heard.remarks, []);
        let dates = heard.foretold_dates(Tz::Europe__Berlin);
        assert_eq!(dates, ["2026-07-01".parse().unwrap()].into());
    }

    #[test]
    fn only_what_an_instrument_has_shown_is_measured() {
        foretold("", "", &["23:00"]);
        foretold("\"forecast\"", "\"historical\"", &[]);
        foretold("\"forecast\"", "\"current\"", &[]);
        // Of what is not known or not named, nobody says that it was measured.
        foretold("synop", "reanalysis", &["22:00", "23:00"]);
        foretold("\"source_id\":7", "\"source_id\":9", &["22:00", "23:00"]);
        foretold("\"source_id\":7,", "", &["22:00", "23:00"]);
        foretold("\"observation_type\":\"synop\",", "", &["22:00", "23:00"]);
        // An hour without a temperature tells nothing either way.
        foretold(":-0", ":null", &[]);
    }

    #[test]
    fn a_value_put_in_from_elsewhere_has_the_origin_of_elsewhere() {
        let with = |ids: &str| format!("14,\"fallback_source_ids\":{ids}");
        foretold("14", &with("{\"temperature\":8}"), &["22:00", "23:00"]);
        foretold("14", &with("{\"wind_gust_speed\":8}"), &["23:00"]);
        foretold("14", &with("{\"temperature\":null}"), &["23:00"]);
        foretold("14", &with("null"), &["23:00"]);
        foretold(
            ":-0",
            ":-0,\"fallback_source_ids\":{\"temperature\":7}",
            &[],
        );
    }

    #[test]
    fn what_is_out_of_order_is_refused_as_a_whole() {
        refused(
            "T01:00:00",
            "T00:00:00",
            "its hours are not in order before 2026-07-01T00:00:00+02:00",
        );
        refused(
            "T00:00:00",
            "T02:00:00",
            "its hours are not in order before 2026-07-01T01:00:00+02:00",
        );
        refused(
            "T01:00:00",
            "T01:10:00",
            "'2026-07-01T01:10:00+02:00' is not an hour like 2026-07-01T06:00:00+02:00",
        );
        refused(
            "T01:00:00+02:00",
            "T01:00",
            "'2026-07-01T01:00' is not an hour like 2026-07-01T06:00:00+02:00",
        );
        refused(
            "\"lon\":11",
            "\"lon\":-11",
            "it is from a station at latitude 49.8, longitude -11, far from the site at 49.88, 10.92",
        );
    }

    #[test]
    fn temperatures_that_cannot_be_count_as_unknown_and_are_told_once() {
        let heard = hours("14,", "287.15,").unwrap();
        assert_eq!(heard.hours[0].temperature, None);
        assert_eq!(heard.hours[1].temperature, Some(0.0));
        let told: Vec<_> = heard.remarks.iter().map(|bad| bad.what.as_str()).collect();
        assert_eq!(told, ["287.15 °C at 2026-07-01T00:00:00+02:00 cannot be"]);
        let heard = hours("\"precipitation\":0.2", "\"precipitation\":-1").unwrap();
        assert_eq!(heard.hours[0].rain, None);
    }
}
