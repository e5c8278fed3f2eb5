//! The curve a day's temperature is taken to follow between its minimum and maximum.
//!
//! Two quantities say all that heat needs of a curve: how far it lies above a temperature on average, and for how much
//! of the day. Knows nothing of base temperatures, cutoffs or dates.

use std::f64::consts::{FRAC_PI_2, PI};

/// The two readings of a day, in °C: finite, and `min` not above `max`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extremes {
    /// The lowest temperature of the day.
    pub min: f64,
    /// The highest.
    pub max: f64,
}

impl Extremes {
    /// Half way between the two, in °C.
    pub fn mean(self) -> f64 {
        f64::midpoint(self.min, self.max)
    }
}

/// The shape of a day's temperature between its two readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Curve {
    /// A sine wave: Baskerville & Emin 1969, Ecology 50:514-517.
    Sine,
    /// Straight lines up and down: Lindsey & Newman 1956; Sevacherian et al. 1977.
    Triangle,
}

impl Curve {
    /// A(t): how far the day lies above `t` on average, the time below counted as nothing; in °C, not negative.
    ///
    /// With middle M, half range a and q = asin((t - M) / a), the sine gives (1/π)((M - t)(π/2 - q) + a cos q), the
    /// triangle (max - t)² / (2 (max - min)).
    ///
    /// ```
    /// use graftwarden::heat::{Curve, Extremes};
    /// let day = Extremes { min: 2.0, max: 20.0 };
    /// // By hand: 15² / (2 · 18).
    /// assert_eq!(Curve::Triangle.above(day, 5.0), 6.25);
    /// // At the middle of the day the equation of Baskerville & Emin (1969) is a/π.
    /// let half_range = 9.0;
    /// assert!((Curve::Sine.above(day, 11.0) - half_range / std::f64::consts::PI).abs() < 1e-12);
    /// ```
    pub fn above(self, day: Extremes, t: f64) -> f64 {
        let Extremes { min, max } = day;
        if max <= t {
            return 0.0;
        }
        if min >= t {
            return day.mean() - t;
        }
        match self {
            Self::Sine => {
                let half_range = (max - min) / 2.0;
                let phase = phase(day, t);
                ((day.mean() - t) * (FRAC_PI_2 - phase) + half_range * phase.cos()) / PI
            }
            Self::Triangle => (max - t).powi(2) / (2.0 * (max - min)),
        }
    }

    /// f(t): the share of the day spent above `t`, 0 to 1; a day that only touches `t` spends nothing above it.
    ///
    /// The sine gives 1/2 - q/π, the triangle (max - t) / (max - min).
    ///
    /// ```
    /// use graftwarden::heat::{Curve, Extremes};
    /// let day = Extremes { min: 10.0, max: 30.0 };
    /// // By hand: a sine is above half its height for a third of the time, a triangle for a quarter of it.
    /// assert!((Curve::Sine.time_above(day, 25.0) - 1.0 / 3.0).abs() < 1e-12);
    /// assert_eq!(Curve::Triangle.time_above(day, 25.0), 0.25);
    /// ```
    pub fn time_above(self, day: Extremes, t: f64) -> f64 {
        let Extremes { min, max } = day;
        if max <= t {
            return 0.0;
        }
        if min >= t {
            return 1.0;
        }
        match self {
            Self::Sine => 0.5 - phase(day, t) / PI,
            Self::Triangle => (max - t) / (max - min),
        }
    }
}

/// The phase angle, -π/2 to π/2, at which the day's rising sine passes `t`; its ends where it never does.
///
/// The range of the day must not be 0. Rounding may carry a `t` beside an end just past it, hence the clamp.
pub(super) fn phase(day: Extremes, t: f64) -> f64 {
    let half_range = (day.max - day.min) / 2.0;
    ((t - day.mean()) / half_range).clamp(-1.0, 1.0).asin()
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOTH: [Curve; 2] = [Curve::Sine, Curve::Triangle];

    #[track_caller]
    fn check(min: f64, max: f64, t: f64, above: f64, time_above: f64) {
        let day = Extremes { min, max };
        for curve in BOTH {
            let found = (curve.above(day, t), curve.time_above(day, t));
            assert_eq!(found, (above, time_above), "{curve:?}");
        }
    }

    #[test]
    fn a_day_wholly_above_counts_its_mean() {
        check(8.0, 18.0, 5.0, 8.0, 1.0);
    }

    #[test]
    fn a_day_wholly_below_counts_nothing() {
        check(-5.0, 4.0, 5.0, 0.0, 0.0);
    }

    #[test]
    fn a_day_that_starts_at_the_threshold_is_above_it() {
        check(5.0, 30.0, 5.0, 12.5, 1.0);
    }

    #[test]
    fn a_day_of_one_temperature_is_above_on_one_side_only() {
        check(5.0, 5.0, 4.0, 1.0, 1.0);
        check(5.0, 5.0, 5.0, 0.0, 0.0);
        check(5.0, 5.0, 6.0, 0.0, 0.0);
    }

    #[test]
    fn the_smallest_range_there_is_makes_no_nan() {
        let (min, max) = (20.1, 20.1_f64.next_up().next_up());
        let day = Extremes { min, max };
        for curve in BOTH {
            let above = curve.above(day, 20.1_f64.next_up());
            assert!((0.0..1e-14).contains(&above), "{curve:?} {above}");
            let share = curve.time_above(day, 20.1_f64.next_up());
            assert!((0.0..=1.0).contains(&share), "{curve:?} {share}");
        }
    }
}
