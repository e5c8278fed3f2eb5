//! The futures of a site: its known days, then the forecast, then each year before as one continuation.
//!
//! Built once for a site, a heat model, a day and a horizon, and shared by every batch: what all futures have in common
//! is summed up once, and a question costs one look into each. Knows nothing of requirements' spread, batches or
//! steps; hands on one date for each future.

use crate::days::{PastYears, same_date};
use crate::heat::{Extremes, Totals, Trust, Warm, of_day};
use crate::nursery::Model;
use crate::units::DegreeDays;
use chrono::{Datelike, Days, NaiveDate};

/// Without years before, the days to come are as warm as the mean of so many last ones.
const LAST_DAYS: usize = 14;

/// What is known of a site when it looks ahead.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// The date of the first of `days`.
    pub first: NaiveDate,
    /// The days from `first` on; `None` is a day that is unknown.
    pub days: &'a [Option<Warm>],
    /// The years before, beside what `days` itself has of them.
    pub past: &'a PastYears,
    /// The last day that is over. Of later days only those foretold are used.
    pub through: NaiveDate,
    /// The first day whose heat will be asked for: the day after the earliest anchor. What is missing before it costs
    /// nothing.
    pub from: NaiveDate,
}

/// The futures of one site and heat model.
///
/// A day of which nothing is known, whether still to come or missing, is that of each year before on the same date (28
/// February for a 29th the year lacks; a year's own 29 February is passed over where there is none now). A year that
/// has some of these days and not all is left out. With no whole year, the one future is rough: such a day is as warm as
/// the mean of the last 14 known ones.
///
/// ```
/// use graftwarden::days::PastYears;
/// use graftwarden::heat::{Trust, Warm};
/// use graftwarden::nursery::{Cutoff, Method, Model};
/// use graftwarden::outlook::{Futures, Known};
/// use graftwarden::units::DegreeDays;
/// let date = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
/// let model = Model::new(Method::Average, Cutoff::None, 5.0, None, None).unwrap();
/// // Ten known days of 15 °C·d each; July was of 10 °C·d a day in 2024 and of 20 in 2025.
/// let days = [Some(Warm { min: 12.0, max: 28.0, trust: Trust::Known }); 10];
/// let mut past = PastYears::default();
/// for day in date("2026-07-01").iter_days().take(31) {
///     past.add(2024, day, 10.0, 20.0);
///     past.add(2025, day, 20.0, 30.0);
/// }
/// let first = date("2026-07-01");
/// let known = Known { first, days: &days, past: &past, through: date("2026-07-10"), from: first };
/// let futures = Futures::new(&model, known, date("2026-07-31"));
/// let reached: Vec<_> = futures.reached(date("2026-06-30"), DegreeDays(210.0)).collect();
/// // 150 so far; 60 more take 3 days as in 2025 and 6 as in 2024.
/// assert_eq!(reached, [(Some(1), Some(date("2026-07-13"))), (Some(2), Some(date("2026-07-16")))]);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Futures {
    /// What is known and foretold without a gap.
    common: Totals,
    /// The last day that all futures have in common.
    common_to: NaiveDate,
    ways: Vec<Future>,
    left_out: usize,
    rough: bool,
    horizon: NaiveDate,
}

/// One continuation.
#[derive(Clone, Debug, PartialEq)]
struct Future {
    /// How many years back the year is that it goes by; none where it goes by none.
    back: Option<u32>,
    /// From the day after the common ones to the horizon.
    totals: Totals,
}

impl Futures {
    /// The futures of a site up to `horizon`, the last day that is looked at.
    pub fn new(model: &Model, known: Known<'_>, horizon: NaiveDate) -> Self {
        let run = known.run_to(horizon);
        let gaps: Vec<usize> = (0..run.len()).filter(|&i| run[i].is_none()).collect();
        let whole = gaps.first().copied().unwrap_or(run.len());
        // A double method reckons a day by the minimum of the next, which each future has for itself.
        let own = model.method.is_double() && whole < run.len();
        let common = whole.saturating_sub(usize::from(own));
        let day = |index: usize| known.from + Days::new(index as u64);
        let (filled, left_out) = known.filled(&run, &gaps);
        let mut ways: Vec<Future> = filled
            .iter()
            .map(|(back, filled)| Future {
                back: *back,
                totals: Totals::new(model, day(common), &filled[common..]),
            })
            .collect();
        let rough = ways.is_empty();
        if rough && let Some(mean) = known.mean_of_last_days(model) {
            let heat = |i| DegreeDays(heat_at(model, &run, i).unwrap_or(mean));
            ways.push(Future {
                back: None,
                totals: Totals::of_heat(day(common), (common..run.len()).map(heat)),
            });
        }
        Self {
            common: Totals::new(model, known.from, &run[..whole]),
            common_to: day(common) - Days::new(1),
            ways,
            left_out,
            rough,
            horizon,
        }
    }

