//! What a station reported through one date, made into a measured day.
//!
//! A report is a glance at the instrument, not the extreme between two glances: the maximum so found lies a little
//! under the true one. A date counts when enough of its hours have a report and no long stretch is without, so that a
//! station that fell silent over noon does not pass for a cool day.

use super::grid::bare_unit;
use crate::days::{Origin, RawDay};
use crate::units::Celsius;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;
use serde::Deserialize;
use std::collections::BTreeSet;

/// Distinct hours of a date that must have a report.
const ENOUGH: usize = 20;
/// Hours running that may be without.
const SILENCE: usize = 3;
/// Temperatures in °C outside this are not weather where anything is grafted.
const POSSIBLE: std::ops::RangeInclusive<f64> = -60.0..=60.0;
/// A gust above this many km/h is none.
const MOST_GUST: f64 = 400.0;
/// Marks of the quality control that let a value pass: verified, screened, coarsely checked, and found good by a
/// person. The others, from memory: Z not checked, Q questioned, X failed, B found bad by a person, T cannot be checked.
const PASSED: [&str; 4] = ["V", "S", "C", "G"];

/// The document; whatever else is in it is ignored.
#[derive(Debug, Deserialize)]
pub struct ObservationsAnswer {
    #[serde(default)]
    features: Vec<Feature>,
}

#[derive(Debug, Deserialize)]
struct Feature {
    properties: Properties,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
struct Properties {
    timestamp: DateTime<Utc>,
    temperature: Option<Quantity>,
    wind_gust: Option<Quantity>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
struct Quantity {
    unit_code: Option<String>,
    value: Option<f64>,
    quality_control: Option<String>,
}

impl Quantity {
    /// The value and its unit, when it is known and passed the quality control.
    fn passed(&self) -> Option<(f64, &str)> {
        let mark = bare_unit(self.quality_control.as_deref()?);
        let unit = bare_unit(self.unit_code.as_deref()?);
        PASSED.contains(&mark).then_some((self.value?, unit))
    }

    fn celsius(&self) -> Option<f64> {
        let t = match self.passed()? {
            (t, "degC") => t,
            (t, "degF") => Celsius::from_fahrenheit(t).0,
            _ => return None,
        };
        POSSIBLE.contains(&t).then_some(t)
    }

