//! The clock of one batch: warmth since grafting, by the running totals of its site and its plan's heat model.

use crate::heat::{Totals, Trust};
use crate::nursery::Need;
use crate::units::{DegreeDays, StandardDays};
use chrono::NaiveDate;

/// The moment from which things are looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    /// The local calendar date at the site.
    pub today: NaiveDate,
    /// The last day that is over. In a round the day before `today`: the end of a day counts.
    pub through: NaiveDate,
}

impl Moment {
    /// The moment of a round on that date: the day itself is not over yet.
    pub fn during(today: NaiveDate) -> Self {
        Self {
            today,
            through: today.pred_opt().unwrap_or(today),
        }
    }

    /// The end of that date.
    pub fn end_of(today: NaiveDate) -> Self {
        Self {
            today,
            through: today,
        }
    }
}

/// Warmth of one batch.
#[derive(Clone, Copy, Debug)]
pub struct Warmth<'a> {
    /// The running totals of its site and model.
    pub totals: &'a Totals,
    /// The heat of a standard day.
    pub standard_day: DegreeDays,
    /// The day of grafting; heat counts from the day after.
    pub grafted_on: NaiveDate,
    /// From when it is looked at.
    pub moment: Moment,
}

impl Warmth<'_> {
    /// A need as heat.
    pub fn heat_of(&self, need: Need) -> DegreeDays {
        match need {
            Need::Standard(days) => days.as_heat(self.standard_day),
            Need::Heat(heat) => heat,
        }
    }

    /// Heat since grafting at the end of `day`; none where a day between is unknown.
    pub fn at(&self, day: NaiveDate) -> Option<DegreeDays> {
        self.totals.since(self.grafted_on, day)
    }

    /// Heat since grafting at the end of `day`, unknown days left out: at least so much.
    pub fn at_least(&self, day: NaiveDate) -> DegreeDays {
        self.totals.at_least(self.grafted_on, day)
    }

    /// Heat in standard days.
    pub fn standard(&self, heat: DegreeDays) -> StandardDays {
        heat.in_standard_days(self.standard_day)
    }

    /// The day at whose end the heat since `anchor` reaches `need`, by known days and forecast. A day that is over and
    /// known only from a forecast opens and closes nothing: the next better known day does.
    pub fn reached(&self, anchor: NaiveDate, need: DegreeDays) -> Option<NaiveDate> {
        let crossing = self.totals.reached(anchor, need)?;
        crossing
            .iter_days()
            .take_while(|&day| self.totals.last().is_some_and(|last| day <= last))
            .find(|&day| {
                day > self.moment.through
                    || matches!(
                        self.totals.trust_of(day),
                        Some(Trust::Known | Trust::Filled)
                    )
            })
    }

    /// The day at whose end the heat since grafting reaches `heat`.
    pub fn reaches(&self, heat: DegreeDays) -> Option<NaiveDate> {
        self.reached(self.grafted_on, heat)
    }

    /// The last day up to `through` of which more than a forecast is known, but not before grafting.
    pub fn known_to(&self) -> NaiveDate {
        let end = self
            .totals
            .last()
            .map_or(self.grafted_on, |last| last.min(self.moment.through));
        let mut day = end;
        while day > self.grafted_on
            && !matches!(
                self.totals.trust_of(day),
                Some(Trust::Known | Trust::Filled)
            )
        {
            let Some(before) = day.pred_opt() else { break };
            day = before;
        }
        day.max(self.grafted_on)
    }
}