    /// How many years before continue it; 0 where rough, or where nothing is left open up to the horizon.
    pub fn members(&self) -> usize {
        self.ways.iter().filter(|f| f.back.is_some()).count()
    }

    /// How many futures there are.
    pub(super) fn count(&self) -> usize {
        self.ways.len()
    }

    /// Whether one of them goes by the year so many years back.
    pub(super) fn has(&self, back: u32) -> bool {
        self.ways.iter().any(|f| f.back == Some(back))
    }

    /// How many years before were left out because of a day missing in them.
    pub fn left_out(&self) -> usize {
        self.left_out
    }

    /// No year before could be gone by.
    pub fn is_rough(&self) -> bool {
        self.rough
    }

    /// Nothing at all is known, neither days nor years before: every answer is unknown.
    pub fn is_blank(&self) -> bool {
        self.ways.is_empty()
    }

    /// The last day that is looked at.
    pub fn horizon(&self) -> NaiveDate {
        self.horizon
    }

    /// Which share of a need counted from `anchor`, 0 to 1, is to come after the days that are known or foretold.
    pub fn share_ahead(&self, anchor: NaiveDate, need: DegreeDays) -> f64 {
        if need.0 <= 0.0 {
            return 0.0;
        }
        let known = self.common.at_least(anchor, self.common_to).0;
        (1.0 - known / need.0).clamp(0.0, 1.0)
    }

    /// For each future how many years back it goes by, and the first day after `anchor` at whose end `need` is reached:
    /// `anchor` itself where nothing is needed, none where that is not within the horizon.
    ///
    /// A day before today that is unknown may turn out to be the day: whoever knows that it was not takes the next.
    pub fn reached(
        &self,
        anchor: NaiveDate,
        need: DegreeDays,
    ) -> impl Iterator<Item = (Option<u32>, Option<NaiveDate>)> {
        self.reached_in(None, anchor, need)
    }

    /// The same in the one future that goes by the year so many years back, or in all.
    pub(super) fn reached_in(
        &self,
        back: Option<u32>,
        anchor: NaiveDate,
        need: DegreeDays,
    ) -> impl Iterator<Item = (Option<u32>, Option<NaiveDate>)> {
        let common = self
            .common
            .reached(anchor, need)
            .filter(|&day| day <= self.common_to);
        let rest = DegreeDays(need.0 - self.common.at_least(anchor, self.common_to).0);
        let from = anchor.max(self.common_to);
        let asked = self
            .ways
            .iter()
            .filter(move |way| back.is_none() || way.back == back);
        asked.map(move |way| {
            let day = common.or_else(|| way.totals.reached(from, rest));
            (way.back, day.filter(|&day| day <= self.horizon))
        })
    }

    /// The mean over all futures of the heat of the days after `anchor` up to `upto`; none where nothing is known or
    /// `upto` lies beyond the horizon.
    pub fn mean_heat(&self, anchor: NaiveDate, upto: NaiveDate) -> Option<DegreeDays> {
        if self.is_blank() || upto > self.horizon {
            return None;
        }
        let common = self.common.at_least(anchor, upto).0;
        let from = anchor.max(self.common_to);
        let rest: f64 = self
            .ways
            .iter()
            .map(|f| f.totals.at_least(from, upto).0)
            .sum();
        Some(DegreeDays(common + rest / self.ways.len() as f64))
    }

