//! One kind of news as a section of a letter: heading, places, paragraphs, list of batches.

use super::letter::{Context, Section, care_of, say, step_of};
use super::places::{places, places_named, row, rows, totals};
use super::words::{capital, count_of, day_short, list, span};
use crate::care::{By, Level};
use crate::notices::{Kind, Notice};
use crate::nursery::{Anchor, Step};
use crate::units::Celsius;
use chrono::NaiveDate;

/// The section of notices that belong together.
pub fn section(notices: &[&Notice], context: &Context<'_>) -> Section {
    match notices[0].kind {
        Kind::Opens => opens(notices, context),
        Kind::Late if notices[0].n > 1 => late_again(notices, context),
        Kind::Late => late(notices, context),
        Kind::NoLongerDue => no_longer_due(notices, context),
        Kind::OverCallusRisk if notices[0].urgent => risk(notices, context),
        Kind::OverCallusRisk => question(notices, context),
        Kind::HeatSpike => heat_spike(notices[0], context),
        Kind::NoTemperatures => no_temperatures(notices[0]),
        Kind::Trouble => trouble(notices),
    }
}

fn opens(notices: &[&Notice], context: &Context<'_>) -> Section {
    let title = title(notices[0], context);
    let places = places(notices, context);
    let mut paragraphs = vec![say(notices[0], context).to_owned()];
    paragraphs.extend(why_opened(notices, context));
    Section {
        heading: format!("{} now", capital(title)),
        subject: format!(
            "{}: {title} now ({})",
            places_named(&places),
            totals(&places)
        ),
        places,
        paragraphs,
        rows: rows(notices, context),
    }
}

fn late(notices: &[&Notice], context: &Context<'_>) -> Section {
    let title = title(notices[0], context);
    let places = places(notices, context);
    Section {
        heading: format!("Late: {title}"),
        subject: format!(
            "{}: late to {title} ({})",
            places_named(&places),
            totals(&places)
        ),
        paragraphs: vec![
            "The time for this has run out and it is not all written down. Done? Write it down with its date. Not done? It is still worth doing: look first.".into(),
            say(notices[0], context).to_owned(),
        ],
        places,
        rows: rows(notices, context),
    }
}

/// The weekly reminder: a line for each batch with all that is not written down of it.
fn late_again(notices: &[&Notice], context: &Context<'_>) -> Section {
    let mut first: Vec<&Notice> = Vec::new();
    for notice in notices {
        if !first.iter().any(|n| n.about == notice.about) {
            first.push(notice);
        }
    }
    let line = |batch: &&Notice| {
        let theirs = notices.iter().filter(|n| n.about == batch.about);
        let titles: Vec<String> = theirs.map(|n| title(n, context).to_owned()).collect();
        format!("{}: {}.", batch.about.subject(), list(&titles))
    };
    let places = places(&first, context);
    let lead = "Of these nothing more has been written down since we wrote that they are late. Done? Write it down with its date. Not done? Look first what is still worth doing. A batch that is finished is closed: write down closed. This comes weekly until then.";
    Section {
        heading: "Still not written down".into(),
        subject: format!(
            "{}: still not written down ({})",
            places_named(&places),
            totals(&places)
        ),
        paragraphs: std::iter::once(lead.to_owned())
            .chain(first.iter().map(line))
            .collect(),
        places,
        ..Section::default()
    }
}

fn no_longer_due(notices: &[&Notice], context: &Context<'_>) -> Section {
    let title = title(notices[0], context);
    let places = places(notices, context);
    let next = notices
        .iter()
        .filter_map(|n| step_of(n, context)?.opened)
        .map(|o| o.on)
        .min();
    let when = next.map_or_else(String::new, |day| {
        format!(
            " By what is known now it comes about {}.",
            day_short(day.max(context.today))
        )
    });
    Section {
        heading: format!("No longer due: {title}"),
        subject: format!(
            "No longer due, {}: {title} ({})",
            places_named(&places),
            totals(&places)
        ),
        paragraphs: vec![format!(
            "{}: what we wrote does not hold any more, because a temperature, a record or the register has changed since.{when}",
            list(&batches(notices))
        )],
        ..Section::default()
    }
}

