//! Growth rates that rise from a base to an optimum and fall to an upper temperature, and their mean over a day.
//!
//! The mean is an integral over the day's sine wave, not a sum over hours: good to 1e-9 of its value. Knows nothing of
//! methods, units of time or dates.

use super::curve::{Extremes, phase};
use std::f64::consts::{FRAC_PI_2, PI};
use std::sync::LazyLock;

/// The three temperatures of a rate, in °C, each above the one before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cardinals {
    /// Nothing grows at or below it.
    pub base: f64,
    /// Growth is fastest.
    pub optimum: f64,
    /// Nothing grows at or above it.
    pub upper: f64,
}

impl Cardinals {
    fn allow(self, t: f64) -> bool {
        self.base < t && t < self.upper
    }
}

/// The beta rate at a constant temperature, as a share of the rate at the optimum, 0 to 1.
///
/// ((Tu - T) / (Tu - To)) ((T - Tb) / (To - Tb))^((To - Tb) / (Tu - To)): Yan & Hunt 1999, Ann. Bot. 84:607-614,
/// whose equation has its base at 0 °C; the base here is the minimum of the same family (Yin et al. 1995, memory).
///
/// ```
/// use graftwarden::heat::response::{Cardinals, beta};
/// // The equation of Yan & Hunt (1999) with optimum 30 and maximum 40, by hand: 2 · (2/3)³.
/// let maize = Cardinals { base: 0.0, optimum: 30.0, upper: 40.0 };
/// assert!((beta(20.0, maize) - 16.0 / 27.0).abs() < 1e-12);
/// ```
pub fn beta(t: f64, at: Cardinals) -> f64 {
    if !at.allow(t) {
        return 0.0;
    }
    let (rise, fall) = (at.optimum - at.base, at.upper - at.optimum);
    (at.upper - t) / fall * ((t - at.base) / rise).powf(rise / fall)
}

/// Growing degree hours gathered in one hour at a constant temperature, in °C·h.
///
/// With A = To - Tb: A/2 (1 + cos(π + π (T - Tb) / (To - Tb))) up to the optimum, A (1 + cos(π/2 + π/2 (T - To) /
/// (Tu - To))) above it: Anderson, Richardson & Kesner 1986, Acta Hort. 184:71-78 (memory for the equation).
///
/// ```
/// use graftwarden::heat::response::{Cardinals, growing_degree_hours};
/// // The published temperatures 4, 25 and 36: half the full 21 °C·h half way up, all of it at the optimum.
/// let peach = Cardinals { base: 4.0, optimum: 25.0, upper: 36.0 };
/// assert!((growing_degree_hours(14.5, peach) - 10.5).abs() < 1e-12);
/// assert!((growing_degree_hours(25.0, peach) - 21.0).abs() < 1e-12);
/// ```
pub fn growing_degree_hours(t: f64, at: Cardinals) -> f64 {
    if !at.allow(t) {
        return 0.0;
    }
    let full = at.optimum - at.base;
    if t <= at.optimum {
        full / 2.0 * (1.0 + (PI + PI * (t - at.base) / full).cos())
    } else {
        let past = (t - at.optimum) / (at.upper - at.optimum);
        full * (1.0 + (FRAC_PI_2 + FRAC_PI_2 * past).cos())
    }
}

/// The mean of a rate over a day whose temperature follows a sine wave, in the unit of the rate.
///
/// The rate must be 0 at and beyond `base` and `upper`, and smooth between the three temperatures.
pub fn mean_over_day(day: Extremes, at: Cardinals, rate: impl Fn(f64, Cardinals) -> f64) -> f64 {
    if day.min >= day.max {
        return rate(day.mean(), at);
    }
    let half_range = (day.max - day.min) / 2.0;
    let panel = |from: f64, to: f64| {
        let sum: f64 = RULE
            .iter()
            .map(|(place, weight)| {
                let angle = from + (to - from) * place;
                weight * rate(day.mean() + half_range * angle.sin(), at)
            })
            .sum();
        (to - from) * sum
    };
    let [base, optimum, upper] = [at.base, at.optimum, at.upper].map(|t| phase(day, t));
    let panels = [(base, optimum), (optimum, upper)];
    panels
        .into_iter()
        .filter(|(from, to)| from < to)
        .map(|(from, to)| panel(from, to))
        .sum::<f64>()
        / PI
}

/// Places 0 to 1 in a panel and their weights: Gauss-Legendre with the cube of its places.
///
/// At its base a beta rate starts like a broken power of the temperature, which the plain rule follows badly; cubing
/// the places makes that start smooth. With 32 of them the worst of 1374 trial days, with optima as near as 2 °C to the
/// base or to the upper temperature, was 8e-10 of its value off; 24 leave 2e-8.
static RULE: LazyLock<[(f64, f64); PLACES]> = LazyLock::new(|| {
    gauss_legendre().map(|(place, weight)| {
        let place = f64::midpoint(1.0, place);
        (place.powi(3), weight / 2.0 * 3.0 * place.powi(2))
    })
});

