//! Raw days in the store.

use super::readable::{date_at, moment_at, said};
use super::{Memory, StoreError, moment};
use crate::days::{Origin, RawDay, SourceDays};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
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

/// Leaves out the forecasts for dates of which another source has one that is newer by more than a day.
fn leave_outdated(found: &mut [SourceDays], fetched: &[Vec<Option<DateTime<Utc>>>]) {
    let mut newest: HashMap<NaiveDate, DateTime<Utc>> = HashMap::new();
    for (source, fetched) in found.iter().zip(fetched) {
        for (day, at) in source.days.iter().zip(fetched) {
            if let Some(at) = at.filter(|_| day.origin == Origin::Forecast) {
                let newest = newest.entry(day.date).or_insert(at);
                *newest = at.max(*newest);
            }
        }
    }
    for (source, fetched) in found.iter_mut().zip(fetched) {
        let mut fetched = fetched.iter();
        source.days.retain(|day| {
            let at = fetched.next().copied().flatten();
            let newest = newest
                .get(&day.date)
                .filter(|_| day.origin == Origin::Forecast);
            newest
                .zip(at)
                .is_none_or(|(newest, at)| *newest - at <= OUTDATED)
        });
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
        Ok(())
    }

    /// The days of a site from `from` on, by source, in the order of trust given; without the forecasts of a source that
    /// has fallen silent, where another has a newer one.
    pub fn days(
        &self,
        site: &str,
        sources: &[&str],
        from: NaiveDate,
    ) -> Result<Vec<SourceDays>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT date, min, max, gust, rain, origin, fetched_at, site, source FROM day WHERE site = ?1 AND source = ?2 AND date >= ?3 ORDER BY date")?;
        let mut found = Vec::new();
        let mut fetched: Vec<Vec<Option<DateTime<Utc>>>> = Vec::new();
        for source in sources {
            let rows = self.rows("day", &mut read, (site, source, from), |row| {
                let at = self.spared("day", row, moment_at(row, 6))?;
                Ok((raw_day(row)?, at))
            })?;
            let (days, at): (Vec<RawDay>, Vec<_>) = rows.into_iter().unzip();
            found.push(SourceDays {
                source: (*source).to_owned(),
                days,
            });
            fetched.push(at);
        }
        leave_outdated(&mut found, &fetched);
        Ok(found)
    }

    /// What sources gave for the dates from `from` to `to`, both included, in the order of trust given.
    pub fn kept(
        &self,
        site: &str,
        sources: &[&str],
        from: NaiveDate,
        to: NaiveDate,
    ) -> Result<Vec<Kept>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT date, min, max, gust, rain, origin, fetched_at, site, source FROM day
             WHERE site = ?1 AND source = ?2 AND date BETWEEN ?3 AND ?4 ORDER BY date",
        )?;
        let mut found = Vec::new();
        for source in sources {
            found.extend(
                self.rows("day", &mut read, (site, source, from, to), |row| {
                    let at = self.spared("day", row, moment_at(row, 6))?;
                    Ok(Kept {
                        source: (*source).to_owned(),
                        raw: raw_day(row)?,
                        fetched_at: at,
                    })
                })?,
            );
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
