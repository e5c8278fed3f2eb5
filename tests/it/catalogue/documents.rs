//! Answers with a good status whose document is not what was asked for.

use super::{Failure, Log, QUICK, forecast, house, moment, open_meteo, run, series, site, warmth};
use crate::program::Nursery;
use crate::scripted_server::{Reply, Scripted, html, json, say};
use chrono::{DateTime, Days, TimeDelta, Timelike, Utc};
use graftwarden::days::Origin;
use serde_json::{Value, json as value};

/// A good document, but 12 to 25 °C so that it would be noticed, and with this done to it.
fn but(change: impl Fn(&mut Value) + 'static) -> Failure {
    Failure::of(move |now| {
        let mut document = open_meteo(now, warmth(12.0, 25.0));
        change(&mut document);
        json(200, document.to_string())
    })
}

/// A good document with other temperatures.
fn with(temperature: impl Fn(DateTime<Utc>) -> Option<f64> + 'static) -> Failure {
    Failure::of(move |now| json(200, open_meteo(now, &temperature).to_string()))
}

/// A document that was asked for in vain once in each round: another try would bring the same.
fn useless(change: impl Fn(&mut Value) + 'static, said: &'static str) {
    but(change).asked(1, 1).says(said);
}

#[test]
fn half_a_document_and_an_excuse() {
    Failure::of(|now| {
        let document = open_meteo(now, warmth(12.0, 25.0)).to_string();
        let half = &document[..document.len() / 2];
        json(
            200,
            format!("{half}Unexpected error while streaming data: timeout"),
        )
    })
    .says("answered with something else than was asked for (");
}

#[test]
fn the_connection_breaks_off_in_the_middle() {
    Failure::of(|now| {
        let document = open_meteo(now, warmth(12.0, 25.0)).to_string();
        match json(200, document) {
            Reply::Bytes(bytes) => Reply::Bytes(bytes[..bytes.len() / 2].to_vec()),
            other => other,
        }
    })
    .says("the connection to http://127.0.0.1");
}

#[test]
fn half_a_forecast_of_met_norway() {
    Failure::of(|now| json(200, &forecast(now, now).to_string()[..3000]))
        .of_met_norway()
        .asked(1, 1)
        .says("answered with something else than was asked for (EOF");
}

#[test]
fn nothing_but_nulls() {
    with(|_| None)
        .asked(1, 1)
        .says("the answer has no day whose hours are known");
}

#[test]
fn nulls_at_the_end() {
    // Known until seven in the morning of the 16th.
    let until = moment("2024-07-16T05:00:00Z");
    with(move |at| warmth(10.0, 20.0)(at).filter(|_| at < until))
        .answers()
        .asked(1, 1)
        .says("hours without a temperature on 2024-07-16");
}

#[test]
fn a_part_of_a_day_that_looks_whole() {
    // Two hours at noon are missing on the 16th, and those of the night on the days since, which ends like a cool day.
    let since = moment("2024-07-16T10:00:00Z");
    let missing = move |at: DateTime<Utc>| at >= since && (10..12).contains(&at.hour());
    with(move |at| warmth(10.0, 20.0)(at).filter(|_| !missing(at)))
        .answers()
        .asked(1, 1)
        .says("hours without a temperature on 2024-07-16");
}

#[test]
fn lists_of_unequal_length() {
    useless(
        |document| {
            document["hourly"]["temperature_2m"]
                .as_array_mut()
                .unwrap()
                .pop();
        },
        "it has 240 times but 239 values of temperature_2m",
    );
}

#[test]
fn a_missing_key() {
    for key in ["time", "temperature_2m"] {
        but(move |document| {
            document["hourly"].as_object_mut().unwrap().remove(key);
        })
        .says("missing field");
    }
    let remove = |key: &'static str| {
        move |document: &mut Value| {
            document.as_object_mut().unwrap().remove(key);
        }
    };
    useless(remove("hourly"), "it has no hours");
    useless(
        remove("hourly_units"),
        "temperature_2m is in 'nothing' and not in °C",
    );
    useless(remove("longitude"), "it does not say for which place it is");
    useless(
        remove("utc_offset_seconds"),
        "it does not say that its times are in GMT",
    );
}

#[test]
fn a_renamed_variable() {
    but(|document| {
        let hourly = document["hourly"].as_object_mut().unwrap();
        let temperatures = hourly.remove("temperature_2m").unwrap();
        hourly.insert("temperature".into(), temperatures);
    })
    .says("missing field `temperature_2m`");
}

#[test]
fn a_renamed_unit() {
    useless(
        |document| document["hourly_units"]["temperature_2m"] = value!("celsius"),
        "temperature_2m is in 'celsius' and not in °C",
    );
}

#[test]
fn an_error_that_is_called_a_success() {
    let reversed = r#"{"reason":"Something went wrong.","error":true}"#;
    Failure::of(move |_| json(200, reversed))
        .asked(1, 1)
        .says("it reports an error: Something went wrong.");
}

#[test]
fn fahrenheit_by_its_unit() {
    useless(
        |document| document["hourly_units"]["temperature_2m"] = value!("°F"),
        "temperature_2m is in '°F' and not in °C",
    );
}

