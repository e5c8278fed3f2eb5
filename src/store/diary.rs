//! What the program remembers of its own past: rounds, downtime, dates it gave, letters that did not get out.

use super::readable::{date_at, moment_at, said};
use super::{Memory, StoreError, moment};
use crate::notices::Foretold;
use crate::outlook::Band;
use chrono::{DateTime, NaiveDate, Utc};

/// So many dates with rounds are looked back on.
const ROUNDS: u32 = 62;

/// A letter that did not get out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StuckLetter {
    /// To whom.
    pub recipient: String,
    /// Its subject line.
    pub subject: String,
    /// The moment of its round.
    pub written_at: DateTime<Utc>,
    /// Whether it is still tried.
    pub waiting: bool,
}

impl Memory<'_> {
    /// The moment of the last round.
    pub fn last_round(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        self.moment_of("last round")
    }

    /// Remembers a round, by its moment and its date in the nursery.
    pub fn round_done(&self, at: DateTime<Utc>, date: NaiveDate) -> Result<(), StoreError> {
        self.remember("last round", &moment(at))?;
        self.remember("services asked", &moment(at))?;
        self.transaction
            .prepare_cached(
                "INSERT INTO round_on (date) VALUES (?1) ON CONFLICT (date) DO NOTHING",
            )?
            .execute([date])?;
        Ok(())
    }

    /// Remembers a round that only took answers: the day's own round is still to come.
    pub fn answers_taken(&self, at: DateTime<Utc>) -> Result<(), StoreError> {
        self.remember("last round", &moment(at))
    }

    /// Whether the day's own round was walked.
    pub fn had_round_on(&self, date: NaiveDate) -> Result<bool, StoreError> {
        Ok(self
            .transaction
            .prepare_cached("SELECT 1 FROM round_on WHERE date = ?1")?
            .exists([date])?)
    }

    /// The moment of the last round in which services were asked.
    pub fn last_asking(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        match self.moment_of("services asked")? {
            None => self.last_round(),
            asked => Ok(asked),
        }
    }

    /// The last dates before `today` with a round, in order.
    pub fn rounds_before(&self, today: NaiveDate) -> Result<Vec<NaiveDate>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT date FROM round_on WHERE date < ?1 OR julianday(date) IS NULL ORDER BY date DESC LIMIT ?2",
        )?;
        let mut dates: Vec<NaiveDate> =
            self.rows("round_on", &mut read, (today, ROUNDS), |row| {
                date_at(row, 0)
            })?;
        dates.reverse();
        Ok(dates)
    }

    /// Remembers that scheduled rounds were missed between these two.
    pub fn was_down(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached(
                "INSERT INTO down (since, until) VALUES (?1, ?2) ON CONFLICT (since) DO NOTHING",
            )?
            .execute((moment(from), moment(to)))?;
        Ok(())
    }

    /// The spans with missed rounds that ended after a moment, in order.
    pub fn down_after(&self, after: DateTime<Utc>) -> Result<Vec<[DateTime<Utc>; 2]>, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT since, until FROM down WHERE until > ?1 ORDER BY since")?;
        self.rows("down", &mut read, [moment(after)], |row| {
            Ok([moment_at(row, 0)?, moment_at(row, 1)?])
        })
    }

    /// Remembers a date that is given in a letter; of several on one day the first.
    pub fn foretell(&self, told: &Foretold) -> Result<(), StoreError> {
        self.transaction
            .prepare_cached(
                "INSERT INTO foretold (batch, step, grafted_on, told_on, p10, p50, p90)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT DO NOTHING",
            )?
            .execute((
                &told.batch,
                &told.step,
                told.grafted_on,
                told.told_on,
                told.band.p10,
                told.band.p50,
                told.band.p90,
            ))?;
        Ok(())
    }

    /// The dates that were given for graftings of a season, whether it lies in that year or across its end.
    pub fn foretold_in(&self, year: i32) -> Result<Vec<Foretold>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT batch, step, grafted_on, told_on, p10, p50, p90 FROM foretold
             WHERE grafted_on BETWEEN ?1 AND ?2 OR julianday(grafted_on) IS NULL ORDER BY batch, step, told_on",
        )?;
        self.rows(
            "foretold",
            &mut read,
            [format!("{year}-01-01"), format!("{}-12-31", year + 1)],
            |row| {
                Ok(Foretold {
                    batch: row.get(0)?,
                    step: row.get(1)?,
                    grafted_on: row.get(2)?,
                    told_on: row.get(3)?,
                    band: Band {
                        p10: row.get(4)?,
                        p50: row.get(5)?,
                        p90: row.get(6)?,
                    },
                })
            },
        )
    }

    /// Letters written after a moment that a carrier has not taken, in order; not those that only wait for quiet hours
    /// to end.
    pub fn unsent_after(&self, after: DateTime<Utc>) -> Result<Vec<StuckLetter>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT recipient, subject, round_at, state, letter, carrier FROM outbox JOIN letter ON letter.id = outbox.letter
             WHERE state <> 'sent' AND round_at > ?1 AND NOT (state = 'waiting' AND tries = 0 AND next_try_at > round_at)
             ORDER BY letter.id",
        )?;
        let rows = self.rows("outbox", &mut read, [moment(after)], |row| {
            let letter = StuckLetter {
                recipient: row.get(0)?,
                subject: row.get(1)?,
                written_at: moment_at(row, 2)?,
                waiting: said(row, 3, is_waiting)?,
            };
            Ok((row.get(4)?, letter))
        })?;
        let mut letters: Vec<(i64, StuckLetter)> = Vec::new();
        for (id, letter) in rows {
            match letters.last_mut() {
                Some((last, of)) if *last == id => of.waiting |= letter.waiting,
                _ => letters.push((id, letter)),
            }
        }
        Ok(letters.into_iter().map(|(_, letter)| letter).collect())
    }
}

/// Whether a letter that is not out waits for its carrier.
fn is_waiting(state: &str) -> Option<bool> {
    match state {
        "waiting" => Some(true),
        "refused" => Some(false),
        _ => None,
    }
}
