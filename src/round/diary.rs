//! The program's own past as a round decides by it: read from the memory, by the nursery's clocks.

use crate::config::Config;
use crate::notices::{self, Foretold, Unsent};
use crate::store::{Memory, StoreError};
use chrono::{DateTime, Days, NaiveDate, NaiveDateTime, TimeDelta, Utc};

/// A round that is late by no more than this was not missed.
const IN_TIME: TimeDelta = TimeDelta::hours(2);

/// What happened before so many days is not told after days off.
const LOOKED_BACK: Days = Days::new(62);

/// Rounds, downtime, and letters that did not get out.
pub struct Diary {
    rounds: Vec<NaiveDate>,
    down: Vec<(NaiveDateTime, NaiveDateTime)>,
    unsent: Vec<Unsent>,
}

impl Diary {
    /// Reads it, and writes down that rounds were missed since the last.
    pub fn read(
        memory: &Memory<'_>,
        config: &Config,
        now: DateTime<Utc>,
    ) -> Result<Self, StoreError> {
        let wall = |at: DateTime<Utc>| at.with_timezone(&config.zone).naive_local();
        // Since the round to which the memory was put back the program may well have run.
        let put_back = memory.put_back()?;
        if let Some(last) = memory.last_round()?
            && put_back.is_none_or(|found| found.at <= last)
        {
            let missed = config
                .schedule
                .scheduled_between(last, now - IN_TIME, config.zone);
            if !missed.is_empty() {
                memory.was_down(last, now)?;
            }
        }
        let after = now - LOOKED_BACK;
        let unsent = memory.unsent_after(after)?.into_iter();
        Ok(Self {
            rounds: memory.rounds_before(wall(now).date())?,
            down: memory
                .down_after(after)?
                .into_iter()
                .map(|[from, to]| (wall(from), wall(to)))
                .collect(),
            unsent: unsent
                .map(|letter| Unsent {
                    recipient: letter.recipient,
                    subject: letter.subject,
                    written_on: wall(letter.written_at).date(),
                    waiting: letter.waiting,
                })
                .collect(),
        })
    }

    /// The date of the first of the rounds before that are looked back to.
    pub fn first_round(&self) -> Option<NaiveDate> {
        self.rounds.first().copied()
    }

    /// As the decision reads it.
    pub fn view<'a>(&'a self, foretold: &'a [Foretold]) -> notices::Diary<'a> {
        notices::Diary {
            rounds: &self.rounds,
            down: &self.down,
            unsent: &self.unsent,
            foretold,
        }
    }
}
