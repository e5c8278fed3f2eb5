//! Bright Sky over HTTP: what was measured and what is foretold, and every way in which an answer can be of no use.

use crate::weather_documents::bright_sky as document;
use crate::weather_server::{WeatherServer, asked};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::{Asia, Australia, Europe, Tz};
use graftwarden::days::{Origin, RawDay};
use graftwarden::nursery::Site;
use graftwarden::weather::bright_sky::{BrightSky, Settings};
use graftwarden::weather::http::Patience;
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
/// 07:40 in Berlin.
const NOW: &str = "2026-10-26T06:40:00Z";
const FIXTURE: &str = include_str!("../data/weather/bright-sky.json");

fn site(zone: Tz) -> Site {
    Site {
        id: "hill".into(),
        latitude: 49.88,
        longitude: 10.918_76,
        elevation: Some(243.0),
        zone,
        standard_day: None,
    }
}

fn settings(url: &str) -> Settings {
    Settings {
        url: Some(url.into()),
        past_days: 10,
        forecast_days: 3,
        contact: "office@alderfold.example".into(),
    }
}

fn source(url: &str, zone: Tz) -> BrightSky {
    BrightSky::new(&site(zone), settings(url), QUICK).unwrap()
}

fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn ask(now: &str, from: &str) -> Ask {
    Ask {
        now: moment(now),
        from: day(from),
        memo: None,
    }
}

fn json(status: u16, body: &str) -> ResponseTemplate {
    ResponseTemplate::new(status).set_body_raw(body, "application/json")
}

/// What a server that says this to every request is worth to a site in Germany, and how often it is asked.
async fn heard(response: ResponseTemplate) -> (Fetched, usize) {
    let server = WeatherServer::saying(response).await;
    let source = source(&server.url(), Europe::Berlin);
    let found = source.fetch(ask(NOW, "2026-10-24")).await;
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
    assert!(problem.starts_with("site hill, bright-sky"), "{problem}");
    let kept = "the days already known stay in use";
    assert!(problem.contains(kept), "{problem}");
}

#[tokio::test]
async fn measured_and_foretold_hours_become_days() {
    let (found, requests) = heard(json(200, FIXTURE)).await;
    assert_eq!(requests, 1);
    assert_eq!(found.problems, []);
    assert!(found.answered);
    let row = |date, min, max, gust, rain, origin| RawDay {
        date: day(date),
        min,
        max,
        gust: Some(gust),
        rain: Some(rain),
        origin,
    };
    // Read off the file by eye.
    assert_eq!(
        found.days,
        [
            // Coldest at 06:00, warmest at 14:00; 41 km/h in the hour before 15:00; 0.4 and 1.1 mm before 13 and 14.
            row("2026-10-24", 6.4, 14.3, 41.0, 1.5, Origin::Measured),
            // 25 hours, of which that of 05:00 is unknown.
            row("2026-10-25", 5.4, 14.2, 13.0, 0.0, Origin::Measured),
            // Measured until 06:00, its coldest; foretold from then on.
            row("2026-10-26", 5.8, 13.0, 13.0, 0.0, Origin::Forecast),
            // Of the 27th there is only midnight.
        ]
    );
}

#[tokio::test]
async fn whole_dates_are_asked_for() {
    let server = WeatherServer::saying(json(200, FIXTURE)).await;
    let source = source(&server.url(), Europe::Berlin);
    for from in ["2026-10-24", "2026-03-01", "2026-11-01"] {
        source.fetch(ask(NOW, from)).await;
    }
    let requests = server.requests().await;
    let request = &requests[0];
    for (name, value) in [
        ("lat", "49.8800"),
        ("lon", "10.9188"),
        ("date", "2026-10-24"),
        ("last_date", "2026-10-29"),
        ("tz", "Europe/Berlin"),
        ("max_dist", "50000"),
        ("units", "dwd"),
    ] {
        assert_eq!(asked(request, name), value, "{name}");
    }
    assert!(request.url.query().unwrap().contains("tz=Europe%2FBerlin"));
    let agent = request.headers["user-agent"].to_str().unwrap();
    assert!(agent.ends_with(" (office@alderfold.example)"), "{agent}");
    // Never more than ten days back, never from tomorrow on.
    assert_eq!(asked(&requests[1], "date"), "2026-10-16");
    assert_eq!(asked(&requests[2], "date"), "2026-10-26");
}