    /// Between which sums the heat of the days after `anchor` up to `upto` lies in eight of ten futures: the quantile of
    /// n of them at P % is the ceil(P n/100)-th smallest. None where nothing is known or `upto` lies beyond the horizon.
    pub fn heat_band(
        &self,
        anchor: NaiveDate,
        upto: NaiveDate,
    ) -> Option<(DegreeDays, DegreeDays)> {
        if self.is_blank() || upto > self.horizon {
            return None;
        }
        let common = self.common.at_least(anchor, upto).0;
        let from = anchor.max(self.common_to);
        let mut rest: Vec<f64> = self
            .ways
            .iter()
            .map(|f| f.totals.at_least(from, upto).0)
            .collect();
        rest.sort_by(f64::total_cmp);
        let at = |percent: usize| {
            let rank = (percent * rest.len()).div_ceil(100).max(1);
            rest.get(rank - 1).map(|rest| DegreeDays(common + rest))
        };
        Some((at(10)?, at(90)?))
    }
}

/// A run without gaps, and how many years back the year is that fills them.
type Filled = (Option<u32>, Vec<Option<Warm>>);

impl Known<'_> {
    /// The days from `from` to `horizon`, without those that came to pass after `through`.
    fn run_to(&self, horizon: NaiveDate) -> Vec<Option<Warm>> {
        self.from
            .iter_days()
            .take_while(|&date| date <= horizon)
            .map(|date| {
                self.on(date)
                    .filter(|warm| date <= self.through || warm.trust == Trust::Forecast)
            })
            .collect()
    }

    fn on(&self, date: NaiveDate) -> Option<Warm> {
        let index = usize::try_from((date - self.first).num_days()).ok()?;
        self.days.get(index).copied().flatten()
    }

    /// The run with its gaps filled by each year before that has all of them, and how many have only some.
    fn filled(&self, run: &[Option<Warm>], gaps: &[usize]) -> (Vec<Filled>, usize) {
        if gaps.is_empty() {
            return (vec![(None, run.to_vec())], 0);
        }
        let earliest = self.past.years().min().unwrap_or(self.first.year());
        let last = self.from + Days::new(run.len() as u64);
        let years = last.year() - earliest.min(self.first.year());
        let (mut whole, mut left_out) = (Vec::new(), 0);
        for back in 1..=u32::try_from(years).unwrap_or(0) {
            let mut filled = run.to_vec();
            let mut found = 0;
            for &gap in gaps {
                filled[gap] = self.stands_for(self.from + Days::new(gap as u64), back);
                found += usize::from(filled[gap].is_some());
            }
            if found == gaps.len() {
                whole.push((Some(back), filled));
            } else if found > 0 {
                left_out += 1;
            }
        }
        (whole, left_out)
    }

    /// What was known of a date so many years before; nothing that lies after `through`.
    fn stands_for(&self, date: NaiveDate, back: u32) -> Option<Warm> {
        let year = date.year() - back as i32;
        let then = same_date(year, date).filter(|then| *then <= self.through)?;
        if let Some((min, max)) = self.past.day(year, date) {
            let trust = Trust::Known;
            return Some(Warm { min, max, trust });
        }
        self.on(then).filter(|warm| warm.trust != Trust::Forecast)
    }

    /// The mean heat of the last 14 days of which more than a forecast is known; of those foretold where there are none.
    fn mean_of_last_days(&self, model: &Model) -> Option<f64> {
        let index = (self.through - self.first).num_days() + 1;
        let over = usize::try_from(index).unwrap_or(0).min(self.days.len());
        let came = |i: &usize| self.days[*i].is_some_and(|warm| warm.trust != Trust::Forecast);
        let mut days: Vec<usize> = (0..over).rev().filter(came).take(LAST_DAYS).collect();
        if days.is_empty() {
            let foretold =
                |i: &usize| self.days[*i].is_some_and(|warm| warm.trust == Trust::Forecast);
            days = (0..self.days.len()).filter(foretold).collect();
        }
        let heat: Vec<f64> = days
            .iter()
            .filter_map(|&i| heat_at(model, self.days, i))
            .collect();
        (!heat.is_empty()).then(|| heat.iter().sum::<f64>() / heat.len() as f64)
    }
}

/// The heat of one day of a run; none where it is unknown.
fn heat_at(model: &Model, run: &[Option<Warm>], index: usize) -> Option<f64> {
    let Warm { min, max, .. } = run[index]?;
    let next_min = run.get(index + 1).copied().flatten().map(|next| next.min);
    Some(of_day(model, Extremes { min, max }, next_min))
}

#[cfg(test)]
mod tests;
