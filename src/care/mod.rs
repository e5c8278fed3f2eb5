//! Care: where every batch stands, by its plan, its warmth and what was written down.
//!
//! `facts` counts, `warmth` keeps the clock, `windows` gives dates, `steps` and `risk` judge them, `spells`, `stall` and
//! `weather` look at the days themselves and `stretch` at what they do to dates, `assess` does it for a whole site.
//! `in_heat` says what a spell does to work, `one_look` what a look decides between, `dates` and `ahead` look further than the forecast, `lesson` and `tuned` learn, `undo` takes a record back. Nothing is remembered from one look to
//! the next, and nothing is decided here about telling.

mod again;
mod ahead;
mod dates;
mod doubts;
mod facts;
mod fit;
mod if_grafted;
mod in_heat;
mod last_graft;
mod lesson;
mod notebook;
mod one_look;
mod risk;
mod sisters;
mod spells;
mod stall;
mod steps;
mod stretch;
#[cfg(test)]
pub(crate) mod tests;
mod tuned;
mod undo;
mod warmth;
mod weather;
mod windows;
mod workload;

pub use again::Turn;
pub use ahead::{Deadline, Foreseen, Outlook, foreseen};
pub use facts::{Fact, Facts, Progress};
pub use fit::{Against, Fit, Unsure, fit};
pub use if_grafted::{DayAsked, IfGrafted, StepAsked, best};
pub use in_heat::{Advice, InHeat, in_heat};
pub use last_graft::{LastGraft, NoLastGraft};
pub use lesson::Lesson;
pub use notebook::Notebook;
pub use risk::LimitCare;
pub use sisters::Sisters;
pub use spells::{Level, Spell, every_spell, is_sensitive, soft_spells, spells, touches};
pub use stall::{Stall, stalls};
pub use steps::{ESTIMATED_ABOVE, State, StepCare};
pub use stretch::Stretch;
pub use tuned::{
    Group, LEAST_BATCHES, Learn, Lessons, Lines, Tuned, learns_until, look_for_lines, prior,
};
pub use undo::{NotUndone, taking_back};
pub use warmth::{Moment, Warmth};
pub use weather::{Bout, HARD_FROST, Harm, bouts};
pub use windows::{By, Opened};
pub use workload::{DayLoad, FORTNIGHT, handled, workload};

use crate::days::{Origin, PastYears, Series, Usual};
use crate::heat::{self, Totals, Trust, Warm};
use crate::nursery::{Batch, Count, Model, Plan, Site, What, Workdays};
use crate::outlook::{Futures, Known};
use crate::problem::Problem;
use crate::units::{DegreeDays, StandardDays};
use chrono::{Days, NaiveDate};
pub use doubts::takes_back_nothing;
use doubts::{before_grafting, too_many};
use facts::{InOrder, in_force};
use last_graft::Autumn;
use std::rc::Rc;
use std::sync::Arc;
use windows::Subject;

/// Everything about one batch at one moment.
#[derive(Clone, Debug)]
pub struct BatchCare<'a> {
    /// The batch.
    pub batch: Arc<Batch>,
    /// The site it stands on.
    pub site: &'a Site,
    /// Its care plan.
    pub plan: &'a Plan,
    /// What was seen and done on it.
    pub facts: Facts,
    /// Its steps in the plan's order.
    pub steps: Rc<[StepCare<'a>]>,
    /// Its limit, if its plan has one.
    pub limit: Option<LimitCare<'a>>,
    /// Its clock.
    pub warmth: Warmth<'a>,
    /// Share, 0 to 1, of its heat so far that comes from filled days.
    pub filled_share: f64,
    /// Heat since grafting at which callus lines are reckoned to have shown.
    pub callus_lines: DegreeDays,
    /// What is believed of the warmth until callus lines.
    pub lines: Lines,
}

