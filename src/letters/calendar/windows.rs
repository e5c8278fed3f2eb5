//! The windows of the next three weeks as a calendar shows them: one for each block, step and day of grafting.
//!
//! What was grafted on one day in one block has had the same warmth, so one entry says it for all its batches. It is known
//! again by that day, whatever its dates do. Knows nothing of what a calendar was told before.

use crate::care::{BatchCare, Foreseen, State, StepCare};
use crate::letters::letter::Context;
use crate::letters::places::block_of;
use crate::letters::words::{about, count_of, day_short, span};
use crate::nursery::Person;
use chrono::{Days, NaiveDate};
use std::collections::HashMap;

/// Windows that open later than so many days from today are no entries yet.
pub const AHEAD: Days = Days::new(21);

/// A longer window (stumping, docking) would fill a phone: its entry stands on its first day and names the last.
const LONGEST: i64 = 35;

/// So many batches are named; more are counted.
const NAMED: usize = 12;

/// A window of some batches, as an entry says it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Window {
    /// The site.
    pub site: String,
    /// The block.
    pub block: String,
    /// The site, block, plan, step, day of grafting and, of what comes again, the turn: it stays while dates move.
    pub key: String,
    /// What is to be done, where, and how much of it.
    pub title: String,
    /// The day on which it opens.
    pub first: NaiveDate,
    /// The last day on which all of it is in time; the first where none is known.
    pub last: NaiveDate,
    /// The dates in words and the batches.
    pub detail: String,
    /// The day on which the last of its work was done; the dates are then that day.
    pub done_on: Option<NaiveDate>,
}

/// One step of one batch.
#[derive(Clone, Copy)]
struct Part<'c> {
    care: &'c BatchCare<'c>,
    step: &'c StepCare<'c>,
    dates: Dates,
}

#[derive(Clone, Copy)]
struct Dates {
    opens: Foreseen,
    closes: Option<Foreseen>,
    first: NaiveDate,
    last: NaiveDate,
}

impl Window {
    /// Whether it is of that person's sites and blocks.
    pub fn concerns(&self, person: &Person) -> bool {
        person.cares_for_site(&self.site) && person.cares_for_block(&self.block)
    }
}

