//! How much work the coming days bring: grafts and crew hours, day by day.
//!
//! What is due now is certain and falls on the first working day; a window ahead opens on one day in one weather and on
//! another in another, and its work falls on the first working day after it. What is done on one graft on one day is done in
//! one walk: it counts once among the grafts, and all of it among the hours. Knows nothing of who does it.

use super::{BatchCare, By, Outlook, State, StepCare};
use crate::nursery::{What, Workdays};
use crate::outlook::{Chance, Dates};
use chrono::NaiveDate;
use std::collections::BTreeSet;

/// So many days are looked at as a rule.
pub const FORTNIGHT: usize = 14;

/// What one batch needs is taken at so many levels, from the least likely low to the least likely high.
const LEVELS: usize = 15;

/// The work of one day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayLoad {
    /// The day.
    pub date: NaiveDate,
    /// Whether somebody works on it; if not, nothing falls on it.
    pub working: bool,
    /// Grafts to be handled, as likely fewer as more; each counts once, whatever is done on it that day.
    pub grafts_p50: u32,
    /// The same, more in one case of ten.
    pub grafts_p90: u32,
    /// Crew hours, as likely fewer as more.
    pub hours_p50: f64,
    /// The same, more in one case of ten.
    pub hours_p90: f64,
}

/// Work that is done once, on a day that may be unsure.
struct Work {
    /// Which of the batches it is on.
    batch: usize,
    /// Grafts of the batch, or dead ones of it that are made anew.
    grafts: u32,
    anew: bool,
    hours: f64,
    /// The days on which it may fall.
    days: Dates,
}

/// The work of so many days from `today` on.
///
/// A case is the weather of one year before with needs of one level: in it every batch meets the same weather, and all
/// need little or all need much, so that what comes together comes together. The work of each day is summed up in each
/// case by itself; of the n sums of a day, p50 is the ceil(50 n / 100)-th smallest and p90 the ceil(90 n / 100)-th. So
/// the days' figures need not add up to the fortnight's.
pub fn workload<'c, 'a: 'c>(
    cares: impl IntoIterator<Item = &'c BatchCare<'a>>,
    outlook: &Outlook<'_>,
    workdays: &Workdays,
    today: NaiveDate,
    days: usize,
) -> Vec<DayLoad> {
    let works: Vec<Work> = cares
        .into_iter()
        .filter(|care| care.is_open())
        .enumerate()
        .flat_map(|(batch, care)| care.steps.iter().map(move |step| (batch, care, step)))
        .filter_map(|(batch, care, step)| work((batch, care), step, outlook, workdays, today))
        .collect();
    let cases = cases(&works, today, days);
    let quantile = |of: &dyn Fn(&Sums) -> f64, day: usize, percent: usize| {
        let mut sums: Vec<f64> = cases.iter().map(|case| of(&case[day])).collect();
        sums.sort_by(f64::total_cmp);
        sums[(percent * sums.len()).div_ceil(100).max(1) - 1]
    };
    let load = |(day, date): (usize, NaiveDate)| {
        let grafts = |percent| quantile(&|sums| f64::from(sums.grafts), day, percent) as u32;
        let hours = |percent| quantile(&|sums| sums.hours, day, percent);
        DayLoad {
            date,
            working: workdays.works(date),
            grafts_p50: grafts(50),
            grafts_p90: grafts(90),
            hours_p50: hours(50),
            hours_p90: hours(90),
        }
    };
    today.iter_days().take(days).enumerate().map(load).collect()
}

/// How many grafts of one batch these steps handle in one walk: living ones once each, and dead ones that are made anew.
pub fn handled<'s, 'a: 's>(steps: impl IntoIterator<Item = &'s StepCare<'a>>) -> u32 {
    let of = |step: &StepCare<'_>| (step.left(), is_anew(step));
    together(steps.into_iter().map(of))
}

fn together(grafts: impl Iterator<Item = (u32, bool)>) -> u32 {
    let (mut living, mut anew) = (0, 0_u32);
    for (grafts, is_anew) in grafts {
        if is_anew {
            anew = anew.saturating_add(grafts);
        } else {
            living = grafts.max(living);
        }
    }
    anew.saturating_add(living)
}

