//! When rounds are walked: cron texts read as wall time in the nursery's zone.
//!
//! The cron library skips wall times that a clock change leaves out and doubles those it repeats. So it is only asked
//! for bare wall times here, and each of them is put into the zone once: in a gap at its end, in a repeated hour at
//! the first. Going from wall time to instant this way never runs backwards, so nothing is lost and nothing doubled.
//! Knows no clock and no rounds; hands on slots.

mod cron_text;

use chrono::{
    DateTime, Duration, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeZone, Timelike, Utc,
};
use chrono_tz::Tz;
use cron_text::read;

pub use cron_text::CronTrouble;

/// The rounds of the day when the config says nothing: ten past six in the morning.
pub const USUAL: &str = "0 10 6 * * *";

/// A year ahead in whose clock changes the rules now in force are looked up. Any will do; the zone database goes on.
const YEAR_AHEAD: i32 = 2035;

/// When rounds are walked.
#[derive(Clone, Debug, Default)]
pub struct Schedule {
    times: Vec<cron::Schedule>,
}

/// One scheduled round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Slot {
    /// When it is due.
    pub at: DateTime<Utc>,
    /// The wall time it stands for, which is its key: a clock change can neither skip nor double it.
    pub wall: NaiveDateTime,
}

impl Slot {
    /// The key under which a round is remembered: `2026-03-29T02:30`.
    pub fn key(&self) -> String {
        self.wall.format("%Y-%m-%dT%H:%M").to_string()
    }

    fn new(wall: NaiveDateTime, zone: Tz) -> Self {
        // Gaps are an hour; one zone once left out a whole day.
        let at = (0..=48 * 60)
            .find_map(|minutes| {
                zone.from_local_datetime(&(wall + Duration::minutes(minutes)))
                    .earliest()
            })
            .map_or_else(|| wall.and_utc(), |at| at.to_utc());
        Self { at, wall }
    }
}

/// The moment at which a service is asked that many others ask too: some minutes after the scheduled one, always the
/// same at one installation, and never in the first hour of a GMT day, when the day before is not whole yet.
///
/// ```
/// use graftwarden::schedule::politely;
/// let at = |text: &str| text.parse().unwrap();
/// assert_eq!(politely(at("2026-07-19T04:10:00Z"), 7), at("2026-07-19T04:17:00Z"));
/// assert_eq!(politely(at("2026-07-19T00:10:00Z"), 7), at("2026-07-19T01:07:00Z"));
/// assert_eq!(politely(at("2026-07-18T23:55:00Z"), 7), at("2026-07-19T01:07:00Z"));
/// ```
pub fn politely(at: DateTime<Utc>, minutes: u32) -> DateTime<Utc> {
    let later = at + Duration::minutes(minutes.into());
    match later.hour() {
        0 => {
            later.date_naive().and_time(NaiveTime::MIN).and_utc()
                + Duration::minutes(60 + i64::from(minutes))
        }
        _ => later,
    }
}

impl Schedule {
    /// Adds a cron text of five or six fields; says in a grower's words what is wrong with it.
    ///
    /// ```
    /// let mut rounds = graftwarden::schedule::Schedule::default();
    /// assert!(rounds.add("10 6 * * Mon-Fri").is_ok());
    /// assert!(rounds.add("0 10 6 31 2 *").is_err()); // there is no 31 February
    /// ```
    pub fn add(&mut self, text: &str) -> Result<(), CronTrouble> {
        self.times.push(read(text)?);
        Ok(())
    }

    /// Every slot due after one moment and no later than another, in order.
    pub fn scheduled_between(
        &self,
        after: DateTime<Utc>,
        upto: DateTime<Utc>,
        zone: Tz,
    ) -> Vec<Slot> {
        let mut slots: Vec<Slot> = self
            .times
            .iter()
            .flat_map(|times| {
                slots_after(times, after, zone).take_while(move |slot| slot.at <= upto)
            })
            .collect();
        slots.sort();
        slots.dedup();
        slots
    }

    /// The first slot due after a moment.
    pub fn next_after(&self, after: DateTime<Utc>, zone: Tz) -> Option<Slot> {
        self.times
            .iter()
            .filter_map(|times| slots_after(times, after, zone).next())
            .min()
    }

