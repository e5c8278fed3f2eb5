//! The heat of one day, as a model asks for it: the one entry for every method and cutoff.
//!
//! Each method is the mean over the day of what a temperature gives at that moment; they differ in the course they
//! let the temperature take. Knows two readings and tomorrow's minimum; no dates, no neighbours, no missing days.

use super::curve::{Curve, Extremes};
use super::response::{Cardinals, beta, growing_degree_hours, mean_over_day};
use crate::nursery::{Cutoff, Method, Model};

/// The heat of one day in the unit of the method ([`Method::unit`]); finite, not negative.
///
/// `day` must hold finite readings, the minimum not above the maximum. `next_min` is tomorrow's minimum where it is
/// known; only the double methods use it, and without it they fall back on the single curve.
///
/// The 86/50 rule for maize, as worked by Eckert & Thomison 2017 (Ohio State University Extension, AGF-101): readings of
/// 60 and 80 °F give 20 °F·d, 70 and 90 °F give 28.
///
/// ```
/// use graftwarden::heat::{Extremes, of_day};
/// use graftwarden::nursery::{Cutoff, Method, Model};
/// use graftwarden::units::Celsius;
/// let c = |f| Celsius::from_fahrenheit(f).0;
/// let rule = Model::new(Method::ClampedAverage, Cutoff::Horizontal, c(50.0), None, Some(c(86.0))).unwrap();
/// let day = |min, max| of_day(&rule, Extremes { min: c(min), max: c(max) }, None) * 1.8;
/// assert!((day(60.0, 80.0) - 20.0).abs() < 1e-9);
/// assert!((day(70.0, 90.0) - 28.0).abs() < 1e-9);
/// ```
pub fn of_day(model: &Model, day: Extremes, next_min: Option<f64>) -> f64 {
    let heat = match model.method {
        Method::Average => gain(model, day.mean()),
        Method::ClampedAverage => f64::midpoint(gain(model, day.min), gain(model, day.max)),
        Method::SingleTriangle => under(Curve::Triangle, model, day),
        Method::SingleSine => under(Curve::Sine, model, day),
        Method::DoubleTriangle => double(Curve::Triangle, model, day, next_min),
        Method::DoubleSine => double(Curve::Sine, model, day, next_min),
        Method::GrowingDegreeHours => {
            24.0 * cardinals(model).map_or(0.0, |at| mean_over_day(day, at, growing_degree_hours))
        }
        Method::Beta => cardinals(model).map_or(0.0, |at| mean_over_day(day, at, beta)),
    };
    // Only the intermediate cutoff can go below nothing, and it is the day as a whole that may not.
    heat.max(0.0)
}

/// What a constant temperature `t` in °C gives: °C above the base after the cutoff, °C·h in an hour for growing degree
/// hours, the share of the fastest growth for beta. Not negative.
///
/// ```
/// use graftwarden::heat::rate;
/// use graftwarden::nursery::{Cutoff, Method, Model};
/// let model = Model::new(Method::SingleSine, Cutoff::Horizontal, 5.0, None, Some(30.0)).unwrap();
/// // By hand: 20 °C is 15 above the base; 34 °C counts as 30.
/// assert_eq!((rate(&model, 20.0), rate(&model, 34.0)), (15.0, 25.0));
/// ```
pub fn rate(model: &Model, t: f64) -> f64 {
    match model.method {
        Method::GrowingDegreeHours => {
            cardinals(model).map_or(0.0, |at| growing_degree_hours(t, at))
        }
        Method::Beta => cardinals(model).map_or(0.0, |at| beta(t, at)),
        _ => gain(model, t).max(0.0),
    }
}

/// The temperatures of a response. [`Model::new`] never leaves one out; a model that lacks one gives no heat.
fn cardinals(model: &Model) -> Option<Cardinals> {
    Some(Cardinals {
        base: model.base,
        optimum: model.optimum?,
        upper: model.upper?,
    })
}

/// What one temperature gives above the base after the cutoff; below nothing where the intermediate cutoff says so.
fn gain(model: &Model, t: f64) -> f64 {
    let above = |threshold: f64| (t - threshold).max(0.0);
    match (model.cutoff, model.upper) {
        (Cutoff::Horizontal, Some(upper)) => (t.min(upper) - model.base).max(0.0),
        (Cutoff::Intermediate, Some(upper)) => above(model.base) - 2.0 * above(upper),
        (Cutoff::Vertical, Some(upper)) if t > upper => 0.0,
        _ => above(model.base),
    }
}

