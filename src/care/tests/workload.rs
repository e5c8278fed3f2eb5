//! Work of the coming days, worked out by hand.

use super::season::{Season, maple, weekdays};
use crate::care::{FORTNIGHT, Outlook, workload};
use crate::days::PastYears;
use crate::nursery::Workdays;
use chrono::{Datelike, NaiveDate};

/// "15 100 0.33, 19 0-100 0.00-1.25": the days with work as a round on day `n` sees them, with grafts and crew hours,
/// p50 and p90.
fn loads(season: &Season, n: i64) -> String {
    let today = season.day(n);
    let grounds = [season.ground(today)];
    let past = [season.past.clone()];
    let (cares, _) = season.cares(&grounds[0]);
    let outlook = Outlook::new(&grounds, &past, &cares);
    let both = |low: String, high: String| {
        if low == high {
            low
        } else {
            format!("{low}-{high}")
        }
    };
    let loads = workload(&cares, &outlook, &season.workdays, today, FORTNIGHT);
    assert_eq!(loads.len(), 14);
    for load in &loads {
        assert_eq!(load.working, season.workdays.works(load.date));
        assert!(load.working || load.grafts_p90 == 0, "{load:?}");
    }
    let some = loads.iter().filter(|load| load.grafts_p90 > 0);
    let lines = some.map(|load| {
        let day = (load.date - season.day(0)).num_days();
        let grafts = both(load.grafts_p50.to_string(), load.grafts_p90.to_string());
        let hours = both(
            format!("{:.2}", load.hours_p50),
            format!("{:.2}", load.hours_p90),
        );
        format!("{day} {grafts} {hours}")
    });
    lines.collect::<Vec<_>>().join(", ")
}

#[track_caller]
fn check(season: &Season, n: i64, expected: &str) {
    assert_eq!(loads(season, n), expected);
}

#[test]
fn what_is_due_falls_on_today_and_what_is_ahead_on_the_day_after_it_opens() {
    // 100 grafts at 20, 75 and 150 minutes a hundred; windows open at the end of days 14, 18 and 21.
    check(&maple(), 15, "15 100 0.33, 19 100 1.25, 22 100 2.50");
    let looked = maple().records("15 lines");
    check(&looked, 15, "15 100 1.25, 22 100 2.50");
}

#[test]
fn work_waits_for_a_working_day() {
    // Grafted on a Friday: day 15 is a Saturday, day 21 a Friday.
    let season = Season::new("maple field T-graft", "2026-07-03")
        .weather("120x20")
        .but(|s| s.workdays = weekdays());
    check(&season, 15, "17 100 0.33, 19 100 1.25, 24 100 2.50");
}

#[test]
fn what_is_late_counts_whole_and_what_is_half_done_by_half() {
    // 20 + 75 + 150 minutes a hundred in one walk; nobody knows how many would have to be grafted anew.
    check(&maple(), 60, "60 100 4.08");
    let half = maple().records("15 lines, 16 headed-back 60, 20 looked");
    // 40 left to head back, of the 100 to untie; the next look is due on day 25, five standard days after the last (15 minutes a hundred).
    check(&half, 24, "24 100 3.00, 26 100 0.25");
}

#[test]
fn only_the_dead_are_counted_to_be_made_anew() {
    // 95 alive and 5 to make anew: 95 x 245 minutes a hundred are 3.88 h, and 5 x 400 are 0.33 h.
    check(&maple().records("40 dead 5"), 60, "60 100 4.21");
}

#[test]
fn a_batch_that_is_closed_has_no_work() {
    check(&maple().records("40 closed"), 60, "");
}

#[test]
fn without_a_working_day_no_work_is_put_anywhere() {
    let season = maple().but(|s| s.workdays = Workdays::new(&[], Vec::new()));
    check(&season, 15, "");
}

/// Two years of 25 °C, five of 20 and three of 15: 20, 15 and 10 °C·d a day.
fn ten_years() -> PastYears {
    let mut past = PastYears::default();
    let means = [25.0, 20.0, 15.0, 20.0, 15.0, 20.0, 25.0, 20.0, 15.0, 20.0];
    for (year, mean) in (2016..).zip(means) {
        let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
        for date in first.iter_days().take_while(|date| date.year() == year) {
            past.add(year, date, mean, mean);
        }
    }
    past
}

#[test]
fn the_years_before_say_how_surely() {
    // C-14 has 150 °C·d at the end of day 10; 60, 120 and 165 are left to 210, 270 and 315.
    // Looked at: after 3, 4 and 6 days, so on days 14, 15 and 17 in 2, 5 and 3 of ten years.
    // Headed back: after 6, 8 and 12 days, so on 17, 19 and 23. Untied: after 9, 11 and 17, so on 20, 22 and 28.
    let season = maple().without_forecast().but(|s| s.past = ten_years());
    check(
        &season,
        11,
        "14 0-100 0.00-0.33, 15 0-100 0.00-0.33, 17 0-100 0.00-1.25, 19 0-100 0.00-1.25, \
         20 0-100 0.00-2.50, 22 0-100 0.00-2.50, 23 0-100 0.00-1.25",
    );
}

#[test]
fn batches_of_one_site_share_the_weather_of_a_year() {
    // C-15, 60 grafts made a day later, has 135: 75, 135 and 180 are left. Looked at on 15, 16 and 19, headed back on
    // 18, 20 and 25, untied on 20, 23 and 29. On day 15 then 60 grafts in 2 years, 100 in 5 and none in 3: the fifth of
    // ten is 60, the ninth 100. On day 17 in 3 years 100 are looked at and in 2 headed back; on day 23 in 5 years 60 are
    // untied (1.5 h) and in 3 years 100 headed back (1.25 h).
    let season = maple().without_forecast().but(|s| {
        s.past = ten_years();
        let mut other = s.batches[0].clone();
        other.name = "C-15".into();
        other.grafts = 60;
        other.grafted_on = s.day(1);
        s.batches.push(other);
    });
    check(
        &season,
        11,
        "14 0-100 0.00-0.33, 15 60-100 0.20-0.33, 16 0-60 0.00-0.20, 17 0-100 0.00-1.25, 18 0-60 0.00-0.75, \
         19 60-100 0.20-1.25, 20 60-160 0.75-4.00, 22 0-100 0.00-2.50, 23 60-100 1.25-1.50",
    );
}
