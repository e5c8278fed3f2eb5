//! The days of one site in order: for each date the most trusted sound value, gaps filled where the rules allow.

use super::chain::{self, Sound};
use super::quality::{self, Thresholds, Verdict};
use super::{Day, PastYears, Rank, RawDay, fill};
use crate::problem::Problem;
use chrono::{Days, NaiveDate};
use std::ops::Range;

/// What one source gave, in order of date.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceDays {
    /// The name of the source.
    pub source: String,
    /// Its days, each date once.
    pub days: Vec<RawDay>,
}

/// How the days of a site are settled.
#[derive(Clone, Copy, Debug)]
pub struct Rules<'a> {
    /// What is possible and usual at the site.
    pub thresholds: &'a Thresholds,
    /// What is known of the years before.
    pub past: &'a PastYears,
    /// The last day that is over: up to it, what nobody knows may be filled.
    pub through: NaiveDate,
}

/// A contiguous run of days; `None` where nothing is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Series {
    first: NaiveDate,
    days: Vec<Option<Day>>,
    /// The names of its sources, the most trusted first.
    sources: Vec<String>,
    /// The mean temperature in °C of the 7 days up to and including each, where all are known of.
    weeks: Vec<Option<f64>>,
    rejected: Vec<Rejected>,
}

/// A day that a source gave and that is not used.
#[derive(Clone, Debug, PartialEq)]
pub struct Rejected {
    /// The source.
    pub source: String,
    /// What it gave.
    pub raw: RawDay,
    /// Why it is not used.
    pub reason: String,
}

impl Series {
    /// Chooses and fills the days of a site from its sources, the most trusted first. A day that came to pass is taken
    /// from the first source that has more than a forecast of it; one that stands in for a better one is shifted by
    /// their mean difference. Minimum and maximum never mix two sources, gust and
    /// rain may come from another. Gaps of one or two days are filled by a line,
    /// longer ones by the past years' mean for the date.
    pub fn settle(site: &str, sources: &[SourceDays], rules: Rules<'_>) -> (Self, Vec<Problem>) {
        let mut problems = Vec::new();
        let mut rejected = Vec::new();
        let mut sound: Vec<Sound<'_>> = Vec::with_capacity(sources.len());
        for (place, source) in sources.iter().enumerate() {
            sound.push(judged(
                site,
                (Rank::of(place), source),
                rules.thresholds,
                &mut rejected,
                &mut problems,
            ));
        }
        problems.extend(chain::disagreement(site, &sound, rules.thresholds));
        let first = sources
            .iter()
            .filter_map(|s| s.days.first())
            .map(|d| d.date);
        let last = sources.iter().filter_map(|s| s.days.last()).map(|d| d.date);
        let (Some(first), Some(last)) = (first.min(), last.max()) else {
            return (Self::default(), problems);
        };
        let count =
            (last.max(rules.through.min(last + Days::new(366))) - first).num_days() as usize + 1;
        let mut days = chain::choose(&sound, first, count);
        fill::by_line(first, &mut days);
        fill::by_past_years(first, &mut days, rules.past, rules.through);
        chain::wind_and_rain(&mut days, &sound);
        (
            Self {
                first,
                sources: sources.iter().map(|s| s.source.clone()).collect(),
                weeks: weeks(&days),
                days,
                rejected,
            },
            problems,
        )
    }

    /// By the usual rules, with no years before.
    #[cfg(test)]
    pub fn by_usual_rules(site: &str, sources: &[SourceDays]) -> (Self, Vec<Problem>) {
        let (thresholds, past) = (Thresholds::default(), PastYears::default());
        let last = sources.iter().flat_map(|s| &s.days).map(|d| d.date).max();
        let rules = Rules {
            thresholds: &thresholds,
            past: &past,
            through: last.unwrap_or_default(),
        };
        Self::settle(site, sources, rules)
    }

    /// The run without the days that came to pass after `through`: how it looks from there.
    #[must_use]
    pub fn seen_from(mut self, through: NaiveDate) -> Self {
        let after = self.place(through + Days::new(1)).unwrap_or(0);
        let mut changed = false;
        for day in self.days.iter_mut().skip(after) {
            if day.as_ref().is_some_and(Day::is_known) {
                *day = None;
                changed = true;
            }
        }
        if changed {
            self.weeks = weeks(&self.days);
        }
        self
    }

    /// The first date of the run.
    pub fn first(&self) -> NaiveDate {
        self.first
    }

    /// The run, from [`Series::first`] on.
    pub fn run(&self) -> &[Option<Day>] {
        &self.days
    }

    /// The name of a day's source; empty for filled days.
    pub fn source(&self, day: &Day) -> &str {
        day.source.map_or("", |rank| self.ranked(rank))
    }

    /// The name of the source of that rank.
    pub fn ranked(&self, rank: Rank) -> &str {
        self.sources.get(rank.place()).map_or("", String::as_str)
    }

