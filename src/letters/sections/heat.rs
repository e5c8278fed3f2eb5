//! Heat that hurts unions.

use crate::care::Level;
use crate::letters::letter::{Context, Section};
use crate::letters::places::row;
use crate::letters::words::{count_of, list, span};
use crate::notices::Notice;
use crate::units::Celsius;
use chrono::NaiveDate;

pub(super) fn heat_spike(notice: &Notice, context: &Context<'_>) -> Section {
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
