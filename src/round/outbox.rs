//! Working off the outbox. What became of a letter is written down before the next one goes.

use crate::assemble::House;
use crate::post::{Outcome, Parcel, next_try};
use crate::store::{OutboxRow, StoreError};

/// Tries everything that is due to be tried, the oldest first, one after the other.
pub async fn send(house: &House) -> Result<(), StoreError> {
    let waiting = house.with_store(|memory| memory.waiting(house.clock.now()))?;
    for row in waiting {
        let Some(carrier) = house.carriers.iter().find(|c| c.name() == row.carrier) else {
            continue;
        };
        let parcel = Parcel {
            recipient: row.recipient.clone(),
            message_id: row.message_id.clone(),
            subject: row.subject.clone(),
            bytes: row.bytes.clone(),
        };
        let outcome = carrier.carry(&parcel).await;
        house.health.progress();
        write_down(house, &row, &outcome)?;
    }
    Ok(())
}

fn write_down(house: &House, row: &OutboxRow, outcome: &Outcome) -> Result<(), StoreError> {
    let now = house.clock.now();
    let (recipient, carrier) = (&row.recipient, &row.carrier);
    match outcome {
        Outcome::Delivered => {}
        Outcome::Later { why } => tracing::warn!(%recipient, %carrier, "the letter waits: {why}"),
        Outcome::Refused { why } => {
            tracing::error!(%recipient, %carrier, "the letter was refused: {why}");
        }
    }
    house.with_store(|memory| match outcome {
        Outcome::Delivered => memory.sent(row, now),
        Outcome::Refused { why } => memory.refused(row, now, why),
        Outcome::Later { why } => match next_try(row.tries + 1, now) {
            Some(next) => memory.again(row, next, why),
            None => memory.refused(row, now, why),
        },
    })
}
