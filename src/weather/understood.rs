//! What was understood of a temperature file, for somebody who asks before it is used, and the config lines that pin it.
//!
//! Where the file itself decides which of day and month stands first it goes by that, and says so. It prints nothing.

use super::csv_file::{FileDay, LeftOut, NamedBy, read};
use super::layout::{Columns, Layout, Unit};
use crate::days::{Origin, RawDay, Thresholds, Verdict, fahrenheit, judge};
use crate::problem::Problem;
use chrono::NaiveDate;
use chrono_tz::Tz;
use std::fmt::Write;
use std::path::Path;

/// A line that is longer does not fit where people read it.
const LONGEST_LINE: usize = 100;

/// So many days that cannot have been are named one by one.
const IMPOSSIBLE_SHOWN: usize = 3;

/// How a file was understood, and what it holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Understood {
    /// The path, as it was given.
    pub path: String,
    /// Whether days come of it.
    pub usable: bool,
    /// How many files it is; more than one where the path is a pattern.
    pub files: usize,
    /// How its text is encoded.
    pub encoding: &'static str,
    /// What parts its cells.
    pub delimiter: char,
    /// The decimal sign of its temperatures, where any had one.
    pub decimal: Option<char>,
    /// The row with the names of its columns; none where it has no names.
    pub header_row: Option<u64>,
    /// The columns that were used, by their names or numbers.
    pub columns: Columns,
    /// The unit of its temperatures.
    pub unit: Unit,
    /// Who says so.
    pub unit_by: NamedBy,
    /// Why its dates were read as they were, where the file itself decided it.
    pub date_because: Option<String>,
    /// What was set, and the date format that the file decided.
    pub layout: Layout,
    /// The whole days, in order.
    pub days: Vec<FileDay>,
    /// The usual number of readings a day; none where each row is a day.
    pub readings_per_day: Option<usize>,
    /// Dates that are no days.
    pub left_out: Vec<LeftOut>,
    /// What was passed over and is no trouble, in sentences.
    pub remarks: Vec<String>,
    /// What is wrong.
    pub problems: Vec<Problem>,
}

impl Understood {
    /// Reads the file. Without a zone, times with an offset stay on the dates on which they are written.
    pub fn of(path: &Path, layout: &Layout, zone: Option<Tz>) -> Self {
        let mut layout = layout.clone();
        let mut file = read(path, &layout, zone);
        let mut date_because = None;
        if let Some(offer) = file.offer.take().filter(|_| !file.usable) {
            layout.date_format = Some(offer.format);
            date_because = Some(offer.because);
            file = read(path, &layout, zone);
        }
        let mut understood = Self {
            path: path.display().to_string(),
            usable: file.usable && !file.days.is_empty(),
            files: file.files,
            encoding: file.encoding,
            delimiter: file.delimiter,
            decimal: file.decimal,
            header_row: file.header_row,
            columns: file.columns,
            unit: file.unit,
            unit_by: file.unit_by,
            date_because,
            layout,
            days: file.days,
            readings_per_day: file.readings_per_day,
            left_out: file.left_out,
            remarks: file.remarks,
            problems: file.problems,
        };
        understood.problems.extend(file.not_read);
        if file.usable {
            understood.judge();
        }
        understood
    }

    /// What makes a file that can be read one that should not be used as it is.
    fn judge(&mut self) {
        if self.days.is_empty() {
            self.problems.push(Problem::new(
                &self.path,
                "no date in it is a whole day",
                "",
                "try a file with a few whole days, or set min_readings lower",
            ));
        }
        if self.unit_by == NamedBy::Nobody
            && !fahrenheit(&self.raw(), &Thresholds::default()).is_empty()
        {
            self.usable = false;
            self.problems.push(Problem::new(
                &self.path,
                "nothing in it says in what unit it is, and its summer days look like °F",
                "",
                "set unit = \"F\" if they are, or unit = \"C\" if that is how hot it was",
            ));
            return;
        }
        self.leave_impossible();
    }

    /// Days that cannot have been count as missing where they are used, so that they are none here.
    fn leave_impossible(&mut self) {
        let raw = self.raw();
        let judged = judge(&raw, &Thresholds::default());
        let mut verdicts = judged.into_iter();
        let mut left = Vec::new();
        self.days.retain(|day| match verdicts.next() {
            Some(Verdict::Rejected(why)) => {
                left.push((day.date, why));
                false
            }
            _ => true,
        });
        let many = left.len();
        for (date, why) in left.into_iter().take(IMPOSSIBLE_SHOWN) {
            self.problems.push(Problem::new(
                format!("{}, {date}", self.path),
                why,
                "the day counts as missing",
                "mend the value",
            ));
        }
        if many > IMPOSSIBLE_SHOWN {
            self.problems.push(Problem::new(
                &self.path,
                format!("{} more days cannot have been", many - IMPOSSIBLE_SHOWN),
                "they count as missing",
                "see that the unit and the columns are right",
            ));
        }
        if self.days.is_empty() && many > 0 {
            self.usable = false;
        }
    }

    fn raw(&self) -> Vec<RawDay> {
        self.days
            .iter()
            .map(|day| day.raw(Origin::Measured))
            .collect()
    }

    /// The first and the last whole day.
    pub fn span(&self) -> Option<(NaiveDate, NaiveDate)> {
        let (first, last) = (self.days.first()?, self.days.last()?);
        Some((first.date, last.date))
    }

    /// How many dates between them are no whole days.
    pub fn missing(&self) -> i64 {
        self.span().map_or(0, |(first, last)| {
            (last - first).num_days() + 1 - self.days.len() as i64
        })
    }

