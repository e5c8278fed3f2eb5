//! Learning a requirement from what was seen: the posterior of the mean logarithm of a group's requirement.
//!
//! A batch's own requirement is seldom seen, only that it lay between two visits; some have been passed by nothing yet.
//! So the likelihood is that of censored observations. Knows nothing of groups, records or units: amounts come in and go
//! out in whatever unit the prior has. Hands on the mean, its variance, and the spread to expect of a new batch.

use super::normal::ln_between;
use super::spread::Requirement;

/// The weight of what was seen halves in so many seasons: judgement.
const HALF_LIFE_SEASONS: f64 = 5.0;

/// The posterior is looked at as far as it has fallen by so much, in logarithms, below its highest point.
const FALL: f64 = 40.0;

/// Points of the grid: as many as make a step an eighth of a batch's own spread, within these bounds.
const POINTS: (f64, f64) = (400.0, 20_000.0);

/// What is believed of a group before anything was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// The usual requirement: the middle, above 0.
    pub need: f64,
    /// How much groups differ: standard deviation of the logarithm of their mean, above 0.
    pub group_sd: f64,
    /// How much batches of one group differ: standard deviation of the logarithm, above 0.
    pub batch_sd: f64,
}

impl Prior {
    /// For standard days until callus lines: 80 % of batches between 14 and 21, the middle of which is 17.15 (common
    /// practice, no source; the division between groups and batches is judgement).
    pub const LINES: Self = Self {
        need: 17.15,
        group_sd: 0.13,
        batch_sd: 0.09,
    };

    /// The prior behind a window in which 80 % of batches lie: the middle of its ends by their logarithms, to a
    /// hundredth, and the spread divided between groups and batches as in [`Prior::LINES`]. None where it closes no
    /// later than it opens.
    ///
    /// ```
    /// use graftwarden::outlook::Prior;
    /// assert_eq!(Prior::of_window(14.0, 21.0), Some(Prior::LINES));
    /// assert_eq!(Prior::of_window(8.0, 12.0).unwrap().need, 9.8); // the root of 96
    /// assert_eq!(Prior::of_window(9.0, 9.0), None);
    /// ```
    pub fn of_window(opens: f64, closes: f64) -> Option<Self> {
        let usual = (21.0_f64 / 14.0).ln();
        let wider = (closes / opens).ln() / usual;
        let prior = Self {
            need: ((opens * closes).sqrt() * 100.0).round() / 100.0,
            group_sd: Self::LINES.group_sd * wider,
            batch_sd: Self::LINES.batch_sd * wider,
        };
        Self::new(prior.need, prior.group_sd, prior.batch_sd).ok()
    }

    /// How much a batch of any group may differ from the middle: standard deviation of the logarithm.
    pub fn sd(&self) -> f64 {
        self.group_sd.hypot(self.batch_sd)
    }

    /// What a batch needs before anything was seen.
    pub fn requirement(&self) -> Requirement {
        Requirement {
            need: self.need,
            sd: self.sd(),
        }
    }

    /// Refuses what is not a number above 0, in a grower's words.
    pub fn new(need: f64, group_sd: f64, batch_sd: f64) -> Result<Self, String> {
        for (name, value) in [
            ("need", need),
            ("spread of groups", group_sd),
            ("spread of batches", batch_sd),
        ] {
            if !(value.is_finite() && value > 0.0) {
                return Err(format!(
                    "the {name} must be a number above 0, and {value} is none"
                ));
            }
        }
        Ok(Self {
            need,
            group_sd,
            batch_sd,
        })
    }
}

/// What was seen of one batch: its requirement was above one amount and no more than another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sighting {
    /// At the last visit without it; none where the first visit already showed it.
    above: Option<f64>,
    /// At the first visit with it; none where it was not seen yet.
    upto: Option<f64>,
    seasons_ago: f64,
}

impl Sighting {
    /// Exact where the two amounts are equal. Refuses what cannot be, in a grower's words.
    pub fn new(above: Option<f64>, upto: Option<f64>) -> Result<Self, String> {
        for amount in [above, upto].into_iter().flatten() {
            if !(amount.is_finite() && amount > 0.0) {
                return Err(format!("{amount} is not an amount above 0"));
            }
        }
        match (above, upto) {
            (None, None) => Err("it says neither above nor up to what".into()),
            (Some(above), Some(upto)) if above > upto => Err(format!(
                "it cannot be above {above} and yet no more than {upto}"
            )),
            _ => Ok(Self {
                above,
                upto,
                seasons_ago: 0.0,
            }),
        }
    }

    /// The same, seen so many seasons ago (0 = this season; not negative): it weighs less.
    #[must_use]
    pub fn seasons_ago(self, seasons: f64) -> Self {
        Self {
            seasons_ago: seasons.max(0.0),
            ..self
        }
    }

    fn weight(self) -> f64 {
        0.5_f64.powf(self.seasons_ago / HALF_LIFE_SEASONS)
    }

    fn exact(self) -> Option<f64> {
        self.above.filter(|_| self.above == self.upto)
    }
}

/// What is believed of a group after what was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Learned {
    /// How many batches taught it.
    pub batches: usize,
    /// Mean of the logarithm of the group's requirement.
    pub mean: f64,
    /// Variance of that mean.
    pub variance: f64,
    /// How much a new batch may differ: standard deviation of the logarithm, from both the doubt about the group and the
    /// spread of batches.
    pub sd: f64,
}

impl Learned {
    /// The requirement of a new batch of the group.
    pub fn requirement(&self) -> Requirement {
        Requirement {
            need: self.mean.exp(),
            sd: self.sd,
        }
    }
}

