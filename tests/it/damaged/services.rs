//! Answers of the weather services, damaged, over HTTP: the days that are made of them are days.

use super::{damaged_json, damaged_text};
use chrono_tz::{America, Europe};
use graftwarden::nursery::Site;
use graftwarden::weather::http::Patience;
use graftwarden::weather::{
    Ask, Fetched, Source, bright_sky, met_norway, noaa_daily, open_meteo, us_weather_service,
};
use proptest::prelude::*;
use proptest::test_runner::TestRunner;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::runtime::Runtime;
use wiremock::matchers::any;
use wiremock::{Mock, MockServer, Request, ResponseTemplate};

const CONTACT: &str = "office@alderfold.example";
/// Of each document so many damaged ones are read.
const CASES: u32 = 48;
const ONCE: Patience = Patience {
    connect: Duration::from_secs(5),
    whole: Duration::from_secs(10),
    retries: 0,
    pause: Duration::ZERO,
    longest_pause: Duration::ZERO,
};

fn site(latitude: f64, longitude: f64, zone: chrono_tz::Tz) -> Site {
    Site {
        id: "hill".into(),
        latitude,
        longitude,
        elevation: Some(118.0),
        zone,
        standard_day: None,
    }
}

fn ask(now: &str, from: &str) -> Ask {
    Ask {
        now: now.parse().unwrap(),
        from: from.parse().unwrap(),
        memo: None,
    }
}

