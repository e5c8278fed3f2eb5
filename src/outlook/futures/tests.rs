//! Every rule of the continuation on days whose heat can be added up by hand: a day of mean 5 + h gives h °C·d.

use super::*;
use crate::nursery::{Cutoff, Method};

fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn average() -> Model {
    Model::new(Method::Average, Cutoff::None, 5.0, None, None).unwrap()
}

fn day(heat: f64, trust: Trust) -> Warm {
    let (min, max) = (heat, heat + 10.0);
    Warm { min, max, trust }
}

#[expect(clippy::unnecessary_wraps, reason = "as a day stands in a run")]
fn known(heat: f64) -> Option<Warm> {
    Some(day(heat, Trust::Known))
}

#[expect(clippy::unnecessary_wraps, reason = "as a day stands in a run")]
fn foretold(heat: f64) -> Option<Warm> {
    Some(day(heat, Trust::Forecast))
}

/// A year whose every day from one date to another gives so much heat.
fn add_year(past: &mut PastYears, from: &str, to: &str, heat: f64) {
    for day in date(from).iter_days().take_while(|d| *d <= date(to)) {
        past.add(day.year(), day, heat, heat + 10.0);
    }
}

/// Two summers before: 10 and 20 °C·d a day.
fn two_years() -> PastYears {
    let mut past = PastYears::default();
    add_year(&mut past, "2024-06-01", "2024-09-30", 10.0);
    add_year(&mut past, "2025-06-01", "2025-09-30", 20.0);
    past
}

fn futures_of(days: &[Option<Warm>], past: &PastYears, through: &str, horizon: &str) -> Futures {
    let first = date("2026-07-01");
    let known = Known {
        first,
        days,
        past,
        through: date(through),
        from: first,
    };
    Futures::new(&average(), known, date(horizon))
}

#[track_caller]
fn check(futures: &Futures, anchor: &str, need: f64, expected: &[Option<&str>]) {
    let found: Vec<_> = futures
        .reached(date(anchor), DegreeDays(need))
        .map(|(_, day)| day)
        .collect();
    let expected: Vec<_> = expected.iter().map(|day| day.map(date)).collect();
    assert_eq!(found, expected);
}

#[test]
fn each_year_before_continues_the_known_days() {
    let futures = futures_of(&[known(15.0); 5], &two_years(), "2026-07-05", "2026-07-31");
    assert_eq!(
        (futures.members(), futures.left_out(), futures.is_rough()),
        (2, 0, false)
    );
    // 75 by 5 July.
    check(&futures, "2026-06-30", 75.0, &[Some("2026-07-05"); 2]);
    check(&futures, "2026-06-30", 75.1, &[Some("2026-07-06"); 2]);
    check(
        &futures,
        "2026-06-30",
        115.0,
        &[Some("2026-07-07"), Some("2026-07-09")],
    );
    check(
        &futures,
        "2026-07-03",
        50.0,
        &[Some("2026-07-06"), Some("2026-07-07")],
    );
    // Nothing but days to come.
    check(
        &futures,
        "2026-07-20",
        40.0,
        &[Some("2026-07-22"), Some("2026-07-24")],
    );
    check(&futures, "2026-07-05", 300.0, &[Some("2026-07-20"), None]);
    check(&futures, "2026-07-02", 0.0, &[Some("2026-07-02"); 2]);
}

#[test]
fn the_forecast_comes_first() {
    let mut days = vec![known(15.0); 5];
    days.extend([foretold(1.0); 3]);
    let futures = futures_of(&days, &two_years(), "2026-07-05", "2026-07-31");
    check(&futures, "2026-07-05", 3.0, &[Some("2026-07-08"); 2]);
    check(
        &futures,
        "2026-07-05",
        43.0,
        &[Some("2026-07-10"), Some("2026-07-12")],
    );
}

