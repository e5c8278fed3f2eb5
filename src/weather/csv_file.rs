//! The grower's own temperature file as a source: daily rows or readings, as loggers and spreadsheets write them.
//!
//! Reads a file again only when it has changed; a path may be a pattern that means several. Days before the site's today are measured; today's is not over and left
//! until tomorrow, and a day to come cannot have been measured. Hands on raw days; judges none of them.

mod cells;
mod clock;
mod evidence;
mod file;
mod files;
mod gather;
mod header;
mod minutes;
mod moment;
mod names;
mod read;
mod seen;

pub use clock::offset;
pub use evidence::Offer;
pub use file::{FileDay, LeftOut, NamedBy, TemperatureFile, Why};
pub use files::is_pattern;
pub use read::{read, read_from, read_rows};

use super::layout::Layout;
use super::{Ask, Fetched, Pending, Source};
use crate::days::Origin;
use crate::problem::Problem;
use chrono_tz::Tz;
use files::{Looks, looks};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// One temperature file of one site, or all the files of a pattern.
#[derive(Clone, Debug)]
pub struct FileSource {
    path: PathBuf,
    layout: Layout,
    zone: Tz,
    last: Arc<Mutex<Option<Reading>>>,
}

/// What the files said when they looked like this.
#[derive(Clone, Debug)]
struct Reading {
    looks: Vec<Looks>,
    file: Arc<TemperatureFile>,
}

impl FileSource {
    /// The file at that path; `zone` is the site's.
    pub fn new(path: PathBuf, layout: Layout, zone: Tz) -> Self {
        Self {
            path,
            layout,
            zone,
            last: Arc::default(),
        }
    }

    /// What the file says now, from memory where it has not changed since it was last read.
    pub fn reading(&self) -> Arc<TemperatureFile> {
        // Looked at before the file is read: a change in between is then read again, never missed.
        let looks = looks(&self.path);
        // A reader that panicked left no half-made reading behind.
        let mut last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        if let (Some(reading), Some(looks)) = (&*last, &looks)
            && reading.looks == *looks
        {
            return Arc::clone(&reading.file);
        }
        let file = Arc::new(read(&self.path, &self.layout, Some(self.zone)));
        *last = looks.map(|looks| Reading {
            looks,
            file: Arc::clone(&file),
        });
        file
    }

    fn days(&self, ask: &Ask) -> Fetched {
        let file = self.reading();
        let today = ask.now.with_timezone(&self.zone).date_naive();
        let days = file
            .days
            .iter()
            .filter(|day| day.date >= ask.from && day.date < today)
            .map(|day| day.raw(Origin::Measured));
        let mut problems = [&file.problems[..], &file.not_read].concat();
        let to_come = file.days.iter().filter(|day| day.date > today);
        if let Some(first) = to_come.clone().next() {
            problems.push(self.to_come(&first.date.to_string(), to_come.count()));
        }
        Fetched {
            days: days.collect(),
            problems,
            passing: false,
            answered: file.usable,
            ..Fetched::default()
        }
    }

    fn to_come(&self, first: &str, count: usize) -> Problem {
        let place = self.path.display().to_string();
        let what = match count {
            1 => format!("the day {first} is in the future"),
            _ => format!("{count} days from {first} on are in the future"),
        };
        Problem::new(
            &place,
            what,
            "not used",
            "see that date_format has day and month in the right order and that the logger's clock is right",
        )
        .keyed(format!("{place}: days in the future"))
    }
}

impl Source for FileSource {
    fn name(&self) -> &'static str {
        "file"
    }

    fn fetch(&self, ask: Ask) -> Pending<'_, Fetched> {
        // A large file takes seconds to read; those who feed the watchdog must not wait for it.
        let source = self.clone();
        Box::pin(async move {
            let days = tokio::task::spawn_blocking(move || source.days(&ask));
            days.await.unwrap_or_else(|error| Fetched {
                problems: vec![Problem::new(
                    self.path.display().to_string(),
                    format!("reading the file was broken off ({error})"),
                    "what was read before stays in force",
                    "tell the makers of graftwarden",
                )],
                ..Fetched::default()
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;
    use std::fs;
    use std::path::Path;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    async fn fetch(source: &FileSource, now: &str) -> Fetched {
        let ask = Ask {
            now: now.parse().unwrap(),
            from: day("2026-08-02"),
            memo: None,
        };
        source.fetch(ask).await
    }

    fn source(path: &Path) -> FileSource {
        FileSource::new(
            path.to_owned(),
            Layout::default(),
            chrono_tz::Europe::Brussels,
        )
    }

    const ROWS: &str = "date,tmin,tmax\n2026-08-01,8,20\n2026-08-02,9,21\n2026-08-03,10,22\n2026-08-04,11,23\n2026-08-05,12,24\n";

    #[track_caller]
    fn check(fetched: &Fetched, days: &[&str], problems: &[&str]) {
        let found: Vec<String> = fetched
            .days
            .iter()
            .map(|day| format!("{} {} {} {}", day.date, day.min, day.max, day.origin.name()))
            .collect();
        let told: Vec<&str> = fetched.problems.iter().map(|p| p.what.as_str()).collect();
        assert_eq!(found, days);
        assert_eq!(told, problems);
    }

    #[tokio::test]
    async fn days_before_the_sites_today_are_measured() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("temps.csv");
        fs::write(&path, ROWS).unwrap();
        let source = source(&path);
        // 22:30 UTC on the 3rd is past midnight in Brussels: there it is the 4th.
        let fetched = fetch(&source, "2026-08-03T22:30:00Z").await;
        check(
            &fetched,
            &["2026-08-02 9 21 measured", "2026-08-03 10 22 measured"],
            &["the day 2026-08-05 is in the future"],
        );
        assert!(fetched.answered);
        let fetched = fetch(&source, "2026-08-03T12:00:00Z").await;
        check(
            &fetched,
            &["2026-08-02 9 21 measured"],
            &["2 days from 2026-08-04 on are in the future"],
        );
        assert_eq!(
            fetched.problems[0].to_string(),
            format!(
                "{}: 2 days from 2026-08-04 on are in the future; not used. See that date_format has day and month in the right order and that the logger's clock is right.",
                path.display()
            )
        );
    }

    #[tokio::test]
    async fn a_changed_file_is_read_again_and_an_unchanged_one_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("temps.csv");
        fs::write(&path, ROWS).unwrap();
        let source = source(&path);
        let first = source.reading();
        assert!(Arc::ptr_eq(&first, &source.reading()));
        fs::write(&path, "date,tmin,tmax\n2026-08-02,1,2\n").unwrap();
        let fetched = fetch(&source, "2026-08-03T12:00:00Z").await;
        check(&fetched, &["2026-08-02 1 2 measured"], &[]);
    }

    #[tokio::test]
    async fn a_file_of_no_use_does_not_answer() {
        let folder = tempfile::tempdir().unwrap();
        let fetched = fetch(
            &source(&folder.path().join("temps.csv")),
            "2026-08-03T12:00:00Z",
        )
        .await;
        check(&fetched, &[], &["there is no such file"]);
        assert!(!fetched.answered);
    }
}