/// The days of a document for a site in this zone.
async fn found_in(zone: Tz, now: &str, sent: &Value) -> Fetched {
    let server = WeatherServer::saying(json(200, &sent.to_string())).await;
    let now = moment(now);
    let from = now.date_naive() - TimeDelta::days(9);
    let memo = None;
    source(&server.url(), zone)
        .fetch(Ask { now, from, memo })
        .await
}

fn near(
    zone: Tz,
    (from, to): (&str, &str),
    hour: impl Fn(DateTime<Utc>) -> (Option<f64>, &'static str),
) -> Value {
    document((49.88, 10.92), zone, (day(from), day(to)), hour)
}

fn origins(found: &Fetched) -> Vec<(String, &'static str)> {
    let days = found.days.iter();
    days.map(|d| (d.date.to_string(), d.origin.name()))
        .collect()
}

#[tokio::test]
async fn a_day_is_measured_when_it_is_over_and_every_hour_of_it_was() {
    let now = "2026-07-04T22:30:00Z";
    let foretold = moment("2026-07-02T15:00:00Z");
    for kind in ["historical", "current", "synop"] {
        let sent = near(Tz::UTC, ("2026-07-01", "2026-07-06"), |at| {
            // Yesterday evening's hours have not come in yet; today's have, all but the last.
            let late = at >= moment("2026-07-03T22:00:00Z") && at < moment("2026-07-04T00:00:00Z");
            let foretold = at == foretold || late || at > moment("2026-07-04T22:00:00Z");
            (Some(9.0), if foretold { "forecast" } else { kind })
        });
        let found = found_in(Tz::UTC, now, &sent).await;
        assert_eq!(found.problems, []);
        let expected = [
            ("2026-07-01", "measured"),
            // One hour of it was foretold and never measured.
            ("2026-07-02", "forecast"),
            ("2026-07-03", "forecast"),
            ("2026-07-04", "forecast"),
            ("2026-07-05", "forecast"),
        ];
        assert_eq!(
            origins(&found),
            expected.map(|(date, origin)| (date.into(), origin))
        );
    }
    // Even a today of which 23 hours were measured is not over.
    let sent = near(Tz::UTC, ("2026-07-04", "2026-07-05"), |at| {
        (
            at.le(&moment("2026-07-04T22:00:00Z")).then_some(9.0),
            "synop",
        )
    });
    let found = found_in(Tz::UTC, now, &sent).await;
    assert_eq!(origins(&found), [("2026-07-04".into(), "forecast")]);
}

/// The 23, 24 or 25 hours of a date: 30 °C at its first and -5 °C at its last, with traps just outside.
async fn whole_date(zone: Tz, date: &str, first: &str, last: &str) {
    let (first, last) = (moment(first), moment(last));
    let hour = TimeDelta::hours(1);
    let (before, after) = (
        day(date) - TimeDelta::days(1),
        day(date) + TimeDelta::days(1),
    );
    let sent = near(zone, (&before.to_string(), &after.to_string()), |at| {
        let temperature = if at == first {
            30.0
        } else if at == last {
            -5.0
        } else if at == first - hour {
            -10.0
        } else if at == last + hour {
            40.0
        } else {
            10.0
        };
        (Some(temperature), "historical")
    });
    let now = (last + hour * 20).to_rfc3339();
    let found = found_in(zone, &now, &sent).await;
    assert_eq!(found.problems, []);
    let found: Vec<_> = found
        .days
        .iter()
        .map(|d| (d.date, d.min, d.max, d.origin))
        .collect();
    let measured = Origin::Measured;
    let expected = [
        (before, -10.0, 10.0, measured),
        (day(date), -5.0, 30.0, measured),
    ];
    assert_eq!(found, expected, "{date} in {zone}");
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
}

#[tokio::test]
async fn unknown_hours_are_unknown_and_a_gap_is_told() {
    let unknown = [
        "2026-07-01T03:00:00Z",
        "2026-07-02T03:00:00Z",
        "2026-07-02T15:00:00Z",
    ]
    .map(moment);
    // The last date ends at 19:00.
    let end = moment("2026-07-05T19:00:00Z");
    let sent = near(Tz::UTC, ("2026-07-01", "2026-07-06"), |at| {
        let known = !unknown.contains(&at) && at < end;
        (known.then_some(11.0), "synop")
    });
    let found = found_in(Tz::UTC, "2026-07-04T06:00:00Z", &sent).await;
    let dates: Vec<_> = found.days.iter().map(|d| d.date.to_string()).collect();
    assert_eq!(dates, ["2026-07-01", "2026-07-03", "2026-07-04"]);
    let told: Vec<_> = found.problems.iter().map(|p| p.what.as_str()).collect();
    assert_eq!(told, ["hours without a temperature on 2026-07-02"]);
    assert!(found.answered && found.passing);
    let nulls = near(Tz::UTC, ("2026-07-01", "2026-07-06"), |_| (None, "synop"));
    let found = found_in(Tz::UTC, "2026-07-04T06:00:00Z", &nulls).await;
    useless(&found, "the answer has no day whose hours are known");
}

#[tokio::test]
async fn an_answer_without_hours_is_no_answer() {
    let nothing = include_str!("../data/weather/bright-sky-nothing.json");
    let (found, requests) = heard(json(200, nothing)).await;
    useless(
        &found,
        "it has no hours: its stations have nothing for these days",
    );
    assert!(found.passing);
    assert_eq!(requests, 1);
}

#[tokio::test]
async fn no_station_near_is_told_with_what_to_do() {
    let none = include_str!("../data/weather/bright-sky-none-near.json");
    let (found, requests) = heard(json(404, none)).await;
    useless(&found, "answered 404: No sources match your criteria");
    useless(&found, "There is no station or forecast point within 50 km");
    useless(&found, "east is positive, west negative");
    assert!(!found.passing);
    assert_eq!(requests, 1);
}

#[tokio::test]
async fn complaints_are_read_out_one_or_many() {
    let many = include_str!("../data/weather/bright-sky-complaints.json");
    for status in [400, 422] {
        let (found, requests) = heard(json(status, many)).await;
        useless(
            &found,
            &format!(
                "answered {status}: lat: Input should be greater than or equal to -90; date: Input should be a valid date;"
            ),
        );
        useless(&found, "Look at the site's latitude, longitude and zone");
        assert!(!found.passing);
        assert_eq!(requests, 1);
    }
    let (found, _) = heard(json(400, r#"{"detail":"Unknown time zone"}"#)).await;
    useless(&found, "answered 400: Unknown time zone;");
}

#[tokio::test]
async fn shut_out_or_throttled_it_does_not_ask_on() {
    let (found, requests) = heard(json(403, "{}")).await;
    useless(&found, "answered 403: {}");
    assert_eq!((requests, found.passing), (1, false));
    assert_eq!(found.not_before, Some(moment("2026-10-27T06:40:00Z")));
    let (found, requests) = heard(json(429, r#"{"detail":"slow down"}"#)).await;
    useless(&found, "answered 429: slow down");
    assert_eq!((requests, found.passing), (1, true));
    assert_eq!(found.not_before, Some(moment("2026-10-26T07:40:00Z")));
}

#[tokio::test]
async fn what_lasts_is_given_up_after_a_few_tries() {
    let page = include_str!("../data/weather/bad-gateway.html");
    let html = |status| ResponseTemplate::new(status).set_body_raw(page, "text/html");
    let half = json(200, &FIXTURE[..9000]);
    for (response, told) in [
        (
            html(502),
            "answered 502: <html> <head><title>502 Bad Gateway",
        ),
        (html(200), "its content type is not JSON"),
        (half.clone(), "EOF while parsing"),
    ] {
        let (found, requests) = heard(response).await;
        useless(&found, told);
        assert_eq!((requests, found.passing), (3, true));
        assert_eq!(found.not_before, None);
    }
    for first in [html(502), half] {
        let server = WeatherServer::saying(json(200, FIXTURE))
            .await
            .first(first)
            .await;
        let source = source(&server.url(), Europe::Berlin);
        let found = source.fetch(ask(NOW, "2026-10-24")).await;
        assert_eq!((found.days.len(), found.problems.len()), (3, 0));
    }
}

#[tokio::test]
async fn an_answer_that_was_not_asked_for_is_not_used() {
    for (from, to, told) in [
        (
            r#""lon":10.92"#,
            r#""lon":-10.92"#,
            "it is from a station at latitude 49.88, longitude -10.92, far from the site",
        ),
        (
            "2026-10-25T02:00:00+01:00",
            "2026-10-25T02:00:00+02:00",
            "its hours are not in order before 2026-10-25T02:00:00+02:00",
        ),
        (
            "2026-10-25T02:00:00+01:00",
            "2026-10-25T02:00:00",
            "'2026-10-25T02:00:00' is not an hour like",
        ),
        (
            "2026-10-25T02:00:00+01:00",
            "2026-10-25T02:10:00+01:00",
            "'2026-10-25T02:10:00+01:00' is not an hour like",
        ),
    ] {
        assert!(FIXTURE.contains(from), "{from}");
        let (found, requests) = heard(json(200, &FIXTURE.replacen(from, to, 1))).await;
        useless(&found, told);
        useless(&found, "/v1/forecast)");
        assert_eq!(requests, 1);
    }
    for (from, told) in [
        ("weather\":[", "missing field `weather`"),
        ("sources\":[", "missing field `sources`"),
        ("timestamp", "missing field `timestamp`"),
    ] {
        let (found, _) = heard(json(200, &FIXTURE.replacen(from, &format!("x{from}"), 1))).await;
        useless(&found, told);
    }
}

#[tokio::test]
async fn kelvin_is_no_weather() {
    let sent = near(Tz::UTC, ("2026-07-01", "2026-07-03"), |_| {
        (Some(287.15), "synop")
    });
    let found = found_in(Tz::UTC, "2026-07-02T06:00:00Z", &sent).await;
    useless(&found, "the answer has no day whose hours are known");
    // One such value among others is told and left out.
    let wild = FIXTURE.replacen(r#""temperature":14.3"#, r#""temperature":1430"#, 1);
    let (found, _) = heard(json(200, &wild)).await;
    let told: Vec<_> = found.problems.iter().map(|p| p.what.as_str()).collect();
    assert_eq!(told, ["1430 °C at 2026-10-24T14:00:00+02:00 cannot be"]);
    // 14.1 at 13:00 is the next warmest.
    assert_eq!((found.days[0].min, found.days[0].max), (6.4, 14.1));
}

#[tokio::test]
async fn what_cannot_be_asked_is_said_at_the_start() {
    #[track_caller]
    fn told(change: fn(&mut Settings), text: &str) {
        let mut settings = settings("https://weather.example/v1");
        change(&mut settings);
        let made = BrightSky::new(&site(Tz::UTC), settings, QUICK);
        assert_eq!(made.unwrap_err().to_string(), text);
    }
    told(
        |s| s.url = Some("weather".into()),
        "site hill, bright-sky: its url is not a web address; this source is not used. Write it like \
         https://api.brightsky.dev/weather.",
    );
    told(
        |s| s.past_days = 93,
        "site hill, bright-sky: past_days = 93 is more or less than can be asked for; this source is not used. Write 0 \
         to 92.",
    );
    told(
        |s| s.forecast_days = 0,
        "site hill, bright-sky: forecast_days = 0 is more or less than can be asked for; this source is not used. Write 1 \
         to 10.",
    );
}

#[test]
fn letters_and_check_say_whose_data_these_are_and_for_what() {
    let usual = Settings {
        url: None,
        ..settings("")
    };
    let source = BrightSky::new(&site(Tz::UTC), usual, QUICK).unwrap();
    assert_eq!(source.host().as_deref(), Some("api.brightsky.dev:443"));
    assert_eq!(source.name(), "bright-sky");
    assert_eq!(
        source.attribution(),
        "Datenbasis: Deutscher Wetterdienst, Einzelwerte gemittelt."
    );
    assert!(source.terms().contains("free for all purposes"));
}