/// The same as a mean over the day's curve: the cutoffs of Zalom et al. 1983, Univ. Calif. leaflet 21373 (memory for the
/// wording): A(L) - A(U), A(L) - 2 A(U), and A(L) - A(U) - (U - L) f(U).
fn under(curve: Curve, model: &Model, day: Extremes) -> f64 {
    let above = |threshold: f64| curve.above(day, threshold);
    let base = model.base;
    match (model.cutoff, model.upper) {
        (Cutoff::Horizontal, Some(upper)) => above(base) - above(upper),
        (Cutoff::Intermediate, Some(upper)) => above(base) - 2.0 * above(upper),
        (Cutoff::Vertical, Some(upper)) => {
            above(base) - above(upper) - (upper - base) * curve.time_above(day, upper)
        }
        _ => above(base),
    }
}

/// Half a day up from today's minimum, half a day on to tomorrow's (Allen 1976). Where tomorrow's minimum lies above
/// today's maximum, the second half runs up instead of down.
fn double(curve: Curve, model: &Model, day: Extremes, next_min: Option<f64>) -> f64 {
    let first = under(curve, model, day);
    let Some(next) = next_min else {
        return first;
    };
    let onward = Extremes {
        min: day.max.min(next),
        max: day.max.max(next),
    };
    f64::midpoint(first, under(curve, model, onward))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn model(method: Method, cutoff: Cutoff) -> Model {
        let optimum = method.is_response().then_some(24.0);
        Model::new(method, cutoff, 5.0, optimum, Some(30.0)).unwrap()
    }

    #[track_caller]
    fn check(
        method: Method,
        cutoff: Cutoff,
        (min, max): (f64, f64),
        next_min: Option<f64>,
        expected: f64,
    ) {
        let found = of_day(&model(method, cutoff), Extremes { min, max }, next_min);
        assert!((found - expected).abs() < 1e-9, "{found} is not {expected}");
    }

    #[test]
    fn the_cutoff_of_the_average_acts_on_the_mean() {
        // The mean of 24 and 40 is 32: 27 above the base, 2 above the upper temperature.
        let day = (24.0, 40.0);
        check(Method::Average, Cutoff::None, day, None, 27.0);
        check(Method::Average, Cutoff::Horizontal, day, None, 25.0);
        check(Method::Average, Cutoff::Intermediate, day, None, 23.0);
        check(Method::Average, Cutoff::Vertical, day, None, 0.0);
        check(Method::Average, Cutoff::Vertical, (20.0, 40.0), None, 25.0);
    }

    #[test]
    fn the_cutoff_of_the_clamped_average_acts_on_each_reading() {
        // 2 °C counts as 5, 32 °C is 27 above the base and 2 above the upper temperature.
        let day = (2.0, 32.0);
        check(Method::ClampedAverage, Cutoff::None, day, None, 13.5);
        check(Method::ClampedAverage, Cutoff::Horizontal, day, None, 12.5);
        check(
            Method::ClampedAverage,
            Cutoff::Intermediate,
            day,
            None,
            11.5,
        );
        check(Method::ClampedAverage, Cutoff::Vertical, day, None, 0.0);
    }

    #[test]
    fn the_intermediate_cutoff_never_takes_away() {
        // 58 °C all day: 53 above the base, less twice 28.
        for method in [
            Method::Average,
            Method::ClampedAverage,
            Method::SingleTriangle,
            Method::DoubleSine,
        ] {
            check(method, Cutoff::Intermediate, (58.0, 58.0), Some(58.0), 0.0);
        }
    }

    #[test]
    fn the_upper_temperature_itself_still_counts_under_a_vertical_cutoff() {
        for method in [
            Method::Average,
            Method::ClampedAverage,
            Method::SingleTriangle,
            Method::SingleSine,
        ] {
            check(method, Cutoff::Vertical, (30.0, 30.0), None, 25.0);
        }
    }

    #[test]
    fn a_double_curve_goes_on_to_tomorrows_minimum() {
        // Halves (2, 20) and (8, 20): (225/36 + 9) / 2.
        let expected = f64::midpoint(6.25, 9.0);
        check(
            Method::DoubleTriangle,
            Cutoff::None,
            (2.0, 20.0),
            Some(8.0),
            expected,
        );
    }

    #[test]
    fn a_double_curve_runs_up_to_a_warmer_morning() {
        // Halves (2, 8) and (8, 20): (9/12 + 9) / 2.
        let expected = f64::midpoint(0.75, 9.0);
        check(
            Method::DoubleTriangle,
            Cutoff::None,
            (2.0, 8.0),
            Some(20.0),
            expected,
        );
    }

    #[test]
    fn a_double_curve_without_tomorrow_is_the_single_one() {
        check(
            Method::DoubleTriangle,
            Cutoff::None,
            (2.0, 20.0),
            None,
            6.25,
        );
    }

    #[test]
    fn a_day_at_the_optimum_is_one_optimum_day_and_24_full_hours() {
        check(Method::Beta, Cutoff::None, (24.0, 24.0), None, 1.0);
        let hours = 24.0 * (24.0 - 5.0);
        check(
            Method::GrowingDegreeHours,
            Cutoff::None,
            (24.0, 24.0),
            None,
            hours,
        );
    }
}
