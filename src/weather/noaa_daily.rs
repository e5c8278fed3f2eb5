//! The daily values of weather stations that NOAA gathers from all over the world (GHCN-Daily): from its access service,
//! or from a file of one station on disk.
//!
//! All of it is measured, and days to weeks late: it makes sure of days past and knows none to come. A date is the
//! station's own, so a station that is read in the morning has its maxima a day late, which is said. It hands on days;
//! it knows nothing of what is stored.

mod answer;
mod elements;
mod files;
mod morning;

pub use morning::reads_in_the_morning;

use super::http::{Getter, HttpError, Line, authority, shown};
use super::{Ask, Fetched, Pending, Source};
use crate::nursery::Site;
use crate::problem::Problem;
use answer::Bad;
use chrono::{NaiveDate, TimeDelta};
use elements::{Element, Found, Readings};
use files::Wanted;
use reqwest::Url;
use std::path::{Path, PathBuf};

const URL: &str = "https://www.ncei.noaa.gov/access/services/data/v1";
/// What becomes of the days when an answer is of no use.
const KEPT: &str = "the days already known stay in use";
/// A station without a single day for so long is not the one that was meant, or dead.
const SILENT: i64 = 30;
/// Of what was left out, so many are named.
const NAMED: usize = 3;
/// Whom a service shuts out, it shuts out for long.
const SHUT_OUT: TimeDelta = TimeDelta::hours(24);

/// What the config says about this source.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Settings {
    /// Another address of the same service.
    pub url: Option<String>,
    /// The station's 11 characters, like USW00094728; for a file only needed when it has several.
    pub station: Option<String>,
    /// A file on disk instead of the service.
    pub path: Option<PathBuf>,
    /// An address or web page for the User-Agent.
    pub contact: String,
}

/// One station for one site.
#[derive(Debug)]
pub struct NoaaDaily {
    site: Site,
    from: From,
}

#[derive(Debug)]
enum From {
    Service {
        url: Url,
        station: String,
        getter: Box<Getter>,
    },
    File {
        path: PathBuf,
        station: Option<String>,
    },
}

impl NoaaDaily {
    /// Prepares the source; connects to nothing and opens nothing. Refuses an address that is none, a station that is
    /// none, and both an address and a file.
    pub fn new(site: &Site, settings: Settings, line: impl Into<Line>) -> Result<Self, Problem> {
        let place = label(site);
        let problem = |what: String, remedy: &str| {
            Problem::new(place.clone(), what, "this source is not used", remedy)
        };
        let station_remedy =
            "write the 11 characters that NOAA's list of stations has for it, like USW00094728";
        if let Some(name) = settings.station.as_deref().filter(|name| !is_station(name)) {
            return Err(problem(
                format!("'{name}' is not the name of a station"),
                station_remedy,
            ));
        }
        let from = match (settings.path, settings.station) {
            (Some(_), _) if settings.url.is_some() => {
                return Err(problem(
                    "it has both a url and a path".into(),
                    "leave one of them out",
                ));
            }
            (Some(path), station) => From::File { path, station },
            (None, None) => {
                return Err(problem(
                    "it does not say of which station".into(),
                    station_remedy,
                ));
            }
            (None, Some(station)) => {
                let url = Url::parse(settings.url.as_deref().unwrap_or(URL))
                    .ok()
                    .filter(|url| matches!(url.scheme(), "http" | "https") && url.has_host())
                    .ok_or_else(|| {
                        problem(
                            "its url is not a web address".into(),
                            "write it like https://www.ncei.noaa.gov/access/services/data/v1",
                        )
                    })?;
                let getter = Getter::new(&url, &settings.contact, None, line)
                    .map_err(|e| problem(e.to_string(), e.remedy()))?;
                From::Service {
                    url,
                    station,
                    getter: Box::new(getter),
                }
            }
        };
        Ok(Self {
            site: site.clone(),
            from,
        })
    }

    async fn ask(&self, ask: Ask) -> Fetched {
        let today = ask.now.with_timezone(&self.site.zone).date_naive();
        if ask.from >= today {
            return Fetched {
                answered: true,
                ..Fetched::default()
            };
        }
        match &self.from {
            From::Service {
                url,
                station,
                getter,
            } => {
                self.ask_service(
                    &request(url, station, &ask, today),
                    station,
                    getter,
                    &ask,
                    today,
                )
                .await
            }
            From::File { path, station } => {
                let wanted = Wanted {
                    station: station.clone(),
                    from: ask.from,
                    until: today,
                };
                self.read_file(path, wanted).await
            }
        }
    }

    async fn ask_service(
        &self,
        url: &Url,
        station: &str,
        getter: &Getter,
        ask: &Ask,
        today: NaiveDate,
    ) -> Fetched {
        let document = match getter.json::<serde_json::Value>(url).await {
            Ok(document) => document,
            Err(error) => return self.unheard(&error, ask),
        };
        let readings = match answer::readings(&document, station) {
            Ok(readings) => readings,
            Err(bad) => {
                return Fetched {
                    problems: vec![self.useless(url, bad)],
                    ..Fetched::default()
                };
            }
        };
        let mut fetched = self.told(readings, Vec::new());
        fetched
            .days
            .retain(|day| (ask.from..today).contains(&day.date));
        let asked = (today - ask.from).num_days();
        if fetched.days.is_empty() && asked >= SILENT {
            let bad = Bad {
                kind: "silent",
                what: format!("station {station} has no whole day of the last {asked}"),
                remedy: "look at the station's name in the config: many stations have ended",
            };
            fetched.problems.push(self.useless(url, bad));
            fetched.passing = false;
        }
        fetched
    }

