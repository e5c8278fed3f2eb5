//! When: the distribution of a date, from every future paired with every amount that may be needed.
//!
//! Knows nothing of steps and their guards; whoever does bends each date with [`Dates::map`]. Hands on dates with their
//! weights, from which a chain of steps goes on without losing what is unsure.

use super::futures::Futures;
use super::spread::Requirement;
use crate::units::DegreeDays;
use chrono::NaiveDate;

/// Sums of weights that fall short by this share have been reached: they are not exact.
const SLACK: f64 = 1e-9;

/// One date that may come true.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chance {
    /// The date; none = not within the horizon, later than any other.
    pub date: Option<NaiveDate>,
    /// How likely, compared with the others; above 0.
    pub weight: f64,
    /// How many years back the future goes by in which it comes true; none where in any.
    pub back: Option<u32>,
}

/// The distribution of a date.
#[derive(Clone, Debug, PartialEq)]
pub struct Dates(Vec<Chance>);

/// Where most of a distribution lies. None = not within the horizon.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Band {
    /// One in ten comes no later.
    pub p10: Option<NaiveDate>,
    /// As likely sooner as later.
    pub p50: Option<NaiveDate>,
    /// One in ten comes later.
    pub p90: Option<NaiveDate>,
}

impl Dates {
    /// A date that is certain.
    pub fn certain(date: NaiveDate) -> Self {
        Self::new([Chance {
            date: Some(date),
            weight: 1.0,
            back: None,
        }])
    }

    /// From chances in any order; those without weight are left out, equal ones put together.
    pub fn new(chances: impl IntoIterator<Item = Chance>) -> Self {
        let mut chances: Vec<Chance> = chances.into_iter().filter(|c| c.weight > 0.0).collect();
        let order = |c: &Chance| (c.date.is_none(), c.date, c.back);
        chances.sort_by_key(order);
        chances.dedup_by(|next, kept| {
            let same = order(next) == order(kept);
            if same {
                kept.weight += next.weight;
            }
            same
        });
        Self(chances)
    }

    /// The chances, the earliest first.
    pub fn chances(&self) -> &[Chance] {
        &self.0
    }

    /// The date up to which `percent` of the weight lies: of n equal chances the ceil(percent · n / 100)-th. None = not
    /// within the horizon, or nothing known at all.
    pub fn quantile(&self, percent: u32) -> Option<NaiveDate> {
        let enough = self.weight() * f64::from(percent) / 100.0 * (1.0 - SLACK);
        let mut sum = 0.0;
        let found = self.0.iter().find(|chance| {
            sum += chance.weight;
            sum >= enough
        });
        found?.date
    }

    /// Where most of it lies.
    pub fn band(&self) -> Band {
        Band {
            p10: self.quantile(10),
            p50: self.quantile(50),
            p90: self.quantile(90),
        }
    }

    /// How likely, 0 to 1, it comes no later than that day; 0 where nothing is known.
    pub fn share_by(&self, day: NaiveDate) -> f64 {
        let by: f64 = self
            .0
            .iter()
            .filter(|chance| chance.date.is_some_and(|date| date <= day))
            .map(|chance| chance.weight)
            .sum();
        if by > 0.0 { by / self.weight() } else { 0.0 }
    }

    /// Every date bent by a rule, such as a step's least and last days.
    #[must_use]
    pub fn map(&self, rule: impl Fn(Option<NaiveDate>) -> Option<NaiveDate>) -> Self {
        Self::new(self.0.iter().map(|chance| Chance {
            date: rule(chance.date),
            ..*chance
        }))
    }

    fn weight(&self) -> f64 {
        self.0.iter().map(|chance| chance.weight).sum()
    }
}

