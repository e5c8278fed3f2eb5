//! What servers say of the time: the Date of each answer, beside what our clock said when it came.
//!
//! Noted by whoever asks, read by whoever judges the clock. Knows no server; what is old says nothing.

use super::belief::{APART, Said};
use chrono::{DateTime, TimeDelta, Utc};
use std::sync::{Mutex, PoisonError};

/// A word on the time counts for so long, by the clock that it is about: once that has jumped, it says nothing more.
const FRESH: TimeDelta = TimeDelta::hours(1);

/// What was heard last.
#[derive(Debug, Default)]
pub struct Heard(Mutex<Last>);

#[derive(Debug, Default)]
struct Last {
    /// When by our clock a server agreed with it.
    agreed: Option<DateTime<Utc>>,
    /// When by our clock a server said otherwise, and what.
    otherwise: Option<(DateTime<Utc>, DateTime<Utc>)>,
}

impl Heard {
    /// A server has answered and said what time it is.
    pub fn note(&self, theirs: DateTime<Utc>, ours: DateTime<Utc>) {
        let mut last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if (theirs - ours).abs() <= APART {
            last.agreed = Some(ours);
        } else {
            last.otherwise = Some((ours, theirs));
        }
    }

    /// What servers say of the clock that shows `now`. One that agrees outweighs one that does not.
    pub fn said(&self, now: DateTime<Utc>) -> Option<Said> {
        let last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let fresh = |ours: DateTime<Utc>| (now - ours).abs() <= FRESH;
        if last.agreed.is_some_and(fresh) {
            return Some(Said::Agrees);
        }
        let (_, theirs) = last.otherwise.filter(|(ours, _)| fresh(*ours))?;
        Some(Said::Otherwise(theirs))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    #[test]
    fn one_that_agrees_outweighs_one_that_does_not_and_what_is_old_says_nothing() {
        let heard = Heard::default();
        let now = at("2026-07-03T04:10:00Z");
        assert_eq!(heard.said(now), None);
        let theirs = at("2015-04-14T21:20:00Z");
        heard.note(theirs, now);
        assert_eq!(heard.said(now), Some(Said::Otherwise(theirs)));
        heard.note(now + TimeDelta::hours(23), now);
        assert_eq!(heard.said(now), Some(Said::Agrees));
        assert_eq!(heard.said(now + TimeDelta::minutes(61)), None);
        assert_eq!(heard.said(now - TimeDelta::minutes(61)), None);
    }
}