    async fn read_file(&self, path: &Path, wanted: Wanted) -> Fetched {
        // A large file takes seconds to read; those who feed the watchdog must not wait for it.
        let owned = path.to_owned();
        let read = tokio::task::spawn_blocking(move || files::read(&owned, &wanted));
        let file = read.await.unwrap_or_else(|error| {
            Err(Problem::new(
                path.display().to_string(),
                format!("reading the file was broken off ({error})"),
                "what was read before stays in force",
                "tell the makers of graftwarden",
            ))
        });
        match file {
            Ok(file) => self.told(file.readings, file.problems),
            Err(problem) => Fetched {
                problems: vec![problem],
                ..Fetched::default()
            },
        }
    }

    /// The days, with what is to be said of them. Each thing to be said has a key that stays the same from round to
    /// round, so that it is told once and not again with each further day.
    fn told(&self, readings: Readings, mut problems: Vec<Problem>) -> Fetched {
        let Found {
            days,
            dropped,
            morning,
        } = readings.days();
        if !dropped.is_empty() {
            let named = dropped[..dropped.len().min(NAMED)].join("; ");
            let more = match dropped.len().saturating_sub(NAMED) {
                0 => String::new(),
                more => format!("; and {more} more"),
            };
            let problem = Problem::new(
                label(&self.site),
                format!("{named}{more}"),
                "left out",
                "nothing to do: such days come from the next source or are filled",
            );
            problems.push(problem.keyed(format!("{}: left out", label(&self.site))));
        }
        if let Some(why) = morning {
            let problem = Problem::new(
                label(&self.site),
                format!("{why}: its maximum usually belongs to the day before"),
                "used as it stands",
                "take a station that is read at midnight where there is one, such as those whose name begins with USW",
            );
            problems.push(problem.keyed(format!("{}: morning", label(&self.site))));
        }
        Fetched {
            days,
            problems,
            passing: false,
            answered: true,
            ..Fetched::default()
        }
    }

    /// No usable answer came.
    fn unheard(&self, error: &HttpError, ask: &Ask) -> Fetched {
        let shut_out = matches!(
            error,
            HttpError::Status {
                status: 401 | 403,
                ..
            }
        );
        let remedy = if shut_out {
            "look whether the contact in the config is one at which you can be reached; the service is left alone for a day"
        } else {
            error.remedy()
        };
        let rest = error.rest(ask.now).or(shut_out.then_some(SHUT_OUT));
        let problem = Problem::new(label(&self.site), error.to_string(), KEPT, remedy)
            .keyed(format!("{}: {}", label(&self.site), error.kind()));
        Fetched::unheard(problem, error, ask.now).resting(rest, ask.now)
    }

    /// An answer came and is not used.
    fn useless(&self, url: &Url, bad: Bad) -> Problem {
        let place = format!("{} ({})", label(&self.site), shown(url));
        Problem::new(place, bad.what, KEPT, bad.remedy).keyed(format!(
            "{}: {}",
            label(&self.site),
            bad.kind
        ))
    }
}

/// The days asked for, up to yesterday. Without `units` the service would answer in tenths.
fn request(url: &Url, station: &str, ask: &Ask, today: NaiveDate) -> Url {
    let yesterday = today.pred_opt().unwrap_or(today);
    let elements = Element::ALL.map(Element::name).join(",");
    let mut url = url.clone();
    url.query_pairs_mut()
        .append_pair("dataset", "daily-summaries")
        .append_pair("stations", station)
        .append_pair("startDate", &ask.from.to_string())
        .append_pair("endDate", &yesterday.to_string())
        .append_pair("dataTypes", &elements)
        .append_pair("units", "metric")
        .append_pair("includeAttributes", "true")
        .append_pair("format", "json");
    url
}

fn is_station(name: &str) -> bool {
    name.len() == 11
        && name
            .bytes()
            .all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b == b'-' || b == b'_')
}

impl Source for NoaaDaily {
    fn name(&self) -> &'static str {
        "noaa-daily"
    }

    fn host(&self) -> Option<String> {
        match &self.from {
            From::Service { url, .. } => Some(authority(url)),
            From::File { .. } => None,
        }
    }

    fn is_set_by_the_grower(&self) -> bool {
        matches!(self.from, From::File { .. })
    }

    fn attribution(&self) -> &'static str {
        "Source: NOAA NCEI, GHCN-Daily."
    }

    fn terms(&self) -> &'static str {
        "NOAA GHCN-Daily: public domain, any use; the data of some stations outside the United States carry notes of \
         their own."
    }

    fn fetch(&self, ask: Ask) -> Pending<'_, Fetched> {
        Box::pin(self.ask(ask))
    }
}

fn label(site: &Site) -> String {
    format!("site {}, noaa-daily", site.id)
}
