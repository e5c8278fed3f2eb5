//! Windows that were told of and are not open after all: what closed them, and about when they come now.

use super::title;
use crate::care::{BatchCare, StepCare};
use crate::letters::letter::{Context, Section, care_of, step_of};
use crate::letters::places::{places, places_named, totals};
use crate::letters::words::{about, day_near, list, recorded};
use crate::notices::Notice;
use crate::nursery::{Anchor, Record, What, counts_as};
use chrono::NaiveDate;
use indexmap::{IndexMap, IndexSet};
use std::fmt::Write;

pub(super) fn no_longer_due(notices: &[&Notice], context: &Context<'_>) -> Section {
    let title = title(notices[0], context);
    let places = places(notices, context);
    let mut causes: Vec<(String, Vec<String>)> = Vec::new();
    for notice in notices {
        let cause = cause(notice, context);
        let name = notice.about.subject().to_owned();
        match causes.iter_mut().find(|(of, _)| *of == cause) {
            Some((_, names)) => names.push(name),
            None => causes.push((cause, vec![name])),
        }
    }
    let mut paragraphs: Vec<String> = causes
        .into_iter()
        .map(|(cause, mut names)| {
            names.sort();
            format!("{}: {cause}.", list(&names))
        })
        .collect();
    if let (Some(when), Some(last)) = (comes(notices, context), paragraphs.last_mut()) {
        let _ = write!(last, " By what is known now it comes {when}.");
    }
    paragraphs.extend(notices.iter().filter_map(|n| risk_stands(n, context)));
    Section {
        heading: format!("No longer due: {title}"),
        subject: format!(
            "No longer due, {}: {title} ({})",
            places_named(&places),
            totals(&places)
        ),
        paragraphs,
        ..Section::default()
    }
}

/// The work that ends a limit is not due, and the limit is there all the same: who looks next, and by when.
fn risk_stands(notice: &Notice, context: &Context<'_>) -> Option<String> {
    let care = care_of(notice, context)?;
    let limit = care.limit.filter(|limit| limit.running)?;
    if Some(&limit.limit.until) != notice.step.as_ref() {
        return None;
    }
    let (name, today) = (&care.batch.name, context.today);
    let by = context.outlook.act_before_limit(care);
    let when = by.map_or_else(String::new, |by| {
        let about = if by.foreseen.is_some() { "about " } else { "" };
        let word = if by.on < today { "since" } else { "by" };
        format!(", {word} {about}{}", day_near(by.on, today))
    });
    // The next look of the plan, no later than on the last working day before the limit, and today where none is left.
    let turns = care.steps.iter().filter_map(|step| step.turn);
    let turn = turns.filter_map(|turn| context.workdays.first_from(turn.opened.on.max(today)));
    let last = by.map(|by| {
        let before = by.on.pred_opt().unwrap_or(by.on);
        context.workdays.last_within(today, before).unwrap_or(today)
    });
    let look = turn.chain(last).min().unwrap_or(today);
    let rule = care.plan.reckoning;
    let mut records = context.records.iter().rev();
    let looked = records.find(|record| {
        record.is_about(&care.batch) && [rule.seen, rule.unseen].contains(&counts_as(record))
    });
    let who = match looked.map(|record| record.by.as_str()) {
        Some(by) if !by.is_empty() => format!("{by}, who looked last, or whoever is at hand"),
        _ => "whoever is at hand".to_owned(),
    };
    Some(format!(
        "The risk of {} of {name} stands{when}: {who} looks again by {}, and heads back what shows lines on both sides.",
        limit.limit.title,
        day_near(look, today)
    ))
}

/// What closed the window again, as far as that is known.
fn cause(notice: &Notice, context: &Context<'_>) -> String {
    let unknown = || {
        "what we wrote does not hold any more, because a temperature, a record or the register has changed since".to_owned()
    };
    let Some((care, step)) = care_of(notice, context).zip(step_of(notice, context)) else {
        return unknown();
    };
    let by_register = || other_grafting(notice, care, context);
    let by_record = || closing_record(care, step, context);
    by_register()
        .or_else(by_record)
        .or_else(|| colder(notice, care, step, context))
        .unwrap_or_else(unknown)
}

/// The register says otherwise of the grafting than when it was told.
fn other_grafting(notice: &Notice, care: &BatchCare<'_>, context: &Context<'_>) -> Option<String> {
    let grafting = notice.anchor.rsplit(" of ").next()?;
    let (date, plan) = grafting.split_once(" by ")?;
    let (batch, date) = (&care.batch, date.parse::<NaiveDate>().ok()?);
    if date != batch.grafted_on {
        let day = day_near(batch.grafted_on, context.today);
        return Some(format!(
            "the register now says that it was grafted on {day}"
        ));
    }
    (plan != batch.plan).then(|| format!("the register now says that its plan is {}", batch.plan))
}