    /// The wall times of rounds that a clock change of the zone leaves out or repeats, by its present rules.
    pub fn in_clock_changes(&self, zone: Tz) -> Vec<NaiveDateTime> {
        let mut found: Vec<NaiveDateTime> = clock_changes(zone)
            .into_iter()
            .flat_map(|(from, to)| {
                self.times.iter().flat_map(move |times| {
                    walls_after(times, from - Duration::seconds(1)).take_while(move |w| *w < to)
                })
            })
            .collect();
        found.sort();
        found.dedup();
        found
    }
}

fn walls_after(
    times: &cron::Schedule,
    wall: NaiveDateTime,
) -> impl Iterator<Item = NaiveDateTime> + '_ {
    times.after(&wall.and_utc()).map(|t| t.naive_utc())
}

/// No wall time up to the moment's own can be due after it, so the search begins there.
fn slots_after(
    times: &cron::Schedule,
    after: DateTime<Utc>,
    zone: Tz,
) -> impl Iterator<Item = Slot> + '_ {
    walls_after(times, after.with_timezone(&zone).naive_local())
        .map(move |wall| Slot::new(wall, zone))
        .skip_while(move |slot| slot.at <= after)
}

/// The spans of wall time that the clock changes of one year leave out or repeat.
fn clock_changes(zone: Tz) -> Vec<(NaiveDateTime, NaiveDateTime)> {
    let Some(start) = NaiveDate::from_ymd_opt(YEAR_AHEAD, 1, 1) else {
        return Vec::new();
    };
    let offset = |quarter: i64| {
        let utc = start.and_time(chrono::NaiveTime::MIN) + Duration::minutes(15 * quarter);
        let ahead = zone.offset_from_utc_datetime(&utc).fix().local_minus_utc();
        (utc, Duration::seconds(i64::from(ahead)))
    };
    // Quarter by quarter only on the few days on which there is a change.
    (0..366)
        .map(|day| 96 * day..96 * (day + 1))
        .filter(|day| offset(day.start).1 != offset(day.end).1)
        .flat_map(|day| day.start + 1..=day.end)
        .filter_map(|quarter| {
            let ((_, before), (utc, after)) = (offset(quarter - 1), offset(quarter));
            let (one, other) = (utc + before, utc + after);
            (one != other).then(|| (one.min(other), one.max(other)))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashMap;

    const BERLIN: Tz = chrono_tz::Europe::Berlin;
    const HOBART: Tz = chrono_tz::Australia::Hobart;

    fn schedule(texts: &[&str]) -> Schedule {
        let mut schedule = Schedule::default();
        for text in texts {
            schedule.add(text).unwrap();
        }
        schedule
    }

    fn utc(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    #[track_caller]
    fn check(texts: &[&str], zone: Tz, from: &str, to: &str, expect: &[(&str, &str)]) {
        let slots = schedule(texts).scheduled_between(utc(from), utc(to), zone);
        let got: Vec<(String, String)> = slots
            .iter()
            .map(|s| (s.key(), s.at.format("%FT%RZ").to_string()))
            .collect();
        let expect: Vec<(String, String)> = expect
            .iter()
            .map(|(key, at)| ((*key).to_owned(), (*at).to_owned()))
            .collect();
        assert_eq!(got, expect);
    }

    #[test]
    fn a_wall_time_in_a_northern_gap_runs_at_its_end() {
        let day = ("2026-03-28T12:00:00Z", "2026-03-30T12:00:00Z");
        let expect = [
            ("2026-03-29T02:30", "2026-03-29T01:00Z"),
            ("2026-03-30T02:30", "2026-03-30T00:30Z"),
        ];
        check(&["0 30 2 * * *"], BERLIN, day.0, day.1, &expect);
    }

    #[test]
    fn a_repeated_northern_hour_runs_once_at_the_first() {
        let expect = [("2026-10-25T02:30", "2026-10-25T00:30Z")];
        check(
            &["30 2 * * *"],
            BERLIN,
            "2026-10-24T12:00:00Z",
            "2026-10-25T12:00:00Z",
            &expect,
        );
    }

    #[test]
    fn southern_changes_come_in_the_other_half_of_the_year() {
        // Hobart: forward at 02:00 on 4 October 2026 (UTC+10 to +11), back at 03:00 on 5 April 2026.
        check(
            &["30 2 * * *"],
            HOBART,
            "2026-10-03T12:00:00Z",
            "2026-10-04T12:00:00Z",
            &[("2026-10-04T02:30", "2026-10-03T16:00Z")],
        );
        check(
            &["30 2 * * *"],
            HOBART,
            "2026-04-04T12:00:00Z",
            "2026-04-05T12:00:00Z",
            &[("2026-04-05T02:30", "2026-04-04T15:30Z")],
        );
    }

    #[test]
    fn both_ends_are_kept_apart_and_two_texts_for_one_time_are_one_slot() {
        check(
            &["10 6 * * *", "0 10 6 * * Mon-Fri"],
            chrono_tz::UTC,
            "2026-07-01T06:10:00Z",
            "2026-07-02T06:10:00Z",
            &[("2026-07-02T06:10", "2026-07-02T06:10Z")],
        );
    }

    /// Walks two years in steps of odd length, as a sleeping service does, and counts every key.
    fn walk(zone: Tz, text: &str, step: Duration) -> HashMap<String, usize> {
        let schedule = schedule(&[text]);
        let (mut now, end) = (utc("2025-12-31T11:00:00Z"), utc("2028-01-02T13:00:00Z"));
        let mut seen = HashMap::new();
        while now < end {
            let later = now + step;
            for slot in schedule.scheduled_between(now, later, zone) {
                *seen.entry(slot.key()).or_default() += 1;
            }
            now = later;
        }
        seen
    }

    #[test]
    fn every_slot_key_appears_exactly_once_over_two_years() {
        for zone in [
            BERLIN,
            HOBART,
            chrono_tz::America::New_York,
            chrono_tz::Australia::Lord_Howe,
        ] {
            let seen = walk(zone, "30 2 * * *", Duration::minutes(617));
            let days = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap().iter_days();
            for day in days.take(730) {
                let key = format!("{day}T02:30");
                assert_eq!(seen.get(&key), Some(&1), "{zone} {key}");
            }
        }
    }

    #[test]
    fn next_after_agrees_with_the_slots_between_across_a_repeated_hour() {
        let schedule = schedule(&["0 */15 * * * *"]);
        let from = utc("2026-10-24T23:50:00Z");
        let upto = utc("2026-10-25T02:20:00Z");
        let mut stepped = Vec::new();
        let mut now = from;
        while let Some(slot) = schedule.next_after(now, BERLIN).filter(|s| s.at <= upto) {
            stepped.push(slot);
            now = slot.at;
        }
        // 02:00 to 02:45 once each, at the first of the two hours; 03:00 and 03:15 after the second.
        let keys: Vec<String> = stepped.iter().map(|s| s.key()[11..].to_owned()).collect();
        assert_eq!(keys, ["02:00", "02:15", "02:30", "02:45", "03:00", "03:15"]);
        assert_eq!(schedule.scheduled_between(from, upto, BERLIN), stepped);
    }

    #[test]
    fn services_are_asked_later_by_a_few_minutes_and_never_from_midnight_to_one() {
        let midnight = utc("2026-07-18T00:00:00Z");
        for (scheduled, minutes) in (0..2 * 24 * 60).flat_map(|n| (0..10).map(move |m| (n, m))) {
            let at = midnight + Duration::minutes(scheduled);
            let asked = politely(at, minutes);
            assert_ne!(asked.hour(), 0, "{at} and {minutes}");
            let later = asked - at;
            assert!(
                later >= Duration::minutes(minutes.into()),
                "{at} and {minutes}"
            );
            let most = if at.hour() == 0 || at.hour() == 23 {
                79
            } else {
                9
            };
            assert!(later <= Duration::minutes(most), "{at} and {minutes}");
        }
    }

    #[test]
    fn rounds_in_a_clock_change_are_found_by_the_zones_own_rules() {
        let hits = |text: &str, zone| schedule(&[text]).in_clock_changes(zone).len();
        assert_eq!(hits("30 2 * * *", BERLIN), 2);
        assert_eq!(hits("30 2 * * Mon-Fri", BERLIN), 0);
        assert_eq!(hits("10 6 * * *", BERLIN), 0);
        assert_eq!(hits("30 2 * * *", HOBART), 2);
        assert_eq!(hits("30 2 * * *", chrono_tz::Asia::Tokyo), 0);
    }
}
