//! A farm's own station over HTTP: what its answers are worth, and every way in which one can be of no use.

use crate::weather_server::WeatherServer;
use chrono::NaiveDate;
use graftwarden::nursery::Site;
use graftwarden::weather::http::{Patience, SecretHeader};
use graftwarden::weather::layout::{Columns, Layout, Unit};
use graftwarden::weather::url::{Format, Settings, Station};
use graftwarden::weather::{Ask, Fetched, Source};
use std::time::Duration;
use wiremock::ResponseTemplate;

const SECRET: &str = "Bearer hazel-4711-rowan";

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
        latitude: 51.05,
        longitude: 13.75,
        elevation: None,
        zone: chrono_tz::Europe::Berlin,
        standard_day: None,
    }
}

fn daily() -> Layout {
    Layout {
        columns: Columns {
            date: Some("date".into()),
            min: Some("/t/lo".into()),
            max: Some("/t/hi".into()),
            ..Columns::default()
        },
        ..Layout::default()
    }
}

fn readings() -> Layout {
    Layout {
        columns: Columns {
            date: Some("time".into()),
            temp: Some("temp".into()),
            rain: Some("rain".into()),
            ..Columns::default()
        },
        ..Layout::default()
    }
}

fn settings(url: &str, format: Format, rows: &str, layout: Layout) -> Settings {
    Settings {
        url: url.into(),
        format,
        rows: rows.into(),
        layout,
        header: None,
        forecast: false,
        contact: "office@alderfold.example".into(),
    }
}

/// What the station says on the morning of 4 August 2026.
async fn ask(settings: Settings) -> Fetched {
    let station = Station::new(&site(), settings, QUICK).unwrap();
    let ask = Ask {
        now: "2026-08-04T06:00:00Z".parse().unwrap(),
        from: NaiveDate::from_ymd_opt(2026, 8, 1).unwrap(),
        memo: None,
    };
    station.fetch(ask).await
}

/// What comes of this answer: the days, then the problems with `URL` for the address.
async fn heard(
    body: ResponseTemplate,
    format: Format,
    rows: &str,
    layout: Layout,
    forecast: bool,
) -> (Vec<String>, bool) {
    let server = WeatherServer::saying(body).await;
    let settings = Settings {
        forecast,
        ..settings(&server.url(), format, rows, layout)
    };
    let fetched = ask(settings).await;
    let days = fetched.days.iter().map(|day| {
        let rain = day.rain.map_or(String::new(), |mm| format!(" {mm} mm"));
        format!(
            "{} {:.1} {:.1} {}{rain}",
            day.date,
            day.min,
            day.max,
            day.origin.name()
        )
    });
    let told = fetched
        .problems
        .iter()
        .map(|p| p.to_string().replace(&server.url(), "URL"));
    (days.chain(told).collect(), fetched.answered)
}

fn json(body: &str) -> ResponseTemplate {
    ResponseTemplate::new(200).set_body_raw(body, "application/json")
}

fn text(body: &str) -> ResponseTemplate {
    ResponseTemplate::new(200).set_body_raw(body, "text/plain")
}

const DAYS: &str = r#"{"station":"gate","days":[
  {"date":"2026-07-31","t":{"lo":9,"hi":19}},
  {"date":"2026-08-01","t":{"lo":8.5,"hi":20}},
  {"date":"2026-08-02","t":{"lo":-9999,"hi":21}},
  {"date":"2026-08-03","t":{"lo":"9,5 °C","hi":"71.6 °F"}},
  {"date":"2026-08-04","t":{"lo":10,"hi":11}},
  {"date":"2026-08-05","t":{"lo":11,"hi":23}}]}"#;

#[tokio::test]
async fn a_list_of_objects_becomes_days() {
    let (found, answered) = heard(json(DAYS), Format::Json, "/days", daily(), false).await;
    assert_eq!(
        found,
        [
            "2026-08-01 8.5 20.0 measured",
            "2026-08-03 9.5 22.0 measured"
        ]
    );
    assert!(answered);
}

#[tokio::test]
async fn days_that_are_not_over_are_a_forecast_where_the_config_says_so() {
    // A small server that calls its JSON something else.
    let (found, _) = heard(text(DAYS), Format::Json, "/days", daily(), true).await;
    assert_eq!(
        found[1..],
        [
            "2026-08-03 9.5 22.0 measured",
            "2026-08-04 10.0 11.0 forecast",
            "2026-08-05 11.0 23.0 forecast"
        ]
    );
}

#[tokio::test]
async fn an_object_of_lists_becomes_days() {
    // 21:30 in Greenwich is 23:30 of the same day in Berlin, 22:30 is the next day there.
    let body = r#"{"hourly":{
        "time":["2026-08-01T04:00Z","2026-08-01T21:30Z","2026-08-01T22:30Z","2026-08-02T14:00Z","2026-08-03T04:00Z"],
        "temp":[7.5,15,14,22.5,1],"rain":[0.5,1,0,0.2,null]}}"#;
    let (found, _) = heard(json(body), Format::Json, "/hourly", readings(), false).await;
    assert_eq!(
        found,
        [
            "2026-08-01 7.5 15.0 measured 1.5 mm",
            "2026-08-02 14.0 22.5 measured 0.2 mm"
        ]
    );
}

