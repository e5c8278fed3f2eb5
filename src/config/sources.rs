//! `[[site.weather]]`: where the temperatures of a site come from.
//!
//! The keys of one source given under another are refused by name. Nothing is opened here.

use super::raw::Section;
use super::report::Complaint;
use super::{FileWeather, OpenMeteoWeather, WeatherConfig};
use crate::weather::layout::{Columns, Layout, Unit};
use chrono::format::{Item, StrftimeItems};
use chrono::{NaiveDate, NaiveDateTime, NaiveTime};
use std::fmt::Write;
use std::net::IpAddr;
use std::path::Path;

const OF_FILE: [&str; 5] = ["path", "columns", "unit", "date_format", "delimiter"];
const OF_OPEN_METEO: [&str; 5] = ["url", "key_file", "past_days", "forecast_days", "contact"];

/// Reads one source; `contact` is who stands behind the letters.
pub(super) fn read(s: Section<'_>, folder: &Path, contact: Option<&str>) -> Option<WeatherConfig> {
    let source = s.choice("source", &["file", "open-meteo"], |word| match word {
        "file" => Some(true),
        "open-meteo" => Some(false),
        _ => None,
    });
    let source = s.need(
        "source",
        source,
        "write source = \"file\" or source = \"open-meteo\"",
    );
    match source {
        Some(true) => {
            s.refuse(
                &OF_OPEN_METEO,
                "belongs to source = \"open-meteo\", not to a file",
            );
            let read = file(&s, folder);
            s.finish();
            read.map(WeatherConfig::File)
        }
        Some(false) => {
            s.refuse(&OF_FILE, "belongs to source = \"file\", not to open-meteo");
            let read = open_meteo(&s, folder, contact);
            s.finish();
            Some(WeatherConfig::OpenMeteo(read))
        }
        None => None,
    }
}

fn file(s: &Section<'_>, folder: &Path) -> Option<FileWeather> {
    let path = s.need("path", s.text("path"), "write path = \"temperatures.csv\"");
    let columns = s.section("columns").map(columns).unwrap_or_default();
    let unit = s.choice("unit", &["C", "F"], |word| match word {
        "C" => Some(Unit::C),
        "F" => Some(Unit::F),
        _ => None,
    });
    let date_format = s.parsed("date_format", |text| {
        date_format(text, columns.time.is_some())
    });
    let delimiter = s.parsed("delimiter", |text| match *text.as_bytes() {
        [byte] if byte.is_ascii_punctuation() || byte == b'\t' || byte == b' ' => Ok(byte),
        _ => Err(Complaint::new(
            format!("'{text}' is not a delimiter"),
            "write one sign, as in \";\" or \",\" or \"\\t\" for a tab",
        )),
    });
    Some(FileWeather {
        path: folder.join(path?),
        layout: Layout {
            columns,
            unit,
            date_format,
            delimiter,
        },
    })
}

fn columns(s: Section<'_>) -> Columns {
    let columns = Columns {
        date: s.text("date"),
        time: s.text("time"),
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
    let refuse = |what: String| {
        let remedy =
            "write it with %Y (or %y), %m and %d, as in \"%d.%m.%Y\" or \"%m/%d/%Y %H:%M\"";
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
    if time_apart && text.contains("%H") {
        return refuse(format!(
            "'{text}' has a time of day, which has a column of its own"
        ));
    }
    Ok(text.to_owned())
}

fn open_meteo(s: &Section<'_>, folder: &Path, contact: Option<&str>) -> OpenMeteoWeather {
    let contact = s.text("contact").or_else(|| contact.map(str::to_owned));
    if contact.is_none() {
        s.findings().warning(
            s.span(),
            Complaint::new(
                "the service is asked without saying who asks",
                "set from under [post], or contact here, so that they can reach you before they shut you out",
            ),
        );
    }
    OpenMeteoWeather {
        url: s.parsed("url", url),
        key_file: s.text("key_file").map(|path| folder.join(path)),
        past_days: s.whole("past_days", 0..=92).unwrap_or(10),
        forecast_days: s.whole("forecast_days", 1..=16).unwrap_or(10),
        contact,
    }
}

fn url(text: &str) -> Result<String, Complaint> {
    let refuse = |what: String| {
        Err(Complaint::new(
            what,
            "write a whole address, as in \"https://weather.alderfold.example/v1/forecast\"",
        ))
    };
    let Ok(url) = reqwest::Url::parse(text) else {
        return refuse(format!("'{text}' is not a web address"));
    };
    match (url.scheme(), url.host_str()) {
        ("https", Some(_)) => Ok(text.to_owned()),
        ("http", Some(host)) if is_this_machine(host) => Ok(text.to_owned()),
        ("http", _) => refuse(format!(
            "'{text}' is not private: plain http goes to this machine itself only"
        )),
        _ => refuse(format!("'{text}' is not an https address")),
    }
}

/// Whether a host name or address always means the machine itself.
pub(super) fn is_this_machine(host: &str) -> bool {
    let bare = host.trim_start_matches('[').trim_end_matches(']');
    bare.eq_ignore_ascii_case("localhost")
        || bare.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_format_reads_back_what_it_writes() {
        for good in [
            "%d.%m.%Y",
            "%m/%d/%Y %H:%M",
            "%Y%m%d",
            "%d/%m/%y",
            "%Y-%m-%dT%H:%M:%S",
        ] {
            assert_eq!(date_format(good, false).ok().as_deref(), Some(good));
        }
        for bad in ["%d.%m", "dd.mm.yyyy", "%Q", "%H:%M", "%Y-%m-%d %z"] {
            assert!(date_format(bad, false).is_err(), "{bad}");
        }
        assert!(date_format("%d.%m.%Y %H:%M", true).is_err());
    }

    #[test]
    fn plain_http_goes_to_this_machine_only() {
        assert!(url("http://127.0.0.1:8080/v1/forecast").is_ok());
        assert!(url("http://[::1]:8080/").is_ok());
        assert!(url("https://weather.alderfold.example/x").is_ok());
        assert!(url("http://weather.alderfold.example/x").is_err());
        assert!(url("http://127.0.0.1.alderfold.example/x").is_err());
        assert!(url("weather.alderfold.example").is_err());
    }
}
