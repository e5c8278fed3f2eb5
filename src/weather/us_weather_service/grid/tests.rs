use super::*;
use chrono_tz::{America, Pacific};
use serde_json::{Value as Json, json};

const NOW: &str = "2026-11-20T17:00:00Z";

fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

/// The forecast of the cell with parts of it replaced, updated an hour before it is asked for.
fn cell(now: &str, maxima: &Json, minima: &Json) -> Json {
    let updated = moment(now) - TimeDelta::hours(1);
    json!({"properties": {"updateTime": updated.to_rfc3339(),
        "maxTemperature": {"uom": "wmoUnit:degC", "values": maxima},
        "minTemperature": {"uom": "wmoUnit:degC", "values": minima}}})
}

fn span(time: &str, value: impl Into<Json>) -> Json {
    json!({"validTime": time, "value": value.into()})
}

fn days(cell: Json, zone: Tz, now: &str) -> Result<(Vec<RawDay>, Vec<Bad>), Bad> {
    let answer: GridAnswer = serde_json::from_value(cell).unwrap();
    answer.days(zone, moment(now))
}

/// Days as `date minimum maximum`, and what was not used.
#[track_caller]
fn check(cell: Json, zone: Tz, now: &str, expected: &[&str], unused: &[&str]) {
    let (days, bad) = days(cell, zone, now).unwrap();
    let got: Vec<_> = days
        .iter()
        .map(|d| format!("{} {} {}", d.date, d.min, d.max))
        .collect();
    assert_eq!(got, expected);
    let bad: Vec<_> = bad.into_iter().map(|bad| bad.what).collect();
    assert_eq!(bad, unused);
}

#[test]
fn a_daytime_belongs_to_its_start_and_a_night_to_its_end() {
    // In the east the daytime lasts until 20:00 and the night from 19:00 to 9:00.
    check(
        cell(
            NOW,
            &json!([span("2026-11-21T12:00:00+00:00/PT13H", 14.5)]),
            &json!([span("2026-11-21T00:00:00+00:00/PT14H", 3.5)]),
        ),
        America::New_York,
        NOW,
        &["2026-11-21 3.5 14.5"],
        &[],
    );
    // In Anchorage 7:00 to 22:00, and 17:00 of the day before to 11:00.
    check(
        cell(
            NOW,
            &json!([span("2026-11-21T16:00:00+00:00/PT15H", -1.5)]),
            &json!([span("2026-11-21T02:00:00+00:00/PT18H", -9)]),
        ),
        America::Anchorage,
        NOW,
        &["2026-11-21 -9 -1.5"],
        &[],
    );
    // On Guam the 22nd begins on the 21st at 14:00 UTC: 7:00 to 20:00, and 19:00 to 9:00.
    check(
        cell(
            NOW,
            &json!([span("2026-11-21T21:00:00+00:00/PT13H", 30)]),
            &json!([span("2026-11-21T09:00:00+00:00/PT14H", 24.5)]),
        ),
        Pacific::Guam,
        NOW,
        &["2026-11-22 24.5 30"],
        &[],
    );
}

#[test]
fn the_other_forms_of_an_interval_do_too() {
    check(
        cell(
            NOW,
            &json!([span(
                "2026-11-21T12:00:00+00:00/2026-11-22T01:00:00+00:00",
                14.5
            )]),
            &json!([span("PT14H/2026-11-21T14:00:00+00:00", 3.5)]),
        ),
        America::New_York,
        NOW,
        &["2026-11-21 3.5 14.5"],
        &[],
    );
}

#[test]
fn what_was_cut_at_the_edge_is_not_used() {
    // The first maximum lacks the morning, the last minimum the dawn; 12 hours and more may be cut as well.
    check(
        cell(
            NOW,
            &json!([
                span("2026-11-20T13:00:00+00:00/PT12H", 12),
                span("2026-11-21T12:00:00+00:00/PT13H", 14.5),
                span("2026-11-22T12:00:00+00:00/PT13H", 15.5),
            ]),
            &json!([
                span("2026-11-20T00:00:00+00:00/PT14H", 5),
                span("2026-11-21T00:00:00+00:00/PT14H", 3.5),
                span("2026-11-22T00:00:00+00:00/PT6H", 7.5),
            ]),
        ),
        America::New_York,
        NOW,
        &["2026-11-21 3.5 14.5"],
        &[],
    );
    // A lone one that is too short for a daytime.
    check(
        cell(
            NOW,
            &json!([span("2026-11-20T15:00:00+00:00/PT10H", 12)]),
            &json!([span("2026-11-20T00:00:00+00:00/PT14H", 5)]),
        ),
        America::New_York,
        NOW,
        &[],
        &[],
    );
}

