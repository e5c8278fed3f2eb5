//! Raw days in the store.

use super::readable::{date_at, moment_at, said};
use super::{Memory, StoreError, moment};
use crate::days::{Origin, RawDay, SourceDays};
use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use rusqlite::Row;
use std::collections::HashMap;

/// A day as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// Who gave it.
    pub source: String,
    /// What was given.
    pub raw: RawDay,
    /// When it was first given with these values.
    pub fetched_at: Option<DateTime<Utc>>,
}

/// A forecast older by more than this than another for the same date is outdated.
const OUTDATED: TimeDelta = TimeDelta::hours(24);

/// A day, and when it was first given with these values.
type Given = (RawDay, Option<DateTime<Utc>>);

/// What was read of days, by site and source, each from some date on.
#[derive(Debug, Default)]
pub(super) struct ReadDays(HashMap<(String, String), (NaiveDate, Vec<Given>)>);

impl ReadDays {
    fn of(&mut self, site: &str, source: &str) -> &mut (NaiveDate, Vec<Given>) {
        let none = || (NaiveDate::MAX, Vec::new());
        let key = (site.to_owned(), source.to_owned());
        self.0.entry(key).or_insert_with(none)
    }
}

/// Leaves out the forecasts for dates of which another source has one that is newer by more than a day.
fn leave_outdated(found: &mut [Vec<Given>]) {
    let mut newest: HashMap<NaiveDate, DateTime<Utc>> = HashMap::new();
    let foretold = found.iter().flatten();
    for (day, at) in foretold.filter(|(day, _)| day.origin == Origin::Forecast) {
        if let Some(at) = *at {
            let newest = newest.entry(day.date).or_insert(at);
            *newest = at.max(*newest);
        }
    }
    let is_outdated = |day: &RawDay, at: Option<DateTime<Utc>>| {
        let newest = newest.get(&day.date);
        let ages = newest.zip(at).map(|(newest, at)| *newest - at);
        day.origin == Origin::Forecast && ages.is_some_and(|age| age > OUTDATED)
    };
    for days in found {
        days.retain(|(day, at)| !is_outdated(day, *at));
    }
}

impl Memory<'_> {
    /// Writes down what a source gave; a later answer replaces an earlier one for the same date, but a forecast never
    /// replaces what came to pass.
    pub fn absorb_days(
        &self,
        site: &str,
        source: &str,
        days: &[RawDay],
        at: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let mut write = self.transaction.prepare_cached(
            "INSERT INTO day (site, source, date, min, max, gust, rain, origin, fetched_at) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
             ON CONFLICT (site, source, date) DO UPDATE SET min = excluded.min, max = excluded.max, gust = excluded.gust,
               rain = excluded.rain, origin = excluded.origin, fetched_at = excluded.fetched_at
             WHERE (excluded.origin <> 'forecast' OR day.origin = 'forecast')
               AND (excluded.origin = 'forecast'
                 OR (min, max, origin, gust, rain) IS NOT (excluded.min, excluded.max, excluded.origin, excluded.gust, excluded.rain))",
        )?;
        let at = moment(at);
        for day in days
            .iter()
            .filter(|d| d.min.is_finite() && d.max.is_finite())
        {
            write.execute((
                site,
                source,
                day.date,
                day.min,
                day.max,
                day.gust,
                day.rain,
                day.origin.name(),
                &at,
            ))?;
        }
        self.read_anew(site, source, days)
    }

    /// Has all days read anew.
    pub(super) fn forget_read_days(&self) {
        if let Some(read) = &self.already_read {
            read.borrow_mut().days = ReadDays::default();
        }
    }

    /// Of days that were read and written since, what stands there now.
    fn read_anew(&self, site: &str, source: &str, days: &[RawDay]) -> Result<(), StoreError> {
        let dates = || days.iter().map(|day| day.date);
        let (Some(read), Some(first), Some(last)) =
            (&self.already_read, dates().min(), dates().max())
        else {
            return Ok(());
        };
        let mut read = read.borrow_mut();
        let (from, known) = read.days.of(site, source);
        let first = first.max(*from);
        let place = |date| known.partition_point(|(day, _)| day.date < date);
        let (start, end) = (place(first), place(last + Days::new(1)));
        let anew = self.given(site, source, first, Some(last))?;
        known.splice(start..end.max(start), anew);
        Ok(())
    }

    /// The days that a source gave from one date to another, both included, or to the last.
    fn given(
        &self,
        site: &str,
        source: &str,
        from: NaiveDate,
        to: Option<NaiveDate>,
    ) -> Result<Vec<Given>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT date, min, max, gust, rain, origin, fetched_at, site, source FROM day WHERE site = ?1 AND source = ?2 AND date BETWEEN ?3 AND coalesce(?4, '9999-12-31') ORDER BY date")?;
        let mut days = self.rows("day", &mut read, (site, source, from, to), |row| {
            let at = self.spared("day", row, moment_at(row, 6))?;
            Ok((raw_day(row)?, at))
        })?;
        // A date that is not written as we write it stands elsewhere in the order of texts, or twice.
        if !days.is_sorted_by(|(one, _), (next, _)| one.date < next.date) {
            days.sort_by_key(|(day, _)| day.date);
            days.dedup_by_key(|(day, _)| day.date);
        }
        Ok(days)
    }

    /// Those from a date on.
    fn given_since(
        &self,
        site: &str,
        source: &str,
        from: NaiveDate,
    ) -> Result<Vec<Given>, StoreError> {
        let all = || self.given(site, source, from, None);
        let Some(read) = &self.already_read else {
            return all();
        };
        let mut read = read.borrow_mut();
        let (since, known) = read.days.of(site, source);
        if from < *since {
            (*since, *known) = (from, all()?);
        }
        let start = known.partition_point(|(day, _)| day.date < from);
        Ok(known[start..].to_vec())
    }

    /// The days of a site from `from` on, by source, in the order of trust given; without the forecasts of a source that
    /// has fallen silent, where another has a newer one.
    pub fn days(
        &self,
        site: &str,
        sources: &[&str],
        from: NaiveDate,
    ) -> Result<Vec<SourceDays>, StoreError> {
        let days = |source: &&str| self.given_since(site, source, from);
        let mut found = sources.iter().map(days).collect::<Result<Vec<_>, _>>()?;
        leave_outdated(&mut found);
        let of = |(source, days): (&&str, Vec<Given>)| SourceDays {
            source: (*source).to_owned(),
            days: days.into_iter().map(|(day, _)| day).collect(),
        };
        Ok(sources.iter().zip(found).map(of).collect())
    }

    /// What sources gave for the dates from `from` to `to`, both included, in the order of trust given.
    pub fn kept(
        &self,
        site: &str,
        sources: &[&str],
        from: NaiveDate,
        to: NaiveDate,
    ) -> Result<Vec<Kept>, StoreError> {
        let mut found = Vec::new();
        for source in sources {
            let days = self.given(site, source, from, Some(to))?.into_iter();
            found.extend(days.map(|(raw, fetched_at)| Kept {
                source: (*source).to_owned(),
                raw,
                fetched_at,
            }));
        }
        Ok(found)
    }
}

/// From the columns date, min, max, gust, rain, origin.
fn raw_day(row: &Row<'_>) -> rusqlite::Result<RawDay> {
    Ok(RawDay {
        date: date_at(row, 0)?,
        min: row.get(1)?,
        max: row.get(2)?,
        gust: row.get(3)?,
        rain: row.get(4)?,
        origin: said(row, 5, Origin::named)?,
    })
}
