//! What the memory knows of the time, and setting it right after the clock ran ahead.

use super::{Memory, StoreError, moment};
use chrono::{DateTime, NaiveDate, Utc};

/// The names under which moments are remembered that a round of today goes by.
const MOMENTS: [&str; 4] = [
    "last round",
    "services asked",
    "last slot",
    "last good round",
];

impl Memory<'_> {
    /// When the clock was last known to be right: at the last round, or when it was last confirmed.
    pub fn clock_right_at(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        let confirmed = self.moment_of("clock confirmed")?;
        Ok(self.last_round()?.max(confirmed))
    }

    /// The clock is right, says a server or a person. What was written down by one that ran ahead is taken back to now,
    /// so that it holds nothing up: rounds, services to be left alone, letters to be tried. `today` is the nursery's.
    pub fn clock_is_right(&self, now: DateTime<Utc>, today: NaiveDate) -> Result<(), StoreError> {
        let at = moment(now);
        self.remember("clock confirmed", &at)?;
        for name in MOMENTS {
            if self.moment_of(name)?.is_some_and(|told| told > now) {
                self.remember(name, &at)?;
            }
        }
        self.transaction.execute(
            "DELETE FROM fact WHERE key = 'last slot by the clocks' AND value > ?1",
            [today],
        )?;
        self.transaction
            .execute("DELETE FROM round_on WHERE date > ?1", [today])?;
        for sql in [
            "DELETE FROM down WHERE until > ?1",
            "UPDATE outbox SET next_try_at = ?1 WHERE state = 'waiting' AND next_try_at > ?1",
            "UPDATE source SET not_before = NULL WHERE not_before > ?1",
            "UPDATE source SET failing_since = ?1 WHERE failing_since > ?1",
            "UPDATE source SET answered_at = NULL WHERE answered_at > ?1",
            "UPDATE day SET fetched_at = ?1 WHERE fetched_at > ?1",
        ] {
            self.transaction.execute(sql, [&at])?;
        }
        self.forget_read_days();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use crate::store::{SourceMemory, Store, StoreError};
    use chrono::{DateTime, TimeDelta, Utc};

    #[test]
    fn what_a_clock_wrote_that_ran_ahead_holds_nothing_up() {
        let now: DateTime<Utc> = "2026-07-03T04:10:00Z".parse().unwrap();
        let ahead = now + TimeDelta::days(365);
        let mut store = Store::in_memory().unwrap();
        let kept = store.settle(|memory| {
            memory.round_done(ahead, ahead.date_naive())?;
            memory.was_down(now - TimeDelta::days(1), ahead)?;
            memory.remember_source(
                "hill",
                "open-meteo",
                &SourceMemory {
                    not_before: Some(ahead),
                    failing_since: Some(ahead),
                    answered_at: Some(ahead),
                    memo: Some("kept".into()),
                },
            )?;
            memory.clock_is_right(now, now.date_naive())?;
            Ok::<_, StoreError>((
                memory.last_round()?,
                memory.last_asking()?,
                memory.clock_right_at()?,
                memory.had_round_on(ahead.date_naive())?,
                memory.down_after(now)?.len(),
                memory.source("hill", "open-meteo")?,
            ))
        });
        let source = SourceMemory {
            memo: Some("kept".into()),
            failing_since: Some(now),
            ..SourceMemory::default()
        };
        assert_eq!(
            kept.unwrap(),
            (Some(now), Some(now), Some(now), false, 0, source)
        );
    }

    #[test]
    fn what_was_before_stays() {
        let now: DateTime<Utc> = "2026-07-03T04:10:00Z".parse().unwrap();
        let before = now - TimeDelta::days(1);
        let mut store = Store::in_memory().unwrap();
        let kept = store.settle(|memory| {
            memory.round_done(before, before.date_naive())?;
            memory.was_down(before - TimeDelta::days(1), before)?;
            memory.clock_is_right(now, now.date_naive())?;
            Ok::<_, StoreError>((
                memory.last_round()?,
                memory.had_round_on(before.date_naive())?,
                memory.down_after(before - TimeDelta::days(2))?.len(),
            ))
        });
        assert_eq!(kept.unwrap(), (Some(before), true, 1));
    }
}
