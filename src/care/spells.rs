//! Spells of heat: adjoining days that are hot for the site, measured or foretold, and the batches whose unions they touch.
//!
//! A spell is a finding, not yet a notice: whether it is news is decided in `notices`.

use super::{BatchCare, Ground};
use crate::days::{Day, Series, Usual};
use chrono::{Days, NaiveDate};

/// How hot a spell is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// 29 °C: for the weekly letter, not for a notice.
    Soft,
    /// Two days at 32 °C, or at what is hot for the site.
    Hot,
    /// 35 °C.
    VeryHot,
    /// 38 °C: hurts the union, even on a single day.
    Injury,
}

impl Level {
    /// Every level.
    pub const ALL: [Self; 4] = [Self::Soft, Self::Hot, Self::VeryHot, Self::Injury];

    /// The word used in letters and in `--json`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Soft => "soft",
            Self::Hot => "hot",
            Self::VeryHot => "very hot",
            Self::Injury => "injury",
        }
    }

    /// The level of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|l| l.name() == name)
    }

    /// The maximum in °C from which a day is of this level. Common practice, after what is told of callus in
    /// Hartmann & Kester (memory) and Bioletti: soft from 29, injured above 32, killed at 40.
    pub fn from(self) -> f64 {
        match self {
            Self::Soft => 29.0,
            Self::Hot => 32.0,
            Self::VeryHot => 35.0,
            Self::Injury => 38.0,
        }
    }
}

/// A spell of heat: adjoining days, measured or forecast.
#[derive(Clone, Debug, PartialEq)]
pub struct Spell {
    /// Its first day.
    pub first: NaiveDate,
    /// Its last day so far.
    pub last: NaiveDate,
    /// Its hottest maximum in °C.
    pub hottest: f64,
    /// How hot it is.
    pub level: Level,
    /// The day at whose end it is of that level.
    pub on: NaiveDate,
    /// The batches whose unions it touches.
    pub batches: Vec<String>,
}

/// A spell that ended more than this many days ago is no news.
const NEWS_FOR: u64 = 3;
/// Where a site is often hotter than 32 °C, a day is hot that as many of 100 days of its grafting season do not exceed.
const HOT_FOR_THE_SITE: usize = 90;

/// The maximum in °C from which a day counts towards a spell: 32, or what is hot for the site by the years before. A day
/// of injury counts everywhere.
pub(super) fn threshold(usual: &Usual) -> f64 {
    let hot = Level::Hot.from();
    let here = usual
        .maximum(HOT_FOR_THE_SITE)
        .map_or(hot, |max| max.max(hot));
    here.min(Level::Injury.from())
}

/// The spells that are on, foretold or just over, without the batches they touch.
pub fn spells(ground: &Ground<'_>) -> Vec<Spell> {
    let since = ground.moment.today.checked_sub_days(Days::new(NEWS_FOR));
    let mut spells = every_spell(ground);
    spells.retain(|spell| since.is_some_and(|since| spell.last >= since));
    spells
}

/// Every spell of the days of the site, the first first.
pub fn every_spell(ground: &Ground<'_>) -> Vec<Spell> {
    let hot = threshold(&ground.usual);
    runs(&ground.series, |day| day.max >= hot)
        .iter()
        .filter_map(|run| spell(run))
        .collect()
}

/// Adjoining days at which callus is soft, today or to come, that are not part of a spell: for the weekly letter.
pub fn soft_spells(ground: &Ground<'_>) -> Vec<Spell> {
    let spells = every_spell(ground);
    let in_one = |day: &Day| {
        let at = day.date;
        spells.iter().any(|s| (s.first..=s.last).contains(&at))
    };
    let soft = |day: &Day| {
        day.max >= Level::Soft.from() && day.date >= ground.moment.today && !in_one(day)
    };
    let of_run = |run: Vec<&Day>| Spell {
        first: run[0].date,
        last: run[run.len() - 1].date,
        hottest: run.iter().map(|d| d.max).fold(f64::MIN, f64::max),
        level: Level::Soft,
        on: run[0].date,
        batches: Vec::new(),
    };
    let runs = runs(&ground.series, soft);
    runs.into_iter().map(of_run).collect()
}

/// The runs of adjoining days of a kind.
fn runs(series: &Series, is: impl Fn(&Day) -> bool) -> Vec<Vec<&Day>> {
    let days = series.run().iter().flatten().filter(|day| is(day));
    let days: Vec<&Day> = days.collect();
    days.chunk_by(|a, b| a.date.succ_opt() == Some(b.date))
        .map(<[&Day]>::to_vec)
        .collect()
}

fn spell(run: &[&Day]) -> Option<Spell> {
    let hottest = run.iter().map(|d| d.max).fold(f64::MIN, f64::max);
    if run.len() < 2 && hottest < Level::Injury.from() {
        return None;
    }
    let level = *Level::ALL.iter().rev().find(|l| hottest >= l.from())?;
    let reached = run.iter().find(|d| d.max >= level.from())?.date;
    // A spell is one from its second day on, or from a day of injury.
    let on = if level == Level::Injury {
        reached
    } else {
        reached.max(run[1].date)
    };
    Some(Spell {
        first: run[0].date,
        last: run[run.len() - 1].date,
        hottest,
        level,
        on,
        batches: Vec::new(),
    })
}

/// Whether the spell falls between the opening of the sensitive span of the batch and its end.
pub fn touches(spell: &Spell, care: &BatchCare<'_>) -> bool {
    is_sensitive(care, spell.last)
}

/// Whether heat hurts the unions of the batch on that day, today or to come, as far as is foreseen.
pub fn is_sensitive(care: &BatchCare<'_>, day: NaiveDate) -> bool {
    let Some(sensitive) = &care.plan.sensitive else {
        return false;
    };
    let step = |id: &str| care.step(id);
    let began = step(&sensitive.from).and_then(|s| s.opened);
    let over = step(&sensitive.until).is_none_or(|s| s.state.is_past());
    care.is_open() && began.is_some_and(|o| o.on <= day) && !over
}

#[cfg(test)]
mod tests;
