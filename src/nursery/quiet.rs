//! The hours of the day in which a person wants no letters, by the nursery's clocks.
//!
//! Knows the clock changes of a zone; knows nothing of letters or of how they travel.

use chrono::{DateTime, Days, NaiveTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;

/// Hours of each day, from the first moment to just before the last; they may go over midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Quiet {
    from: NaiveTime,
    to: NaiveTime,
}

/// No clock is set forward by more minutes at once.
const LONGEST_GAP: i64 = 24 * 60;

impl Quiet {
    /// None where the hours end as they begin: nobody knows whether that is a whole day or nothing.
    pub fn new(from: NaiveTime, to: NaiveTime) -> Option<Self> {
        (from != to).then_some(Self { from, to })
    }

    fn contains(self, time: NaiveTime) -> bool {
        if self.from < self.to {
            (self.from..self.to).contains(&time)
        } else {
            time >= self.from || time < self.to
        }
    }

    /// When the quiet hours that it is now will be over; none where it is no quiet hour.
    pub fn ends(self, now: DateTime<Utc>, zone: Tz) -> Option<DateTime<Utc>> {
        let wall = now.with_timezone(&zone).naive_local();
        if !self.contains(wall.time()) {
            return None;
        }
        let tomorrow = wall.time() >= self.to;
        let day = wall.date() + Days::new(u64::from(tomorrow));
        let end = day.and_time(self.to);
        // A time that a clock change leaves out is taken for the first after it, one that comes twice for the next.
        let moment = |minutes: i64| {
            let at = zone.from_local_datetime(&(end + TimeDelta::minutes(minutes)));
            let both = [at.earliest(), at.latest()].into_iter().flatten();
            both.map(|at| at.to_utc()).find(|&at| at > now)
        };
        (0..=LONGEST_GAP).find_map(moment)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn time(text: &str) -> NaiveTime {
        NaiveTime::parse_from_str(text, "%H:%M").unwrap()
    }

    fn quiet(from: &str, to: &str) -> Quiet {
        Quiet::new(time(from), time(to)).unwrap()
    }

    /// In Brussels: 2 hours before Greenwich in summer, 1 in winter.
    #[track_caller]
    fn check(hours: [&str; 2], now: &str, end: Option<&str>) {
        let quiet = quiet(hours[0], hours[1]);
        let ends = quiet.ends(now.parse().unwrap(), chrono_tz::Europe::Brussels);
        let end = end.map(|end| end.parse::<DateTime<Utc>>().unwrap());
        assert_eq!(ends, end, "{hours:?} at {now}");
    }

    #[test]
    fn hours_within_a_day_begin_at_the_first_and_end_before_the_last() {
        let noon = ["12:00", "13:30"];
        check(noon, "2026-07-20T09:59:59Z", None);
        check(noon, "2026-07-20T10:00:00Z", Some("2026-07-20T11:30:00Z"));
        check(noon, "2026-07-20T11:29:59Z", Some("2026-07-20T11:30:00Z"));
        check(noon, "2026-07-20T11:30:00Z", None);
    }

    #[test]
    fn hours_over_midnight_end_on_the_next_morning() {
        let night = ["20:30", "05:30"];
        check(night, "2026-07-20T18:29:00Z", None);
        check(night, "2026-07-20T18:30:00Z", Some("2026-07-21T03:30:00Z"));
        check(night, "2026-07-20T22:00:00Z", Some("2026-07-21T03:30:00Z"));
        check(night, "2026-07-21T03:29:00Z", Some("2026-07-21T03:30:00Z"));
        check(night, "2026-07-21T03:30:00Z", None);
        check(
            ["00:00", "05:30"],
            "2026-07-20T22:00:00Z",
            Some("2026-07-21T03:30:00Z"),
        );
        check(
            ["20:30", "00:00"],
            "2026-07-20T21:59:00Z",
            Some("2026-07-20T22:00:00Z"),
        );
    }

    #[test]
    fn the_night_in_which_clocks_change_is_an_hour_shorter_or_longer() {
        let night = ["20:30", "05:30"];
        // 29 March 2026, 02:00 becomes 03:00; 25 October 2026, 03:00 becomes 02:00.
        check(night, "2026-03-28T20:00:00Z", Some("2026-03-29T03:30:00Z"));
        check(night, "2026-10-24T20:00:00Z", Some("2026-10-25T04:30:00Z"));
    }

    #[test]
    fn an_end_that_is_left_out_or_comes_twice() {
        // 02:30 is left out: the first minute after it is 03:00, summer time.
        check(
            ["22:00", "02:30"],
            "2026-03-28T23:00:00Z",
            Some("2026-03-29T01:00:00Z"),
        );
        // 02:30 comes twice; who asks in the second of the two hours waits for the second.
        check(
            ["22:00", "02:30"],
            "2026-10-24T22:00:00Z",
            Some("2026-10-25T00:30:00Z"),
        );
        check(
            ["22:00", "02:30"],
            "2026-10-25T01:10:00Z",
            Some("2026-10-25T01:30:00Z"),
        );
        check(["22:00", "02:30"], "2026-10-25T01:30:00Z", None);
    }

    #[test]
    fn hours_that_end_as_they_begin_are_none() {
        assert_eq!(Quiet::new(time("20:30"), time("20:30")), None);
    }

    proptest! {
        #[test]
        fn an_end_comes_within_two_days_and_is_quiet_no_more(
            from in 0_u32..1440, to in 0_u32..1440, minute in 0_i64..(366 * 1440), zone in 0_usize..6,
        ) {
            use chrono_tz::{America, Asia, Australia, Europe, Pacific};
            let zone = [
                Europe::Brussels, America::Los_Angeles, Asia::Kathmandu, Australia::Lord_Howe, Pacific::Apia,
                America::St_Johns,
            ][zone];
            let time = |minutes: u32| NaiveTime::from_hms_opt(minutes / 60, minutes % 60, 0).unwrap();
            prop_assume!(from != to);
            let quiet = Quiet::new(time(from), time(to)).unwrap();
            let now = "2026-01-01T00:00:00Z".parse::<DateTime<Utc>>().unwrap() + TimeDelta::minutes(minute);
            let wall = now.with_timezone(&zone).time();
            match quiet.ends(now, zone) {
                None => prop_assert!(!quiet.contains(wall)),
                Some(end) => {
                    prop_assert!(quiet.contains(wall) && now < end && end - now <= TimeDelta::hours(25));
                    prop_assert_eq!(quiet.ends(end, zone), None);
                }
            }
        }
    }
}
