//! `[[site.weather]]`: where the temperatures of a site come from.
//!
//! The keys of one source given under another are refused by name. Nothing is opened here.

mod layout;

use super::files::secret_path;
use super::raw::Section;
use super::report::Complaint;
use super::{FileWeather, OpenMeteoWeather, UrlWeather, WeatherConfig};
use crate::weather::http::{is_loopback, is_private, shown};
use crate::weather::layout::Layout;
use crate::weather::url::Format;
use crate::weather::{bright_sky, met_norway, noaa_daily, us_weather_service};
use reqwest::Url;
use std::path::Path;

/// The words for a source, and the keys that each of them has beside `source`.
const SOURCES: [(&str, &[&[&str]]); 7] = [
    ("file", &[&["path"], &layout::KEYS]),
    (
        "open-meteo",
        &[&[
            "url",
            "archive_url",
            "key_file",
            "past_days",
            "forecast_days",
            "contact",
        ]],
    ),
    (
        "url",
        &[
            &[
                "url",
                "format",
                "rows",
                "header_file",
                "forecast",
                "contact",
            ],
            &layout::KEYS,
        ],
    ),
    ("met-norway", &[&["url", "contact"]]),
    (
        "bright-sky",
        &[&["url", "past_days", "forecast_days", "contact"]],
    ),
    ("us-weather-service", &[&["url", "station", "contact"]]),
    ("noaa-daily", &[&["url", "station", "path", "contact"]]),
];

/// Reads one source; `contact` is who stands behind the letters.
pub(super) fn read(s: Section<'_>, folder: &Path, contact: Option<&str>) -> Option<WeatherConfig> {
    let words = SOURCES.map(|(word, _)| word);
    let source = s.choice("source", &words, |word| {
        words.into_iter().find(|known| *known == word)
    });
    let source = s.need(
        "source",
        source,
        "write source = \"file\", or the word of a service as in config/README.md",
    )?;
    refuse_others(&s, source);
    let read = match source {
        "file" => file(&s, folder).map(WeatherConfig::File),
        "url" => farm(&s, folder, contact).map(WeatherConfig::Url),
        "met-norway" => Some(WeatherConfig::MetNorway(met_norway::Settings {
            url: s.parsed("url", url),
            contact: who_asks(&s, contact).unwrap_or_default(),
        })),
        "bright-sky" => Some(WeatherConfig::BrightSky(bright_sky::Settings {
            url: s.parsed("url", url),
            past_days: s.whole("past_days", 0..=92).unwrap_or(10),
            forecast_days: s.whole("forecast_days", 1..=10).unwrap_or(10),
            contact: who_asks(&s, contact).unwrap_or_default(),
        })),
        "us-weather-service" => Some(WeatherConfig::UsWeatherService(
            us_weather_service::Settings {
                url: s.parsed("url", url),
                station: s.line("station"),
                contact: who_asks(&s, contact).unwrap_or_default(),
            },
        )),
        "noaa-daily" => Some(WeatherConfig::NoaaDaily(noaa_daily(&s, folder, contact))),
        _ => Some(WeatherConfig::OpenMeteo(open_meteo(&s, folder, contact))),
    };
    s.finish();
    read
}

/// How a file is laid out, from lines that stand alone.
pub(super) fn layout_alone(s: Section<'_>) -> Layout {
    let layout = layout::layout(&s);
    s.finish();
    layout
}

/// Keys that are known, but to another source.
fn refuse_others(s: &Section<'_>, source: &str) {
    let has = |lists: &[&[&str]], key: &str| lists.iter().any(|keys| keys.contains(&key));
    let own = SOURCES.iter().find(|(word, _)| *word == source);
    let mut refused = Vec::new();
    for (other, lists) in SOURCES {
        for &key in lists.iter().copied().flatten() {
            let mine = own.is_some_and(|(_, lists)| has(lists, key));
            if !mine && !refused.contains(&key) {
                refused.push(key);
                let why = format!("belongs to source = \"{other}\", not to \"{source}\"");
                s.refuse(&[key], &why);
            }
        }
    }
}

fn file(s: &Section<'_>, folder: &Path) -> Option<FileWeather> {
    let path = s.need("path", s.text("path"), "write path = \"temperatures.csv\"");
    let layout = layout::layout(s);
    Some(FileWeather {
        path: folder.join(path?),
        layout,
    })
}

/// Who stands behind the questions to a service: of the source, else behind the letters.
fn who_asks(s: &Section<'_>, letters: Option<&str>) -> Option<String> {
    let contact = s.text("contact").or_else(|| letters.map(str::to_owned));
    if contact.is_none() {
        s.findings().warning(
            s.span(),
            Complaint::new(
                "the service is asked without saying who asks",
                "set from under [post], or contact here, so that they can reach you before they shut you out",
            ),
        );
    }
    contact
}

