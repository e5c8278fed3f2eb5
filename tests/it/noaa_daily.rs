//! NOAA's daily station values, over HTTP and from files, and every way in which they can be of no use.

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use chrono_tz::America;
use graftwarden::days::{Origin, RawDay};
use graftwarden::nursery::Site;
use graftwarden::weather::http::Patience;
use graftwarden::weather::noaa_daily::{NoaaDaily, Settings};
use graftwarden::weather::{Ask, Fetched, Source};
use std::net::{Ipv4Addr, TcpListener};
use std::path::Path;
use std::time::Duration;
use wiremock::matchers::any;
use wiremock::{Mock, MockServer, ResponseTemplate};

const DAYS: &str = include_str!("../data/weather/noaa-days.json");
const ERROR: &str = include_str!("../data/weather/noaa-error.json");
const MENDED: &str = include_str!("../data/weather/noaa-503.html");
const STATION: &str = "USW00990011";

/// One retry without a pause.
const QUICK: Patience = Patience {
    connect: Duration::from_millis(200),
    whole: Duration::from_secs(10),
    retries: 1,
    pause: Duration::ZERO,
    longest_pause: Duration::ZERO,
};

fn site() -> Site {
    Site {
        id: "hill".into(),
        latitude: 42.5,
        longitude: -74.0,
        elevation: None,
        zone: America::New_York,
        standard_day: None,
    }
}

fn settings(url: &str) -> Settings {
    Settings {
        url: Some(url.into()),
        station: Some(STATION.into()),
        path: None,
        contact: "office@alderfold.example".into(),
    }
}

fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// On the evening of 9 October in New York.
fn ask(from: &str) -> Ask {
    Ask {
        now: moment("2026-10-10T03:00:00Z"),
        from: day(from),
        memo: None,
    }
}

fn json(status: u16, body: &str) -> ResponseTemplate {
    ResponseTemplate::new(status).set_body_raw(body, "application/json")
}

async fn saying(response: ResponseTemplate) -> MockServer {
    let server = MockServer::start().await;
    Mock::given(any())
        .respond_with(response)
        .mount(&server)
        .await;
    server
}

/// What a server that says this to every request is worth, and how often it is asked.
async fn heard(response: ResponseTemplate, from: &str) -> (Fetched, usize) {
    let server = saying(response).await;
    let source = NoaaDaily::new(&site(), settings(&server.uri()), QUICK).unwrap();
    let found = source.fetch(ask(from)).await;
    (found, server.received_requests().await.unwrap().len())
}

fn row(date: &str, min: f64, max: f64, gust: Option<f64>, rain: Option<f64>) -> RawDay {
    RawDay {
        date: day(date),
        min,
        max,
        gust,
        rain,
        origin: Origin::Measured,
    }
}

fn told(found: &Fetched) -> Vec<String> {
    found.problems.iter().map(ToString::to_string).collect()
}

#[tokio::test]
async fn rows_become_measured_days() {
    let server = saying(json(200, DAYS)).await;
    let source = NoaaDaily::new(&site(), settings(&server.uri()), QUICK).unwrap();
    let found = source.fetch(ask("2026-10-01")).await;
    assert!(found.answered);
    // Read off the file by eye: the maximum of the 2nd failed a check, the 4th has no row, the 5th no minimum. A gust of
    // 12.5 m/s is one of 45 km/h.
    assert_eq!(
        found.days,
        [
            row("2026-10-01", 8.9, 20.6, Some(45.0), Some(0.0)),
            row("2026-10-03", 4.4, 18.3, None, Some(12.7)),
            row("2026-10-06", -0.6, 14.4, None, None),
        ]
    );
    assert_eq!(
        told(&found),
        [
            "site hill, noaa-daily: TMAX of 2026-10-02: it failed a check of NOAA's (flag S: far from its neighbour stations); left out. Nothing to do: such days come from the next source or are filled."
        ]
    );
    let requests = server.received_requests().await.unwrap();
    assert_eq!(
        requests[0].url.query(),
        Some(
            "dataset=daily-summaries&stations=USW00990011&startDate=2026-10-01&endDate=2026-10-08&dataTypes=TMAX%2CTMIN%2CPRCP%2CWSFG&units=metric&includeAttributes=true&format=json"
        )
    );
    let agent = requests[0].headers["user-agent"].to_str().unwrap();
    assert!(agent.ends_with(" (office@alderfold.example)"), "{agent}");
}

#[tokio::test]
async fn days_outside_of_what_was_asked_for_are_not_handed_on() {
    let (found, _) = heard(json(200, DAYS), "2026-10-03").await;
    let dates: Vec<_> = found.days.iter().map(|d| d.date.day()).collect();
    assert_eq!(dates, [3, 6]);
    let today = DAYS.replace("2026-10-06", "2026-10-09");
    let (found, _) = heard(json(200, &today), "2026-10-03").await;
    let dates: Vec<_> = found.days.iter().map(|d| d.date.day()).collect();
    assert_eq!(dates, [3]);
}

