//! One kind of news as a section of a letter: heading, places, paragraphs, list of batches.

mod away;
mod heat;
mod in_heat;
mod last_graft;
mod lists;
mod looks;
mod one_look;
mod reminder;
mod risk;
mod season;
mod trouble;
mod weather;
mod weekly;
mod withdrawn;
mod work;
mod written;

pub use season::season as season_section;
pub use written::written_since;

use super::either::{Together, is_one_look};
use super::letter::{Context, Row, Section, step_of};
use super::places::row;
use crate::care::{BatchCare, Ground};
use crate::notices::{Digest, Kind, Notice};

/// The section of notices that belong together.
pub fn section(notices: &[&Notice], context: &Context<'_>) -> Section {
    if is_one_look(notices[0], &Together::new(notices), context) {
        return one_look::one_look(notices, context);
    }
    match notices[0].kind {
        Kind::Opens => work::opens(notices, context),
        Kind::Sisters => looks::sisters(notices, context),
        Kind::Sentinel => looks::sentinel(notices, context),
        Kind::Late => work::late(notices, context),
        Kind::NoLongerDue => withdrawn::no_longer_due(notices, context),
        Kind::OverCallused => risk::over_callused(notices, context),
        Kind::OverCallusRisk => risk::risk(notices, context),
        Kind::RiskOver => risk::over(notices, context),
        Kind::HeatSpike => heat::heat_spike(notices[0], context),
        Kind::LastGraft => last_graft::last_graft(notices[0], context),
        Kind::SpellOver => heat::spell_over(notices[0], context),
        Kind::ColdStall => heat::cold_stall(notices[0], context),
        Kind::Wind => weather::wind(notices[0], context),
        Kind::Frost => weather::frost(notices[0], context),
        Kind::Rain => weather::rain(notices[0], context),
        Kind::NoTemperatures => trouble::no_temperatures(notices[0]),
        Kind::Trouble => trouble::trouble(notices),
        Kind::LastCall => work::last_call(notices, context),
        Kind::HeadsUp => work::heads_up(notices, context),
        Kind::CatchUp | Kind::LookAhead | Kind::Reminder | Kind::Weekly | Kind::Season => {
            let digest = notices[0].digest.as_ref();
            digest.map_or_else(Section::default, |digest| of_digest(digest, context))
        }
    }
}

fn of_digest(digest: &Digest, context: &Context<'_>) -> Section {
    match digest {
        Digest::LookAhead(digest) => away::look_ahead(digest, context),
        Digest::CatchUp(digest) => away::catch_up(digest, context),
        Digest::Reminder(digest) => reminder::reminder(digest, context),
        Digest::Weekly(digest) => weekly::weekly(digest, context),
        Digest::Season(digest) => season::season(digest),
    }
}

/// What ends a letter: after days off, and once a week, today's list.
pub fn last_section(notices: &[&Notice], context: &Context<'_>) -> Option<Section> {
    let due = notices.iter().find_map(|notice| match &notice.digest {
        Some(Digest::CatchUp(digest)) => Some(&digest.today),
        Some(Digest::Weekly(digest)) => Some(&digest.due),
        _ => None,
    });
    let due = due.filter(|due| !due.is_empty())?;
    Some(away::today(due, context))
}

/// The lists of a walk.
#[cfg(test)]
pub fn walk_of(
    errands: &[crate::notices::Errand],
    context: &Context<'_>,
) -> Vec<super::letter::List> {
    lists::walk(errands, context)
}

/// The names of the batches, in order.
fn batches(notices: &[&Notice]) -> Vec<String> {
    let names = notices.iter().filter_map(|n| n.about.batch());
    let mut names: Vec<String> = names.map(str::to_owned).collect();
    names.sort();
    names
}

/// The batches that a notice of a whole site names.
fn named<'a>(notice: &'a Notice, context: &Context<'a>) -> impl Iterator<Item = &'a BatchCare<'a>> {
    let named = context.named;
    notice.batches.iter().filter_map(|name| named.get(name))
}

/// A line for each of them.
fn rows_of(notice: &Notice, context: &Context<'_>) -> Vec<Row> {
    named(notice, context)
        .map(|care| row(care, None, context))
        .collect()
}

/// The site a notice is about.
fn site_of<'a>(notice: &Notice, context: &Context<'a>) -> Option<&'a Ground<'a>> {
    let site = notice.about.site()?;
    context.grounds.iter().find(|g| g.site.id == site)
}

fn title<'a>(notice: &'a Notice, context: &Context<'a>) -> &'a str {
    let known = step_of(notice, context).map(|s| s.step.title.as_str());
    known.unwrap_or_else(|| notice.step.as_deref().unwrap_or_default())
}
