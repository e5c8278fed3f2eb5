//! When windows will open and close, as distributions: the rules of `windows`, asked of the futures of a site.
//!
//! What is needed is certain where the trade's own window says it: the program opens and closes by that sum, and only
//! the weather is unsure. It has a spread where a window waits for callus lines, which each batch shows when it does. A
//! step that waits for a record of work goes on from the days on which that work will be due: it is taken to be done on
//! the first day of its window, or today where that is open. Knows nothing of how dates are shown.

use super::again::{has_ended, next};
use super::tuned::look_for_lines;
use super::{BatchCare, State, StepCare};
use crate::nursery::{Again, Anchor, Closing, Held, MonthDay, Opening, Repeat, Step, Vigour, What};
use crate::outlook::{Dates, Doubt, Futures, Requirement, arrival_of};
use crate::units::{DegreeDays, StandardDays};
use chrono::{Days, Months, NaiveDate};

/// One batch and how the days of its site may go on.
#[derive(Clone, Copy, Debug)]
pub struct Sight<'c, 'a> {
    care: &'c BatchCare<'a>,
    futures: &'c Futures,
    /// How many steps may still wait for each other; plans have no more.
    depth: usize,
}

impl<'c, 'a> Sight<'c, 'a> {
    /// Looks ahead for one batch.
    pub fn new(care: &'c BatchCare<'a>, futures: &'c Futures) -> Self {
        Self {
            care,
            futures,
            depth: care.steps.len(),
        }
    }

    /// When the window of a step will open; none where it has, where it waits for what nobody can foresee (a count, a
    /// cold week, dead grafts), or where nothing is known.
    pub fn opening(&self, step: &StepCare<'_>) -> Option<Dates> {
        if step.state != State::Ahead || self.futures.is_blank() {
            return None;
        }
        let opens = &step.step.opens;
        if let Some(Repeat::Warmth(rules)) = &opens.repeat {
            return self.again(step.step, rules);
        }
        if self.care.facts.first(&opens.unless).is_some() || opens.week_below.is_some() {
            return None;
        }
        if let Some(Repeat::Days(every, _)) = opens.repeat {
            return match step.turn {
                Some(turn) => Some(self.not_past(&Dates::certain(turn.opened.on))),
                None => Some(later(&self.anchors(opens.after)?, every)),
            };
        }
        if opens.needs.is_some() {
            return None;
        }
        let anchors = self.anchors(opens.after)?;
        let dates = match opens.warmth {
            Some(_) => self.arrival(&anchors, &self.amounts(opens)?),
            None if opens.months.is_some() || opens.from.is_some() => anchors.clone(),
            None => return None,
        };
        Some(self.guarded(opens, &anchors, &dates))
    }

    /// When it will close; none where it has, never does, or where that hangs on what nobody can foresee.
    pub fn closing(&self, step: &StepCare<'_>) -> Option<Dates> {
        let closes = step.step.closes?;
        let over = |day| day <= self.care.warmth.moment.through;
        if step.state.is_past() || step.closes_on.is_some_and(over) || self.futures.is_blank() {
            return None;
        }
        let heat = |need| self.care.warmth.heat_of(need).0;
        let by_lines = closes.after == Anchor::CallusLines;
        let (anchors, lines) = match closes.after {
            Anchor::CallusLines if closes.warmth.is_some() => {
                (self.grafted(), self.care.callus_lines.0)
            }
            Anchor::Opening => (self.opened(step)?, 0.0),
            after => (self.anchors(after)?, 0.0),
        };
        let dates = if let Some(need) = closes.warmth {
            let mut amount = lines + heat(need);
            if let Some(held) = closes.held
                && (by_lines || closes.after == Anchor::Grafted)
            {
                amount = amount.max(self.held_heat(held, None));
            }
            self.arrival(&anchors, &[amount])
        } else {
            self.by_calendar(&closes, &anchors)?
        };
        Some(self.not_past(&dates))
    }

    /// When the limit will be reached; none where it has been, where the risk is over, or where nothing is known. Unseen,
    /// the worst is assumed: the same lines as for the limit itself, so that only the weather is unsure.
    pub fn limit(&self) -> Option<Dates> {
        let care = self.care.limit.filter(|l| l.state == State::Ahead)?;
        if self.futures.is_blank() {
            return None;
        }
        let heat = |need| self.care.warmth.heat_of(need).0;
        let sooner = match self.care.batch.vigour {
            Vigour::Strong => heat(care.limit.strong_sooner),
            Vigour::Usual | Vigour::Weak => 0.0,
        };
        let amount = self.care.callus_lines.0 + heat(care.limit.warmth) - sooner;
        Some(self.not_past(&self.arrival(&self.grafted(), &[amount])))
    }