/// The daily values of a station, from NOAA's service or from a file of theirs.
fn noaa_daily(s: &Section<'_>, folder: &Path, contact: Option<&str>) -> noaa_daily::Settings {
    let path = s.text("path").map(|path| folder.join(path));
    let station = s.line("station");
    if path.is_none() && station.is_none() {
        s.error(
            "nothing says which station is asked",
            "write station = with the 11 characters of NOAA's list of stations, as in \"USW00094728\"; or path = with a file of theirs",
        );
    }
    let contact = if path.is_some() {
        s.text("contact")
    } else {
        who_asks(s, contact)
    };
    noaa_daily::Settings {
        url: s.parsed("url", url),
        station,
        path,
        contact: contact.unwrap_or_default(),
    }
}

fn open_meteo(s: &Section<'_>, folder: &Path, contact: Option<&str>) -> OpenMeteoWeather {
    let contact = who_asks(s, contact);
    OpenMeteoWeather {
        url: s.parsed("url", url),
        archive_url: s.parsed("archive_url", url),
        key_file: s.text("key_file").map(|file| secret_path(folder, &file)),
        past_days: s.whole("past_days", 0..=92).unwrap_or(10),
        forecast_days: s.whole("forecast_days", 1..=16).unwrap_or(10),
        contact,
    }
}

fn farm(s: &Section<'_>, folder: &Path, contact: Option<&str>) -> Option<UrlWeather> {
    let url = s.need(
        "url",
        s.parsed("url", station),
        "write the address it answers at, as in url = \"http://192.168.1.20/days.json\"",
    );
    let format = s.choice("format", &["json", "csv"], |word| match word {
        "json" => Some(Format::Json),
        "csv" => Some(Format::Csv),
        _ => None,
    });
    let format = s.need("format", format, "write format = \"json\" or \"csv\"");
    let rows = s.parsed("rows", pointer);
    let header_file = s.text("header_file").map(|file| secret_path(folder, &file));
    let layout = layout::layout(s);
    match format {
        Some(Format::Json) => json_columns(s, &layout),
        Some(Format::Csv) => s.refuse(&["rows"], "belongs to format = \"json\""),
        None => {}
    }
    if let Some(url) = url.as_deref().and_then(open_to_the_lan) {
        let mut what = format!(
            "{url} is asked over a connection that anybody in that network can read and change"
        );
        if header_file.is_some() {
            what.push_str(", and what is in header_file with it");
        }
        let remedy = "that is usual for a station in your own network; use https where it has it";
        s.findings()
            .warning(s.place("url"), Complaint::new(what, remedy));
    }
    Some(UrlWeather {
        url: url?,
        format: format?,
        rows: rows.unwrap_or_default(),
        layout,
        header_file,
        forecast: s.flag("forecast").unwrap_or(false),
        contact: s
            .text("contact")
            .or_else(|| contact.map(str::to_owned))
            .unwrap_or_default(),
    })
}

/// The address as it may be shown, where it is asked over an open connection.
fn open_to_the_lan(url: &str) -> Option<String> {
    let url = Url::parse(url).ok()?;
    (url.scheme() == "http" && !is_loopback(&url)).then(|| shown(&url))
}

/// JSON has no header in which anything could be found.
fn json_columns(s: &Section<'_>, layout: &Layout) {
    s.refuse(&["delimiter", "decimal"], "belongs to format = \"csv\"");
    let columns = &layout.columns;
    let pair = columns.min.is_some() && columns.max.is_some();
    if columns.date.is_none() || !(pair || columns.temp.is_some()) {
        s.error(
            "nothing says where dates and temperatures stand in the JSON",
            "write columns = { date = \"date\", min = \"tmin\", max = \"tmax\" } with its own keys, or temp for single readings; a key further down is written \"/outdoor/min\"",
        );
    }
    for (word, name) in columns.named().filter(|(_, name)| name.starts_with('/')) {
        if let Err(complaint) = pointer(name) {
            let what = format!("{word}: {}", complaint.what);
            s.findings()
                .error(s.place("columns"), Complaint::new(what, complaint.remedy));
        }
    }
}