/// The names of the batches, in order.
fn batches(notices: &[&Notice]) -> Vec<String> {
    let names = notices.iter().filter_map(|n| n.about.batch());
    let mut names: Vec<String> = names.map(str::to_owned).collect();
    names.sort();
    names
}

fn risk(notices: &[&Notice], context: &Context<'_>) -> Section {
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

fn question(notices: &[&Notice], context: &Context<'_>) -> Section {
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

fn heat_spike(notice: &Notice, context: &Context<'_>) -> Section {
    let until = notice.until.unwrap_or(notice.on);
    let first: NaiveDate = notice.anchor.parse().unwrap_or(notice.on);
    let site = notice.about.subject();
    let ground = context.grounds.iter().find(|g| g.site.id == site);
    let hottest = ground
        .iter()
        .flat_map(|g| g.series.between(first, until))
        .map(|d| d.max)
        .fold(f64::MIN, f64::max);
    let word = match notice.level {
        Some(Level::Injury) => "Dangerous heat",
        Some(Level::VeryHot) => "Very hot spell",
        Some(Level::Hot) | None => "Hot spell",
    };
    let (over, foreseen) = (until < context.today, first >= context.today);
    let (when, are) = match (over, foreseen) {
        (true, _) => ("It was up to", "were"),
        (false, true) => ("By the forecast up to", "are"),
        (false, false) => ("Partly by the forecast up to", "are"),
    };
    let danger = if notice.level == Some(Level::Injury) {
        " A single day of this may injure them."
    } else {
        ""
    };
    let advice = if over {
        "Look at them soon, the strongest stocks first: callus may have run on or been hurt."
    } else {
        "Look at the strongest stocks first. Take off no tape and bare no trunks in this heat; water, and shade where you can."
    };
    let span = span(first, until);
    let many = count_of(notice.batches.len() as u32, "batch");
    let care = |name: &String| context.cares.iter().find(|c| c.batch.name == *name);
    Section {
        heading: format!("{word} at {site}, {span}"),
        subject: format!("{word} {span}: {many} at {site}"),
        paragraphs: vec![
            format!(
                "{when} {}, while the unions of {} {are} callusing or in tape.{danger}",
                context.units.temperature(Celsius(hottest)),
                list(&notice.batches)
            ),
            advice.into(),
        ],
        rows: notice
            .batches
            .iter()
            .filter_map(care)
            .map(|care| row(care, None, context))
            .collect(),
        ..Section::default()
    }
}

fn no_temperatures(notice: &Notice) -> Section {
    let site = notice.about.subject();
    let since = notice.until.map_or_else(
        || "None have come so far.".into(),
        |last| format!("None are known after {}.", day_short(last)),
    );
    Section {
        heading: format!("No temperatures from {site}"),
        subject: format!("No temperatures from {site}"),
        paragraphs: vec![format!(
            "{since} Until they come, warmth is not counted, and windows open only by records and by the calendar. Look at the instrument, its file, or the line to the weather service; `graftwarden check --online` tries each."
        )],
        ..Section::default()
    }
}

fn trouble(notices: &[&Notice]) -> Section {
    let first = &notices[0].say;
    let short = first.split(';').next().unwrap_or(first);
    let subject = match notices.len() {
        1 => format!("Trouble: {short}"),
        n => format!("Trouble: {short}, and {} more", n - 1),
    };
    Section {
        heading: "Trouble".into(),
        subject,
        paragraphs: notices.iter().map(|n| n.say.clone()).collect(),
        ..Section::default()
    }
}

fn title<'a>(notice: &'a Notice, context: &Context<'a>) -> &'a str {
    let known = step_of(notice, context).map(|s| s.step.title.as_str());
    known.unwrap_or_else(|| notice.step.as_deref().unwrap_or_default())
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
    let seen = days(By::Record).map(|days| format!("the record of {days}"));
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
