//! What groups of batches have taught, and the windows it moves: learning put to use.
//!
//! A group is a care plan and a scion, else the plan alone. What a batch learns ends on the day on which its window
//! could open at the earliest: from then on its dates stand, whatever is learned later, so that nothing that was told is
//! taken back for it. Lessons come from assessments by the plans as they are written: what is learned never hangs on
//! what was learned. Reads no clock; decides nothing about telling.

use super::lesson::Lesson;
use super::{BatchCare, standard_heat};
use crate::nursery::{Anchor, Batch, Need, Plan, Step};
use crate::outlook::{Prior, Requirement, Sighting, learn};
use crate::problem::Problem;
use crate::units::{DegreeDays, StandardDays};
use chrono::{Days, NaiveDate};
use std::cell::RefCell;
use std::collections::HashMap;

/// Nothing is tuned by fewer batches with lines than this: judgement.
pub const LEAST_BATCHES: usize = 3;

/// No window is moved to less than this share of the plan's warmth, nor a first look to more than that: judgement. At
/// its latest a first look comes in the middle of the plan's own window.
const MOVED: (f64, f64) = (0.7, 1.2);

/// What is done with what was seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Learn {
    /// Nothing is learned.
    Off,
    /// It is shown.
    #[default]
    Show,
    /// It moves windows.
    Use,
}

impl Learn {
    /// Every one.
    pub const ALL: [Self; 3] = [Self::Off, Self::Show, Self::Use];

    /// The word used in the config.
    pub fn name(self) -> &'static str {
        match self {
            Self::Off => "off",
            Self::Show => "show",
            Self::Use => "use",
        }
    }

    /// The one of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|learn| learn.name() == name)
    }
}

/// What is believed of the warmth until callus lines of a batch, in standard days.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lines {
    /// How much it takes: what was learned where it is put to use, else what the plan's own window says; none where the
    /// plan has no look for lines.
    pub need: Option<Requirement>,
    /// What has moved the windows of the batch.
    pub tuned: Option<Box<Tuned>>,
    /// How many batches of its plan and scion have been looked at so far; none where nothing is learned.
    pub known: Option<usize>,
}

/// What a group has taught.
#[derive(Clone, Debug, PartialEq)]
pub struct Tuned {
    /// Standard days until lines: the middle, and how much a new batch may differ from it.
    pub need: Requirement,
    /// The middle by the plan.
    pub usual: f64,
    /// How many batches taught it, with lines or without.
    pub batches: usize,
    /// Whose batches: a scion, or a care plan where too little is known of the scion.
    pub of: String,
}

impl Tuned {
    /// How much later than by the plan the first look comes, as a factor.
    pub fn later(&self) -> f64 {
        (self.need.need / self.usual).clamp(MOVED.0, MOVED.1)
    }

    /// Whether the window or limit of that id hangs on callus lines and so was moved.
    pub fn moves(&self, plan: &Plan, id: &str) -> bool {
        let sooner = self.later() < 1.0;
        let step = plan.step(id);
        step.is_some_and(|step| {
            looks_for_lines(plan, step)
                || (sooner && (waits_for_lines(plan, step) || after_lines(step)))
        }) || (sooner && plan.limit.as_ref().is_some_and(|limit| limit.id == id))
    }

    /// The plan with what hangs on callus lines moved.
    ///
    /// The first look opens sooner or later, as lines do. All else only comes nearer: the close of the look, heading
    /// back by warmth, and the warmth at which lines are taken to have shown, on which the close of heading back and the
    /// limit hang. The least and last days of a window stay.
    pub fn moved(&self, plan: &Plan) -> Plan {
        let later = self.later();
        let nearer = later.min(1.0);
        let mut moved = plan.clone();
        moved.reckoning.assumed = times(plan.reckoning.assumed, nearer);
        for step in &mut moved.steps {
            if looks_for_lines(plan, step) {
                let middle = middle(step);
                let opens = step.opens.warmth.map(|need| times(need, later));
                step.opens.warmth = opens.map(|need| earlier(need, middle));
                if let Some(closes) = &mut step.closes {
                    closes.warmth = closes.warmth.map(|need| times(need, nearer));
                }
            } else if waits_for_lines(plan, step) {
                step.opens.warmth = step.opens.warmth.map(|need| times(need, nearer));
            }
        }
        moved
    }
}

fn times(need: Need, factor: f64) -> Need {
    match need {
        Need::Standard(days) => Need::Standard(StandardDays(days.0 * factor)),
        Need::Heat(heat) => Need::Heat(DegreeDays(heat.0 * factor)),
    }
}

