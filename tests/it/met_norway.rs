//! MET Norway over HTTP: days in the site's own zone. Its manners and its troubles have files of their own.

mod manners;
mod trouble;

use crate::weather_documents::met_norway as document;
use crate::weather_server::{WeatherServer, asked};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::{Arctic, Asia, Australia, Etc, Europe, Pacific, Tz};
use graftwarden::days::{Origin, RawDay};
use graftwarden::nursery::Site;
use graftwarden::weather::http::Patience;
use graftwarden::weather::met_norway::{MetNorway, Settings};
use graftwarden::weather::{Ask, Fetched, Source};
use serde_json::Value;
use std::time::Duration;
use wiremock::ResponseTemplate;

/// Two retries without a pause.
const QUICK: Patience = Patience {
    connect: Duration::from_millis(200),
    whole: Duration::from_secs(10),
    retries: 2,
    pause: Duration::ZERO,
    longest_pause: Duration::ZERO,
};
const NOW: &str = "2026-04-14T21:20:00Z";
const LAST_MODIFIED: &str = "Tue, 14 Apr 2026 20:43:19 GMT";
const FIXTURE: &str = include_str!("../data/weather/met-norway.json");

fn site(zone: Tz) -> Site {
    Site {
        id: "hill".into(),
        latitude: 59.123_456_7,
        longitude: 9.567_8,
        elevation: Some(124.6),
        zone,
        standard_day: None,
    }
}

fn settings(url: &str) -> Settings {
    Settings {
        url: Some(url.into()),
        contact: "office@alderfold.example".into(),
    }
}

fn source(url: &str, zone: Tz) -> MetNorway {
    MetNorway::new(&site(zone), settings(url), QUICK).unwrap()
}

fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn ask() -> Ask {
    Ask {
        now: moment(NOW),
        from: day("2026-04-01"),
        memo: None,
    }
}

fn json(status: u16, body: &str) -> ResponseTemplate {
    ResponseTemplate::new(status).set_body_raw(body, "application/json")
}

fn html(status: u16, body: &str) -> ResponseTemplate {
    ResponseTemplate::new(status).set_body_raw(body, "text/html")
}

/// What a server that says this to every request is worth to a site near Oslo, and how often it is asked.
async fn heard(response: ResponseTemplate) -> (Fetched, usize) {
    let server = WeatherServer::saying(response).await;
    let found = source(&server.url(), Europe::Oslo).fetch(ask()).await;
    (found, server.requests().await.len())
}

/// Nothing came of it but one problem.
#[track_caller]
fn useless(found: &Fetched, told: &str) {
    assert!(!found.answered);
    assert_eq!(found.days, []);
    assert_eq!(found.problems.len(), 1, "{:?}", found.problems);
    let problem = found.problems[0].to_string();
    assert!(problem.contains(told), "{problem}");
    assert!(problem.starts_with("site hill, met-norway"), "{problem}");
    let kept = "the days already known stay in use";
    assert!(problem.contains(kept), "{problem}");
}

#[tokio::test]
async fn a_forecast_becomes_days() {
    let (found, requests) = heard(json(200, FIXTURE)).await;
    assert_eq!(requests, 1);
    assert_eq!(found.problems, []);
    assert!(found.answered && found.passing);
    let rounded = |day: RawDay| RawDay {
        rain: day.rain.map(|mm| (mm * 10.0).round() / 10.0),
        ..day
    };
    let found: Vec<RawDay> = found.days.into_iter().map(rounded).collect();
    let row = |date, min, max, gust, rain| RawDay {
        date: day(date),
        min,
        max,
        gust,
        rain: Some(rain),
        origin: Origin::Forecast,
    };
    // Oslo is two hours ahead: a date goes from 22:00 to 22:00 UTC. Read off the file by eye.
    assert_eq!(
        found,
        [
            // Hourly throughout. Coldest and warmest instant 2.5 (04:00) and 12.1 (13:00); the six hours around them say
            // 2.4 and 12.2. 10 m/s at 13:00 are 36 km/h. Rain of 0.1 from 9 and 0.1 from 10 o'clock; the sixes repeat it.
            row("2026-04-15", 2.4, 12.2, Some(36.0), 0.2),
            // Hourly until 05:00, the sixes from 22:00 on the 15th say 4.3; then 12.6 from 12:00. The six from 18:00 (5.1
            // to 9.8) has its middle before midnight. Rain 0.4 and 1.2; no gusts after 05:00.
            row("2026-04-16", 4.3, 12.6, None, 1.6),
            // Sixes from 00:00, 06:00, 12:00 and, with its middle, 18:00: 0.6 from 18:00, 9.6 from 12:00.
            row("2026-04-17", 0.6, 9.6, None, 2.8),
            row("2026-04-18", -1.4, 8.2, None, 0.0),
            // Of the 19th there is one six, from 00:00.
        ]
    );
}