/// Learns from what was seen of a group's batches.
///
/// With exact observations only it is the closed form of two normal laws: the mean of the logarithms and ln `need`
/// weighted by n/s² and 1/tau², tau and s being the two spreads of the prior. Otherwise the posterior is summed up over
/// a fixed grid. A sighting of weight w counts as w sightings.
///
/// ```
/// use graftwarden::outlook::{Prior, Sighting, learn};
/// let prior = Prior::new(200.0, 0.25, 0.15).unwrap();
/// let seen = [240.0, 228.0, 251.0].map(|need| Sighting::new(Some(need), Some(need)).unwrap());
/// let need = learn(&prior, &seen).requirement();
/// assert_eq!(format!("{:.2}", need.need), "234.90");
/// let (low, high) = need.band80();
/// assert_eq!(format!("{low:.1} {high:.1}"), "188.7 292.4");
/// ```
pub fn learn(prior: &Prior, seen: &[Sighting]) -> Learned {
    let certain = with_exact(prior, seen);
    let censored: Vec<Censored> = seen
        .iter()
        .filter(|sighting| sighting.exact().is_none())
        .map(|&sighting| Censored::from(sighting))
        .collect();
    let Bell { mean, variance } = if censored.is_empty() {
        certain
    } else {
        let curve = Curve {
            certain,
            censored: &censored,
            batch_sd: prior.batch_sd,
        };
        curve.summed_up()
    };
    Learned {
        batches: seen.len(),
        mean,
        variance,
        sd: (variance + prior.batch_sd.powi(2)).sqrt(),
    }
}

/// A normal law.
#[derive(Clone, Copy, Debug)]
struct Bell {
    mean: f64,
    variance: f64,
}

/// The prior with the exact sightings, which keep it normal.
fn with_exact(prior: &Prior, seen: &[Sighting]) -> Bell {
    let (prior_weight, batch_weight) = (prior.group_sd.powi(-2), prior.batch_sd.powi(-2));
    let (mut weight, mut sum) = (prior_weight, prior_weight * prior.need.ln());
    for sighting in seen {
        if let Some(need) = sighting.exact() {
            let counts = sighting.weight() * batch_weight;
            weight += counts;
            sum += counts * need.ln();
        }
    }
    Bell {
        mean: sum / weight,
        variance: 1.0 / weight,
    }
}

/// A sighting in logarithms, open ends infinite.
struct Censored {
    above: f64,
    upto: f64,
    weight: f64,
}

impl From<Sighting> for Censored {
    fn from(sighting: Sighting) -> Self {
        Self {
            above: sighting.above.map_or(f64::NEG_INFINITY, f64::ln),
            upto: sighting.upto.map_or(f64::INFINITY, f64::ln),
            weight: sighting.weight(),
        }
    }
}

/// The posterior of the mean logarithm, up to a factor. Its logarithm is concave, as that of each of its factors is: it
/// has one highest point and falls on both sides at least as fast as its normal part.
struct Curve<'a> {
    certain: Bell,
    censored: &'a [Censored],
    batch_sd: f64,
}

impl Curve<'_> {
    fn ln_at(&self, mean: f64) -> f64 {
        let from_bell = (mean - self.certain.mean).powi(2) / (2.0 * self.certain.variance);
        let likelihood: f64 = self
            .censored
            .iter()
            .map(|seen| {
                let place = |bound: f64| (bound - mean) / self.batch_sd;
                seen.weight * ln_between(place(seen.above), place(seen.upto))
            })
            .sum();
        likelihood - from_bell
    }

    fn summed_up(&self) -> Bell {
        let top = self.highest();
        let height = self.ln_at(top);
        let widest = (2.0 * FALL * self.certain.variance).sqrt();
        let (from, to) = (
            self.fallen(top, -widest, height),
            self.fallen(top, widest, height),
        );
        let points = ((to - from) / (self.batch_sd / 8.0))
            .clamp(POINTS.0, POINTS.1)
            .ceil();
        let step = (to - from) / points;
        let (mut mass, mut first, mut second) = (0.0, 0.0, 0.0);
        for point in 0..=points as u32 {
            let off = from - top + f64::from(point) * step;
            let share = (self.ln_at(top + off) - height).exp();
            mass += share;
            first += share * off;
            second += share * off * off;
        }
        let mean = first / mass;
        Bell {
            mean: top + mean,
            variance: second / mass - mean * mean,
        }
    }

    /// The highest point, by thirds.
    fn highest(&self) -> f64 {
        let bounds = self
            .censored
            .iter()
            .flat_map(|seen| [seen.above, seen.upto]);
        let (mut low, mut high) = (self.certain.mean, self.certain.mean);
        for bound in bounds.filter(|bound| bound.is_finite()) {
            low = low.min(bound - 10.0 * self.batch_sd);
            high = high.max(bound + 10.0 * self.batch_sd);
        }
        for _ in 0..120 {
            let third = (high - low) / 3.0;
            if self.ln_at(low + third) < self.ln_at(high - third) {
                low += third;
            } else {
                high -= third;
            }
        }
        f64::midpoint(low, high)
    }

    /// Where the curve has fallen far below its highest point, at most `reach` away from it.
    fn fallen(&self, top: f64, reach: f64, height: f64) -> f64 {
        let (mut near, mut far) = (0.0, reach);
        for _ in 0..20 {
            let middle = f64::midpoint(near, far);
            if self.ln_at(top + middle) < height - FALL {
                far = middle;
            } else {
                near = middle;
            }
        }
        top + far
    }
}

#[cfg(test)]
mod tests;
