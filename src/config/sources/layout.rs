//! The keys that say how a temperature file, or what an address answers with, is laid out.

use crate::config::raw::Section;
use crate::config::report::Complaint;
use crate::weather::csv_file::offset;
use crate::weather::layout::{Columns, EXCEL, Layout, UNIX, Unit};
use chrono::format::{Item, StrftimeItems};
use chrono::{FixedOffset, NaiveDate, NaiveDateTime, NaiveTime};
use std::fmt::Write;

/// The keys read here.
pub(super) const KEYS: [&str; 9] = [
    "columns",
    "unit",
    "date_format",
    "delimiter",
    "decimal",
    "clock",
    "interval_end",
    "missing",
    "min_readings",
];

/// Reads them.
pub(super) fn layout(s: &Section<'_>) -> Layout {
    let columns = s.section("columns").map(columns).unwrap_or_default();
    let unit = s.choice("unit", &Unit::ALL.map(Unit::word), |word| {
        Unit::ALL.into_iter().find(|unit| unit.word() == word)
    });
    let date_format = s.parsed("date_format", |text| {
        date_format(text, columns.time.is_some())
    });
    let missing = s.texts("missing").unwrap_or_default();
    Layout {
        unit,
        date_format,
        delimiter: s.parsed("delimiter", delimiter),
        decimal: s.choice("decimal", &[".", ","], |word| match word {
            "." => Some('.'),
            "," => Some(','),
            _ => None,
        }),
        clock: s.parsed("clock", clock),
        interval_end: s.flag("interval_end").unwrap_or(false),
        missing: missing.into_iter().map(toml::Spanned::into_inner).collect(),
        min_readings: s.whole("min_readings", 1..=100),
        columns,
    }
}

fn delimiter(text: &str) -> Result<u8, Complaint> {
    match *text.as_bytes() {
        [byte] if byte.is_ascii_punctuation() || byte == b'\t' || byte == b' ' => Ok(byte),
        _ => Err(Complaint::new(
            format!("'{text}' is not a delimiter"),
            "write one sign, as in \";\" or \",\" or \"\\t\" for a tab",
        )),
    }
}

fn clock(text: &str) -> Result<FixedOffset, Complaint> {
    offset(text).and_then(FixedOffset::east_opt).ok_or_else(|| {
        Complaint::new(
            format!("'{text}' is not a fixed clock"),
            "write how far it is ahead of Greenwich, as in \"+01:00\" or \"-05:00\"; leave it out where the logger's clock follows the site's",
        )
    })
}

fn columns(s: Section<'_>) -> Columns {
    let columns = Columns {
        date: s.text("date"),
        time: s.text("time"),
        zone: s.text("zone"),
        min: s.text("min"),
        max: s.text("max"),
        temp: s.text("temp"),
        gust: s.text("gust"),
        rain: s.text("rain"),
    };
    if columns.min.is_some() != columns.max.is_some() {
        s.error(
            "min and max come together",
            "name both columns, or temp alone for a file of readings",
        );
    }
    s.finish();
    columns
}

