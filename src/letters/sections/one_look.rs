//! Several kinds of work on the same grafts between which one look decides: one thing to do.

use crate::care::{BatchCare, StepCare, look_for_lines};
use crate::letters::letter::{Context, List, Section, care_of, frost_of, instructions, step_of};
use crate::letters::places::{places, places_named, rows, totals};
use crate::letters::words::capital;
use crate::notices::{Kind, Notice};

/// How the instructions of built-in plans begin where nobody has looked: here that is said once for all.
const LEAD: &str = "No lines are written down: look first, and ";

pub(super) fn one_look(notices: &[&Notice], context: &Context<'_>) -> Section {
    let cares = || notices.iter().filter_map(|n| care_of(n, context));
    let (why, lead) = if cares().all(|care| care.is_unlooked()) {
        (
            "no look is written down",
            "No look at these is written down. Was there one? Write down what was seen, with its date. What is to be done depends on what you find.",
        )
    } else {
        (
            "no lines are written down",
            "What is to be done here depends on what you find now.",
        )
    };
    let last = notices.iter().any(|n| n.kind == Kind::LastCall);
    let (heading, words) = if last {
        let words = format!("last working day: {why}, look first");
        (words.clone(), words)
    } else {
        (format!("{why}: look first"), format!("{why}, look first"))
    };
    let first = soonest(notices, context);
    let places = places(&first, context);
    let look = cares().find_map(|care| look_for_lines(care.plan));
    let mut paragraphs = super::in_heat::said(notices, context);
    paragraphs.push(lead.to_owned());
    paragraphs.extend(super::withdrawn::looks_taken_back(notices, context));
    paragraphs.extend(look.map(|look| look.say.clone()));
    paragraphs.extend(super::work::why_then(&first, context));
    Section {
        heading: capital(&heading),
        subject: format!("{}: {words} ({})", places_named(&places), totals(&places)),
        places,
        paragraphs,
        lists: vec![List {
            title: "What may be found, and what to do then:".into(),
            lines: found(cares(), context),
        }],
        rows: rows(&first, context),
    }
}

/// Of each batch the notice whose window closes first.
fn soonest<'n>(notices: &[&'n Notice], context: &Context<'_>) -> Vec<&'n Notice> {
    let close = |n: &Notice| step_of(n, context).and_then(|s| s.closes_on);
    let mut sorted = notices.to_vec();
    sorted.sort_by_cached_key(|n| (n.about.subject(), close(n).is_none(), close(n)));
    sorted.dedup_by_key(|n| n.about.subject());
    sorted
}

/// A line for each kind of work, with its instructions.
fn found<'c>(cares: impl Iterator<Item = &'c BatchCare<'c>>, context: &Context<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    for care in cares {
        for step in care.after_a_look() {
            let line = line(care, step, context);
            if !lines.contains(&line) {
                lines.push(line);
            }
        }
    }
    lines
}

fn line(care: &BatchCare<'_>, step: &StepCare<'_>, context: &Context<'_>) -> String {
    let frost = frost_of(&care.batch.site, context).is_some();
    let said = instructions(care, step, step.opened.map(|o| o.by), frost);
    let said = said.strip_prefix(LEAD).unwrap_or(said);
    let (title, said) = (capital(&step.step.title), capital(said));
    if said.starts_with(&title) {
        said
    } else {
        format!("{title}: {said}")
    }
}
