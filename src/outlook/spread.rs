//! The spread of a requirement as a fixed grid of amounts, each as likely as the other, and honest additions to it.
//!
//! Weather alone is too sure of itself: on 64 years of a public bloom record a nominal 80 % band held 57-63 % of the
//! events, with the requirement's own spread 74-78 %. No random numbers, so that one day's dates do not differ from the
//! next one's for no reason. Knows nothing of weather beyond how much of it is guessed.

/// Normal quantiles at the middles of fifteen stretches of equal probability (scipy 1.17.1, `special.ndtri`), the upper
/// half. With fifteen the 10, 50 and 90 % points stand on the grid themselves: a single future has its true band.
const GRID: [f64; 7] = [
    0.167_894_004_788_105_46,
    0.340_694_827_087_795_4,
    0.524_400_512_708_040_7,
    0.727_913_290_881_644_4,
    0.967_421_566_101_701,
    1.281_551_565_544_600_4,
    1.833_914_635_815_914_6,
];

/// The normal quantile of 90 %.
const NINETY: f64 = 1.281_551_565_544_600_4;

/// How much the heat of two or three weeks differs from year to year: standard deviation of its logarithm over the
/// summers of NOAA's Seattle series 2012-2015 (0.11 for 14 days, 0.09 for 21).
const WEATHER: f64 = 0.10;

/// From so many years before on, their own dates show how much weather differs from year to year; with fewer the band is
/// widened: judgement.
const ENOUGH_YEARS: usize = 5;

/// How far the heat of filled days may be off, all in one direction, as a share of it: judgement.
const FILLED: f64 = 0.15;

/// An amount of heat, or of standard days, that is needed, and how surely: its logarithm is normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Requirement {
    /// The middle.
    pub need: f64,
    /// Standard deviation of the logarithm, not negative; 0 = certain.
    pub sd: f64,
}

/// What makes a date less sure than its futures say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubt {
    /// Share of the need, 0 to 1, that is to come after the last day known or foretold.
    pub ahead: f64,
    /// How many years before it goes by.
    pub members: usize,
    /// Share of the need, 0 to 1, that comes from filled days.
    pub filled: f64,
}

impl Requirement {
    /// An amount that is certain.
    pub fn certain(need: f64) -> Self {
        Self { need, sd: 0.0 }
    }

    /// Amounts in rising order, each as likely as the other; one alone where it is certain.
    ///
    /// ```
    /// use graftwarden::outlook::Requirement;
    /// let grid = Requirement { need: 210.0, sd: 0.1 }.grid();
    /// assert_eq!((grid.len(), grid[7]), (15, 210.0));
    /// assert_eq!(format!("{:.1}", grid[13]), "238.7"); // 210 * exp(0.1 * 1.28155)
    /// ```
    pub fn grid(&self) -> Vec<f64> {
        if self.sd <= 0.0 {
            return vec![self.need];
        }
        let below = GRID.iter().rev().map(|z| -z);
        let above = GRID.iter().copied();
        below
            .chain([0.0])
            .chain(above)
            .map(|z| self.need * (self.sd * z).exp())
            .collect()
    }

    /// Between which amounts 80 of 100 batches lie.
    pub fn band80(&self) -> (f64, f64) {
        let factor = (NINETY * self.sd).exp();
        (self.need / factor, self.need * factor)
    }

    /// The same in another unit, `factor` of it for one of this.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            need: self.need * factor,
            ..self
        }
    }

    /// The same, less sure: fewer than five years before tell little of the weather that is usual here, and filled days
    /// may be off. Errors add up by their squares: of n years' mean the n-th part of a year's variance, and with no year
    /// before the whole of it.
    #[must_use]
    pub fn doubted(self, doubt: Doubt) -> Self {
        let weather = if doubt.members < ENOUGH_YEARS {
            WEATHER * doubt.ahead.clamp(0.0, 1.0)
        } else {
            0.0
        };
        let filled = FILLED * doubt.filled.clamp(0.0, 1.0);
        let members = doubt.members.max(1) as f64;
        Self {
            sd: (self.sd.powi(2) + weather.powi(2) / members + filled.powi(2)).sqrt(),
            ..self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::normal::ln_share;
    use super::*;

    #[test]
    fn the_grid_stands_in_the_middles_of_equal_shares() {
        for (i, z) in GRID.into_iter().enumerate() {
            let share = (8.0 + i as f64 + 0.5) / 15.0;
            assert!((ln_share(z).exp() - share).abs() < 1e-13, "{z}");
        }
        assert!((ln_share(NINETY).exp() - 0.9).abs() < 1e-13);
    }

    #[test]
    fn the_grid_rises_and_mirrors_itself() {
        let grid = Requirement {
            need: 100.0,
            sd: 0.2,
        }
        .grid();
        assert!(grid.is_sorted());
        for (low, high) in grid.iter().zip(grid.iter().rev()) {
            assert!((low * high - 1e4).abs() < 1e-8);
        }
        assert_eq!(Requirement::certain(100.0).grid(), [100.0]);
    }

    #[track_caller]
    fn check(ahead: f64, members: usize, filled: f64, variance: f64) {
        let doubted = Requirement {
            need: 15.0,
            sd: 0.1,
        }
        .doubted(Doubt {
            ahead,
            members,
            filled,
        });
        assert!(
            (doubted.sd.powi(2) - variance).abs() < 1e-12,
            "{}",
            doubted.sd
        );
    }

    #[test]
    fn doubts_add_up_by_their_squares() {
        check(0.0, 0, 0.0, 0.01);
        check(1.0, 0, 0.0, 0.02);
        check(1.0, 1, 0.0, 0.02);
        check(1.0, 4, 0.0, 0.0125);
        check(0.5, 1, 0.0, 0.0125);
        check(1.0, 5, 0.0, 0.01);
        check(0.0, 9, 0.4, 0.0136);
    }

    #[test]
    fn another_unit() {
        let need = Requirement {
            need: 14.0,
            sd: 0.1,
        }
        .times(15.0);
        assert_eq!(
            need,
            Requirement {
                need: 210.0,
                sd: 0.1
            }
        );
    }
}
