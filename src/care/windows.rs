//! When a step's window opens and closes, for one batch.
//!
//! Dates may lie ahead, by forecast; whether they have come is the business of `steps`. Nothing here is remembered:
//! a corrected day or record gives corrected dates.

use super::facts::{Fact, Facts};
use super::last_graft::LastGraft;
use super::warmth::Warmth;
use crate::days::Series;
use crate::nursery::{
    Anchor, Batch, Closing, Count, Held, MonthDay, Opening, Plan, Site, Workdays,
};
use crate::units::DegreeDays;
use chrono::{Days, Months, NaiveDate};

/// What opened a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// Warmth, or a cold week.
    Heat,
    /// Something seen or done.
    Record,
    /// The calendar.
    Calendar,
}

impl By {
    /// The word used in `--json`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Heat => "heat",
            Self::Record => "record",
            Self::Calendar => "calendar",
        }
    }
}

/// The day on which a window opens, and what opens it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Opened {
    /// The day at whose end the rule is met.
    pub on: NaiveDate,
    /// What met it.
    pub by: By,
}

/// One batch and the ground it stands on.
#[derive(Clone, Copy, Debug)]
pub struct Subject<'a> {
    /// The batch.
    pub batch: &'a Batch,
    /// Its care plan.
    pub plan: &'a Plan,
    /// Its site.
    pub site: &'a Site,
    /// What was seen and done on it.
    pub facts: &'a Facts,
    /// Its clock.
    pub warmth: Warmth<'a>,
    /// The days of its site.
    pub series: &'a Series,
    /// When somebody is in the field.
    pub workdays: &'a Workdays,
    /// How late can be grafted.
    pub last_graft: Option<LastGraft>,
}