const PLACES: usize = 32;

/// Places -1 to 1 and weights: the zeros of the Legendre polynomial, by Newton's method (Abramowitz & Stegun 25.4.29).
fn gauss_legendre() -> [(f64, f64); PLACES] {
    std::array::from_fn(|i| {
        let mut x = (PI * (i as f64 + 0.75) / (PLACES as f64 + 0.5)).cos();
        let mut slope = legendre(x).1;
        // From this start the method is at its limit after four or five rounds.
        for _ in 0..10 {
            let (value, at_x) = legendre(x);
            x -= value / at_x;
            slope = at_x;
        }
        (x, 2.0 / ((1.0 - x * x) * slope * slope))
    })
}

/// The Legendre polynomial of degree `PLACES` and its derivative, by the three-term recurrence.
fn legendre(x: f64) -> (f64, f64) {
    let (mut before, mut value) = (1.0, x);
    for degree in 2..=PLACES {
        let n = degree as f64;
        (before, value) = (
            value,
            ((2.0 * n - 1.0) * x * value - (n - 1.0) * before) / n,
        );
    }
    (value, PLACES as f64 * (x * value - before) / (x * x - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Expected values: the same integrals by adaptive quadrature at 40 digits with mpmath 1.3.
    #[track_caller]
    fn check(
        rate: fn(f64, Cardinals) -> f64,
        (min, max): (f64, f64),
        [base, optimum, upper]: [f64; 3],
        expected: f64,
    ) {
        let at = Cardinals {
            base,
            optimum,
            upper,
        };
        let found = mean_over_day(Extremes { min, max }, at, rate);
        assert!(
            (found - expected).abs() <= 1e-9 * expected,
            "{found} is not {expected}"
        );
    }

    #[test]
    fn a_mild_day_below_the_optimum() {
        check(
            growing_degree_hours,
            (10.0, 24.0),
            [4.0, 25.0, 36.0],
            13.354_320_167_970_575,
        );
    }

    #[test]
    fn a_warm_day_across_the_optimum() {
        check(
            growing_degree_hours,
            (20.0, 35.0),
            [4.0, 25.0, 36.0],
            11.450_952_269_275_202,
        );
    }

    #[test]
    fn a_day_across_all_three_temperatures() {
        check(
            growing_degree_hours,
            (-2.0, 38.5),
            [4.0, 25.0, 36.0],
            5.079_238_926_821_326,
        );
    }

    #[test]
    fn beta_on_a_day_from_below_the_base() {
        check(
            beta,
            (2.3, 31.7),
            [5.0, 28.0, 40.0],
            0.507_788_738_211_652_5,
        );
    }

    #[test]
    fn beta_across_all_three_temperatures() {
        check(
            beta,
            (-3.0, 39.0),
            [0.0, 24.0, 36.0],
            0.338_077_432_986_130_6,
        );
    }

    #[test]
    fn beta_with_a_minimum_just_below_the_base() {
        check(beta, (4.9, 33.7), [5.0, 24.0, 36.0], 0.519_835_782_507_569);
    }

    #[test]
    fn beta_with_a_root_for_a_start() {
        check(beta, (5.0, 33.7), [5.0, 8.0, 40.0], 0.667_008_079_041_694_9);
    }

    #[test]
    fn beta_with_an_optimum_beside_the_upper_temperature() {
        check(
            beta,
            (4.1, 32.8),
            [4.0, 33.7, 36.0],
            0.192_781_176_010_404_5,
        );
    }

    #[test]
    fn beta_on_a_day_that_hardly_reaches_the_base() {
        check(
            beta,
            (-11.0, 6.2),
            [5.0, 7.0, 36.0],
            0.164_091_235_525_139_3,
        );
    }

    #[test]
    fn days_outside_the_two_ends_give_nothing() {
        for day in [(-8.0, 4.0), (36.0, 41.0), (4.0, 4.0), (36.0, 36.0)] {
            check(growing_degree_hours, day, [4.0, 25.0, 36.0], 0.0);
            check(beta, day, [4.0, 25.0, 36.0], 0.0);
        }
    }

    #[test]
    fn a_day_of_one_temperature_has_its_rate() {
        check(beta, (25.0, 25.0), [4.0, 25.0, 36.0], 1.0);
    }

    #[test]
    fn the_rule_is_exact_for_polynomials() {
        // ∫ x^k over -1..1 is 2/(k+1) for even k, up to twice the number of places.
        for k in [0, 2, 10, 62] {
            let sum: f64 = gauss_legendre().iter().map(|(x, w)| w * x.powi(k)).sum();
            assert!((sum - 2.0 / f64::from(k + 1)).abs() < 1e-14, "{k}: {sum}");
        }
    }
}
