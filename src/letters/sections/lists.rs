//! Lists of what is to be done, by step or in the order in which one walks.

use super::in_heat;
use crate::care::{Advice, BatchCare, State, StepCare};
use crate::letters::letter::{Context, List};
use crate::letters::places::{act_before, until};
use crate::letters::words::{about, capital, count_of, crew_time, day_near, names};
use crate::notices::{Coming, Errand, Notice};
use crate::nursery::Step;
use chrono::NaiveDate;
use indexmap::IndexMap;
use std::collections::{HashMap, HashSet};

/// A phone is not read further than so many lines of one list; the rest is counted.
const LONGEST: usize = 25;

/// What a step or limit is called; the id itself of a limit that the plan does not have.
pub(super) fn title_of<'s>(care: &'s BatchCare<'_>, id: &'s str) -> &'s str {
    let step = care.plan.step(id).map(|step| step.title.as_str());
    let limit = care.plan.limit.as_ref().filter(|limit| limit.id == id);
    step.or(limit.map(|l| l.title.as_str())).unwrap_or(id)
}

/// What is to be done of a step, with a look first where it needs one; what a limit is called.
fn task_of(care: &BatchCare<'_>, id: &str) -> String {
    care.step(id).map_or_else(
        || title_of(care, id).to_owned(),
        |step| care.task_in_full(step),
    )
}

/// "block C", "block C at home".
fn place_of(care: &BatchCare<'_>, context: &Context<'_>) -> String {
    if context.grounds.len() > 1 {
        format!("block {} at {}", care.batch.block, care.batch.site)
    } else {
        format!("block {}", care.batch.block)
    }
}

/// "head back, block C: C-14, C-15, by Tue 18 Aug": one line for what belongs together.
pub(super) fn errands(errands: &[Errand], word: &str, context: &Context<'_>) -> Vec<String> {
    let mut lines = Lines::new();
    for errand in errands {
        let Some(care) = context.named.get(&errand.batch) else {
            continue;
        };
        let task = task_of(care, &errand.step);
        let head = format!("{task}, {}", place_of(care, context));
        let tail = format!("{word} {}", day_said(errand.on, context.today));
        lines.entry((head, tail)).or_default().push(&errand.batch);
    }
    written(lines, ", ")
}

/// "head back, block C: C-14, C-15, about Thu 20 Aug (Tue 18 - Sun 23)".
pub(super) fn coming(coming: &[Coming], context: &Context<'_>) -> Vec<String> {
    let mut lines = Lines::new();
    for one in coming {
        let Some(care) = context.named.get(&one.batch) else {
            continue;
        };
        let head = format!("{}, {}", task_of(care, &one.step), place_of(care, context));
        let tail = about(&one.foreseen, context.today);
        lines.entry((head, tail)).or_default().push(&one.batch);
    }
    written(lines, ", ")
}

/// One date a batch: of the windows that may run out and the limit that may be reached those that come first.
pub(super) fn one_date(closing: &[Coming], limits: &[Coming]) -> (Vec<Coming>, Vec<Coming>) {
    let mut first: HashMap<&str, NaiveDate> = HashMap::new();
    for one in closing.iter().chain(limits) {
        if let Some(day) = careful(one) {
            let first = first.entry(&one.batch).or_insert(day);
            *first = day.min(*first);
        }
    }
    let is_first = |one: &&Coming| careful(one) == first.get(one.batch.as_str()).copied();
    let closing: Vec<Coming> = closing.iter().filter(is_first).cloned().collect();
    let told: HashSet<&str> = closing.iter().map(|one| one.batch.as_str()).collect();
    let untold = |one: &&Coming| !told.contains(one.batch.as_str());
    let limits = limits.iter().filter(is_first).filter(untold);
    let limits = limits.cloned().collect();
    (closing, limits)
}

/// The day to act before: the early tenth of those that are foreseen.
fn careful(coming: &Coming) -> Option<NaiveDate> {
    coming.foreseen.band.p10
}

