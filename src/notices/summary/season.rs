//! Once a season: what took, how long lines took, and how well the dates that were given have held.

use super::{Desk, Foretold};
use crate::care::{BatchCare, State};
use crate::notices::notice::{Kind, Ledger};
use crate::nursery::{Batch, Count, Hemisphere, MonthDay, What};
use chrono::{Datelike, NaiveDate};
use std::collections::{BTreeMap, BTreeSet};

/// The summary is told from this date on; six months later in the south ...
const TOLD_FROM: MonthDay = MonthDay { month: 12, day: 1 };
/// ... and again when every take is counted, or on this date of the year after.
const TAKEN_BY: MonthDay = MonthDay { month: 7, day: 1 };

/// 95 of 100 such intervals hold what is true.
const Z: f64 = 1.96;

/// What became of the grafts of one season.
#[derive(Clone, Debug, PartialEq)]
pub struct Season {
    /// The year in which they were made; in the south, that in which the summer began.
    pub year: i32,
    /// How many batches.
    pub batches: u32,
    /// Of how many batches the take was counted; of the rest stands what is not written down as lost or dead.
    pub counted: u32,
    /// The others, by name.
    pub uncounted: Vec<String>,
    /// All together.
    pub whole: Share,
    /// By scion, stock, grafter and block: what it is, and its shares.
    pub groups: Vec<(&'static str, Vec<Share>)>,
    /// From grafting to the first record of lines, by scion.
    pub to_lines: Vec<ToLines>,
    /// How well dates held; none where none was given.
    pub held: Option<Held>,
}

/// How many took.
#[derive(Clone, Debug, PartialEq)]
pub struct Share {
    /// Of what.
    pub name: String,
    /// How many took.
    pub taken: u32,
    /// Of how many.
    pub of: u32,
    /// The interval that holds the true share in 95 of 100 cases, 0 to 1 (Wilson 1927, J. Am. Stat. Assoc. 22:209-212).
    pub interval: (f64, f64),
}

/// How long lines took.
#[derive(Clone, Debug, PartialEq)]
pub struct ToLines {
    /// The scion.
    pub scion: String,
    /// In how many batches lines were written down.
    pub batches: u32,
    /// Days from grafting to the first record of lines, on average.
    pub days: f64,
    /// The same in standard days, where all are known.
    pub standard_days: Option<f64>,
}

/// How well dates that were given have held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// How many were given for windows that have opened since, at least a day ahead.
    pub given: u32,
    /// How many of these windows opened between the first and the last day given.
    pub inside: u32,
    /// Days by which windows opened later than the middle date, on average; earlier is negative.
    pub later: f64,
    /// Days by which they opened earlier or later, on average.
    pub off: f64,
}

/// The season that is to be told to this person now, and for the how-manieth time.
pub(super) fn due(desk: &Desk<'_>, ledger: &Ledger) -> Option<(i32, u32)> {
    let today = desk.view.today;
    let hemisphere = desk.hemisphere();
    let told_from = |year| TOLD_FROM.in_year(ends_in(year, hemisphere), hemisphere);
    let year = (today.year() - 2..=today.year())
        .rev()
        .find(|&year| today >= told_from(year))?;
    let of_year = || {
        desk.cares()
            .filter(|c| hemisphere.season(c.batch.grafted_on) == year)
    };
    of_year().next()?;
    let told = ledger.of(Kind::Season, &desk.person.email);
    let was = |n| {
        told.iter()
            .any(|t| t.anchor == year.to_string() && t.n == n)
    };
    let taken_by = TAKEN_BY.in_year(ends_in(year, hemisphere) + 1, hemisphere);
    let counted = of_year().all(|care| take(care).is_some() || !care.is_open());
    if counted || today >= taken_by {
        return (!was(2)).then_some((year, 2));
    }
    (!was(1)).then_some((year, 1))
}

/// The year in which that season ends.
fn ends_in(year: i32, hemisphere: Hemisphere) -> i32 {
    match hemisphere {
        Hemisphere::North => year,
        Hemisphere::South => year + 1,
    }
}

/// The summary of the grafts that were made in a season, of these batches.
pub fn season<'a>(
    year: i32,
    cares: impl Iterator<Item = &'a BatchCare<'a>>,
    hemisphere: Hemisphere,
    foretold: &[Foretold],
) -> Season {
    let cares: Vec<&BatchCare<'_>> = cares
        .filter(|care| hemisphere.season(care.batch.grafted_on) == year)
        .collect();
    let by = |of: fn(&Batch) -> &str| shares(&cares, of);
    Season {
        year,
        batches: cares.len() as u32,
        counted: cares.iter().filter(|care| take(care).is_some()).count() as u32,
        uncounted: cares
            .iter()
            .filter(|care| take(care).is_none())
            .map(|care| care.batch.name.clone())
            .collect(),
        whole: Share::new("all", cares.iter().map(|care| taken_of(care))),
        groups: vec![
            ("scion", by(|b| &b.scion)),
            ("stock", by(|b| &b.understock)),
            ("grafter", by(|b| &b.by)),
            ("block", by(|b| &b.block)),
        ],
        to_lines: to_lines(&cares),
        held: held(&cares, foretold),
    }
}

