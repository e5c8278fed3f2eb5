//! Heat: spells that hurt unions, told at once, days off included, and their end; cold stalls.

use super::View;
use super::bouts::{Bout, number, told};
use super::weather::taken_back;
use crate::care::{
    BatchCare, Ground, Spell, Stall, State, every_spell, is_sensitive, on_site, spells, stalls,
    touches,
};
use crate::notices::notice::{About, Kind, Ledger, Notice};
use crate::nursery::{Anchor, Plan};
use chrono::{Days, NaiveDate};

/// Spells and stalls with not a day between are one.
const APART: u64 = 1;
/// What was over longer ago than this many days is no news, however long nobody was there.
const NEWS_FOR: u64 = 14;
/// A stall that ended longer ago is none either.
const STALL_NEWS_FOR: u64 = 5;
/// So long a day after the spell may stay unknown before the spell is called over without it.
const UNKNOWN_FOR: u64 = 3;

/// What there is to tell of heat and cold at a site.
pub(super) fn news(view: &View<'_>, ground: &Ground<'_>, ledger: &Ledger) -> Vec<Notice> {
    let mut notices = spikes(view, ground, ledger);
    if view.workdays.works(view.today) {
        notices.extend(over(view, ground, ledger));
        notices.extend(cold(view, ground, ledger));
    }
    notices
}

/// One notice for each spell and level. A spell stays the same while any day adjoins one told.
fn spikes(view: &View<'_>, ground: &Ground<'_>, ledger: &Ledger) -> Vec<Notice> {
    let told = told(ledger, Kind::HeatSpike, &ground.site.id, APART);
    let mut notices = Vec::new();
    for spell in spells(ground) {
        let Some(n) = number(
            &told,
            (spell.first, spell.last),
            spell.level as usize,
            APART,
        ) else {
            continue;
        };
        let batches = here(view, ground, |care| touches(&spell, care));
        if !batches.is_empty() {
            notices.push(spike(ground, &spell, n, batches));
        }
    }
    notices
}

fn spike(ground: &Ground<'_>, spell: &Spell, n: u32, batches: Vec<String>) -> Notice {
    let about = About::Site(ground.site.id.clone());
    Notice {
        until: Some(spell.last),
        level: Some(spell.level),
        urgent: true,
        batches,
        ..Notice::plain(Kind::HeatSpike, about, spell.first.to_string(), n, spell.on)
    }
}

/// The batches of a site that are meant.
fn here(view: &View<'_>, ground: &Ground<'_>, is: impl Fn(&BatchCare<'_>) -> bool) -> Vec<String> {
    let here = on_site(view.cares, &ground.site.id).iter();
    here.filter(|care| is(care))
        .map(|care| care.batch.name.clone())
        .collect()
}

/// Spells that were told and are over, and those that a later forecast took away or that did not come.
fn over(view: &View<'_>, ground: &Ground<'_>, ledger: &Ledger) -> Vec<Notice> {
    let every = every_spell(ground);
    let site = &ground.site.id;
    let ended = |bout: &Bout| {
        let told = ledger.of(Kind::SpellOver, site);
        told.iter()
            .any(|t| t.anchor == bout.anchor && t.n == bout.n)
    };
    let bouts = told(ledger, Kind::HeatSpike, site, APART);
    let open = bouts.iter().filter(|b| !b.taken_back && !ended(b));
    let fresh = |last: NaiveDate| last + Days::new(NEWS_FOR) >= view.today;
    open.filter_map(|bout| {
        let ran = every
            .iter()
            .filter(|s| bout.adjoins(s.first, s.last, APART));
        let Some(last) = ran.map(|s| s.last).max() else {
            let touched = here(view, ground, |care| is_sensitive(care, bout.last));
            let gone = taken_back(Kind::HeatSpike, ground, bout, touched, |_| true);
            return gone.filter(|_| fresh(bout.last));
        };
        // Who was told when it was over already knows.
        let is_news = is_over(ground, last) && fresh(last) && bout.told_on <= last;
        let touched = here(view, ground, |care| is_sensitive(care, last));
        (is_news && !touched.is_empty()).then(|| Notice {
            until: Some(last),
            batches: touched,
            ..Notice::plain(
                Kind::SpellOver,
                About::Site(site.clone()),
                bout.anchor.clone(),
                bout.n,
                last,
            )
        })
    })
    .collect()
}

/// A spell is over once a day after it is known of, or foretold, that is not hot.
fn is_over(ground: &Ground<'_>, last: NaiveDate) -> bool {
    let today = ground.moment.today;
    let next = last.succ_opt().and_then(|next| ground.series.day(next));
    last < today && (next.is_some() || last + Days::new(UNKNOWN_FOR) < today)
}

/// Cold stalls, once each at a site, by whichever plan it is cold there first: for the batches of all plans that have a
/// window of their first summer ahead.
fn cold(view: &View<'_>, ground: &Ground<'_>, ledger: &Ledger) -> Vec<Notice> {
    let mut plans: Vec<&Plan> = Vec::new();
    for care in on_site(view.cares, &ground.site.id) {
        if !plans.iter().any(|plan| plan.name == care.plan.name) {
            plans.push(care.plan);
        }
    }
    let told = told(ledger, Kind::ColdStall, &ground.site.id, APART);
    let mut found: Vec<Stall> = Vec::new();
    let since = view.today - Days::new(STALL_NEWS_FOR);
    for stall in plans.iter().flat_map(|plan| stalls(ground, plan, since)) {
        let adjoins = |other: &&mut Stall| {
            stall.first <= other.last + Days::new(APART)
                && other.first <= stall.last + Days::new(APART)
        };
        match found.iter_mut().find(adjoins) {
            Some(same) => {
                same.first = same.first.min(stall.first);
                same.last = same.last.max(stall.last);
                same.on = same.on.min(stall.on);
            }
            None => found.push(stall),
        }
    }
    let news = found.iter().filter_map(|stall| {
        let n = number(&told, (stall.first, stall.last), 0, APART)?;
        let batches = here(view, ground, |care| is_stalled(care, stall));
        let about = About::Site(ground.site.id.clone());
        (!batches.is_empty()).then(|| Notice {
            until: Some(stall.last),
            batches,
            ..Notice::plain(Kind::ColdStall, about, stall.first.to_string(), n, stall.on)
        })
    });
    news.collect()
}

/// Whether the stall moves a window of the first summer that lies ahead.
fn is_stalled(care: &BatchCare<'_>, stall: &Stall) -> bool {
    let ahead = care.steps.iter().any(|s| {
        let opens = &s.step.opens;
        let by_warmth = opens.after == Anchor::Grafted && opens.warmth.is_some();
        by_warmth && !s.step.aside && s.state == State::Ahead
    });
    care.is_open() && care.batch.grafted_on < stall.first && ahead
}
