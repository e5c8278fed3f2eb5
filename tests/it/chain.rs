//! The chain of sources through whole rounds of the real program: what stands in, what is left alone, what is told.

use crate::program::{CONFIG, Nursery, temperatures};
use crate::weather_server::{WeatherServer, answer, asked};
use chrono::{DateTime, NaiveDate, Timelike, Utc};
use insta::assert_snapshot;
use serde_json::Value;
use wiremock::matchers::any;
use wiremock::{Mock, MockServer, Request, ResponseTemplate};

/// The small nursery whose logger has a service behind it.
fn nursery(service: &str) -> Nursery {
    let behind = format!("[[site.weather]]\n{service}\n\n[[people]]");
    Nursery::small().with(
        "graftwarden.toml",
        &CONFIG.replacen("[[people]]", &behind, 1),
    )
}

/// 12 °C, and 22 °C from 10 to 16 o'clock GMT.
#[expect(
    clippy::unnecessary_wraps,
    reason = "the server asks for a function that may not know"
)]
fn model(at: DateTime<Utc>) -> Option<f64> {
    Some(if (10..16).contains(&at.hour()) {
        22.0
    } else {
        12.0
    })
}

/// Date, minimum, maximum, origin and source, from `days --json`.
fn day(nursery: &Nursery, date: &str) -> Value {
    let out = nursery.run(&format!(
        "days --site home --from {date} --to {date} --json"
    ));
    serde_json::from_str(out.well().trim()).unwrap()
}

#[track_caller]
fn check(
    day: &Value,
    min: f64,
    max: f64,
    origin: &str,
    source: Option<&str>,
    filled: Option<&str>,
) {
    let near = |key: &str, t: f64| (day[key].as_f64().unwrap() - t).abs() < 1e-6;
    assert!(near("tmin_c", min) && near("tmax_c", max), "{day}");
    assert_eq!(day["origin"], origin, "{day}");
    assert_eq!(day["source"].as_str(), source, "{day}");
    assert_eq!(day["filled"].as_str(), filled, "{day}");
}

#[track_caller]
fn check_shift(day: &Value, min: f64, max: f64, to: &str) {
    let near = |key: &str, t: f64| (day["shift"][key].as_f64().unwrap() - t).abs() < 1e-6;
    assert!(near("tmin_c", min) && near("tmax_c", max), "{day}");
    assert_eq!(day["shift"]["to"], to, "{day}");
}

