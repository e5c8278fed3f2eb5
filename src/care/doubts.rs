//! What is doubtful in the field records of one batch: dates before the grafting, retractions that take back nothing, and
//! counts above what is there.
//!
//! Nothing is clipped or mended; the grower is told.

use super::facts::{Fact, Facts, Missed};
use crate::nursery::{Batch, Count, Plan, Record, What};
use crate::problem::Problem;

/// A record dated before the grafting.
pub(super) fn before_grafting(batch: &Batch, record: &Record) -> Problem {
    Problem::new(
        format!(
            "field record of {}: {} on {}",
            batch.name,
            record.what.name(),
            record.date
        ),
        format!("is dated before the grafting on {}", batch.grafted_on),
        "it is not used",
        "mend its date, or grafted_on in the register",
    )
}

/// A `retract` of a batch or a block before which nothing of its word was written down.
pub fn takes_back_nothing(of: &str, missed: Missed) -> Problem {
    let Missed { date, what, .. } = missed;
    let what = what.name();
    let kind = of.split(' ').next().unwrap_or_default();
    Problem::new(
        format!("field record of {of}: retract of {what} on {date}"),
        format!("no {what} of that day or before was written down of this {kind} before it"),
        "it takes back nothing, nor what is written down after it",
        "see its date and its word; a retract is written after the record that it takes back",
    )
    .keyed(format!(
        "retract {what} of {of} on {date} takes back nothing"
    ))
}

/// Counts above what is there are questioned, never clipped.
pub(super) fn too_many(batch: &Batch, plan: &Plan, facts: &Facts) -> Vec<Problem> {
    let words = plan
        .steps
        .iter()
        .flat_map(|s| &s.brings)
        .filter(|w| w.is_work() && !matches!(w, What::Regrafted | What::SuckersRubbed));
    let above = |what: &What| {
        let (written, left) = facts.above_what_is_left(*what)?;
        let there = if left == batch.grafts {
            format!("its {left} grafts")
        } else {
            format!("the {left} alive by then")
        };
        Some(Problem::new(
            format!("field records of {}", batch.name),
            format!("{} adds up to {written}, more than {there}", what.name()),
            "the figures stay as written",
            "check the counts, or grafts in the register",
        ))
    };
    let gone: u32 = facts
        .all()
        .iter()
        .filter(|f| matches!(f.what, What::Lost | What::Dead))
        .filter_map(Fact::grafts)
        .sum();
    let lost = (gone > batch.grafts).then(|| {
        Problem::new(
            format!("field records of {}", batch.name),
            format!(
                "lost and dead add up to {gone}, more than its {} grafts",
                batch.grafts
            ),
            "the figures stay as written",
            "check the counts, or grafts in the register",
        )
    });
    let taken = facts.all().iter().find_map(|f| match (f.what, f.count) {
        (What::Take, Some(Count::Of(n))) if n > f64::from(batch.grafts) => Some(n),
        _ => None,
    });
    let taken = taken.map(|n| {
        Problem::new(
            format!("field records of {}", batch.name),
            format!("take counts {n}, more than its {} grafts", batch.grafts),
            "the figure stays as written",
            "check the count, or grafts in the register",
        )
    });
    words.filter_map(above).chain(lost).chain(taken).collect()
}
