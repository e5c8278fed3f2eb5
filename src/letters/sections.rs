//! One kind of news as a section of a letter: heading, places, paragraphs, list of batches.

use super::letter::{Context, Section, care_of, say, step_of};
use super::places::{places, places_named, row, rows, totals};
use super::words::{capital, count_of, day_short, list};
use crate::care::{By, Level};
use crate::notices::{Kind, Notice};
use crate::nursery::Step;
use crate::units::Celsius;
use chrono::NaiveDate;

/// The section of notices that belong together.
pub fn section(notices: &[&Notice], context: &Context<'_>) -> Section {
    match notices[0].kind {
        Kind::Opens => opens(notices, context),
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
    let again = notices.iter().any(|n| n.n > 1);
    let reminder = if again {
        " This is a weekly reminder; it stops when it is written down as done."
    } else {
        ""
    };
    Section {
        heading: format!("Late: {title}"),
        subject: format!(
            "{}: late to {title} ({})",
            places_named(&places),
            totals(&places)
        ),
        paragraphs: vec![format!(
            "The time for this has run out and it is not all written down. Done? Write it down with its date. Not done? It is still worth doing: look first.{reminder}"
        )],
        places,
        rows: rows(notices, context),
    }
}

fn no_longer_due(notices: &[&Notice], context: &Context<'_>) -> Section {
    let title = title(notices[0], context);
    let names: Vec<String> = notices
        .iter()
        .filter_map(|n| n.about.batch().map(str::to_owned))
        .collect();
    let next: Vec<String> = notices
        .iter()
        .filter_map(|n| step_of(n, context)?.opened.map(|o| day_short(o.on)))
        .collect();
    let when = next.first().map_or_else(String::new, |day| {
        format!(" By what is known now it will be about {day}.")
    });
    Section {
        heading: format!("No longer due: {title}"),
        subject: format!("No longer due: {title}, {}", list(&names)),
        paragraphs: vec![format!(
            "{}: a temperature, a record or the register was corrected since we wrote.{when}",
            list(&names)
        )],
        ..Section::default()
    }
}

fn risk(notices: &[&Notice], context: &Context<'_>) -> Section {
    let places = places(notices, context);
    let soonest = notices.iter().map(|n| n.on).min().unwrap_or(context.today);
    let say = notices
        .iter()
        .find_map(|n| care_of(n, context)?.limit.map(|l| l.limit.say.clone()));
    let passed = soonest < context.today;
    let when = if passed {
        format!("since {}", day_short(soonest))
    } else {
        format!("by {}", day_short(soonest))
    };
    let lead = if passed {
        format!(
            "The warmth at which a vigorous stock may over-callus was reached on {}, and no heading back is written down.",
            day_short(soonest)
        )
    } else {
        let hand = (soonest - context.today).num_days();
        let in_hand = if hand == 0 {
            "today".into()
        } else {
            format!("in {}", count_of(hand as u32, "day"))
        };
        format!(
            "By the forecast the warmth at which a vigorous stock may over-callus is reached {in_hand}, on {}.",
            day_short(soonest)
        )
    };
    Section {
        heading: format!("Risk of over-callusing {when}"),
        subject: format!(
            "{}: risk of over-callusing {when} ({})",
            places_named(&places),
            totals(&places)
        ),
        places: Vec::new(),
        paragraphs: std::iter::once(lead).chain(say).collect(),
        rows: rows(notices, context),
    }
}

fn question(notices: &[&Notice], context: &Context<'_>) -> Section {
    let names: Vec<String> = notices
        .iter()
        .filter_map(|n| n.about.batch().map(str::to_owned))
        .collect();
    Section {
        heading: "Done but not written down?".into(),
        subject: format!("{}: headed back but not written down?", list(&names)),
        paragraphs: vec![
            "These stand past the warmth at which over-callusing is a risk. If the stocks are headed back, write it down with its date; if not, look today.".into(),
        ],
        rows: rows(notices, context),
        ..Section::default()
    }
}

fn heat_spike(notice: &Notice, context: &Context<'_>) -> Section {
    let until = notice.until.unwrap_or(notice.on);
    let first: NaiveDate = notice.anchor.parse().unwrap_or(notice.on);
    let ground = context
        .grounds
        .iter()
        .find(|g| Some(g.site.id.as_str()) == notice.about.site());
    let days = ground
        .map(|g| {
            g.series
                .between(first, until)
                .map(|d| d.max)
                .collect::<Vec<_>>()
        })
        .unwrap_or_default();
    let hottest = days.iter().copied().fold(f64::MIN, f64::max);
    let span = if first == until {
        day_short(first)
    } else {
        format!("{} - {}", day_short(first), day_short(until))
    };
    let level = notice.level.map_or("hot", Level::name);
    let word = if level == "injury" {
        "Injuring heat"
    } else if level == "hot" {
        "Hot spell"
    } else {
        "Very hot spell"
    };
    let foretold = if until >= context.today {
        ", partly by forecast"
    } else {
        ""
    };
    let many = count_of(notice.batches.len() as u32, "batch");
    Section {
        heading: format!("{word} at {}, {span}", notice.about.subject()),
        subject: format!("{word} {span}: {many} at {}", notice.about.subject()),
        paragraphs: vec![
            format!("Up to {}{foretold}, while the unions of {} are callusing or in tape.", context.units.temperature(Celsius(hottest)), list(&notice.batches)),
            "Look at the strongest stocks first. Do not strip tape or bare trunks in this heat; water, and shade where you can.".into(),
        ],
        rows: notice.batches.iter().filter_map(|name| context.cares.iter().find(|c| c.batch.name == *name)).map(|care| row(care, None, context)).collect(),
        ..Section::default()
    }
}

fn no_temperatures(notice: &Notice) -> Section {
    let site = notice.about.subject();
    let since = notice.until.map_or_else(
        || "There are none at all so far.".into(),
        |last| format!("The last known day is {}.", day_short(last)),
    );
    Section {
        heading: format!("No temperatures from {site}"),
        subject: format!("No temperatures from {site}"),
        paragraphs: vec![format!(
            "{since} Without them warmth cannot be counted; windows still open by the calendar. Look at the instrument, its file, or the line to the weather service; `graftwarden check --online` tries each."
        )],
        ..Section::default()
    }
}

fn trouble(notices: &[&Notice]) -> Section {
    let first = &notices[0].say;
    let short = first.split(';').next().unwrap_or(first);
    let subject = match notices.len() {
        1 => format!("Trouble: {short}"),
        n => format!("Trouble with {n} things, first {short}"),
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
    let on = |by: By| {
        notices
            .iter()
            .filter(|n| n.by == Some(by))
            .map(|n| n.on)
            .min()
    };
    let warm = on(By::Heat).map(|day| match step.opens.week_below {
        Some(_) => format!("the cold week that ended on {}", day_short(day)),
        None => format!(
            "warmth: {} since grafting at the end of {}",
            warmth_words(notices),
            day_short(day)
        ),
    });
    let seen = on(By::Record).map(|day| format!("what was written down for {}", day_short(day)));
    let calendar = on(By::Calendar).map(|day| {
        let cold = if step.opens.max_days.is_some() {
            " (a cold spell)"
        } else {
            ""
        };
        format!("the calendar: {}{cold}", day_short(day))
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
