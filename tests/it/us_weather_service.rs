//! The weather service of the United States over HTTP: each of its doors open or shut, and every way in which an answer
//! can be of no use.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::{America, Tz};
use graftwarden::days::{Origin, RawDay};
use graftwarden::nursery::Site;
use graftwarden::problem::Problem;
use graftwarden::weather::http::Patience;
use graftwarden::weather::us_weather_service::{Settings, UsWeatherService};
use graftwarden::weather::{Ask, Fetched, Source};
use serde_json::{Value, json};
use std::net::{Ipv4Addr, TcpListener};
use std::time::Duration;
use wiremock::matchers::{any, path, path_regex};
use wiremock::{Mock, MockServer, Request, ResponseTemplate};

const GRID: &str = include_str!("../data/weather/us-grid.json");
const POINT: &str = include_str!("../data/weather/us-point.json");
const STATIONS: &str = include_str!("../data/weather/us-stations.json");
const UNEXPECTED: &str = include_str!("../data/weather/us-problem-500.json");
const EXPIRED: &str = include_str!("../data/weather/us-problem-503.json");
const OUTSIDE: &str = include_str!("../data/weather/us-problem-404.json");
const PAGE: &str = include_str!("../data/weather/bad-gateway.html");

/// Noon of 20 November in New York.
const NOW: &str = "2026-11-20T17:00:00Z";

/// One retry without a pause.
const QUICK: Patience = Patience {
    connect: Duration::from_millis(200),
    whole: Duration::from_secs(10),
    retries: 1,
    pause: Duration::ZERO,
    longest_pause: Duration::ZERO,
};

const POINTS: &str = "/points/42.5,-74";
const CELL: &str = "/gridpoints/ABC/12,34";
const AROUND: &str = "/gridpoints/ABC/12,34/stations";
const REPORTS: &str = "^/stations/[A-Z]+/observations$";

fn site(zone: Tz) -> Site {
    Site {
        id: "hill".into(),
        latitude: 42.5,
        longitude: -74.0,
        elevation: Some(118.0),
        zone,
        standard_day: None,
    }
}

fn settings(url: &str) -> Settings {
    Settings {
        url: Some(url.into()),
        station: None,
        contact: "office@alderfold.example".into(),
    }
}

fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn json(status: u16, body: &str) -> ResponseTemplate {
    ResponseTemplate::new(status).set_body_raw(body, "application/json")
}

fn html(status: u16) -> ResponseTemplate {
    ResponseTemplate::new(status).set_body_raw(PAGE, "text/html")
}

/// The service on a free port of this machine.
struct Service(MockServer);

impl Service {
    /// All doors open; the station reports 51 minutes after each hour, a null for what is not a number.
    async fn open(temperature: fn(DateTime<Utc>) -> f64) -> Self {
        let service = Self(MockServer::start().await);
        let own = |body: &str| {
            json(
                200,
                &body.replace("https://api.weather.gov", &service.0.uri()),
            )
        };
        service.mount(5, POINTS, own(POINT)).await;
        service.mount(5, CELL, own(GRID)).await;
        service.mount(5, AROUND, own(STATIONS)).await;
        Mock::given(path_regex(REPORTS))
            .respond_with(move |request: &Request| {
                json(200, &reports(request, temperature).to_string())
            })
            .mount(&service.0)
            .await;
        service
    }

    async fn mount(&self, priority: u8, at: &str, response: ResponseTemplate) {
        let door = Mock::given(path(at)).respond_with(response);
        door.with_priority(priority).mount(&self.0).await;
    }

    /// This instead of what was behind the door.
    async fn instead(self, at: &str, response: ResponseTemplate) -> Self {
        self.mount(1, at, response).await;
        self
    }

    /// This instead of every station's reports.
    async fn silent(self, response: ResponseTemplate) -> Self {
        let door = Mock::given(path_regex(REPORTS)).respond_with(response);
        door.with_priority(1).mount(&self.0).await;
        self
    }

    fn source(&self, zone: Tz) -> UsWeatherService {
        UsWeatherService::new(&site(zone), settings(&self.0.uri()), QUICK).unwrap()
    }

