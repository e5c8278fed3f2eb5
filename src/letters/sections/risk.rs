//! The risk of over-callusing, and the question after it.

use crate::letters::letter::{Context, Section, care_of};
use crate::letters::places::{places, places_named, rows, totals};
use crate::letters::words::{capital, count_of, day_short};
use crate::notices::Notice;
use chrono::NaiveDate;

pub(super) fn risk(notices: &[&Notice], context: &Context<'_>) -> Section {
    let places = places(notices, context);
    let soonest = notices.iter().map(|n| n.on).min().unwrap_or(context.today);
    let (risk, work, say) = limit_words(notices[0], context);
    let passed = soonest < context.today;
    let when = if passed {
        format!("since {}", day_short(soonest))
    } else {
        format!("by {}", day_short(soonest))
    };
    let lead = if passed {
        format!(
            "The warmth at which {risk} becomes a risk was reached on {}. Not all written down as done: {work}.",
            day_short(soonest)
        )
    } else {
        let in_hand = match (soonest - context.today).num_days() {
            0 => "today".into(),
            1 => "tomorrow".into(),
            days => format!("in {}", count_of(days as u32, "day")),
        };
        format!(
            "By the forecast the warmth at which {risk} becomes a risk is reached {in_hand}, {}.{}",
            day_short(soonest),
            last_to_act(soonest, context)
        )
    };
    Section {
        heading: format!("Risk of {risk} {when}"),
        subject: format!(
            "{}: risk of {risk} {when} ({})",
            places_named(&places),
            totals(&places)
        ),
        places: Vec::new(),
        paragraphs: vec![lead, say.to_owned()],
        rows: rows(notices, context),
        ..Section::default()
    }
}

/// What the limit is called, the work that ends the risk, and what to tell people.
fn limit_words<'a>(notice: &Notice, context: &Context<'a>) -> (&'a str, &'a str, &'a str) {
    let care = care_of(notice, context);
    let Some((care, limit)) = care.and_then(|care| Some((care, care.limit?.limit))) else {
        return ("trouble", "the work", "");
    };
    let work = care.plan.step(&limit.until);
    (
        &limit.title,
        work.map_or("the work", |step| &step.title),
        &limit.say,
    )
}

/// The last day on which somebody can act before `day`, from today on.
fn last_to_act(day: NaiveDate, context: &Context<'_>) -> String {
    let before = day.pred_opt().unwrap_or(day);
    match context.workdays.last_within(context.today, before) {
        _ if before < context.today => String::new(),
        Some(last) if last == context.today => " Today is the last working day before it.".into(),
        Some(last) => format!(" The last working day before it is {}.", day_short(last)),
        None => " No working day is left before it.".into(),
    }
}

pub(super) fn question(notices: &[&Notice], context: &Context<'_>) -> Section {
    let places = places(notices, context);
    let (risk, work, _) = limit_words(notices[0], context);
    let these = if notices.len() == 1 {
        "This batch is"
    } else {
        "These batches are"
    };
    Section {
        heading: format!("{}, done but not written down?", capital(work)),
        subject: format!(
            "{}: {work}, done but not written down? ({})",
            places_named(&places),
            totals(&places)
        ),
        paragraphs: vec![format!(
            "{these} past the warmth at which {risk} becomes a risk. If the work is done, write it down with its date; if not, look today."
        )],
        rows: rows(notices, context),
        ..Section::default()
    }
}
