//! Work to be done: windows that opened, ran out, or are not open after all.

use super::in_heat;
use super::lists::told;
use super::title;
use super::withdrawn::looks_taken_back;
use crate::care::By;
use crate::letters::letter::{Context, List, Section, care_of, frost_near, say, step_of};
use crate::letters::places::{
    at_their_days, is_foreseen, limit_first, places, places_named, rows, totals,
};
use crate::letters::words::{capital, day_near, list, span};
use crate::notices::Notice;
use crate::nursery::{Anchor, Step, What};
use std::collections::BTreeSet;

/// What is to be done, as a heading says it.
fn task(notice: &Notice, context: &Context<'_>) -> String {
    let known = care_of(notice, context).zip(step_of(notice, context));
    known.map_or_else(
        || title(notice, context).to_owned(),
        |(care, step)| care.task(step),
    )
}

pub(super) fn opens(notices: &[&Notice], context: &Context<'_>) -> Section {
    let task = task(notices[0], context);
    let looks = task != title(notices[0], context);
    let now = match in_heat::waits_until(notices, context) {
        Some(day) => format!(
            "{task} after the heat, from {}",
            day_near(day, context.today)
        ),
        None if looks => task,
        None => format!("{task} now"),
    };
    let places = places(notices, context);
    let mut paragraphs = in_heat::said(notices, context);
    paragraphs.extend(left_unseen(notices, context));
    paragraphs.extend(looks_taken_back(notices, context));
    paragraphs.extend(ran_on(notices, context));
    paragraphs.push(say(notices[0], context).to_owned());
    paragraphs.extend(frost(notices, context));
    paragraphs.extend(why_opened(notices, context));
    paragraphs.extend(why_then(notices, context));
    Section {
        heading: capital(&now),
        subject: format!("{}: {now} ({})", places_named(&places), totals(&places)),
        places,
        paragraphs,
        rows: rows(notices, context),
        ..Section::default()
    }
}

/// The last working day on which it is in time.
pub(super) fn last_call(notices: &[&Notice], context: &Context<'_>) -> Section {
    let task = task(notices[0], context);
    let places = at_their_days(places(notices, context), notices, context);
    let soonest = notices.iter().map(|n| n.on).min().unwrap_or(context.today);
    let today = soonest == context.today;
    let day = day_near(soonest, context.today);
    let judged = is_foreseen(notices[0], context).map(|rough| {
        if rough {
            "If it stays as warm as it has been"
        } else {
            "Judging by the years before"
        }
    });
    let when = match (judged, today) {
        (None, true) => "Today is its last day.".to_owned(),
        (None, false) => format!("Its last day is {day}, before the next working day."),
        (Some(judged), true) => format!("{judged}, today may be its last day."),
        (Some(judged), false) => {
            format!("{judged}, its last day may be {day}, before the next working day.")
        }
    };
    Section {
        heading: format!("Last working day: {task}"),
        subject: format!(
            "{}: last working day: {task} ({})",
            places_named(&places),
            totals(&places)
        ),
        paragraphs: in_heat::said(notices, context)
            .into_iter()
            .chain(left_unseen(notices, context))
            .chain(looks_taken_back(notices, context))
            .chain([format!("{when} {}", say(notices[0], context))])
            .collect(),
        places,
        rows: rows(notices, context),
        ..Section::default()
    }
}

/// Whose trees that showed are done: the others are looked at again first.
fn left_unseen(notices: &[&Notice], context: &Context<'_>) -> Vec<String> {
    let said = |notice: &&Notice| {
        let (care, step) = (care_of(notice, context)?, step_of(notice, context)?);
        let (seen, of) = care.left_unseen(step)?;
        let what = step.step.opens.at_once.first()?.name();
        let (done, all) = (step.progress.done, step.progress.of);
        Some(format!(
            "{}: {what} showed on {seen} of {of} looked at, and {done} of {all} are done. Look at the others again, and do this only where {what} show now.",
            care.batch.name
        ))
    };
    notices.iter().filter_map(said).collect()
}

/// What callus was seen to do, where these looks are asked for because of that.
fn ran_on(notices: &[&Notice], context: &Context<'_>) -> Option<String> {
    let seen = |notice: &&Notice| {
        let (care, step) = (care_of(notice, context)?, step_of(notice, context)?);
        let day = day_near(care.ran_on(step)?, context.today);
        Some(format!("{} on {day}", care.batch.name))
    };
    let mut seen: Vec<String> = notices.iter().filter_map(seen).collect();
    seen.sort();
    (!seen.is_empty()).then(|| {
        format!(
            "Callus was seen to grow over scions: {}. See whether it still does. Where it does, shorten the stock once more, ease the tape, and write down over-callused again.",
            list(&seen)
        )
    })
}

