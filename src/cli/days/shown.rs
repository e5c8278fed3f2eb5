//! How `days` shows the days: a table for people, an object a line for programs.
//!
//! Says of each day what is used of it and of what else was given why it is not. Decides nothing.

use crate::cli::table::{self, Set, fold};
use crate::days::{Day, Origin, Series};
use crate::letters::day_short;
use crate::store::Kept;
use crate::units::{Celsius, Units};
use anyhow::Context as _;
use chrono::{DateTime, NaiveDate, SecondsFormat, SubsecRound, Utc};
use chrono_tz::Tz;
use serde_json::{Value, json};
use std::collections::{BTreeMap, HashMap};
use std::io::Write;

/// No line of the table is longer, in characters.
const WIDTH: usize = 100;

/// The days and what they were made of.
pub struct Shown<'a> {
    series: &'a Series,
    kept: BTreeMap<NaiveDate, Vec<&'a Kept>>,
    /// Why what a source gave for a date is rejected.
    rejected: HashMap<(&'a str, NaiveDate), &'a str>,
}

/// Who looks at the table.
pub struct Eyes {
    /// The measures they read.
    pub units: Units,
    /// The zone of their clocks.
    pub zone: Tz,
    /// When they look.
    pub now: DateTime<Utc>,
}

impl<'a> Shown<'a> {
    /// `kept` in the order of trust.
    pub fn new(series: &'a Series, kept: &'a [Kept]) -> Self {
        let mut by_date: BTreeMap<NaiveDate, Vec<&Kept>> = BTreeMap::new();
        for day in kept {
            by_date.entry(day.raw.date).or_default().push(day);
        }
        let rejected = series.rejected().iter();
        Self {
            series,
            kept: by_date,
            rejected: rejected
                .map(|r| ((r.source.as_str(), r.raw.date), r.reason.as_str()))
                .collect(),
        }
    }

    fn kept(&self, date: NaiveDate) -> &[&'a Kept] {
        self.kept.get(&date).map_or(&[], Vec::as_slice)
    }

