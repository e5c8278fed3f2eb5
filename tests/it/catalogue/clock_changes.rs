//! Days of 23, 24 and 25 hours, north and south and where clocks differ by half an hour: the service behind one that
//! fails gives hours, and each date gets those that are its own.

use super::{Log, QUICK, date, house, moment, run, series};
use crate::program::Nursery;
use crate::scripted_server::{Scripted, html, json};
use crate::weather_server::answer;
use chrono::{DateTime, Days, TimeDelta, Utc};
use chrono_tz::{Asia, Australia, Europe, Tz};
use graftwarden::days::Origin;

const PLACE: (f64, f64) = (51.0, 13.5);

/// The date of a zone from its first full hour in GMT to its last: 30 °C at the first and -1 °C at the last, and outside
/// the two what would be noticed.
#[track_caller]
fn check(zone: Tz, day: &str, first: &str, last: &str, hours: i64) {
    let (first, last) = (moment(first), moment(last));
    assert_eq!((last - first).num_hours() + 1, hours, "the test itself");
    let temperature = move |at: DateTime<Utc>| {
        let hour = (at - first).num_hours();
        Some(match hour {
            0 => 30.0,
            _ if at == last => -1.0,
            -1 => -9.0,
            _ if at == last + TimeDelta::hours(1) => 40.0,
            _ => 12.0,
        })
    };
    let now = last + TimeDelta::hours(8);
    let (failing, good) = (Scripted::start(), Scripted::start());
    failing.says(html(502, "<h1>502</h1>"));
    let from = now.date_naive() - Days::new(4);
    good.says(json(200, answer(PLACE, from, 7, temperature).to_string()));
    let (nursery, log) = (nursery(day), Log::default());
    let sites = format!(
        "[[site]]\nid = \"home\"\nlatitude = {}\nlongitude = {}\nzone = \"{zone}\"\n\
         [[site.weather]]\nsource = \"met-norway\"\nurl = \"{}/v1\"\n\
         [[site.weather]]\nsource = \"open-meteo\"\nurl = \"{}/v1\"\npast_days = 3\nforecast_days = 2\n",
        PLACE.0,
        PLACE.1,
        failing.url(),
        good.url()
    );
    let house = house(&nursery, &sites, now, QUICK);
    run(&house, &log);
    let lines = log.take();
    assert_eq!(lines.len(), 1, "{lines:?}");
    assert!(lines[0].contains("answered 502"), "{lines:?}");
    let series = series(&house);
    let found = series.day(date(day)).unwrap();
    assert_eq!((found.min, found.max), (-1.0, 30.0), "{found:?}");
    assert_eq!(
        (found.origin, series.source(found)),
        (Origin::Modelled, "open-meteo")
    );
    let before = series.day(date(day) - Days::new(1)).unwrap();
    assert_eq!((before.min, before.max), (-9.0, 12.0), "{before:?}");
}

/// One batch, grafted some days before.
fn nursery(day: &str) -> Nursery {
    let grafted = date(day) - Days::new(3);
    let row = format!("A1,A,maple field T-graft,Ember Lace,310,{grafted}\n");
    let batches = super::BATCHES.lines().next().unwrap();
    Nursery::bare().with("batches.csv", &format!("{batches}\n{row}"))
}

#[test]
fn twenty_four_hours() {
    check(
        Europe::Berlin,
        "2024-07-16",
        "2024-07-15T22:00:00Z",
        "2024-07-16T21:00:00Z",
        24,
    );
}

#[test]
fn spring_in_the_north() {
    check(
        Europe::Berlin,
        "2024-03-31",
        "2024-03-30T23:00:00Z",
        "2024-03-31T21:00:00Z",
        23,
    );
}

#[test]
fn autumn_in_the_north() {
    check(
        Europe::Berlin,
        "2024-10-27",
        "2024-10-26T22:00:00Z",
        "2024-10-27T22:00:00Z",
        25,
    );
}

#[test]
fn spring_in_the_south() {
    check(
        Australia::Melbourne,
        "2024-10-06",
        "2024-10-05T14:00:00Z",
        "2024-10-06T12:00:00Z",
        23,
    );
}

#[test]
fn autumn_in_the_south() {
    check(
        Australia::Melbourne,
        "2024-04-07",
        "2024-04-06T13:00:00Z",
        "2024-04-07T13:00:00Z",
        25,
    );
}

/// Half an hour off: 9:30 hours before Greenwich, 10:30 in summer. The full hours strike at 00:30.
#[test]
fn a_year_of_half_hours() {
    let zone = Australia::Adelaide;
    check(
        zone,
        "2024-07-16",
        "2024-07-15T15:00:00Z",
        "2024-07-16T14:00:00Z",
        24,
    );
    check(
        zone,
        "2024-10-06",
        "2024-10-05T15:00:00Z",
        "2024-10-06T13:00:00Z",
        23,
    );
    check(
        zone,
        "2024-04-07",
        "2024-04-06T14:00:00Z",
        "2024-04-07T14:00:00Z",
        25,
    );
    check(
        Asia::Kolkata,
        "2024-07-16",
        "2024-07-15T19:00:00Z",
        "2024-07-16T18:00:00Z",
        24,
    );
}

/// The day after a clock change and the week around it have their own hours again.
#[test]
fn the_days_around_a_clock_change() {
    check(
        Europe::Berlin,
        "2024-03-30",
        "2024-03-29T23:00:00Z",
        "2024-03-30T22:00:00Z",
        24,
    );
    check(
        Europe::Berlin,
        "2024-04-01",
        "2024-03-31T22:00:00Z",
        "2024-04-01T21:00:00Z",
        24,
    );
    check(
        Europe::Berlin,
        "2024-10-28",
        "2024-10-27T23:00:00Z",
        "2024-10-28T22:00:00Z",
        24,
    );
}
