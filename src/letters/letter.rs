//! One person's letter: notices bundled by what must be done, then by where.
//!
//! The parts are data, so that every way of writing a letter says the same. The most pressing part comes first and
//! gives the subject.

use super::cautions;
use super::words::{capital, count_of, day_short, list};
use crate::care::{BatchCare, By, ESTIMATED_ABOVE, Ground, StepCare};
use crate::notices::{Kind, Notice};
use crate::nursery::{Person, Step};
use crate::units::{Celsius, Units};
use chrono::NaiveDate;

/// What a letter needs to know beside its notices.
#[derive(Clone, Copy, Debug)]
pub struct Context<'a> {
    /// The nursery's name.
    pub nursery: &'a str,
    /// The nursery's local date.
    pub today: NaiveDate,
    /// The measures people read.
    pub units: Units,
    /// Every site.
    pub grounds: &'a [Ground<'a>],
    /// Every batch.
    pub cares: &'a [BatchCare<'a>],
    /// Source name and the credit it asks for.
    pub credits: &'a [(String, String)],
}

/// A letter before it is written out.
#[derive(Clone, Debug, PartialEq)]
pub struct Letter {
    /// The most pressing thing.
    pub subject: String,
    /// In order of urgency.
    pub sections: Vec<Section>,
    /// Cautions, once each.
    pub cautions: Vec<String>,
    /// How to answer.
    pub answer: Option<String>,
    /// Where the temperatures came from and how heat was reckoned.
    pub small_print: Vec<String>,
}

/// One thing to do or to know.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Section {
    /// What: "Head back now".
    pub heading: String,
    /// Where, how many, by when.
    pub places: Vec<Place>,
    /// How, why, and the rest.
    pub paragraphs: Vec<Paragraph>,
    /// The batches.
    pub rows: Vec<Row>,
    /// The subject line, should this be the first section.
    pub subject: String,
}

/// A paragraph of a section.
pub type Paragraph = String;

/// A block with something to do in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The block, with its site where there are several.
    pub name: String,
    /// How many batches.
    pub batches: u32,
    /// How many grafts are left to do.
    pub grafts: u32,
    /// The earliest close among them.
    pub by: Option<NaiveDate>,
}

/// A line of the list of batches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// The batch.
    pub batch: String,
    /// What was grafted.
    pub scion: String,
    /// Grafts, or "180 of 310".
    pub grafts: String,
    /// Standard days so far.
    pub warmth: String,
    /// Until when.
    pub by: String,
}

/// The notices of a round that this person is told: the kinds they take, of their sites and blocks.
pub fn addressed<'n>(
    person: &Person,
    notices: &'n [Notice],
    cares: &[BatchCare<'_>],
) -> Vec<&'n Notice> {
    let within = |chosen: &[String], name: &str| {
        chosen.is_empty() || chosen.iter().any(|c| c.eq_ignore_ascii_case(name))
    };
    let theirs = |notice: &&Notice| {
        let of_block = |name: &String| {
            cares
                .iter()
                .any(|c| c.batch.name == *name && within(&person.blocks, &c.batch.block))
        };
        person.gets.contains(&notice.wanted_by())
            && notice
                .about
                .site()
                .is_none_or(|site| within(&person.sites, site))
            && notice
                .about
                .block()
                .is_none_or(|block| within(&person.blocks, block))
            && (notice.batches.is_empty() || notice.batches.iter().any(of_block))
    };
    notices.iter().filter(theirs).collect()
}

/// Bundles notices into a letter; none where there is nothing to tell.
pub fn compose(notices: &[&Notice], context: &Context<'_>) -> Option<Letter> {
    let mut sections = Vec::new();
    let mut waiting: Vec<&Notice> = notices.to_vec();
    while let Some(&first) = waiting.first() {
        let bundle = bundle_of(first, context);
        let (together, rest): (Vec<&Notice>, Vec<&Notice>) = waiting
            .into_iter()
            .partition(|n| bundle_of(n, context) == bundle);
        sections.push(section(&together, context));
        waiting = rest;
    }
    let first = sections.first()?;
    let subject = match sections.len() - 1 {
        0 => first.subject.clone(),
        more => format!("{}, and {more} more", first.subject),
    };
    let small_print = small_print(notices, context);
    let answer = answer(notices, context);
    Some(Letter {
        subject,
        cautions: cautions_for(notices, context),
        answer,
        small_print,
        sections,
    })
}

/// What makes notices one section: the kind, the step, and which instructions it needs.
fn bundle_of<'a>(notice: &'a Notice, context: &Context<'a>) -> (Kind, bool, &'a str, &'a str) {
    let step = notice.step.as_deref().unwrap_or_default();
    match notice.kind {
        Kind::Opens => (notice.kind, notice.urgent, step, say(notice, context)),
        Kind::HeatSpike | Kind::NoTemperatures => (
            notice.kind,
            notice.urgent,
            notice.about.subject(),
            notice.anchor.as_str(),
        ),
        _ => (notice.kind, notice.urgent, step, ""),
    }
}

