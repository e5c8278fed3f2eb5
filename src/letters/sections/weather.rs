//! Wind on untied scions, frost on soft growth, rain on new tape.

use super::{rows_of, site_of};
use crate::days::Day;
use crate::letters::letter::{Context, Section};
use crate::letters::words::{count_of, span};
use crate::notices::Notice;
use crate::units::Celsius;
use chrono::NaiveDate;

/// The days a notice speaks of.
fn days(notice: &Notice) -> (NaiveDate, NaiveDate) {
    let first = notice.anchor.parse().unwrap_or(notice.on);
    (first, notice.until.unwrap_or(first))
}

/// The figures of these days.
fn figures(notice: &Notice, context: &Context<'_>, of: fn(&Day) -> Option<f64>) -> Vec<f64> {
    let (first, last) = days(notice);
    let ground = site_of(notice, context);
    let days = ground.iter().flat_map(|g| g.series.between(first, last));
    days.filter_map(of).collect()
}

fn section(notice: &Notice, context: &Context<'_>, what: &str, said: Vec<String>) -> Section {
    let (first, last) = days(notice);
    let site = notice.about.subject();
    let (when, many) = (
        span(first, last),
        count_of(notice.batches.len() as u32, "batch"),
    );
    Section {
        heading: format!("{what} at {site}, {when}"),
        subject: format!("{what} {when}: {many} at {site}"),
        paragraphs: said,
        rows: rows_of(notice, context),
        ..Section::default()
    }
}

pub(super) fn wind(notice: &Notice, context: &Context<'_>) -> Section {
    let gusts = figures(notice, context, |d| d.gust);
    let strongest = gusts.into_iter().reduce(f64::max);
    let gust = strongest.map_or_else(String::new, |kmh| {
        format!(" up to {}", context.units.wind(kmh))
    });
    let said = vec![
        format!("By the forecast gusts{gust}, while scions of these batches are not tied in yet."),
        "Untied scions blow out at the union. See today that tape and ties hold, tie what is loose, and take off no tape before it is over.".into(),
    ];
    section(notice, context, "Strong wind", said)
}

pub(super) fn frost(notice: &Notice, context: &Context<'_>) -> Section {
    let (first, last) = days(notice);
    let minima = figures(notice, context, |d| Some(d.min));
    let lowest = minima.into_iter().reduce(f64::min);
    let least = lowest.map_or_else(String::new, |min| {
        // Minus nought is written as nought.
        format!(
            " down to {}",
            context.units.temperature(Celsius(min.round() + 0.0))
        )
    });
    let hard = notice.step.is_some();
    let when = match (last < context.today, first >= context.today) {
        (true, _) => "It was",
        (false, true) => "By the forecast it goes",
        (false, false) => "Partly by the forecast it goes",
    };
    let danger = if hard {
        "That is a frost for growth that is still soft."
    } else {
        "Near the ground that may be a frost, and growth is still soft."
    };
    let advice = if last < context.today {
        "Look at the youngest shoots and, where they are hurt, leave them on until it shows how far. Cut nothing back now."
    } else {
        "Cover what can be covered, water the ground before the evening, and cut nothing back now. Look at the youngest shoots afterwards."
    };
    let said = vec![format!("{when}{least}. {danger}"), advice.to_owned()];
    section(
        notice,
        context,
        if hard { "Frost" } else { "Frost near" },
        said,
    )
}

pub(super) fn rain(notice: &Notice, context: &Context<'_>) -> Section {
    let (first, last) = days(notice);
    let rain = figures(notice, context, |d| d.rain);
    let sum = context.units.rain(rain.iter().sum());
    let when = match (last < context.today, first >= context.today) {
        (true, _) => format!("There was {sum} of rain"),
        (false, true) => format!("By the forecast {sum} of rain"),
        (false, false) => format!("Partly by the forecast {sum} of rain"),
    };
    let said = vec![
        format!("{when} on grafts of the last ten days."),
        "Check the tape once it is dry: where water has got under it, or it has slipped, wrap anew.".into(),
    ];
    section(notice, context, "Rain on new grafts", said)
}
