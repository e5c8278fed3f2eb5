//! Laws that heat obeys whatever the temperatures: tried on many days and runs that nobody chose.

use super::{Extremes, Totals, Trust, Warm, of_day, rate};
use crate::nursery::{Cutoff, Method, Model};
use crate::units::DegreeDays;
use chrono::{NaiveDate, TimeDelta};
use proptest::prelude::*;

fn model(method: Method, cutoff: Cutoff) -> Model {
    let optimum = method.is_response().then_some(24.0);
    Model::new(method, cutoff, 5.0, optimum, Some(30.0)).unwrap()
}

fn any_day() -> impl Strategy<Value = Extremes> {
    (-20.0..40.0_f64, 0.0..30.0_f64).prop_map(|(min, range)| Extremes {
        min,
        max: min + range,
    })
}

fn any_next() -> impl Strategy<Value = Option<f64>> {
    proptest::option::of(-20.0..40.0_f64)
}

fn any_method() -> impl Strategy<Value = Method> {
    proptest::sample::select(Method::ALL.to_vec())
}

const CURVED: [Method; 6] = [
    Method::Average,
    Method::ClampedAverage,
    Method::SingleTriangle,
    Method::DoubleTriangle,
    Method::SingleSine,
    Method::DoubleSine,
];

fn any_curved() -> impl Strategy<Value = Method> {
    proptest::sample::select(CURVED.to_vec())
}

proptest! {
    #[test]
    fn a_day_of_one_temperature_gives_its_rate(method in any_method(), t in -20.0..45.0_f64) {
        for cutoff in Cutoff::ALL {
            let model = model(method, cutoff);
            let hours = if method == Method::GrowingDegreeHours { 24.0 } else { 1.0 };
            let heat = of_day(&model, Extremes { min: t, max: t }, Some(t));
            prop_assert!((heat - hours * rate(&model, t)).abs() < 1e-9);
        }
    }

    #[test]
    fn a_warmer_day_never_gives_less(
        method in any_curved(), day in any_day(), next in any_next(), by in 0.0..15.0_f64,
    ) {
        let warmer = Extremes { min: day.min + by, max: day.max + by };
        for cutoff in [Cutoff::None, Cutoff::Horizontal] {
            let model = model(method, cutoff);
            let before = of_day(&model, day, next);
            let after = of_day(&model, warmer, next.map(|n| n + by));
            prop_assert!(after >= before - 1e-9, "{before} {after}");
        }
    }

    #[test]
    fn a_cutoff_never_adds(method in any_curved(), day in any_day(), next in any_next()) {
        let [none, horizontal, intermediate, vertical] =
            Cutoff::ALL.map(|cutoff| of_day(&model(method, cutoff), day, next));
        prop_assert!(horizontal <= none + 1e-9);
        prop_assert!(intermediate <= horizontal + 1e-9);
        prop_assert!(vertical <= horizontal + 1e-9);
    }

    #[test]
    fn heat_lies_between_that_of_the_two_readings(method in any_curved(), day in any_day()) {
        for cutoff in [Cutoff::None, Cutoff::Horizontal] {
            let model = model(method, cutoff);
            let heat = of_day(&model, day, None);
            let (low, high) = (rate(&model, day.min), rate(&model, day.max));
            prop_assert!(low - 1e-9 <= heat && heat <= high + 1e-9, "{low} {heat} {high}");
        }
    }

    #[test]
    fn a_response_lies_between_nothing_and_the_optimum(day in any_day()) {
        let beta = of_day(&model(Method::Beta, Cutoff::None), day, None);
        prop_assert!((0.0..=1.0 + 1e-12).contains(&beta), "{beta}");
        let hours = of_day(&model(Method::GrowingDegreeHours, Cutoff::None), day, None);
        prop_assert!((0.0..=24.0 * 19.0 + 1e-9).contains(&hours), "{hours}");
    }

    #[test]
    fn only_the_double_methods_look_at_tomorrow(
        method in any_method(), day in any_day(), next in -20.0..40.0_f64,
    ) {
        let model = model(method, Cutoff::None);
        let same = of_day(&model, day, Some(next)).to_bits() == of_day(&model, day, None).to_bits();
        prop_assert!(same || method.is_double());
    }

    #[test]
    fn a_double_curve_back_to_the_same_minimum_is_the_single_one(day in any_day()) {
        for (double, single) in [
            (Method::DoubleSine, Method::SingleSine),
            (Method::DoubleTriangle, Method::SingleTriangle),
        ] {
            for cutoff in Cutoff::ALL {
                let twice = of_day(&model(double, cutoff), day, Some(day.min));
                let once = of_day(&model(single, cutoff), day, None);
                prop_assert!((twice - once).abs() < 1e-12);
            }
        }
    }
}