#[test]
fn what_came_to_pass_later_is_not_looked_at() {
    let futures = futures_of(&[known(15.0); 20], &two_years(), "2026-07-05", "2026-07-31");
    check(
        &futures,
        "2026-07-05",
        40.0,
        &[Some("2026-07-07"), Some("2026-07-09")],
    );
    // Nor a year that is not over.
    let mut past = two_years();
    add_year(&mut past, "2026-06-01", "2026-09-30", 99.0);
    assert_eq!(
        futures_of(&[known(15.0); 5], &past, "2026-07-05", "2027-06-30").members(),
        0
    );
}

#[test]
fn a_day_missing_now_is_the_years_before_too() {
    let days = [known(15.0), None, known(15.0)];
    let futures = futures_of(&days, &two_years(), "2026-07-03", "2026-07-31");
    check(
        &futures,
        "2026-06-30",
        45.0,
        &[Some("2026-07-03"), Some("2026-07-04")],
    );
    check(
        &futures,
        "2026-06-30",
        35.0,
        &[Some("2026-07-02"), Some("2026-07-03")],
    );
}

#[test]
fn what_is_missing_before_anybody_asks_costs_nothing() {
    let mut past = PastYears::default();
    add_year(&mut past, "2025-07-04", "2025-07-31", 20.0);
    let days = [known(15.0), None, known(15.0)];
    let first = date("2026-07-01");
    let asks = |from| Known {
        first,
        days: &days,
        past: &past,
        through: date("2026-07-03"),
        from: date(from),
    };
    let members = |from| Futures::new(&average(), asks(from), date("2026-07-31")).members();
    assert_eq!(members("2026-07-01"), 0);
    assert_eq!(members("2026-07-03"), 1);
}

#[test]
fn a_year_with_a_gap_is_left_out_and_one_without_the_season_is_none() {
    let mut past = two_years();
    add_year(&mut past, "2023-06-01", "2023-07-20", 12.0);
    add_year(&mut past, "2022-01-01", "2022-05-31", 12.0);
    let futures = futures_of(&[known(15.0); 5], &past, "2026-07-05", "2026-07-31");
    assert_eq!((futures.members(), futures.left_out()), (2, 1));
    let futures = futures_of(&[known(15.0); 5], &past, "2026-07-05", "2026-07-20");
    assert_eq!((futures.members(), futures.left_out()), (3, 0));
}

#[test]
fn leap_days() {
    let first = date("2024-02-28");
    let mut past = PastYears::default();
    add_year(&mut past, "2023-02-27", "2023-03-10", 10.0);
    past.add(2023, date("2023-02-28"), 4.0, 14.0);
    add_year(&mut past, "2020-02-27", "2020-03-10", 10.0);
    past.add(2020, date("2020-02-29"), 70.0, 80.0);
    let known = |through: &str, from: &str| Known {
        first,
        days: &[],
        past: &past,
        through: date(through),
        from: date(from),
    };
    // 2023 lends its 28 February twice: 4 + 4 + 10; 2020 has its own 29th: 10 + 70.
    let futures = Futures::new(
        &average(),
        known("2024-02-27", "2024-02-28"),
        date("2024-03-05"),
    );
    check(
        &futures,
        "2024-02-27",
        18.0,
        &[Some("2024-03-01"), Some("2024-02-29")],
    );
    // In 2025 there is no 29th: that of 2020 is passed over, and so it is in 2021 to 2023.
    let futures = Futures::new(
        &average(),
        known("2025-02-27", "2025-02-28"),
        date("2025-03-05"),
    );
    check(&futures, "2025-02-27", 24.0, &[Some("2025-03-02"); 2]);
}

#[test]
fn a_winter_runs_over_the_new_year() {
    let mut past = PastYears::default();
    add_year(&mut past, "2024-12-01", "2025-02-28", 2.0);
    let first = date("2025-12-20");
    let known = Known {
        first,
        days: &[known(1.0); 5],
        past: &past,
        through: date("2025-12-24"),
        from: first,
    };
    let futures = Futures::new(&average(), known, date("2026-01-31"));
    assert_eq!(futures.members(), 1);
    check(&futures, "2025-12-19", 35.0, &[Some("2026-01-08")]);
}