    /// What it is worth to a site in New York at noon of 20 November, from the 18th on.
    async fn heard(&self) -> Fetched {
        self.source(America::New_York).fetch(ask(None)).await
    }

    /// The paths asked for so far, in order.
    async fn asked(&self) -> Vec<String> {
        let requests = self.0.received_requests().await.unwrap();
        requests
            .iter()
            .map(|request| request.url.path().to_owned())
            .collect()
    }
}

fn ask(memo: Option<String>) -> Ask {
    Ask {
        now: moment(NOW),
        from: day("2026-11-18"),
        memo,
    }
}

/// Reports of the station for the stretch that is asked for.
fn reports(request: &Request, temperature: fn(DateTime<Utc>) -> f64) -> Value {
    let asked = |name: &str| {
        let mut pairs = request.url.query_pairs();
        moment(&pairs.find(|(key, _)| key == name).unwrap().1)
    };
    let (from, to) = (asked("start"), asked("end"));
    let hours = (to - from).num_hours();
    // The newest first, as the service does.
    let features = (0..hours).rev().map(|hour| {
        let at = from + TimeDelta::hours(hour) + TimeDelta::minutes(51);
        json!({"type": "Feature", "properties": {"@type": "wx:ObservationStation", "timestamp": at.to_rfc3339(),
            "temperature": {"unitCode": "wmoUnit:degC", "value": temperature(at), "qualityControl": "V"},
            "windGust": {"unitCode": "wmoUnit:km_h-1", "value": null, "qualityControl": "Z"}}})
    });
    json!({"type": "FeatureCollection", "features": features.collect::<Vec<_>>()})
}

/// 6 °C, but 1 °C at 6:51 and 11 °C at 14:51 of the winter clock of New York.
fn mild(at: DateTime<Utc>) -> f64 {
    match at.format("%H").to_string().as_str() {
        "11" => 1.0,
        "19" => 11.0,
        _ => 6.0,
    }
}

fn row(date: &str, min: f64, max: f64, origin: Origin) -> RawDay {
    RawDay {
        date: day(date),
        min,
        max,
        gust: None,
        rain: None,
        origin,
    }
}

/// The two days before the 20th by the station.
fn measured() -> [RawDay; 2] {
    ["2026-11-18", "2026-11-19"].map(|date| row(date, 1.0, 11.0, Origin::Measured))
}

/// Read off us-grid.json by eye. The maximum of the 20th is cut short; those of the 23rd to 27th are a null, a value in
/// the thousands and one for 72 hours. Gusts cover the 21st and 22nd. Rain covers the 21st only: an hour of the 6 mm in
/// the six hours from 00:00 GMT, nothing, and 17 of the 18 hours with 9 mm: 1 + 0 + 8.5.
fn foretold() -> [RawDay; 3] {
    [
        RawDay {
            gust: Some(55.5),
            rain: Some(9.5),
            ..row("2026-11-21", 3.3, 14.4, Origin::Forecast)
        },
        RawDay {
            gust: Some(40.0),
            ..row("2026-11-22", 1.1, 15.6, Origin::Forecast)
        },
        row("2026-11-28", -1.7, 11.0, Origin::Forecast),
    ]
}

fn whats(found: &Fetched) -> Vec<&str> {
    found
        .problems
        .iter()
        .map(|problem| problem.what.as_str())
        .collect()
}

const ODD: [&str; 2] = [
    "maxTemperature of 2222.2 °C from 2026-11-24 12:00 GMT on cannot be",
    "maxTemperature from 2026-11-25 12:00 GMT on is for 72 hours at once",
];

#[tokio::test]
async fn reports_and_the_cells_forecast_become_days() {
    let service = Service::open(mild).await;
    let found = service.heard().await;
    assert!(found.answered && found.passing);
    assert_eq!(found.days, [&measured()[..], &foretold()[..]].concat());
    assert_eq!(whats(&found), ODD);
    assert_eq!(found.not_before, None);
    let reports = "/stations/KAFN/observations";
    assert_eq!(
        service.asked().await,
        [POINTS, AROUND, reports, reports, CELL]
    );
    let requests = service.0.received_requests().await.unwrap();
    for request in &requests {
        let agent = request.headers["user-agent"].to_str().unwrap();
        assert!(agent.starts_with("graftwarden/"), "{agent}");
        assert!(agent.ends_with(" (office@alderfold.example)"), "{agent}");
    }
    // A date in New York begins at 05:00 UTC in winter.
    let query = requests[2].url.query().unwrap();
    assert_eq!(
        query,
        "start=2026-11-18T05%3A00%3A00Z&end=2026-11-19T05%3A00%3A00Z"
    );
}

