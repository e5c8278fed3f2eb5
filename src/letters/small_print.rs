//! The small print: where the temperatures came from and how heat was reckoned.

use super::letter::{Context, PutBack};
use super::words::{count_of, day_short, list, moment, tuned};
use crate::care::{BatchCare, Ground};
use crate::notices::{Digest, Notice};
use crate::units::{Celsius, DegreeDays, Units};
use chrono::{Days, NaiveDate};
use std::collections::{HashMap, HashSet};
use std::fmt::Write;

/// One line for each site and each way of reckoning heat that the notices touch, after what was last known where the
/// memory was put back.
pub fn small_print(notices: &[&Notice], context: &Context<'_>) -> Vec<String> {
    let digests = || notices.iter().filter_map(|n| n.digest.as_ref());
    // Of each batch that is named, what is told of it.
    let mut told: HashMap<&str, Vec<&Notice>> = HashMap::new();
    for &notice in notices {
        let touched = notice.batches.iter().map(String::as_str);
        for name in notice.about.batch().into_iter().chain(touched) {
            told.entry(name).or_default().push(notice);
        }
    }
    for name in digests().flat_map(Digest::batches) {
        told.entry(name).or_default();
    }
    let spans: HashSet<&str> = digests().flat_map(Digest::sites).collect();
    let touched = |care: &&BatchCare<'_>| told.contains_key(care.batch.name.as_str());
    let cares: Vec<&BatchCare<'_>> = context.cares.iter().filter(touched).collect();
    let spanned = |c: &BatchCare<'_>| spans.contains(c.batch.site.as_str()) && c.is_open();
    let named = context.cares.iter().filter(|c| touched(c) || spanned(c));
    let moved = |care: &BatchCare<'_>| is_moved(&told[care.batch.name.as_str()], care);
    let lines = written(temperatures(&named, context), &cares, moved, context);
    context
        .put_back
        .map(repeated)
        .into_iter()
        .chain(lines)
        .collect()
}

fn repeated(to: PutBack) -> String {
    match to {
        PutBack::To(at) => format!(
            "The program's memory was put back to its state of {}: what was told since may stand here once more.",
            moment(at)
        ),
        PutBack::Nothing => {
            "The program's memory was begun anew: what was told before may stand here once more."
                .into()
        }
    }
}

/// The same of these batches, whatever is told of them.
pub fn small_print_of(cares: &[&BatchCare<'_>], context: &Context<'_>) -> Vec<String> {
    let days = temperatures(&cares.iter().copied(), context);
    written(days, cares, |care| care.shows_tuned(), context)
}

/// A line for each site of these batches.
fn temperatures<'c, 'a: 'c>(
    cares: &(impl Iterator<Item = &'c BatchCare<'a>> + Clone),
    context: &Context<'_>,
) -> Vec<String> {
    let mut begun: HashMap<&str, NaiveDate> = HashMap::new();
    for batch in cares.clone().map(|care| &care.batch) {
        let day = batch.grafted_on + Days::new(1);
        let first = begun.entry(&batch.site).or_insert(day);
        *first = day.min(*first);
    }
    let of_site = |ground: &Ground<'_>| {
        let begun = *begun.get(ground.site.id.as_str())?;
        Some(temperatures_of(ground, begun, context))
    };
    context.grounds.iter().filter_map(of_site).collect()
}