/// "head back, block C: C-14, C-15, by about Thu 20 Aug": what ends, each with one day.
pub(super) fn ending(ending: &[Coming], context: &Context<'_>) -> Vec<String> {
    let mut lines = Lines::new();
    for one in ending {
        let (Some(care), Some(day)) = (context.named.get(&one.batch), careful(one)) else {
            continue;
        };
        let head = format!("{}, {}", task_of(care, &one.step), place_of(care, context));
        let (day, sure) = (day.max(context.today), one.foreseen.band.p90 == Some(day));
        let about = if sure || day == context.today {
            ""
        } else {
            "about "
        };
        let tail = format!("by {about}{}", day_said(day, context.today));
        lines.entry((head, tail)).or_default().push(&one.batch);
    }
    written(lines, ", ")
}

/// "head back, block C: C-14, C-15 (310 grafts)", of notices of batches.
pub(super) fn told(notices: &[&Notice], context: &Context<'_>) -> Vec<String> {
    let mut told: IndexMap<String, (u32, Vec<&str>)> = IndexMap::new();
    for notice in notices {
        let (Some(id), Some(care)) = (
            notice.step.as_deref(),
            notice
                .about
                .batch()
                .and_then(|name| context.named.get(name)),
        ) else {
            continue;
        };
        let head = format!("{}, {}", task_of(care, id), place_of(care, context));
        let grafts = care
            .step(id)
            .map_or(0, |s| s.progress.of.saturating_sub(s.progress.done));
        let (sum, batches) = told.entry(head).or_default();
        *sum = sum.saturating_add(grafts);
        batches.push(notice.about.subject());
    }
    let line = |(head, (grafts, batches))| {
        let tail = format!("({})", count_of(grafts, "graft"));
        ((head, tail), batches)
    };
    written(told.into_iter().map(line).collect(), " ")
}

/// What stands before the names of batches on a line and what after them, with the names, in the order in which they came.
type Lines<'a> = IndexMap<(String, String), Vec<&'a str>>;

fn written(lines: Lines<'_>, between: &str) -> Vec<String> {
    let more = lines.len().saturating_sub(LONGEST);
    let mut written: Vec<String> = lines
        .into_iter()
        .take(LONGEST)
        .map(|((head, tail), batches)| format!("{head}: {}{between}{tail}", names(&batches)))
        .collect();
    if more > 0 {
        written.push(format!("and {more} more: graftwarden due shows all"));
    }
    written
}

/// Everything that is due, block by block, with grafts, crew time and the last day in time.
pub(super) fn walk(errands: &[Errand], context: &Context<'_>) -> Vec<List> {
    let mut lists: Vec<List> = Vec::new();
    let mut written = 0;
    for (at, errand) in errands.iter().enumerate() {
        let Some(care) = context.named.get(&errand.batch) else {
            continue;
        };
        let place = place_of(care, context);
        let title = format!("{}:", capital(&place));
        if lists.last().is_none_or(|list| list.title != title) {
            let lines = Vec::new();
            lists.push(List { title, lines });
        }
        let line = if !is_of_one_look(care, errand) {
            let same_walk = follows_a_look(care, errand, &errands[..at]);
            errand_line(care, errand, same_walk, context)
        } else if is_first_of_one_look(care, errands, at) {
            one_look_line(care, &errands[at..], context)
        } else {
            continue;
        };
        written += 1;
        if written <= LONGEST
            && let Some(list) = lists.last_mut()
        {
            list.lines.push(line);
        }
    }
    lists.retain(|list| !list.lines.is_empty());
    if written > LONGEST
        && let Some(list) = lists.last_mut()
    {
        let more = written - LONGEST;
        list.lines
            .push(format!("and {more} more: graftwarden due shows all"));
    }
    lists
}

/// Whether an errand is one of several between which one look decides: on the same grafts they are one thing to do.
fn is_of_one_look(care: &BatchCare<'_>, errand: &Errand) -> bool {
    care.one_look().iter().any(|s| s.step.id == errand.step)
}

/// Whether an errand is the first of them: the errands of a batch stand together.
fn is_first_of_one_look(care: &BatchCare<'_>, errands: &[Errand], at: usize) -> bool {
    let before = errands[..at].iter().rev();
    let mut before = before.take_while(|e| e.batch == care.batch.name);
    !before.any(|e| is_of_one_look(care, e))
}