#[tokio::test]
async fn what_was_found_is_remembered_for_a_week() {
    let service = Service::open(mild).await;
    let source = service.source(America::New_York);
    let first = source.fetch(ask(None)).await;
    let memo = first.memo.unwrap();
    assert!(memo.len() < 500, "{memo}");
    let second = source.fetch(ask(Some(memo.clone()))).await;
    assert_eq!(second.days, first.days);
    let reports = "/stations/KAFN/observations";
    assert_eq!(service.asked().await[5..], [reports, reports, CELL]);

    let later = Ask {
        now: moment(NOW) + TimeDelta::days(7),
        from: day("2026-11-27"),
        memo: second.memo,
    };
    source.fetch(later).await;
    assert_eq!(service.asked().await[8], POINTS);

    // A memo that leads to another host is none.
    let astray = memo.replace("127.0.0.1", "elsewhere.example");
    let found = source.fetch(ask(Some(astray))).await;
    assert_eq!(found.days, first.days);
}

#[tokio::test]
async fn past_days_that_were_had_are_not_asked_for_again_but_the_last_two() {
    let service = Service::open(mild).await;
    let source = service.source(America::New_York);
    let long = |memo| Ask {
        from: day("2026-10-01"),
        ..ask(memo)
    };
    let first = source.fetch(long(None)).await;
    // The 14th to the 19th.
    assert_eq!(
        first
            .days
            .iter()
            .filter(|d| d.origin == Origin::Measured)
            .count(),
        6
    );
    assert_eq!(service.asked().await.len(), 9);
    let second = source.fetch(long(first.memo)).await;
    let dates: Vec<_> = second.days.iter().map(|d| d.date).take(2).collect();
    assert_eq!(dates, [day("2026-11-18"), day("2026-11-19")]);
    assert_eq!(service.asked().await.len(), 12);
}

#[tokio::test]
async fn the_station_of_the_config_is_asked_without_looking_for_one() {
    let service = Service::open(mild).await;
    let settings = Settings {
        station: Some("KELM".into()),
        ..settings(&service.0.uri())
    };
    let source = UsWeatherService::new(&site(America::New_York), settings, QUICK).unwrap();
    let found = source.fetch(ask(None)).await;
    assert_eq!(found.days[..2], measured());
    let reports = "/stations/KELM/observations";
    assert_eq!(service.asked().await, [POINTS, reports, reports, CELL]);
}

#[tokio::test]
async fn a_station_without_enough_reports_costs_its_days_only() {
    let service = Service::open(|at| {
        if at < moment("2026-11-19T16:00:00Z") {
            5.0
        } else {
            f64::NAN
        }
    })
    .await;
    let found = service.heard().await;
    let dates: Vec<_> = found
        .days
        .iter()
        .map(|d| (d.date, d.origin))
        .take(2)
        .collect();
    assert_eq!(
        dates,
        [
            (day("2026-11-18"), Origin::Measured),
            (day("2026-11-21"), Origin::Forecast)
        ]
    );
    assert_eq!(
        found.problems[0].to_string(),
        "site hill, us-weather-service: station KAFN: only 11 hours of 2026-11-19 have a temperature that passed; these days do not count as measured. If it lasts, name another station in the config."
    );
    assert!(found.passing);
    // Asked for again at the next round.
    assert!(!found.memo.unwrap().contains("2026-11-19"));
}