fn section(notices: &[&Notice], context: &Context<'_>) -> Section {
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

fn care_of<'a>(notice: &Notice, context: &Context<'a>) -> Option<&'a BatchCare<'a>> {
    let name = notice.about.batch()?;
    context.cares.iter().find(|care| care.batch.name == name)
}

fn step_of<'a>(notice: &Notice, context: &Context<'a>) -> Option<&'a StepCare<'a>> {
    let id = notice.step.as_deref()?;
    care_of(notice, context)?
        .steps
        .iter()
        .find(|s| s.step.id == id)
}

/// The instructions that fit how the window opened.
fn say<'a>(notice: &Notice, context: &Context<'a>) -> &'a str {
    let Some(step) = step_of(notice, context).map(|s| s.step) else {
        return "";
    };
    let other = match notice.by {
        Some(By::Heat) if !step.opens.at_once.is_empty() => &step.say_unseen,
        Some(By::Calendar) => &step.say_calendar,
        _ => &None,
    };
    other.as_deref().unwrap_or(&step.say)
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
        " This is a weekly reminder; it stops when something is written down."
    } else {
        ""
    };
    Section {
        heading: format!("Late: {title}"),
        subject: format!(
            "Late: {title}, {} ({})",
            places_named(&places).to_lowercase_first(),
            totals(&places)
        ),
        paragraphs: vec![format!(
            "The time for this has run out and nothing is written down. Done? Write it down with its date. Not done? It is still worth doing: look first.{reminder}"
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
    let level = notice.level.map_or("hot", crate::care::Level::name);
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

fn places(notices: &[&Notice], context: &Context<'_>) -> Vec<Place> {
    let several = context.grounds.len() > 1;
    let mut places: Vec<Place> = Vec::new();
    for notice in notices {
        let Some(care) = care_of(notice, context) else {
            continue;
        };
        let batch = &care.batch;
        let name = if several {
            format!("{} at {}", batch.block, batch.site)
        } else {
            batch.block.clone()
        };
        let left = left(care, step_of(notice, context));
        let by = step_of(notice, context).and_then(|s| s.closes_on);
        match places.iter_mut().find(|p| p.name == name) {
            Some(place) => {
                place.batches += 1;
                place.grafts += left;
                place.by = [place.by, by].into_iter().flatten().min();
            }
            None => places.push(Place {
                name,
                batches: 1,
                grafts: left,
                by,
            }),
        }
    }
    places.sort_by(|a, b| a.name.cmp(&b.name));
    places
}

fn left(care: &BatchCare<'_>, step: Option<&StepCare<'_>>) -> u32 {
    step.map_or_else(
        || care.facts.alive(),
        |s| s.progress.of.saturating_sub(s.progress.done),
    )
}

/// "Block C", "Blocks A and C".
fn places_named(places: &[Place]) -> String {
    let names: Vec<String> = places.iter().map(|p| p.name.clone()).collect();
    format!(
        "{} {}",
        if names.len() == 1 { "Block" } else { "Blocks" },
        list(&names)
    )
}

/// "2 batches, 310 grafts".
fn totals(places: &[Place]) -> String {
    let batches = places.iter().map(|p| p.batches).sum();
    let grafts = places.iter().map(|p| p.grafts).sum();
    format!(
        "{}, {}",
        count_of(batches, "batch"),
        count_of(grafts, "graft")
    )
}

fn rows(notices: &[&Notice], context: &Context<'_>) -> Vec<Row> {
    let mut rows: Vec<(String, Row)> = notices
        .iter()
        .filter_map(|notice| {
            let care = care_of(notice, context)?;
            let mut row = row(care, step_of(notice, context), context);
            if notice.kind == Kind::OverCallusRisk {
                row.by = day_short(notice.on);
            }
            Some((format!("{} {}", care.batch.site, care.batch.block), row))
        })
        .collect();
    rows.sort_by(|a, b| (&a.0, &a.1.batch).cmp(&(&b.0, &b.1.batch)));
    rows.into_iter().map(|(_, row)| row).collect()
}

fn row(care: &BatchCare<'_>, step: Option<&StepCare<'_>>, context: &Context<'_>) -> Row {
    let grafts = match step.map(|s| s.progress) {
        Some(p) if p.done > 0 => format!("{} of {}", p.of.saturating_sub(p.done), p.of),
        _ => care.facts.alive().to_string(),
    };
    let heat = care.warmth.at_least(care.known_to());
    let mark = if care.heat().is_none() {
        "at least "
    } else if care.filled_share > ESTIMATED_ABOVE {
        "about "
    } else {
        ""
    };
    Row {
        batch: care.batch.name.clone(),
        scion: care.batch.scion.clone(),
        grafts,
        warmth: format!(
            "{mark}{:.1} days, {}",
            care.standard_days().0,
            context.units.heat(heat)
        ),
        by: step
            .and_then(|s| s.closes_on)
            .map_or_else(String::new, day_short),
    }
}

fn cautions_for(notices: &[&Notice], context: &Context<'_>) -> Vec<String> {
    let cuts = |n: &&&Notice| {
        let step = step_of(n, context).is_some_and(|s| s.step.caution.is_some());
        matches!(n.kind, Kind::OverCallusRisk)
            || (step && matches!(n.kind, Kind::Opens | Kind::Late))
    };
    let hottest = notices.iter().filter_map(|n| n.level).max();
    let cutting = notices
        .iter()
        .find(cuts)
        .map(|_| cautions::CUTTING.to_owned());
    let heat = hottest.map(|level| {
        cautions::heat(if level > crate::care::Level::Hot {
            35.0
        } else {
            32.0
        })
        .to_owned()
    });
    cutting.into_iter().chain(heat).collect()
}

/// How to write down what was done, by the first step that can be answered.
fn answer(notices: &[&Notice], context: &Context<'_>) -> Option<String> {
    let notice = notices
        .iter()
        .find(|n| matches!(n.kind, Kind::Opens | Kind::Late | Kind::OverCallusRisk))?;
    let batch = notice.about.batch()?;
    let care = care_of(notice, context)?;
    let id = care
        .limit
        .filter(|_| notice.kind == Kind::OverCallusRisk)
        .map_or(notice.step.as_deref()?, |l| l.limit.until.as_str());
    let word = care.step(id)?.step.brings.first()?.name();
    Some(format!(
        "Done? Write it in the field records, or: graftwarden note {batch} {word}"
    ))
}

fn small_print(notices: &[&Notice], context: &Context<'_>) -> Vec<String> {
    let touched = |care: &&BatchCare<'_>| {
        notices.iter().any(|n| {
            n.about.batch() == Some(care.batch.name.as_str())
                || n.batches.contains(&care.batch.name)
        })
    };
    let cares: Vec<&BatchCare<'_>> = context.cares.iter().filter(touched).collect();
    let mut lines = Vec::new();
    for ground in context
        .grounds
        .iter()
        .filter(|g| cares.iter().any(|c| c.batch.site == g.site.id))
    {
        let begun = cares
            .iter()
            .filter(|c| c.batch.site == ground.site.id)
            .map(|c| c.batch.grafted_on)
            .min();
        lines.extend(begun.map(|begun| temperatures_of(ground, begun, context)));
    }
    let mut plans: Vec<&str> = Vec::new();
    for care in &cares {
        if !plans.contains(&care.plan.name.as_str()) {
            plans.push(&care.plan.name);
            lines.push(reckoned(care, context));
        }
    }
    lines
}

/// Where a site's temperatures since `begun` came from, and how many were put in.
fn temperatures_of(ground: &Ground<'_>, begun: NaiveDate, context: &Context<'_>) -> String {
    let mut sources: Vec<(String, u32)> = Vec::new();
    let (mut filled, mut last) = (0, None);
    for day in ground.series.between(begun, ground.moment.through) {
        last = if day.is_known() { Some(day.date) } else { last };
        if day.source.is_empty() {
            filled += 1;
        } else if let Some(entry) = sources.iter_mut().find(|(name, _)| *name == day.source) {
            entry.1 += 1;
        } else {
            sources.push((day.source.clone(), 1));
        }
    }
    let names: Vec<String> = sources
        .iter()
        .map(|(name, days)| format!("{name} ({})", count_of(*days, "day")))
        .collect();
    let mut text = format!(
        "Temperatures at {}: {}",
        ground.site.id,
        if names.is_empty() {
            "none".into()
        } else {
            list(&names)
        }
    );
    if let Some(last) = last {
        text.push_str(&format!(", known to {}", day_short(last)));
    }
    if filled > 0 {
        text.push_str(&format!(
            ", {} filled in between neighbours",
            count_of(filled, "day")
        ));
    }
    text.push('.');
    for (name, credit) in context.credits {
        if !credit.is_empty()
            && ground
                .series
                .run()
                .iter()
                .flatten()
                .any(|d| d.source == *name)
        {
            text.push(' ');
            text.push_str(credit);
        }
    }
    text
}

fn reckoned(care: &BatchCare<'_>, context: &Context<'_>) -> String {
    let model = care.plan.model;
    let upper = model.upper.map_or_else(String::new, |u| {
        format!(
            ", {} above {}",
            model.cutoff.name(),
            context.units.temperature(Celsius(u))
        )
    });
    format!(
        "Heat for {}: {} above {}{upper}. One standard day is {} here. Dates are what warmth suggests; the eye decides.",
        care.plan.name,
        model.method.name().replace('-', " "),
        context.units.temperature(Celsius(model.base)),
        context.units.heat(care.warmth.standard_day),
    )
}

trait LowercaseFirst {
    fn to_lowercase_first(&self) -> String;
}

impl LowercaseFirst for String {
    fn to_lowercase_first(&self) -> String {
        let mut letters = self.chars();
        letters.next().map_or_else(String::new, |first| {
            first.to_lowercase().collect::<String>() + letters.as_str()
        })
    }
}