impl Subject<'_> {
    /// Heat since grafting at which callus lines are reckoned to have shown, L0: see [`crate::nursery::Reckoning`].
    pub fn callus_lines(&self) -> DegreeDays {
        let rule = self.plan.reckoning;
        let assumed = self.warmth.heat_of(rule.assumed);
        let at = |fact: super::facts::Fact| self.warmth.at_least(fact.date);
        let seen = self.facts.first(&[rule.seen]).map_or(assumed, at);
        let unseen = self.facts.last(&[rule.unseen]).map_or(DegreeDays(0.0), at);
        DegreeDays(assumed.0.min(seen.0).max(unseen.0))
    }

    /// When the window opens: at once by a record, or by warmth and the calendar, whichever is earlier.
    pub fn opening(&self, opens: &Opening) -> Option<Opened> {
        let record = self.facts.first(&opens.at_once).map(|fact| Opened {
            on: fact.date,
            by: By::Record,
        });
        let rule = self.by_rule(opens);
        match (record, rule) {
            (Some(record), Some(rule)) => Some(if rule.on < record.on { rule } else { record }),
            (record, rule) => record.or(rule),
        }
    }

    fn by_rule(&self, opens: &Opening) -> Option<Opened> {
        if self.facts.first(&opens.unless).is_some() {
            return None;
        }
        let anchor = self.anchor(opens.after)?;
        let needed = self.needed(opens, anchor)?;
        let met = self.all_met(opens, anchor);
        let calendar = opens.max_days.map(|days| {
            let latest = anchor.max(self.batch.grafted_on + Days::new(days.into()));
            let (on, by) = if needed > latest {
                (needed, By::Record)
            } else {
                (latest, By::Calendar)
            };
            Opened { on, by }
        });
        match (met, calendar) {
            (Some(met), Some(calendar)) => Some(if calendar.on < met.on { calendar } else { met }),
            (met, calendar) => met.or(calendar),
        }
    }

    /// The first day on which all that the opening asks for holds, its latest day set aside.
    fn all_met(&self, opens: &Opening, anchor: NaiveDate) -> Option<Opened> {
        let mut on = anchor;
        let mut by = By::Calendar;
        let asks = opens.warmth.is_some()
            || opens.months.is_some()
            || opens.from.is_some()
            || opens.week_below.is_some();
        if !asks {
            return None;
        }
        if let Some(need) = opens.warmth {
            on = on.max(self.warmth.reached(anchor, self.warmth.heat_of(need))?);
            by = By::Heat;
        }
        if let Some(days) = opens.min_days {
            on = on.max(self.batch.grafted_on + Days::new(days.into()));
        }
        if let Some(months) = opens.months {
            on = on.max(anchor.checked_add_months(Months::new(months))?);
        }
        if let Some(date) = opens.from {
            on = date.on_or_after(on, self.site.hemisphere());
        }
        if let Some(below) = opens.week_below {
            on = self.first_cold_week(on, below.0)?;
            by = By::Heat;
        }
        let needed = self.needed(opens, anchor)?;
        if needed > on {
            (on, by) = (needed, By::Record);
        }
        if let Some(held) = opens.held {
            on = on.max(self.held_to(held, Some(self.plan.reckoning.seen))?);
        }
        Some(Opened { on, by })
    }

    /// The first day on or after `from` that ends a week below so many °C. As with warmth, a day that is over and known
    /// only from a forecast does not count.
    fn first_cold_week(&self, from: NaiveDate, below: f64) -> Option<NaiveDate> {
        let mut from = from;
        loop {
            let day = self.series.first_week(from, |mean| mean < below)?;
            let is_known = self.series.day(day).is_some_and(|d| d.is_known());
            if is_known || day > self.warmth.moment.through {
                return Some(day);
            }
            from = day.succ_opt()?;
        }
    }

    /// The day on which the record that the opening needs was written down, none while it waits; `anchor` where none
    /// is needed.
    fn needed(&self, opens: &Opening, anchor: NaiveDate) -> Option<NaiveDate> {
        let Some((what, least)) = opens.needs else {
            return Some(anchor);
        };
        let enough = |fact: &&Fact| {
            fact.what == what && matches!(fact.count, Some(Count::Of(n)) if n >= least)
        };
        self.facts.all().iter().find(enough).map(|fact| fact.date)
    }

    /// The day up to which the last record of `held.by` holds; grafting where there is none. Records after the first
    /// of `ends` no longer hold.
    fn held_to(&self, held: Held, ends: Option<crate::nursery::What>) -> Option<NaiveDate> {
        let fact = match ends {
            Some(ends) => self.facts.last_before_first(held.by, ends),
            None => self.facts.last(&[held.by]),
        };
        let Some(fact) = fact else {
            return Some(self.batch.grafted_on);
        };
        let heat = self.warmth.at_least(fact.date).0 + self.warmth.heat_of(held.during).0;
        self.warmth
            .reaches(DegreeDays(heat))
            .map(|day| day.max(fact.date))
    }

    /// When the window closes: the last day on which the work is in time; none while that cannot be foreseen.
    pub fn closing(&self, closes: &Closing, opened: Option<Opened>) -> Option<NaiveDate> {
        let by_warmth = match (closes.warmth, closes.after) {
            (None, _) => None,
            (Some(need), Anchor::CallusLines) => Some(self.warmth.reaches(DegreeDays(
                self.callus_lines().0 + self.warmth.heat_of(need).0,
            ))?),
            (Some(need), after) => {
                let anchor = if after == Anchor::Opening {
                    opened?.on
                } else {
                    self.anchor(after)?
                };
                Some(self.warmth.reached(anchor, self.warmth.heat_of(need))?)
            }
        };
        let from = || {
            if closes.after == Anchor::Opening {
                opened.map(|o| o.on)
            } else {
                self.anchor(closes.after)
            }
        };
        let by_days = match closes.days {
            Some(days) => Some(from()? + Days::new(days.into())),
            None => None,
        };
        let by_months = match closes.months {
            Some(months) => Some(from()?.checked_add_months(Months::new(months))?),
            None => None,
        };
        let by_date = match closes.on {
            Some(date) => Some(date.on_or_after(from()?, self.site.hemisphere())),
            None => None,
        };
        let close = [by_warmth, by_days, by_months, by_date]
            .into_iter()
            .flatten()
            .min()?;
        match closes.held {
            Some(held) => Some(close.max(self.held_to(held, None)?)),
            None => Some(close),
        }
    }

    /// The date from which warmth, days and months count. Heat counts from the day after, so midwinter is the day
    /// before 1 January.
    pub fn anchor(&self, anchor: Anchor) -> Option<NaiveDate> {
        match anchor {
            Anchor::Grafted => Some(self.batch.grafted_on),
            Anchor::Record(what) => self.facts.answered_on(what),
            Anchor::Midwinter => {
                let january = MonthDay { month: 1, day: 1 };
                january
                    .on_or_after(self.batch.grafted_on, self.site.hemisphere())
                    .pred_opt()
            }
            Anchor::CallusLines => self.warmth.reaches(self.callus_lines()),
            Anchor::Opening => None,
        }
    }
}