#[tokio::test]
async fn a_date_is_whole_also_when_the_clocks_change() {
    // 25 hours from 04:00 UTC: traps an hour before and after them.
    fn autumn(at: DateTime<Utc>) -> f64 {
        match at.format("%dT%H").to_string().as_str() {
            "01T03" => -20.0,
            "01T04" => 1.0,
            "02T04" => 19.0,
            "02T05" => 40.0,
            _ => 9.0,
        }
    }
    // 23 hours from 05:00 UTC.
    fn spring(at: DateTime<Utc>) -> f64 {
        match at.format("%dT%H").to_string().as_str() {
            "08T04" => -20.0,
            "08T05" => 1.0,
            "09T03" => 19.0,
            "09T04" => 40.0,
            _ => 9.0,
        }
    }
    for (temperature, date) in [
        (autumn as fn(DateTime<Utc>) -> f64, "2026-11-01"),
        (spring, "2026-03-08"),
    ] {
        let service = Service::open(temperature).await;
        let now = day(date).and_hms_opt(18, 0, 0).unwrap().and_utc() + TimeDelta::days(2);
        let found = service
            .source(America::New_York)
            .fetch(Ask {
                now,
                from: day(date),
                memo: None,
            })
            .await;
        assert_eq!(found.days[0], row(date, 1.0, 19.0, Origin::Measured));
    }
}

#[tokio::test]
async fn whom_the_service_shuts_out_half_way_asks_nothing_more() {
    let service = Service::open(mild).await.silent(html(403)).await;
    let found = service.heard().await;
    assert_eq!(found.not_before, Some(moment("2026-11-21T17:00:00Z")));
    assert!(!found.passing && found.memo.is_some());
    let reports = "/stations/KAFN/observations";
    assert_eq!(service.asked().await, [POINTS, AROUND, reports]);
}

/// A door is shut, and what comes through the others is used.
#[tokio::test]
async fn the_forecast_alone_is_used_and_so_are_the_reports_alone() {
    let service = Service::open(mild)
        .await
        .silent(json(500, UNEXPECTED))
        .await;
    let found = service.heard().await;
    assert_eq!(found.days, foretold());
    assert!(found.answered && found.passing);
    let first = found.problems[0].to_string();
    assert!(
        first.contains("answered 500: An unexpected problem has occurred."),
        "{first}"
    );
    // One door, asked twice, and not once more for the second day.
    assert_eq!(
        service
            .asked()
            .await
            .iter()
            .filter(|path| path.starts_with("/stations"))
            .count(),
        2
    );

    let service = Service::open(mild)
        .await
        .instead(AROUND, json(503, EXPIRED))
        .await;
    assert_eq!(service.heard().await.days, foretold());

    for shut in [
        json(503, EXPIRED),
        html(502),
        json(200, &GRID[..900]),
        html(200),
        json(429, "{}"),
    ] {
        let service = Service::open(mild).await.instead(CELL, shut).await;
        let found = service.heard().await;
        assert_eq!(found.days, measured());
        assert!(found.answered && found.passing);
        assert_eq!(found.problems.len(), 1);
        assert!(found.memo.is_some());
    }
}

#[tokio::test]
async fn an_old_word_on_the_place_is_better_than_none() {
    let service = Service::open(mild).await;
    let source = service.source(America::New_York);
    let first = source.fetch(ask(None)).await;
    let service = service.instead(POINTS, json(500, UNEXPECTED)).await;
    let old = first
        .memo
        .unwrap()
        .replace("2026-11-20T17", "2026-11-01T17");
    let found = source.fetch(ask(Some(old.clone()))).await;
    assert_eq!(found.days, first.days);
    assert!(found.passing);
    assert!(found.problems[0].what.contains("answered 500"));
    assert_eq!(found.memo, Some(old));
    assert_eq!(
        service
            .asked()
            .await
            .iter()
            .filter(|path| *path == POINTS)
            .count(),
        3
    );
}

#[tokio::test]
async fn a_cell_that_is_not_there_any_more_is_looked_up_anew() {
    let service = Service::open(mild)
        .await
        .instead(CELL, json(404, "{}"))
        .await;
    let found = service.heard().await;
    assert_eq!(found.days, measured());
    assert_eq!(
        whats(&found),
        ["the site's cell of the forecast grid is not there any more"]
    );
    assert!(found.passing);
    assert_eq!(found.memo, None);
}

/// The service answers each request with this.
async fn everywhere(response: ResponseTemplate) -> (Fetched, usize) {
    let service = Service(MockServer::start().await);
    Mock::given(any())
        .respond_with(response)
        .mount(&service.0)
        .await;
    (service.heard().await, service.asked().await.len())
}

