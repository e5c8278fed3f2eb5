//! How long a service wants to be left alone after it refused.
//!
//! By its Retry-After header (RFC 9110, 10.2.3), else by the words of a 429, else by the rules: a day after a 403, an
//! hour after a 429 without words. Knows no service; asks nobody.

use super::HttpError;
use chrono::{DateTime, Days, NaiveTime, TimeDelta, Utc};

/// Whoever goes on asking after a 403 is shut out for longer.
const SHUT_OUT: TimeDelta = TimeDelta::hours(24);
/// After a 429 that does not say how long.
const TOO_OFTEN: TimeDelta = TimeDelta::hours(1);
/// Nobody is left alone for longer because of what a header says.
const LONGEST: TimeDelta = TimeDelta::hours(24);
/// Daily allowances begin anew at midnight GMT, when everybody asks.
const AFTER_MIDNIGHT: TimeDelta = TimeDelta::hours(1);

impl HttpError {
    /// How long from `now` on the service wants to be left alone; none where it does not say, and where it only takes
    /// one question at a time.
    pub fn rest(&self, now: DateTime<Utc>) -> Option<TimeDelta> {
        let Self::Status {
            status,
            said,
            retry_after,
            ..
        } = self
        else {
            return None;
        };
        match status {
            403 => Some(SHUT_OUT),
            429 => retry_after.or_else(|| by_words(&said.to_lowercase(), now)),
            500.. => *retry_after,
            _ => None,
        }
    }
}

fn by_words(said: &str, now: DateTime<Utc>) -> Option<TimeDelta> {
    let says = |words: &[&str]| words.iter().any(|word| said.contains(word));
    if says(&["concurrent"]) {
        None
    } else if says(&["daily", "per day", "tomorrow"]) {
        let midnight = (now.date_naive() + Days::new(1)).and_time(NaiveTime::MIN);
        Some(midnight.and_utc() - now + AFTER_MIDNIGHT)
    } else if says(&["minute"]) {
        Some(TimeDelta::minutes(1))
    } else {
        Some(TOO_OFTEN)
    }
}

/// What a Retry-After header asks for: seconds, or a date by the server's own clock. Never more than a day.
pub fn asked_for(text: &str, theirs: DateTime<Utc>) -> Option<TimeDelta> {
    let text = text.trim();
    let rest = if text.bytes().all(|b| b.is_ascii_digit()) && !text.is_empty() {
        // More digits than a number has are more than a day.
        text.parse()
            .ok()
            .and_then(TimeDelta::try_seconds)
            .unwrap_or(LONGEST)
    } else {
        DateTime::parse_from_rfc2822(text).ok()?.to_utc() - theirs
    };
    Some(rest.clamp(TimeDelta::zero(), LONGEST))
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: &str = "2026-07-03T21:40:00Z";

    fn minutes(status: u16, said: &str, retry_after: Option<TimeDelta>) -> Option<i64> {
        let error = HttpError::Status {
            url: "https://weather.example".into(),
            status,
            said: said.into(),
            retry_after,
        };
        let rest = error.rest(NOW.parse().unwrap());
        rest.map(|rest| rest.num_minutes())
    }

    #[track_caller]
    fn check(status: u16, said: &str, rest: Option<i64>) {
        assert_eq!(minutes(status, said, None), rest);
    }

    #[test]
    fn an_allowance_is_waited_for_by_its_words() {
        check(
            429,
            "Minutely API request limit exceeded. Please try again in one minute.",
            Some(1),
        );
        check(
            429,
            "Hourly API request limit exceeded. Please try again in the next hour.",
            Some(60),
        );
        // Until midnight, and an hour.
        check(
            429,
            "Daily API request limit exceeded. Please try again tomorrow.",
            Some(200),
        );
        check(429, "Too many concurrent requests", None);
        check(429, "<h1>Too many requests</h1>", Some(60));
        check(429, "", Some(60));
    }

    #[test]
    fn who_is_shut_out_stays_away_for_a_day() {
        check(403, "Retry in one minute", Some(24 * 60));
        check(401, "", None);
        check(503, "tomorrow", None);
    }

    #[test]
    fn a_header_goes_before_words() {
        let quarter = Some(TimeDelta::minutes(15));
        assert_eq!(minutes(429, "Daily limit", quarter), Some(15));
        assert_eq!(minutes(503, "", quarter), Some(15));
        assert_eq!(minutes(403, "", quarter), Some(24 * 60));
        assert_eq!(minutes(404, "", quarter), None);
    }

    #[track_caller]
    fn asked(text: &str, seconds: Option<i64>) {
        let rest = asked_for(text, NOW.parse().unwrap());
        assert_eq!(rest.map(|rest| rest.num_seconds()), seconds, "{text}");
    }

    #[test]
    fn a_retry_after_is_seconds_or_a_date() {
        asked("120", Some(120));
        asked(" 0 ", Some(0));
        asked("Fri, 03 Jul 2026 22:00:00 GMT", Some(1200));
        asked("Fri, 03 Jul 2026 21:00:00 GMT", Some(0));
    }

    #[test]
    fn nobody_is_left_alone_for_longer_than_a_day() {
        asked("999999", Some(86_400));
        asked("99999999999999999999999999", Some(86_400));
        asked("Sat, 03 Jul 2027 22:00:00 GMT", Some(86_400));
    }

    #[test]
    fn what_says_nothing_asks_for_nothing() {
        for text in ["", "soon", "-5", "1.5"] {
            asked(text, None);
        }
    }
}