/// The record that holds the window back, or the one that took back what had opened it.
fn closing_record(
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    context: &Context<'_>,
) -> Option<String> {
    let opens = &step.step.opens;
    let theirs = || {
        let records = context.records.iter().rev();
        records.filter(|record| record.is_about(&care.batch))
    };
    let holds = opens.held.filter(|held| {
        let fact = care.facts.last(&[held.by]);
        let (warmth, so_far) = (&care.warmth, care.warmth.at_least(care.known_to()));
        fact.is_some_and(|fact| {
            so_far.0 < warmth.at_least(fact.date).0 + warmth.heat_of(held.during).0
        })
    });
    if let Some(held) = holds
        && let Some(record) = theirs().find(|record| counts_as(record) == held.by)
    {
        return Some(format!(
            "{} was written down for {}",
            held.by.name(),
            recorded(record, context.today)
        ));
    }
    let after = match opens.after {
        Anchor::Record(what) => Some(what),
        _ => None,
    };
    let opened_by = |what: &What| opens.at_once.contains(what) || after == Some(*what);
    let takes_back = |record: &&Record| {
        record.what == What::Retract
            && What::named(record.remarks.trim()).is_some_and(|what| opened_by(&what))
    };
    let record = theirs().find(takes_back)?;
    Some(format!(
        "{} was taken back on {}",
        record.remarks.trim(),
        recorded(record, context.today)
    ))
}

/// By the temperatures as they are known now it was not warm enough on the day on which it was said to have opened.
fn colder(
    notice: &Notice,
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    context: &Context<'_>,
) -> Option<String> {
    let opens = &step.step.opens;
    let need = opens.warmth.filter(|_| opens.after == Anchor::Grafted)?;
    let too_cold = care.warmth.at_least(notice.on).0 < care.warmth.heat_of(need).0 * (1.0 - 1e-9);
    too_cold.then(|| {
        let day = day_near(notice.on, context.today);
        format!("the temperatures have been corrected since, and it was not warm enough by {day}")
    })
}

/// When the first of the windows will open, by the days known and the forecast, else by the years before.
fn comes(notices: &[&Notice], context: &Context<'_>) -> Option<String> {
    // What opens with the warmth of today is told tomorrow.
    let at_once = |day: NaiveDate| day <= context.today;
    let next = notices
        .iter()
        .filter_map(|n| step_of(n, context)?.opened)
        .map(|o| o.on)
        .min();
    if let Some(day) = next {
        return Some(if at_once(day) {
            "tomorrow, with the warmth of today".to_owned()
        } else {
            format!("about {}", day_near(day, context.today))
        });
    }
    let foreseen = notices.iter().filter_map(|n| {
        let foreseen = context
            .outlook
            .of(care_of(n, context)?, step_of(n, context)?)?;
        Some((foreseen.band.p50?, foreseen))
    });
    let (middle, first) = foreseen.min_by_key(|(middle, _)| *middle)?;
    Some(if at_once(middle) {
        "perhaps tomorrow".to_owned()
    } else {
        about(&first, context.today)
    })
}

/// Looks that were written down and taken back, of batches of which no other look is written down.
pub(super) fn looks_taken_back(notices: &[&Notice], context: &Context<'_>) -> Option<String> {
    let records = context.records.iter().enumerate();
    let retracts: Vec<(usize, &Record)> = records
        .filter(|(_, record)| record.what == What::Retract)
        .collect();
    let mut said: IndexMap<String, IndexSet<String>> = IndexMap::new();
    for care in notices.iter().filter_map(|n| care_of(n, context)) {
        let Some(look) = look_taken_back(care, &retracts, context) else {
            continue;
        };
        let look = format!(
            "{}, {}",
            counts_as(look).name(),
            recorded(look, context.today)
        );
        said.entry(look)
            .or_default()
            .insert(care.batch.name.clone());
    }
    let of = |(look, names): (String, IndexSet<String>)| {
        let names: Vec<String> = names.into_iter().collect();
        format!("{} {look}", list(&names))
    };
    let said: Vec<String> = said.into_iter().map(of).collect();
    (!said.is_empty()).then(|| format!("Written down and taken back: {}.", said.join("; ")))
}

/// Where no look stands, one that any retraction of its word could mean was taken back.
fn look_taken_back<'a>(
    care: &BatchCare<'_>,
    retracts: &[(usize, &Record)],
    context: &Context<'a>,
) -> Option<&'a Record> {
    let theirs = retracts.iter().filter(|(_, r)| r.is_about(&care.batch));
    let theirs: Vec<_> = theirs.filter(|_| care.is_unlooked()).collect();
    let (last, _) = theirs.last()?;
    let rule = care.plan.reckoning;
    let is_look = |at: usize, record: &Record| {
        let what = counts_as(record);
        let takes_back = |&&&(later, retract): &&&(usize, &Record)| {
            let word = What::named(retract.remarks.trim());
            at < later && word == Some(what) && record.date <= retract.date
        };
        [rule.seen, rule.unseen, What::Looked, What::OverCallused].contains(&what)
            && record.is_about(&care.batch)
            && record.date >= care.batch.grafted_on
            && theirs.iter().any(|t| takes_back(&t))
    };
    let mut before = context.records[..*last].iter().enumerate().rev();
    before.find_map(|(at, record)| is_look(at, record).then_some(record))
}
