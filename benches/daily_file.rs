//! Thirty years of days in a file, read and judged: file, days, quality, series. The goal is under 30 ms.

use chrono::NaiveDate;
use chrono_tz::Europe::Brussels;
use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};
use graftwarden::days::{Origin, PastYears, Rules, Series, SourceDays, Thresholds};
use graftwarden::weather::csv_file::read;
use graftwarden::weather::layout::Layout;
use std::fmt::Write as _;
use std::path::Path;

/// Thirty years with their eight leap days: 1991 to 2020.
const DAYS: usize = 10_958;

fn main() {
    println!("thirty years of days, read and judged: the goal is under 30 ms");
    divan::main();
}

/// Minimum, maximum, gust and rain of thirty years. In the open they have a year's course and a little of every day's
/// own; in a store they are set anew every fortnight.
fn thirty_years(in_the_open: bool) -> String {
    let mut text = String::from("date,tmin_c,tmax_c,gust_kmh,rain_mm\n");
    let first = NaiveDate::from_ymd_opt(1991, 1, 1).expect("a date of the calendar");
    for (number, date) in first.iter_days().take(DAYS).enumerate() {
        let season = (number as f64 / 365.25 * std::f64::consts::TAU).cos();
        let own = (number * 7919 % 61) as f64 / 10.0;
        let (min, max) = if in_the_open {
            (6.0 - 8.0 * season + own, 11.0 - 8.0 * season + 2.0 * own)
        } else {
            let set = (number / 14 % 5) as f64;
            (2.0 + set, 4.0 + set)
        };
        let (gust, rain) = (10.0 + 5.0 * own, own / 2.0);
        let _ = writeln!(text, "{date},{min:.1},{max:.1},{gust:.1},{rain:.1}");
    }
    text
}

fn judged(path: &Path) -> Series {
    let file = read(path, &Layout::default(), Some(Brussels));
    let source = SourceDays {
        source: "file".into(),
        days: file
            .days
            .iter()
            .map(|day| day.raw(Origin::Measured))
            .collect(),
    };
    let rules = Rules {
        thresholds: &Thresholds::default(),
        past: &PastYears::default(),
        through: file.days.last().map_or(NaiveDate::MAX, |day| day.date),
    };
    let (series, problems) = Series::settle("home", &[source], rules);
    assert!(
        file.problems.is_empty() && problems.is_empty(),
        "{problems:?}"
    );
    assert_eq!(series.run().iter().flatten().count(), DAYS);
    series
}

#[divan::bench]
fn in_the_open(bencher: Bencher) {
    bench(bencher, &thirty_years(true));
}

#[divan::bench]
fn in_a_store(bencher: Bencher) {
    bench(bencher, &thirty_years(false));
}

fn bench(bencher: Bencher, text: &str) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("days.csv");
    std::fs::write(&path, text).expect("a file in it");
    bencher
        .counter(ItemsCount::new(DAYS))
        .counter(BytesCount::of_str(text))
        .bench_local(|| judged(&path));
}