/// A JSON pointer (RFC 6901).
fn pointer(text: &str) -> Result<String, Complaint> {
    let bad = |step: &str| {
        step.split('~')
            .skip(1)
            .any(|after| !after.starts_with(['0', '1']))
    };
    if !text.starts_with('/') || text.split('/').any(bad) {
        return Err(Complaint::new(
            format!("'{text}' is not a JSON pointer"),
            "write the way to it with a / before each step, as in \"/station/days\"; ~1 stands for a / and ~0 for a ~ in a name",
        ));
    }
    Ok(text.to_owned())
}

fn url(text: &str) -> Result<String, Complaint> {
    address(
        text,
        is_loopback,
        "plain http goes to this machine itself only",
    )
}

/// The stations of farms seldom have certificates.
fn station(text: &str) -> Result<String, Complaint> {
    address(
        text,
        is_private,
        "plain http goes to this machine and to your own network only (192.168.…, 10.…, 172.16.…, names that end in .local)",
    )
}

fn address(text: &str, open: fn(&Url) -> bool, rule: &str) -> Result<String, Complaint> {
    let refuse = |what: String| {
        Err(Complaint::new(
            what,
            "write a whole address, as in \"https://weather.alderfold.example/v1/forecast\"",
        ))
    };
    let Ok(url) = Url::parse(text) else {
        return refuse(format!("'{text}' is not a web address"));
    };
    match url.scheme() {
        _ if url.host_str().is_none() => refuse(format!("'{text}' is not an https address")),
        "https" => Ok(text.to_owned()),
        "http" if open(&url) => Ok(text.to_owned()),
        "http" => refuse(format!("'{text}' is not private: {rule}")),
        _ => refuse(format!("'{text}' is not an https address")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::tests::{check_refused, check_warned, load, with};

    #[test]
    fn plain_http_goes_to_this_machine_only() {
        assert!(url("http://127.0.0.1:8080/v1/forecast").is_ok());
        assert!(url("http://[::1]:8080/").is_ok());
        assert!(url("https://weather.alderfold.example/x").is_ok());
        assert!(url("http://weather.alderfold.example/x").is_err());
        assert!(url("http://127.0.0.1.alderfold.example/x").is_err());
        assert!(url("http://192.168.1.20/x").is_err());
        assert!(url("weather.alderfold.example").is_err());
    }

    #[test]
    fn a_station_in_the_own_network_may_be_asked_openly() {
        assert!(station("http://192.168.1.20/days.json").is_ok());
        assert!(station("http://station.local/").is_ok());
        assert!(station("http://weather.alderfold.example/").is_err());
        assert!(station("ftp://192.168.1.20/").is_err());
    }

    const STATION: &str = "source = \"url\"\nurl = \"http://192.168.1.20/days\"\nformat = \"json\"\nrows = \"/days\"\ncolumns = { date = \"d\", min = \"/t/lo\", max = \"/t/hi\" }";

    fn with_station(old: &str, new: &str) -> String {
        assert!(STATION.contains(old), "{old}");
        let source = STATION.replacen(old, new, 1);
        with("source = \"file\"\npath = \"hill.csv\"", &source)
    }

    #[test]
    fn a_station_is_read() {
        let config = load(&with_station("rows", "forecast = true\nrows")).unwrap();
        let WeatherConfig::Url(station) = &config.sites[0].weather[0] else {
            panic!("the source is an address");
        };
        assert_eq!((station.rows.as_str(), station.forecast), ("/days", true));
        assert_eq!(station.layout.columns.max.as_deref(), Some("/t/hi"));
        check_warned(
            &with_station("http:", "http:"),
            &["anybody in that network can read and change"],
        );
        check_warned(&with_station("http:", "https:"), &[]);
        check_warned(
            &with_station("rows", "header_file = \"key\"\nrows"),
            &["and what is in header_file with it"],
        );
    }

    #[test]
    fn a_station_must_make_sense() {
        for (old, new, said) in [
            ("192.168.1.20", "203.0.113.9", "your own network only"),
            ("\"json\"", "\"xml\"", "not a word for `format`"),
            ("\"/days\"", "\"days\"", "not a JSON pointer"),
            ("/t/lo", "/t~2", "min: '/t~2' is not a JSON pointer"),
            ("date = \"d\", ", "", "nothing says where dates"),
            ("\"json\"", "\"csv\"", "`rows` belongs to format = \"json\""),
            (
                "rows",
                "delimiter = \";\"\nrows",
                "belongs to format = \"csv\"",
            ),
            ("rows", "path = \"x\"\nrows", "belongs to source = \"file\""),
            (
                "rows",
                "past_days = 3\nrows",
                "belongs to source = \"open-meteo\"",
            ),
            ("url = \"http://192.168.1.20/days\"", "", "has no url"),
        ] {
            check_refused(&with_station(old, new), &[said]);
        }
    }
}
