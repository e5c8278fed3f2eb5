//! What has been seen of each date of a temperature file, and the days that come of it.
//!
//! Keeps one small entry a date, whatever the number of rows. Says at the end whether rows were days or readings, and
//! leaves out what is not whole or contradicts itself. Knows nothing of cells or headers.

use super::file::{FileDay, LeftOut, TemperatureFile, Why};
use super::minutes::Minutes;
use crate::problem::Problem;
use crate::weather::layout::Layout;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// The last date of a file of readings may not be over: nothing later shows that it is. Then it must have this share of
/// the usual readings, in percent: 23 of 24 hours, so that an afternoon's export does not pass for a cool evening.
const NEARLY_ALL: usize = 95;

/// Readings in so many hours make a day whatever is usual, for an interval may be changed.
const HOURS: usize = 23;

/// What has been seen of one date.
#[derive(Clone, Debug)]
pub struct Seen {
    /// The name of its file, for messages.
    pub file: usize,
    /// Where it first stands.
    pub row: u64,
    /// Readings with a time.
    pub minutes: Minutes,
    /// Rows without one.
    pub untimed: usize,
    /// Minimum and maximum of the first row, in °C.
    pub first: (f64, f64),
    pub min: f64,
    pub max: f64,
    pub gust: Option<f64>,
    /// Of all rows together.
    pub rain: Option<f64>,
    pub rows_with_rain: usize,
    /// A row that says something else than the first.
    pub differs: Option<(u64, (f64, f64))>,
}

impl Seen {
    fn readings(&self) -> usize {
        self.minutes.count() + self.untimed
    }

    /// The same date in a newer file: where that one has every minute of this, it stands alone.
    fn renewed_by(&mut self, newer: Self) {
        if newer.untimed >= self.untimed && newer.minutes.cover(&self.minutes) {
            *self = newer;
            return;
        }
        // What fell in minutes that only one of them has cannot be told apart any more.
        self.rain = if newer.minutes.meet(&self.minutes) {
            None
        } else {
            self.rain.zip(newer.rain).map(|(a, b)| a + b)
        };
        self.minutes.join(&newer.minutes);
        self.untimed = self.untimed.max(newer.untimed);
        self.min = self.min.min(newer.min);
        self.max = self.max.max(newer.max);
        self.gust = self.gust.into_iter().chain(newer.gust).reduce(f64::max);
    }
}

/// The dates of one or more files.
#[derive(Clone, Debug, Default)]
pub struct Dates {
    pub seen: BTreeMap<NaiveDate, Seen>,
    /// The last date of any row, measured or not.
    pub latest: Option<NaiveDate>,
    /// There is one temperature a row, which is a reading.
    pub single: bool,
    /// The names of the files, for messages.
    pub files: Vec<String>,
}

impl Dates {
    /// Adds a newer file.
    pub fn renew(&mut self, newer: Self) {
        let before = self.files.len();
        self.files.extend(newer.files);
        self.latest = self.latest.max(newer.latest);
        self.single |= newer.single;
        for (date, mut seen) in newer.seen {
            seen.file += before;
            match self.seen.get_mut(&date) {
                Some(older) => older.renewed_by(seen),
                None => {
                    self.seen.insert(date, seen);
                }
            }
        }
    }

    /// The days, or what is wrong with all of them and what to do.
    pub fn finish(
        &self,
        layout: &Layout,
        file: &mut TemperatureFile,
    ) -> Result<(), (String, String)> {
        let usual = usual(self.seen.values().map(Seen::readings));
        // A daily file may stamp its rows with a time, and have a date twice; readings have many moments on most dates.
        let many = self
            .seen
            .values()
            .filter(|seen| seen.minutes.count() > 1)
            .count();
        let readings = self.single || (many > 0 && many * 2 >= self.seen.len());
        if self.single && usual == 1 {
            return Err((
                "it has one temperature a day, and a day needs its minimum and its maximum".into(),
                "name a column for each in the config, or write readings through the day".into(),
            ));
        }
        file.readings_per_day = readings.then_some(usual);
        let enough = layout.min_readings.unwrap_or(Layout::ENOUGH) as usize;
        for (&date, seen) in &self.seen {
            let had = seen.readings();
            let why = if !readings {
                seen.differs.map(|_| Why::Twice)
            } else if had * 100 < usual * enough && seen.minutes.hours() < HOURS {
                Some(Why::Few { had })
            } else if Some(date) == self.latest
                && had * 100 < usual * NEARLY_ALL
                && seen.minutes.hours() < HOURS
            {
                Some(Why::NotOver { had })
            } else {
                None
            };
            if let Some(why) = why {
                file.left_out.push(LeftOut { date, why });
                file.problems.extend(self.twice(date, seen, why));
            } else {
                file.days.push(day(date, seen, readings));
            }
        }
        Ok(())
    }

    fn twice(&self, date: NaiveDate, seen: &Seen, why: Why) -> Option<Problem> {
        let (row, other) = seen.differs.filter(|_| why == Why::Twice)?;
        let place = self.files.get(seen.file).map_or("", String::as_str);
        let pair = |(min, max): (f64, f64)| format!("{min:.1} to {max:.1} °C");
        let problem = Problem::new(
            format!("{place}, rows {} and {row}", seen.row),
            format!(
                "{date} stands there with {} and with {}",
                pair(seen.first),
                pair(other)
            ),
            "the day is left out",
            "keep the row that is right",
        );
        Some(problem.keyed(format!("{place}: {date} twice")))
    }
}

fn day(date: NaiveDate, seen: &Seen, readings: bool) -> FileDay {
    let rain = match (seen.rain, readings) {
        (Some(sum), false) => Some(sum / seen.rows_with_rain as f64),
        (rain, _) => rain,
    };
    FileDay {
        date,
        min: seen.min,
        max: seen.max,
        gust: seen.gust.filter(|gust| gust.is_finite()),
        rain: rain.filter(|rain| rain.is_finite()),
    }
}

/// Three of four dates have no more: the ends of a short file, which are no whole days, are not taken for usual.
fn usual(counts: impl Iterator<Item = usize>) -> usize {
    let mut counts: Vec<usize> = counts.collect();
    counts.sort_unstable();
    counts
        .get(counts.len() * 3 / 4)
        .copied()
        .unwrap_or_default()
}