impl BatchCare<'_> {
    /// The last day whose temperatures are known: heat so far is the heat at its end.
    pub fn known_to(&self) -> NaiveDate {
        self.warmth.known_to()
    }

    /// Heat so far; none where a day since grafting is unknown.
    pub fn heat(&self) -> Option<DegreeDays> {
        self.warmth.at(self.known_to())
    }

    /// Heat so far in standard days, unknown days left out.
    pub fn standard_days(&self) -> StandardDays {
        self.warmth.standard(self.warmth.at_least(self.known_to()))
    }

    /// Days since grafting.
    pub fn days(&self) -> i64 {
        (self.warmth.moment.today - self.batch.grafted_on).num_days()
    }

    /// Whether there is anything left to do on it: not closed, not docked, not all lost.
    pub fn is_open(&self) -> bool {
        self.facts.closed_on().is_none()
            && self.facts.alive() > 0
            && self.steps.last().is_none_or(|s| s.state != State::Done)
    }

    /// Of how many looked at fewer than half showed what opens a step's window, when that was last seen: by these facts of the
    /// batch only a part of it is to be done.
    pub fn seen_in_part(&self, step: &StepCare<'_>, facts: &Facts) -> Option<(u32, u32)> {
        let last = facts.last(&step.step.opens.at_once)?;
        match last.count {
            Some(Count::Share(seen, of)) if last.under_half() => Some((seen, of)),
            _ => None,
        }
    }

    /// The day on which callus was last seen to grow over scions, unless what there is to do about it was written down since:
    /// headed back, and the tape eased or off.
    pub fn over_callused(&self) -> Option<NaiveDate> {
        let seen = self.facts.last(&[What::OverCallused])?.date;
        let since = |words: &[What]| self.facts.last(words).is_some_and(|f| f.date >= seen);
        let headed = since(&[What::HeadedBack, What::HeadedBackAgain]);
        let eased = since(&[What::TapeEased, What::TapeOff]);
        (!(headed && eased)).then_some(seen)
    }

    /// Whether a window that what was learned has moved is still ahead or open: the others are history.
    pub fn shows_tuned(&self) -> bool {
        let moved = |id: &str| {
            let tuned = self.lines.tuned.as_ref();
            tuned.is_some_and(|tuned| tuned.moves(self.plan, id))
        };
        let step = |s: &StepCare<'_>| !s.state.is_past() && moved(&s.step.id);
        self.steps.iter().any(step)
    }

    /// The step of that id.
    pub fn step(&self, id: &str) -> Option<&StepCare<'_>> {
        self.steps.iter().find(|s| s.step.id == id)
    }
}

/// So far ahead windows are looked for: no plan's first summer is longer.
const LOOKED_AT: Days = Days::new(150);

/// The ground batches stand on: a site, its days, and running totals of them for every heat model in use.
#[derive(Clone, Debug)]
pub struct Ground<'a> {
    /// The site.
    pub site: &'a Site,
    /// Its days.
    pub series: Series,
    /// From when it is looked at.
    pub moment: Moment,
    /// What is usual there in the grafting season.
    pub usual: Usual,
    autumn: Autumn,
    past: Option<&'a PastYears>,
    days: Vec<Option<Warm>>,
    totals: Vec<(Model, Totals)>,
}

impl<'a> Ground<'a> {
    /// Builds the running totals of the site once for every model. Days that came to pass after the moment are left
    /// out, so that looking back from a past day does not see what came after it.
    pub fn new(
        site: &'a Site,
        series: Series,
        moment: Moment,
        models: impl IntoIterator<Item = Model>,
    ) -> Self {
        let series = series.seen_from(moment.through);
        let days: Vec<Option<Warm>> = series
            .run()
            .iter()
            .map(|day| {
                let day = day.as_ref()?;
                let trust = match day.origin {
                    Origin::Forecast => Trust::Forecast,
                    Origin::Filled => Trust::Filled,
                    Origin::Measured | Origin::Modelled => Trust::Known,
                };
                Some(Warm {
                    min: day.min,
                    max: day.max,
                    trust,
                })
            })
            .collect();
        let mut totals: Vec<(Model, Totals)> = Vec::new();
        for model in models {
            if !totals.iter().any(|(held, _)| *held == model) {
                totals.push((model, Totals::new(&model, series.first(), &days)));
            }
        }
        Self {
            site,
            series,
            moment,
            usual: Usual::default(),
            autumn: Autumn::default(),
            past: None,
            days,
            totals,
        }
    }

