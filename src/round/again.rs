//! When a service that failed is asked again, between the scheduled rounds.
//!
//! Some minutes after it failed first, then later and later, then at the scheduled rounds only; where it said when, then.
//! Asks nobody; hands on whether a round is due.

use crate::assemble::House;
use crate::schedule::politely;
use crate::store::{Memory, SourceMemory, StoreError};
use chrono::{DateTime, TimeDelta, Utc};

/// After it failed first; what lasts longer is found at the next scheduled round.
const AFTER: [TimeDelta; 3] = [
    TimeDelta::minutes(5),
    TimeDelta::minutes(20),
    TimeDelta::minutes(80),
];

/// Whether some service that failed is to be asked again, `minutes` being this installation's own delay.
pub fn is_to_be_asked_again(
    house: &House,
    memory: &Memory<'_>,
    minutes: u32,
) -> Result<bool, StoreError> {
    let Some(last) = memory.last_asking()? else {
        return Ok(false);
    };
    let now = house.clock.now();
    for (site, sources) in &house.sources {
        for (name, _) in sources.iter().filter(|(_, s)| s.host().is_some()) {
            if is_due(&memory.source(&site.id, name)?, last, now, minutes) {
                return Ok(true);
            }
        }
    }
    Ok(false)
}

/// Whether one of its moments lies after the last round and not after now.
fn is_due(source: &SourceMemory, last: DateTime<Utc>, now: DateTime<Utc>, minutes: u32) -> bool {
    let Some(since) = source.failing_since else {
        return false;
    };
    let come = |at: DateTime<Utc>| at > last && politely(at, minutes) <= now;
    match source.not_before {
        Some(until) if until > since => come(until),
        _ => AFTER.iter().any(|after| come(since + *after)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        format!("2026-07-03T{text}:00Z").parse().unwrap()
    }

    /// A source that fails since ten past four, looked at after a last round.
    #[track_caller]
    fn check(not_before: Option<&str>, last: &str, now: &str, due: bool) {
        let source = SourceMemory {
            failing_since: Some(at("04:10")),
            not_before: not_before.map(at),
            ..SourceMemory::default()
        };
        assert_eq!(is_due(&source, at(last), at(now), 3), due);
    }

    #[test]
    fn who_failed_is_asked_again_later_and_later() {
        check(None, "04:10", "04:17", false);
        check(None, "04:10", "04:18", true);
        check(None, "04:18", "04:32", false);
        check(None, "04:18", "04:33", true);
        check(None, "04:33", "05:32", false);
        check(None, "04:33", "05:33", true);
        check(None, "05:33", "23:59", false);
    }

    #[test]
    fn who_said_when_is_asked_then() {
        check(Some("07:00"), "04:10", "06:59", false);
        check(Some("07:00"), "04:10", "07:03", true);
        check(Some("07:00"), "07:03", "23:00", false);
        // What it said before it failed says nothing of now.
        check(Some("04:00"), "04:10", "04:18", true);
    }

    #[test]
    fn who_answers_is_not_asked_in_between() {
        let well = SourceMemory {
            not_before: Some(at("05:00")),
            ..SourceMemory::default()
        };
        assert!(!is_due(&well, at("04:10"), at("09:00"), 0));
    }

    #[test]
    fn nobody_is_asked_right_after_midnight_in_greenwich() {
        let source = SourceMemory {
            failing_since: Some(at("00:00") - TimeDelta::minutes(20)),
            ..SourceMemory::default()
        };
        let last = at("00:00") - TimeDelta::minutes(15);
        assert!(!is_due(&source, last, at("00:59"), 3));
        assert!(is_due(&source, last, at("01:03"), 3));
    }
}
