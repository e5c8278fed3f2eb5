//! Working off the outbox: carriers side by side, so that one that fails never delays another; the rows of each one
//! after the other, and what became of a row is written down before the next one goes.

use crate::assemble::House;
use crate::post::{Carrier, Outcome, Parcel, next_try};
use crate::store::{OutboxRow, StoreError};
use chrono::{DateTime, TimeDelta, Utc};
use futures_util::future::join_all;
use std::collections::BTreeMap;

/// A row that found its carrier away stands behind the others next time: should the letter itself be what a carrier
/// cannot get through, the others get past it.
const BEHIND: TimeDelta = TimeDelta::seconds(1);

/// Whoever has written so short a time ago is awake, and waits for the receipt.
const AWAKE: TimeDelta = TimeDelta::hours(1);

/// Tries everything that is due to be tried.
pub async fn send(house: &House) -> Result<(), StoreError> {
    let waiting = house.with_store(|memory| memory.waiting(house.clock.now()))?;
    let mut ways: BTreeMap<&str, Vec<&OutboxRow>> = BTreeMap::new();
    for row in &waiting {
        ways.entry(&row.carrier).or_default().push(row);
    }
    let at_work = ways
        .into_iter()
        .map(|(name, rows)| work_off(house, name, rows));
    join_all(at_work).await.into_iter().collect()
}

/// The rows of one carrier. Once it is away the rest waits with it, so that it holds up a round no more than once.
async fn work_off(house: &House, name: &str, rows: Vec<&OutboxRow>) -> Result<(), StoreError> {
    let carrier = house.carriers.iter().find(|c| c.name() == name);
    let mut rows = rows.into_iter();
    while let Some(row) = rows.next() {
        let held = carrier.and_then(|c| held_until(house, c.as_ref(), row));
        if let Some(until) = held
            && !is_awaited(house, row)?
        {
            house.with_store(|memory| memory.hold(row, until))?;
            continue;
        }
        let outcome = carry(house, carrier.map(AsRef::as_ref), row).await?;
        house.health.progress();
        log(row, &outcome);
        write_down(house, [row], &outcome, BEHIND)?;
        if matches!(outcome, Outcome::Away { .. }) {
            return write_down(house, rows, &outcome, TimeDelta::zero());
        }
    }
    Ok(())
}

/// Until when a letter waits for the quiet hours of its recipient to end; none where it may go.
fn held_until(house: &House, carrier: &dyn Carrier, row: &OutboxRow) -> Option<DateTime<Utc>> {
    let config = &house.config;
    let person = config.people.iter().find(|p| p.email == row.recipient)?;
    let until = person.held_until(row.urgent, house.clock.now(), config.zone);
    until.filter(|_| carrier.disturbs())
}

/// Whether it is the receipt of a mail that was written just before, by its own word where that can be.
fn is_awaited(house: &House, row: &OutboxRow) -> Result<bool, StoreError> {
    let answer = house.with_store(|memory| memory.answer_with_receipt(&row.message_id))?;
    let awake = |at: DateTime<Utc>| house.clock.now() - at <= AWAKE;
    Ok(answer.is_some_and(|answer| awake(answer.dated.min(answer.came_at))))
}

async fn carry(
    house: &House,
    carrier: Option<&dyn Carrier>,
    row: &OutboxRow,
) -> Result<Outcome, StoreError> {
    let Some(carrier) = carrier else {
        return Ok(Outcome::Later {
            why: format!("the config has no {} any more", row.carrier),
        });
    };
    let Some(bytes) = house.with_store(|memory| memory.bytes(row))? else {
        return Ok(Outcome::Refused {
            why: "what was written cannot be read in the program's memory any more".into(),
        });
    };
    let parcel = Parcel {
        recipient: row.recipient.clone(),
        message_id: row.message_id.clone(),
        subject: row.subject.clone(),
        bytes,
    };
    Ok(carrier.carry(&parcel).await)
}

fn log(row: &OutboxRow, outcome: &Outcome) {
    let (recipient, carrier) = (&row.recipient, &row.carrier);
    match outcome {
        Outcome::Delivered => {}
        Outcome::Later { why } => tracing::warn!(%recipient, %carrier, "the letter waits: {why}"),
        Outcome::Away { why, .. } => tracing::warn!(%carrier, "its letters wait: {why}"),
        Outcome::Refused { why } => {
            tracing::error!(%recipient, %carrier, "the letter was refused: {why}");
        }
    }
}

/// What became of these rows, all at once. One that waits because its carrier is away counts as tried: nothing is kept back
/// for longer than five days.
fn write_down<'r>(
    house: &House,
    rows: impl IntoIterator<Item = &'r OutboxRow>,
    outcome: &Outcome,
    behind: TimeDelta,
) -> Result<(), StoreError> {
    let now = house.clock.now();
    house.with_store(|memory| {
        rows.into_iter().try_for_each(|row| match outcome {
            Outcome::Delivered => memory.sent(row, now),
            Outcome::Refused { why } => memory.refused(row, now, why),
            Outcome::Later { why } => match next_try(row.tries + 1, now) {
                Some(next) => memory.again(row, next, why),
                None => memory.refused(row, now, why),
            },
            Outcome::Away { why, rest } => match next_try(row.tries + 1, now) {
                Some(next) => {
                    let next = next.max(now + rest.unwrap_or_default());
                    memory.again(row, next + behind, why)
                }
                None => memory.refused(row, now, why),
            },
        })
    })
}
