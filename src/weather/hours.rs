//! Hourly values in UTC made into the site's own days.
//!
//! Every service that hands out hours comes through here. A day counts only when its hours are known, all of its 23,
//! 24 or 25 less at most one, so that half a day never passes for a cool one. Pure; knows no service.

use crate::days::{Origin, RawDay};
use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// Temperatures in °C outside this are not weather where anything is grafted.
pub const POSSIBLE: RangeInclusive<f64> = -60.0..=60.0;

/// The weather of one hour. Unknown is unknown, never 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hour {
    /// The instant of the temperature, and the end of the hour of gust and rain.
    pub at: DateTime<Utc>,
    /// In °C.
    pub temperature: Option<f64>,
    /// Strongest gust of the hour before `at`, in km/h.
    pub gust: Option<f64>,
    /// Rain of the hour before `at`, in mm.
    pub rain: Option<f64>,
}

/// The days that hours add up to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gathered {
    /// Days of which enough hours are known, in order of date.
    pub days: Vec<RawDay>,
    /// Days all of whose hours were there but too many without a value: those that are over, and others up to the last
    /// day that is known.
    pub gaps: Vec<NaiveDate>,
}

/// Groups hours, each at most once, by the calendar dates of `zone`. Days before `today` are modelled, the others
/// forecast.
pub fn gather(hours: &[Hour], zone: Tz, today: NaiveDate) -> Gathered {
    let mut sums: BTreeMap<NaiveDate, Sums> = BTreeMap::new();
    for hour in hours {
        let date = |at: DateTime<Utc>| at.with_timezone(&zone).date_naive();
        sums.entry(date(hour.at)).or_default().temperature(hour);
        // What fell up to midnight fell on the day that ends there.
        sums.entry(date(hour.at - TimeDelta::hours(1)))
            .or_default()
            .gust_and_rain(hour);
    }
    let mut gathered = Gathered::default();
    for (date, sums) in sums {
        let enough = hours_in(date, zone).saturating_sub(1).max(1);
        if sums.known >= enough {
            let passed = date < today;
            gathered.days.push(sums.day(date, enough, passed));
        } else if sums.seen >= enough {
            gathered.gaps.push(date);
        }
    }
    let last = gathered.days.last().map(|day| day.date);
    gathered
        .gaps
        .retain(|&gap| gap < today || last.is_some_and(|l| gap < l));
    gathered
}

/// How many full UTC hours strike during a date: 23 to 25, 0 for a date that a zone left out.
fn hours_in(date: NaiveDate, zone: Tz) -> usize {
    let midnight = date.and_time(NaiveTime::MIN).and_utc();
    // Zones lie between 12 hours behind and 14 ahead of UTC.
    (-15..=39)
        .filter(|&hours| {
            let at = midnight + TimeDelta::hours(hours);
            at.with_timezone(&zone).date_naive() == date
        })
        .count()
}

#[derive(Default)]
struct Sums {
    seen: usize,
    known: usize,
    min: f64,
    max: f64,
    gusts: usize,
    gust: f64,
    rains: usize,
    rain: f64,
}

impl Sums {
    fn temperature(&mut self, hour: &Hour) {
        self.seen += 1;
        if let Some(t) = hour.temperature {
            let first = self.known == 0;
            self.min = if first { t } else { self.min.min(t) };
            self.max = if first { t } else { self.max.max(t) };
            self.known += 1;
        }
    }

    fn gust_and_rain(&mut self, hour: &Hour) {
        if let Some(gust) = hour.gust {
            self.gust = self.gust.max(gust);
            self.gusts += 1;
        }
        if let Some(rain) = hour.rain {
            self.rain += rain;
            self.rains += 1;
        }
    }

