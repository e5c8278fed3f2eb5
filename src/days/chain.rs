//! The chain of sources: for each date the most trusted one, and what stands in for it.

use super::{Day, Origin, Rank, RawDay, Remark, Shift, Thresholds};
use crate::problem::Problem;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// A source that stands in is shifted by its mean difference over at most so many common days ...
const COMMON_MOST: usize = 30;
/// ... and at least so many.
const COMMON_LEAST: usize = 10;

/// The sound days of one source.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound<'a> {
    /// The source.
    pub source: &'a str,
    /// Its rank.
    pub rank: Rank,
    /// Its days, in order of date.
    pub days: Vec<Day>,
}

impl Sound<'_> {
    /// Takes a day that is later than all before, with what is doubtful about it.
    pub fn take(&mut self, raw: &RawDay, doubt: Option<Remark>) {
        self.days.push(Day {
            date: raw.date,
            min: raw.min,
            max: raw.max,
            gust: raw.gust,
            rain: raw.rain,
            origin: raw.origin,
            source: Some(self.rank),
            remark: doubt,
            shift: None,
        });
    }

    fn day(&self, date: NaiveDate) -> Option<&Day> {
        // Where no day is missing, its place is known.
        let place = usize::try_from((date - self.days.first()?.date).num_days()).ok()?;
        let there = self.days.get(place).filter(|day| day.date == date);
        there.or_else(|| {
            let place = self.days.binary_search_by_key(&date, |day| day.date).ok()?;
            self.days.get(place)
        })
    }

    fn before(&self, date: NaiveDate) -> &[Day] {
        &self.days[..self.days.partition_point(|day| day.date < date)]
    }

    fn passed(&self, date: NaiveDate) -> Option<&Day> {
        self.day(date).filter(|d| d.came_to_pass())
    }
}