/// When a requirement, in heat, is met, counted from the days after `anchors`.
///
/// An anchor that came true in one future (because it is itself an arrival) goes on in that one: a chain of steps then
/// has one and the same weather from its first step to its last. Other anchors go on in every future. What is unsure of
/// the anchors is so carried on; an anchor beyond the horizon gives an arrival beyond it.
///
/// ```
/// use graftwarden::days::PastYears;
/// use graftwarden::heat::{Trust, Warm};
/// use graftwarden::nursery::{Cutoff, Method, Model};
/// use graftwarden::outlook::{Dates, Futures, Known, Requirement, arrival};
/// let date = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
/// let model = Model::new(Method::Average, Cutoff::None, 5.0, None, None).unwrap();
/// let first = date("2026-07-01");
/// // A forecast of 15 °C·d a day for all of July.
/// let days = [Some(Warm { min: 12.0, max: 28.0, trust: Trust::Forecast }); 31];
/// let known = Known { first, days: &days, past: &PastYears::default(), through: date("2026-06-30"), from: first };
/// let futures = Futures::new(&model, known, date("2026-07-31"));
/// let need = Requirement { need: 210.0, sd: 0.1 };
/// let band = arrival(&futures, &Dates::certain(date("2026-06-30")), need).band();
/// // 210 takes 14 days; 210 · exp(-0.1 · 1.2816) = 184.7 takes 13, and 238.7 takes 16.
/// assert_eq!(band.p10, Some(date("2026-07-13")));
/// assert_eq!(band.p50, Some(date("2026-07-14")));
/// assert_eq!(band.p90, Some(date("2026-07-16")));
/// ```
pub fn arrival(futures: &Futures, anchors: &Dates, requirement: Requirement) -> Dates {
    arrival_of(futures, anchors, &requirement.grid())
}

