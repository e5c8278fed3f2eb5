//! A season for tests, written in days since grafting: weather and field records as short text.
//!
//! Day 0 is the day of grafting. At a constant 20 °C a day gives the maple plan one standard day, so that day 14 has 14.

use crate::care::{BatchCare, Ground, Lines, Moment, Notebook, StepCare, assess};
use crate::days::{Origin, PastYears, RawDay, Series, SourceDays};
use crate::nursery::{Batch, Count, Plan, Record, Site, Target, Vigour, What, Workdays};
use crate::problem::Problem;
use chrono::{Days, NaiveDate, Weekday};
use std::fmt::Write;
use std::sync::Arc;

#[derive(Clone, Debug)]
pub(crate) struct Season {
    pub plan: Plan,
    pub site: Site,
    pub workdays: Workdays,
    pub batches: Vec<Batch>,
    pub records: Vec<Record>,
    /// From day 0 on.
    pub days: Vec<RawDay>,
    /// The years before.
    pub past: PastYears,
    /// So many days, from the day of the round on, are known as a forecast.
    pub horizon: u64,
    /// What has been learned of its batches; its need is left to the plan.
    pub lines: Lines,
    origin: NaiveDate,
}

pub(crate) const WEEK: [Weekday; 7] = [
    Weekday::Mon,
    Weekday::Tue,
    Weekday::Wed,
    Weekday::Thu,
    Weekday::Fri,
    Weekday::Sat,
    Weekday::Sun,
];

/// A hundred maple grafts made on Wednesday 1 July 2026, four months at 20 °C, somebody in the field every day.
pub(crate) fn maple() -> Season {
    Season::new("maple field T-graft", "2026-07-01").weather("120x20")
}

pub(crate) fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// Mondays to Fridays.
pub(crate) fn weekdays() -> Workdays {
    Workdays::new(&WEEK[..5], Vec::new())
}

impl Season {
    pub fn new(plan: &str, grafted_on: &str) -> Self {
        let plans = crate::config::built_in();
        let plan = plans.into_iter().find(|p| p.name == plan).unwrap();
        let batch = Batch {
            name: "C-14".into(),
            site: "home".into(),
            block: "C".into(),
            plan: plan.name.as_str().into(),
            scion: "Osakazuki".into(),
            understock: "palmatum".into(),
            vigour: Vigour::Usual,
            grafts: 100,
            grafted_on: date(grafted_on),
            by: "".into(),
            remarks: String::new(),
        };
        let site = Site {
            id: "home".into(),
            latitude: 50.85,
            longitude: 4.35,
            elevation: None,
            zone: chrono_tz::UTC,
            standard_day: None,
        };
        Self {
            plan,
            site,
            workdays: Workdays::new(&WEEK, Vec::new()),
            batches: vec![batch],
            records: Vec::new(),
            days: Vec::new(),
            past: PastYears::default(),
            horizon: 1000,
            lines: Lines::default(),
            origin: date(grafted_on),
        }
    }

    /// The date of day `n`.
    pub fn day(&self, n: i64) -> NaiveDate {
        self.origin + chrono::TimeDelta::days(n)
    }

    /// "13x20 2x? 3x18f 12/28 2x20g65 20r12": so many days of one temperature or of minimum/maximum, unknown, known only
    /// from a forecast, with gusts of 65 km/h, with 12 mm of rain; from day 0 on.
    #[must_use]
    pub fn weather(mut self, text: &str) -> Self {
        self.days.clear();
        let mut at = self.origin;
        for run in text.split_whitespace() {
            let (times, what) = run.split_once('x').unwrap_or(("1", run));
            let (what, rain) = extra(what, 'r');
            let (what, gust) = extra(what, 'g');
            let what_known = what.trim_end_matches('f');
            let origin = if what == what_known {
                Origin::Measured
            } else {
                Origin::Forecast
            };
            for _ in 0..times.parse().unwrap() {
                if what != "?" {
                    let (min, max) = what_known
                        .split_once('/')
                        .unwrap_or((what_known, what_known));
                    let (min, max) = (min.parse().unwrap(), max.parse().unwrap());
                    self.days.push(RawDay {
                        date: at,
                        min,
                        max,
                        gust,
                        rain,
                        origin,
                    });
                }
                at = at + Days::new(1);
            }
        }
        self
    }

