//! Laws of care that hold whatever the weather and the records.

use super::season::{Season, maple};
use crate::days::RawDay;
use crate::store::{Store, StoreError};
use chrono::NaiveDate;
use proptest::prelude::*;

/// Sixty days of any summer.
fn any_days() -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((2.0..24.0_f64, 0.5..14.0_f64), 60)
}

fn any_records() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "lines",
        "lines 3/10",
        "no-lines",
        "headed-back 40",
        "headed-back",
        "tape-eased",
        "tape-off 60",
        "tape-off",
        "looked",
        "over-callused",
        "dead 5",
        "lost 10",
        "regrafted 3",
        "retract lines",
    ]);
    prop::collection::vec((1..60_i64, word), 0..8).prop_map(|records| {
        let entries: Vec<String> = records
            .iter()
            .map(|(n, what)| format!("{n} {what}"))
            .collect();
        entries.join(", ")
    })
}

fn season(days: &[(f64, f64)], warmer: f64) -> Season {
    let text: Vec<String> = days
        .iter()
        .map(|(min, range)| format!("{}/{}", min + warmer, min + warmer + range))
        .collect();
    maple().weather(&text.join(" "))
}

fn opened(season: &Season, n: i64, step: &str) -> Option<NaiveDate> {
    season.on(n, |care| care.step(step).unwrap().opened.map(|o| o.on))
}

/// Everything that is found, as text.
fn everything(season: &Season, n: i64) -> String {
    let ground = season.ground(season.day(n));
    let (cares, problems) = season.cares(&ground);
    let cares: Vec<String> = cares
        .iter()
        .map(|c| {
            format!(
                "{:?} {:?} {:?} {:?} {:?}",
                c.batch,
                c.facts,
                c.steps,
                c.limit,
                c.heat()
            )
        })
        .collect();
    format!("{cares:?} {problems:?}")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn the_same_input_gives_the_same_findings(days in any_days(), records in any_records(), n in 0..60_i64) {
        let season = season(&days, 0.0).records(&records);
        prop_assert_eq!(everything(&season, n), everything(&season.clone(), n));
    }

    #[test]
    fn warmer_days_never_open_a_window_later(days in any_days(), by in 0.0..8.0_f64, n in 1..60_i64) {
        for step in ["callus-check", "head-back", "tape-off", "re-graft"] {
            let before = opened(&season(&days, 0.0), n, step);
            let after = opened(&season(&days, by), n, step);
            // A window opened by the calendar has a date only once it is open: none is later than any date.
            let late = NaiveDate::MAX;
            prop_assert!(after.unwrap_or(late) <= before.unwrap_or(late), "{step}: {before:?}, warmer {after:?}");
        }
    }

    #[test]
    fn another_no_lines_never_makes_the_heading_back_earlier(
        days in any_days(), first in 1..40_i64, later in 0..20_i64, n in 41..60_i64,
    ) {
        let one = season(&days, 0.0).records(&format!("{first} no-lines"));
        let two = one.clone().records(&format!("{} no-lines", first + later));
        let late = NaiveDate::MAX;
        let (before, after) = (opened(&one, n, "head-back"), opened(&two, n, "head-back"));
        prop_assert!(after.unwrap_or(late) >= before.unwrap_or(late));
        let limit = |s: &Season| s.on(n, |care| care.limit.unwrap().reached_on).unwrap_or(late);
        prop_assert!(limit(&two) >= limit(&one));
    }

    #[test]
    fn neither_the_order_of_arrival_nor_a_corrected_day_matters(
        days in any_days(), order in Just((0..60_usize).collect::<Vec<_>>()).prop_shuffle(), at in 0..60_usize,
        wrong in 2.0..40.0_f64, n in 1..60_i64,
    ) {
        let right = season(&days, 0.0);
        let slip = RawDay { min: wrong, max: wrong, ..right.days[at] };
        let arrived = std::iter::once(slip).chain(order.iter().map(|&k| right.days[k]));
        let kept = right.clone().but(|s| s.days = kept_by_the_store(arrived, s.day(0)));
        prop_assert_eq!(everything(&kept, n), everything(&right, n));
    }
}

/// The days of one source as the store gives them back.
fn kept_by_the_store(arrived: impl Iterator<Item = RawDay>, from: NaiveDate) -> Vec<RawDay> {
    let mut store = Store::in_memory().unwrap();
    let at = "2026-12-01T06:10:00Z".parse().unwrap();
    let found = store.settle::<_, StoreError>(|memory| {
        for day in arrived {
            memory.absorb_days("home", "file", &[day], at)?;
        }
        memory.days("home", &["file"], from)
    });
    found.unwrap().remove(0).days
}