/// A document, and the end of the path at which it is answered.
type Door = (&'static str, String);

/// A service of which each door says what was last set.
struct Service {
    runtime: Runtime,
    server: MockServer,
    doors: Arc<Mutex<Vec<Door>>>,
}

impl Service {
    fn start() -> Self {
        let runtime = Runtime::new().unwrap();
        let doors: Arc<Mutex<Vec<Door>>> = Arc::default();
        let shared = doors.clone();
        let server = runtime.block_on(async {
            let server = MockServer::start().await;
            let respond = move |request: &Request| {
                let doors = shared.lock().unwrap();
                let door = doors
                    .iter()
                    .find(|(end, _)| request.url.path().ends_with(end));
                match door {
                    Some((_, body)) => {
                        ResponseTemplate::new(200).set_body_raw(body.as_bytes(), "application/json")
                    }
                    None => ResponseTemplate::new(404),
                }
            };
            Mock::given(any())
                .respond_with(respond)
                .mount(&server)
                .await;
            server
        });
        Self {
            runtime,
            server,
            doors,
        }
    }

    fn heard(&self, source: &dyn Source, ask: &Ask, doors: Vec<Door>) -> Fetched {
        *self.doors.lock().unwrap() = doors;
        self.runtime.block_on(source.fetch(ask.clone()))
    }
}

/// The days are sound, or it is said what is wrong.
fn is_borne(found: &Fetched) -> Result<(), TestCaseError> {
    prop_assert!(found.answered || !found.problems.is_empty());
    for problem in &found.problems {
        prop_assert!(!problem.what.is_empty());
    }
    prop_assert!(found.days.is_sorted_by(|a, b| a.date < b.date));
    for day in &found.days {
        prop_assert!(day.min.is_finite() && day.max.is_finite(), "{day:?}");
        prop_assert!(day.gust.is_none_or(f64::is_finite), "{day:?}");
        prop_assert!(day.rain.is_none_or(f64::is_finite), "{day:?}");
    }
    Ok(())
}

/// Damages one document of a service after the other; the others stay whole. Whole, they give days.
#[track_caller]
fn check(
    make: impl Fn(&str) -> Box<dyn Source>,
    ask: &Ask,
    documents: &[(&'static str, &'static str)],
) {
    let service = Service::start();
    let url = service.server.uri();
    let source = make(&url);
    let whole: Vec<Door> = documents
        .iter()
        .map(|(end, text)| (*end, text.replace("https://api.weather.gov", &url)))
        .collect();
    let found = service.heard(source.as_ref(), ask, whole.clone());
    assert!(!found.days.is_empty(), "{found:?}");
    for (n, (end, text)) in documents.iter().enumerate() {
        let config = ProptestConfig {
            cases: CASES,
            failure_persistence: None,
            ..ProptestConfig::default()
        };
        let damaged = prop_oneof![3 => damaged_json(text), 1 => damaged_text(text)];
        let outcome = TestRunner::new(config).run(&damaged, |text| {
            let mut doors = whole.clone();
            doors[n].1 = text.replace("https://api.weather.gov", &url);
            is_borne(&service.heard(source.as_ref(), ask, doors))
        });
        if let Err(error) = outcome {
            panic!("{end}: {error}");
        }
    }
}

#[test]
fn open_meteo_is_borne() {
    let settings = |url: &str| open_meteo::Settings {
        url: Some(url.into()),
        archive_url: None,
        key: None,
        past_days: 5,
        forecast_days: 2,
        contact: CONTACT.into(),
    };
    let site = site(51.05, 13.75, Europe::Berlin);
    check(
        |url| Box::new(open_meteo::OpenMeteo::new(&site, &settings(url), ONCE).unwrap()),
        &ask("2026-07-03T06:00:00Z", "2026-07-01"),
        &[("", include_str!("../../data/weather/three-days.json"))],
    );
}

#[test]
fn bright_sky_is_borne() {
    let settings = |url: &str| bright_sky::Settings {
        url: Some(url.into()),
        past_days: 10,
        forecast_days: 3,
        contact: CONTACT.into(),
    };
    let site = site(49.88, 10.918_76, Europe::Berlin);
    check(
        |url| Box::new(bright_sky::BrightSky::new(&site, settings(url), ONCE).unwrap()),
        &ask("2026-10-26T06:40:00Z", "2026-10-20"),
        &[("", include_str!("../../data/weather/bright-sky.json"))],
    );
}

#[test]
fn met_norway_is_borne() {
    let settings = |url: &str| met_norway::Settings {
        url: Some(url.into()),
        contact: CONTACT.into(),
    };
    let site = site(59.123_456_7, 9.567_8, Europe::Oslo);
    check(
        |url| Box::new(met_norway::MetNorway::new(&site, settings(url), ONCE).unwrap()),
        &ask("2026-04-14T21:20:00Z", "2026-04-01"),
        &[("", include_str!("../../data/weather/met-norway.json"))],
    );
}

#[test]
fn noaa_daily_is_borne() {
    let settings = |url: &str| noaa_daily::Settings {
        url: Some(url.into()),
        station: Some("USW00990011".into()),
        path: None,
        contact: CONTACT.into(),
    };
    let site = site(42.5, -74.0, America::New_York);
    check(
        |url| Box::new(noaa_daily::NoaaDaily::new(&site, settings(url), ONCE).unwrap()),
        &ask("2026-10-10T03:00:00Z", "2026-10-01"),
        &[("", include_str!("../../data/weather/noaa-days.json"))],
    );
}

/// Two reports of a station, as the service words them; the second of them has a gust.
const REPORTS: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"timestamp":"2026-11-19T12:51:00+00:00",
"temperature":{"unitCode":"wmoUnit:degC","value":6,"qualityControl":"V"},"windGust":{"unitCode":"wmoUnit:km_h-1","value":null,"qualityControl":"Z"}}},
{"type":"Feature","properties":{"timestamp":"2026-11-19T11:51:00+00:00",
"temperature":{"unitCode":"wmoUnit:degC","value":1.5,"qualityControl":"V"},"windGust":{"unitCode":"wmoUnit:km_h-1","value":31.2,"qualityControl":"V"}}}]}"#;

#[test]
fn the_us_weather_service_is_borne() {
    let settings = |url: &str| us_weather_service::Settings {
        url: Some(url.into()),
        station: None,
        contact: CONTACT.into(),
    };
    let site = site(42.5, -74.0, America::New_York);
    check(
        |url| {
            Box::new(us_weather_service::UsWeatherService::new(&site, settings(url), ONCE).unwrap())
        },
        &ask("2026-11-20T17:00:00Z", "2026-11-18"),
        &[
            (
                "/points/42.5,-74",
                include_str!("../../data/weather/us-point.json"),
            ),
            (
                "/gridpoints/ABC/12,34",
                include_str!("../../data/weather/us-grid.json"),
            ),
            (
                "/stations",
                include_str!("../../data/weather/us-stations.json"),
            ),
            ("/observations", REPORTS),
        ],
    );
}
