//! What services refuse with: too often, not allowed, out of order, elsewhere, another clock.

use super::Failure;
use crate::scripted_server::{Scripted, html, json, say};

const GATEWAY: &str = include_str!("../../data/weather/bad-gateway.html");

fn too_often(reason: &'static str) -> Failure {
    let body = format!(r#"{{"error":true,"reason":"{reason}"}}"#);
    Failure::of(move |_| json(429, &body))
}

#[test]
fn the_allowance_of_a_minute_is_spent() {
    too_often("Minutely API request limit exceeded. Please try again in one minute.")
        .asked(1, 1)
        .says("answered 429: Minutely API request limit exceeded.");
}

#[test]
fn the_allowance_of_an_hour_is_spent() {
    too_often("Hourly API request limit exceeded. Please try again in the next hour.")
        .asked(1, 1)
        .says("answered 429: Hourly API request limit exceeded.");
}

#[test]
fn the_allowance_of_a_day_is_spent() {
    // Until midnight in Greenwich: not asked in the evening.
    too_often("Daily API request limit exceeded. Please try again tomorrow.")
        .asked(1, 0)
        .says("answered 429: Daily API request limit exceeded.");
}

#[test]
fn too_many_ask_at_the_same_time() {
    too_often("Too many concurrent requests")
        .asked(2, 2)
        .says("answered 429: Too many concurrent requests");
}

#[test]
fn too_often_without_a_word() {
    Failure::of(|_| html(429, "<h1>429 Too Many Requests</h1>"))
        .asked(1, 1)
        .says("answered 429: <h1>429 Too Many Requests</h1>");
}

#[test]
fn too_often_for_met_norway() {
    Failure::of(|_| html(429, ""))
        .of_met_norway()
        .asked(1, 1)
        .says("answered 429");
}

#[test]
fn a_header_says_in_seconds_when_to_come_back() {
    // 13 hours: longer than until the evening.
    Failure::of(|_| say(503, &[("retry-after", "46800")], "closed"))
        .asked(1, 0)
        .says("answered 503: closed");
}

#[test]
fn a_header_says_by_the_calendar_when_to_come_back() {
    // By the server's own clock, which is what the real one says in this test.
    let now = chrono::Utc::now();
    let http =
        |at: chrono::DateTime<chrono::Utc>| at.format("%a, %d %b %Y %H:%M:%S GMT").to_string();
    let (date, later) = (http(now), http(now + chrono::TimeDelta::hours(13)));
    Failure::of(move |_| say(429, &[("date", &date), ("retry-after", &later)], "closed"))
        .asked(1, 0)
        .says("answered 429: closed");
}

#[test]
fn a_header_that_asks_for_a_year_gets_a_day() {
    // Asked again on the mornings of the 18th, 19th and 20th, or it could not have come back.
    Failure::of(|_| say(429, &[("retry-after", "31536000")], "closed"))
        .asked(1, 0)
        .says("answered 429: closed");
}

#[test]
fn shut_out() {
    Failure::of(|_| html(403, "<h1>403 Forbidden</h1>"))
        .asked(1, 0)
        .told()
        .says("answered 403: <h1>403 Forbidden</h1>; the days already known stay in use. Look at the key file and the contact in the config; it is asked again after a day.");
}

#[test]
fn shut_out_by_met_norway() {
    Failure::of(|_| html(403, "<h1>403 Forbidden</h1>"))
        .of_met_norway()
        .asked(1, 0)
        .told()
        .says("Look at contact in the config");
}

#[test]
fn the_question_is_refused() {
    let place = include_str!("../../data/weather/bad-place.json");
    Failure::of(move |_| json(400, place))
        .asked(1, 1)
        .told()
        .says("answered 400: Latitude must be in range of -90 to 90°");
}

#[test]
fn the_reason_stands_before_the_error() {
    let reversed = r#"{"reason":"Cannot resolve the cell","error":true}"#;
    Failure::of(move |_| json(400, reversed))
        .asked(1, 1)
        .told()
        .says("answered 400: Cannot resolve the cell");
}

#[test]
fn a_page_of_the_gateway() {
    for status in [502, 504] {
        Failure::of(move |_| html(status, GATEWAY)).says("<title>502 Bad Gateway</title>");
    }
}

#[test]
fn out_of_order_at_met_norway() {
    Failure::of(|_| html(502, GATEWAY))
        .of_met_norway()
        .says("answered 502: <html>");
}

#[test]
fn the_servers_clock_is_years_off() {
    Failure::of(|now| {
        let good = super::open_meteo(now, super::warmth(12.0, 25.0)).to_string();
        let headers = [
            ("content-type", "application/json"),
            ("date", "Tue, 14 Apr 2015 21:20:00 GMT"),
        ];
        say(200, &headers, good)
    })
    .asked(1, 1)
    .told()
    .says("says that it is 2015-04-14 21:20 GMT");
}

#[test]
fn a_question_with_a_key_is_led_elsewhere() {
    let elsewhere = Scripted::start();
    let other = elsewhere.url().replace("127.0.0.1", "localhost");
    Failure::of(move |_| say(302, &[("location", &other)], ""))
        .with_a_key()
        .asked(1, 1)
        .told()
        .says("leads elsewhere: redirected to another host, http://localhost");
    assert_eq!(elsewhere.heads(), [""; 0]);
}
