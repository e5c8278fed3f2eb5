use super::*;
use crate::days::Origin::{self, Filled, Forecast, Measured, Modelled};

fn day(n: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 7, n).unwrap()
}

fn source(name: &str, rows: &[(u32, f64, f64, Origin)]) -> SourceDays {
    let raw = |&(n, min, max, origin): &(u32, f64, f64, Origin)| RawDay {
        date: day(n),
        min,
        max,
        gust: None,
        rain: None,
        origin,
    };
    SourceDays {
        source: name.into(),
        days: rows.iter().map(raw).collect(),
    }
}

fn settle(sources: &[SourceDays]) -> (Series, Vec<Problem>) {
    settle_by(sources, &Thresholds::default())
}

fn settle_by(sources: &[SourceDays], thresholds: &Thresholds) -> (Series, Vec<Problem>) {
    Series::settle(
        "home",
        sources,
        Rules {
            thresholds,
            past: &PastYears::default(),
            through: day(31),
        },
    )
}

#[track_caller]
fn check(sources: &[SourceDays], n: u32, expected: Option<(f64, f64, Origin)>) {
    let (series, _) = settle(sources);
    let round = |t: f64| (t * 1e6).round() / 1e6;
    assert_eq!(
        series
            .day(day(n))
            .map(|d| (round(d.min), round(d.max), d.origin)),
        expected
    );
}

#[test]
fn the_first_source_is_trusted_and_the_next_stands_in() {
    let own = source("file", &[(1, 10.0, 20.0, Measured)]);
    let other = source(
        "open-meteo",
        &[(1, 11.0, 22.0, Modelled), (2, 12.0, 23.0, Modelled)],
    );
    check(
        &[own.clone(), other.clone()],
        1,
        Some((10.0, 20.0, Measured)),
    );
    check(&[own, other], 2, Some((12.0, 23.0, Modelled)));
}

#[test]
fn a_known_day_of_a_lesser_source_beats_a_forecast_of_a_better_one() {
    let own = source("station", &[(1, 10.0, 20.0, Forecast)]);
    let other = source("file", &[(1, 11.0, 22.0, Measured)]);
    check(&[own, other], 1, Some((11.0, 22.0, Measured)));
}

#[test]
fn a_rejected_day_falls_to_the_next_source_is_named_and_kept() {
    let own = source("file", &[(1, 25.0, 20.0, Measured)]);
    let other = source("open-meteo", &[(1, 11.0, 22.0, Modelled)]);
    let (series, problems) = settle(&[own, other]);
    assert_eq!(series.source(series.day(day(1)).unwrap()), "open-meteo");
    assert_eq!(
        problems[0].to_string(),
        "site home, file, 2026-07-01: minimum 25 °C is above maximum 20 °C; the day is not used. Look at the instrument or mend the value."
    );
    assert_eq!(
        (
            series.rejected()[0].raw.min,
            series.rejected()[0].source.as_str()
        ),
        (25.0, "file")
    );
}

#[test]
fn two_missing_days_are_filled_by_a_line_and_three_are_not() {
    let two = source(
        "file",
        &[(1, 10.0, 20.0, Measured), (4, 13.0, 26.0, Measured)],
    );
    check(std::slice::from_ref(&two), 2, Some((11.0, 22.0, Filled)));
    check(&[two], 3, Some((12.0, 24.0, Filled)));
    check(
        &[source(
            "file",
            &[(1, 10.0, 20.0, Measured), (5, 14.0, 28.0, Measured)],
        )],
        3,
        None,
    );
}

#[test]
fn a_short_gap_of_the_trusted_source_is_its_own_line_and_a_long_one_the_next_source() {
    let other = |days: std::ops::Range<u32>| {
        let rows: Vec<_> = days.map(|n| (n, 5.0, 15.0, Modelled)).collect();
        source("open-meteo", &rows)
    };
    let short = source(
        "file",
        &[(1, 10.0, 20.0, Measured), (3, 12.0, 24.0, Measured)],
    );
    check(&[short, other(1..4)], 2, Some((11.0, 22.0, Filled)));
    let long = source(
        "file",
        &[(1, 10.0, 20.0, Measured), (5, 12.0, 24.0, Measured)],
    );
    check(&[long, other(2..5)], 3, Some((5.0, 15.0, Modelled)));
}

