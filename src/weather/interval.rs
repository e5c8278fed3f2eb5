//! Spans of time as ISO 8601 writes them, in the forms that a weather service uses: `start/duration`, `start/end`,
//! `duration/end`, with `NOW` in place of an instant.
//!
//! Pure; knows no service. Years and months have no certain length and are refused, as is what is longer than a year:
//! whoever walks through a span hour by hour must come to an end.

use crate::excerpt::excerpt;
use chrono::{DateTime, TimeDelta, Utc};

/// Nobody foretells more.
const LONGEST: TimeDelta = TimeDelta::days(366);
/// No span has a longer text.
const LONGEST_TEXT: usize = 80;
/// Digits of one number in a duration.
const DIGITS: usize = 7;

/// The first instant of a span and the one just after its last, from a text like `2026-02-04T12:00:00+00:00/PT13H`.
/// `now` stands in for `NOW`. The error says in words why it is none.
///
/// ```
/// use graftwarden::weather::interval::parse;
/// let now = "2026-11-20T06:00:00Z".parse().unwrap();
/// let (from, to) = parse("2026-11-20T12:00:00+00:00/P1DT6H", now).unwrap();
/// assert_eq!((from, to), ("2026-11-20T12:00:00Z".parse().unwrap(), "2026-11-21T18:00:00Z".parse().unwrap()));
/// ```
pub fn parse(text: &str, now: DateTime<Utc>) -> Result<(DateTime<Utc>, DateTime<Utc>), String> {
    if text.len() > LONGEST_TEXT {
        return Err(format!("it has more than {LONGEST_TEXT} characters"));
    }
    let (first, second) = text
        .split_once('/')
        .ok_or_else(|| "it has no '/' between its two parts".to_owned())?;
    let beyond = || "it leads beyond the calendar".to_owned();
    let (from, to) = match (part(first, now)?, part(second, now)?) {
        (Part::Instant(from), Part::Instant(to)) => (from, to),
        (Part::Instant(from), Part::Length(length)) => {
            (from, from.checked_add_signed(length).ok_or_else(beyond)?)
        }
        (Part::Length(length), Part::Instant(to)) => {
            (to.checked_sub_signed(length).ok_or_else(beyond)?, to)
        }
        (Part::Length(_), Part::Length(_)) => return Err("both its parts are durations".into()),
    };
    if to < from {
        return Err("it ends before it begins".into());
    }
    if to - from > LONGEST {
        return Err(format!("it is longer than {} days", LONGEST.num_days()));
    }
    Ok((from, to))
}

enum Part {
    Instant(DateTime<Utc>),
    Length(TimeDelta),
}

fn part(text: &str, now: DateTime<Utc>) -> Result<Part, String> {
    if text == "NOW" {
        return Ok(Part::Instant(now));
    }
    if let Some(rest) = text.strip_prefix('P') {
        return duration(rest)
            .map(Part::Length)
            .map_err(|why| format!("'{}' is no duration: {why}", excerpt(text.as_bytes())));
    }
    DateTime::parse_from_rfc3339(text)
        .map(|at| Part::Instant(at.to_utc()))
        .map_err(|_| {
            let said = excerpt(text.as_bytes());
            format!("'{said}' is no instant like 2026-02-04T12:00:00+00:00")
        })
}