/// What opens by tomorrow, so that the crew can be told.
pub(super) fn heads_up(notices: &[&Notice], context: &Context<'_>) -> Section {
    let places = places(notices, context);
    let mut tasks: Vec<String> = Vec::new();
    for notice in notices {
        let task = task(notice, context);
        if !tasks.contains(&task) {
            tasks.push(task);
        }
    }
    Section {
        heading: "Tomorrow, by the forecast".into(),
        subject: format!(
            "{}: {} from tomorrow ({})",
            places_named(&places),
            list(&tasks),
            totals(&places)
        ),
        paragraphs: vec![
            "These windows open with today's warmth. Nothing is to be done yet; you are told when they are open.".into(),
        ],
        lists: vec![List {
            title: "Opens:".into(),
            lines: told(notices, context),
        }],
        ..Section::default()
    }
}

/// When the first frost is to be reckoned with, where the work minds it.
fn frost(notices: &[&Notice], context: &Context<'_>) -> Option<String> {
    step_of(notices[0], context)?.step.say_frost.as_ref()?;
    let frost = frost_near(notices[0], context)?;
    Some(format!(
        "In 80 of 100 years the first frost came on {} or later.",
        day_near(frost, context.today)
    ))
}

pub(super) fn late(notices: &[&Notice], context: &Context<'_>) -> Section {
    let task = task(notices[0], context);
    let places = places(notices, context);
    let step = step_of(notices[0], context);
    // A graft made too late in the year is lost; all other work is better late than never.
    let mut paragraphs = if step.is_some_and(|s| s.step.brings == [What::Regrafted]) {
        vec!["The last day for this has passed. Done before it? Write it down with its date. What is not done: leave the stock unheaded for next season, and write down lost with the number if you give it up.".into()]
    } else {
        vec![
            "The time for this has run out and it is not all written down. Done? Write it down with its date. Not done? It is still worth doing: look first.".into(),
            say(notices[0], context).to_owned(),
        ]
    };
    let first = in_heat::said(notices, context).into_iter();
    paragraphs.splice(
        1..1,
        first
            .chain(left_unseen(notices, context))
            .chain(looks_taken_back(notices, context)),
    );
    Section {
        heading: format!("Late: {task}"),
        subject: format!(
            "{}: late to {task} ({})",
            places_named(&places),
            totals(&places)
        ),
        paragraphs,
        places,
        rows: rows(notices, context),
        ..Section::default()
    }
}

/// Why the day given is not that of the window.
pub(super) fn why_then(notices: &[&Notice], context: &Context<'_>) -> Option<String> {
    let decides = |notice: &&Notice| {
        let care = care_of(notice, context)?;
        limit_first(care, step_of(notice, context)?, context)?;
        Some((notice.about.subject().to_owned(), care.limit?.limit))
    };
    let mut names: BTreeSet<String> = BTreeSet::new();
    let mut title = None;
    for (name, limit) in notices.iter().filter_map(decides) {
        title = title.or(Some(&limit.title));
        names.insert(name);
    }
    let these = if names.len() == notices.len() {
        String::new()
    } else {
        format!(" of {}", list(&names.into_iter().collect::<Vec<_>>()))
    };
    Some(format!(
        "The day given{these} is that of {}: the risk of it may come before the window closes.",
        title?
    ))
}

/// How the windows came to be open, in one sentence.
fn why_opened(notices: &[&Notice], context: &Context<'_>) -> Option<String> {
    let step: &Step = step_of(notices[0], context)?.step;
    let days = |by: By| {
        let days = || notices.iter().filter(|n| n.by == Some(by)).map(|n| n.on);
        Some(span(days().min()?, days().max()?))
    };
    let since_grafting = step.opens.after == Anchor::Grafted && step.opens.repeat.is_none();
    let warm = days(By::Heat).map(|days| match step.opens.week_below {
        Some(_) => format!("the cold week up to {days}"),
        None if since_grafting => format!(
            "warmth: {} since grafting, reached on {days}",
            warmth_words(notices)
        ),
        None => format!("warmth on {days}"),
    });
    let seen = days(By::Record).map(|days| format!("what was written down for {days}"));
    let calendar = days(By::Calendar).map(|days| {
        if step.opens.max_days.is_some() {
            format!("the calendar on {days}, for it has been cold")
        } else {
            format!("the calendar on {days}")
        }
    });
    let reasons: Vec<String> = [warm, seen, calendar].into_iter().flatten().collect();
    (!reasons.is_empty()).then(|| format!("Opened by {}.", list(&reasons)))
}

fn warmth_words(notices: &[&Notice]) -> String {
    let figures: Vec<f64> = notices
        .iter()
        .filter_map(|n| n.standard_days)
        .map(|s| s.0)
        .collect();
    let least = figures.iter().copied().fold(f64::MAX, f64::min);
    let most = figures.iter().copied().fold(f64::MIN, f64::max);
    match figures.len() {
        0 => "the days known".into(),
        _ if most - least < 0.05 => format!("{least:.1} standard days"),
        _ => format!("{least:.1} to {most:.1} standard days"),
    }
}
