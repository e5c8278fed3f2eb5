//! The one place that turns a config into a store, sources, carriers and a clock.
//!
//! A live house and a rehearsed one differ only in what is put together here; every round is the same code.

mod carriers;
mod mailbox;

pub use carriers::{carriers, smtp};
pub use mailbox::mailbox;

use crate::clock::Clock;
use crate::config::{Config, OpenMeteoWeather, SiteConfig, UrlWeather, WeatherConfig, read_secret};
use crate::health::Health;
use crate::nursery::Site;
use crate::post::{Carrier, Folder};
use crate::problem::Problem;
use crate::rehearsal::Rehearsed;
use crate::replies::Mailbox;
use crate::roots::Roots;
use crate::round::{ReadOnce, SourceOf};
use crate::store::{Memory, Store, StoreError};
use crate::survey::source_names;
use crate::weather::Source;
use crate::weather::bright_sky::BrightSky;
use crate::weather::csv_file::FileSource;
use crate::weather::http::{Line, Patience, SecretHeader, is_this_machine};
use crate::weather::layout::Layout;
use crate::weather::met_norway::MetNorway;
use crate::weather::noaa_daily::NoaaDaily;
use crate::weather::open_meteo::{self, OpenMeteo};
use crate::weather::url::{self, Station};
use crate::weather::us_weather_service::UsWeatherService;
use secrecy::{ExposeSecret, SecretString};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

/// Which rows of the register a round reads.
#[derive(Clone, Debug)]
pub enum Register {
    /// All of them.
    AsItStands,
    /// Those written by the end of yesterday: a rehearsal does not know what comes.
    AsItStood(ReadOnce),
}

/// What a rehearsal knows of the days to come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Foresight {
    /// Nothing.
    None,
    /// The next 7 days, as they will be.
    Perfect,
}

/// A source and the name its days are stored by.
pub type NamedSource = (String, Arc<dyn Source>);

/// Everything a round needs.
pub struct House {
    /// The config.
    pub config: Arc<Config>,
    /// The clock.
    pub clock: Arc<dyn Clock>,
    /// The program's memory; one writer.
    pub store: Arc<Mutex<Store>>,
    /// The sources of every site under the names they are stored by, in order of trust.
    pub sources: Vec<(Site, Vec<NamedSource>)>,
    /// Files with years before, by site.
    pub past: Vec<(String, FileSource)>,
    /// The ways out.
    pub carriers: Vec<Box<dyn Carrier>>,
    /// Where answers come in.
    pub mailbox: Option<Arc<dyn Mailbox>>,
    /// Which rows of the register are read.
    pub register: Register,
    /// Fed by progress.
    pub health: Arc<Health>,
    /// The way out to the services.
    pub line: Line,
}

impl House {
    /// The house as it stands. A source or carrier that cannot be put together is a problem; the others work.
    pub fn live(config: Config, clock: Arc<dyn Clock>, store: Store) -> (Self, Vec<Problem>) {
        Self::live_by(config, clock, store, Patience::USUAL)
    }

    /// The same with another way out to the services.
    pub fn live_by(
        config: Config,
        clock: Arc<dyn Clock>,
        store: Store,
        line: impl Into<Line>,
    ) -> (Self, Vec<Problem>) {
        let store = Arc::new(Mutex::new(store));
        Self::put_together(config, clock, store, Arc::default(), line.into())
    }

    /// A house by a new config, with the memory of another one.
    pub fn with_store_of(other: &Self, config: Config) -> (Self, Vec<Problem>) {
        Self::put_together(
            config,
            other.clock.clone(),
            other.store.clone(),
            other.health.clone(),
            other.line.clone(),
        )
    }

    fn put_together(
        config: Config,
        clock: Arc<dyn Clock>,
        store: Arc<Mutex<Store>>,
        health: Arc<Health>,
        line: Line,
    ) -> (Self, Vec<Problem>) {
        let (roots, trouble) = roots(&config);
        let mut problems: Vec<Problem> = trouble.into_iter().collect();
        let line = Line { roots, ..line };
        let sources = config
            .sites
            .iter()
            .map(|site| {
                let names = source_names(site.weather.len(), |i| site.weather[i].name());
                let made = names
                    .into_iter()
                    .zip(&site.weather)
                    .filter_map(|(name, weather)| match source(&site.site, weather, &line) {
                        Ok(source) => Some((name, source)),
                        Err(problem) => {
                            problems.push(problem);
                            None
                        }
                    });
                (site.site.clone(), made.collect())
            })
            .collect();
        let past = past_files(&config);
        let (carriers, trouble) = carriers(&config);
        problems.extend(trouble);
        let mailbox = match mailbox(&config) {
            Some(Ok(mailbox)) => Some(mailbox),
            Some(Err(problem)) => {
                problems.push(problem);
                None
            }
            None => None,
        };
        let house = Self {
            config: Arc::new(config),
            clock,
            store,
            sources,
            past,
            carriers,
            mailbox,
            register: Register::AsItStands,
            health,
            line,
        };
        (house, problems)
    }