/// What follows the `P`: weeks alone, or days and, after a `T`, hours, minutes and seconds, each at most once.
fn duration(text: &str) -> Result<TimeDelta, String> {
    let mut rest = text;
    let mut in_clock = false;
    // The place of the last unit in the order they must have.
    let mut last = 0;
    let mut total = TimeDelta::zero();
    while !rest.is_empty() {
        if let Some(clock) = rest.strip_prefix('T').filter(|_| !in_clock) {
            if clock.is_empty() {
                return Err("nothing follows its T".into());
            }
            (rest, in_clock) = (clock, true);
            continue;
        }
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        if !(1..=DIGITS).contains(&digits) {
            return Err(format!("a whole number of 1 to {DIGITS} digits is missing"));
        }
        let (number, after) = rest.split_at(digits);
        // Never fails: 1 to 7 ASCII digits.
        let number: i64 = number
            .parse()
            .map_err(|_| "too large a number".to_owned())?;
        let mut units = after.chars();
        let (place, seconds) = match (in_clock, units.next()) {
            (false, Some('Y' | 'M')) => {
                return Err("years and months have no certain length".into());
            }
            (false, Some('W')) => (9, 604_800),
            (false, Some('D')) => (1, 86_400),
            (true, Some('H')) => (2, 3_600),
            (true, Some('M')) => (3, 60),
            (true, Some('S')) => (4, 1),
            (_, Some('.' | ',')) => return Err("fractions are not understood".into()),
            _ => {
                return Err("a number is not followed by W, D, or after the T by H, M or S".into());
            }
        };
        if place <= last || (place == 9 && last != 0) {
            return Err("its units are not in order".into());
        }
        last = place;
        total += TimeDelta::seconds(number * seconds);
        rest = units.as_str();
    }
    if last == 0 {
        return Err("it is empty".into());
    }
    Ok(total)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn now() -> DateTime<Utc> {
        "2026-11-20T06:30:00Z".parse().unwrap()
    }

    #[track_caller]
    fn check(text: &str, from: &str, to: &str) {
        let expected = (from.parse().unwrap(), to.parse().unwrap());
        assert_eq!(parse(text, now()), Ok(expected));
    }

    #[track_caller]
    fn refused(text: &str, why: &str) {
        assert_eq!(parse(text, now()).unwrap_err(), why);
    }

    #[test]
    fn a_start_and_a_duration() {
        check(
            "2022-02-04T12:00:00+00:00/PT13H",
            "2022-02-04T12:00:00Z",
            "2022-02-05T01:00:00Z",
        );
        check(
            "2022-02-27T21:00:00+00:00/P1DT6H",
            "2022-02-27T21:00:00Z",
            "2022-03-01T03:00:00Z",
        );
        check(
            "2024-02-27T21:00:00Z/P6DT15H",
            "2024-02-27T21:00:00Z",
            "2024-03-05T12:00:00Z",
        );
        check(
            "2026-11-20T00:00:00-05:00/PT72H",
            "2026-11-20T05:00:00Z",
            "2026-11-23T05:00:00Z",
        );
        check(
            "2026-11-20T00:00:00Z/PT1H30M15S",
            "2026-11-20T00:00:00Z",
            "2026-11-20T01:30:15Z",
        );
        check(
            "2026-11-20T00:00:00Z/P2W",
            "2026-11-20T00:00:00Z",
            "2026-12-04T00:00:00Z",
        );
        check(
            "2026-11-20T00:00:00Z/PT0S",
            "2026-11-20T00:00:00Z",
            "2026-11-20T00:00:00Z",
        );
    }

    #[test]
    fn the_other_forms() {
        check(
            "2026-11-20T01:00:00+01:00/2026-11-20T01:00:00Z",
            "2026-11-20T00:00:00Z",
            "2026-11-20T01:00:00Z",
        );
        check(
            "P1D/2026-03-01T00:00:00Z",
            "2026-02-28T00:00:00Z",
            "2026-03-01T00:00:00Z",
        );
        check("NOW/PT6H", "2026-11-20T06:30:00Z", "2026-11-20T12:30:00Z");
        check("PT30M/NOW", "2026-11-20T06:00:00Z", "2026-11-20T06:30:00Z");
        check(
            "2026-11-20T00:00:00Z/NOW",
            "2026-11-20T00:00:00Z",
            "2026-11-20T06:30:00Z",
        );
    }

    #[test]
    fn what_is_no_span_is_refused_in_words() {
        refused(
            "2026-11-20T00:00:00Z",
            "it has no '/' between its two parts",
        );
        refused("PT1H/PT2H", "both its parts are durations");
        refused("NOW/2026-11-20T06:29:59Z", "it ends before it begins");
        refused(
            "2026-11-20/PT1H",
            "'2026-11-20' is no instant like 2026-02-04T12:00:00+00:00",
        );
        refused(
            "2026-11-20T00:00:00/PT1H",
            "'2026-11-20T00:00:00' is no instant like 2026-02-04T12:00:00+00:00",
        );
        refused("NOW/P367D", "it is longer than 366 days");
        refused(
            "NOW/P1M",
            "'P1M' is no duration: years and months have no certain length",
        );
        refused("NOW/P", "'P' is no duration: it is empty");
        refused("NOW/P1DT", "'P1DT' is no duration: nothing follows its T");
        refused(
            "NOW/PT1M2H",
            "'PT1M2H' is no duration: its units are not in order",
        );
        refused(
            "NOW/P1W1D",
            "'P1W1D' is no duration: its units are not in order",
        );
        refused(
            "NOW/PT1.5H",
            "'PT1.5H' is no duration: fractions are not understood",
        );
        refused(
            "NOW/PT-1H",
            "'PT-1H' is no duration: a whole number of 1 to 7 digits is missing",
        );
        refused(
            "NOW/PT99999999H",
            "'PT99999999H' is no duration: a whole number of 1 to 7 digits is missing",
        );
        refused(
            "NOW/PT1T1H",
            "'PT1T1H' is no duration: a number is not followed by W, D, or after the T by H, M or S",
        );
        refused(
            &format!("NOW/P{}", "1".repeat(90)),
            "it has more than 80 characters",
        );
        refused(
            "P9999999D/-262000-01-01T00:00:00Z",
            "'-262000-01-01T00:00:00Z' is no instant like 2026-02-04T12:00:00+00:00",
        );
    }

    proptest! {
        #[test]
        fn no_text_panics(text in any::<String>()) {
            let _ = parse(&text, now());
        }

        #[test]
        fn no_text_that_is_nearly_a_span_panics(
            text in "(NOW|P?[0-9TWDHMS]{0,9}|[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]{5,8}(Z|[+-][0-9:]{5}))/(NOW|P[0-9TYWDHMS.,]{0,12}|[0-9T:Z-]{0,24})"
        ) {
            if let Ok((from, to)) = parse(&text, now()) {
                prop_assert!(from <= to && to - from <= LONGEST);
            }
        }

        /// Put together from its parts, a duration has the length of its parts.
        #[test]
        fn a_duration_is_the_sum_of_its_parts(days in 0_i64..300, hours in 0_i64..99, minutes in 0_i64..9999) {
            let text = format!("NOW/P{days}DT{hours}H{minutes}M");
            let (from, to) = parse(&text, now()).unwrap();
            prop_assert_eq!((to - from).num_minutes(), (days * 24 + hours) * 60 + minutes);
        }
    }
}
