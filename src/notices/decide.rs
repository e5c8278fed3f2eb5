//! What is new: findings against the ledger.
//!
//! Work is decided on working days only, so that a letter never tells of Saturday what Monday's records have answered;
//! what is urgent is decided on any day. The same findings and ledger give the same notices, and none twice. Each room
//! below decides one kind of news.

mod bouts;
mod heat;
mod last_graft;
pub(super) mod looks;
mod risk;
mod trouble;
mod weather;
mod work;

use super::notice::{About, Kind, Ledger, Notice, Told};
use super::summary::{self, Diary};
use crate::care::{BatchCare, Ground, Outlook, StepCare};
use crate::nursery::{Person, What, Workdays};
use crate::problem::Problem;
use chrono::{DateTime, NaiveDate, Utc};

/// Everything there is to tell of at one moment.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// The moment.
    pub now: DateTime<Utc>,
    /// The nursery's local date.
    pub today: NaiveDate,
    /// When somebody is in the field.
    pub workdays: &'a Workdays,
    /// Every site.
    pub grounds: &'a [Ground<'a>],
    /// Every batch in force.
    pub cares: &'a [BatchCare<'a>],
    /// What could not be read, fetched or sent.
    pub problems: &'a [Problem],
    /// When windows will open, and how surely.
    pub outlook: &'a Outlook<'a>,
    /// Who gets letters.
    pub people: &'a [Person],
    /// What the program knows of its own past.
    pub diary: Diary<'a>,
}

/// The news, the most pressing first.
pub fn decide(view: &View<'_>, ledger: &Ledger) -> Vec<Notice> {
    let working = view.workdays.works(view.today);
    let mut notices = Vec::new();
    for care in view.cares {
        notices.extend(risk::news(view, care, ledger));
        notices.extend(work::news(view, care, ledger));
    }
    notices.extend(looks::news(view, ledger));
    for ground in view.grounds {
        notices.extend(heat::news(view, ground, ledger));
        notices.extend(weather::news(view, ground, ledger));
        if working {
            notices.extend(last_graft::last_graft(view, ground, ledger));
            notices.extend(trouble::no_temperatures(view, ground, ledger));
        }
    }
    if working {
        notices.extend(trouble::trouble(view, ledger));
    }
    let digests = summary::news(view, ledger, &notices);
    notices.extend(digests);
    notices.sort_by_key(|n| n.kind);
    notices
}

fn about(care: &BatchCare<'_>) -> About {
    let batch = &care.batch;
    About::Batch {
        name: batch.name.clone(),
        site: batch.site.to_string(),
        block: batch.block.to_string(),
    }
}

/// A notice about a batch, with its figures at the end of `on`.
fn of_batch(
    care: &BatchCare<'_>,
    kind: Kind,
    step: &str,
    anchor: String,
    n: u32,
    on: NaiveDate,
) -> Notice {
    let heat = care.warmth.at(on);
    Notice {
        step: Some(step.to_owned()),
        heat,
        standard_days: heat.map(|h| care.warmth.standard(h)),
        days: Some((on - care.batch.grafted_on).num_days()),
        ..Notice::plain(kind, about(care), anchor, n, on)
    }
}

/// What a window hangs on: the grafting and, for a step that comes again, its turn.
pub(super) fn anchor(care: &BatchCare<'_>, step: Option<&StepCare<'_>>) -> String {
    let grafting = grafting(care);
    match step.and_then(|s| s.turn) {
        Some(turn) => {
            let after = turn.after.map_or("calendar", What::name);
            format!("{after} {} +{} of {grafting}", turn.base, turn.count)
        }
        None => grafting,
    }
}

fn grafting(care: &BatchCare<'_>) -> String {
    format!("{} by {}", care.batch.grafted_on, care.batch.plan)
}

/// Whether an anchor is that of this grafting, with a turn or without.
fn hangs_on(anchor: &str, grafting: &str) -> bool {
    anchor == grafting || anchor.ends_with(&format!(" of {grafting}"))
}

pub(super) fn last<'a>(told: &'a [Told], step: &str, anchor: &str) -> Option<&'a Told> {
    told.iter().rfind(|t| t.step == step && t.anchor == anchor)
}

#[cfg(test)]
pub(crate) mod tests;
