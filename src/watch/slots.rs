//! Which round is due, and until when there is none: slots of the schedule against what is remembered of the last one.
//!
//! A slot is known by its moment and by its wall time, so that neither a clock change nor another zone in the config
//! walks one twice. Walks no round.

use super::LONGEST_SLEEP;
use crate::assemble::House;
use crate::schedule::{Slot, politely};
use crate::store::{Memory, StoreError};
use chrono::{DateTime, NaiveDateTime, Timelike, Utc};
use std::time::Duration;

/// A round that asks public services is walked fewer than so many minutes after its slot.
const MOST_DELAY: u32 = 10;
/// The names under which the last slot is remembered.
const LAST_SLOT: &str = "last slot";
const LAST_WALL: &str = "last slot by the clocks";

/// The newest slot that is due and not done; the moment itself where there never was a round. Where services are asked which
/// others ask too, a round is walked so many `minutes` after its slot.
pub(super) fn due(
    house: &House,
    memory: &Memory<'_>,
    minutes: u32,
) -> Result<Option<Slot>, StoreError> {
    let now = house.clock.now();
    let zone = house.config.zone;
    let slot = memory.moment_of(LAST_SLOT)?;
    let last_wall = memory.fact_as(LAST_WALL, |text| text.parse::<NaiveDateTime>().ok())?;
    let Some(last) = slot.or(memory.last_round()?) else {
        let wall = now.with_timezone(&zone).naive_local();
        return Ok(Some(Slot { at: now, wall }));
    };
    let come = |slot: &Slot| !house.asks_out() || is_polite(slot.at, now, minutes);
    // In a zone further west the clocks show a time again that was walked already.
    let again = |slot: &Slot| last_wall.is_some_and(|last| slot.wall <= last);
    let mut due: Vec<Slot> = house.config.schedule.scheduled_between(last, now, zone);
    due.retain(|slot| come(slot) && !again(slot));
    if due.len() > 1 {
        tracing::info!(
            missed = due.len() - 1,
            "rounds were missed; one round makes up for them"
        );
    }
    Ok(due.pop())
}

/// The round of a slot was walked.
pub(super) fn done(house: &House, slot: &Slot) -> Result<(), StoreError> {
    house.with_store(|memory| {
        memory.remember(LAST_SLOT, &slot.at.to_rfc3339())?;
        memory.remember(LAST_WALL, &slot.wall.format("%FT%T").to_string())
    })
}

/// How many minutes after its slot a round is walked that asks services which others ask too: the same at each round of one
/// installation, and hardly the same at another.
pub(super) fn own_minutes(memory: &Memory<'_>) -> Result<u32, StoreError> {
    let secret = memory.secret()?;
    Ok(secret.bytes().map(u32::from).sum::<u32>() % MOST_DELAY)
}

/// Whether a slot's own minute has come, and it is not the first hour in Greenwich, for a slot that is made up for.
fn is_polite(slot: DateTime<Utc>, now: DateTime<Utc>, minutes: u32) -> bool {
    let first_hour = now.hour() == 0;
    !first_hour && politely(slot, minutes) <= now
}

/// Until the next slot or the next try of the outbox, but never long.
pub(super) fn sleep_of(house: &House) -> Result<Duration, StoreError> {
    let now = house.clock.now();
    let slot = house
        .config
        .schedule
        .next_after(now, house.config.zone)
        .map(|slot| slot.at);
    let retry = house.with_store(|memory| memory.next_try())?;
    let until = [slot, retry]
        .into_iter()
        .flatten()
        .min()
        .map_or(LONGEST_SLEEP, |at| (at - now).to_std().unwrap_or_default());
    Ok(until
        .clamp(Duration::from_millis(200), LONGEST_SLEEP)
        .min(super::beat()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(slot: &str, now: &str, polite: bool) {
        let at = |text: &str| text.parse().unwrap();
        for minutes in [0, 9] {
            assert_eq!(is_polite(at(slot), at(now), minutes), polite, "{minutes}");
        }
    }

    #[test]
    fn services_are_not_asked_in_the_first_hour_in_greenwich() {
        check("2026-07-03T04:10:00Z", "2026-07-03T04:09:00Z", false);
        check("2026-07-03T04:10:00Z", "2026-07-03T04:19:00Z", true);
        // A slot of the evening, made up for after a night without current.
        check("2026-07-02T20:00:00Z", "2026-07-03T00:00:00Z", false);
        check("2026-07-02T20:00:00Z", "2026-07-03T00:59:00Z", false);
        check("2026-07-02T20:00:00Z", "2026-07-03T01:00:00Z", true);
        check("2026-07-03T00:10:00Z", "2026-07-03T01:09:00Z", true);
    }
}