/// Every window that is open or late, opens within [`AHEAD`], or was done no longer ago, by day and place.
pub fn windows(context: &Context<'_>) -> Vec<Window> {
    let mut groups: HashMap<String, Vec<Part<'_>>> = HashMap::new();
    for care in context.cares {
        for step in care.steps.iter() {
            if let Some(dates) = dates(care, step, context) {
                let part = Part { care, step, dates };
                groups.entry(key(care, step)).or_default().push(part);
            }
        }
    }
    let of_group = |(key, parts): (String, Vec<Part<'_>>)| window(key, &parts, context);
    let mut windows: Vec<Window> = groups.into_iter().map(of_group).collect();
    windows.sort_by(|a, b| (a.first, &a.key).cmp(&(b.first, &b.key)));
    windows
}

fn key(care: &BatchCare<'_>, step: &StepCare<'_>) -> String {
    let batch = &care.batch;
    let mut parts = vec![
        batch.site.to_string(),
        batch.block.to_string(),
        batch.plan.to_string(),
        step.step.id.clone(),
        batch.grafted_on.to_string(),
    ];
    if let Some(turn) = step.turn {
        parts.push(format!("{} {}", turn.base, turn.count));
    }
    parts.join("\n")
}

/// None for a step that is no entry.
fn dates(care: &BatchCare<'_>, step: &StepCare<'_>, context: &Context<'_>) -> Option<Dates> {
    if let Some(day) = step.progress.done_on {
        let done = Dates {
            opens: Foreseen::certain(day),
            closes: None,
            first: day,
            last: day,
        };
        return (day + AHEAD >= context.today).then_some(done);
    }
    if !care.is_open() || step.state == State::PassedOver {
        return None;
    }
    let outlook = context.outlook;
    let opened = step.opened.map(|opened| Foreseen::certain(opened.on));
    let opens = if step.state.is_due() {
        opened?
    } else if step.is_conditional() {
        return None;
    } else {
        outlook.of(care, step).or(opened)?
    };
    let first = opens.band.p50?;
    if first > context.today + AHEAD {
        return None;
    }
    let known = step.in_time_to(context.today).map(Foreseen::certain);
    let closes = known.or_else(|| outlook.closes(care, step));
    let last = closes.and_then(|closes| closes.band.p50).unwrap_or(first);
    let last = last.max(first);
    Some(Dates {
        opens,
        closes,
        first,
        last,
    })
}

/// The dates are those of what is left; where all is late, those of what is late.
fn window(key: String, parts: &[Part<'_>], context: &Context<'_>) -> Window {
    let of = |state: fn(State) -> bool| -> Vec<Part<'_>> {
        let some = parts.iter().filter(|part| state(part.step.state));
        some.copied().collect()
    };
    let in_time = of(|state| !state.is_past() && state != State::Late);
    let late = of(|state| state == State::Late);
    let left = if in_time.is_empty() { late } else { in_time };
    if left.is_empty() {
        return done(key, parts, context);
    }
    let first = left.iter().map(|part| part.dates.first).min();
    let first = first.unwrap_or(context.today);
    let last = left.iter().map(|part| part.dates.last).min();
    let last = last.unwrap_or(first).max(first);
    let grafts = left.iter().fold(0_u32, |sum, part| {
        sum.saturating_add(grafts_left(part.step))
    });
    let foreseen = left.iter().all(|part| part.step.state == State::Ahead);
    let long = (last - first).num_days() > LONGEST;
    let title = left[0].step.step.title.clone();
    let mark = foreseen.then(|| "foreseen".to_owned());
    let by = long.then(|| format!("by {}", day_short(last)));
    let what: Vec<String> = [Some(title), mark, by].into_iter().flatten().collect();
    let batch = &left[0].care.batch;
    Window {
        site: batch.site.to_string(),
        block: batch.block.to_string(),
        title: format!(
            "{}: {} ({}, {})",
            block_of(left[0].care, context),
            what.join(", "),
            count_of(left.len() as u32, "batch"),
            count_of(grafts, "graft")
        ),
        first,
        last: if long { first } else { last },
        detail: detail(&left, (first, last), context),
        done_on: None,
        key,
    }
}

/// What is done keeps its day, so that the calendar tells afterwards what was done when.
fn done(key: String, parts: &[Part<'_>], context: &Context<'_>) -> Window {
    let days = parts.iter().map(|part| part.dates.last);
    let day = days.max().unwrap_or(context.today);
    let title = &parts[0].step.step.title;
    let batch = &parts[0].care.batch;
    Window {
        site: batch.site.to_string(),
        block: batch.block.to_string(),
        title: format!(
            "{}: {title}, done ({})",
            block_of(parts[0].care, context),
            count_of(parts.len() as u32, "batch")
        ),
        first: day,
        last: day,
        detail: batches(parts, |_| String::new()),
        done_on: Some(day),
        key,
    }
}

fn grafts_left(step: &StepCare<'_>) -> u32 {
    step.progress.of.saturating_sub(step.progress.done)
}

/// When it opens and closes, in the words of the letters, and the batches; with dates of their own where they differ.
fn detail(
    left: &[Part<'_>],
    (first, last): (NaiveDate, NaiveDate),
    context: &Context<'_>,
) -> String {
    let soonest = left.iter().min_by_key(|part| part.dates.first);
    let mut lines: Vec<String> = soonest
        .map(|part| opening(part, context))
        .into_iter()
        .collect();
    let ending = left.iter().filter(|part| part.dates.closes.is_some());
    if let Some(closes) = ending.min_by_key(|part| part.dates.last) {
        lines.push(closing(closes, context));
    }
    lines.push(batches(left, |part| {
        let grafts = count_of(grafts_left(part.step), "graft");
        let own = (part.dates.first, part.dates.last);
        if own == (first, last) {
            format!(", {grafts}")
        } else {
            format!(", {grafts}, {}", span(own.0, own.1))
        }
    }));
    lines.join("\n")
}

fn opening(part: &Part<'_>, context: &Context<'_>) -> String {
    let Dates { opens, first, .. } = part.dates;
    match part.step.state {
        State::Ahead => format!(
            "Opens {}. Warmth may move it.",
            about(&opens, context.today)
        ),
        _ => format!("Open since {}.", day_short(first)),
    }
}

fn closing(part: &Part<'_>, context: &Context<'_>) -> String {
    let last = part.dates.last;
    if part.step.state == State::Late {
        return format!("It closed on {}.", day_short(last));
    }
    let closes = match part.dates.closes {
        Some(closes) if part.step.closes_on != Some(last) => {
            format!("Closes {}.", about(&closes, context.today))
        }
        _ => format!("Closes on {}.", day_short(last)),
    };
    let from = part.dates.first.max(context.today);
    match context.workdays.last_within(from, last) {
        Some(day) if day < last => {
            let day = day_short(day);
            format!("{closes} The last working day in it is {day}.")
        }
        Some(_) => closes,
        None => format!("{closes} No working day is left in it."),
    }
}

/// A line for each batch.
fn batches(parts: &[Part<'_>], tail: impl Fn(&Part<'_>) -> String) -> String {
    let mut parts: Vec<&Part<'_>> = parts.iter().collect();
    parts.sort_by(|a, b| a.care.batch.name.cmp(&b.care.batch.name));
    let some = parts.iter().take(NAMED);
    let mut lines: Vec<String> = some
        .map(|part| {
            let batch = &part.care.batch;
            format!("{} {}{}", batch.name, batch.scion, tail(part))
        })
        .collect();
    if parts.len() > NAMED {
        lines.push(format!("and {} more", parts.len() - NAMED));
    }
    lines.join("\n")
}
