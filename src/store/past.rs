//! Years before in the store: one packed row a site and year.

use super::readable::unknown;
use super::{Memory, StoreError};
use crate::days::{PastDay, PastYears};
use chrono::{Datelike, NaiveDate};
use rusqlite::types::Type;

/// Says that a day is unknown.
const UNKNOWN: i16 = i16::MIN;
/// So many days has each year, of which the last may not be one ...
const DAYS: usize = 366;
/// ... and so many bytes.
const PACKED: usize = DAYS * 4;

impl Memory<'_> {
    /// Writes down the days of a year in °C; what was held of that year is replaced.
    pub fn absorb_year(
        &self,
        site: &str,
        year: i32,
        source: &str,
        days: &[PastDay],
    ) -> Result<(), StoreError> {
        let mut packed = vec![(UNKNOWN, UNKNOWN); DAYS];
        for day in days.iter().filter(|day| day.date.year() == year) {
            packed[day.date.ordinal0() as usize] = (hundredths(day.min), hundredths(day.max));
        }
        let bytes: Vec<u8> = packed
            .iter()
            .flat_map(|(min, max)| [min.to_le_bytes(), max.to_le_bytes()])
            .flatten()
            .collect();
        self.transaction
            .prepare_cached(
                "INSERT INTO past (site, year, source, days) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (site, year) DO UPDATE SET source = excluded.source, days = excluded.days WHERE days IS NOT excluded.days",
            )?
            .execute((site, year, source, bytes))?;
        Ok(())
    }

    /// The years before that are known of a site.
    pub fn past_years(&self, site: &str) -> Result<PastYears, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT year, days, site FROM past WHERE site = ?1 ORDER BY year")?;
        let years = self.rows("past", &mut read, [site], |row| {
            let days: Vec<u8> = row.get(1)?;
            match days.len() {
                PACKED => Ok((row.get::<_, i32>(0)?, days)),
                _ => Err(unknown(1, Type::Blob)),
            }
        })?;
        let mut past = PastYears::default();
        for (year, bytes) in years {
            for (ordinal, day) in (0_u32..).zip(bytes.chunks_exact(4)) {
                let (min, max) = (
                    i16::from_le_bytes([day[0], day[1]]),
                    i16::from_le_bytes([day[2], day[3]]),
                );
                if let Some(date) = NaiveDate::from_yo_opt(year, ordinal + 1)
                    .filter(|_| min != UNKNOWN && max != UNKNOWN)
                {
                    past.add(year, date, f64::from(min) / 100.0, f64::from(max) / 100.0);
                }
            }
        }
        Ok(past)
    }
}

fn hundredths(t: f64) -> i16 {
    (t * 100.0)
        .round()
        .clamp(f64::from(UNKNOWN + 1), f64::from(i16::MAX)) as i16
}