#[test]
fn the_runs_own_earlier_years_count() {
    let first = date("2025-06-01");
    let mut days = vec![known(20.0); 61];
    days.resize(365, None);
    days.extend([known(15.0); 30]);
    let past = PastYears::default();
    let known = Known {
        first,
        days: &days,
        past: &past,
        through: date("2026-06-30"),
        from: date("2026-06-01"),
    };
    let futures = Futures::new(&average(), known, date("2026-07-31"));
    assert_eq!(futures.members(), 1);
    check(&futures, "2026-06-30", 40.0, &[Some("2026-07-02")]);
}

#[test]
fn without_years_before_the_last_days_go_on_and_it_is_rough() {
    let none = PastYears::default();
    let mut days = vec![known(100.0); 3];
    days.extend([known(10.0); 13]);
    days.push(known(24.0));
    days.push(foretold(1.0));
    let futures = futures_of(&days, &none, "2026-07-17", "2026-07-31");
    assert_eq!((futures.members(), futures.left_out()), (0, 0));
    assert!(futures.is_rough());
    // The last 14 days have a mean of 11: one day of 1 foretold, then 11 a day.
    check(&futures, "2026-07-17", 23.0, &[Some("2026-07-20")]);
    check(&futures, "2026-07-17", 12.1, &[Some("2026-07-20")]);
    check(&futures, "2026-07-17", 12.0, &[Some("2026-07-19")]);
}

#[test]
fn a_forecast_alone_goes_on_as_it_is() {
    let days = [foretold(10.0), foretold(20.0)];
    let futures = futures_of(&days, &PastYears::default(), "2026-06-30", "2026-07-31");
    check(&futures, "2026-06-30", 60.0, &[Some("2026-07-04")]);
}

#[test]
fn nothing_known_gives_no_answer() {
    let futures = futures_of(
        &[None; 3],
        &PastYears::default(),
        "2026-07-03",
        "2026-07-31",
    );
    assert!(futures.is_blank() && futures.is_rough());
    check(&futures, "2026-06-30", 10.0, &[]);
    assert_eq!(
        futures.mean_heat(date("2026-06-30"), date("2026-07-03")),
        None
    );
}

#[test]
fn where_nothing_is_left_open_no_year_is_needed() {
    let futures = futures_of(&[known(15.0); 5], &two_years(), "2026-07-05", "2026-07-05");
    assert_eq!(
        (futures.members(), futures.left_out(), futures.is_rough()),
        (0, 0, false)
    );
    check(&futures, "2026-06-30", 45.0, &[Some("2026-07-03")]);
    check(&futures, "2026-06-30", 76.0, &[None]);
}

#[test]
fn a_double_curve_looks_into_each_future() {
    // Today's second half runs down to the minimum of the year's next day.
    let model = Model::new(Method::DoubleTriangle, Cutoff::None, 5.0, None, None).unwrap();
    let mut past = PastYears::default();
    past.add(2025, date("2025-07-02"), 8.0, 20.0);
    past.add(2024, date("2024-07-02"), 2.0, 20.0);
    let first = date("2026-07-01");
    let warm = Warm {
        min: 2.0,
        max: 20.0,
        trust: Trust::Known,
    };
    let known = Known {
        first,
        days: &[Some(warm)],
        past: &past,
        through: first,
        from: first,
    };
    let futures = Futures::new(&model, known, date("2026-07-02"));
    // From 2 up 225/36 = 6.25; down to 8 it is 9, down to 2 again 6.25: 7.625 and 6.25 for the day.
    check(
        &futures,
        "2026-06-30",
        7.5,
        &[Some("2026-07-01"), Some("2026-07-02")],
    );
}

#[test]
fn the_mean_of_all_futures() {
    let futures = futures_of(&[known(15.0); 5], &two_years(), "2026-07-05", "2026-07-31");
    let mean = |anchor, upto| futures.mean_heat(date(anchor), date(upto));
    assert_eq!(mean("2026-06-30", "2026-07-04"), Some(DegreeDays(60.0)));
    assert_eq!(mean("2026-07-03", "2026-07-07"), Some(DegreeDays(60.0)));
    assert_eq!(mean("2026-07-10", "2026-07-12"), Some(DegreeDays(30.0)));
    assert_eq!(mean("2026-07-10", "2026-08-01"), None);
}