    /// "16 lines 3/10, 17 headed-back 40, 20 block:C looked, 2028-02-29 stumped, 18 retract lines".
    #[must_use]
    pub fn records(mut self, text: &str) -> Self {
        for entry in text.split(", ").filter(|entry| !entry.is_empty()) {
            let mut words = entry.split(' ').peekable();
            let when = words.next().unwrap();
            let date = when.parse().map_or_else(|_| date(when), |n| self.day(n));
            let named = words.next_if(|word| What::named(word).is_none());
            let target = match named.map(|n| (n, n.strip_prefix("block:"))) {
                None => Target::Batch(self.batches[0].name.clone()),
                Some((_, Some(block))) => Target::Block(block.into()),
                Some((name, None)) => Target::Batch(name.into()),
            };
            let what = What::named(words.next().unwrap()).unwrap();
            let rest = words.next();
            let count = rest.filter(|_| what != What::Retract).map(|text| {
                text.split_once('/').map_or_else(
                    || Count::Of(text.parse().unwrap()),
                    |(n, of)| Count::Share(n.parse().unwrap(), of.parse().unwrap()),
                )
            });
            let remarks = rest.unwrap_or_default().into();
            let by = String::new();
            self.records.push(Record {
                date,
                target,
                what,
                count,
                by,
                remarks,
            });
        }
        self
    }

    /// Any other change.
    #[must_use]
    pub fn but(mut self, change: impl FnOnce(&mut Self)) -> Self {
        change(&mut self);
        self
    }

    #[must_use]
    pub fn without_forecast(self) -> Self {
        self.but(|s| s.horizon = 0)
    }

    /// The ground as a round on that date sees it.
    pub fn ground(&self, today: NaiveDate) -> Ground<'_> {
        let days = self.days.iter().filter_map(|day| {
            let to_come = day.date >= today;
            let origin = if to_come {
                Origin::Forecast
            } else {
                day.origin
            };
            (day.date < today + Days::new(self.horizon)).then_some(RawDay { origin, ..*day })
        });
        let source = SourceDays {
            source: "file".into(),
            days: days.collect(),
        };
        let (series, _) = Series::by_usual_rules(&self.site.id, &[source]);
        Ground::new(&self.site, series, Moment::during(today), [self.plan.model])
            .with_past(&self.past)
            .with_last_grafts(&self.past, [&self.plan])
    }

    /// All batches on that ground, with what was wrong.
    pub fn cares<'a>(&'a self, ground: &'a Ground<'a>) -> (Vec<BatchCare<'a>>, Vec<Problem>) {
        let book = Notebook::new(&self.records);
        let mut all = (Vec::new(), Vec::new());
        for batch in &self.batches {
            let (mut cares, problems) = assess(
                &Arc::new(batch.clone()),
                &self.plan,
                ground,
                &book,
                &self.workdays,
            );
            for care in &mut cares {
                let need = care.lines.need;
                care.lines = Lines {
                    need,
                    ..self.lines.clone()
                };
            }
            all.0.extend(cares);
            all.1.extend(problems);
        }
        all
    }

    /// The first batch in a round on day `n`.
    pub fn on<T>(&self, n: i64, look: impl FnOnce(&BatchCare<'_>) -> T) -> T {
        let ground = self.ground(self.day(n));
        let (cares, _) = self.cares(&ground);
        look(&cares[0])
    }

    /// "open 14..21 heat", "open 15..21 record 40/100", "done 16", with days since grafting; "-" is not known.
    pub fn step(&self, n: i64, id: &str) -> String {
        self.on(n, |care| self.told(care.step(id).unwrap(), true))
    }

    /// The same on a date, with dates.
    pub fn step_on(&self, day: &str, id: &str) -> String {
        let n = (date(day) - self.day(0)).num_days();
        self.on(n, |care| self.told(care.step(id).unwrap(), false))
    }

    /// "late 24 running": the limit.
    pub fn limit(&self, n: i64) -> String {
        self.on(n, |care| {
            let limit = care.limit.unwrap();
            let running = if limit.running { " running" } else { "" };
            format!(
                "{} {}{running}",
                limit.state.name(),
                self.named(limit.reached_on, true)
            )
        })
    }

    fn told(&self, step: &StepCare<'_>, by_number: bool) -> String {
        let progress = step.progress;
        let named = |day| self.named(day, by_number);
        if progress.done_on.is_some() {
            return format!("{} {}", step.state.name(), named(progress.done_on));
        }
        let mut text = format!(
            "{} {}..{}",
            step.state.name(),
            named(step.opened.map(|o| o.on)),
            named(step.closes_on)
        );
        if step.state.is_due() {
            let _ = write!(text, " {}", step.opened.unwrap().by.name());
        }
        if progress.done > 0 {
            let _ = write!(text, " {}/{}", progress.done, progress.of);
        }
        text
    }

    fn named(&self, day: Option<NaiveDate>, by_number: bool) -> String {
        day.map_or_else(
            || "-".into(),
            |day| {
                if by_number {
                    (day - self.day(0)).num_days().to_string()
                } else {
                    day.to_string()
                }
            },
        )
    }
}

/// What stands before the letter, and the figure behind it.
fn extra(text: &str, letter: char) -> (&str, Option<f64>) {
    match text.split_once(letter) {
        Some((before, figure)) => (before, Some(figure.parse().unwrap())),
        None => (text, None),
    }
}