    /// When callus lines will show; none where they were seen, or where nothing is known. It was not yet at the last
    /// `no-lines`.
    pub fn lines(&self) -> Option<Dates> {
        if self.futures.is_blank() {
            return None;
        }
        Some(self.not_past(&self.arrival(&self.grafted(), &self.lines_amounts()?)))
    }

    /// The heat until lines as a grid, without what the last `no-lines` has ruled out.
    fn lines_amounts(&self) -> Option<Vec<f64>> {
        let (care, rule) = (self.care, self.care.plan.reckoning);
        if care.facts.first(&[rule.seen]).is_some() {
            return None;
        }
        let need = care.lines.need?;
        let heat = |days| StandardDays(days).as_heat(care.warmth.standard_day).0;
        let unseen = care.facts.last(&[rule.unseen]);
        let above = unseen.map_or(0.0, |fact| care.warmth.at_least(fact.date).0);
        let mut amounts: Vec<f64> = need.grid().into_iter().map(heat).collect();
        amounts.retain(|&amount| amount > above);
        if amounts.is_empty() {
            amounts.push(above); // any day now
        }
        Some(amounts)
    }

    /// The heat at which a window opens, as a grid: certain, unless lines open it at once.
    fn amounts(&self, opens: &Opening) -> Option<Vec<f64>> {
        let warmth = &self.care.warmth;
        let mut by_rule = warmth.heat_of(opens.warmth?).0;
        if let Some(held) = opens.held
            && opens.after == Anchor::Grafted
        {
            by_rule = by_rule.max(self.held_heat(held, Some(self.care.plan.reckoning.seen)));
        }
        let waits_for_lines = opens.after == Anchor::Grafted
            && opens.at_once.contains(&self.care.plan.reckoning.seen);
        let lines = self.lines_amounts().filter(|_| waits_for_lines);
        let look = look_for_lines(self.care.plan).and_then(|look| look.opens.warmth);
        Some(match lines {
            // They are seen when they show, but hardly before the first look.
            Some(lines) => {
                let look = look.map_or(0.0, |need| warmth.heat_of(need).0);
                let at = |amount: f64| amount.max(look).min(by_rule);
                lines.into_iter().map(at).collect()
            }
            None => vec![by_rule],
        })
    }

    /// The heat since grafting up to which the last record of `held.by` holds; 0 where there is none.
    fn held_heat(&self, held: Held, ends: Option<What>) -> f64 {
        let facts = &self.care.facts;
        let fact = match ends {
            Some(ends) => facts.last_before_first(held.by, ends),
            None => facts.last(&[held.by]),
        };
        fact.map_or(0.0, |fact| {
            let warmth = &self.care.warmth;
            warmth.at_least(fact.date).0 + warmth.heat_of(held.during).0
        })
    }

    /// The least and last days of an opening, its months and its date of the year.
    fn guarded(&self, opens: &Opening, anchors: &Dates, dates: &Dates) -> Dates {
        let grafted = self.care.batch.grafted_on;
        let after = |days: u32| grafted + Days::new(days.into());
        let (least, most) = (opens.min_days.map(after), opens.max_days.map(after));
        let months = opens.months.map(Months::new);
        let by_months = |anchor: NaiveDate| anchor.checked_add_months(months?);
        let whole = if opens.warmth.is_none() {
            // Months alone count from each anchor; beside warmth from the middle one.
            dates.map(|day| day.and_then(|day| months.map_or(Some(day), |_| by_months(day))))
        } else {
            let least = anchors.quantile(50).and_then(by_months);
            dates.map(|day| day.map(|day| least.map_or(day, |least| day.max(least))))
        };
        let hemisphere = self.care.site.hemisphere();
        let from = |day: NaiveDate| {
            opens
                .from
                .map_or(day, |date| date.on_or_after(day, hemisphere))
        };
        let next = self.next();
        whole.map(|day| {
            let day = day.map(|day| from(day.max(least.unwrap_or(day))));
            day.into_iter().chain(most).min().map(|day| day.max(next))
        })
    }