#[test]
fn a_source_that_stands_in_is_shifted_once_ten_common_days_are_known() {
    let own = |last: u32| {
        let rows: Vec<_> = (1..=last)
            .map(|n| {
                (
                    n,
                    12.0 + f64::from(n % 3),
                    24.0 + f64::from(n % 3),
                    Measured,
                )
            })
            .collect();
        source("file", &rows)
    };
    let model: Vec<_> = (1..=20)
        .map(|n| {
            (
                n,
                10.0 + f64::from(n % 3),
                25.0 + f64::from(n % 3),
                Modelled,
            )
        })
        .collect();
    let model = source("open-meteo", &model);
    // Day 15: the model says 10 and 25; the file is 2 warmer at night and 1 cooler by day.
    check(&[own(12), model.clone()], 15, Some((12.0, 24.0, Modelled)));
    check(&[own(9), model.clone()], 15, Some((10.0, 25.0, Modelled)));
    let (series, _) = settle(&[own(12), model]);
    let shift = series.day(day(15)).unwrap().shift.unwrap();
    assert_eq!((shift.min, shift.max), (2.0, -1.0));
    assert_eq!(series.ranked(shift.to), "file");
}

#[test]
fn a_gap_before_a_forecast_is_not_filled() {
    check(
        &[source(
            "open-meteo",
            &[(1, 10.0, 20.0, Modelled), (3, 12.0, 22.0, Forecast)],
        )],
        2,
        None,
    );
}

#[test]
fn what_nobody_knows_is_the_past_years_mean_for_the_date() {
    let own = source(
        "file",
        &[(1, 10.0, 20.0, Measured), (6, 12.0, 24.0, Measured)],
    );
    let mut past = PastYears::default();
    past.add(
        2024,
        NaiveDate::from_ymd_opt(2024, 7, 3).unwrap(),
        11.0,
        21.0,
    );
    past.add(
        2025,
        NaiveDate::from_ymd_opt(2025, 7, 3).unwrap(),
        13.0,
        27.0,
    );
    let thresholds = Thresholds::default();
    let (series, _) = Series::settle(
        "home",
        &[own],
        Rules {
            thresholds: &thresholds,
            past: &past,
            through: day(31),
        },
    );
    let filled = series.day(day(3)).unwrap();
    assert_eq!(
        (filled.min, filled.max, filled.origin),
        (12.0, 24.0, Filled)
    );
    assert_eq!(filled.remark.unwrap().to_string(), "mean of 2 past years");
    assert_eq!(series.day(day(4)), None);
    assert_eq!(series.last_known(), Some(day(6)));
}

#[test]
fn a_source_in_fahrenheit_is_stopped_from_there_on() {
    let mut rows: Vec<_> = (1..=4)
        .map(|n| (n, 14.0, 25.0 + f64::from(n), Measured))
        .collect();
    rows.extend((5..=9).map(|n| (n, 60.0, 80.0 + f64::from(n), Measured)));
    let (series, problems) = settle(&[source("file", &rows)]);
    assert_eq!(series.last_known(), Some(day(4)));
    assert_eq!(
        problems[0].to_string(),
        "site home, file: maxima up to 89 from 2026-07-05 on read like °F where °C is expected; nothing of this source is used from that day on. Set unit = \"F\" for it in the config, or set the logger back to °C."
    );
}

#[test]
fn a_source_set_back_from_fahrenheit_is_used_again() {
    let mut rows: Vec<_> = (1..=4).map(|n| (n, 14.0, 25.0, Measured)).collect();
    rows.extend((5..=8).map(|n| (n, 57.0, 77.0, Measured)));
    rows.extend((9..=12).map(|n| (n, 15.0, 26.0, Measured)));
    let (series, problems) = settle(&[source("file", &rows)]);
    assert_eq!(series.day(day(6)), None);
    assert_eq!(series.last_known(), Some(day(12)));
    assert_eq!(series.rejected().len(), 4);
    assert_eq!(
        problems[0].to_string(),
        "site home, file: maxima up to 77 from 2026-07-05 to 2026-07-08 read like °F where °C is expected; none of these days of this source is used. Set unit = \"F\" for it in the config, or set the logger back to °C."
    );
}