    /// What sources gave and is not used.
    pub fn rejected(&self) -> &[Rejected] {
        &self.rejected
    }

    /// The day of that date, where anything is known of it.
    pub fn day(&self, date: NaiveDate) -> Option<&Day> {
        self.days.get(self.place(date)?)?.as_ref()
    }

    /// The last day that was measured or modelled.
    pub fn last_known(&self) -> Option<NaiveDate> {
        self.days
            .iter()
            .rev()
            .flatten()
            .find(|d| d.came_to_pass())
            .map(|d| d.date)
    }

    /// The days from `from` to `to`, both included, that are known of.
    pub fn between(&self, from: NaiveDate, to: NaiveDate) -> impl Iterator<Item = &Day> {
        let at = |date: NaiveDate| {
            (date - self.first)
                .num_days()
                .clamp(0, self.days.len() as i64) as usize
        };
        let (start, end) = (at(from), at(to.succ_opt().unwrap_or(to)));
        self.days[start..end.max(start)].iter().flatten()
    }

    /// The first date on or after `from` at whose end the mean of the last 7 days satisfies `is`; all 7 must be known of.
    pub fn first_week(&self, from: NaiveDate, is: impl Fn(f64) -> bool) -> Option<NaiveDate> {
        let start = self.place(from.max(self.first))?;
        let week = |mean: &Option<f64>| mean.is_some_and(&is);
        let after = self.weeks.get(start..)?.iter().position(week)?;
        Some(self.first + Days::new((start + after) as u64))
    }

    /// The mean temperature in °C of the 7 days up to and including `date`.
    pub fn week_mean(&self, date: NaiveDate) -> Option<f64> {
        self.weeks.get(self.place(date)?).copied().flatten()
    }

    fn place(&self, date: NaiveDate) -> Option<usize> {
        usize::try_from((date - self.first).num_days()).ok()
    }
}

/// The mean of the 7 days up to and including each of a run.
fn weeks(days: &[Option<Day>]) -> Vec<Option<f64>> {
    let means: Vec<Option<f64>> = days.iter().map(|day| Some(day.as_ref()?.mean())).collect();
    let whole = means
        .windows(7)
        .map(|week| Some(week.iter().rev().copied().sum::<Option<f64>>()? / 7.0));
    let begun = std::iter::repeat_n(None, days.len().min(6));
    begun.chain(whole).collect()
}

/// The sound days of one source.
fn judged<'a>(
    site: &str,
    (rank, source): (Rank, &'a SourceDays),
    thresholds: &Thresholds,
    rejected: &mut Vec<Rejected>,
    problems: &mut Vec<Problem>,
) -> Sound<'a> {
    let stopped = quality::fahrenheit(&source.days, thresholds);
    if let Some(newest) = stopped.last() {
        problems.push(fahrenheit(site, source, newest));
    }
    let mut sound = Sound {
        source: &source.source,
        rank,
        days: Vec::with_capacity(source.days.len()),
    };
    for (place, (raw, verdict)) in source
        .days
        .iter()
        .zip(quality::judge(&source.days, thresholds))
        .enumerate()
    {
        let mut reject = |reason: String| {
            rejected.push(Rejected {
                source: source.source.clone(),
                raw: *raw,
                reason,
            });
        };
        if stopped.iter().any(|places| places.contains(&place)) {
            reject("reads like °F where °C is expected".into());
            continue;
        }
        match verdict {
            Verdict::Rejected(reason) => {
                problems.push(not_used(site, source, raw, &reason));
                reject(reason);
            }
            Verdict::Sound => sound.take(raw, None),
            Verdict::Doubted(doubt) => sound.take(raw, Some(doubt)),
        }
    }
    sound
}

fn not_used(site: &str, source: &SourceDays, raw: &RawDay, reason: &str) -> Problem {
    Problem::new(
        format!("site {site}, {}, {}", source.source, raw.date),
        reason.to_owned(),
        "the day is not used",
        "look at the instrument or mend the value",
    )
}

fn fahrenheit(site: &str, source: &SourceDays, places: &Range<usize>) -> Problem {
    let days = &source.days[places.clone()];
    let hottest = days.iter().map(|d| d.max).fold(f64::MIN, f64::max);
    let (from, last) = (days[0].date, days[days.len() - 1].date);
    let (until, done) = if places.end == source.days.len() {
        (
            "on".to_owned(),
            "nothing of this source is used from that day on",
        )
    } else {
        (
            format!("to {last}"),
            "none of these days of this source is used",
        )
    };
    Problem::new(
        format!("site {site}, {}", source.source),
        format!("maxima up to {hottest:.0} from {from} {until} read like °F where °C is expected"),
        done,
        "set unit = \"F\" for it in the config, or set the logger back to °C",
    )
    .keyed(format!(
        "site {site}, {}: °F where °C is expected",
        source.source
    ))
}

#[cfg(test)]
mod tests;
