//! Whether a round may be walked by the clock, and how it is confirmed: by a server's answer, or by a person's word.
//!
//! The word lies as a small file in the state folder, so that it can be given while the service runs. Walks no round.

use super::errands::{self, Whom};
use crate::assemble::House;
use crate::clock::{self, Doubt, Known, Said};
use crate::store::StoreError;
use chrono::{DateTime, Utc};
use std::path::Path;

/// Its content is the moment that was called right.
const WORD: &str = "clock-is-right";

/// Why no round may be walked by the clock now; none where one may. Where a doubt was cleared, what was written down by a
/// clock that ran ahead is put right.
pub fn clock_doubt(house: &House) -> Result<Option<Doubt>, StoreError> {
    let now = house.clock.now();
    let right_at = house.with_store(|memory| memory.clock_right_at())?;
    let alone = Known {
        right_at,
        said: None,
        has_servers: house.asks_out(),
    };
    let said = if has_word(&house.config.state, now) {
        Some(Said::Agrees)
    } else {
        house.line.heard.said(now)
    };
    let doubt = clock::doubt(now, &Known { said, ..alone });
    // Only where it was called in question is anything put right.
    if doubt.is_none() && clock::doubt(now, &alone).is_some() {
        tracing::info!(%now, "the clock is confirmed; rounds go on from now");
        let today = now.with_timezone(&house.config.zone).date_naive();
        house.with_store(|memory| memory.clock_is_right(now, today))?;
    }
    Ok(doubt)
}

/// Asks the services, only to hear what time it is. What else they say is left.
pub async fn ask_the_time(house: &House) {
    let now = house.clock.now();
    errands::run(house, now, Whom::Everybody, |today| today).await;
}

/// A person says that the clock is right: `now` is what it shows.
pub fn say_clock_is_right(state: &Path, now: DateTime<Utc>) -> std::io::Result<()> {
    crate::whole_file::write(&state.join(WORD), now.to_rfc3339().as_bytes())
}

/// Whether a person has just said so; a word that is older says nothing of now.
fn has_word(state: &Path, now: DateTime<Utc>) -> bool {
    let word = std::fs::read_to_string(state.join(WORD)).ok();
    let said_at: Option<DateTime<Utc>> = word.and_then(|text| text.trim().parse().ok());
    said_at.is_some_and(|at| (now - at).abs() <= clock::SET_BACK)
}
