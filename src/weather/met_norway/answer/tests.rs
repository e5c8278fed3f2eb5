//! Which documents are used, and what of them.

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

/// Two steps, with one text of the document replaced by another.
fn steps(from: &str, to: &str) -> Result<(Vec<Step>, Vec<Bad>), Bad> {
    let document = r#"{"type":"Feature","geometry":{"type":"Point","coordinates":[9.5678,59.1234,125]},
        "properties":{"meta":{"updated_at":"2026-07-01T03:30:57Z","units":{"air_temperature":"celsius",
        "air_temperature_max":"celsius","air_temperature_min":"celsius","precipitation_amount":"mm",
        "wind_speed_of_gust":"m/s"}},"timeseries":[
        {"time":"2026-07-01T04:00:00Z","data":{"instant":{"details":{"air_temperature":14,"wind_speed_of_gust":10.0}},
        "next_12_hours":{"details":{}},"next_1_hours":{"details":{"precipitation_amount":0.1}},
        "next_6_hours":{"details":{"air_temperature_max":21.5,"air_temperature_min":13.8,"precipitation_amount":0.4}}}},
        {"time":"2026-07-01T05:00:00Z","data":{"instant":{"details":{"air_temperature":-0}}}}]}}"#;
    assert!(document.contains(from), "{from}");
    let document = document.replacen(from, to, 1);
    let answer: Answer = serde_json::from_str(&document).unwrap();
    answer.steps(
        &site(59.1234, 9.5678),
        "2026-07-02T03:00:00Z".parse().unwrap(),
    )
}

#[track_caller]
fn refused(from: &str, to: &str, what: &str) {
    assert_eq!(steps(from, to).unwrap_err().what, what);
}

#[track_caller]
fn remarked(from: &str, to: &str, what: &str) -> Step {
    let (steps, remarks) = steps(from, to).unwrap();
    let whats: Vec<_> = remarks.iter().map(|bad| bad.what.as_str()).collect();
    assert_eq!(whats, [what]);
    steps[0]
}

#[test]
fn a_right_answer_gives_its_steps() {
    let (steps, remarks) = steps("", "").unwrap();
    assert_eq!(remarks, []);
    assert_eq!(
        steps,
        [
            Step {
                at: "2026-07-01T04:00:00Z".parse().unwrap(),
                temperature: Some(14.0),
                extremes: Some((13.8, 21.5)),
                // 10 m/s are 36 km/h.
                gust: Some(36.0),
                rain_1: Some(0.1),
                rain_6: Some(0.4),
            },
            Step {
                at: "2026-07-01T05:00:00Z".parse().unwrap(),
                temperature: Some(0.0),
                extremes: None,
                gust: None,
                rain_1: None,
                rain_6: None,
            },
        ]
    );
}

#[test]
fn what_was_not_asked_for_is_refused_as_a_whole() {
    refused(
        r#""air_temperature":"celsius""#,
        r#""air_temperature":"fahrenheit""#,
        "air_temperature is in 'fahrenheit' and not in celsius",
    );
    refused(
        r#""air_temperature_max":"celsius","#,
        "",
        "air_temperature_max is in 'nothing' and not in celsius",
    );
    refused(
        r#""air_temperature_min":"celsius""#,
        r#""air_temperature_min":"K""#,
        "air_temperature_min is in 'K' and not in celsius",
    );
    refused(
        "9.5678,59.1234",
        "-9.5678,59.1234",
        "it is for latitude 59.1234, longitude -9.5678, not for the site at 59.1234, 9.5678",
    );
    refused(
        "[9.5678,59.1234,125]",
        "[]",
        "it does not say for which place it is",
    );
    refused(
        "T05:00:00Z",
        "T04:00:00Z",
        "its times are not in order before 2026-07-01T04:00:00Z",
    );
    refused(
        "T05:00:00Z",
        "T05:00",
        "'2026-07-01T05:00' is not a time like 2026-07-01T06:00:00Z",
    );
    for time in [
        "2026-07-01T05:10:00Z",
        "2026-08-01T04:00:00Z",
        "9999-12-31T23:00:00Z",
    ] {
        let what = format!("{time} is not a full hour of these weeks");
        refused("2026-07-01T05:00:00Z", time, &what);
    }
}

#[test]
fn a_document_is_good_for_a_day() {
    assert!(steps("01T03:30:57Z", "01T03:00:00Z").is_ok());
    refused(
        "01T03:30:57Z",
        "01T02:59:59Z",
        "it was made on 2026-07-01T02:59:59Z, more than a day ago",
    );
    refused(
        "\"updated_at\":\"2026-07-01T03:30:57Z\",",
        "",
        "it does not say when it was made",
    );
    refused(
        "2026-07-01T03:30:57Z",
        "today",
        "'today' is not a time like 2026-07-01T06:00:00Z",
    );
}

#[test]
fn values_that_cannot_be_count_as_unknown() {
    let first = remarked(":14,", ":140,", "140 °C at 2026-07-01T04:00:00Z cannot be");
    assert_eq!(
        (first.temperature, first.extremes),
        (None, Some((13.8, 21.5)))
    );
    let first = remarked("13.8", "-138", "-138 °C at 2026-07-01T04:00:00Z cannot be");
    assert_eq!((first.temperature, first.extremes), (Some(14.0), None));
    let first = remarked(
        "13.8",
        "31.8",
        "a minimum of 31.8 °C above the maximum of 21.5 °C after 2026-07-01T04:00:00Z cannot be",
    );
    assert_eq!(first.extremes, None);
    let first = remarked(
        "\"m/s\"",
        "\"knots\"",
        "wind_speed_of_gust is in 'knots' and not in m/s",
    );
    assert_eq!((first.temperature, first.gust), (Some(14.0), None));
    let first = remarked(
        "\"mm\"",
        "\"inch\"",
        "precipitation_amount is in 'inch' and not in mm",
    );
    assert_eq!((first.rain_1, first.rain_6), (None, None));
}

#[test]
fn half_an_extreme_and_negative_rain_are_unknown() {
    let first = |from, to| steps(from, to).unwrap().0[0];
    assert_eq!(first("21.5", "null").extremes, None);
    assert_eq!(first("\"air_temperature_min\":13.8,", "").extremes, None);
    assert_eq!(first("0.1}", "-0.1}").rain_1, None);
    assert_eq!(first("10.0}", "-1}").gust, None);
}

#[test]
fn places_on_the_edges_of_the_map_are_places() {
    let near = |latitude, longitude, coordinates| {
        let geometry = Geometry { coordinates };
        geometry.is_near(&site(latitude, longitude)).is_ok()
    };
    assert!(near(0.0, 0.0, vec![0.0, 0.0, 3.0]));
    assert!(near(-17.0, 180.0, vec![-180.0, -17.0]));
    // All longitudes meet at the pole.
    assert!(near(90.0, 12.0, vec![0.0, 90.0, 3.0]));
    assert!(!near(59.0, 9.0, vec![59.0, 9.0]));
    assert!(!near(0.0, 0.0, vec![3.0]));
}