/// One share for each name, the best first; batches without a name are left out.
fn shares(cares: &[&BatchCare<'_>], name: fn(&Batch) -> &str) -> Vec<Share> {
    let names: BTreeSet<&str> = cares.iter().map(|care| name(&care.batch)).collect();
    let share = |of: &str| {
        let here = cares.iter().filter(|care| name(&care.batch) == of);
        Share::new(of, here.map(|care| taken_of(care)))
    };
    let named = names.into_iter().filter(|name| !name.is_empty());
    let mut shares: Vec<Share> = named.map(share).collect();
    let key = |s: &Share| f64::from(s.taken) / f64::from(s.of.max(1));
    shares.sort_by(|a, b| key(b).total_cmp(&key(a)));
    shares
}

impl Share {
    fn new(name: &str, counts: impl Iterator<Item = (u32, u32)>) -> Self {
        let (taken, of) = counts.fold((0_u32, 0_u32), |(taken, of), (t, o)| {
            (taken.saturating_add(t), of.saturating_add(o))
        });
        Self {
            name: name.to_owned(),
            taken,
            of,
            interval: wilson(taken.min(of), of),
        }
    }
}

/// The score interval of a share (Wilson 1927). Of nothing, anything may be true.
fn wilson(taken: u32, of: u32) -> (f64, f64) {
    if of == 0 {
        return (0.0, 1.0);
    }
    let (n, p) = (f64::from(of), f64::from(taken) / f64::from(of));
    let middle = p + Z * Z / (2.0 * n);
    let half = Z * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    let whole = 1.0 + Z * Z / n;
    (
        ((middle - half) / whole).max(0.0),
        ((middle + half) / whole).min(1.0),
    )
}

/// The counted take of a batch: how many living, of how many.
fn take(care: &BatchCare<'_>) -> Option<(u32, u32)> {
    match care.facts.last(&[What::Take])?.count {
        // A count above what was grafted is questioned elsewhere; more than all cannot live.
        Some(Count::Of(n)) => Some(((n as u32).min(care.batch.grafts), care.batch.grafts)),
        Some(Count::Share(n, of)) => Some((n.min(of), of)),
        None => Some((care.facts.alive(), care.batch.grafts)),
    }
}

fn taken_of(care: &BatchCare<'_>) -> (u32, u32) {
    take(care).unwrap_or((care.facts.alive(), care.batch.grafts))
}

fn to_lines(cares: &[&BatchCare<'_>]) -> Vec<ToLines> {
    let scions: BTreeSet<&str> = cares.iter().map(|c| c.batch.scion.as_str()).collect();
    let of_scion = |scion: &str| {
        let seen: Vec<(f64, Option<f64>)> = cares
            .iter()
            .filter(|care| care.batch.scion == scion)
            .filter_map(|care| {
                let on = care.facts.first(&[care.plan.reckoning.seen])?.date;
                let heat = care.warmth.at(on).map(|heat| care.warmth.standard(heat).0);
                Some(((on - care.batch.grafted_on).num_days() as f64, heat))
            })
            .collect();
        let n = seen.len() as f64;
        let heats: Option<Vec<f64>> = seen.iter().map(|(_, heat)| *heat).collect();
        (!seen.is_empty()).then(|| ToLines {
            scion: scion.to_owned(),
            batches: seen.len() as u32,
            days: seen.iter().map(|(days, _)| days).sum::<f64>() / n,
            standard_days: heats.map(|heats| heats.iter().sum::<f64>() / n),
        })
    };
    scions.into_iter().filter_map(of_scion).collect()
}

/// Sets each date that was given against the day on which its window opened.
fn held<'c, 'a>(cares: &[&'c BatchCare<'a>], foretold: &[Foretold]) -> Option<Held> {
    let mut held = Held {
        given: 0,
        inside: 0,
        later: 0.0,
        off: 0.0,
    };
    let name = |care: &&'c BatchCare<'a>| (care.batch.name.as_str(), care.batch.grafted_on);
    let named: BTreeMap<(&str, NaiveDate), &BatchCare<'_>> =
        cares.iter().map(|care| (name(care), *care)).collect();
    for told in foretold {
        let care = named.get(&(told.batch.as_str(), told.grafted_on));
        let step = care.and_then(|care| {
            let step = care.step(&told.step)?;
            step.opened.filter(|_| step.state != State::Ahead)
        });
        let (Some(opened), Some(middle)) = (step, told.band.p50) else {
            continue;
        };
        if told.told_on >= opened.on {
            continue;
        }
        let inside = told.band.p10.is_some_and(|day| day <= opened.on)
            && told.band.p90.is_none_or(|day| opened.on <= day);
        let later = (opened.on - middle).num_days() as f64;
        held.given += 1;
        held.inside += u32::from(inside);
        held.later += later;
        held.off += later.abs();
    }
    let n = f64::from(held.given);
    (held.given > 0).then(|| Held {
        later: held.later / n,
        off: held.off / n,
        ..held
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Newcombe 1998, Statist. Med. 17:857-872, table I, method 3 (the score interval without continuity correction):
    /// 81 of 263, 15 of 148, 0 of 20, 1 of 29.
    #[test]
    fn the_interval_is_that_of_newcombes_table() {
        let check = |taken, of, low: f64, high: f64| {
            let (l, h) = wilson(taken, of);
            assert!((l - low).abs() < 5e-5 && (h - high).abs() < 5e-5, "{l} {h}");
        };
        check(81, 263, 0.2553, 0.3662);
        check(15, 148, 0.0624, 0.1605);
        check(0, 20, 0.0, 0.1611);
        check(1, 29, 0.0061, 0.1718);
    }

    #[test]
    fn of_nothing_anything_may_be_true() {
        assert_eq!(wilson(0, 0), (0.0, 1.0));
    }

    #[test]
    fn a_southern_season_lies_across_the_new_year() {
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let check =
            |date, hemisphere: Hemisphere, year| assert_eq!(hemisphere.season(day(date)), year);
        check("2026-02-10", Hemisphere::South, 2025);
        check("2026-11-10", Hemisphere::South, 2026);
        check("2026-02-10", Hemisphere::North, 2026);
    }
}