/// The same for a grid of amounts, in heat, each as likely as the other: see [`Requirement::grid`].
pub fn arrival_of(futures: &Futures, anchors: &Dates, grid: &[f64]) -> Dates {
    let mut chances = Vec::new();
    for anchor in anchors.chances() {
        let Some(from) = anchor.date else {
            chances.push(*anchor);
            continue;
        };
        let own = anchor.back.filter(|&back| futures.has(back));
        let ways = if own.is_some() { 1 } else { futures.count() };
        let weight = anchor.weight / (ways * grid.len()) as f64;
        for &need in grid {
            let reached = futures.reached_in(own, from, DegreeDays(need));
            chances.extend(reached.map(|(back, date)| Chance { date, weight, back }));
        }
    }
    Dates::new(chances)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::days::PastYears;
    use crate::nursery::{Cutoff, Method, Model};
    use crate::outlook::Known;
    use chrono::Datelike;

    fn day(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 7, day).unwrap()
    }

    /// All of July 2026 still to come, after years of so many °C·d a day, the last year first.
    fn futures(years: &[f64]) -> Futures {
        let mut past = PastYears::default();
        for (back, heat) in (1..).zip(years) {
            for date in day(1).iter_days().take(31) {
                past.add(date.year() - back, date, *heat, heat + 10.0);
            }
        }
        let model = Model::new(Method::Average, Cutoff::None, 5.0, None, None).unwrap();
        let known = Known {
            first: day(1),
            days: &[],
            past: &past,
            through: day(1).pred_opt().unwrap(),
            from: day(1),
        };
        Futures::new(&model, known, day(31))
    }

    fn chance(date: u32, weight: f64) -> Chance {
        Chance {
            date: Some(day(date)),
            weight,
            back: None,
        }
    }

    fn never(weight: f64) -> Chance {
        Chance {
            date: None,
            weight,
            back: None,
        }
    }

    #[track_caller]
    fn check_quantiles(dates: &Dates, expected: [Option<u32>; 3]) {
        let Band { p10, p50, p90 } = dates.band();
        assert_eq!([p10, p50, p90].map(|d| d.map(|d| d.day())), expected);
    }

    #[track_caller]
    fn check_share(dates: &Dates, by: u32, expected: f64) {
        let found = dates.share_by(day(by));
        assert!((found - expected).abs() < 1e-12, "{found}");
    }

    #[test]
    fn a_quantile_is_the_smallest_that_has_its_share() {
        let equal = |n: u32| Dates::new((1..=n).rev().map(|d| chance(d, 1.0 / 3.0)));
        check_quantiles(&equal(1), [Some(1); 3]);
        check_quantiles(&equal(10), [Some(1), Some(5), Some(9)]);
        check_quantiles(&equal(11), [Some(2), Some(6), Some(10)]);
        check_quantiles(&equal(26), [Some(3), Some(13), Some(24)]);
        check_quantiles(&Dates::new([]), [None; 3]);
    }

    #[test]
    fn weights_count() {
        let dates = Dates::new([chance(3, 8.0), chance(1, 1.0), chance(9, 1.0)]);
        check_quantiles(&dates, [Some(1), Some(3), Some(3)]);
        check_share(&dates, 3, 0.9);
        check_share(&dates, 2, 0.1);
        check_share(&Dates::new([]), 2, 0.0);
    }

    #[test]
    fn never_is_later_than_any_day() {
        let dates = Dates::new([never(1.0), chance(5, 1.0), never(1.0)]);
        check_quantiles(&dates, [Some(5), None, None]);
        assert_eq!(dates.chances(), [chance(5, 1.0), never(2.0)]);
    }

    #[test]
    fn every_future_meets_every_amount() {
        // 100 °C·d in days of 10, 20 and 25: on the 10th, the 5th and the 4th.
        let found = arrival(
            &futures(&[10.0, 20.0, 25.0]),
            &before(),
            Requirement::certain(100.0),
        );
        let of = |date, back| Chance {
            back: Some(back),
            ..chance(date, 1.0 / 3.0)
        };
        assert_eq!(found.chances(), [of(4, 3), of(5, 2), of(10, 1)]);
    }

    fn before() -> Dates {
        Dates::certain(day(1).pred_opt().unwrap())
    }

    #[test]
    fn the_spread_of_the_need_widens_the_band() {
        let futures = futures(&[10.0, 10.0]);
        let band = |sd| arrival(&futures, &before(), Requirement { need: 100.0, sd });
        check_quantiles(&band(0.0), [Some(10); 3]);
        // exp(∓0.2 · 1.28155) = 0.774 and 1.292
        check_quantiles(&band(0.2), [Some(8), Some(10), Some(13)]);
    }

    #[test]
    fn anchors_without_a_future_go_on_in_each() {
        let anchors = Dates::new([chance(2, 3.0), chance(6, 1.0)]);
        let found = arrival(
            &futures(&[10.0, 20.0]),
            &anchors,
            Requirement::certain(40.0),
        );
        let of = |date, back, weight| Chance {
            back: Some(back),
            ..chance(date, weight)
        };
        let expected = [of(4, 2, 1.5), of(6, 1, 1.5), of(8, 2, 0.5), of(10, 1, 0.5)];
        assert_eq!(found.chances(), expected);
    }

    #[test]
    fn a_chain_keeps_its_weather() {
        let futures = futures(&[10.0, 20.0]);
        let first = arrival(&futures, &before(), Requirement::certain(100.0));
        let second = arrival(&futures, &first, Requirement::certain(100.0));
        // 20 and 10 days in the same weather all along, not 15 in a mixture.
        assert_eq!(
            second,
            arrival(&futures, &before(), Requirement::certain(200.0))
        );
        check_quantiles(&second, [Some(10), Some(10), Some(20)]);
        check_share(&second, 15, 0.5);
    }

    #[test]
    fn a_chain_carries_on_what_is_unsure() {
        let futures = futures(&[10.0]);
        let first = arrival(
            &futures,
            &before(),
            Requirement {
                need: 100.0,
                sd: 0.2,
            },
        );
        let second = arrival(&futures, &first, Requirement::certain(100.0));
        check_quantiles(&second, [Some(18), Some(20), Some(23)]);
        let third = arrival(&futures, &second, Requirement::certain(90.0));
        check_quantiles(&third, [Some(27), Some(29), None]);
        assert_eq!(
            arrival(&futures, &third, Requirement::certain(1.0)).quantile(90),
            None
        );
    }

    #[test]
    fn an_anchor_of_a_future_that_is_not_here_goes_on_in_each() {
        let anchor = Chance {
            back: Some(40),
            ..chance(2, 1.0)
        };
        let found = arrival(
            &futures(&[10.0, 20.0]),
            &Dates::new([anchor]),
            Requirement::certain(40.0),
        );
        check_quantiles(&found, [Some(4), Some(4), Some(6)]);
    }

    #[test]
    fn guards_bend_dates() {
        let dates = Dates::new([chance(3, 1.0), chance(9, 1.0), never(1.0)]);
        let bent = dates.map(|date| Some(date.map_or(day(20), |d| d.max(day(5)))));
        assert_eq!(
            bent.chances(),
            [chance(5, 1.0), chance(9, 1.0), chance(20, 1.0)]
        );
    }
}