/// The middle of a window by warmth, where both of its ends are in one unit.
fn middle(step: &Step) -> Option<Need> {
    match (step.opens.warmth?, step.closes?.warmth?) {
        (Need::Standard(opens), Need::Standard(closes)) => Some(Need::Standard(StandardDays(
            f64::midpoint(opens.0, closes.0),
        ))),
        (Need::Heat(opens), Need::Heat(closes)) => {
            Some(Need::Heat(DegreeDays(f64::midpoint(opens.0, closes.0))))
        }
        _ => None,
    }
}

fn earlier(need: Need, most: Option<Need>) -> Need {
    match (need, most) {
        (Need::Standard(days), Some(Need::Standard(most))) if most.0 < days.0 => {
            Need::Standard(most)
        }
        (Need::Heat(heat), Some(Need::Heat(most))) if most.0 < heat.0 => Need::Heat(most),
        _ => need,
    }
}

/// The first look: opened by warmth since grafting, answered by lines, its window by warmth on both sides.
fn looks_for_lines(plan: &Plan, step: &Step) -> bool {
    let opens = &step.opens;
    step.brings.contains(&plan.reckoning.seen)
        && opens.after == Anchor::Grafted
        && opens.warmth.is_some()
        && opens.repeat.is_none()
        && step
            .closes
            .is_some_and(|closes| closes.after == Anchor::Grafted && closes.warmth.is_some())
}

/// Opened at once by lines, and without them by warmth.
fn waits_for_lines(plan: &Plan, step: &Step) -> bool {
    step.opens.at_once.contains(&plan.reckoning.seen) && step.opens.after == Anchor::Grafted
}

fn after_lines(step: &Step) -> bool {
    step.closes
        .is_some_and(|closes| closes.after == Anchor::CallusLines)
}

/// The first look for callus lines of a plan; none where it has none.
pub fn look_for_lines(plan: &Plan) -> Option<&Step> {
    plan.steps.iter().find(|step| looks_for_lines(plan, step))
}

/// What the plan says of the warmth until callus lines, in its own standard days, before anything was seen: 80 % of
/// batches show them in the window of its first look. None where it has no such look.
pub fn prior(plan: &Plan) -> Option<Prior> {
    let look = look_for_lines(plan)?;
    let standard = |need: Need| match need {
        Need::Standard(days) => days,
        Need::Heat(heat) => heat.in_standard_days(standard_heat(plan)),
    };
    let (opens, closes) = (look.opens.warmth?, look.closes?.warmth?);
    Prior::of_window(standard(opens).0, standard(closes).0)
}

/// The last day whose records teach a batch: that on which its first look could open at the earliest, by what is
/// learned, or today. None where its plan has no such look.
pub fn learns_until(care: &BatchCare<'_>) -> Option<NaiveDate> {
    let opens = &look_for_lines(care.plan)?.opens;
    let warm = care
        .warmth
        .reaches(care.warmth.heat_of(times(opens.warmth?, MOVED.0)));
    let least = care.batch.grafted_on + Days::new(opens.min_days.unwrap_or(0).into());
    let today = care.warmth.moment.today;
    Some(warm.map_or(today, |day| day.max(least)).min(today))
}

/// A group of batches that are alike: what is learned is learned of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Group<'a> {
    /// The care plan.
    pub plan: &'a str,
    /// The scion; none for every batch of the plan.
    pub scion: Option<&'a str>,
}

impl<'a> Group<'a> {
    /// The group of a batch: its plan and scion, or its plan where the register names no scion.
    pub fn of(batch: &'a Batch) -> Self {
        Self {
            plan: &batch.plan,
            scion: Some(batch.scion.as_str()).filter(|scion| !scion.is_empty()),
        }
    }

    fn has(&self, lesson: &Lesson) -> bool {
        lesson.plan == self.plan && self.scion.is_none_or(|scion| lesson.scion == scion)
    }
}

/// A plan, a scion or none, the last day whose records teach, and the season from which they are weighed.
type Asked = (String, Option<String>, NaiveDate, i32);

/// All that was seen, batch by batch.
#[derive(Debug, Default)]
pub struct Lessons {
    all: Vec<Lesson>,
    /// Sisters ask the same.
    answered: RefCell<HashMap<Asked, Option<Tuned>>>,
}