#[test]
fn odd_values_and_intervals_are_not_used_and_said() {
    check(
        cell(
            NOW,
            &json!([
                span("2026-11-21T12:00:00+00:00/PT72H", 14.5),
                span("2026-11-24T12:00:00+00:00/PT13H", 2222.0),
                span("2026-11-25T12:00:00+00:00/PT13H", null()),
                span("soon", 10),
                span("later", 10),
                span("2026-11-26T12:00:00+00:00/PT13H", 11),
            ]),
            &json!([
                span("2026-11-21T00:00:00+00:00/PT14H", 1),
                span("2026-11-24T00:00:00+00:00/PT14H", 2),
                span("2026-11-25T00:00:00+00:00/PT14H", 3),
                span("2026-11-26T00:00:00+00:00/PT14H", 4),
            ]),
        ),
        America::New_York,
        NOW,
        &["2026-11-26 4 11"],
        &[
            "maxTemperature has the interval 'soon': it has no '/' between its two parts, and 1 more like it",
            "maxTemperature of 2222 °C from 2026-11-24 12:00 GMT on cannot be",
            "maxTemperature from 2026-11-21 12:00 GMT on is for 72 hours at once",
        ],
    );
}

fn null() -> Json {
    Json::Null
}

fn plain() -> Json {
    cell(
        NOW,
        &json!([span("2026-11-21T12:00:00+00:00/PT13H", 50)]),
        &json!([span("2026-11-21T00:00:00+00:00/PT14H", 41)]),
    )
}

#[test]
fn fahrenheit_is_converted_and_other_units_are_refused() {
    let mut cell = plain();
    cell["properties"]["maxTemperature"]["uom"] = "unit:degF".into();
    cell["properties"]["minTemperature"]["uom"] = "wmoUnit:degF".into();
    // 50 °F are 10 °C, 41 °F are 5 °C.
    check(
        cell.clone(),
        America::New_York,
        NOW,
        &["2026-11-21 5 10"],
        &[],
    );
    cell["properties"]["minTemperature"]["uom"] = "wmoUnit:K".into();
    let refused = days(cell, America::New_York, NOW).unwrap_err();
    assert_eq!(refused.what, "minTemperature is in 'K' and not in degC");
}

#[test]
fn a_document_that_is_not_whole_or_not_of_today_is_refused() {
    let without = |name: &str| {
        let mut cell = plain();
        cell["properties"].as_object_mut().unwrap().remove(name);
        days(cell, America::New_York, NOW).unwrap_err().what
    };
    assert_eq!(without("maxTemperature"), "it has no maxTemperature");
    assert_eq!(without("minTemperature"), "it has no minTemperature");
    assert_eq!(without("updateTime"), "it does not say when it was updated");
    let updated = |at: &str| {
        let mut cell = plain();
        cell["properties"]["updateTime"] = at.into();
        days(cell, America::New_York, NOW)
    };
    assert_eq!(
        updated("2026-11-19T16:59:00+00:00").unwrap_err(),
        Bad {
            kind: "stale",
            what: "it was updated at 2026-11-19 16:59 GMT, more than 24 hours from now".into()
        }
    );
    assert_eq!(
        updated("2026-11-21T17:01:00+00:00").unwrap_err().kind,
        "stale"
    );
    assert!(updated("2026-11-19T17:00:00+00:00").is_ok());
}

/// Gust and rain of the only day, with these layers.
fn gust_and_rain(
    (date, zone): (&str, Tz),
    gusts: (&str, &Json),
    rains: (&str, &Json),
) -> (Option<f64>, Option<f64>, Vec<String>) {
    let start = moment(&format!("{date}T12:00:00Z"));
    let maxima = span(&format!("{}/PT13H", start.to_rfc3339()), 14.5);
    let minima = span(&format!("PT14H/{}", start.to_rfc3339()), 3.5);
    let now = start - TimeDelta::days(1);
    let mut cell = cell(&now.to_rfc3339(), &json!([maxima]), &json!([minima]));
    cell["properties"]["windGust"] = json!({"uom": gusts.0, "values": gusts.1});
    cell["properties"]["quantitativePrecipitation"] = json!({"uom": rains.0, "values": rains.1});
    let (days, bad) = days(cell, zone, &now.to_rfc3339()).unwrap();
    assert_eq!(days.len(), 1);
    assert_eq!(days[0].date.to_string(), date);
    let bad = bad.into_iter().map(|bad| bad.what).collect();
    (days[0].gust, days[0].rain, bad)
}

