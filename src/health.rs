//! Whether the program gets on with its work. The watchdog is fed only by real progress: a round that is frozen stops
//! feeding it, and the service manager starts the program anew.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// When something last got done.
#[derive(Debug)]
pub struct Health {
    started: Instant,
    last: AtomicU64,
}

impl Default for Health {
    fn default() -> Self {
        Self {
            started: Instant::now(),
            last: AtomicU64::new(0),
        }
    }
}

impl Health {
    /// Something got done: a source answered, a round was settled, a letter went out, the loop came round.
    pub fn progress(&self) {
        let millis = u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX);
        self.last.store(millis, Ordering::Relaxed);
    }

    /// Whether something got done within the given time.
    pub fn is_alive(&self, within: Duration) -> bool {
        let last = Duration::from_millis(self.last.load(Ordering::Relaxed));
        self.started.elapsed().saturating_sub(last) <= within
    }
}