#[tokio::test]
async fn a_csv_file_becomes_days() {
    let layout = Layout {
        unit: Some(Unit::F),
        date_format: Some("%d.%m.%Y".into()),
        ..Layout::default()
    };
    let body = "Station gate\r\n\r\nDate;Low;High\r\n01.08.2026;46,4;68\r\n03.08.2026;warm;70\r\n";
    let (found, answered) = heard(text(body), Format::Csv, "", layout, false).await;
    assert_eq!(
        found,
        [
            "2026-08-01 8.0 20.0 measured",
            "site hill, url (URL), row 5, column Low: 'warm' is not a temperature; this row is not used. Correct it, or leave the cell empty where nothing was measured.",
        ]
    );
    assert!(answered);
}

/// Nothing comes of the answer but one sentence, which ends like this.
async fn check_useless(body: ResponseTemplate, format: Format, rows: &str, ends: &str) {
    let (found, answered) = heard(body, format, rows, daily(), false).await;
    assert!(!answered);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].starts_with("site hill, url"), "{}", found[0]);
    assert!(found[0].ends_with(ends), "{}", found[0]);
}

#[tokio::test]
async fn an_answer_of_no_use_says_why() {
    check_useless(
        json(DAYS),
        Format::Json,
        "/data",
        "(URL): there is nothing at /data; there is station, days; the days already known stay in use. Correct rows in the config.",
    )
    .await;
    check_useless(
        json(r#"[{"date":"2026-08-01","lo":8}]"#),
        Format::Json,
        "",
        "(URL): no row has /t/lo; the first one: there is date, lo; the days already known stay in use. Correct min under columns in the config.",
    )
    .await;
    check_useless(
        json(r#"{"date":["2026-08-01"],"t":{"lo":[8,9],"hi":[20]}}"#),
        Format::Json,
        "",
        "date has 1 values and /t/lo has 2: which belong together is not known; the days already known stay in use. It is asked again at the next round; if it lasts, mend the station.",
    )
    .await;
    check_useless(
        json("[]"),
        Format::Json,
        "",
        "(URL): there is no row with a date in it below the header; nothing was read from it, what was read before stays in force. See that the file is whole, and set date_format where its dates are not written year first.",
    )
    .await;
}

#[tokio::test]
async fn a_page_is_no_answer() {
    let page = "<!DOCTYPE html><html><body>Welcome to our guest network</body></html>";
    for format in [Format::Json, Format::Csv] {
        let (found, answered) = heard(text(page), format, "", daily(), false).await;
        assert!(!answered);
        assert_eq!(found.len(), 1);
        assert!(
            found[0].contains("Welcome to our guest network"),
            "{}",
            found[0]
        );
        assert!(found[0].contains("the days already known stay in use"));
    }
}

#[tokio::test]
async fn half_a_document_and_a_huge_one_are_no_answers() {
    let (half, _) = heard(json(&DAYS[..90]), Format::Json, "/days", daily(), false).await;
    assert!(half[0].contains("EOF while parsing"), "{}", half[0]);
    let huge = "date,low,high\n".to_owned() + &"2026-08-01,8,20\n".repeat(140_000);
    check_useless(
        text(&huge),
        Format::Csv,
        "",
        "URL answered with more than 2097152 bytes; the days already known stay in use. Let the station answer with the last weeks only.",
    )
    .await;
}

#[tokio::test]
async fn the_secret_goes_along_and_stands_in_no_message() {
    let said = ResponseTemplate::new(403).set_body_string("no entry for hazel-4711-rowan");
    let server = WeatherServer::saying(said).await;
    let header = SecretHeader {
        name: "Authorization".into(),
        value: SECRET.into(),
    };
    let asked = Settings {
        header: Some(header),
        ..settings(&server.url(), Format::Json, "", daily())
    };
    assert!(!format!("{asked:?}").contains("4711"));
    let fetched = ask(asked).await;
    let told = fetched.problems[0].to_string();
    assert!(told.contains("no entry for [key]"), "{told}");
    assert!(
        told.ends_with("Look at header_file in the config."),
        "{told}"
    );
    let requests = server.requests().await;
    assert_eq!(requests.len(), 1);
    assert_eq!(requests[0].headers["authorization"], SECRET);
}

#[tokio::test]
async fn an_address_beyond_the_own_network_needs_https() {
    let refused = |url: &str| {
        Station::new(&site(), settings(url, Format::Json, "", daily()), QUICK)
            .err()
            .map(|problem| problem.to_string())
    };
    assert_eq!(
        refused("http://weather.alderfold.example/days").unwrap(),
        "site hill, url: http://weather.alderfold.example/days would be asked over an open connection; this source is not used. Write https; plain http goes to your own network only."
    );
    assert!(refused("days.json").unwrap().contains("not a web address"));
    assert_eq!(refused("http://192.168.1.20/days"), None);
    assert_eq!(refused("https://weather.alderfold.example/days"), None);
}