#[test]
fn fahrenheit_that_calls_itself_celsius() {
    // 10 to 20 °C are 50 to 68 °F.
    with(warmth(50.0, 68.0))
        .asked(1, 1)
        .says("the answer has no day whose hours are known");
    // 1 to 13 °C are 33.8 to 55.4 °F, all of which can be; but not after 10 to 20 °C on the same days.
    with(warmth(33.8, 55.4))
        .asked(1, 1)
        .says("had 10 to 20 °C and now 33.8 to 55.4 °C, as if in another unit or place");
}

#[test]
fn tenths_of_degrees() {
    with(warmth(100.0, 200.0))
        .asked(1, 1)
        .says("the answer has no day whose hours are known");
    // -1.5 to 4.5 °C.
    with(warmth(-15.0, 45.0))
        .asked(1, 1)
        .says("had 10 to 20 °C and now -15 to 45 °C, as if in another unit or place");
}

#[test]
fn thousands() {
    with(warmth(10_000.0, 20_000.0))
        .asked(1, 1)
        .says("the answer has no day whose hours are known");
    // Three hours of each day since the 16th: these days are not taken for whole ones.
    let since = moment("2024-07-16T10:00:00Z");
    let wild = move |at: DateTime<Utc>| (10..13).contains(&at.hour()) && at >= since;
    with(move |at| warmth(10.0, 20.0)(at).map(|t| if wild(at) { 2273.0 } else { t }))
        .asked(1, 1)
        .answers()
        .says("2273 °C at 2024-07-16T10:00 cannot be; counted as unknown, the rest is used");
}

#[test]
fn a_cell_in_the_ocean() {
    // With the sign of the longitude wrong, some cell answers, with temperatures or without.
    useless(
        |document| document["longitude"] = value!(-4.4),
        "it is for latitude 50.8, longitude -4.4, far from the site at 50.8, 4.4",
    );
    useless(
        |document| {
            document["longitude"] = value!(-4.4);
            document["timezone"] = value!("Etc/GMT+1");
            document["hourly"]["temperature_2m"] = value!(vec![Value::Null; 240]);
        },
        "it is for latitude 50.8, longitude -4.4, far from the site at 50.8, 4.4",
    );
}

#[test]
fn a_document_of_last_week() {
    // What it foretold for yesterday would pass for what came to pass.
    Failure::of(|now| {
        let old = open_meteo(now - Days::new(3), warmth(12.0, 25.0));
        json(200, old.to_string())
    })
    .asked(1, 1)
    .says("it was made for another day");
}

#[test]
fn a_forecast_that_was_made_days_ago() {
    Failure::of(|now| {
        let mut old = forecast(now, now - TimeDelta::hours(25));
        // It would be noticed.
        for step in old["properties"]["timeseries"].as_array_mut().unwrap() {
            step["data"]["instant"]["details"]["air_temperature"] = value!(15.0);
        }
        json(200, old.to_string())
    })
    .of_met_norway()
    .asked(1, 1)
    .says("more than a day ago");
}

#[test]
fn the_page_of_a_guest_network() {
    let page = "<html><body>Welcome to our guest network</body></html>";
    Failure::of(move |_| html(200, page)).says("Welcome to our guest network");
    // Some call it JSON.
    Failure::of(move |_| json(200, page)).says("Welcome to our guest network");
}

#[test]
fn blanks_that_unfold_without_end() {
    let bomb = include_bytes!("../../data/weather/blanks.json.gz");
    let headers = [
        ("content-type", "application/json"),
        ("content-encoding", "gzip"),
    ];
    Failure::of(move |_| say(200, &headers, bomb))
        .asked(1, 1)
        .says("answered with more than 2097152 bytes");
}

#[test]
fn blanks_without_end() {
    Failure::of(|_| Reply::Endless)
        .asked(1, 1)
        .says("answered with more than 2097152 bytes");
}

/// The same document with the keys of every object in reverse.
fn reversed(document: &Value) -> Value {
    match document {
        Value::Object(object) => {
            let reversed = object.iter().rev();
            Value::Object(
                reversed
                    .map(|(k, v)| (k.clone(), self::reversed(v)))
                    .collect(),
            )
        }
        other => other.clone(),
    }
}

#[test]
fn the_order_of_keys_says_nothing() {
    let now = moment("2024-07-17T04:10:00Z");
    let server = Scripted::start();
    let document = open_meteo(now, warmth(10.0, 20.0));
    let text = reversed(&document).to_string();
    assert!(
        text.find("\"hourly\"") < text.find("\"latitude\""),
        "it is reversed"
    );
    server.says(json(200, text));
    let (nursery, log) = (
        Nursery::bare().with("batches.csv", super::BATCHES),
        Log::default(),
    );
    let source = format!(
        "source = \"open-meteo\"\nurl = \"{}/v1\"\npast_days = 5",
        server.url()
    );
    let house = house(&nursery, &site("home", &[&source]), now, QUICK);
    run(&house, &log);
    assert_eq!(log.take(), [""; 0]);
    let series = series(&house);
    let day = series.day(super::date("2024-07-16")).unwrap();
    assert_eq!(
        (day.min, day.max, day.origin),
        (10.0, 20.0, Origin::Modelled)
    );
}
