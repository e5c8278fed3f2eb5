//! Work that one look decides between: what is told together, and what is told within the section of a risk.

use super::letter::{Context, care_of, frost_of, instructions, step_of};
use super::words::names as names_of;
use crate::care::{BatchCare, By, State, StepCare};
use crate::notices::{Kind, Notice};
use std::collections::HashMap;

/// Notices to be found by what they are about: a letter of thousands must not look through all for each.
pub struct Together<'n>(HashMap<&'n str, Vec<&'n Notice>>);

impl<'n> Together<'n> {
    pub fn new(notices: &[&'n Notice]) -> Self {
        let mut about: HashMap<&str, Vec<&Notice>> = HashMap::new();
        for &notice in notices {
            about
                .entry(notice.about.subject())
                .or_default()
                .push(notice);
        }
        Self(about)
    }

    /// Those about the same as this one.
    pub fn like(&self, notice: &Notice) -> impl Iterator<Item = &'n Notice> {
        let like = self.0.get(notice.about.subject());
        let like = like.into_iter().flatten().copied();
        like.filter(|other| other.about == notice.about)
    }
}

/// A notice of work that a look decides on, with its batch and step.
fn hinging<'a>(
    notice: &Notice,
    context: &Context<'a>,
) -> Option<(&'a BatchCare<'a>, &'a StepCare<'a>)> {
    let told = match notice.kind {
        Kind::Opens | Kind::LastCall => true,
        Kind::Late => notice.n == 1,
        _ => false,
    };
    let (care, step) = (care_of(notice, context)?, step_of(notice, context)?);
    (told && care.hinges_on_a_look(step)).then_some((care, step))
}

/// Whether a notice is told together with the other work between which one look at its batch decides: where several kinds of
/// such work are due, or where these notices tell of the look too.
pub fn is_one_look(notice: &Notice, told: &Together<'_>, context: &Context<'_>) -> bool {
    let Some((care, step)) = hinging(notice, context) else {
        return false;
    };
    let other = |n: &Notice| {
        let theirs = hinging(n, context).filter(|_| n.step != notice.step);
        theirs.is_some_and(|(_, other)| !(care.is_look(other) && care.is_look(step)))
    };
    !care.one_look().is_empty() || told.like(notice).any(other)
}

/// Whether a notice is of a look for what nobody has seen yet.
pub fn is_look(notice: &Notice, context: &Context<'_>) -> bool {
    let known = care_of(notice, context).zip(step_of(notice, context));
    known.is_some_and(|(care, step)| care.is_look(step))
}

/// The work of a batch at its limit that may be to do in place of what ends the limit: nobody has written down what a look
/// would show, and the one look decides between the two.
fn instead<'c, 'a>(care: &'c BatchCare<'a>) -> Option<&'c StepCare<'a>> {
    let ends = care.plan.step(&care.limit?.limit.until)?;
    let rules_out = |step: &&StepCare<'_>| {
        let unless = &step.step.opens.unless;
        ends.brings.iter().any(|what| unless.contains(what))
    };
    let by_warmth = |step: &&StepCare<'_>| step.opened.is_some_and(|o| o.by == By::Heat);
    let mut due = care.steps.iter().filter(|s| s.state.is_due());
    due.find(|step| rules_out(step) && by_warmth(step))
}

/// Whether a notice tells of work that is to be done in place of what this letter asks of the same batch.
pub fn is_instead(notice: &Notice, told: &Together<'_>, context: &Context<'_>) -> bool {
    let opens = matches!(notice.kind, Kind::Opens | Kind::LastCall);
    let Some(step) = care_of(notice, context).and_then(instead) else {
        return false;
    };
    let mut theirs = told.like(notice);
    opens
        && Some(&step.step.id) == notice.step.as_ref()
        && theirs.any(|n| n.kind == Kind::OverCallusRisk)
}

/// What may be to do instead with these batches, once for all that are told so, each time that they are told of; where a
/// section of its own names all that a look may show, that says it.
pub fn told_instead(
    together: &[&Notice],
    told: &Together<'_>,
    context: &Context<'_>,
) -> Option<String> {
    if together[0].kind != Kind::OverCallusRisk {
        return None;
    }
    let elsewhere = |n: &Notice| told.like(n).any(|t| is_one_look(t, told, context));
    let of = |n: &&Notice| {
        let care = care_of(n, context).filter(|_| !elsewhere(n))?;
        let step = instead(care).filter(|s| s.state != State::Late)?;
        Some((care, step))
    };
    let theirs: Vec<_> = together.iter().filter_map(of).collect();
    let (care, step) = theirs.first()?;
    let frost = frost_of(&care.batch.site, context).is_some();
    let said = instructions(care, step, step.opened.map(|o| o.by), frost);
    if theirs.len() == together.len() {
        return Some(said.to_owned());
    }
    let mut names: Vec<&str> = theirs.iter().map(|(c, _)| c.batch.name.as_str()).collect();
    names.sort_unstable();
    Some(format!("{}: {said}", names_of(&names)))
}
