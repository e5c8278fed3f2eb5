//! The clock: wall time for dates and rounds, monotonic time for how long things take.
//! `belief` says whether it can be believed, `heard` keeps what servers say of it.

mod belief;
mod heard;

pub use belief::{APART, Doubt, Known, REMEDY, SET_BACK, Said, Why, doubt};
pub use heard::Heard;

use chrono::{DateTime, TimeDelta, Utc};
use std::sync::Mutex;
use std::time::Instant;

/// Tells the time.
pub trait Clock: Send + Sync {
    /// Wall time, which a person or a time server may set back or forth.
    fn now(&self) -> DateTime<Utc>;
    /// Time that only ever goes on, for how long something took.
    fn monotonic(&self) -> Instant;
}

/// The machine's own clock.
#[derive(Clone, Copy, Debug, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> DateTime<Utc> {
        Utc::now()
    }

    fn monotonic(&self) -> Instant {
        Instant::now()
    }
}

/// A clock set by hand: for rehearsals, for `--at` and for tests.
#[derive(Debug)]
pub struct ManualClock {
    wall: Mutex<DateTime<Utc>>,
    started: Instant,
}

impl ManualClock {
    /// A clock that stands at `now`.
    pub fn at(now: DateTime<Utc>) -> Self {
        Self {
            wall: Mutex::new(now),
            started: Instant::now(),
        }
    }

    /// Sets the wall time.
    pub fn set(&self, now: DateTime<Utc>) {
        *self.held() = now;
    }

    /// Lets time pass.
    pub fn advance(&self, by: TimeDelta) {
        *self.held() += by;
    }

    fn held(&self) -> std::sync::MutexGuard<'_, DateTime<Utc>> {
        self.wall
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}

impl Clock for ManualClock {
    fn now(&self) -> DateTime<Utc> {
        *self.held()
    }

    fn monotonic(&self) -> Instant {
        self.started
    }
}