#[tokio::test]
async fn a_packed_answer_is_unpacked() {
    let packed = include_bytes!("../data/weather/met-norway.json.gz").as_slice();
    let (found, _) = heard(
        ResponseTemplate::new(200)
            .set_body_raw(packed, "application/json")
            .insert_header("content-encoding", "gzip"),
    )
    .await;
    let warmest: Vec<_> = found.days.iter().map(|d| d.max).collect();
    assert_eq!(warmest, [12.2, 12.6, 9.6, 8.2]);
}

/// The days of a document for a site in this zone, asked for when it was made.
async fn found_in(zone: Tz, sent: &Value) -> Fetched {
    let server = WeatherServer::saying(json(200, &sent.to_string())).await;
    let made = &sent["properties"]["meta"]["updated_at"];
    let now = moment(made.as_str().unwrap()) + TimeDelta::minutes(30);
    let from = now.date_naive() - TimeDelta::days(5);
    let memo = None;
    source(&server.url(), zone)
        .fetch(Ask { now, from, memo })
        .await
}

fn near(
    from: &str,
    steps: (i64, i64),
    temperature: impl Fn(DateTime<Utc>) -> Option<f64>,
) -> Value {
    document((59.1235, 9.5678), moment(from), steps, temperature)
}

/// The 23, 24 or 25 hours of a date: 30 °C at its first and -5 °C at its last, with traps just outside.
async fn whole_date(zone: Tz, date: &str, first: &str, last: &str) {
    let (first, last) = (moment(first), moment(last));
    let hour = TimeDelta::hours(1);
    let sent = near(&(first - hour * 30).to_rfc3339(), (80, 0), |at| {
        Some(if at == first {
            30.0
        } else if at == last {
            -5.0
        } else if at == first - hour {
            -10.0
        } else if at == last + hour {
            40.0
        } else {
            10.0
        })
    });
    let found = found_in(zone, &sent).await;
    assert_eq!(found.problems, []);
    let on = |date: NaiveDate| {
        let day = found.days.iter().find(|d| d.date == date);
        day.map(|d| (d.min, d.max))
    };
    assert_eq!(on(day(date)), Some((-5.0, 30.0)), "{date} in {zone}");
    assert_eq!(on(day(date) - TimeDelta::days(1)), Some((-10.0, 10.0)));
    assert!(found.days.iter().all(|d| d.origin == Origin::Forecast));
}

#[tokio::test]
async fn dates_are_the_sites_own_also_when_the_clocks_change() {
    let (berlin, melbourne) = (Europe::Berlin, Australia::Melbourne);
    whole_date(
        berlin,
        "2026-03-29",
        "2026-03-28T23:00:00Z",
        "2026-03-29T21:00:00Z",
    )
    .await;
    whole_date(
        berlin,
        "2026-10-25",
        "2026-10-24T22:00:00Z",
        "2026-10-25T22:00:00Z",
    )
    .await;
    whole_date(
        melbourne,
        "2026-10-04",
        "2026-10-03T14:00:00Z",
        "2026-10-04T12:00:00Z",
    )
    .await;
    whole_date(
        melbourne,
        "2026-04-05",
        "2026-04-04T13:00:00Z",
        "2026-04-05T13:00:00Z",
    )
    .await;
    // Half an hour off: the hours strike at 00:30 and 23:30.
    whole_date(
        Asia::Kolkata,
        "2026-07-01",
        "2026-06-30T19:00:00Z",
        "2026-07-01T18:00:00Z",
    )
    .await;
    // Its clock goes forward by half an hour: 13:30 to 13:00 UTC.
    whole_date(
        Australia::Lord_Howe,
        "2026-10-04",
        "2026-10-03T14:00:00Z",
        "2026-10-04T12:00:00Z",
    )
    .await;
}

