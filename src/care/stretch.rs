//! What a stretch of days does to the dates of batches: its heat against the heat that is usual for those dates.
//!
//! Usual is the mean of the years before where at least three know the date, else a day of usual weather by the site or
//! the plan. Says nothing of why the stretch is looked at.

use super::{BatchCare, Ground, standard_day};
use crate::heat::{Extremes, of_day};
use crate::nursery::{Anchor, Model, Plan};
use crate::units::{DegreeDays, StandardDays};
use chrono::{Datelike, Days, NaiveDate};

/// With fewer years than this nothing is called usual of a date.
const LEAST_YEARS: usize = 3;
/// A date further off than this many days is not looked for.
const LOOKED_AT: usize = 150;

impl Ground<'_> {
    /// The heat in °C·d that a date usually brings: the mean of the years before it; none where fewer than three know it.
    pub fn usual_heat(&self, model: &Model, date: NaiveDate) -> Option<DegreeDays> {
        let past = self.past?;
        let of_year = |year| {
            let (min, max) = past.day(year, date)?;
            let next = date.succ_opt().and_then(|next| past.day(year, next));
            Some(of_day(
                model,
                Extremes { min, max },
                next.map(|(min, _)| min),
            ))
        };
        let years = past.years().filter(|&year| year < date.year());
        let heat: Vec<f64> = years.filter_map(of_year).collect();
        (heat.len() >= LEAST_YEARS)
            .then(|| DegreeDays(heat.iter().sum::<f64>() / heat.len() as f64))
    }

    /// The heat that a day brought or, by forecast, will bring; none where nothing is known of it.
    pub fn heat_of_day(&self, model: &Model, date: NaiveDate) -> Option<DegreeDays> {
        self.totals(model)?.since(date.pred_opt()?, date)
    }
}

/// A stretch of days, for the batches of one plan.
#[derive(Clone, Debug)]
pub struct Stretch<'a> {
    ground: &'a Ground<'a>,
    plan: &'a Plan,
    standard_day: DegreeDays,
    first: NaiveDate,
    last: NaiveDate,
    /// The usual heat of each day from `first` on, reckoned once for all batches.
    usual: Vec<f64>,
}

impl<'a> Stretch<'a> {
    /// The days from `first` to `last`, both included.
    pub fn new(ground: &'a Ground<'a>, plan: &'a Plan, first: NaiveDate, last: NaiveDate) -> Self {
        let standard_day = standard_day(ground.site, plan);
        let usually = |date| ground.usual_heat(&plan.model, date);
        let days = (last - first).num_days().max(0) as usize + LOOKED_AT;
        let usual = first.iter_days().take(days);
        Self {
            ground,
            plan,
            standard_day,
            first,
            last,
            usual: usual
                .map(|date| usually(date).unwrap_or(standard_day).0)
                .collect(),
        }
    }

    /// How many days it has.
    pub fn days(&self) -> i64 {
        (self.last - self.first).num_days() + 1
    }

    /// The heat it brings; none where a day of it is unknown.
    pub fn heat(&self) -> Option<DegreeDays> {
        let mut sum = 0.0;
        for date in self.dates() {
            sum += self.ground.heat_of_day(&self.plan.model, date)?.0;
        }
        Some(DegreeDays(sum))
    }

    /// The same in standard days.
    pub fn standard_days(&self) -> Option<StandardDays> {
        Some(self.heat()?.in_standard_days(self.standard_day))
    }

    /// The heat that these dates usually bring.
    pub fn usual(&self) -> DegreeDays {
        DegreeDays(self.dates().map(|date| self.usually(date)).sum())
    }

    /// The same in standard days.
    pub fn usual_standard_days(&self) -> StandardDays {
        self.usual().in_standard_days(self.standard_day)
    }

    /// Whether what is usual is known from the years before, and not only by the size of a standard day.
    pub fn is_by_years(&self) -> bool {
        let known = |date| self.ground.usual_heat(&self.plan.model, date).is_some();
        self.dates().all(known)
    }

    /// By how many days the next date of the batch that lies beyond the stretch comes sooner than it would have come, had
    /// the stretch been as warm as is usual; below 0, later. None where no date is left, or a day is unknown.
    pub fn moved(&self, care: &BatchCare<'_>) -> Option<i64> {
        let grafted = care.batch.grafted_on;
        let first = self.first.max(grafted.succ_opt()?);
        let begun = care.warmth.at_least(first.pred_opt()?).0;
        let stretch = || first.iter_days().take_while(|&day| day <= self.last);
        let usual: f64 = stretch().map(|day| self.usually(day)).sum();
        let needs = needs(care);
        let beyond = |(need, ..): &&Need| *need > begun + usual;
        let (need, least, most) = *needs
            .iter()
            .filter(beyond)
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        let guard = |day: NaiveDate| {
            let least = least.map_or(day, |days| grafted + Days::new(days.into()));
            let most = most.map_or(NaiveDate::MAX, |days| grafted + Days::new(days.into()));
            day.max(least).min(most)
        };
        let with = |day| {
            let heat = self.ground.heat_of_day(&self.plan.model, day);
            heat.map_or_else(|| self.usually(day), |heat| heat.0)
        };
        let without = |day| {
            if day <= self.last {
                self.usually(day)
            } else {
                with(day)
            }
        };
        self.heat()?;
        let with = guard(reached(first, begun, need, with)?);
        let without = guard(reached(first, begun, need, without)?);
        Some((without - with).num_days())
    }

    fn dates(&self) -> impl Iterator<Item = NaiveDate> {
        let last = self.last;
        self.first.iter_days().take_while(move |&day| day <= last)
    }

    /// What a day from `first` on usually brings.
    fn usually(&self, date: NaiveDate) -> f64 {
        let at = usize::try_from((date - self.first).num_days());
        let known = at.ok().and_then(|at| self.usual.get(at));
        known.copied().unwrap_or(self.standard_day.0)
    }
}

/// The first day from `first` on at whose end the heat has grown from `begun` to `need`.
fn reached(
    first: NaiveDate,
    begun: f64,
    need: f64,
    heat: impl Fn(NaiveDate) -> f64,
) -> Option<NaiveDate> {
    let mut sum = begun;
    first.iter_days().take(LOOKED_AT).find(|&day| {
        sum += heat(day);
        sum >= need * (1.0 - 1e-9)
    })
}

/// Heat since grafting, and the least and the most days after it.
type Need = (f64, Option<u32>, Option<u32>);

/// The amounts of heat since grafting at which windows of the batch open or close.
fn needs(care: &BatchCare<'_>) -> Vec<Need> {
    let heat_of = |need| care.warmth.heat_of(need).0;
    let steps = || care.plan.steps.iter().filter(|s| !s.aside);
    let opens = steps().map(|s| &s.opens);
    let opens = opens.filter(|o| o.after == Anchor::Grafted && o.repeat.is_none());
    let opens = opens.filter_map(|o| Some((heat_of(o.warmth?), o.min_days, o.max_days)));
    let closes = steps().filter_map(|s| s.closes);
    let closes = closes.filter(|c| c.after == Anchor::Grafted);
    let closes = closes.filter_map(|c| Some((heat_of(c.warmth?), None, None)));
    opens.chain(closes).collect()
}