    fn day(&self, date: NaiveDate, enough: usize, passed: bool) -> RawDay {
        RawDay {
            date,
            min: self.min,
            max: self.max,
            gust: (self.gusts >= enough).then_some(self.gust),
            rain: (self.rains >= enough).then_some(self.rain),
            origin: if passed {
                Origin::Modelled
            } else {
                Origin::Forecast
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono_tz::{America, Asia, Australia, Europe, Pacific};

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[track_caller]
    fn check(zone: Tz, date: &str, hours: usize) {
        assert_eq!(hours_in(day(date), zone), hours);
    }

    #[test]
    fn days_have_as_many_hours_as_their_zone_gives_them() {
        check(Europe::Berlin, "2026-07-01", 24);
        check(Europe::Berlin, "2026-03-29", 23);
        check(Europe::Berlin, "2026-10-25", 25);
        check(Australia::Melbourne, "2026-10-04", 23);
        check(Australia::Melbourne, "2026-04-05", 25);
        check(Asia::Kolkata, "2026-07-01", 24);
        // Its clock moves by half an hour: 02:00 becomes 02:30.
        check(Australia::Lord_Howe, "2026-10-04", 23);
        // Midnight itself does not exist there on that day.
        check(America::Santiago, "2026-09-06", 23);
        check(Pacific::Kiritimati, "2026-07-01", 24);
        // Samoa went over the date line and left this date out.
        check(Pacific::Apia, "2011-12-30", 0);
    }

    /// Hours from the given moment on; `nan` in the list is an unknown one.
    fn hours(from: &str, temperatures: &[f64]) -> Vec<Hour> {
        let from: DateTime<Utc> = from.parse().unwrap();
        let hour = |(n, &t): (usize, &f64)| Hour {
            at: from + TimeDelta::hours(n.try_into().unwrap()),
            temperature: (!t.is_nan()).then_some(t),
            gust: Some(n as f64),
            rain: Some(0.5),
        };
        temperatures.iter().enumerate().map(hour).collect()
    }

    #[test]
    fn one_unknown_hour_is_forgiven_and_two_are_not() {
        let mut temperatures = [10.0; 25];
        temperatures[3] = f64::NAN;
        temperatures[14] = 24.0;
        let one = hours("2026-07-01T00:00:00Z", &temperatures);
        let found = gather(&one, Tz::UTC, day("2026-07-02"));
        assert_eq!(
            found.days,
            [RawDay {
                date: day("2026-07-01"),
                min: 10.0,
                max: 24.0,
                gust: Some(24.0),
                rain: Some(12.0),
                origin: Origin::Modelled,
            }]
        );
        temperatures[4] = f64::NAN;
        let two = hours("2026-07-01T00:00:00Z", &temperatures);
        let found = gather(&two, Tz::UTC, day("2026-07-02"));
        assert_eq!((found.days, found.gaps), (vec![], vec![day("2026-07-01")]));
    }

    #[test]
    fn a_gap_is_named_where_its_day_is_over_or_a_known_day_follows() {
        let mut temperatures = [10.0; 96];
        temperatures[24..48].fill(f64::NAN);
        temperatures[72..].fill(f64::NAN);
        let found = gather(
            &hours("2026-07-01T00:00:00Z", &temperatures),
            Tz::UTC,
            day("2026-07-03"),
        );
        let dates: Vec<_> = found.days.iter().map(|d| d.date).collect();
        assert_eq!(dates, [day("2026-07-01"), day("2026-07-03")]);
        assert_eq!(found.days[1].origin, Origin::Forecast);
        assert_eq!(found.gaps, [day("2026-07-02")]);
        let later = gather(
            &hours("2026-07-01T00:00:00Z", &temperatures),
            Tz::UTC,
            day("2026-07-05"),
        );
        assert_eq!(later.gaps, [day("2026-07-02"), day("2026-07-04")]);
    }

    #[test]
    fn unknown_rain_is_unknown_and_not_dry() {
        let mut dry = hours("2026-07-01T00:00:00Z", &[10.0; 25]);
        for hour in &mut dry[5..9] {
            hour.rain = None;
        }
        let found = gather(&dry, Tz::UTC, day("2026-07-02"));
        assert_eq!(found.days[0].rain, None);
        assert_eq!(found.days[0].gust, Some(24.0));
    }
}