    /// A house in which a past season is played: the temperature files as they stood day by day, letters into a folder and
    /// no pages.
    pub fn rehearsed(
        mut config: Config,
        clock: Arc<dyn Clock>,
        letters: &Path,
        foresight: Foresight,
    ) -> Result<Self, StoreError> {
        let mut store = Store::in_memory()?;
        store.settle::<(), StoreError>(|memory| memory.remember("secret", "rehearsal"))?;
        let sources = config
            .sites
            .iter()
            .map(|site| {
                let names = source_names(site.weather.len(), |i| site.weather[i].name());
                let files = names
                    .into_iter()
                    .zip(&site.weather)
                    .filter_map(|(name, weather)| match weather {
                        WeatherConfig::File(file) => {
                            let source = FileSource::new(
                                file.path.clone(),
                                file.layout.clone(),
                                site.site.zone,
                            );
                            Some((
                                name,
                                Arc::new(Rehearsed::new(&source, site.site.zone, foresight))
                                    as Arc<dyn Source>,
                            ))
                        }
                        _ => None,
                    });
                (site.site.clone(), files.collect())
            })
            .collect();
        let past = past_files(&config);
        let rows = ReadOnce::of(&config);
        config.pages = None;
        Ok(Self {
            config: Arc::new(config),
            clock,
            store: Arc::new(Mutex::new(store)),
            sources,
            past,
            carriers: vec![Box::new(Folder::new(letters))],
            mailbox: None,
            register: Register::AsItStood(rows),
            health: Arc::default(),
            line: Patience::USUAL.into(),
        })
    }

    /// One short transaction on the store.
    pub fn with_store<T>(
        &self,
        work: impl FnOnce(&Memory<'_>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        self.store
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .settle(work)
    }

    /// Whether any source is a service.
    pub fn asks_services(&self) -> bool {
        let mut sources = self.sources.iter().flat_map(|(_, sources)| sources);
        sources.any(|(_, source)| source.host().is_some())
    }

    /// Whether any source asks another machine.
    pub fn asks_out(&self) -> bool {
        let hosts = self
            .sources
            .iter()
            .flat_map(|(_, sources)| sources)
            .filter_map(|(_, source)| source.host());
        hosts.into_iter().any(|host| !is_this_machine(&host))
    }

    /// The names of the carriers, as the outbox knows them.
    pub fn carrier_names(&self) -> Vec<&'static str> {
        self.carriers.iter().map(|c| c.name()).collect()
    }

    /// Every source of every site, with the credit it asks for.
    pub fn source_list(&self) -> Vec<SourceOf> {
        let of = |(site, (name, source)): (&Site, &NamedSource)| SourceOf {
            site: site.id.clone(),
            name: name.clone(),
            credit: source.attribution(),
            remote: source.host().is_some(),
        };
        self.sources
            .iter()
            .flat_map(|(site, sources)| sources.iter().map(move |s| (site, s)))
            .map(of)
            .collect()
    }
}

/// The certificates of the farm's own, where the config names some. Without them the system's alone are trusted.
pub fn roots(config: &Config) -> (Roots, Option<Problem>) {
    match config.ca_file.as_deref().map(Roots::read) {
        Some(Ok(roots)) => (roots, None),
        Some(Err(problem)) => (Roots::default(), Some(problem)),
        None => (Roots::default(), None),
    }
}

fn past_files(config: &Config) -> Vec<(String, FileSource)> {
    let file = |site: &SiteConfig| {
        let path = site.past_years.clone()?;
        Some((
            site.site.id.clone(),
            FileSource::new(path, Layout::default(), site.site.zone),
        ))
    };
    config.sites.iter().filter_map(file).collect()
}