    /// The same, with what is usual there by the years before.
    #[must_use]
    pub fn with_past(self, past: &'a PastYears) -> Self {
        let usual = Usual::new(past, self.site.hemisphere(), self.moment.today);
        let past = Some(past);
        Self {
            usual,
            past,
            ..self
        }
    }

    /// The mean in °C of the seven days that end with `day`, as it was in the years before; none where none knows them.
    fn usual_week(&self, day: NaiveDate) -> Option<f64> {
        let week = (0..7).map(|back| {
            let (min, max, _) = self.past?.mean(day.checked_sub_days(Days::new(back))?)?;
            Some(f64::midpoint(min, max))
        });
        let week: Vec<f64> = week.collect::<Option<_>>()?;
        Some(week.iter().sum::<f64>() / week.len() as f64)
    }

    /// How the days of the site may go on, for warmth since a day not before `from`.
    pub fn futures(&self, model: &Model, past: &PastYears, from: NaiveDate) -> Futures {
        self.futures_to(model, past, from, self.moment.through + LOOKED_AT)
    }

    fn futures_to(
        &self,
        model: &Model,
        past: &PastYears,
        from: NaiveDate,
        horizon: NaiveDate,
    ) -> Futures {
        let known = Known {
            first: self.series.first(),
            days: &self.days,
            past,
            through: self.moment.through,
            from,
        };
        Futures::new(model, known, horizon)
    }

    /// The heat models in use here.
    pub fn models(&self) -> impl Iterator<Item = Model> {
        self.totals.iter().map(|(model, _)| *model)
    }

    fn totals(&self, model: &Model) -> Option<&Totals> {
        self.totals
            .iter()
            .find(|(held, _)| held == model)
            .map(|(_, totals)| totals)
    }
}

/// The heat of one standard day: the site's own, else that of a day at the plan's reference temperature.
pub fn standard_day(site: &Site, plan: &Plan) -> DegreeDays {
    site.standard_day.unwrap_or_else(|| standard_heat(plan))
}

/// The heat of a day at the plan's reference temperature.
fn standard_heat(plan: &Plan) -> DegreeDays {
    let reference = heat::Extremes {
        min: plan.reference.0,
        max: plan.reference.0,
    };
    DegreeDays(heat::of_day(&plan.model, reference, None))
}

/// Those of the batches that stand on a site. They must come site by site, in the order of the sites' names, as a survey has
/// them: of a hundred thousand batches on hundreds of sites each site would go through all.
pub fn on_site<'c, 'a>(cares: &'c [BatchCare<'a>], site: &str) -> &'c [BatchCare<'a>] {
    debug_assert!(cares.is_sorted_by(|a, b| a.batch.site <= b.batch.site));
    let first = cares.partition_point(|care| care.batch.site.as_str() < site);
    let many = cares[first..].partition_point(|care| care.batch.site == site);
    &cares[first..first + many]
}

