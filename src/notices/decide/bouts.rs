//! What was told of stretches of days at a site: which lines of the ledger speak of one and the same spell, gale or frost,
//! and which of these were taken back.
//!
//! A stretch stays the same while any day of it adjoins one told. Knows the ledger, and nothing of the weather.

use crate::notices::notice::{Kind, Ledger, Told};
use chrono::{Days, NaiveDate};

/// One stretch of days as it was told, in one notice or several.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Bout {
    /// The anchor of the notice that told it first.
    pub anchor: String,
    /// See [`crate::notices::Notice::n`]: the how-manieth time that it is told from the beginning.
    pub n: u32,
    /// Its first day.
    pub first: NaiveDate,
    /// Its last day.
    pub last: NaiveDate,
    /// How bad it was called at the worst: see [`rank_of`].
    pub rank: usize,
    /// When it was told last.
    pub told_on: NaiveDate,
    /// Whether it was taken back.
    pub taken_back: bool,
}

impl Bout {
    /// Whether no more than `apart` days lie between this and other days, from the last of the one to the first of the other.
    pub fn adjoins(&self, first: NaiveDate, last: NaiveDate, apart: u64) -> bool {
        first <= self.last + Days::new(apart) && self.first <= last + Days::new(apart)
    }
}

/// The first day of a stretch; of a cold one its anchor once named a plan behind it.
fn first_of(told: &Told) -> NaiveDate {
    let first = told.anchor.split(' ').next().unwrap_or_default();
    first.parse().unwrap_or(told.on)
}

/// How bad a line of the ledger says it is: for heat its level, a hard frost above a near one.
fn rank_of(told: &Told) -> usize {
    told.level
        .map_or(usize::from(told.step == HARD), |level| level as usize)
}

/// The word for a hard frost.
pub(super) const HARD: &str = "hard";

/// What was told of a kind at a site, bout by bout.
pub(super) fn told(ledger: &Ledger, kind: Kind, site: &str, apart: u64) -> Vec<Bout> {
    let mut bouts: Vec<Bout> = Vec::new();
    for told in ledger.of(kind, site) {
        let first = first_of(told);
        let (last, rank) = (told.until.unwrap_or(first).max(first), rank_of(told));
        let same = |b: &&mut Bout| b.n == told.n && b.adjoins(first, last, apart);
        if let Some(bout) = bouts.iter_mut().find(same) {
            bout.first = bout.first.min(first);
            bout.last = bout.last.max(last);
            bout.rank = bout.rank.max(rank);
            bout.told_on = told.told_on;
        } else {
            bouts.push(Bout {
                anchor: told.anchor.to_string(),
                n: told.n,
                first,
                last,
                rank,
                told_on: told.told_on,
                taken_back: false,
            });
        }
    }
    for bout in &mut bouts {
        let back = |w: &Told| w.step == kind.name() && w.anchor == bout.anchor && w.n == bout.n;
        bout.taken_back = ledger.of(Kind::RiskOver, site).iter().any(back);
    }
    bouts
}

/// The number under which days are news: none where they were told as bad as this, one more where all that was told of
/// them was taken back.
pub(super) fn number(
    told: &[Bout],
    (first, last): (NaiveDate, NaiveDate),
    rank: usize,
    apart: u64,
) -> Option<u32> {
    let same = || told.iter().filter(|b| b.adjoins(first, last, apart));
    let mut standing = same().filter(|b| !b.taken_back).peekable();
    if standing.peek().is_none() {
        return Some(same().map(|b| b.n).max().map_or(1, |n| n + 1));
    }
    let worst = standing.max_by_key(|b| (b.rank, b.n))?;
    (worst.rank < rank).then_some(worst.n)
}
