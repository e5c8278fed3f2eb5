//! The chart of a letter: the heat of its batches against their windows, one picture a site.
//!
//! `data` says what is drawn, in days and standard days; `svg` draws it. Whatever a chart shows is said in words too.

mod data;
mod svg;

use super::letter::Context;
use crate::care::{BatchCare, State};
use crate::notices::{About, Kind, Notice};
use chrono::Days;
use data::Drawn;
use std::collections::HashSet;

/// One picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chart {
    /// The site.
    pub site: String,
    /// The name by which a letter shows it, `cid:NAME`: one for each site and day, so that a letter has none twice.
    pub cid: String,
    /// What it shows, in words.
    pub alt: String,
    /// The picture as SVG.
    pub svg: String,
    /// Whether a letter shows the picture; where it could not be drawn, the letter has its words alone.
    pub shown: bool,
}

/// A letter has no more charts than this: one a site, and who cares for more sites reads on a screen of their own.
const MOST: usize = 3;
/// What a weekly letter speaks of opens within so many days.
const FORTNIGHT: Days = Days::new(14);

/// The chart of these batches of one site; none where none of them is in its first summer.
pub fn chart_of(cares: &[&BatchCare<'_>], context: &Context<'_>) -> Option<Chart> {
    let drawn = Drawn::new(cares, context)?;
    let site: String = drawn
        .site
        .bytes()
        .map(|b| {
            if b.is_ascii_alphanumeric() {
                char::from(b).to_string()
            } else {
                format!("_{b:02x}")
            }
        })
        .collect();
    Some(Chart {
        cid: format!("heat.{site}.{}@graftwarden.invalid", context.today),
        alt: drawn.in_words(),
        svg: svg::svg(&drawn),
        shown: true,
        site: drawn.site.to_owned(),
    })
}

/// The charts of a letter: the batches that it speaks of, site by site.
pub fn charts(notices: &[&Notice], context: &Context<'_>) -> Vec<Chart> {
    let mut named: Vec<&str> = Vec::new();
    for notice in notices.iter().filter(|n| has_chart(n.kind)) {
        if let (About::Person(_), Some(digest)) = (&notice.about, &notice.digest) {
            named.extend(digest.batches());
        } else {
            named.extend(notice.about.batch());
            named.extend(notice.batches.iter().map(String::as_str));
        }
    }
    let mut seen = HashSet::new();
    let mut cares: Vec<&BatchCare<'_>> = Vec::new();
    for name in named {
        if let Some(care) = context.named.get(name)
            && seen.insert(name)
        {
            cares.push(care);
        }
    }
    let sites = context.grounds.iter().map(|ground| ground.site.id.as_str());
    let charts = sites.filter_map(|site| {
        let here: Vec<&BatchCare<'_>> = cares
            .iter()
            .copied()
            .filter(|c| c.batch.site == site)
            .collect();
        chart_of(&here, context)
    });
    charts.take(MOST).collect()
}

/// Whether news of this kind is about warmth and windows.
fn has_chart(kind: Kind) -> bool {
    !matches!(
        kind,
        Kind::NoTemperatures
            | Kind::Trouble
            | Kind::Season
            | Kind::LastGraft
            | Kind::RiskOver
            | Kind::Rain
            | Kind::Wind
            | Kind::Frost
    )
}

/// Whether there is something on this batch that a chart can show: a window of its first summer that is open or near.
fn is_worth_drawing(care: &BatchCare<'_>, context: &Context<'_>) -> bool {
    let soon = context.today + FORTNIGHT;
    care.is_open()
        && data::is_first_summer(care)
        && care.steps.iter().any(|step| match step.state {
            State::Open | State::Closing | State::Late => true,
            State::Ahead => step.opened.is_some_and(|opened| opened.on <= soon),
            State::Done | State::PassedOver => false,
        })
}