/// Nothing came of it but one problem.
#[track_caller]
fn useless(found: &Fetched, passing: bool, told: &str) {
    assert!(!found.answered);
    assert_eq!(found.passing, passing);
    assert_eq!(found.days, []);
    assert_eq!(found.problems.len(), 1, "{:?}", found.problems);
    let problem = found.problems[0].to_string();
    assert!(problem.contains(told), "{problem}");
    assert!(
        problem.starts_with("site hill, us-weather-service"),
        "{problem}"
    );
    assert!(
        problem.contains("the days already known stay in use"),
        "{problem}"
    );
}

#[tokio::test]
async fn what_passes_is_asked_again_and_what_is_refused_is_not() {
    for (response, told) in [
        (
            json(500, UNEXPECTED),
            "answered 500: An unexpected problem has occurred.",
        ),
        (html(502), "answered 502: <html>"),
        (html(200), "its content type is not JSON"),
        (
            json(200, &POINT[..400]),
            "answered with something else than was asked for",
        ),
        (
            json(200, "{\"properties\": null}"),
            "answered with something else than was asked for",
        ),
    ] {
        let (found, requests) = everywhere(response).await;
        useless(&found, true, told);
        assert_eq!(requests, 2);
    }
    let (found, requests) = everywhere(json(429, "{}")).await;
    useless(&found, true, "answered 429: {}");
    assert_eq!(
        (requests, found.not_before),
        (1, Some(moment("2026-11-20T18:00:00Z")))
    );
    let (found, requests) = everywhere(json(404, OUTSIDE)).await;
    useless(
        &found,
        false,
        "answered 404: Unable to provide data for requested point 51.05,13.75",
    );
    useless(
        &found,
        false,
        "The service knows the United States and their territories only",
    );
    assert_eq!((requests, found.not_before), (1, None));

    let (found, requests) = everywhere(html(403)).await;
    useless(
        &found,
        false,
        "Look whether the contact in the config is one at which you can be reached",
    );
    assert_eq!(
        (requests, found.not_before),
        (1, Some(moment("2026-11-21T17:00:00Z")))
    );

    let endless = json(200, &" ".repeat(3 << 20));
    let (found, requests) = everywhere(endless).await;
    useless(&found, true, "answered with more than 2097152 bytes");
    assert_eq!(requests, 1);

    let other_day = json(200, POINT).insert_header("date", "Fri, 20 Nov 2020 17:00:00 GMT");
    let (found, requests) = everywhere(other_day).await;
    useless(&found, false, "says that it is 2020-11-20 17:00 GMT");
    assert_eq!(requests, 1);

    let moved =
        ResponseTemplate::new(302).insert_header("location", "http://elsewhere.example/points");
    let (found, requests) = everywhere(moved).await;
    useless(
        &found,
        false,
        "redirected to another host, http://elsewhere.example/points",
    );
    assert_eq!(requests, 1);

    // The point of a mirror that hands on the addresses of the original.
    let (found, requests) = everywhere(json(200, POINT)).await;
    useless(
        &found,
        false,
        "it leads to another host, https://api.weather.gov/gridpoints/ABC/12,34",
    );
    assert_eq!(requests, 1);
}

#[tokio::test]
async fn the_address_that_the_service_prefers_is_followed() {
    let service = Service::open(mild).await;
    let body = POINT.replace("https://api.weather.gov", &service.0.uri());
    service
        .mount(1, "/points/42.50,-74.0", json(200, &body))
        .await;
    let moved = ResponseTemplate::new(301).insert_header("location", "/points/42.50,-74.0");
    let service = service.instead(POINTS, moved).await;
    assert_eq!(service.heard().await.days.len(), 5);
}

/// The forecast with one text replaced is not used; the reports are.
async fn no_forecast(from: &str, to: &str, told: &str) {
    assert!(GRID.contains(from), "{from}");
    let grid = json(200, &GRID.replace(from, to));
    let service = Service::open(mild).await.instead(CELL, grid).await;
    let found = service.heard().await;
    assert_eq!(found.days, measured(), "{told}");
    assert!(found.passing);
    let place = "/gridpoints/ABC/12,34)";
    let said = |problem: &Problem| problem.what.contains(told) && problem.place.ends_with(place);
    assert!(found.problems.iter().any(said), "{:?}", found.problems);
}

