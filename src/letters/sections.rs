//! One kind of news as a section of a letter: heading, places, paragraphs, list of batches.

mod heat;
mod risk;
mod trouble;
mod work;

use super::letter::{Context, Section, step_of};
use crate::notices::{Kind, Notice};

/// The section of notices that belong together.
pub fn section(notices: &[&Notice], context: &Context<'_>) -> Section {
    match notices[0].kind {
        Kind::Opens => work::opens(notices, context),
        Kind::Late if notices[0].n > 1 => work::late_again(notices, context),
        Kind::Late => work::late(notices, context),
        Kind::NoLongerDue => work::no_longer_due(notices, context),
        Kind::OverCallusRisk if notices[0].urgent => risk::risk(notices, context),
        Kind::OverCallusRisk => risk::question(notices, context),
        Kind::HeatSpike => heat::heat_spike(notices[0], context),
        Kind::NoTemperatures => trouble::no_temperatures(notices[0]),
        Kind::Trouble => trouble::trouble(notices),
    }
}

/// The names of the batches, in order.
fn batches(notices: &[&Notice]) -> Vec<String> {
    let names = notices.iter().filter_map(|n| n.about.batch());
    let mut names: Vec<String> = names.map(str::to_owned).collect();
    names.sort();
    names
}

fn title<'a>(notice: &'a Notice, context: &Context<'a>) -> &'a str {
    let known = step_of(notice, context).map(|s| s.step.title.as_str());
    known.unwrap_or_else(|| notice.step.as_deref().unwrap_or_default())
}