#[test]
fn two_sources_far_apart_for_three_days_are_told() {
    let own: Vec<_> = (1..=9)
        .map(|n| (n, 10.0 + f64::from(n), 20.0 + f64::from(n), Measured))
        .collect();
    let near: Vec<_> = own
        .iter()
        .map(|&(n, min, max, _)| (n, min + 7.0, max + 7.0, Modelled))
        .collect();
    let far: Vec<_> = own
        .iter()
        .map(|&(n, min, max, _)| {
            (
                n,
                min + if n > 6 { 9.0 } else { 0.0 },
                max + if n > 6 { 9.0 } else { 0.0 },
                Modelled,
            )
        })
        .collect();
    let (_, problems) = settle(&[source("file", &own), source("open-meteo", &near)]);
    assert_eq!(problems, []);
    let strict = Thresholds {
        apart: 6.0,
        apart_days: 5,
        ..Thresholds::default()
    };
    let both = [source("file", &own), source("open-meteo", &near)];
    let (_, problems) = settle_by(&both, &strict);
    assert_eq!(
        problems[0].what,
        "file and open-meteo are more than 6 °C apart on 5 days running up to 2026-07-09"
    );
    let (_, problems) = settle(&[source("file", &own), source("open-meteo", &far)]);
    assert_eq!(
        problems[0].to_string(),
        "site home: file and open-meteo are more than 8 °C apart on 3 days running up to 2026-07-09; file is used. Look whether the instrument stands in the sun or has moved."
    );
}

#[test]
fn the_mean_of_a_week_needs_all_seven_days() {
    let rows: Vec<_> = (1..=10)
        .map(|n| (n, 0.0, 2.0 * f64::from(n), Measured))
        .collect();
    let (series, _) = settle(&[source("file", &rows)]);
    assert_eq!(series.week_mean(day(6)), None);
    // means 1..=7 average 4
    assert_eq!(series.week_mean(day(7)), Some(4.0));
    assert_eq!(series.first_week(day(1), |mean| mean > 4.5), Some(day(8)));
}

#[test]
fn looking_back_sees_no_day_that_came_to_pass_later_but_every_forecast() {
    let rows = [
        (1, 10.0, 20.0, Measured),
        (2, 11.0, 21.0, Measured),
        (3, 12.0, 22.0, Forecast),
    ];
    let (series, _) = Series::by_usual_rules("home", &[source("file", &rows)]);
    let seen = series.seen_from(day(1));
    assert_eq!(seen.last_known(), Some(day(1)));
    let dates: Vec<NaiveDate> = seen.between(day(1), day(9)).map(|d| d.date).collect();
    assert_eq!(dates, [day(1), day(3)]);
}

#[test]
fn a_span_outside_the_run_has_no_days() {
    let rows = [(5, 10.0, 20.0, Measured), (6, 10.0, 20.0, Measured)];
    let (series, _) = Series::by_usual_rules("home", &[source("file", &rows)]);
    let count = |from, to| series.between(day(from), day(to)).count();
    assert_eq!(
        [count(1, 4), count(7, 9), count(6, 5), count(1, 9)],
        [0, 0, 0, 2]
    );
    assert_eq!(Series::default().between(day(1), day(9)).count(), 0);
}

#[test]
fn a_rejected_day_between_two_sound_ones_is_filled() {
    let rows = [
        (1, 10.0, 20.0, Measured),
        (2, 30.0, 20.0, Measured),
        (3, 12.0, 24.0, Measured),
    ];
    check(&[source("file", &rows)], 2, Some((11.0, 22.0, Filled)));
}

#[test]
fn a_gap_at_either_end_is_not_filled() {
    let own = source("file", &[(3, 10.0, 20.0, Measured)]);
    let broken = source(
        "other",
        &[(1, 30.0, 20.0, Measured), (5, 30.0, 20.0, Measured)],
    );
    check(&[own.clone(), broken.clone()], 2, None);
    check(&[own, broken], 4, None);
}

#[test]
fn gust_and_rain_come_from_the_best_source_that_has_them() {
    let with = |mut of: SourceDays, figures: &[(Option<f64>, Option<f64>)]| {
        for (day, (gust, rain)) in of.days.iter_mut().zip(figures) {
            (day.gust, day.rain) = (*gust, *rain);
        }
        of
    };
    let plain = (10.0, 20.0);
    let rows = |origin| [1, 2, 3].map(|n| (n, plain.0, plain.1, origin));
    let own = with(
        source("file", &rows(Measured)),
        &[(None, Some(1.0)), (None, None), (None, None)],
    );
    let foretold = with(
        source("met-norway", &rows(Forecast)),
        &[(Some(30.0), Some(9.0)), (Some(31.0), None), (None, None)],
    );
    let modelled = with(
        source("open-meteo", &rows(Modelled)),
        &[(Some(40.0), Some(5.0)), (None, Some(6.0)), (None, None)],
    );
    let (series, _) = settle(&[own, foretold, modelled]);
    let found = [1, 2, 3].map(|n| {
        let day = series.day(day(n)).unwrap();
        (series.source(day), day.gust, day.rain)
    });
    assert_eq!(
        found,
        [
            ("file", Some(40.0), Some(1.0)),
            ("file", Some(31.0), Some(6.0)),
            ("file", None, None),
        ]
    );
}