#[tokio::test]
async fn a_forecast_that_was_not_asked_for_is_not_used() {
    no_forecast(
        "2026-11-20T15:41",
        "2026-11-19T15:41",
        "it was updated at 2026-11-19 15:41 GMT, more than 24 hours from now",
    )
    .await;
    no_forecast("degC", "K", "maxTemperature is in 'K' and not in degC").await;
    no_forecast(
        "\"uom\"",
        "\"unit\"",
        "maxTemperature is in 'nothing' and not in degC",
    )
    .await;
    no_forecast(
        "\"minTemperature\"",
        "\"lowTemperature\"",
        "it has no minTemperature",
    )
    .await;
    no_forecast("PT13H", "P1M", "years and months have no certain length").await;
    no_forecast(
        "PT14H",
        "PT72H",
        "maxTemperature from 2026-11-25 12:00 GMT on is for 72 hours at once, and 6 more like it",
    )
    .await;
}

#[tokio::test]
async fn a_forecast_of_nothing_but_nulls_is_said() {
    let mut grid: Value = serde_json::from_str(GRID).unwrap();
    for value in grid["properties"]["maxTemperature"]["values"]
        .as_array_mut()
        .unwrap()
    {
        value["value"] = Value::Null;
    }
    let service = Service::open(mild)
        .await
        .instead(CELL, json(200, &grid.to_string()))
        .await;
    let found = service.heard().await;
    assert_eq!(found.days, measured());
    assert_eq!(whats(&found), ["it has no whole day to come"]);
}

#[tokio::test]
async fn a_server_that_takes_too_long_or_is_not_there_is_left() {
    let late = json(200, "{}").set_delay(Duration::from_secs(30));
    let service = Service(MockServer::start().await);
    Mock::given(any())
        .respond_with(late)
        .mount(&service.0)
        .await;
    let patience = Patience {
        whole: Duration::from_millis(200),
        ..QUICK
    };
    let source = UsWeatherService::new(
        &site(America::New_York),
        settings(&service.0.uri()),
        patience,
    )
    .unwrap();
    useless(
        &source.fetch(ask(None)).await,
        true,
        "gave no whole answer within 0.2 s",
    );

    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let url = format!("http://{}", listener.local_addr().unwrap());
    drop(listener);
    let source = UsWeatherService::new(&site(America::New_York), settings(&url), QUICK).unwrap();
    let found = source.fetch(ask(None)).await;
    useless(
        &found,
        true,
        &format!("{url}{POINTS} could not be reached: Connection refused"),
    );
}

#[test]
fn what_cannot_be_asked_is_said_at_the_start() {
    let told = |change: fn(&mut Settings)| {
        let mut settings = settings("https://api.weather.gov");
        change(&mut settings);
        let made = UsWeatherService::new(&site(America::New_York), settings, QUICK);
        made.unwrap_err().to_string()
    };
    assert_eq!(
        told(|s| s.contact = " ".into()),
        "site hill, us-weather-service: the service answers only those who say how they can be reached, and there is no contact; this source is not used. Write an e-mail address or a web page as contact."
    );
    assert_eq!(
        told(|s| s.station = Some("../points".into())),
        "site hill, us-weather-service: '../points' is not the name of a station; this source is not used. Write the letters that it goes by, like KDCA, or leave it out."
    );
    assert_eq!(
        told(|s| s.url = Some("weather".into())),
        "site hill, us-weather-service: its url is not a web address; this source is not used. Write it like https://api.weather.gov."
    );
}

#[test]
fn letters_and_check_say_whose_data_these_are_and_for_what() {
    let settings = Settings {
        url: None,
        ..settings("")
    };
    let source = UsWeatherService::new(&site(America::New_York), settings, QUICK).unwrap();
    assert_eq!(source.name(), "us-weather-service");
    assert_eq!(source.host().as_deref(), Some("api.weather.gov:443"));
    assert_eq!(
        source.attribution(),
        "Source: NOAA National Weather Service."
    );
    assert!(source.terms().contains("public domain, any use"));
}
