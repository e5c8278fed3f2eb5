//! The JSON of the access service, and what must be right in it.
//!
//! A list of flat rows, one a day, whose values are all texts, often padded with blanks; a day without a report has no
//! row, an element without one no key. The service gives °C only when it is asked for metric units: a document that is
//! plainly in tenths or in °F is refused as a whole.

use super::elements::{Element, POSSIBLE, Reading, Readings};
use crate::excerpt::excerpt;
use chrono::NaiveDate;
use serde_json::{Map, Value};

/// °F and tenths of °C are whole numbers; so many temperatures of an American station in °C never are all of them.
const ALL_WHOLE: usize = 20;
/// Whole numbers above this are too hot even for °F.
const HOTTEST_FAHRENHEIT: f64 = 134.0;

/// What is wrong with an answer.
#[derive(Debug, PartialEq, Eq)]
pub struct Bad {
    /// A short word for it, the same each time.
    pub kind: &'static str,
    /// What was wrong.
    pub what: String,
    /// What to do.
    pub remedy: &'static str,
}

fn shape(what: impl Into<String>) -> Bad {
    Bad {
        kind: "shape",
        what: what.into(),
        remedy: "it is asked again at the next round; if it lasts, look at the url in the config",
    }
}

fn units(what: String) -> Bad {
    Bad {
        kind: "unit",
        what,
        remedy: "look at the url in the config: it must answer in metric units",
    }
}

/// The readings of a station in a document; or why the document is of no use.
pub fn readings(document: &Value, station: &str) -> Result<Readings, Bad> {
    let Some(rows) = document.as_array() else {
        let said = document.get("errorMessage").and_then(Value::as_str);
        let whole = document.to_string();
        let said = excerpt(said.unwrap_or(&whole).as_bytes());
        return Err(shape(format!("it reports an error: {said}")));
    };
    let mut readings = Readings::default();
    let mut temperatures = Vec::new();
    for row in rows {
        let row = row
            .as_object()
            .ok_or_else(|| shape("its rows are not what they should be"))?;
        if text(row, "STATION") != station {
            let said = excerpt(text(row, "STATION").as_bytes());
            return Err(shape(format!(
                "it is of station '{said}' and not of {station}"
            )));
        }
        let date = text(row, "DATE");
        let date: NaiveDate = date.parse().map_err(|_| {
            let said = excerpt(date.as_bytes());
            shape(format!("'{said}' is not a date like 2026-07-01"))
        })?;
        for element in Element::ALL {
            let written = text(row, element.name());
            // The mark of the files for what was not measured.
            if written.is_empty() || written.starts_with("-9999") {
                continue;
            }
            let Some(value) = written.parse().ok().filter(|value: &f64| value.is_finite()) else {
                let said = excerpt(written.as_bytes());
                readings.drop(date, element, format!("'{said}' is not a number"));
                continue;
            };
            let reading = reading(row, date, element, value);
            if element.is_temperature() && reading.quality.is_whitespace() {
                temperatures.push((date, element, value));
            }
            readings.add(&reading);
        }
    }
    are_celsius(&temperatures, station)?;
    Ok(readings)
}

fn reading(row: &Map<String, Value>, date: NaiveDate, element: Element, value: f64) -> Reading {
    let attributes = text(row, &format!("{}_ATTRIBUTES", element.name()));
    let mut attributes = attributes.split(',').skip(1);
    let quality = attributes
        .next()
        .and_then(|flag| flag.trim().chars().next());
    Reading {
        date,
        element,
        value: element.metric(value),
        quality: quality.unwrap_or(' '),
        time: attributes.nth(1).unwrap_or_default().trim().to_owned(),
    }
}

/// A value without its padding; empty where there is none.
fn text(row: &Map<String, Value>, name: &str) -> String {
    match row.get(name) {
        Some(Value::String(text)) => text.trim().to_owned(),
        Some(Value::Number(number)) => number.to_string(),
        _ => String::new(),
    }
}

