//! Carriers: each file meets one way out of the house and says what became of a letter.
//!
//! A letter comes as the exact bytes of its outbox row; a further try carries the same bytes, so that a letter whose
//! fate is unknown can be known again by its Message-ID. Knows nothing of notices or of the store.

mod folder;
pub mod hook;
mod log;
pub mod message;
mod picture;
mod smtp;

pub use folder::Folder;
pub use hook::{Hook, HookSettings, HookTo};
pub use log::Log;
pub use picture::Pictures;
pub use smtp::{Security, Smtp, SmtpSettings};

use chrono::{DateTime, TimeDelta, Utc};
use std::future::Future;
use std::pin::Pin;

/// A future that may be stored and sent between threads.
pub type Pending<'a, T> = Pin<Box<dyn Future<Output = T> + Send + 'a>>;

/// One letter to one person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Parcel {
    /// The bare address it goes to.
    pub recipient: String,
    /// The Message-ID, the same at each try.
    pub message_id: String,
    /// The subject as a person reads it.
    pub subject: String,
    /// What is handed over, exactly as it is: the whole RFC 5322 message, lines ending in CRLF; for the hook its JSON.
    pub bytes: Vec<u8>,
}

/// What became of a letter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// The other side has taken it.
    Delivered,
    /// Not now, or nobody knows: the same bytes again later.
    Later {
        /// What happened, in a grower's words.
        why: String,
    },
    /// The other side itself does not answer, so that nothing else need be tried with it now: the same bytes later.
    Away {
        /// What happened, in a grower's words.
        why: String,
        /// For how long it asks to be left alone.
        rest: Option<TimeDelta>,
    },
    /// Never like this.
    Refused {
        /// What happened, in a grower's words.
        why: String,
    },
}

/// One way out.
pub trait Carrier: Send + Sync {
    /// "smtp", "folder", "hook" or "log": the word in the store.
    fn name(&self) -> &'static str;
    /// Whether what it carries reaches a person at once, who may be asleep.
    fn disturbs(&self) -> bool {
        true
    }
    /// Carries one letter. Never fails a round: what went wrong is the outcome.
    fn carry<'a>(&'a self, parcel: &'a Parcel) -> Pending<'a, Outcome>;
}

/// Gaps between tries, in minutes; the last one repeats. No longer than an hour: once the server is back, a warning of heat
/// goes out within it. RFC 5321, 4.5.4.1 asks for 30 minutes between tries, and lets the first ones come sooner.
const GAPS: [i64; 5] = [1, 5, 15, 30, 60];
/// With the 124th try almost five days have passed (4 days 23 h 51 min), which is how long mail servers try
/// (RFC 5321, 4.5.4.1: at least 4-5 days).
const MOST_TRIES: u32 = 124;

/// When to try again after `tries` tries without success, the last of them at `now`; none when it is given up.
///
/// ```
/// use graftwarden::post::next_try;
/// let now = "2026-07-19T04:10:00Z".parse().unwrap();
/// assert_eq!(next_try(1, now), Some("2026-07-19T04:11:00Z".parse().unwrap()));
/// assert_eq!(next_try(124, now), None);
/// ```
pub fn next_try(tries: u32, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
    if tries >= MOST_TRIES {
        return None;
    }
    let gap = match tries {
        0 => 0,
        tries => GAPS[(tries as usize - 1).min(GAPS.len() - 1)],
    };
    now.checked_add_signed(TimeDelta::minutes(gap))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_grow_and_the_last_try_comes_before_the_fifth_day_ends() {
        let start: DateTime<Utc> = "2026-07-19T04:10:00Z".parse().unwrap();
        let (mut at, mut tries, mut gaps) = (start, 1, Vec::new());
        while let Some(next) = next_try(tries, at) {
            gaps.push((next - at).num_minutes());
            at = next;
            tries += 1;
        }
        let (first, hourly) = gaps.split_at(4);
        assert_eq!(first, [1, 5, 15, 30]);
        assert_eq!(hourly, [60; 119]);
        assert_eq!(at.to_rfc3339(), "2026-07-24T04:01:00+00:00");
    }

    #[test]
    fn what_was_never_tried_is_tried_at_once() {
        let now = "2026-07-19T04:10:00Z".parse().unwrap();
        assert_eq!(next_try(0, now), Some(now));
    }

    #[test]
    fn the_end_of_time_is_no_panic() {
        assert_eq!(next_try(5, DateTime::<Utc>::MAX_UTC), None);
    }
}
