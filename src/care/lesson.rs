//! What the field records of a batch teach of the warmth until callus lines: between which two looks they showed.
//!
//! A lesson keeps every look with the warmth there was, so that it can be asked what was known on any day. It hands on
//! one sighting, or names the records that contradict each other. Knows nothing of groups and windows.

use super::BatchCare;
use crate::outlook::Sighting;
use crate::problem::Problem;
use chrono::NaiveDate;

/// What was looked for and seen on one batch.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// The batch.
    pub batch: String,
    /// Its care plan.
    pub plan: String,
    /// What was grafted; may be empty.
    pub scion: String,
    /// The season in which it was grafted.
    pub season: i32,
    /// In order of date.
    looks: Vec<Look>,
}

/// One look.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Look {
    on: NaiveDate,
    /// Whether lines showed.
    lines: bool,
    /// Standard days since grafting; none where a day between is unknown.
    warmth: Option<f64>,
}

impl Lesson {
    /// The looks at a batch; none where nobody has looked.
    pub fn of(care: &BatchCare<'_>) -> Option<Self> {
        let rule = care.plan.reckoning;
        let looks: Vec<Look> = care
            .facts
            .all()
            .iter()
            .filter(|fact| [rule.seen, rule.unseen].contains(&fact.what))
            .map(|fact| Look {
                on: fact.date,
                lines: fact.what == rule.seen,
                warmth: care
                    .warmth
                    .at(fact.date)
                    .map(|heat| care.warmth.standard(heat).0),
            })
            .collect();
        let batch = &care.batch;
        (!looks.is_empty()).then(|| Self {
            batch: batch.name.clone(),
            plan: batch.plan.to_string(),
            scion: batch.scion.to_string(),
            season: care.site.hemisphere().season(batch.grafted_on),
            looks,
        })
    }

    /// The standard days between which lines showed, by the records dated up to `day`: after the last `no-lines`, no
    /// later than the first `lines`. None where there was no look by then, or where a day between is unknown.
    pub fn known_on(&self, day: NaiveDate) -> Option<Result<Sighting, Problem>> {
        let looks = self.looks.partition_point(|look| look.on <= day);
        let looks = &self.looks[..looks];
        let seen = looks.iter().find(|look| look.lines);
        let unseen = looks.iter().rfind(|look| !look.lines);
        if let (Some(seen), Some(unseen)) = (seen, unseen)
            && unseen.on >= seen.on
        {
            let what = format!(
                "lines were written down for {} and none for {}, which is not before it",
                seen.on, unseen.on
            );
            return Some(Err(self.contradiction(what)));
        }
        let warmth = |look: Option<&Look>| look.map(|look| look.warmth);
        let (above, upto) = (warmth(unseen), warmth(seen));
        if (above, upto) == (None, None) || above == Some(None) || upto == Some(None) {
            return None;
        }
        // A look on the day of grafting tells nothing.
        let above = above.flatten().filter(|&warmth| warmth > 0.0);
        if above.is_none() && upto.is_none() {
            return None;
        }
        let sighting = Sighting::new(above, upto.flatten());
        Some(sighting.map_err(|why| self.contradiction(why)))
    }

    /// Whether lines were written down by that day.
    pub fn has_lines_by(&self, day: NaiveDate) -> bool {
        self.looks.iter().any(|look| look.lines && look.on <= day)
    }

    fn contradiction(&self, what: String) -> Problem {
        Problem::new(
            format!("field records of {}", self.batch),
            what,
            "nothing is learned from this batch",
            "check the dates of lines and no-lines; retract takes back the wrong one",
        )
    }
}
