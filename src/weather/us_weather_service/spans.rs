//! Values over spans of time, and what of them falls on one date of a zone.
//!
//! Dates have 23, 24 or 25 hours, as their zone gives them. Pure; knows no document.

use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;

/// One value over one span.
#[derive(Clone, Copy, Debug)]
pub struct Span {
    /// Its first instant.
    pub from: DateTime<Utc>,
    /// The instant after its last.
    pub to: DateTime<Utc>,
    /// In whatever unit.
    pub value: f64,
}

/// The stretch of time of a date in a zone.
pub struct Hours {
    from: DateTime<Utc>,
    to: DateTime<Utc>,
}

impl Hours {
    /// None for a date that the zone left out.
    pub fn of(date: NaiveDate, zone: Tz) -> Option<Self> {
        let (from, to) = (
            starts(date, zone)?,
            starts(date.checked_add_days(Days::new(1))?, zone)?,
        );
        (from < to).then_some(Self { from, to })
    }

    /// The spans cut to this date with their full lengths, when they leave at most an hour of it open.
    fn within(&self, spans: &[Span]) -> Option<Vec<(Span, TimeDelta)>> {
        let parts: Vec<_> = spans
            .iter()
            .filter(|span| span.from < self.to && span.to > self.from)
            .map(|span| {
                let part = Span {
                    from: span.from.max(self.from),
                    to: span.to.min(self.to),
                    value: span.value,
                };
                (part, span.to - span.from)
            })
            .collect();
        let covered: TimeDelta = parts.iter().map(|(part, _)| part.to - part.from).sum();
        (covered >= self.to - self.from - TimeDelta::hours(1)).then_some(parts)
    }

    /// The strongest value of the date, when nearly all of it is known.
    pub fn strongest(&self, spans: &[Span]) -> Option<f64> {
        let parts = self.within(spans)?;
        parts.iter().map(|(part, _)| part.value).reduce(f64::max)
    }

    /// The sum over the date, when nearly all of it is known. What falls within a span falls evenly.
    pub fn sum(&self, spans: &[Span]) -> Option<f64> {
        let share = |(part, whole): &(Span, TimeDelta)| {
            let seconds = |length: TimeDelta| length.num_seconds() as f64;
            part.value * seconds(part.to - part.from) / seconds(*whole)
        };
        Some(self.within(spans)?.iter().map(share).sum())
    }
}

/// The first instant of a date. Where the clocks leave midnight out, it is the first that exists.
pub fn starts(date: NaiveDate, zone: Tz) -> Option<DateTime<Utc>> {
    (0..8).find_map(|quarters| {
        let at = date.and_time(NaiveTime::MIN) + TimeDelta::minutes(15 * quarters);
        Some(at.and_local_timezone(zone).earliest()?.to_utc())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono_tz::America;

    #[test]
    fn a_date_begins_where_its_zone_begins_it() {
        let starts = |date: &str, zone| starts(date.parse().unwrap(), zone).unwrap().to_string();
        assert_eq!(
            starts("2026-11-01", America::New_York),
            "2026-11-01 04:00:00 UTC"
        );
        assert_eq!(
            starts("2026-11-02", America::New_York),
            "2026-11-02 05:00:00 UTC"
        );
        // Midnight itself does not exist there on that day.
        assert_eq!(
            starts("2026-09-06", America::Santiago),
            "2026-09-06 04:00:00 UTC"
        );
    }
}