    fn gust(&self) -> Option<f64> {
        let gust = match self.passed()? {
            (gust, "km_h-1") => gust,
            (gust, "m_s-1") => gust * 3.6,
            _ => return None,
        };
        (0.0..=MOST_GUST).contains(&gust).then_some(gust)
    }
}

impl ObservationsAnswer {
    /// The day, or why the reports do not make one.
    pub fn day(&self, date: NaiveDate, zone: Tz) -> Result<RawDay, String> {
        let of_the_date = || {
            let all = self.features.iter().map(|feature| &feature.properties);
            all.filter(|p| p.timestamp.with_timezone(&zone).date_naive() == date)
        };
        let reports =
            of_the_date().filter_map(|p| Some((p.timestamp, p.temperature.as_ref()?.celsius()?)));
        let mut extremes: Option<(f64, f64)> = None;
        let mut struck = BTreeSet::new();
        for (at, t) in reports {
            struck.insert(hour(at));
            extremes = Some(extremes.map_or((t, t), |(min, max)| (min.min(t), max.max(t))));
        }
        if struck.len() < ENOUGH {
            return Err(format!(
                "only {} hours of {date} have a temperature that passed",
                struck.len()
            ));
        }
        let silent = longest_silence(date, zone, &struck);
        if silent > SILENCE {
            return Err(format!(
                "{silent} hours running of {date} have no temperature that passed"
            ));
        }
        let (min, max) =
            extremes.ok_or_else(|| format!("{date} has no temperature that passed"))?;
        Ok(RawDay {
            date,
            min,
            max,
            gust: of_the_date()
                .filter_map(|p| p.wind_gust.as_ref()?.gust())
                .reduce(f64::max),
            rain: None,
            origin: Origin::Measured,
        })
    }
}

/// Hours since 1970.
fn hour(at: DateTime<Utc>) -> i64 {
    at.timestamp().div_euclid(3600)
}

/// The most full hours of a date running without a report.
fn longest_silence(date: NaiveDate, zone: Tz, struck: &BTreeSet<i64>) -> usize {
    let midnight = date.and_time(chrono::NaiveTime::MIN).and_utc();
    let (mut silent, mut longest) = (0, 0);
    // Zones lie between 12 hours behind and 14 ahead of UTC.
    for offset in -15..=39 {
        let at = midnight + TimeDelta::hours(offset);
        if at.with_timezone(&zone).date_naive() != date {
            continue;
        }
        silent = if struck.contains(&hour(at)) {
            0
        } else {
            silent + 1
        };
        longest = longest.max(silent);
    }
    longest
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono_tz::America;
    use serde_json::{Value, json};

    fn moment(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    /// Reports every hour from the first on, one a temperature, with one mark and unit.
    fn reports(first: &str, temperatures: &[f64], mark: &str, unit: &str) -> Vec<Value> {
        let report = |(n, t): (usize, &f64)| {
            let at = moment(first) + TimeDelta::hours(n.try_into().unwrap());
            json!({"properties": {"timestamp": at.to_rfc3339(),
                "temperature": {"unitCode": unit, "value": t, "qualityControl": mark},
                "windGust": {"unitCode": "wmoUnit:km_h-1", "value": null, "qualityControl": "Z"}}})
        };
        temperatures.iter().enumerate().map(report).collect()
    }

    fn day(reports: &[Value], date: &str, zone: Tz) -> Result<RawDay, String> {
        let answer = json!({"type": "FeatureCollection", "features": reports});
        let answer: ObservationsAnswer = serde_json::from_value(answer).unwrap();
        answer.day(date.parse().unwrap(), zone)
    }

    /// 24 hours of 18 November in New York, reported at 51 past: 10 °C but for 3 at the 7th and 16.5 at the 16th hour.
    fn usual() -> Vec<f64> {
        let mut temperatures = vec![10.0; 24];
        (temperatures[6], temperatures[15]) = (3.0, 16.5);
        temperatures
    }

    const FIRST: &str = "2026-11-18T05:51:00Z";

    #[track_caller]
    fn extremes(reports: &[Value], min: f64, max: f64) {
        let day = day(reports, "2026-11-18", America::New_York).unwrap();
        assert_eq!((day.min, day.max), (min, max));
        assert_eq!(day.origin, Origin::Measured);
    }

    #[track_caller]
    fn none(reports: &[Value], why: &str) {
        assert_eq!(
            day(reports, "2026-11-18", America::New_York).unwrap_err(),
            why
        );
    }

    #[test]
    fn the_extremes_of_a_dates_reports() {
        extremes(&reports(FIRST, &usual(), "V", "wmoUnit:degC"), 3.0, 16.5);
        extremes(&reports(FIRST, &usual(), "C", "wmoUnit:degC"), 3.0, 16.5);
        // As in 2019.
        extremes(&reports(FIRST, &usual(), "qc:S", "unit:degC"), 3.0, 16.5);
        // 3 °C and 16.5 °C.
        let fahrenheit: Vec<f64> = usual()
            .iter()
            .map(|t| {
                if *t < 5.0 {
                    37.4
                } else if *t > 15.0 {
                    61.7
                } else {
                    50.0
                }
            })
            .collect();
        let found = day(
            &reports(FIRST, &fahrenheit, "V", "wmoUnit:degF"),
            "2026-11-18",
            America::New_York,
        )
        .unwrap();
        assert!((found.min - 3.0).abs() < 1e-9 && (found.max - 16.5).abs() < 1e-9);
    }

    #[test]
    fn reports_of_neighbouring_dates_do_not_count() {
        let mut all = reports(FIRST, &usual(), "V", "wmoUnit:degC");
        all.extend(reports(
            "2026-11-18T04:59:00Z",
            &[-9.0],
            "V",
            "wmoUnit:degC",
        ));
        all.extend(reports(
            "2026-11-19T05:00:00Z",
            &[30.0],
            "V",
            "wmoUnit:degC",
        ));
        extremes(&all, 3.0, 16.5);
    }

    #[test]
    fn what_did_not_pass_the_quality_control_does_not_count() {
        for mark in ["Z", "Q", "X", "B", "T", ""] {
            none(
                &reports(FIRST, &usual(), mark, "wmoUnit:degC"),
                "only 0 hours of 2026-11-18 have a temperature that passed",
            );
        }
        none(
            &reports(FIRST, &usual(), "V", "wmoUnit:K"),
            "only 0 hours of 2026-11-18 have a temperature that passed",
        );
        let mut one = reports(FIRST, &usual(), "V", "wmoUnit:degC");
        one[15]["properties"]["temperature"]["qualityControl"] = "X".into();
        one[6]["properties"]["temperature"]["value"] = Value::Null;
        one[7]["properties"]["temperature"]["value"] = (-9999.0).into();
        one[8]["properties"]["temperature"] = Value::Null;
        extremes(&one, 10.0, 10.0);
    }

    #[test]
    fn a_date_with_too_few_hours_or_a_long_silence_is_no_day() {
        let mut few = reports(FIRST, &usual(), "V", "wmoUnit:degC");
        for n in [20, 15, 10, 5] {
            few.remove(n);
        }
        extremes(&few, 3.0, 10.0);
        few.remove(0);
        // A second report in an hour adds none.
        few.extend(reports(
            "2026-11-18T14:20:00Z",
            &[10.0],
            "V",
            "wmoUnit:degC",
        ));
        none(
            &few,
            "only 19 hours of 2026-11-18 have a temperature that passed",
        );
        let mut noon = reports(FIRST, &usual(), "V", "wmoUnit:degC");
        noon.drain(13..17);
        none(
            &noon,
            "4 hours running of 2026-11-18 have no temperature that passed",
        );
        let mut evening = reports(FIRST, &usual(), "V", "wmoUnit:degC");
        evening.truncate(20);
        none(
            &evening,
            "4 hours running of 2026-11-18 have no temperature that passed",
        );
    }

    #[test]
    fn the_strongest_gust_that_was_reported() {
        let mut all = reports(FIRST, &usual(), "V", "wmoUnit:degC");
        let gust = |value: f64, unit: &str| json!({"unitCode": unit, "value": value, "qualityControl": "V"});
        all[3]["properties"]["windGust"] = gust(37.0, "wmoUnit:km_h-1");
        all[4]["properties"]["windGust"] = gust(12.5, "wmoUnit:m_s-1");
        let found = day(&all, "2026-11-18", America::New_York).unwrap();
        assert_eq!(found.gust, Some(45.0));
    }

    #[test]
    fn dates_of_23_and_25_hours() {
        // 1 November 2026 in New York: 04:00 to 05:00 UTC a day and an hour later.
        let mut long = vec![10.0; 25];
        (long[0], long[24]) = (2.0, 20.0);
        let found = day(
            &reports("2026-11-01T04:00:00Z", &long, "V", "wmoUnit:degC"),
            "2026-11-01",
            America::New_York,
        )
        .unwrap();
        assert_eq!((found.min, found.max), (2.0, 20.0));
        let mut short = vec![10.0; 23];
        (short[0], short[22]) = (2.0, 20.0);
        let found = day(
            &reports("2026-03-08T05:00:00Z", &short, "V", "wmoUnit:degC"),
            "2026-03-08",
            America::New_York,
        )
        .unwrap();
        assert_eq!((found.min, found.max), (2.0, 20.0));
    }
}