fn any_days() -> impl Strategy<Value = Vec<Option<Warm>>> {
    let trust = proptest::sample::select(vec![Trust::Known, Trust::Filled, Trust::Forecast]);
    let day = (-5.0..25.0_f64, 0.0..15.0_f64, trust).prop_map(|(min, range, trust)| Warm {
        min,
        max: min + range,
        trust,
    });
    proptest::collection::vec(proptest::option::weighted(0.9, day), 0..60)
}

/// Days counted from the first of the run; they may lie outside it.
fn nth(n: i64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 6, 1).unwrap() + TimeDelta::days(n)
}

/// The indices of the days after `anchor` up to `upto` that lie in the run.
fn inside(days: &[Option<Warm>], anchor: i64, upto: i64) -> impl Iterator<Item = usize> {
    (anchor + 1..=upto)
        .filter_map(|i| usize::try_from(i).ok())
        .filter(|&i| i < days.len())
        .collect::<Vec<_>>()
        .into_iter()
}

/// Added up day by day.
fn by_hand(model: &Model, days: &[Option<Warm>], anchor: i64, upto: i64) -> f64 {
    inside(days, anchor, upto)
        .filter_map(|i| {
            let Warm { min, max, .. } = days[i]?;
            let next = days.get(i + 1).copied().flatten().map(|next| next.min);
            Some(of_day(model, Extremes { min, max }, next))
        })
        .sum()
}

proptest! {
    #[test]
    fn totals_are_the_days_added_up(days in any_days(), anchor in -5..65_i64, upto in -5..65_i64) {
        for method in [Method::SingleSine, Method::DoubleTriangle] {
            let model = model(method, Cutoff::None);
            let totals = Totals::new(&model, nth(0), &days);
            let heat = totals.at_least(nth(anchor), nth(upto)).0;
            prop_assert!((heat - by_hand(&model, &days, anchor, upto)).abs() < 1e-9);
            let known = inside(&days, anchor, upto).filter(|&i| days[i].is_some()).count();
            let unknown = (upto - anchor).max(0) - i64::try_from(known).unwrap();
            prop_assert_eq!(i64::from(totals.unknown(nth(anchor), nth(upto))), unknown);
        }
    }

    #[test]
    fn heat_adds_up_over_days(days in any_days(), mut ends in proptest::array::uniform3(-5..65_i64)) {
        ends.sort_unstable();
        let totals = Totals::new(&model(Method::SingleSine, Cutoff::None), nth(0), &days);
        let [a, b, c] = ends.map(nth);
        let parts = totals.at_least(a, b).0 + totals.at_least(b, c).0;
        prop_assert!((parts - totals.at_least(a, c).0).abs() < 1e-9);
        let known = totals.since(a, b).zip(totals.since(b, c)).is_some();
        prop_assert_eq!(known, totals.since(a, c).is_some());
    }

    #[test]
    fn a_search_finds_what_a_walk_finds(days in any_days(), anchor in -5..65_i64, need in 0.1..400.0_f64) {
        let model = model(Method::SingleSine, Cutoff::None);
        let totals = Totals::new(&model, nth(0), &days);
        let walked = (anchor.max(-1) + 1..i64::try_from(days.len()).unwrap())
            .find(|&day| by_hand(&model, &days, anchor, day) >= need)
            .map(nth);
        prop_assert_eq!(totals.reached(nth(anchor), DegreeDays(need)), walked);
    }

    #[test]
    fn trust_is_that_of_the_day(days in any_days(), day in -5..65_i64) {
        let totals = Totals::new(&model(Method::Average, Cutoff::None), nth(0), &days);
        let expected = usize::try_from(day).ok().and_then(|i| Some(days.get(i)?.as_ref()?.trust));
        prop_assert_eq!(totals.trust_of(nth(day)), expected);
    }
}