/// The logger's file ends on 12 July. Its 18 days are 14.1 and 26.1 °C in the mean, the model's 12 and 22 °C: it stands
/// in shifted by +2.1 and +4.1 °C. Once the file goes on, a gap of two days in it is a line between its own neighbours.
#[tokio::test(flavor = "multi_thread")]
async fn a_service_stands_in_shifted_and_a_short_gap_becomes_a_line() {
    let now: DateTime<Utc> = "2024-07-16T04:10:00Z".parse().unwrap();
    let weather = WeatherServer::start(now, model).await;
    let service = format!(
        "source = \"open-meteo\"\nurl = \"{}\"\npast_days = 40",
        weather.url()
    );
    let nursery = nursery(&service).with("temps.csv", &temperatures("2024-07-12"));
    nursery.run("round --at 2024-07-16T06:10:00+02:00").well();
    for (date, origin) in [("2024-07-14", "modelled"), ("2024-07-18", "forecast")] {
        let day = day(&nursery, date);
        check(&day, 14.1, 26.1, origin, Some("open-meteo"), None);
        check_shift(&day, 2.1, 4.1, "file");
        assert_eq!(day["fetched_at"], "2024-07-16T04:10:00Z");
    }
    assert_snapshot!(
        nursery
            .run("days --site home --from 2024-07-11 --to 2024-07-18")
            .well(), @r"
    date            min °C  max °C  origin    source      fetched       remark
    2024-07-11 Thu    14.5    26.5  measured  file        16 Jul 06:10
    2024-07-12 Fri    13.7    25.7  measured  file        16 Jul 06:10
    2024-07-13 Sat    14.1    26.1  modelled  open-meteo  16 Jul 06:10  +2.1, +4.1 to agree with file
    2024-07-14 Sun    14.1    26.1  modelled  open-meteo  16 Jul 06:10  +2.1, +4.1 to agree with file
    2024-07-15 Mon    14.1    26.1  modelled  open-meteo  16 Jul 06:10  +2.1, +4.1 to agree with file
    2024-07-16 Tue    14.1    26.1  forecast  open-meteo  16 Jul 06:10  +2.1, +4.1 to agree with file
    2024-07-17 Wed    14.1    26.1  forecast  open-meteo  16 Jul 06:10  +2.1, +4.1 to agree with file
    2024-07-18 Thu    14.1    26.1  forecast  open-meteo  16 Jul 06:10  +2.1, +4.1 to agree with file
    ");
    let whole = temperatures("2024-07-15");
    let gap: String = whole
        .lines()
        .filter(|line| !line.starts_with("2024-07-13") && !line.starts_with("2024-07-14"))
        .map(|line| format!("{line}\n"))
        .collect();
    nursery.write("temps.csv", gap);
    nursery.run("round --at 2024-07-16T18:10:00+02:00").well();
    assert_snapshot!(
        nursery
            .run("days --site home --from 2024-07-12 --to 2024-07-14 --json")
            .well(), @r#"
    {"date":"2024-07-12","tmin_c":13.7,"tmax_c":25.7,"gust_kmh":18.0,"rain_mm":0.0,"origin":"measured","source":"file","fetched_at":"2024-07-16T04:10:00Z","doubt":null,"filled":null,"shift":null,"raw":[{"source":"file","tmin_c":13.7,"tmax_c":25.7,"origin":"measured","fetched_at":"2024-07-16T04:10:00Z","used":true,"reason":null},{"source":"open-meteo","tmin_c":12.0,"tmax_c":22.0,"origin":"modelled","fetched_at":"2024-07-16T04:10:00Z","used":false,"reason":"file is used"}]}
    {"date":"2024-07-13","tmin_c":13.7,"tmax_c":25.7,"gust_kmh":18.0,"rain_mm":0.0,"origin":"filled","source":null,"fetched_at":null,"doubt":null,"filled":"between 12 Jul and 15 Jul","shift":null,"raw":[{"source":"open-meteo","tmin_c":12.0,"tmax_c":22.0,"origin":"modelled","fetched_at":"2024-07-16T04:10:00Z","used":false,"reason":"a line between 12 Jul and 15 Jul is used"}]}
    {"date":"2024-07-14","tmin_c":13.7,"tmax_c":25.7,"gust_kmh":18.0,"rain_mm":0.0,"origin":"filled","source":null,"fetched_at":null,"doubt":null,"filled":"between 12 Jul and 15 Jul","shift":null,"raw":[{"source":"open-meteo","tmin_c":12.0,"tmax_c":22.0,"origin":"modelled","fetched_at":"2024-07-16T04:10:00Z","used":false,"reason":"a line between 12 Jul and 15 Jul is used"}]}
    "#);
    // 12 July is 13.7 and 25.7 °C, 15 July too.
    let line = Some("between 12 Jul and 15 Jul");
    check(
        &day(&nursery, "2024-07-13"),
        13.7,
        25.7,
        "filled",
        None,
        line,
    );
    check(
        &day(&nursery, "2024-07-15"),
        13.7,
        25.7,
        "measured",
        Some("file"),
        None,
    );
}

/// A refusal is told once and the service left alone for a day, whatever process asks.
#[tokio::test(flavor = "multi_thread")]
async fn a_service_that_refuses_is_told_once_and_left_alone_for_a_day() {
    let server = MockServer::start().await;
    Mock::given(any())
        .respond_with(ResponseTemplate::new(403))
        .mount(&server)
        .await;
    let nursery = nursery(&format!(
        "source = \"met-norway\"\nurl = \"{}\"",
        server.uri()
    ));
    let told = |at: &str| {
        nursery
            .run(&format!("round --at {at}"))
            .out
            .matches("notice")
            .count()
    };
    let requests = async || server.received_requests().await.unwrap().len();
    told("2024-07-16T06:10:00+02:00");
    assert_eq!(requests().await, 1);
    let trouble = || nursery.memory("SELECT count(*) FROM notice WHERE kind = 'trouble'");
    assert_eq!(trouble(), ["1"]);
    told("2024-07-16T18:10:00+02:00");
    assert_eq!(requests().await, 1, "it is left alone");
    told("2024-07-17T07:10:00+02:00");
    assert_eq!(requests().await, 2);
    assert_eq!(trouble(), ["1"], "told once");
}

/// Years before are asked for once each, the newest first.
#[tokio::test(flavor = "multi_thread")]
async fn years_before_are_fetched_once() {
    let server = MockServer::start().await;
    let respond = |request: &Request| {
        let date = |name: &str| asked(request, name).parse::<NaiveDate>().unwrap();
        let (from, to) = (date("start_date"), date("end_date"));
        let days = (to - from).num_days().cast_unsigned() + 1;
        ResponseTemplate::new(200).set_body_json(answer((50.8, 4.4), from, days, model))
    };
    Mock::given(any())
        .respond_with(respond)
        .mount(&server)
        .await;
    let nursery = nursery(&format!(
        "source = \"open-meteo\"\narchive_url = \"{}\"",
        server.uri()
    ));
    let years = chrono::Datelike::year(&chrono::Local::now());
    let (last, before) = (years - 1, years - 2);
    let days = |year: i32| {
        if NaiveDate::from_ymd_opt(year, 2, 29).is_some() {
            366
        } else {
            365
        }
    };
    assert_eq!(
        nursery.run("days --site home --fetch-past 2").well(),
        format!(
            "{last}: {} days from open-meteo\n{before}: {} days from open-meteo\nsite home: 0 years known before, 2 years fetched\n",
            days(last),
            days(before)
        )
    );
    let again = nursery.run("days --site home --fetch-past 2").well();
    assert_eq!(again, "site home: 2 years known before, 0 years fetched\n");
    assert_eq!(server.received_requests().await.unwrap().len(), 2);
}

/// The year of a request to the archive: its first day is the last of the year before.
fn year_of(request: &Request) -> i32 {
    let from = asked(request, "start_date").parse::<NaiveDate>().unwrap();
    chrono::Datelike::year(&from) + 1
}

/// An archive that refuses some years with this answer.
async fn archive(
    refuses: impl Fn(i32) -> Option<ResponseTemplate> + Send + Sync + 'static,
) -> MockServer {
    let server = MockServer::start().await;
    let respond = move |request: &Request| {
        let year = year_of(request);
        let whole = || {
            let from = NaiveDate::from_ymd_opt(year - 1, 12, 31).unwrap();
            ResponseTemplate::new(200).set_body_json(answer((50.8, 4.4), from, 368, model))
        };
        refuses(year).unwrap_or_else(whole)
    };
    Mock::given(any())
        .respond_with(respond)
        .mount(&server)
        .await;
    server
}

async fn years_asked(server: &MockServer) -> Vec<i32> {
    let requests = server.received_requests().await.unwrap();
    server.reset().await;
    requests.iter().map(year_of).collect()
}

/// A year that fails does not hold up the others, and only it is asked for again.
#[tokio::test(flavor = "multi_thread")]
async fn years_before_are_taken_up_again_after_one_that_failed() {
    let last = chrono::Datelike::year(&chrono::Local::now()) - 1;
    let gap = last - 1;
    let reason = r#"{"error":true,"reason":"no such year today"}"#;
    let refused = move || ResponseTemplate::new(400).set_body_raw(reason, "application/json");
    let server = archive(move |year| (year == gap).then(refused)).await;
    let config = |server: &MockServer| {
        format!(
            "source = \"open-meteo\"\narchive_url = \"{}\"",
            server.uri()
        )
    };
    let nursery = nursery(&config(&server));
    let ran = nursery.run("days --site home --fetch-past 4");
    assert_eq!(ran.code, 75, "{ran}");
    assert!(
        ran.out
            .ends_with("site home: 0 years known before, 3 years fetched\n"),
        "{ran}"
    );
    assert!(ran.err.contains("no such year today"), "{ran}");
    assert!(
        ran.err
            .contains("1 year could not be fetched; run it again later"),
        "{ran}"
    );
    assert_eq!(years_asked(&server).await, [last, gap, gap - 1, gap - 2]);

    let server = archive(|_| None).await;
    let behind = format!("[[site.weather]]\n{}\n\n[[people]]", config(&server));
    nursery.write(
        "graftwarden.toml",
        CONFIG.replacen("[[people]]", &behind, 1),
    );
    let again = nursery.run("days --site home --fetch-past 4").well();
    assert!(
        again.ends_with("site home: 3 years known before, 1 year fetched\n"),
        "{again}"
    );
    assert_eq!(years_asked(&server).await, [gap]);
    nursery.run("days --site home --fetch-past 4").well();
    assert_eq!(years_asked(&server).await, [0; 0]);
}

#[tokio::test(flavor = "multi_thread")]
async fn an_archive_that_has_enough_of_us_is_not_asked_for_fifteen_years() {
    let last = chrono::Datelike::year(&chrono::Local::now()) - 1;
    let spent = include_str!("../data/weather/allowance-day.json");
    for (status, body, times) in [(429, spent, 2), (404, "{}", 4)] {
        let server = archive(move |year| {
            let refused = || ResponseTemplate::new(status).set_body_raw(body, "application/json");
            (year < last).then(refused)
        })
        .await;
        let nursery = nursery(&format!(
            "source = \"open-meteo\"\narchive_url = \"{}\"",
            server.uri()
        ));
        let ran = nursery.run("days --site home --fetch-past 15");
        assert_eq!(ran.code, 75, "{ran}");
        assert!(ran.err.contains("14 years could not be fetched"), "{ran}");
        assert_eq!(years_asked(&server).await.len(), times, "{status}");
    }
}

#[test]
fn a_site_may_have_its_own_thresholds() {
    let nursery = Nursery::small().but(
        "graftwarden.toml",
        "longitude = 4.4\n",
        "longitude = 4.4\nquality = { warmest = 26.3 }\n",
    );
    // Every third day is 26.5 °C; the line between its neighbours takes its place.
    let out = nursery.run("days --site home --from 2024-07-11 --to 2024-07-11 --json");
    let json: Value = serde_json::from_str(out.out.trim()).unwrap();
    check(
        &json,
        13.9,
        25.9,
        "filled",
        None,
        Some("between 10 Jul and 12 Jul"),
    );
    assert_eq!(json["raw"][0]["used"], false);
    assert_eq!(json["raw"][0]["reason"], "14.5 to 26.5 °C cannot be");
    assert!(
        out.err.contains("2024-07-11: 14.5 to 26.5 °C cannot be"),
        "{}",
        out.err
    );
}

#[test]
fn without_years_and_without_a_service_that_has_them_it_says_what_to_do() {
    let ran = Nursery::small().run("days --site home --fetch-past 2");
    assert_eq!(ran.code, 69, "{ran}");
    assert_eq!(
        ran.err.trim(),
        "no source of site home has years before; name a file with them as past_years in the config"
    );
}
