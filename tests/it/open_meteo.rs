//! Open-Meteo over HTTP: days in the site's own zone, and every way in which an answer can be of no use.

use crate::weather_server::{WeatherServer, answer, asked};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::{America, Asia, Australia, Europe, Pacific, Tz};
use graftwarden::days::{Origin, RawDay};
use graftwarden::nursery::Site;
use graftwarden::weather::http::Patience;
use graftwarden::weather::open_meteo::{OpenMeteo, Settings};
use graftwarden::weather::{Ask, Fetched, Source};
use std::net::{Ipv4Addr, TcpListener};
use std::time::Duration;
use wiremock::ResponseTemplate;

const KEY: &str = "hazel-4711-rowan";

/// Two retries without a pause.
const QUICK: Patience = Patience {
    connect: Duration::from_millis(200),
    whole: Duration::from_secs(10),
    retries: 2,
    pause: Duration::ZERO,
    longest_pause: Duration::ZERO,
};

fn site(zone: Tz) -> Site {
    Site {
        id: "hill".into(),
        latitude: 51.05,
        longitude: 13.75,
        elevation: Some(118.0),
        zone,
        standard_day: None,
    }
}

fn settings(url: &str) -> Settings {
    Settings {
        url: Some(url.into()),
        archive_url: None,
        key: None,
        past_days: 5,
        forecast_days: 2,
        contact: "office@alderfold.example".into(),
    }
}