const WINTER: (&str, Tz) = ("2026-11-21", America::New_York);

#[test]
fn gusts_are_the_strongest_and_rain_is_shared_by_the_hour() {
    // The date is 05:00 to 05:00 UTC. Of 6 mm in 6 hours one hour counts, of 9 mm in 18 hours 17 do.
    let gusts = json!([
        span("2026-11-20T15:00:00+00:00/PT14H", 90),
        span("2026-11-21T05:00:00+00:00/PT12H", 30),
        span("2026-11-21T17:00:00+00:00/PT11H", 55.5),
        span("2026-11-22T05:00:00+00:00/P1D", 80),
    ]);
    let rains = json!([
        span("2026-11-21T00:00:00+00:00/PT6H", 6),
        span("2026-11-21T06:00:00+00:00/PT6H", 0),
        span("2026-11-21T12:00:00+00:00/PT18H", 9),
    ]);
    let (gust, rain, bad) =
        gust_and_rain(WINTER, ("wmoUnit:km_h-1", &gusts), ("wmoUnit:mm", &rains));
    assert_eq!((gust, rain), (Some(55.5), Some(9.5)));
    assert_eq!(bad, [""; 0]);
}

#[test]
fn half_a_date_of_gusts_and_rain_is_unknown() {
    let half = json!([
        span("2026-11-21T05:00:00+00:00/PT20H", 30),
        span("2026-11-22T01:00:00+00:00/PT12H", null()),
    ]);
    let (gust, rain, bad) = gust_and_rain(WINTER, ("wmoUnit:km_h-1", &half), ("wmoUnit:mm", &half));
    assert_eq!((gust, rain), (None, None));
    assert_eq!(bad, [""; 0]);
}

#[test]
fn overlapping_and_impossible_amounts_do_not_count() {
    let rains = json!([
        span("2026-11-21T05:00:00+00:00/PT12H", 6),
        span("2026-11-21T11:00:00+00:00/PT6H", 6),
        span("2026-11-21T17:00:00+00:00/PT12H", 1),
    ]);
    let gusts = json!([span("2026-11-21T00:00:00+00:00/P2D", 4000)]);
    let (gust, rain, _) = gust_and_rain(WINTER, ("wmoUnit:km_h-1", &gusts), ("wmoUnit:mm", &rains));
    assert_eq!((gust, rain), (None, Some(7.0)));
}

#[test]
fn gusts_and_rain_in_other_units_are_converted_or_unknown() {
    let all_day = |value: f64| json!([span("2026-11-21T00:00:00+00:00/P2D", value)]);
    let (gust, rain, bad) = gust_and_rain(
        WINTER,
        ("wmoUnit:m_s-1", &all_day(10.0)),
        ("wmoUnit:inch", &all_day(1.0)),
    );
    // 10 m/s are 36 km/h.
    assert_eq!((gust, rain), (Some(36.0), None));
    assert_eq!(
        bad,
        ["quantitativePrecipitation is in the unexpected unit 'inch'"]
    );
}

#[test]
fn dates_have_their_own_length_when_the_clocks_change() {
    // 25 hours from 04:00 to 05:00 UTC, of which 24 are given: a millimetre an hour.
    let rains = json!([
        span("2026-11-01T05:00:00+00:00/P1D", 24),
        span("2026-11-02T05:00:00+00:00/P1D", 48),
    ]);
    let autumn = ("2026-11-01", America::New_York);
    let (_, rain, _) = gust_and_rain(
        autumn,
        ("wmoUnit:km_h-1", &json!([])),
        ("wmoUnit:mm", &rains),
    );
    assert_eq!(rain, Some(24.0));
    let late = json!([span("2026-11-01T06:00:00+00:00/PT23H", 23)]);
    let (_, rain, _) = gust_and_rain(
        autumn,
        ("wmoUnit:km_h-1", &json!([])),
        ("wmoUnit:mm", &late),
    );
    assert_eq!(rain, None);
    // 23 hours from 05:00 to 04:00 UTC.
    let rains = json!([span("2026-03-08T05:00:00+00:00/PT48H", 48)]);
    let spring = ("2026-03-08", America::New_York);
    let (_, rain, _) = gust_and_rain(
        spring,
        ("wmoUnit:km_h-1", &json!([])),
        ("wmoUnit:mm", &rains),
    );
    assert_eq!(rain, Some(23.0));
}
