//! What stands against taking `done` for a batch: nobody has looked there, or something newer was written down.
//!
//! A letter asks many batches at once and may be days old when it is answered, so that a word that names nothing, or not
//! what was done, is held against what is known of each batch. A line that says both is never held against anything.

use super::Asking;
use super::made::{spoken, step_of};
use super::phrases::Did;
use crate::care::{BatchCare, Facts, State, StepCare};
use crate::letters::{day_short, list};
use crate::nursery::{Record, What};
use chrono::NaiveDate;

/// A batch for which a word was not taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    batch: String,
    what: What,
    why: Why,
}

/// Why not.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Why {
    /// This is to be looked for first.
    Unseen(What),
    /// It shows on so many of so many, and only there the work is to be done.
    InPart(u32, u32),
    /// Something that was written down, in a few words.
    Known(String),
    /// The same was written down before, on that day.
    Done(NaiveDate),
}

impl LeftOut {
    /// Whether what was said is written down already.
    pub fn is_known(&self) -> bool {
        matches!(self.why, Why::Done(_))
    }
}

/// Why a record that would be made of a vague word is left out, by these facts of its batch; none where it may be made.
pub fn left_out(
    care: &BatchCare<'_>,
    did: Did,
    record: &Record,
    facts: &Facts,
    asking: &Asking<'_>,
) -> Option<LeftOut> {
    let why = if did == Did::Asked {
        newer(care, record.what, facts, asking)
            .map(Why::Known)
            .or_else(|| done(record.what, facts).map(Why::Done))
            .or_else(|| settled(care, record.what, facts).map(Why::Known))
            .or_else(|| unsure(care, record, facts))
    } else {
        newer(care, record.what, facts, asking).map(Why::Known)
    };
    Some(LeftOut {
        batch: care.batch.name.clone(),
        what: record.what,
        why: why?,
    })
}

/// The batches of a block in which work that was written down for the block is not due: it does not count for them.
pub fn not_due_in(block: &str, what: What, asking: &Asking<'_>) -> Vec<LeftOut> {
    let waits_not = |care: &&BatchCare<'_>| {
        let step = step_of(care, what);
        care.batch.block == block
            && care.is_open()
            && step.is_some_and(|step| step.state == State::Ahead)
    };
    let left = asking.cares.iter().filter(waits_not).map(|care| LeftOut {
        batch: care.batch.name.clone(),
        what,
        why: Why::Known(not_due(step_of(care, what))),
    });
    left.collect()
}

fn not_due(step: Option<&StepCare<'_>>) -> String {
    let title = step.map_or("it", |step| step.step.title.as_str());
    format!("'{title}' is not due now")
}

/// What was written down since the letter, and says otherwise.
fn newer(care: &BatchCare<'_>, what: What, facts: &Facts, asking: &Asking<'_>) -> Option<String> {
    if let Some(on) = facts.closed_on() {
        return Some(format!("closed on {}", day_short(on)));
    }
    let step = step_of(care, what)?.step;
    let held = [
        step.opens.held.map(|held| held.by),
        step.closes
            .and_then(|closes| closes.held)
            .map(|held| held.by),
        Some(care.plan.reckoning.unseen),
        Some(What::Regrafted),
    ];
    let against = |what: What| held.contains(&Some(what)) && !step.brings.contains(&what);
    let all = facts.all();
    let at = all.iter().rposition(|fact| against(fact.what))?;
    // What opens the window and was written down after it counts more.
    let opened = all[at..]
        .iter()
        .any(|fact| step.opens.at_once.contains(&fact.what));
    let fact = all[at];
    (what.is_work() && !opened && fact.date >= asking.asked_on).then(|| {
        format!(
            "{} was written down on {}, after that letter",
            fact.what.name(),
            day_short(fact.date)
        )
    })
}

/// The day on which the work was written down as done.
fn done(what: What, facts: &Facts) -> Option<NaiveDate> {
    what.is_work().then(|| facts.progress(&[what]).done_on)?
}

/// What makes the work that the letter asked for no work any more.
fn settled(care: &BatchCare<'_>, what: What, facts: &Facts) -> Option<String> {
    let step = step_of(care, what)?;
    let opened = facts.first(&step.step.opens.at_once).is_some();
    let title = &step.step.title;
    match step.state {
        State::Ahead if !opened => Some(not_due(Some(step))),
        State::PassedOver => Some(format!(
            "work that follows '{title}' is written down already"
        )),
        _ => None,
    }
}

/// What leaves open whether all of it is done. A count was counted, so somebody was there.
fn unsure(care: &BatchCare<'_>, record: &Record, facts: &Facts) -> Option<Why> {
    let step: &StepCare<'_> = step_of(care, record.what)?;
    let in_part = || care.seen_in_part(step, facts);
    let unseen = care.unseen(step, facts).map(Why::Unseen);
    let why = unseen.or_else(|| in_part().map(|(seen, of)| Why::InPart(seen, of)))?;
    record.count.is_none().then_some(why)
}

/// A sentence or two for all batches that were left out for the same reason.
pub fn sentences(left: &[LeftOut]) -> Vec<String> {
    let mut groups: Vec<(&LeftOut, Vec<String>)> = Vec::new();
    for one in left {
        match groups
            .iter_mut()
            .find(|(first, _)| (&first.why, first.what) == (&one.why, one.what))
        {
            Some((_, names)) => names.push(one.batch.clone()),
            None => groups.push((one, vec![one.batch.clone()])),
        }
    }
    groups
        .iter()
        .map(|(first, names)| sentence(first, names))
        .collect()
}

fn sentence(left: &LeftOut, names: &[String]) -> String {
    let (first, done) = (&names[0], spoken(left.what));
    let are = if names.len() == 1 { "is" } else { "are" };
    let names = list(names);
    match &left.why {
        Why::Unseen(What::Lines) => format!(
            "not taken for {names}: no lines are written down there, and the letter says to look first. Write what was seen, as in \"{first} lines 3/10\", or if it is done, name it, as in \"{first} {done}\""
        ),
        Why::Unseen(seen) => format!(
            "not taken for {names}: {} is not written down there, and the letter says to look first. If it is done, name it with its count, as in \"{first} {done} 12\"",
            spoken(*seen)
        ),
        Why::InPart(seen, of) => format!(
            "not taken for {names}: lines showed on {seen} of {of} there, and the letter says to do only those that show them. Write how many it was, as in \"{first} {done} 60\", or if it was all, \"{first} {done}\""
        ),
        Why::Done(on) => format!(
            "{names} {are} written down as {} already, on {}",
            left.what.name(),
            day_short(*on)
        ),
        Why::Known(why) => format!(
            "not taken for {names}: {why}. If it was done all the same, name it, as in \"{first} {done}\""
        ),
    }
}