fn is_anew(step: &StepCare<'_>) -> bool {
    step.step.brings == [What::Regrafted]
}

impl BatchCare<'_> {
    /// Whether it is known how many grafts a step is about: how many have to be made anew is known only once they are
    /// dead.
    pub fn knows_how_many(&self, step: &StepCare<'_>) -> bool {
        !is_anew(step) || (step.state.is_due() && self.facts.first(&[What::Dead]).is_some())
    }
}

/// The work of one step, where it can be foreseen.
fn work(
    (batch, care): (usize, &BatchCare<'_>),
    step: &StepCare<'_>,
    outlook: &Outlook<'_>,
    workdays: &Workdays,
    today: NaiveDate,
) -> Option<Work> {
    if !care.knows_how_many(step) {
        return None;
    }
    let days = match step.state {
        State::Open | State::Closing | State::Late => Dates::certain(workdays.first_from(today)?),
        State::Ahead => {
            // The end of a day opens a window; it is told, and worked at, on the next.
            let after = |day: Option<NaiveDate>| workdays.next_after(day?.max(today.pred_opt()?));
            match outlook.by_warmth(care, step) {
                Some(dates) => dates.map(after),
                None => Dates::certain(match step.opened? {
                    opened if opened.by == By::Record => workdays.first_from(opened.on)?,
                    opened => after(Some(opened.on))?,
                }),
            }
        }
        State::Done | State::PassedOver => return None,
    };
    let grafts = step.left();
    Some(Work {
        batch,
        grafts,
        anew: is_anew(step),
        hours: step.step.hours(grafts),
        days,
    })
}

/// Sums of one day in one case.
#[derive(Clone, Copy, Default)]
struct Sums {
    grafts: u32,
    hours: f64,
}

/// The sums of each day in each case.
fn cases(works: &[Work], today: NaiveDate, days: usize) -> Vec<Vec<Sums>> {
    let chances = works.iter().flat_map(|work| work.days.chances());
    let mut years: BTreeSet<Option<u32>> = chances.map(|chance| chance.back).collect();
    if years.len() > 1 {
        years.remove(&None);
    }
    if years.is_empty() {
        years.insert(None);
    }
    let levels = years
        .iter()
        .flat_map(|&back| (0..LEVELS).map(move |level| (back, level)));
    let of_case = |(back, level): (Option<u32>, usize)| {
        let mut case = vec![Sums::default(); days];
        for works in works.chunk_by(|one, next| one.batch == next.batch) {
            let falls_on = |work: &Work| {
                let day = in_case(&work.days, back, level)?;
                let at = usize::try_from((day - today).num_days()).ok()?;
                (at < days).then_some(at)
            };
            let fallen: Vec<(usize, &Work)> = works
                .iter()
                .filter_map(|work| Some((falls_on(work)?, work)))
                .collect();
            for (nth, &(at, work)) in fallen.iter().enumerate() {
                let sums = &mut case[at];
                sums.hours += work.hours;
                let same_day = || fallen.iter().filter(move |(day, _)| *day == at);
                if fallen[..nth].iter().all(|(day, _)| *day != at) {
                    let grafts = together(same_day().map(|(_, w)| (w.grafts, w.anew)));
                    sums.grafts = sums.grafts.saturating_add(grafts);
                }
            }
        }
        case
    };
    levels.map(of_case).collect()
}

/// The day in the weather of that year at that level of the need; in any weather where the year has none of its own.
fn in_case(dates: &Dates, back: Option<u32>, level: usize) -> Option<NaiveDate> {
    let here = |chance: &&Chance| chance.back == back;
    let has_year = dates.chances().iter().any(|chance| here(&chance));
    let chances = || dates.chances().iter().filter(|c| !has_year || here(c));
    let weight: f64 = chances().map(|chance| chance.weight).sum();
    let enough = weight * (2 * level + 1) as f64 / (2 * LEVELS) as f64;
    let mut sum = 0.0;
    let found = chances().find(|chance| {
        sum += chance.weight;
        sum >= enough
    });
    found?.date
}
