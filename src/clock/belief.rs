//! Whether the machine's clock can be believed, and why not.
//!
//! A machine without a battery for its clock comes up in 1970, or where it was switched off; a slip of the hand moves it by
//! a year. Rounds walked by such a clock would tell wrong dates and could not be taken back. Judged is by what is known
//! from elsewhere: the last round, what servers say, a person's word. Reads no clock; hands on a [`Doubt`].

use chrono::{DateTime, Datelike, TimeDelta, Utc};
use std::fmt;

/// A clock may be set back by as much without another thought: rounds simply go on when their time comes.
pub const SET_BACK: TimeDelta = TimeDelta::hours(2);
/// A server's clock and ours may differ by as much.
pub const APART: TimeDelta = TimeDelta::days(1);
/// So long after the last round a server that says otherwise is believed more than our clock ...
const CONTRADICTED: TimeDelta = TimeDelta::hours(36);
/// ... and so long after it, the clock has to be confirmed where there are servers that can (judgement) ...
const FAR: TimeDelta = TimeDelta::days(14);
/// ... and where there are none: such a machine may well be off for some weeks.
const FAR_ALONE: TimeDelta = TimeDelta::days(60);

/// What is known of the time beside the clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Known {
    /// When the clock was last right: at the last round, or when it was last confirmed.
    pub right_at: Option<DateTime<Utc>>,
    /// What servers say just now.
    pub said: Option<Said>,
    /// Whether any server is asked at all.
    pub has_servers: bool,
}

/// What servers say of our clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Said {
    /// One of them agrees with it.
    Agrees,
    /// None does; one says this instead.
    Otherwise(DateTime<Utc>),
}

/// Why the clock is not believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// What the clock says.
    pub now: DateTime<Utc>,
    /// What speaks against it.
    pub why: Why,
}

/// What speaks against the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// It is before the year of the time zones' rules that this program was made with.
    BeforeProgram(i32),
    /// It is before a moment that has been.
    Before(DateTime<Utc>),
    /// It is long after that moment, and nothing says that so much time has passed.
    LongAfter(DateTime<Utc>),
    /// A server says this.
    Server(DateTime<Utc>),
}

/// What to do about a clock that is not believed.
pub const REMEDY: &str =
    "set this machine's clock; if it is right, run `graftwarden round --clock-is-right`";

/// Why the clock is not believed; none where it is.
pub fn doubt(now: DateTime<Utc>, known: &Known) -> Option<Doubt> {
    why(now, known).map(|why| Doubt { now, why })
}

fn why(now: DateTime<Utc>, known: &Known) -> Option<Why> {
    if known.said == Some(Said::Agrees) {
        return None;
    }
    let made = year_of_the_rules();
    if now.year() < made {
        return Some(Why::BeforeProgram(made));
    }
    if let Some(last) = known.right_at.filter(|&last| now < last - SET_BACK) {
        return Some(Why::Before(last));
    }
    let long = |least| known.right_at.is_none_or(|last| now - last > least);
    if let Some(Said::Otherwise(theirs)) = known.said
        && long(CONTRADICTED)
    {
        return Some(Why::Server(theirs));
    }
    let far = if known.has_servers { FAR } else { FAR_ALONE };
    let last = known.right_at?;
    (now - last > far).then_some(Why::LongAfter(last))
}

/// The year in which the time zones' rules were published that are compiled in: no clock that runs this is right before.
fn year_of_the_rules() -> i32 {
    let version = chrono_tz::IANA_TZDB_VERSION;
    version
        .get(..4)
        .and_then(|year| year.parse().ok())
        .unwrap_or(2025)
}

fn shown(at: DateTime<Utc>) -> impl fmt::Display {
    at.format("%Y-%m-%d %H:%M GMT")
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "this machine's clock says {}", shown(self.now))?;
        match self.why {
            Why::BeforeProgram(year) => write!(f, ", but this program was made in {year} or later"),
            Why::Before(last) => write!(f, ", but it was {} already", shown(last)),
            Why::LongAfter(last) => write!(
                f,
                ", {} days after it was last known to be right ({}), and nothing shows that so much time has passed",
                (self.now - last).num_days(),
                shown(last)
            ),
            Why::Server(theirs) => write!(f, ", a server says {}", shown(theirs)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAST: &str = "2026-07-03T04:10:00Z";

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    #[track_caller]
    fn check(now: &str, said: Option<Said>, has_servers: bool, expect: &str) {
        let known = Known {
            right_at: Some(at(LAST)),
            said,
            has_servers,
        };
        let found = doubt(at(now), &known).map_or_else(String::new, |doubt| doubt.to_string());
        assert_eq!(found, expect);
    }

    #[test]
    fn a_clock_that_goes_on_is_believed() {
        for now in [
            "2026-07-03T04:10:00Z",
            "2026-07-04T04:10:00Z",
            "2026-07-17T04:10:00Z",
        ] {
            check(now, None, true, "");
        }
        // Summer time that was put into the clock itself.
        check("2026-07-03T03:10:00Z", None, true, "");
        check("2026-07-03T02:10:00Z", None, true, "");
    }

    #[test]
    fn a_clock_that_went_back_is_not() {
        check(
            "2026-07-03T02:09:00Z",
            None,
            true,
            "this machine's clock says 2026-07-03 02:09 GMT, but it was 2026-07-03 04:10 GMT already",
        );
        check(
            "1970-01-01T00:00:41Z",
            None,
            true,
            "this machine's clock says 1970-01-01 00:00 GMT, but this program was made in 2025 or later",
        );
    }

    #[test]
    fn a_leap_of_a_year_has_to_be_confirmed() {
        let told = "this machine's clock says 2027-07-03 04:10 GMT, 365 days after it was last known to be right (2026-07-03 04:10 GMT), and nothing shows that so much time has passed";
        check("2027-07-03T04:10:00Z", None, true, told);
        check("2027-07-03T04:10:00Z", None, false, told);
        check("2027-07-03T04:10:00Z", Some(Said::Agrees), true, "");
    }

    #[test]
    fn a_machine_alone_may_be_off_for_some_weeks() {
        check("2026-08-31T04:10:00Z", None, false, "");
        check(
            "2026-08-31T04:10:00Z",
            None,
            true,
            "this machine's clock says 2026-08-31 04:10 GMT, 59 days after it was last known to be right (2026-07-03 04:10 GMT), and nothing shows that so much time has passed",
        );
    }

    #[test]
    fn a_server_that_says_otherwise_counts_only_where_rounds_do_not_speak_for_the_clock() {
        let theirs = Some(Said::Otherwise(at("2026-07-04T04:10:00Z")));
        check("2026-07-04T16:00:00Z", theirs, true, "");
        check(
            "2026-07-08T04:10:00Z",
            theirs,
            true,
            "this machine's clock says 2026-07-08 04:10 GMT, a server says 2026-07-04 04:10 GMT",
        );
    }

    #[test]
    fn a_first_start_has_the_year_of_the_rules_and_the_servers() {
        let first = |now, said| {
            let known = Known {
                right_at: None,
                said,
                has_servers: true,
            };
            doubt(now, &known).is_some()
        };
        let year = at(&format!(
            "{}-01-01T00:00:00Z",
            &chrono_tz::IANA_TZDB_VERSION[..4]
        ));
        assert!(first(year - TimeDelta::seconds(1), None));
        assert!(!first(year, None));
        assert!(first(year, Some(Said::Otherwise(at(LAST)))));
        assert!(!first(year - TimeDelta::days(900), Some(Said::Agrees)));
    }
}
