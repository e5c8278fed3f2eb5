//! How each care plan reckoned heat when it was last looked at: a sum holds only for the way it was found, so a change
//! under running batches is noticed.

use crate::care::BatchCare;
use crate::config::Config;
use crate::nursery::Plan;
use crate::problem::Problem;
use crate::store::{Memory, StoreError};
use chrono::NaiveDate;

/// A problem for each plan whose reckoning has changed while batches run that were grafted before, as long as any of
/// them runs. Remembers how every plan reckons.
pub(super) fn changes(
    memory: &Memory<'_>,
    config: &Config,
    cares: &[BatchCare<'_>],
    today: NaiveDate,
) -> Result<Vec<Problem>, StoreError> {
    let mut problems = Vec::new();
    for plan in &config.plans {
        let first = cares
            .iter()
            .filter(|care| care.batch.plan == plan.name && care.is_open())
            .map(|care| care.batch.grafted_on)
            .min();
        let (now_key, before_key) = (
            format!("reckoning of {}", plan.name),
            format!("reckoning of {} before", plan.name),
        );
        let now = reckoning(plan);
        let known = memory.fact(&now_key)?;
        if known.as_deref() != Some(now.as_str()) {
            if let Some(was) = &known {
                // What was changed back is as it always was.
                let earlier = memory.fact(&before_key)?.unwrap_or_default();
                let is_back = earlier.split_once('|').is_some_and(|(_, how)| how == now);
                let before = if is_back {
                    String::new()
                } else {
                    format!("{today}|{was}")
                };
                memory.remember(&before_key, &before)?;
            }
            memory.remember(&now_key, &now)?;
        }
        let before = memory.fact(&before_key)?.unwrap_or_default();
        let changed = before
            .split_once('|')
            .and_then(|(day, was)| Some((day.parse::<NaiveDate>().ok()?, was)));
        if let Some((day, was)) =
            changed.filter(|(day, _)| first.is_some_and(|first| first <= *day))
        {
            problems.push(changed_under(plan, day, was, &now));
        }
    }
    Ok(problems)
}

fn changed_under(plan: &Plan, day: NaiveDate, was: &str, now: &str) -> Problem {
    Problem::new(
        format!("care plan {}", plan.name),
        format!(
            "since {day} its heat is reckoned otherwise, under running batches: it was {was}, it is {now}"
        ),
        "all their heat is reckoned anew that way, and their windows have moved",
        "a sum holds only for the way it was found: see that the plan's own figures fit, or put the old way back",
    )
}

/// How a plan reckons heat, in words: the same words, the same sums.
fn reckoning(plan: &Plan) -> String {
    let model = &plan.model;
    let optimum = model
        .optimum
        .map_or_else(String::new, |t| format!(", optimum {t} °C"));
    let upper = model.upper.map_or_else(String::new, |t| {
        format!(", upper {t} °C ({} cutoff)", model.cutoff.name())
    });
    format!(
        "{}, base {} °C{optimum}{upper}, reference {} °C",
        model.method.name(),
        model.base,
        plan.reference.0
    )
}