impl Lessons {
    /// What the batches teach, and which records contradict each other.
    pub fn of(cares: &[BatchCare<'_>]) -> (Self, Vec<Problem>) {
        let all: Vec<Lesson> = cares.iter().filter_map(Lesson::of).collect();
        let problems = all
            .iter()
            .filter_map(|lesson| lesson.known_on(NaiveDate::MAX)?.err())
            .collect();
        let answered = RefCell::default();
        (Self { all, answered }, problems)
    }

    /// The lessons of a group.
    pub fn in_group<'l>(&'l self, group: Group<'l>) -> impl Iterator<Item = &'l Lesson> {
        self.all.iter().filter(move |lesson| group.has(lesson))
    }

    /// How many batches of a group have taught something by that day, and how many of them with lines.
    pub fn count(&self, group: Group<'_>, day: NaiveDate) -> (usize, usize) {
        let known = |lesson: &&Lesson| matches!(lesson.known_on(day), Some(Ok(_)));
        let known: Vec<&Lesson> = self.in_group(group).filter(known).collect();
        let lines = known.iter().filter(|l| l.has_lines_by(day)).count();
        (known.len(), lines)
    }

    /// How many batches of the group of each have taught something so far.
    pub fn counts(&self, cares: &[BatchCare<'_>]) -> Vec<usize> {
        let mut counted: HashMap<Group<'_>, usize> = HashMap::new();
        let mut count = |group| {
            let anew = || self.count(group, NaiveDate::MAX).0;
            *counted.entry(group).or_insert_with(anew)
        };
        let groups = cares.iter().map(|care| Group::of(&care.batch));
        groups.map(&mut count).collect()
    }

    /// What the records up to that day teach of a group, seen from a season; `without` a batch and what came of grafting
    /// it anew. Recent seasons weigh more. None where no batch has taught anything.
    ///
    /// All batches of a plan together teach its middle only: their spread stays that of the plan, because scions differ.
    pub fn learned(
        &self,
        group: Group<'_>,
        prior: &Prior,
        (day, season): (NaiveDate, i32),
        without: Option<&str>,
    ) -> Option<(Requirement, usize)> {
        let own = |lesson: &Lesson| without.is_some_and(|name| is_or_came_of(&lesson.batch, name));
        let mut seen: Vec<(&str, Sighting)> = self
            .in_group(group)
            .filter(|lesson| !own(lesson))
            .filter_map(|lesson| {
                let ago = f64::from((season - lesson.season).max(0));
                let sighting = lesson.known_on(day)?.ok()?;
                Some((lesson.batch.as_str(), sighting.seasons_ago(ago)))
            })
            .collect();
        if seen.is_empty() {
            return None;
        }
        // Sums of many figures differ in their last digit with their order.
        seen.sort_by_key(|(batch, _)| *batch);
        let seen: Vec<Sighting> = seen.into_iter().map(|(_, sighting)| sighting).collect();
        let need = if group.scion.is_some() {
            learn(prior, &seen).requirement()
        } else {
            let together = Prior {
                batch_sd: prior.sd(),
                ..*prior
            };
            Requirement {
                sd: prior.sd(),
                ..learn(&together, &seen).requirement()
            }
        };
        Some((need, seen.len()))
    }

    /// What moves the windows of a batch: what its scion has taught under its plan, else what the plan has; none where
    /// neither has three batches with lines. Its own records teach it nothing, nor do later ones than those of the day
    /// given by [`learns_until`].
    pub fn tuned(&self, care: &BatchCare<'_>) -> Option<Tuned> {
        let day = learns_until(care)?;
        let group = Group::of(&care.batch);
        let of_plan = Group {
            scion: None,
            ..group
        };
        self.tuned_by(care, group, day)
            .or_else(|| self.tuned_by(care, of_plan, day))
    }

    fn tuned_by(&self, care: &BatchCare<'_>, group: Group<'_>, day: NaiveDate) -> Option<Tuned> {
        let batch = &care.batch;
        let own = |lesson: &Lesson| is_or_came_of(&lesson.batch, &batch.name);
        if self
            .in_group(group)
            .any(|l| own(l) && l.known_on(day).is_some())
        {
            return self.work_out(care, group, day, Some(&batch.name));
        }
        let season = care.site.hemisphere().season(day);
        let scion = group.scion.map(str::to_owned);
        let asked = (batch.plan.to_string(), scion, day, season);
        if let Some(known) = self.answered.borrow().get(&asked) {
            return known.clone();
        }
        let tuned = self.work_out(care, group, day, None);
        self.answered.borrow_mut().insert(asked, tuned.clone());
        tuned
    }

    fn work_out(
        &self,
        care: &BatchCare<'_>,
        group: Group<'_>,
        day: NaiveDate,
        without: Option<&str>,
    ) -> Option<Tuned> {
        let lines = self.in_group(group).filter(|lesson| {
            lesson.has_lines_by(day)
                && matches!(lesson.known_on(day), Some(Ok(_)))
                && !without.is_some_and(|name| is_or_came_of(&lesson.batch, name))
        });
        if lines.count() < LEAST_BATCHES {
            return None;
        }
        let prior = prior(care.plan)?;
        let season = care.site.hemisphere().season(day);
        let (need, batches) = self.learned(group, &prior, (day, season), without)?;
        Some(Tuned {
            need,
            usual: prior.need,
            batches,
            of: group.scion.unwrap_or(group.plan).to_owned(),
        })
    }
}

/// C-14/2 came of grafting dead ones of C-14 anew.
fn is_or_came_of(batch: &str, parent: &str) -> bool {
    batch
        .strip_prefix(parent)
        .is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}