/// How many things there are to do.
pub(super) fn things(errands: &[Errand], context: &Context<'_>) -> u32 {
    let counts = |(at, errand): (usize, &Errand)| {
        let care = context.named.get(&errand.batch);
        care.is_none_or(|care| {
            !is_of_one_look(care, errand) || is_first_of_one_look(care, errands, at)
        })
    };
    errands
        .iter()
        .enumerate()
        .filter(|&one| counts(one))
        .count() as u32
}

/// "C-14 look first, then as it shows: head back, tape off and tie in or re-graft, 100 grafts, 4.2 h, by Tue 18 Aug".
/// Of errands that begin with the first of them.
fn one_look_line(care: &BatchCare<'_>, errands: &[Errand], context: &Context<'_>) -> String {
    let of_batch = errands.iter().take_while(|e| e.batch == care.batch.name);
    let theirs = of_batch.filter(|e| is_of_one_look(care, e));
    let minutes: f64 = theirs.clone().filter_map(|e| work_of(care, e).1).sum();
    let time = match minutes {
        0.0 => String::new(),
        minutes => format!(", {}", crew_time(minutes)),
    };
    let steps = theirs.filter_map(|e| care.step(&e.step));
    let first = steps.min_by_key(|step| {
        let day = act_before(care, step, context);
        (day.is_none(), day)
    });
    let titles: Vec<&str> = care.after_a_look().map(|s| s.step.title.as_str()).collect();
    let titles = match titles.as_slice() {
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
        [] => String::new(),
    };
    format!(
        "{} look first, then as it shows: {titles}, {}{time}{}",
        care.batch.name,
        count_of(care.facts.alive(), "graft"),
        by(care, first, context)
    )
}

/// ", by Tue 18 Aug", ", by about Tue 18 Aug", ", by today, Tue 18 Aug", ", late since Tue 18 Aug"; empty where it has no end.
fn by(care: &BatchCare<'_>, step: Option<&StepCare<'_>>, context: &Context<'_>) -> String {
    let Some(step) = step.filter(|step| step.state != State::Ahead) else {
        return String::new();
    };
    let late = step.closes_on.filter(|_| step.state == State::Late);
    if let Some(day) = late {
        return format!(", late since {}", day_near(day, context.today));
    }
    if act_before(care, step, context) == Some(context.today) {
        return format!(", by {}", day_said(context.today, context.today));
    }
    match until(care, step, context) {
        said if said.is_empty() => said,
        said => format!(", {said}"),
    }
}

/// "Tue 18 Aug", "today, Tue 18 Aug": a letter may be read on another day.
fn day_said(day: NaiveDate, today: NaiveDate) -> String {
    let near = day_near(day, today);
    if day == today {
        format!("today, {near}")
    } else {
        near
    }
}

/// Whether an errand before it is the look that shows where this work is to be done: a crew does both in one walk.
fn follows_a_look(care: &BatchCare<'_>, errand: &Errand, before: &[Errand]) -> bool {
    let Some(step) = care.step(&errand.step) else {
        return false;
    };
    let same = before.iter().rev();
    let mut same = same.take_while(|e| e.batch == errand.batch);
    let shows = |e: &Errand| {
        let look = care.plan.step(&e.step);
        look.is_some_and(|look| {
            look.brings
                .iter()
                .any(|w| step.step.opens.at_once.contains(w))
        })
    };
    care.unseen(step, &care.facts).is_some() && same.any(shows)
}

