//! Steps made into the site's own days.
//!
//! For two days and a half there is an instant each hour, each with the extremes of the six hours that follow it; from
//! then on there are instants and extremes only each six hours of UTC, which are cut by midnight nearly everywhere.
//!
//! What counts for a date, and why:
//! - Instants within it, and six hours that lie wholly within it. Both, for the extremes of a block come from another
//!   calculation than the instants and do not always enclose them.
//! - Six hours that midnight cuts only where nothing better is known of that part of the date, and only for the date
//!   that has the middle of them, so that each counts once. Counted for every date they touch, they would give a site
//!   seven hours behind UTC, where they end at 5 in the morning, tomorrow's dawn as today's minimum; left out, they
//!   would take up to five hours around midnight with them. This way at most three hours of a neighbouring night come
//!   in or stay out.
//! - No date of which more than three hours running are unknown after that, and not the date on which the document
//!   begins unless it begins with it: what was before may have been the warmest. Instants six hours apart alone make no
//!   day: the afternoon's maximum lies between them.

use super::answer::Step;
use crate::days::{Origin, RawDay};
use crate::weather::hours::Gathered;
use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;

/// The longest stretch of a date that may be unknown.
const UNKNOWN: TimeDelta = TimeDelta::hours(3);
const ONE_HOUR: TimeDelta = TimeDelta::hours(1);
const SIX_HOURS: TimeDelta = TimeDelta::hours(6);

/// The days of steps in order of time, all of them forecast, and the dates before the last of them that have holes.
pub fn gather(steps: &[Step], zone: Tz) -> Gathered {
    let mut gathered = Gathered::default();
    let (Some(first), Some(last)) = (steps.first(), steps.last()) else {
        return gathered;
    };
    let rains = rains(steps);
    let date = |at: DateTime<Utc>| at.with_timezone(&zone).date_naive();
    let end = date(last.at + SIX_HOURS);
    for date in date(first.at).iter_days().take_while(|d| *d <= end) {
        let span = Span::of(date, zone);
        // Zones have left out whole dates.
        if span.from >= span.to {
            continue;
        }
        if let Some((min, max)) = extremes(steps, span) {
            gathered.days.push(RawDay {
                date,
                min,
                max,
                gust: gust(steps, span),
                rain: rain(&rains, span),
                origin: Origin::Forecast,
            });
        } else if first.at <= span.from {
            gathered.gaps.push(date);
        }
    }
    let last = gathered.days.last().map(|day| day.date);
    gathered.gaps.retain(|&gap| last.is_some_and(|l| gap < l));
    gathered
}

/// From one instant to another, the second not included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Span {
    from: DateTime<Utc>,
    to: DateTime<Utc>,
}

impl Span {
    fn of(date: NaiveDate, zone: Tz) -> Self {
        Self {
            from: start(date, zone),
            to: start(date.succ_opt().unwrap_or(date), zone),
        }
    }

    fn after(from: DateTime<Utc>, length: TimeDelta) -> Self {
        Self {
            from,
            to: from + length,
        }
    }

    fn has(self, at: DateTime<Utc>) -> bool {
        self.from <= at && at < self.to
    }

    fn has_all(self, other: Self) -> bool {
        self.from <= other.from && other.to <= self.to
    }

    fn has_middle(self, other: Self) -> bool {
        self.has(other.from + (other.to - other.from) / 2)
    }

    fn meets(self, other: Self) -> bool {
        self.from < other.to && other.from < self.to
    }

    /// How much of the other lies outside.
    fn without(self, other: Self) -> TimeDelta {
        (self.from - other.from).max(TimeDelta::zero())
            + (other.to - self.to).max(TimeDelta::zero())
    }

    /// What of it is in none of the others.
    fn gaps(self, others: &[Self]) -> Vec<Self> {
        let mut sorted = others.to_vec();
        sorted.sort_by_key(|other| other.from);
        // The end closes the last gap.
        sorted.push(Self::after(self.to, TimeDelta::zero()));
        let mut gaps = Vec::new();
        let mut reached = self.from;
        for other in sorted {
            let to = other.from.min(self.to);
            if to > reached {
                gaps.push(Self { from: reached, to });
            }
            reached = reached.max(other.to);
        }
        gaps
    }