/// For each date from `first` on, before which no source knows a day, the day of the first source that has more than a
/// forecast of it, else of the first that has a forecast. What stands in for a better source is shifted to agree with it.
pub fn choose(sources: &[Sound<'_>], first: NaiveDate, count: usize) -> Vec<Option<Day>> {
    let mut shifts: BTreeMap<usize, Vec<(NaiveDate, Shift)>> = BTreeMap::new();
    let mut rest: Vec<&[Day]> = sources.iter().map(|s| s.days.as_slice()).collect();
    let mut chosen = |date: NaiveDate| {
        let mut best: Option<(usize, Day)> = None;
        for (at, rest) in rest.iter_mut().enumerate() {
            let Some((day, after)) = rest.split_first().filter(|(day, _)| day.date == date) else {
                continue;
            };
            *rest = after;
            if best.is_none_or(|(_, best)| day.came_to_pass() && !best.came_to_pass()) {
                best = Some((at, *day));
            }
        }
        let (at, mut day) = best?;
        if at > 0
            && let Some(shift) = shift_of(sources, at, date, &mut shifts)
        {
            shift.apply(&mut day);
        }
        Some(day)
    };
    let mut days = Vec::with_capacity(count);
    days.extend(first.iter_days().take(count).map(&mut chosen));
    days
}

/// Gust and rain where the source of a day's temperatures does not say: from the most trusted source that saw the day, else
/// from the most trusted one that foretold it.
pub fn wind_and_rain(days: &mut [Option<Day>], sources: &[Sound<'_>]) {
    if sources.len() < 2 {
        return;
    }
    for day in days.iter_mut().flatten() {
        if day.gust.is_some() && day.rain.is_some() {
            continue;
        }
        let seen = sources.iter().filter_map(|s| s.passed(day.date));
        let foretold = sources.iter().filter_map(|s| s.day(day.date));
        let (mut gust, mut rain) = (day.gust, day.rain);
        for other in seen.chain(foretold) {
            gust = gust.or(other.gust);
            rain = rain.or(other.rain);
        }
        (day.gust, day.rain) = (gust, rain);
    }
}

/// The shift of a source, to the most trusted one with enough days in common before the date.
fn shift_of(
    sources: &[Sound<'_>],
    at: usize,
    date: NaiveDate,
    known: &mut BTreeMap<usize, Vec<(NaiveDate, Shift)>>,
) -> Option<Shift> {
    let (standing_in, better) = (&sources[at], &sources[..at]);
    let common = |other: &Sound<'_>| -> Vec<(f64, f64)> {
        let days = other.before(date).iter().rev();
        let days = days.filter(|d| d.came_to_pass());
        days.filter_map(|theirs| {
            standing_in
                .passed(theirs.date)
                .map(|ours| (theirs.min - ours.min, theirs.max - ours.max))
        })
        .take(COMMON_MOST)
        .collect()
    };
    // Adjoining days share the same last common day, and so the same shift.
    let last_common = better
        .iter()
        .filter_map(|s| s.before(date).last().map(|d| d.date))
        .max()?;
    if let Some((_, shift)) = known
        .get(&at)
        .and_then(|list| list.iter().find(|(day, _)| *day == last_common))
    {
        return Some(*shift);
    }
    let (other, differences) = better
        .iter()
        .map(|s| (s, common(s)))
        .find(|(_, d)| d.len() >= COMMON_LEAST)?;
    let mean = |of: fn(&(f64, f64)) -> f64| {
        differences.iter().map(of).sum::<f64>() / differences.len() as f64
    };
    let shift = Shift {
        min: mean(|d| d.0),
        max: mean(|d| d.1),
        to: other.rank,
    };
    known.entry(at).or_default().push((last_common, shift));
    Some(shift)
}

impl Shift {
    fn apply(self, day: &mut Day) {
        let (min, max) = (day.min + self.min, day.max + self.max);
        // Where the difference between day and night shrinks below nothing, the day is flat at its mean.
        (day.min, day.max) = if min <= max {
            (min, max)
        } else {
            (f64::midpoint(min, max), f64::midpoint(min, max))
        };
        day.shift = Some(self);
    }
}

/// The two most trusted sources that know the newest days, where the means of their days are far apart for days running.
pub fn disagreement(site: &str, sources: &[Sound<'_>], thresholds: &Thresholds) -> Option<Problem> {
    let (apart, apart_days) = (thresholds.apart, thresholds.apart_days as usize);
    let newest = |s: &Sound<'_>| {
        s.days
            .iter()
            .rev()
            .find(|d| d.came_to_pass())
            .map(|d| d.date)
    };
    let mut knowing = sources.iter().filter(|s| newest(s).is_some());
    let (one, other) = (knowing.next()?, knowing.next()?);
    let common: Vec<(NaiveDate, f64)> = one
        .days
        .iter()
        .rev()
        .filter(|d| d.came_to_pass())
        .filter_map(|d| {
            other
                .passed(d.date)
                .map(|o| (d.date, (d.mean() - o.mean()).abs()))
        })
        .take(apart_days)
        .collect();
    let running = common.len() == apart_days
        && common
            .windows(2)
            .all(|pair| pair[1].0.succ_opt() == Some(pair[0].0));
    let last = common.first()?.0;
    (running && common.iter().all(|(_, found)| *found > apart)).then(|| {
        let (one, other) = (one.source, other.source);
        Problem::new(
            format!("site {site}"),
            format!("{one} and {other} are more than {apart} °C apart on {apart_days} days running up to {last}"),
            format!("{one} is used"),
            "look whether the instrument stands in the sun or has moved",
        )
        .keyed(format!("site {site}: {one} and {other} apart in {}", last.format("%Y-%m")))
    })
}

impl Day {
    /// Whether it was measured or modelled, not foretold and not put in.
    pub fn came_to_pass(&self) -> bool {
        matches!(self.origin, Origin::Measured | Origin::Modelled)
    }
}