/// Looks at one batch and, behind it, at the batches that came of grafting its dead anew.
pub fn assess<'a>(
    batch: &Arc<Batch>,
    plan: &'a Plan,
    ground: &'a Ground<'a>,
    book: &Notebook<'_>,
    workdays: &'a Workdays,
) -> (Vec<BatchCare<'a>>, Vec<Problem>) {
    let mut cares = Vec::new();
    let mut problems = Vec::new();
    let mut waiting = vec![Arc::clone(batch)];
    while let Some(batch) = waiting.pop() {
        let Some(totals) = ground.totals(&plan.model) else {
            continue;
        };
        let warmth = Warmth {
            totals,
            standard_day: standard_day(ground.site, plan),
            grafted_on: batch.grafted_on,
            moment: ground.moment,
        };
        let facts = facts_of(&batch, plan, ground, book, workdays, warmth, &mut problems);
        let filled_share = totals.filled_share(batch.grafted_on, warmth.known_to());
        waiting.extend(grafted_anew(&batch, &facts).into_iter().rev().map(Arc::new));
        let (steps, limit, callus_lines) = {
            let subject = Subject {
                batch: &batch,
                plan,
                site: ground.site,
                facts: &facts,
                warmth,
                series: &ground.series,
                workdays,
                last_graft: ground.last_graft(&plan.name).and_then(Result::ok),
            };
            let steps = steps::steps(&subject, plan, filled_share);
            let limit = risk::limit(&subject, plan, &steps);
            (steps, limit, subject.callus_lines())
        };
        cares.push(BatchCare {
            batch,
            site: ground.site,
            plan,
            facts,
            steps: steps.into(),
            limit,
            warmth,
            filled_share,
            callus_lines,
            lines: Lines {
                need: tuned::prior(plan).map(|prior| prior.requirement()),
                ..Lines::default()
            },
        });
    }
    (cares, problems)
}

/// The batches that came of grafting dead ones of `parent` anew: C-14 gives C-14/2, C-14/3, and so on.
fn grafted_anew(parent: &Batch, facts: &Facts) -> Vec<Batch> {
    let child = |(nth, (grafted_on, grafts)): (usize, (NaiveDate, u32))| Batch {
        name: format!("{}/{}", parent.name, nth + 2),
        grafts,
        grafted_on,
        remarks: format!("re-grafted from {}", parent.name),
        ..parent.clone()
    };
    facts
        .regrafts()
        .into_iter()
        .enumerate()
        .filter(|(_, (_, grafts))| *grafts > 0)
        .map(child)
        .collect()
}

/// The facts of a batch: its own records, and those of its block that answer a step which it had open on that day.
fn facts_of<'a>(
    batch: &Batch,
    plan: &'a Plan,
    ground: &'a Ground<'a>,
    book: &Notebook<'_>,
    workdays: &'a Workdays,
    warmth: Warmth<'a>,
    problems: &mut Vec<Problem>,
) -> Facts {
    let today = ground.moment.today;
    let own = book
        .of_batch
        .get(batch.name.as_str())
        .map_or(&[][..], Vec::as_slice);
    let early = own.iter().filter(|(_, r)| r.date < batch.grafted_on);
    problems.extend(early.map(|(_, record)| before_grafting(batch, record)));
    let in_time = |(_, r): &&InOrder<'_>| r.date >= batch.grafted_on && r.date <= today;
    let mut facts = Facts::in_order(batch, own.iter().filter(in_time).copied());
    let shared = book
        .of_block
        .get(&batch.block.to_lowercase())
        .map_or(&[][..], Vec::as_slice)
        .iter()
        .filter(in_time)
        .copied();
    let (shared, _) = in_force(shared);
    for (place, record) in shared {
        let before = facts.until(record.date);
        let warmth = Warmth {
            moment: Moment::end_of(record.date),
            ..warmth
        };
        let subject = Subject {
            batch,
            plan,
            site: ground.site,
            facts: &before,
            warmth,
            series: &ground.series,
            workdays,
            last_graft: None,
        };
        let steps = steps::steps(&subject, plan, 0.0);
        let answered: Vec<&StepCare<'_>> = steps.iter().filter(|s| s.takes(record.what)).collect();
        if before.closed_on().is_none()
            && (answered.is_empty() || answered.iter().any(|s| s.state.is_due()))
        {
            let fact = Fact {
                date: record.date,
                what: record.what,
                count: record.count,
            };
            facts = facts.with_shared(place, fact);
        }
    }
    let name = format!("batch {}", batch.name);
    let missed = facts.missed().iter();
    problems.extend(missed.map(|missed| takes_back_nothing(&name, *missed)));
    problems.extend(too_many(batch, plan, &facts));
    facts
}