#[tokio::test]
async fn today_is_there_only_when_none_of_it_is_missing() {
    let dates = |found: &Fetched| found.days.iter().map(|d| d.date).collect::<Vec<_>>();
    // In Auckland 1 July begins at 12:00 UTC.
    for (from, first) in [
        ("2026-06-30T11:00:00Z", "2026-07-01"),
        ("2026-06-30T12:00:00Z", "2026-07-01"),
        ("2026-06-30T13:00:00Z", "2026-07-02"),
        ("2026-07-01T11:00:00Z", "2026-07-02"),
    ] {
        let found = found_in(Pacific::Auckland, &near(from, (80, 0), |_| Some(9.0))).await;
        assert_eq!(dates(&found)[0], day(first), "{from}");
        assert_eq!(found.problems, []);
    }
}

#[tokio::test]
async fn holes_make_no_day_and_are_told() {
    let unknown = |from: &str, to: &str| {
        let (from, to) = (moment(from), moment(to));
        move |at| (at < from || at > to).then_some(11.0)
    };
    let dates = |found: &Fetched| {
        found
            .days
            .iter()
            .map(|d| d.date.to_string())
            .collect::<Vec<_>>()
    };
    // Two hourly days, then sixes: to the end of 5 July.
    let steps = (48, 12);
    // The six hours from 03:00 say what was until 09:00.
    let three = unknown("2026-07-02T09:00:00Z", "2026-07-02T11:00:00Z");
    let found = found_in(Tz::UTC, &near("2026-07-01T00:00:00Z", steps, three)).await;
    assert_eq!(dates(&found).len(), 5);
    assert_eq!(found.problems, []);
    for (from, to) in [
        ("2026-07-02T09:00:00Z", "2026-07-02T12:00:00Z"),
        ("2026-07-02T09:00:00Z", "2026-07-02T20:00:00Z"),
    ] {
        let found = found_in(
            Tz::UTC,
            &near("2026-07-01T00:00:00Z", steps, unknown(from, to)),
        )
        .await;
        assert_eq!(
            dates(&found),
            ["2026-07-01", "2026-07-03", "2026-07-04", "2026-07-05"]
        );
        let told: Vec<_> = found.problems.iter().map(|p| p.what.as_str()).collect();
        assert_eq!(told, ["hours without a temperature on 2026-07-02"]);
        assert!(found.answered && found.passing);
    }
    let six = unknown("2026-07-04T12:00:00Z", "2026-07-04T17:00:00Z");
    let found = found_in(Tz::UTC, &near("2026-07-01T00:00:00Z", steps, six)).await;
    assert_eq!(
        dates(&found),
        ["2026-07-01", "2026-07-02", "2026-07-03", "2026-07-05"]
    );
    // A tail without values is the end of the forecast, not a hole in it.
    let tail = unknown("2026-07-04T12:00:00Z", "2026-08-01T00:00:00Z");
    let found = found_in(Tz::UTC, &near("2026-07-01T00:00:00Z", steps, tail)).await;
    assert_eq!(dates(&found), ["2026-07-01", "2026-07-02", "2026-07-03"]);
    assert_eq!(found.problems, []);
    let found = found_in(Tz::UTC, &near("2026-07-01T00:00:00Z", steps, |_| None)).await;
    useless(&found, "no day whose temperatures are known throughout");
    let found = found_in(Tz::UTC, &near("2026-07-01T00:00:00Z", (0, 0), |_| None)).await;
    useless(&found, "no day whose temperatures are known throughout");
}

#[tokio::test]
async fn days_of_use_to_nobody_are_left_out() {
    let server = WeatherServer::saying(json(200, FIXTURE)).await;
    let later = Ask {
        from: day("2026-04-17"),
        ..ask()
    };
    let found = source(&server.url(), Europe::Oslo).fetch(later).await;
    let dates: Vec<_> = found.days.iter().map(|d| d.date).collect();
    assert_eq!(dates, [day("2026-04-17"), day("2026-04-18")]);
    assert_eq!(asked(&server.requests().await[0], "lat"), "59.1235");
}

#[test]
fn letters_and_check_say_whose_data_these_are_and_for_what() {
    let source = source("https://weather.example/v1", Tz::UTC);
    assert_eq!(
        source.attribution(),
        "Based on data from MET Norway (https://api.met.no/), CC BY 4.0."
    );
    for part in ["commercial use too", "no promise", "CC BY 4.0"] {
        assert!(source.terms().contains(part), "{part}");
    }
    assert_eq!(source.name(), "met-norway");
}
