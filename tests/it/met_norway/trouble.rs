//! The ways in which an answer of MET Norway can be of no use.

use super::*;

#[tokio::test]
async fn what_is_out_of_order_may_pass_and_what_is_refused_may_not() {
    let page = include_str!("../../data/weather/bad-gateway.html");
    for status in [500, 502, 503, 504] {
        let (found, requests) = heard(html(status, page)).await;
        useless(
            &found,
            &format!("answered {status}: <html> <head><title>502 Bad Gateway"),
        );
        assert_eq!(requests, 3);
        assert!(found.passing);
        assert_eq!(found.not_before, None);
    }
    let page = include_str!("../../data/weather/met-norway-refusal.html");
    let (found, requests) = heard(html(400, page)).await;
    useless(&found, "answered 400: <html> <head><title>400 Bad Request");
    assert_eq!(requests, 1);
    assert!(!found.passing);
}

#[tokio::test]
async fn what_passes_within_the_fetch_is_not_told() {
    let page = include_str!("../../data/weather/bad-gateway.html");
    let server = WeatherServer::saying(json(200, FIXTURE))
        .await
        .first(html(502, page))
        .await;
    let found = source(&server.url(), Europe::Oslo).fetch(ask()).await;
    assert_eq!(found.problems, []);
    assert_eq!(found.days.len(), 4);
}

#[tokio::test]
async fn a_200_is_no_success_yet() {
    let (found, _) = heard(json(200, &FIXTURE[..9000])).await;
    useless(
        &found,
        "answered with something else than was asked for (EOF while parsing",
    );
    assert!(found.passing);
    let portal = "<html><body>Welcome to our guest network</body></html>";
    let (found, _) = heard(html(200, portal)).await;
    useless(&found, "its content type is not JSON");
    useless(&found, "Welcome to our guest network");
    let (found, _) = heard(json(200, portal)).await;
    useless(&found, "expected value at line 1 column 1");
    let (found, _) = heard(json(200, "")).await;
    useless(&found, "EOF while parsing");
    let renamed = FIXTURE.replace("timeseries", "series");
    let (found, _) = heard(json(200, &renamed)).await;
    useless(&found, "missing field `timeseries`");
    let text = FIXTURE.replacen(r#""air_temperature":6.1"#, r#""air_temperature":"6.1""#, 1);
    let (found, _) = heard(json(200, &text)).await;
    useless(&found, "invalid type: string");
}

#[tokio::test]
async fn an_answer_that_was_not_asked_for_is_not_used() {
    for (from, to, told) in [
        (
            r#""air_temperature":"celsius""#,
            r#""air_temperature":"fahrenheit""#,
            "air_temperature is in 'fahrenheit' and not in celsius",
        ),
        (
            "[9.5678,",
            "[-9.5678,",
            "it is for latitude 59.1235, longitude -9.5678, not for the site at 59.1234567, 9.5678",
        ),
        (
            "2026-04-14T20:41:07Z",
            "2026-04-13T21:19:59Z",
            "it was made on 2026-04-13T21:19:59Z, more than a day ago",
        ),
        (
            "2026-04-15T08:00:00Z",
            "2026-04-15T06:00:00Z",
            "its times are not in order before 2026-04-15T06:00:00Z",
        ),
    ] {
        assert!(FIXTURE.contains(from), "{from}");
        let (found, requests) = heard(json(200, &FIXTURE.replacen(from, to, 1))).await;
        useless(&found, told);
        useless(&found, "/v1/forecast)");
        assert_eq!(requests, 1);
    }
}

#[tokio::test]
async fn a_server_whose_clock_is_years_off_is_not_believed() {
    let past = json(200, FIXTURE).insert_header("date", "Tue, 14 Apr 2015 21:20:00 GMT");
    let (found, requests) = heard(past).await;
    useless(&found, "says that it is 2015-04-14 21:20 GMT");
    assert_eq!(requests, 1);
    assert!(!found.passing);
}

#[tokio::test]
async fn a_value_that_cannot_be_is_unknown_and_told() {
    let wild = FIXTURE.replacen(r#""air_temperature":12.1"#, r#""air_temperature":1210"#, 1);
    let (found, _) = heard(json(200, &wild)).await;
    let told: Vec<_> = found.problems.iter().map(|p| p.what.as_str()).collect();
    assert_eq!(told, ["1210 °C at 2026-04-15T13:00:00Z cannot be"]);
    // The six hours around it still say 12.2.
    assert_eq!((found.days[0].min, found.days[0].max), (2.4, 12.2));
}