/// A format must read back what it writes, or no date of the file could be read.
fn date_format(text: &str, time_apart: bool) -> Result<String, Complaint> {
    if [EXCEL, UNIX].contains(&text) {
        return Ok(text.to_owned());
    }
    let refuse = |what: String| {
        let remedy = "write it with %Y (or %y), %m and %d, as in \"%d.%m.%Y\" or \"%m/%d/%Y %H:%M\"; or \"excel\" or \"unix\" for numbers";
        Err(Complaint::new(what, remedy))
    };
    let items: Vec<Item<'_>> = StrftimeItems::new(text).collect();
    if items.contains(&Item::Error) {
        return refuse(format!("'{text}' is not a date format"));
    }
    let reads_back = |day: NaiveDate| {
        let moment = NaiveDateTime::new(day, NaiveTime::MIN);
        let mut written = String::new();
        write!(written, "{}", moment.format_with_items(items.iter())).is_ok()
            && NaiveDate::parse_from_str(&written, text) == Ok(day)
    };
    let days = [(2026, 2, 11), (2031, 11, 28)];
    let days = days
        .into_iter()
        .filter_map(|(y, m, d)| NaiveDate::from_ymd_opt(y, m, d));
    if !days.into_iter().all(reads_back) {
        return refuse(format!(
            "'{text}' does not say the year, month and day of a date"
        ));
    }
    if time_apart && (text.contains("%H") || text.contains("%I")) {
        return refuse(format!(
            "'{text}' has a time of day, which has a column of its own"
        ));
    }
    Ok(text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::tests::{check_refused, load, with};
    use crate::config::{WeatherConfig, layout_of};

    #[test]
    fn a_date_format_reads_back_what_it_writes() {
        for good in [
            "%d.%m.%Y",
            "%m/%d/%Y %H:%M",
            "%m/%d/%Y %I:%M %p",
            "%d. %b %Y",
            "%Y%m%d",
            "%d/%m/%y",
            "%Y-%m-%dT%H:%M:%S",
            "excel",
            "unix",
        ] {
            assert_eq!(date_format(good, false).ok().as_deref(), Some(good));
        }
        for bad in ["%d.%m", "dd.mm.yyyy", "%Q", "%H:%M", "%Y-%m-%d %z"] {
            assert!(date_format(bad, false).is_err(), "{bad}");
        }
        assert!(date_format("%d.%m.%Y %H:%M", true).is_err());
    }

    #[test]
    fn every_key_is_read() {
        let config = load(&with(
            "path = \"hill.csv\"",
            "path = \"logs/*.csv\"\ncolumns = { date = \"#1\", zone = \"tz\", temp = \"Temp\" }\nunit = \"C/10\"\ndelimiter = \";\"\ndecimal = \",\"\nclock = \"UTC+1\"\ninterval_end = true\nmissing = [\"-77\", \"aus\"]\nmin_readings = 90\ndate_format = \"excel\"",
        ))
        .unwrap();
        let WeatherConfig::File(file) = &config.sites[0].weather[0] else {
            panic!("the source is a file");
        };
        let layout = Layout {
            columns: Columns {
                date: Some("#1".into()),
                zone: Some("tz".into()),
                temp: Some("Temp".into()),
                ..Columns::default()
            },
            unit: Some(Unit::TenthsC),
            date_format: Some("excel".into()),
            delimiter: Some(b';'),
            decimal: Some(','),
            clock: FixedOffset::east_opt(3600),
            interval_end: true,
            missing: vec!["-77".into(), "aus".into()],
            min_readings: Some(90),
        };
        assert_eq!(file.layout, layout);
        assert!(file.path.ends_with("logs/*.csv"));
    }

    #[test]
    fn what_makes_no_sense_is_refused() {
        for (line, said) in [
            ("clock = \"CET\"", "'CET' is not a fixed clock"),
            ("decimal = \"point\"", "not a word for `decimal`"),
            ("min_readings = 0", "from 1 to 100"),
            ("interval_end = \"yes\"", "true or false"),
            ("unit = \"K\"", "not a word for `unit`"),
            ("columns = { min = \"a\" }", "min and max come together"),
            ("delimeter = \";\"", "perhaps `delimiter` is meant"),
        ] {
            check_refused(
                &with(
                    "path = \"hill.csv\"",
                    &format!("path = \"hill.csv\"\n{line}"),
                ),
                &[said],
            );
        }
    }

    #[test]
    fn lines_that_stand_alone_are_the_same_keys() {
        let layout = layout_of("unit = \"F\"\ninterval_end = true").unwrap();
        assert_eq!((layout.unit, layout.interval_end), (Some(Unit::F), true));
        let trouble = layout_of("unti = \"F\"").unwrap_err();
        assert!(trouble.to_string().contains("perhaps `unit` is meant"));
    }
}