    fn reason(&self, kept: &Kept) -> Option<&'a str> {
        self.rejected
            .get(&(kept.source.as_str(), kept.raw.date))
            .copied()
    }

    /// When the day that is used was fetched.
    fn fetched_at(&self, day: &Day) -> Option<DateTime<Utc>> {
        let kept = self.kept(day.date).iter();
        kept.filter(|kept| kept.source == self.series.source(day))
            .find_map(|kept| kept.fetched_at)
    }

    /// One object a day.
    pub fn json(&self, out: &mut dyn Write, from: NaiveDate, to: NaiveDate) -> anyhow::Result<()> {
        for date in from.iter_days().take_while(|d| *d <= to) {
            let day = self.series.day(date);
            let filled = |d: &&Day| d.origin == Origin::Filled;
            let remark = |d: &Day| Some(d.remark?.to_string());
            let object = json!({
                "date": date,
                "tmin_c": day.map(|d| d.min),
                "tmax_c": day.map(|d| d.max),
                "gust_kmh": day.and_then(|d| d.gust),
                "rain_mm": day.and_then(|d| d.rain),
                "origin": day.map(|d| d.origin.name()),
                "source": day.map(|d| self.series.source(d)).filter(|s| !s.is_empty()),
                "fetched_at": day.and_then(|d| self.fetched_at(d)).map(instant),
                "doubt": day.filter(|d| !filled(d)).and_then(remark),
                "filled": day.filter(filled).and_then(remark),
                "shift": day.and_then(|d| d.shift).map(|s| json!({ "tmin_c": s.min, "tmax_c": s.max, "to": self.series.ranked(s.to) })),
                "raw": self.kept(date).iter().map(|kept| self.raw(kept, day)).collect::<Vec<_>>(),
            });
            writeln!(out, "{object}").context("cannot write")?;
        }
        Ok(())
    }

    /// What a source gave, as it gave it, and why it is not used where it is not.
    fn raw(&self, kept: &Kept, day: Option<&Day>) -> Value {
        let reason = self
            .reason(kept)
            .map(str::to_owned)
            .or_else(|| self.instead(kept, day));
        json!({
            "source": kept.source,
            "tmin_c": kept.raw.min,
            "tmax_c": kept.raw.max,
            "origin": kept.raw.origin.name(),
            "fetched_at": kept.fetched_at.map(instant),
            "used": reason.is_none(),
            "reason": reason,
        })
    }

    /// One row a day, and one below it for each value that is rejected.
    pub fn table(
        &self,
        out: &mut dyn Write,
        from: NaiveDate,
        to: NaiveDate,
        eyes: &Eyes,
    ) -> anyhow::Result<()> {
        let mut rows = Vec::new();
        for date in from.iter_days().take_while(|d| *d <= to) {
            rows.push(self.row(date, eyes));
            for kept in self.kept(date) {
                if let Some(reason) = self.reason(kept) {
                    rows.push([
                        String::new(),
                        figure(kept.raw.min, eyes),
                        figure(kept.raw.max, eyes),
                        "rejected".into(),
                        kept.source.clone(),
                        eyes.when(kept.fetched_at),
                        reason.to_owned(),
                    ]);
                }
            }
        }
        let unit = eyes.units.temperature_unit();
        let (min, max) = (format!("min {unit}"), format!("max {unit}"));
        let columns = [
            ("date", Set::Left),
            (min.as_str(), Set::Right),
            (max.as_str(), Set::Right),
            ("origin", Set::Left),
            ("source", Set::Left),
            ("fetched", Set::Left),
            ("remark", Set::Left),
        ];
        table::write(out, &columns, &broken(&columns, &rows))?;
        Ok(())
    }

    fn row(&self, date: NaiveDate, eyes: &Eyes) -> [String; 7] {
        let day = self.series.day(date);
        let temperature = |of: fn(&Day) -> f64| day.map_or("-".into(), |d| figure(of(d), eyes));
        [
            format!("{date} {}", &day_short(date)[..3]),
            temperature(|d| d.min),
            temperature(|d| d.max),
            day.map_or("unknown", |d| d.origin.name()).into(),
            day.map_or_else(String::new, |d| self.series.source(d).to_owned()),
            day.map_or_else(String::new, |d| eyes.when(self.fetched_at(d))),
            day.map_or_else(String::new, |d| self.remark(d, eyes.units)),
        ]
    }

    /// What is used instead of a sound day.
    fn instead(&self, kept: &Kept, day: Option<&Day>) -> Option<String> {
        let day = day?;
        let source = self.series.source(day);
        match day.remark.filter(|_| day.origin == Origin::Filled) {
            Some(filled) => Some(format!("a line {filled} is used")),
            None => (source != kept.source).then(|| format!("{source} is used")),
        }
    }

    fn remark(&self, day: &Day, units: Units) -> String {
        let doubt = day.remark.map(|remark| match day.origin {
            Origin::Filled => remark.to_string(),
            _ => format!("doubtful: {remark}"),
        });
        let shift = day.shift.map(|shift| {
            let by = |t| units.difference_figure(t);
            let to = self.series.ranked(shift.to);
            format!("{}, {} to agree with {to}", by(shift.min), by(shift.max))
        });
        let said: Vec<String> = doubt.into_iter().chain(shift).collect();
        said.join("; ")
    }
}

impl Eyes {
    /// A moment in few words; what was not in the memory yet is read now.
    fn when(&self, at: Option<DateTime<Utc>>) -> String {
        match at {
            None => String::new(),
            Some(at) if at >= self.now.trunc_subsecs(0) => "now".into(),
            Some(at) => at
                .with_timezone(&self.zone)
                .format("%-d %b %H:%M")
                .to_string(),
        }
    }
}

fn figure(celsius: f64, eyes: &Eyes) -> String {
    eyes.units.temperature_figure(Celsius(celsius))
}

fn instant(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// The rows with long remarks broken into rows of their own.
fn broken(columns: &[(&str, Set); 7], rows: &[[String; 7]]) -> Vec<Vec<String>> {
    let before: usize = (0..6)
        .map(|i| {
            let cells = rows.iter().map(|row| row[i].as_str());
            let widths = cells.chain([columns[i].0]).map(|cell| cell.chars().count());
            widths.max().unwrap_or(0) + 2
        })
        .sum();
    let mut broken = Vec::with_capacity(rows.len());
    for row in rows {
        let mut cells = row[..6].to_vec();
        for line in fold(&row[6], WIDTH.saturating_sub(before), "") {
            cells.push(line);
            broken.push(std::mem::replace(&mut cells, vec![String::new(); 6]));
        }
    }
    broken
}
