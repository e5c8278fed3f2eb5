//! Any other address that answers with temperatures: a farm's own station, as JSON or CSV.
//!
//! The answer is read as a file would be, with the same checks. Days before the site's today are measured; what is not
//! over is left, or taken for a forecast where the config says so. Knows no service.

mod json;

use super::csv_file::{TemperatureFile, read_from, read_rows};
use super::http::{
    Document, Getter, Got, HttpError, Line, SecretHeader, authority, is_private, shown,
};
use super::layout::Layout;
use super::{Ask, Fetched, Pending, Source};
use crate::days::{Origin, RawDay};
use crate::nursery::Site;
use crate::problem::Problem;
use chrono::NaiveDate;
use reqwest::Url;

/// What becomes of the days when an answer is of no use.
const KEPT: &str = "the days already known stay in use";

/// What an address answers with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// A list of objects, or an object of lists.
    Json,
    /// As in a file.
    Csv,
}

/// What the config says about this source.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The whole address.
    pub url: String,
    /// What it answers with.
    pub format: Format,
    /// The way to the rows in JSON (RFC 6901); empty where they are all of it.
    pub rows: String,
    /// How the answer is laid out; the columns of JSON are keys, or ways within a row that begin with `/`.
    pub layout: Layout,
    /// Goes along with the question.
    pub header: Option<SecretHeader>,
    /// Days that are not over are taken for a forecast.
    pub forecast: bool,
    /// Who asks, for the User-Agent.
    pub contact: String,
}

/// An address for one site.
#[derive(Debug)]
pub struct Station {
    site: Site,
    url: Url,
    host: String,
    settings: Settings,
    getter: Getter,
}

impl Station {
    /// Prepares the source; connects to nothing. Refuses an address that is none, and an open connection that leaves
    /// the own network.
    pub fn new(site: &Site, settings: Settings, line: impl Into<Line>) -> Result<Self, Problem> {
        let place = format!("site {}, url", site.id);
        let problem = |what: String, remedy: &str| {
            Problem::new(place.clone(), what, "this source is not used", remedy)
        };
        let url = Url::parse(&settings.url)
            .ok()
            .filter(|url| matches!(url.scheme(), "http" | "https") && url.has_host())
            .ok_or_else(|| {
                problem(
                    "its url is not a web address".into(),
                    "write it like https://station.alderfold.example/days.json",
                )
            })?;
        if url.scheme() == "http" && !is_private(&url) {
            let what = format!("{} would be asked over an open connection", shown(&url));
            return Err(problem(
                what,
                "write https; plain http goes to your own network only",
            ));
        }
        let getter = Getter::with_header(&url, &settings.contact, settings.header.clone(), line)
            .map_err(|e| problem(e.to_string(), e.remedy()))?;
        Ok(Self {
            site: site.clone(),
            host: url.host_str().unwrap_or_default().to_owned(),
            url,
            settings,
            getter,
        })
    }

    async fn ask(&self, ask: Ask) -> Fetched {
        let read = match self.getter.document(&self.url, None).await {
            Ok(Got::Document(document)) => self.read(document),
            Ok(Got::Unchanged { .. }) => Err(HttpError::Garbled {
                url: shown(&self.url),
                why: "it says unchanged to a first question".into(),
                said: "nothing".into(),
            }),
            Err(error) => Err(error),
        };
        let today = ask.now.with_timezone(&self.site.zone).date_naive();
        match read {
            Ok(file) => Fetched {
                days: self.days(&file, ask.from, today),
                problems: file.problems,
                answered: file.usable,
                ..Fetched::default()
            },
            Err(error) => Fetched {
                // A station that answers with too much does so until it is set otherwise.
                passing: error.may_pass() && !matches!(error, HttpError::TooLarge { .. }),
                ..Fetched::unheard(self.unheard(&error), &error, ask.now)
            },
        }
    }

    fn read(&self, mut document: Document) -> Result<TemperatureFile, HttpError> {
        let (layout, zone) = (&self.settings.layout, Some(self.site.zone));
        let place = format!("site {}, url ({})", self.site.id, shown(&self.url));
        // The small servers within instruments call JSON by many names; a page is a page all the same.
        let page = document.body.trim_ascii_start().starts_with(b"<");
        document.json = !page;
        if page || self.settings.format == Format::Json {
            let json = self.getter.parse(&self.url, &document)?;
            let rows = json::rows(&json, &self.settings.rows, &layout.columns);
            return Ok(match rows {
                Ok(rows) => read_rows(rows, &place, layout, zone),
                Err((what, remedy)) => {
                    TemperatureFile::of_no_use(Problem::new(place, what, KEPT, remedy))
                }
            });
        }
        Ok(read_from(document.body.as_slice(), &place, layout, zone))
    }

    fn days(&self, file: &TemperatureFile, from: NaiveDate, today: NaiveDate) -> Vec<RawDay> {
        let wanted = |date| date >= from && (date < today || self.settings.forecast);
        let days = file.days.iter().filter(|day| wanted(day.date));
        days.map(|day| {
            day.raw(if day.date < today {
                Origin::Measured
            } else {
                Origin::Forecast
            })
        })
        .collect()
    }

    fn unheard(&self, error: &HttpError) -> Problem {
        let place = format!("site {}, url", self.site.id);
        let key = format!("{place} {}: {}", self.host, error.kind());
        let remedy = match error {
            HttpError::Status {
                status: 401 | 403, ..
            } => "look at header_file in the config",
            HttpError::TooLarge { .. } => "let the station answer with the last weeks only",
            error => error.remedy(),
        };
        Problem::new(place, error.to_string(), KEPT, remedy).keyed(key)
    }
}

impl Source for Station {
    fn name(&self) -> &'static str {
        "url"
    }

    fn host(&self) -> Option<String> {
        Some(authority(&self.url))
    }

    fn is_set_by_the_grower(&self) -> bool {
        true
    }

    fn attribution(&self) -> &'static str {
        ""
    }

    fn terms(&self) -> &'static str {
        "What comes from a url is used as measured: ask whoever runs it, if it is not your own"
    }

    fn fetch(&self, ask: Ask) -> Pending<'_, Fetched> {
        Box::pin(self.ask(ask))
    }
}