    /// The lines that make this file a source of a site, to be pasted under its `[[site]]`.
    pub fn config_lines(&self) -> Vec<String> {
        let layout = &self.layout;
        let mut lines = vec![
            "[[site.weather]]".to_owned(),
            "source = \"file\"".into(),
            format!("path = {}", quoted(&self.path)),
            format!("unit = {}", quoted(self.unit.word())),
        ];
        let mut set = |key: &str, value: String| lines.push(format!("{key} = {value}"));
        if let Some(format) = &layout.date_format {
            set("date_format", quoted(format));
        }
        if layout.delimiter.is_some() || self.delimiter != ',' {
            set("delimiter", quoted(&self.delimiter.to_string()));
        }
        if let Some(decimal) = layout.decimal {
            set("decimal", quoted(&decimal.to_string()));
        }
        if let Some(clock) = layout.clock {
            set("clock", quoted(&clock.to_string()));
        }
        if layout.interval_end {
            set("interval_end", "true".into());
        }
        if !layout.missing.is_empty() {
            let words: Vec<String> = layout.missing.iter().map(|word| quoted(word)).collect();
            set("missing", format!("[{}]", words.join(", ")));
        }
        if let Some(percent) = layout.min_readings {
            set("min_readings", percent.to_string());
        }
        let columns: Vec<String> = self
            .columns
            .named()
            .map(|(word, name)| format!("{word} = {}", quoted(name)))
            .collect();
        let line = format!("columns = {{ {} }}", columns.join(", "));
        if line.chars().count() <= LONGEST_LINE {
            lines.push(line);
        } else {
            lines.push("[site.weather.columns]".into());
            lines.extend(columns);
        }
        lines
    }
}

/// A text as TOML has it.
fn quoted(text: &str) -> String {
    let mut quoted = String::from('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => quoted.extend(['\\', c]),
            '\t' => quoted.push_str("\\t"),
            c if c.is_control() => {
                // A text in memory takes whatever is written to it.
                let _ = write!(quoted, "\\u{:04X}", u32::from(c));
            }
            c => quoted.push(c),
        }
    }
    quoted + "\""
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::layout_of;

    fn understood(text: &str, lines: &str) -> Understood {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("hill.csv");
        std::fs::write(&path, text).unwrap();
        let mut found = Understood::of(&path, &layout_of(lines).unwrap(), None);
        found.path = "hill.csv".into();
        found
    }

    /// The lines to paste. Whoever pastes them gets the same days.
    #[track_caller]
    fn check(text: &str, set: &str, expect: &[&str]) {
        let found = understood(text, set);
        assert!(found.usable, "{:?}", found.problems);
        let lines = found.config_lines();
        assert_eq!(lines[..2], ["[[site.weather]]", "source = \"file\""]);
        assert_eq!(lines[2..], *expect);
        let pasted = lines[3..]
            .join("\n")
            .replace("[site.weather.columns]", "[columns]");
        assert_eq!(understood(text, &pasted).days, found.days);
    }

    #[test]
    fn a_plain_file_needs_little() {
        check(
            "date,tmin_c,tmax_c\n2026-08-01,8,20\n",
            "",
            &[
                "path = \"hill.csv\"",
                "unit = \"C\"",
                "columns = { date = \"date\", min = \"tmin_c\", max = \"tmax_c\" }",
            ],
        );
    }

    #[test]
    fn what_the_file_decides_is_pinned() {
        let text = "Datum;Temp \"min\" (°F);Temp;Temp\n01/08/2026;50;68,5;1\n18/08/2026;51;70;1\n";
        check(
            text,
            "columns = { date = \"Datum\", min = \"#2\", max = \"#3\" }\nmissing = [\"-1\"]",
            &[
                "path = \"hill.csv\"",
                "unit = \"F\"",
                "date_format = \"%d/%m/%Y\"",
                "delimiter = \";\"",
                "missing = [\"-1\"]",
                "columns = { date = \"Datum\", min = \"Temp \\\"min\\\" (°F)\", max = \"#3\" }",
            ],
        );
    }

    #[test]
    fn what_was_set_is_kept() {
        let long = "Temperature at the gate of the nursery";
        let text = format!(
            "date\ttime\t{long} min\t{long} max\n2026-08-01\t24:00\t8,5\t20\n2026-08-02\t24:00\t9,5\t21\n"
        );
        let set = format!(
            "columns = {{ min = \"{long} min\", max = \"{long} max\" }}\nclock = \"+01:00\"\ninterval_end = true\ndecimal = \",\"\nmin_readings = 60"
        );
        check(
            &text,
            &set,
            &[
                "path = \"hill.csv\"",
                "unit = \"C\"",
                "delimiter = \"\\t\"",
                "decimal = \",\"",
                "clock = \"+01:00\"",
                "interval_end = true",
                "min_readings = 60",
                "[site.weather.columns]",
                "date = \"date\"",
                "time = \"time\"",
                &format!("min = \"{long} min\""),
                &format!("max = \"{long} max\""),
            ],
        );
    }

    #[test]
    fn fahrenheit_is_not_taken_for_celsius() {
        let rows: Vec<String> = (1..=9)
            .map(|day| format!("2026-08-{day:02},60,8{day}\n"))
            .collect();
        let text = format!("date,min,max\n{}", rows.concat());
        let found = understood(&text, "");
        assert!(!found.usable);
        assert_eq!(
            found.problems[0].remedy,
            "set unit = \"F\" if they are, or unit = \"C\" if that is how hot it was"
        );
        assert!(understood(&text, "unit = \"F\"").usable);
    }

    #[test]
    fn a_file_of_readings_without_a_whole_day_is_not_usable() {
        let found = understood("time,temp\n2026-08-01 01:00,8\n2026-08-01 02:00,,\n", "");
        assert!(!found.usable && found.days.is_empty());
    }
}