/// "C-14 head back, 310 grafts, 3.9 h, by Tue 18 Aug", "C-14 then head back, the same grafts, 3.9 h" where it is done in
/// one walk with what stands before it.
fn errand_line(
    care: &BatchCare<'_>,
    errand: &Errand,
    same_walk: bool,
    context: &Context<'_>,
) -> String {
    let (left, minutes) = work_of(care, errand);
    let time = minutes.map_or_else(String::new, |m| format!(", {}", crew_time(m)));
    let step = care.step(&errand.step);
    let until = by(care, step, context);
    let heat = step.and_then(|step| in_heat::of_step(care, step, context));
    let until = match heat.map(|heat| heat.advice) {
        Some(Advice::After(day)) => {
            format!(
                "{until}, not in the heat: from {} on",
                day_near(day, context.today)
            )
        }
        Some(Advice::Ease(day)) => {
            format!(
                "{until}, in the heat only eased: off from {} on",
                day_near(day, context.today)
            )
        }
        Some(Advice::NotPutOff | Advice::EarlyInTheDay) => {
            format!("{until}, early in the morning for the heat")
        }
        None => until,
    };
    let (batch, title) = (&errand.batch, title_of(care, &errand.step));
    if same_walk {
        return format!("{batch} then {title}, the same grafts{time}{until}");
    }
    if step.is_some_and(|step| !care.knows_how_many(step)) {
        return format!("{batch} {title} where dead{until}");
    }
    let title = match step {
        // Before its window: an early look that was asked for.
        Some(step) if step.state == State::Ahead => format!("{title}, early"),
        Some(step) => care.task(step),
        None => title.to_owned(),
    };
    let grafts = count_of(left, "graft");
    format!("{batch} {title}, {grafts}{time}{until}")
}

/// What is left of a step, and the crew minutes it takes.
fn work_of(care: &BatchCare<'_>, errand: &Errand) -> (u32, Option<f64>) {
    let progress = care.step(&errand.step).map(|s| s.progress);
    let left = progress.map_or(0, |p| p.of.saturating_sub(p.done));
    let step: Option<&Step> = care.plan.step(&errand.step);
    // How many will have to be made anew is known only once they are dead.
    let is_known = care
        .step(&errand.step)
        .is_some_and(|s| care.knows_how_many(s));
    let minutes = step.filter(|_| is_known).and_then(|s| s.minutes_per_100);
    (left, minutes.map(|m| m * f64::from(left) / 100.0))
}

/// ", about 9 crew hours"; empty where no step says how long it takes.
pub(super) fn hours_of(errands: &[Errand], context: &Context<'_>) -> String {
    let minutes = errands.iter().filter_map(|errand| {
        let care = context.named.get(&errand.batch)?;
        work_of(care, errand).1
    });
    match minutes.sum::<f64>() {
        0.0 => String::new(),
        sum => format!(", about {} of crew time", crew_time(sum)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::Foreseen;
    use crate::outlook::Band;

    /// "A 5": batch A, by the early tenth on 5 August; "A -" without one.
    fn coming(text: &str) -> Vec<Coming> {
        let one = |text: &str| {
            let (batch, day) = text.split_once(' ').unwrap();
            let date = |n| NaiveDate::from_ymd_opt(2026, 8, n);
            let p10 = day.parse().ok().and_then(date);
            let band = Band {
                p10,
                p50: None,
                p90: None,
            };
            Coming {
                batch: batch.into(),
                step: String::new(),
                grafted_on: date(1).unwrap(),
                foreseen: Foreseen { band, rough: false },
            }
        };
        text.split(", ")
            .filter(|one| !one.is_empty())
            .map(one)
            .collect()
    }

    #[track_caller]
    fn check(closing: &str, limits: &str, expected: (&str, &str)) {
        let found = one_date(&coming(closing), &coming(limits));
        assert_eq!(found, (coming(expected.0), coming(expected.1)));
    }

    #[test]
    fn of_windows_and_limit_of_a_batch_those_that_come_first_are_told() {
        check("A 5", "A 3", ("", "A 3"));
        check("A 3", "A 5", ("A 3", ""));
        check("A 3", "A 3", ("A 3", ""));
        check("A 5, A 3, A 3, A -", "", ("A 3, A 3", ""));
        check("A -", "A 9", ("", "A 9"));
        check("A -", "A -", ("A -", ""));
    }

    #[test]
    fn batches_do_not_stand_in_each_others_way() {
        check("A 5, B 2", "A 6, B 1, C 9", ("A 5", "B 1, C 9"));
    }
}