#[tokio::test]
async fn nothing_is_asked_where_no_day_has_passed() {
    let (found, requests) = heard(json(200, DAYS), "2026-10-09").await;
    assert_eq!((found.answered, found.days.len(), requests), (true, 0, 0));
    assert_eq!(found.problems, []);
}

#[tokio::test]
async fn nothing_newer_is_fine_and_nothing_for_long_is_not() {
    let (found, _) = heard(json(200, "[ ]"), "2026-10-01").await;
    assert!(found.answered);
    assert_eq!(found.problems, []);
    let (found, _) = heard(json(200, "[ ]"), "2026-09-01").await;
    assert!(found.answered && !found.passing);
    assert!(
        told(&found)[0].contains("station USW00990011 has no whole day of the last 38; the days already known stay in use. Look at the station's name"),
        "{:?}",
        found.problems
    );
}

#[tokio::test]
async fn a_station_that_is_read_in_the_morning_is_told_under_one_key() {
    let morning = DAYS.replace("2400", "0700");
    let (found, _) = heard(json(200, &morning), "2026-10-01").await;
    assert_eq!(found.days.len(), 3);
    assert_eq!(
        told(&found)[1],
        "site hill, noaa-daily: it is read at 07:00: its maximum usually belongs to the day before; used as it stands. Take a station that is read at midnight where there is one, such as those whose name begins with USW."
    );
    let (later, _) = heard(json(200, &morning), "2026-10-03").await;
    assert_eq!(later.problems.last().unwrap().key, found.problems[1].key);
}

/// Nothing came of it but one problem.
#[track_caller]
fn useless(found: &Fetched, passing: bool, part: &str) {
    assert!(!found.answered);
    assert_eq!(found.passing, passing);
    assert_eq!(found.days, []);
    let told = told(found);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].contains(part), "{told:?}");
    assert!(told[0].starts_with("site hill, noaa-daily"), "{told:?}");
    assert!(
        told[0].contains("the days already known stay in use"),
        "{told:?}"
    );
}

#[tokio::test]
async fn what_passes_is_asked_again_and_what_is_refused_is_not() {
    let page = |status| {
        ResponseTemplate::new(status).set_body_raw(MENDED, "text/html; charset=iso-8859-1")
    };
    for (response, part) in [
        (page(503), "answered 503: <!DOCTYPE HTML"),
        (page(200), "its content type is not JSON"),
        (
            json(200, &DAYS[..300]),
            "answered with something else than was asked for",
        ),
    ] {
        let (found, requests) = heard(response, "2026-10-01").await;
        useless(&found, true, part);
        assert_eq!(requests, 2);
    }
    let (found, requests) = heard(json(429, "{}"), "2026-10-01").await;
    useless(&found, true, "answered 429: {}");
    assert_eq!(
        (requests, found.not_before),
        (1, Some(moment("2026-10-10T04:00:00Z")))
    );
    let (found, requests) = heard(json(400, ERROR), "2026-10-01").await;
    useless(
        &found,
        false,
        "answered 400: Bad Request - the station is not valid.",
    );
    assert_eq!(requests, 1);
    let (found, requests) = heard(page(404), "2026-10-01").await;
    useless(&found, false, "answered 404");
    assert_eq!(requests, 1);
    let (found, requests) = heard(page(403), "2026-10-01").await;
    useless(
        &found,
        false,
        "Look whether the contact in the config is one at which you can be reached",
    );
    assert_eq!(
        (requests, found.not_before),
        (1, Some(moment("2026-10-11T03:00:00Z")))
    );
    let (found, requests) = heard(json(200, &" ".repeat(3 << 20)), "2026-10-01").await;
    useless(&found, true, "answered with more than 2097152 bytes");
    assert_eq!(requests, 1);
    let other_day = json(200, DAYS).insert_header("date", "Fri, 20 Nov 2020 17:00:00 GMT");
    let (found, _) = heard(other_day, "2026-10-01").await;
    useless(&found, false, "says that it is 2020-11-20 17:00 GMT");
    let moved = ResponseTemplate::new(302).insert_header("location", "http://elsewhere.example/v1");
    let (found, _) = heard(moved, "2026-10-01").await;
    useless(&found, false, "redirected to another host");
}

#[tokio::test]
async fn a_document_that_was_not_asked_for_is_not_used() {
    let tenths = DAYS
        .replace("  18.3", "   183")
        .replace("   4.4", "    44")
        .replace("  20.6", "   206")
        .replace("   8.9", "    89")
        .replace("  14.4", "   144")
        .replace("  -0.6", "    -6")
        .replace("   7.2", "    72")
        .replace("  15.0", "   150");
    for (body, part) in [
        (tenths, "TMAX of 2026-10-01 is 206: its temperatures look like tenths of °C, not °C"),
        (
            r#"[{"DATE":"2026-10-01","STATION":"USW00990011","TMAX":"87","TMIN":"74","PRCP":"0.00"}]"#.into(),
            "TMAX of 2026-10-01 is 87: its temperatures look like °F or tenths of °C, not °C",
        ),
        (ERROR.into(), "it reports an error: Bad Request - the station is not valid."),
        (DAYS.replace(STATION, "USW00990012"), "it is of station 'USW00990012' and not of USW00990011"),
        (DAYS.replace("2026-10-03", "03.10.2026"), "'03.10.2026' is not a date like 2026-07-01"),
        (DAYS.replace("DATE", "DAY"), "'nothing' is not a date like 2026-07-01"),
    ] {
        let (found, requests) = heard(json(200, &body), "2026-10-01").await;
        useless(&found, false, part);
        assert_eq!(requests, 1);
    }
}