fn source(url: &str, zone: Tz, patience: Patience) -> OpenMeteo {
    OpenMeteo::new(&site(zone), &settings(url), patience).unwrap()
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

/// What a server that says this to every request is worth in the summer of 2026, and how often it is asked.
async fn heard(response: ResponseTemplate) -> (Fetched, usize) {
    let server = WeatherServer::saying(response).await;
    let source = source(&server.url(), Tz::UTC, QUICK);
    let found = source
        .fetch(ask("2026-07-03T06:00:00Z", "2026-07-01"))
        .await;
    (found, server.requests().await.len())
}

fn json(status: u16, body: &str) -> ResponseTemplate {
    ResponseTemplate::new(status).set_body_raw(body, "application/json")
}

/// Nothing came of it but one problem.
#[track_caller]
fn useless(found: &Fetched, told: &str) {
    assert!(!found.answered);
    assert_eq!(found.days, []);
    assert_eq!(found.problems.len(), 1, "{:?}", found.problems);
    let problem = found.problems[0].to_string();
    assert!(problem.contains(told), "{problem}");
    assert!(problem.starts_with("site hill, open-meteo"), "{problem}");
    assert!(
        problem.contains("the days already known stay in use"),
        "{problem}"
    );
}

#[tokio::test]
async fn an_answer_becomes_days() {
    let body = include_str!("../data/weather/three-days.json");
    let (found, requests) = heard(json(200, body)).await;
    assert_eq!(requests, 1);
    assert_eq!(found.problems, []);
    assert!(found.answered);
    // Read off the file by eye; the hour that ends at midnight after 3 July is the one that may lack.
    let row = |date, min, max, rain, origin| RawDay {
        date: day(date),
        min,
        max,
        gust: Some(30.5),
        rain: Some(rain),
        origin,
    };
    let rounded: Vec<RawDay> = found
        .days
        .into_iter()
        .map(|d| RawDay {
            rain: d.rain.map(|mm| (mm * 10.0).round() / 10.0),
            ..d
        })
        .collect();
    assert_eq!(
        rounded,
        [
            row("2026-07-01", 0.0, 24.0, 0.0, Origin::Modelled),
            row("2026-07-02", 14.0, 25.0, 1.2, Origin::Modelled),
            row("2026-07-03", 15.0, 26.0, 0.0, Origin::Forecast),
        ]
    );
}

#[tokio::test]
async fn a_packed_answer_is_unpacked_up_to_the_limit() {
    let packed = |body: &[u8]| {
        ResponseTemplate::new(200)
            .set_body_raw(body, "application/json")
            .insert_header("content-encoding", "gzip")
    };
    let (found, _) = heard(packed(include_bytes!("../data/weather/three-days.json.gz"))).await;
    let warmest: Vec<_> = found.days.iter().map(|d| d.max).collect();
    assert_eq!(warmest, [24.0, 25.0, 26.0]);
    let (found, _) = heard(packed(include_bytes!("../data/weather/blanks.json.gz"))).await;
    useless(&found, "answered with more than 2097152 bytes");
}

#[tokio::test]
async fn a_redirect_within_the_host_is_followed() {
    let body = include_str!("../data/weather/three-days.json");
    let moved = ResponseTemplate::new(301).insert_header("location", "/v2/forecast");
    let server = WeatherServer::saying(json(200, body))
        .await
        .first(moved)
        .await;
    let source = source(&server.url(), Tz::UTC, QUICK);
    let found = source
        .fetch(ask("2026-07-03T06:00:00Z", "2026-07-01"))
        .await;
    assert_eq!(found.days.len(), 3);
    assert_eq!(server.requests().await[1].url.path(), "/v2/forecast");
}

/// The 23, 24 or 25 hours of a date: 30 °C at its first and -5 °C at its last, with traps just outside.
async fn whole_date(zone: Tz, date: &str, first: &str, last: &str) {
    let (first, last) = (moment(first), moment(last));
    let hour = TimeDelta::hours(1);
    let temperature = move |at: DateTime<Utc>| {
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
    };
    let now = last + TimeDelta::hours(20);
    let server = WeatherServer::start(now, temperature).await;
    let source = source(&server.url(), zone, QUICK);
    let from = day(date) - TimeDelta::days(2);
    let found = source
        .fetch(Ask {
            now,
            from,
            memo: None,
        })
        .await;
    assert_eq!(found.problems, []);
    let that = found.days.iter().find(|d| d.date == day(date)).unwrap();
    assert_eq!((that.min, that.max), (-5.0, 30.0), "{date} in {zone}");
    assert_eq!(that.origin, Origin::Modelled);
    let before = found
        .days
        .iter()
        .find(|d| d.date == day(date) - TimeDelta::days(1));
    assert_eq!(before.map(|d| (d.min, d.max)), Some((-10.0, 10.0)));
}

#[tokio::test]
async fn dates_are_the_sites_own_also_when_the_clocks_change() {
    whole_date(
        Europe::Berlin,
        "2026-03-29",
        "2026-03-28T23:00:00Z",
        "2026-03-29T21:00:00Z",
    )
    .await;
    whole_date(
        Europe::Berlin,
        "2026-10-25",
        "2026-10-24T22:00:00Z",
        "2026-10-25T22:00:00Z",
    )
    .await;
    whole_date(
        Australia::Melbourne,
        "2026-10-04",
        "2026-10-03T14:00:00Z",
        "2026-10-04T12:00:00Z",
    )
    .await;
    whole_date(
        Australia::Melbourne,
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
async fn a_day_more_is_asked_for_at_each_end_and_only_whole_days_are_kept() {
    let now = "2026-07-01T12:00:00Z";
    let server = WeatherServer::start(moment(now), |_| Some(12.5)).await;
    let source = source(&server.url(), America::New_York, QUICK);
    let found = source.fetch(ask(now, "2026-06-29")).await;
    let got: Vec<_> = found.days.iter().map(|d| (d.date, d.origin)).collect();
    // The hours end at 19:00 local time on 3 July.
    assert_eq!(
        got,
        [
            (day("2026-06-29"), Origin::Modelled),
            (day("2026-06-30"), Origin::Modelled),
            (day("2026-07-01"), Origin::Forecast),
            (day("2026-07-02"), Origin::Forecast),
        ]
    );
    let requests = server.requests().await;
    let request = &requests[0];
    for (name, value) in [
        ("latitude", "51.0500"),
        ("longitude", "13.7500"),
        ("elevation", "118"),
        ("hourly", "temperature_2m,wind_gusts_10m,precipitation"),
        ("timezone", "GMT"),
        ("past_days", "3"),
        ("forecast_days", "3"),
    ] {
        assert_eq!(asked(request, name), value, "{name}");
    }
    let agent = request.headers["user-agent"].to_str().unwrap();
    assert!(agent.starts_with("graftwarden/"), "{agent}");
    assert!(agent.ends_with(" (office@alderfold.example)"), "{agent}");
    assert!(!request.headers.contains_key("x-api-key"));
}

#[tokio::test]
async fn today_is_what_the_sites_calendar_says() {
    let now = "2026-07-01T13:00:00Z";
    let server = WeatherServer::start(moment(now), |_| Some(8.0)).await;
    // It is 2 July there, an hour after midnight.
    let source = source(&server.url(), Pacific::Auckland, QUICK);
    let found = source.fetch(ask(now, "2026-07-01")).await;
    let got: Vec<_> = found.days.iter().map(|d| (d.date, d.origin)).collect();
    assert_eq!(
        got,
        [
            (day("2026-07-01"), Origin::Modelled),
            (day("2026-07-02"), Origin::Forecast),
            (day("2026-07-03"), Origin::Forecast),
        ]
    );
}

#[tokio::test]
async fn unknown_hours_are_unknown_and_a_gap_is_told() {
    let now = "2026-07-04T06:00:00Z";
    let unknown = [
        "2026-07-01T03:00:00Z",
        "2026-07-02T03:00:00Z",
        "2026-07-02T15:00:00Z",
    ]
    .map(moment);
    let temperature = move |at| (!unknown.contains(&at)).then_some(11.0);
    let server = WeatherServer::start(moment(now), temperature).await;
    let source = source(&server.url(), Tz::UTC, QUICK);
    let found = source.fetch(ask(now, "2026-07-01")).await;
    let got: Vec<_> = found.days.iter().map(|d| (d.date, d.min)).collect();
    assert_eq!(
        got,
        [
            "2026-07-01",
            "2026-07-03",
            "2026-07-04",
            "2026-07-05",
            "2026-07-06"
        ]
        .map(|date| (day(date), 11.0))
    );
    assert!(found.answered);
    let told: Vec<_> = found.problems.iter().map(|p| p.what.as_str()).collect();
    assert_eq!(told, ["hours without a temperature on 2026-07-02"]);
}

#[tokio::test]
async fn nothing_but_unknown_hours_is_one_problem() {
    let server = WeatherServer::start(moment("2026-07-03T06:00:00Z"), |_| None).await;
    let source = source(&server.url(), Tz::UTC, QUICK);
    let found = source
        .fetch(ask("2026-07-03T06:00:00Z", "2026-07-01"))
        .await;
    useless(&found, "the answer has no day whose hours are known");
    useless(&found, "east is positive, west negative");
}

#[tokio::test]
async fn what_passes_by_itself_is_asked_again() {
    let many = r#"{"error":true,"reason":"Too many concurrent requests"}"#;
    let half = include_str!("../data/weather/half-an-answer.json");
    for first in [json(429, many), json(503, "{}"), json(200, half)] {
        let now = "2026-07-03T06:00:00Z";
        let server = WeatherServer::start(moment(now), |_| Some(9.0)).await;
        let server = server.first(first).await;
        let source = source(&server.url(), Tz::UTC, QUICK);
        let found = source.fetch(ask(now, "2026-07-01")).await;
        assert_eq!(found.problems, []);
        assert_eq!(found.days.len(), 5);
        assert_eq!(server.requests().await.len(), 2);
    }
}

#[tokio::test]
async fn what_lasts_is_given_up_after_a_few_tries() {
    let page = include_str!("../data/weather/bad-gateway.html");
    let html = |status| ResponseTemplate::new(status).set_body_raw(page, "text/html");
    let shown = "<html> <head><title>502 Bad Gateway</title></head> <body> <center><h1>502 Bad Gateway</h1></center> </body> </html>";
    let (found, requests) = heard(html(500)).await;
    useless(&found, &format!("answered 500: {shown}"));
    assert_eq!(requests, 3);

    let (found, requests) = heard(html(200)).await;
    useless(&found, "its content type is not JSON");
    useless(&found, shown);
    assert_eq!(requests, 3);

    let half = include_str!("../data/weather/half-an-answer.json");
    let (found, requests) = heard(json(200, half)).await;
    useless(
        &found,
        "answered with something else than was asked for (expected value at line 3 column 65)",
    );
    assert_eq!(requests, 3);
}

#[tokio::test]
async fn what_is_refused_is_asked_once() {
    let place = include_str!("../data/weather/bad-place.json");
    let (found, requests) = heard(json(400, place)).await;
    useless(
        &found,
        "answered 400: Latitude must be in range of -90 to 90°. Given: 151.05.",
    );
    assert_eq!(requests, 1);

    let minute = include_str!("../data/weather/allowance-minute.json");
    let (found, requests) = heard(json(429, minute)).await;
    useless(&found, "answered 429: Minutely API request limit exceeded.");
    assert_eq!(
        (requests, found.not_before),
        (1, Some(moment("2026-07-03T06:01:00Z")))
    );

    let spent = include_str!("../data/weather/allowance-day.json");
    let (found, requests) = heard(json(429, spent)).await;
    useless(&found, "answered 429: Daily API request limit exceeded.");
    assert_eq!(
        (requests, found.not_before),
        (1, Some(moment("2026-07-04T01:00:00Z")))
    );

    for status in [401, 403, 404] {
        let (found, requests) = heard(json(status, "{}")).await;
        useless(&found, &format!("answered {status}: {{}}"));
        assert_eq!(requests, 1);
    }

    let (found, _) = heard(json(200, place)).await;
    useless(&found, "it reports an error: Latitude must be in range");
}

#[tokio::test]
async fn an_answer_that_was_not_asked_for_is_not_used() {
    let right = answer((51.05, 13.75), day("2026-07-01"), 4, |_| Some(9.0)).to_string();
    let (found, _) = heard(json(200, &right)).await;
    assert_eq!(found.days.len(), 4);
    for (from, to, told) in [
        ("°C", "°F", "temperature_2m is in '°F' and not in °C"),
        (
            ":13.75",
            ":-13.75",
            "it is for latitude 51.05, longitude -13.75, far from",
        ),
        (
            "[18.0,",
            "[",
            "it has 96 times but 95 values of wind_gusts_10m",
        ),
        (
            "07-02T05:00",
            "07-02T06:00",
            "its times do not follow hour by hour",
        ),
    ] {
        assert!(right.contains(from), "{from}");
        let (found, requests) = heard(json(200, &right.replacen(from, to, 1))).await;
        useless(&found, told);
        useless(&found, "/v1/forecast)");
        assert_eq!(requests, 1);
    }
}

#[tokio::test]
async fn a_body_over_the_limit_is_not_read_to_its_end() {
    let (found, requests) = heard(json(200, &" ".repeat(3 << 20))).await;
    useless(&found, "answered with more than 2097152 bytes");
    assert_eq!(requests, 1);
}

#[tokio::test]
async fn a_server_that_takes_too_long_is_left() {
    let late = json(200, "{}").set_delay(Duration::from_secs(30));
    let server = WeatherServer::saying(late).await;
    let patience = Patience {
        whole: Duration::from_millis(200),
        retries: 1,
        ..QUICK
    };
    let source = source(&server.url(), Tz::UTC, patience);
    let found = source
        .fetch(ask("2026-07-03T06:00:00Z", "2026-07-01"))
        .await;
    useless(&found, "gave no whole answer within 0.2 s");
    assert_eq!(server.requests().await.len(), 2);
}

#[tokio::test]
async fn nobody_listening_is_told_with_the_address() {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let url = format!("http://{}/v1/forecast", listener.local_addr().unwrap());
    drop(listener);
    let found = source(&url, Tz::UTC, QUICK)
        .fetch(ask("2026-07-03T06:00:00Z", "2026-07-01"))
        .await;
    useless(&found, &format!("{url}?latitude=51.0500"));
    useless(&found, "could not be reached: Connection refused");
}

/// The source with a key, at this address.
fn keyed(url: &str) -> Result<OpenMeteo, graftwarden::problem::Problem> {
    let settings = Settings {
        key: Some(KEY.into()),
        ..settings(url)
    };
    OpenMeteo::new(&site(Tz::UTC), &settings, QUICK)
}

#[tokio::test]
async fn the_key_goes_into_a_header_and_into_no_message() {
    let quoting = format!(r#"{{"error":true,"reason":"The key {KEY} is not valid"}}"#);
    let late_in_it = format!("{} {KEY} is not valid", "x".repeat(190));
    let late = ResponseTemplate::new(403).set_body_raw(late_in_it, "text/plain");
    let server = WeatherServer::saying(late).await;
    let found = keyed(&server.url())
        .unwrap()
        .fetch(ask("2026-07-03T06:00:00Z", "2026-07-01"))
        .await;
    useless(&found, "xxx [key] is…");
    for response in [
        json(400, &quoting),
        json(200, &quoting[..50]),
        json(500, &quoting),
    ] {
        let server = WeatherServer::saying(response).await;
        let source = keyed(&server.url()).unwrap();
        let found = source
            .fetch(ask("2026-07-03T06:00:00Z", "2026-07-01"))
            .await;
        useless(&found, "[key]");
        assert!(!format!("{found:?} {source:?}").contains(KEY), "{found:?}");
        for request in server.requests().await {
            assert_eq!(request.headers["x-api-key"], KEY);
            assert!(!request.url.as_str().contains(KEY));
        }
    }
}

#[tokio::test]
async fn the_key_is_not_taken_along_to_another_host() {
    let other = WeatherServer::saying(json(200, "{}")).await;
    // The same machine under another name.
    let elsewhere = other.url().replace("127.0.0.1", "localhost");
    let moved = ResponseTemplate::new(302).insert_header("location", elsewhere.as_str());
    let server = WeatherServer::saying(moved).await;
    let found = keyed(&server.url())
        .unwrap()
        .fetch(ask("2026-07-03T06:00:00Z", "2026-07-01"))
        .await;
    useless(&found, &format!("redirected to another host, {elsewhere}"));
    assert_eq!(other.requests().await.len(), 0);
    assert_eq!(server.requests().await.len(), 1);
}

#[tokio::test]
async fn what_cannot_be_asked_is_said_at_the_start() {
    #[track_caller]
    fn told(made: Result<OpenMeteo, graftwarden::problem::Problem>, text: &str) {
        assert_eq!(made.unwrap_err().to_string(), text);
    }
    told(
        keyed("http://weather.example/v1"),
        "site hill, open-meteo: http://weather.example/v1 would carry the key over an open connection; this source is not used. Write https.",
    );
    let with = |change: fn(&mut Settings)| {
        let mut settings = settings("https://weather.example/v1");
        change(&mut settings);
        OpenMeteo::new(&site(Tz::UTC), &settings, QUICK)
    };
    told(
        with(|s| s.url = Some("weather".into())),
        "site hill, open-meteo: its url is not a web address; this source is not used. Write it like https://api.open-meteo.com/v1/forecast.",
    );
    told(
        with(|s| s.forecast_days = 17),
        "site hill, open-meteo: forecast_days = 17 is more or less than the service has; this source is not used. Write 1 to 16.",
    );
    told(
        with(|s| s.past_days = 93),
        "site hill, open-meteo: past_days = 93 is more or less than the service has; this source is not used. Write 0 to 92.",
    );
}

#[test]
fn letters_and_check_say_whose_data_these_are_and_for_what() {
    let free = source("https://weather.example/v1", Tz::UTC, QUICK);
    assert!(free.attribution().contains("https://open-meteo.com/"));
    assert!(free.attribution().contains("CC BY 4.0"));
    assert!(free.terms().contains("non-commercial"));
    let paid = keyed("https://weather.example/v1").unwrap();
    assert!(!paid.terms().contains("non-commercial"));
}