/// The lines of the temperatures, and those of how heat is reckoned and what was learned.
fn written(
    mut lines: Vec<String>,
    cares: &[&BatchCare<'_>],
    moved: impl Fn(&BatchCare<'_>) -> bool,
    context: &Context<'_>,
) -> Vec<String> {
    let told = lines.len();
    for care in cares {
        let line = reckoned(care, context);
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    let groups = tuned_groups(cares.iter().copied().filter(|care| moved(care)));
    let line =
        |(phrase, names): (String, Vec<String>)| format!("Windows of {}: {phrase}.", list(&names));
    lines.extend(groups.into_iter().map(line));
    if lines.len() > told {
        lines.push("Dates are what warmth suggests; the eye decides.".into());
    }
    lines
}

/// Whether what was learned moved a window of the batch that is told of; by a notice about one step only where that step was
/// moved.
fn is_moved(told: &[&Notice], care: &BatchCare<'_>) -> bool {
    let Some(by) = &care.lines.tuned else {
        return false;
    };
    let moves = |n: &&Notice| n.step.as_ref().is_none_or(|id| by.moves(care.plan, id));
    told.iter().any(moves)
}

/// By what the windows of these batches were moved, and whose: a phrase and names for each group.
pub fn tuned_groups<'c, 'a: 'c>(
    cares: impl IntoIterator<Item = &'c BatchCare<'a>>,
) -> Vec<(String, Vec<String>)> {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for care in cares {
        let Some(phrase) = care.lines.tuned.as_deref().map(tuned) else {
            continue;
        };
        let name = care.batch.name.clone();
        match groups.iter_mut().find(|(of, _)| *of == phrase) {
            Some((_, names)) => names.push(name),
            None => groups.push((phrase, vec![name])),
        }
    }
    groups
}

/// Where a site's temperatures since `begun` came from, and how many were put in.
fn temperatures_of(ground: &Ground<'_>, begun: NaiveDate, context: &Context<'_>) -> String {
    let mut sources: Vec<(String, u32)> = Vec::new();
    let (mut filled, mut last, mut known_to) = (0, None, None);
    for day in ground.series.between(begun, ground.moment.through) {
        last = if day.is_known() { Some(day.date) } else { last };
        let source = ground.series.source(day);
        if source.is_empty() {
            filled += 1;
            continue;
        }
        known_to = Some(day.date);
        if let Some(entry) = sources.iter_mut().find(|(name, _)| *name == source) {
            entry.1 += 1;
        } else {
            sources.push((source.to_owned(), 1));
        }
    }
    let names: Vec<String> = sources
        .iter()
        .map(|(name, days)| format!("{} on {}", came_by(name), count_of(*days, "day")))
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
    if let Some(known_to) = known_to {
        let _ = write!(text, ", known to {}", day_short(known_to));
    }
    if filled > 0 {
        let _ = write!(text, ", {} put in", count_of(filled, "day"));
    }
    let unknown = last.map_or(0, |last| unknown_days(ground, begun, last));
    if unknown > 0 {
        let _ = write!(text, ", {} unknown", count_of(unknown, "day"));
    }
    text.push('.');
    let here = context
        .sources
        .iter()
        .filter(|note| note.site == ground.site.id);
    for note in here.filter(|note| used(ground, &note.source)) {
        if let Some(day) = note.silent_since {
            let _ = write!(
                text,
                " {} last answered on {}.",
                note.source,
                day_short(day)
            );
        }
        if !note.credit.is_empty() {
            text.push(' ');
            text.push_str(&note.credit);
        }
    }
    text
}

/// What a source of the config is to a grower: their own logger or station, else the service by its name.
fn came_by(source: &str) -> String {
    match source {
        "file" => "measured by the logger".to_owned(),
        "url" => "measured by the station".to_owned(),
        service => format!("from {service}"),
    }
}

fn used(ground: &Ground<'_>, source: &str) -> bool {
    let series = &ground.series;
    let mut days = series.run().iter().flatten();
    days.any(|day| series.source(day) == source)
}

/// How many of the days from `begun` to the last known one nothing is known of.
fn unknown_days(ground: &Ground<'_>, begun: NaiveDate, last: NaiveDate) -> u32 {
    let all = (last - begun).num_days() + 1;
    all as u32 - ground.series.between(begun, last).count() as u32
}

fn reckoned(care: &BatchCare<'_>, context: &Context<'_>) -> String {
    let model = care.plan.model;
    let upper = model.upper.map_or_else(String::new, |u| {
        format!(
            ", {} cutoff at {}",
            model.cutoff.name(),
            context.units.temperature(Celsius(u))
        )
    });
    let site = &care.batch.site;
    let of_site = context
        .grounds
        .iter()
        .any(|g| g.site.id == *site && g.site.standard_day.is_some());
    let of = if of_site {
        format!("at {site}")
    } else {
        "by the plan".into()
    };
    format!(
        "Heat for {}: {} above {}{upper}. One standard day is {} {of}.",
        care.plan.name,
        model.method.name().replace('-', " "),
        context.units.temperature(Celsius(model.base)),
        standard_day(care.warmth.standard_day, context.units),
    )
}

/// To one decimal: a standard day is small.
fn standard_day(heat: DegreeDays, units: Units) -> String {
    match units {
        Units::Metric => format!("{:.1} °C·d", heat.0),
        Units::Us => format!("{:.1} °F·d", heat.0 * 1.8),
    }
}