fn are_celsius(temperatures: &[(NaiveDate, Element, f64)], station: &str) -> Result<(), Bad> {
    let whole = |value: f64| value.fract() == 0.0;
    if !temperatures.iter().all(|(_, _, value)| whole(*value)) {
        return Ok(());
    }
    let beyond = temperatures
        .iter()
        .filter(|(_, _, value)| !POSSIBLE.contains(value));
    let worst = beyond.max_by(|a, b| a.2.abs().total_cmp(&b.2.abs()));
    if let Some((date, element, value)) = worst {
        let like = if value.abs() > HOTTEST_FAHRENHEIT {
            "tenths of °C"
        } else {
            "°F or tenths of °C"
        };
        let name = element.name();
        return Err(units(format!(
            "{name} of {date} is {value}: its temperatures look like {like}, not °C"
        )));
    }
    if station.starts_with("US") && temperatures.len() >= ALL_WHOLE {
        let what =
            "all its temperatures are whole numbers, as in °F or tenths of °C and never in °C";
        return Err(units(what.into()));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    const STATION: &str = "USC00990011";

    /// The days of a document as `date minimum maximum`, and what was left out.
    fn days(document: &Value) -> Result<(Vec<String>, Vec<String>), String> {
        let found = readings(document, STATION).map_err(|bad| bad.what)?.days();
        let days = found
            .days
            .iter()
            .map(|d| format!("{} {} {}", d.date, d.min, d.max));
        Ok((days.collect(), found.dropped))
    }

    #[track_caller]
    fn check(document: &Value, expected: &[&str], dropped: &[&str]) {
        let (days, left_out) = days(document).unwrap();
        assert_eq!(days, expected);
        assert_eq!(left_out, dropped);
    }

    #[track_caller]
    fn refused(document: &Value, why: &str) {
        assert_eq!(days(document).unwrap_err(), why);
    }

    fn row(date: &str, max: &str, min: &str) -> Value {
        json!({"DATE": date, "STATION": STATION, "TMAX": max, "TMIN": min,
            "TMAX_ATTRIBUTES": ",,7,0700", "TMIN_ATTRIBUTES": ",,7,0700"})
    }

    #[test]
    fn padded_texts_and_numbers_are_values() {
        check(
            &json!([row("2026-10-02", "  18.3", "   -0.6"), {"DATE": "2026-10-01", "STATION": STATION, "TMAX": 20, "TMIN": 9.4}]),
            &["2026-10-01 9.4 20", "2026-10-02 -0.6 18.3"],
            &[],
        );
    }

    #[test]
    fn what_is_missing_is_missing() {
        check(&json!([]), &[], &[]);
        check(
            &json!([row("2026-10-01", "18.3", "    "), row("2026-10-02", "-9999", "3.3"),
                {"DATE": "2026-10-03", "STATION": STATION, "TMAX": "12.2"}, {"DATE": "2026-10-04", "STATION": STATION, "TMAX": null}]),
            &[],
            &[],
        );
    }

    #[test]
    fn a_failed_check_costs_its_element() {
        let mut failed = row("2026-10-01", "18.3", "3.3");
        failed["TMIN_ATTRIBUTES"] = ",I,7,0700".into();
        failed["TMAX_ATTRIBUTES"] = ", ,7".into();
        check(
            &json!([failed]),
            &[],
            &[
                "TMIN of 2026-10-01: it failed a check of NOAA's (flag I: not consistent with the day's other values)",
            ],
        );
        check(
            &json!([row("2026-10-01", "18.3 C", "3.3")]),
            &[],
            &["TMAX of 2026-10-01: '18.3 C' is not a number"],
        );
    }

    #[test]
    fn other_units_are_refused() {
        refused(
            &json!([row("2026-10-01", "  311", "  217")]),
            "TMAX of 2026-10-01 is 311: its temperatures look like tenths of °C, not °C",
        );
        refused(
            &json!([row("2026-10-01", "87", "59")]),
            "TMAX of 2026-10-01 is 87: its temperatures look like °F or tenths of °C, not °C",
        );
        // A cool fortnight in °F holds no value that °C cannot have.
        let cool: Vec<Value> = (1..=10)
            .map(|n| row(&format!("2026-10-{n:02}"), &(50 + n % 4).to_string(), "36"))
            .collect();
        refused(
            &Value::Array(cool.clone()),
            "all its temperatures are whole numbers, as in °F or tenths of °C and never in °C",
        );
        check(
            &Value::Array(cool[..1].to_vec()),
            &["2026-10-01 36 51"],
            &[],
        );
    }

    #[test]
    fn one_value_that_cannot_be_costs_itself_only() {
        check(
            &json!([
                row("2026-10-01", "71.1", "11.1"),
                row("2026-10-02", "21.1", "11.7")
            ]),
            &["2026-10-02 11.7 21.1"],
            &["TMAX of 2026-10-01: 71.1 °C cannot be"],
        );
    }

    #[test]
    fn what_was_not_asked_for_is_refused() {
        refused(
            &json!({"errorCode": 400, "errorMessage": "Invalid station", "errors": []}),
            "it reports an error: Invalid station",
        );
        refused(&json!([1]), "its rows are not what they should be");
        refused(
            &json!([{"DATE": "2026-10-01", "STATION": "USC00990012", "TMAX": "1.1"}]),
            "it is of station 'USC00990012' and not of USC00990011",
        );
        refused(
            &json!([row("10/01/2026", "18.3", "3.3")]),
            "'10/01/2026' is not a date like 2026-07-01",
        );
    }

    #[test]
    fn rain_and_gusts_come_along() {
        let mut whole = row("2026-10-01", "18.3", "3.3");
        whole["PRCP"] = "  12.7".into();
        whole["WSFG"] = " 15.0".into();
        let found = readings(&json!([whole]), STATION).unwrap().days();
        assert_eq!(found.days[0].rain, Some(12.7));
        // 15 m/s are 54 km/h.
        assert_eq!(found.days[0].gust, Some(54.0));
        assert_eq!(found.morning.as_deref(), Some("it is read at 07:00"));
    }
}
