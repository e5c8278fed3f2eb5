//! What the field records of a batch teach of the warmth until callus lines: between which two looks they showed.

use super::BatchCare;
use crate::outlook::Sighting;
use crate::problem::Problem;
use chrono::Datelike;

/// The standard days since grafting between which lines showed: after the last `no-lines`, no later than the first
/// `lines`. None where nobody has looked, or where a day between is unknown. Seasons before that of `year` weigh less.
pub fn sighting(care: &BatchCare<'_>, year: i32) -> Option<Result<Sighting, Problem>> {
    let rule = care.plan.reckoning;
    let seen = care.facts.first(&[rule.seen]);
    let unseen = care.facts.last_before_first(rule.unseen, rule.seen);
    if seen.is_none() && unseen.is_none() {
        return None;
    }
    let standard = |date| {
        care.warmth
            .at(date)
            .map(|heat| care.warmth.standard(heat).0)
    };
    let above = unseen.map(|fact| standard(fact.date));
    let upto = seen.map(|fact| standard(fact.date));
    if above == Some(None) || upto == Some(None) {
        return None;
    }
    let ago = f64::from((year - care.batch.grafted_on.year()).max(0));
    let sighting = Sighting::new(above.flatten(), upto.flatten());
    Some(sighting.map(|s| s.seasons_ago(ago)).map_err(|why| {
        Problem::new(
            format!("field records of {}", care.batch.name),
            why,
            "nothing is learned from this batch",
            "check the dates of lines and no-lines",
        )
    }))
}