impl WeatherConfig {
    /// The word in the config.
    pub fn name(&self) -> &'static str {
        match self {
            Self::File(_) => "file",
            Self::OpenMeteo(_) => "open-meteo",
            Self::Url(_) => "url",
            Self::MetNorway(_) => "met-norway",
            Self::BrightSky(_) => "bright-sky",
            Self::UsWeatherService(_) => "us-weather-service",
            Self::NoaaDaily(_) => "noaa-daily",
        }
    }
}

/// Puts one source together.
pub fn source(
    site: &Site,
    weather: &WeatherConfig,
    line: &Line,
) -> Result<Arc<dyn Source>, Problem> {
    let line = line.clone();
    match weather {
        WeatherConfig::File(file) => Ok(Arc::new(FileSource::new(
            file.path.clone(),
            file.layout.clone(),
            site.zone,
        ))),
        WeatherConfig::OpenMeteo(asked) => Ok(Arc::new(open_meteo(site, asked, line)?)),
        WeatherConfig::Url(asked) => Ok(Arc::new(station(site, asked, line)?)),
        WeatherConfig::MetNorway(asked) => Ok(Arc::new(MetNorway::new(site, asked.clone(), line)?)),
        WeatherConfig::BrightSky(asked) => Ok(Arc::new(BrightSky::new(site, asked.clone(), line)?)),
        WeatherConfig::UsWeatherService(asked) => {
            Ok(Arc::new(UsWeatherService::new(site, asked.clone(), line)?))
        }
        WeatherConfig::NoaaDaily(asked) => Ok(Arc::new(NoaaDaily::new(site, asked.clone(), line)?)),
    }
}

fn open_meteo(site: &Site, asked: &OpenMeteoWeather, line: Line) -> Result<OpenMeteo, Problem> {
    let key = match &asked.key_file {
        Some(path) => match read_secret(path) {
            (Some(key), _) => Some(key),
            (None, problem) => return Err(problem.unwrap_or_else(|| no_secret(path))),
        },
        None => None,
    };
    let settings = open_meteo::Settings {
        url: asked.url.clone(),
        archive_url: asked.archive_url.clone(),
        key,
        past_days: asked.past_days,
        forecast_days: asked.forecast_days,
        contact: asked.contact.clone().unwrap_or_default(),
    };
    OpenMeteo::new(site, &settings, line)
}

fn station(site: &Site, asked: &UrlWeather, line: Line) -> Result<Station, Problem> {
    let header = match &asked.header_file {
        Some(path) => match read_secret(path) {
            (Some(line), _) => Some(header(path, &line)?),
            (None, problem) => return Err(problem.unwrap_or_else(|| no_secret(path))),
        },
        None => None,
    };
    let settings = url::Settings {
        url: asked.url.clone(),
        format: asked.format,
        rows: asked.rows.clone(),
        layout: asked.layout.clone(),
        header,
        forecast: asked.forecast,
        contact: asked.contact.clone(),
    };
    Station::new(site, settings, line)
}

/// `Authorization: Bearer abc`.
fn header(path: &Path, line: &SecretString) -> Result<SecretHeader, Problem> {
    let parts = line.expose_secret().split_once(':');
    let parts = parts.map(|(name, value)| (name.trim(), value.trim()));
    match parts.filter(|(name, value)| !name.is_empty() && !value.is_empty()) {
        Some((name, value)) => Ok(SecretHeader {
            name: name.to_owned(),
            value: value.into(),
        }),
        None => Err(Problem::new(
            path.display().to_string(),
            "holds no header",
            "the address is not asked",
            "write the name, a colon and the value into it, on one line, as in Authorization: Bearer abc123",
        )),
    }
}

fn no_secret(path: &Path) -> Problem {
    Problem::new(
        path.display().to_string(),
        "holds no secret",
        "it is not used",
        "write the key or password into it, on one line",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(line: &str, expect: &str) {
        let found = match header(Path::new("gate.key"), &line.into()) {
            Ok(header) => format!("{}|{}", header.name, header.value.expose_secret()),
            Err(problem) => problem.to_string(),
        };
        assert_eq!(found, expect);
    }

    #[test]
    fn a_header_is_a_name_and_a_value() {
        check("Authorization: Bearer a:b", "Authorization|Bearer a:b");
        check("X-Key:4711", "X-Key|4711");
        for line in ["Bearer abc", ": abc", "X-Key: "] {
            check(
                line,
                "gate.key: holds no header; the address is not asked. Write the name, a colon and the value into it, on one line, as in Authorization: Bearer abc123.",
            );
        }
    }
}