#[tokio::test]
async fn a_server_that_is_not_there_is_told_with_its_address() {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let url = format!("http://{}/data/v1", listener.local_addr().unwrap());
    drop(listener);
    let source = NoaaDaily::new(&site(), settings(&url), QUICK).unwrap();
    let found = source.fetch(ask("2026-10-01")).await;
    useless(&found, true, &format!("{url}?dataset=daily-summaries"));
    useless(&found, true, "could not be reached: Connection refused");
}

fn of_file(path: &Path) -> NoaaDaily {
    let settings = Settings {
        path: Some(path.to_owned()),
        ..Settings::default()
    };
    NoaaDaily::new(&site(), settings, QUICK).unwrap()
}

fn data(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data/weather")
        .join(name)
}

#[tokio::test]
async fn a_fixed_width_file_is_read() {
    let source = of_file(&data("noaa-station.dly"));
    let found = source.fetch(ask("2026-09-30")).await;
    assert!(found.answered);
    // Read off the file by eye: tenths; the maximum of the 3rd failed a check, the 4th has no minimum.
    assert_eq!(
        found.days,
        [
            row("2026-09-30", 10.0, 22.2, None, None),
            row("2026-10-01", 8.9, 20.6, None, Some(0.0)),
            row("2026-10-02", 7.2, 18.3, None, Some(12.7)),
        ]
    );
    assert_eq!(found.problems.len(), 1);
    assert!(told(&found)[0].contains("TMAX of 2026-10-03"));
    assert_eq!(source.host(), None);
}

#[tokio::test]
async fn a_file_of_rows_by_station_is_read() {
    let found = of_file(&data("noaa-station.csv"))
        .fetch(ask("2026-10-02"))
        .await;
    assert_eq!(
        found.days,
        [
            row("2026-10-02", 7.2, 18.3, None, None),
            row("2026-10-03", 4.4, 15.0, None, None)
        ]
    );
    assert!(
        told(&found)[0]
            .contains("it is read at 07:00: its maximum usually belongs to the day before")
    );
}

#[tokio::test]
async fn a_file_of_no_use_does_not_answer() {
    for (path, part) in [
        (data("no-such.dly"), "there is no such file"),
        (data(""), "this is a folder, not a file"),
        (
            data("noaa-503.html"),
            "its first line is none of a GHCN-Daily file",
        ),
        (data("three-days.json.gz"), "it is packed (gzip)"),
    ] {
        let found = of_file(&path).fetch(ask("2026-10-01")).await;
        assert!(!found.answered && !found.passing);
        assert_eq!(found.days, []);
        assert_eq!(found.problems.len(), 1);
        assert!(told(&found)[0].contains(part), "{:?}", found.problems);
    }
}

#[test]
fn what_cannot_be_asked_is_said_at_the_start() {
    let told = |settings: Settings| {
        NoaaDaily::new(&site(), settings, QUICK)
            .unwrap_err()
            .to_string()
    };
    let with = |change: fn(&mut Settings)| {
        let mut settings = settings("https://www.ncei.noaa.gov/access/services/data/v1");
        change(&mut settings);
        settings
    };
    assert_eq!(
        told(with(|s| s.station = None)),
        "site hill, noaa-daily: it does not say of which station; this source is not used. Write the 11 characters that NOAA's list of stations has for it, like USW00094728."
    );
    assert_eq!(
        told(with(|s| s.station = Some("KDCA".into()))),
        "site hill, noaa-daily: 'KDCA' is not the name of a station; this source is not used. Write the 11 characters that NOAA's list of stations has for it, like USW00094728."
    );
    assert_eq!(
        told(with(|s| s.path = Some("station.dly".into()))),
        "site hill, noaa-daily: it has both a url and a path; this source is not used. Leave one of them out."
    );
    assert_eq!(
        told(with(|s| s.url = Some("noaa".into()))),
        "site hill, noaa-daily: its url is not a web address; this source is not used. Write it like https://www.ncei.noaa.gov/access/services/data/v1."
    );
}

#[test]
fn letters_and_check_say_whose_data_these_are_and_for_what() {
    let settings = Settings {
        url: None,
        ..settings("")
    };
    let source = NoaaDaily::new(&site(), settings, QUICK).unwrap();
    assert_eq!(source.name(), "noaa-daily");
    assert_eq!(source.host().as_deref(), Some("www.ncei.noaa.gov:443"));
    assert_eq!(source.attribution(), "Source: NOAA NCEI, GHCN-Daily.");
    assert!(source.terms().contains("public domain"));
    assert!(source.terms().contains("notes of their own"));
}