    /// The next look by warmth: of the rules that have begun, else of those that begin with work that is to come.
    fn again(&self, step: &Step, rules: &[Again]) -> Option<Dates> {
        let care = self.care;
        let begun = rules.iter().filter_map(|rule| {
            let (_, _, heat) = next(&care.facts, &care.warmth, step, rule)?;
            Some(self.not_past(&self.arrival(&self.grafted(), &[heat.0])))
        });
        let to_begin = rules
            .iter()
            .filter(|rule| rule.after.is_work() && care.facts.first(&[rule.after]).is_none())
            .filter(|rule| !has_ended(&care.facts, rule) && !rule.under_half)
            .filter_map(|rule| {
                let anchors = self.work_done(rule.after)?;
                Some(self.arrival(&anchors, &[care.warmth.heat_of(rule.each).0]))
            });
        let soonest = |dates: &Dates| dates.quantile(50).unwrap_or(NaiveDate::MAX);
        begun
            .min_by_key(soonest)
            .or_else(|| to_begin.min_by_key(soonest))
    }

    /// The days from which something counts.
    fn anchors(&self, anchor: Anchor) -> Option<Dates> {
        let care = self.care;
        match anchor {
            Anchor::Grafted => Some(self.grafted()),
            Anchor::Record(what) => match care.facts.answered_on(what) {
                Some(day) => Some(Dates::certain(day)),
                None => self.work_done(what),
            },
            Anchor::Midwinter => {
                let january = MonthDay { month: 1, day: 1 };
                let day = january.on_or_after(care.batch.grafted_on, care.site.hemisphere());
                day.pred_opt().map(Dates::certain)
            }
            Anchor::CallusLines => Some(self.arrival(&self.grafted(), &[care.callus_lines.0])),
            Anchor::Opening => None,
        }
    }

    /// When the work that a record tells of will be done.
    fn work_done(&self, what: What) -> Option<Dates> {
        let brings =
            |s: &&StepCare<'_>| s.step.brings.contains(&what) && s.step.opens.repeat.is_none();
        let step = self.care.steps.iter().find(|s| brings(s) && !s.step.aside);
        let step = step.or_else(|| self.care.steps.iter().find(brings))?;
        let waits = Self {
            depth: self.depth.checked_sub(1)?,
            ..*self
        };
        match step.state {
            State::Ahead => waits.opening(step),
            State::Open | State::Closing | State::Late => {
                Some(Dates::certain(self.care.warmth.moment.today))
            }
            State::Done => step.progress.done_on.map(Dates::certain),
            State::PassedOver => None,
        }
    }

    /// The opening of a window, come or to come.
    fn opened(&self, step: &StepCare<'_>) -> Option<Dates> {
        match step.opened.filter(|_| step.state.is_due()) {
            Some(opened) => Some(Dates::certain(opened.on)),
            None => self.opening(step),
        }
    }

    fn by_calendar(&self, closes: &Closing, anchors: &Dates) -> Option<Dates> {
        let hemisphere = self.care.site.hemisphere();
        if let Some(days) = closes.days {
            return Some(later(anchors, days));
        }
        if let Some(months) = closes.months.map(Months::new) {
            return Some(anchors.map(|day| day?.checked_add_months(months)));
        }
        let date = closes.on?;
        Some(anchors.map(|day| Some(date.on_or_after(day?, hemisphere))))
    }

    fn grafted(&self) -> Dates {
        Dates::certain(self.care.batch.grafted_on)
    }

    /// The next day that is not over: what has not happened by now happens no sooner.
    fn next(&self) -> NaiveDate {
        let through = self.care.warmth.moment.through;
        through.succ_opt().unwrap_or(through)
    }

    fn not_past(&self, dates: &Dates) -> Dates {
        let next = self.next();
        dates.map(|day| day.map(|day| day.max(next)))
    }

    /// When amounts of heat since the anchors are reached, each made as unsure as the days behind it are.
    fn arrival(&self, anchors: &Dates, amounts: &[f64]) -> Dates {
        let widened: Vec<f64> = amounts
            .iter()
            .flat_map(|&amount| {
                Requirement::certain(amount)
                    .doubted(self.doubt(anchors, amount))
                    .grid()
            })
            .collect();
        arrival_of(self.futures, anchors, &widened)
    }

    fn doubt(&self, anchors: &Dates, amount: f64) -> Doubt {
        let care = self.care;
        let anchor = anchors.quantile(50);
        let ahead = anchor.map_or(1.0, |day| self.futures.share_ahead(day, DegreeDays(amount)));
        let of_filled = if anchor == Some(care.batch.grafted_on) && amount > 0.0 {
            let so_far = care.warmth.at_least(care.known_to()).0;
            care.filled_share * (so_far / amount).min(1.0)
        } else {
            0.0
        };
        Doubt {
            ahead,
            members: self.futures.members(),
            filled: of_filled,
        }
    }
}

fn later(dates: &Dates, days: u32) -> Dates {
    dates.map(|day| Some(day? + Days::new(days.into())))
}
