//! Heat: spells that hurt unions, told at once, days off included.

use super::View;
use crate::care::{Ground, Spell, spells, touches};
use crate::notices::notice::{About, Kind, Ledger, Notice, Told};
use chrono::{Days, NaiveDate};

/// One notice for each spell and level. A spell stays the same while any day adjoins one told.
pub(super) fn spikes(view: &View<'_>, ground: &Ground<'_>, ledger: &Ledger) -> Vec<Notice> {
    let told = ledger.of(Kind::HeatSpike, &ground.site.id);
    let news = |spell: &Spell| {
        let same = |t: &&Told| {
            let first: NaiveDate = t.anchor.parse().unwrap_or(t.on);
            spell.first <= t.until.unwrap_or(t.on) + Days::new(1)
                && first - Days::new(1) <= spell.last
        };
        let highest = told.iter().filter(same).filter_map(|t| t.level).max();
        highest.is_none_or(|level| level < spell.level)
    };
    let mut notices = Vec::new();
    for mut spell in spells(&ground.series, ground.moment.today)
        .into_iter()
        .filter(news)
    {
        let here = view
            .cares
            .iter()
            .filter(|care| care.batch.site == ground.site.id);
        spell.batches = here
            .filter(|care| touches(&spell, care))
            .map(|care| care.batch.name.clone())
            .collect();
        if !spell.batches.is_empty() {
            notices.push(spike(ground, spell));
        }
    }
    notices
}

fn spike(ground: &Ground<'_>, spell: Spell) -> Notice {
    let about = About::Site(ground.site.id.clone());
    Notice {
        until: Some(spell.last),
        level: Some(spell.level),
        urgent: true,
        batches: spell.batches,
        ..Notice::plain(Kind::HeatSpike, about, spell.first.to_string(), 1, spell.on)
    }
}