    /// Whether the others leave out no stretch of it that is too long.
    fn is_known_by(self, others: &[Self]) -> bool {
        let gaps = self.gaps(others);
        gaps.iter().all(|gap| gap.to - gap.from <= UNKNOWN)
    }
}

/// The first instant of a date. Where clocks skip midnight, or the whole date, the first one after it.
fn start(date: NaiveDate, zone: Tz) -> DateTime<Utc> {
    let midnight = date.and_time(NaiveTime::MIN);
    let quarter = |n: i64| midnight + TimeDelta::minutes(15 * n);
    (0..=100)
        .find_map(|n| zone.from_local_datetime(&quarter(n)).earliest())
        .map_or_else(|| midnight.and_utc(), |at| at.to_utc())
}

/// Minimum and maximum of a date, where enough of it is known.
fn extremes(steps: &[Step], date: Span) -> Option<(f64, f64)> {
    let mut known = hourly(steps, |step| step.temperature);
    let mut values: Vec<(f64, f64)> = steps
        .iter()
        .filter(|step| date.has(step.at))
        .filter_map(|step| step.temperature.map(|t| (t, t)))
        .collect();
    let mut cut = Vec::new();
    for step in steps {
        let block = Span::after(step.at, SIX_HOURS);
        match step.extremes {
            Some(both) if date.has_all(block) => {
                known.push(block);
                values.push(both);
            }
            Some(both) if date.has_middle(block) => cut.push((block, both)),
            _ => {}
        }
    }
    cut.sort_by_key(|(block, _)| date.without(*block));
    for (block, both) in cut {
        if date.gaps(&known).iter().any(|gap| gap.meets(block)) {
            known.push(block);
            values.push(both);
        }
    }
    let begins_late = steps.first().is_none_or(|first| {
        // Where zones are half an hour off, the first full hour is not the first instant.
        first.at >= date.from + ONE_HOUR
    });
    if begins_late || !date.is_known_by(&known) {
        return None;
    }
    values
        .into_iter()
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

/// The strongest gust of a date that is known hour by hour: between instants further apart a gale may blow unseen.
fn gust(steps: &[Step], date: Span) -> Option<f64> {
    if !date.is_known_by(&hourly(steps, |step| step.gust)) {
        return None;
    }
    let within = steps.iter().filter(|step| date.has(step.at));
    within.filter_map(|step| step.gust).reduce(f64::max)
}

/// The spans between instants at most an hour apart at which something is known.
fn hourly(steps: &[Step], value: impl Fn(&Step) -> Option<f64>) -> Vec<Span> {
    let pairs = steps.windows(2).filter(|pair| {
        pair[1].at - pair[0].at <= ONE_HOUR && pair.iter().all(|step| value(step).is_some())
    });
    pairs
        .map(|pair| Span {
            from: pair[0].at,
            to: pair[1].at,
        })
        .collect()
}

/// Rain one span after the other: hours where there are hours, else six of them, none twice.
fn rains(steps: &[Step]) -> Vec<(Span, f64)> {
    let mut rains: Vec<(Span, f64)> = Vec::new();
    for step in steps {
        if rains.last().is_some_and(|(before, _)| step.at < before.to) {
            continue;
        }
        let hour = step.rain_1.map(|mm| (Span::after(step.at, ONE_HOUR), mm));
        let six = || step.rain_6.map(|mm| (Span::after(step.at, SIX_HOURS), mm));
        rains.extend(hour.or_else(six));
    }
    rains
}

/// What falls on a date; six hours that midnight cuts count for the date that has the middle of them.
fn rain(rains: &[(Span, f64)], date: Span) -> Option<f64> {
    let on: Vec<_> = rains
        .iter()
        .filter(|(span, _)| date.has_middle(*span))
        .collect();
    let spans: Vec<_> = on.iter().map(|(span, _)| *span).collect();
    date.is_known_by(&spans)
        .then(|| on.iter().map(|(_, mm)| mm).sum())
}

#[cfg(test)]
mod tests;
