//! While the clock cannot be right: says so, and asks the services for the time, later and later.
//!
//! Nothing goes by mail meanwhile: a letter would carry the wrong date, and the certificates of servers are judged by the
//! same clock.

use crate::assemble::House;
use crate::clock::{Doubt, REMEDY};
use crate::round::ask_the_time;
use crate::store::StoreError;
use std::time::{Duration, Instant};

/// Until the services are asked for the time again; the last one repeats.
const GAPS: [Duration; 4] = [
    Duration::from_secs(60),
    Duration::from_secs(5 * 60),
    Duration::from_secs(20 * 60),
    Duration::from_secs(60 * 60),
];

/// What was done about it so far.
#[derive(Default)]
pub(super) struct Refusal {
    asked: usize,
    next: Option<Instant>,
}

impl Refusal {
    /// Says so and asks, where it is time to.
    pub async fn go_on(&mut self, house: &House, doubt: &Doubt) -> Result<(), StoreError> {
        let now = house.clock.monotonic();
        if self.next.is_some_and(|next| now < next) {
            return Ok(());
        }
        self.next = Some(now + GAPS[self.asked.min(GAPS.len() - 1)]);
        self.asked += 1;
        tracing::error!("{doubt}; no round is walked and nothing is sent. To mend it, {REMEDY}");
        super::show(&format!("no round is walked: {doubt}"));
        ask_the_time(house).await;
        Ok(())
    }

    /// The clock is believed.
    pub fn end(&mut self) {
        if self.next.is_some() {
            super::show(super::WAITING);
        }
        *self = Self::default();
    }
}
