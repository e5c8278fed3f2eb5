//! The one place that turns a config into a store, sources, carriers and a clock.
//!
//! A live house and a rehearsed one differ only in what is put together here; every round is the same code.

use crate::clock::Clock;
use crate::config::{Config, OpenMeteoWeather, WeatherConfig, read_secret};
use crate::health::Health;
use crate::nursery::Site;
use crate::post::{Carrier, Folder, Log, Smtp, SmtpSettings};
use crate::problem::Problem;
use crate::rehearsal::Rehearsed;
use crate::store::{Memory, Store, StoreError};
use crate::survey::source_names;
use crate::weather::Source;
use crate::weather::csv_file::FileSource;
use crate::weather::http::Patience;
use crate::weather::open_meteo::{self, OpenMeteo};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

/// Which rows of the register a round reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Register {
    /// All of them.
    AsItStands,
    /// Those written by the end of yesterday: a rehearsal does not know what comes.
    AsItStood,
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
pub type NamedSource = (String, Box<dyn Source>);

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
    /// The ways out.
    pub carriers: Vec<Box<dyn Carrier>>,
    /// Which rows of the register are read.
    pub register: Register,
    /// Fed by progress.
    pub health: Arc<Health>,
}

impl House {
    /// The house as it stands. A source or carrier that cannot be put together is a problem; the others work.
    pub fn live(config: Config, clock: Arc<dyn Clock>, store: Store) -> (Self, Vec<Problem>) {
        Self::put_together(config, clock, Arc::new(Mutex::new(store)), Arc::default())
    }

    /// A house by a new config, with the memory of another one.
    pub fn with_store_of(other: &Self, config: Config) -> (Self, Vec<Problem>) {
        Self::put_together(
            config,
            other.clock.clone(),
            other.store.clone(),
            other.health.clone(),
        )
    }

    fn put_together(
        config: Config,
        clock: Arc<dyn Clock>,
        store: Arc<Mutex<Store>>,
        health: Arc<Health>,
    ) -> (Self, Vec<Problem>) {
        let mut problems = Vec::new();
        let sources = config
            .sites
            .iter()
            .map(|site| {
                let names = source_names(site.weather.len(), |i| site.weather[i].name());
                let made = names
                    .into_iter()
                    .zip(&site.weather)
                    .filter_map(|(name, weather)| match source(&site.site, weather) {
                        Ok(source) => Some((name, source)),
                        Err(problem) => {
                            problems.push(problem);
                            None
                        }
                    });
                (site.site.clone(), made.collect())
            })
            .collect();
        let (carriers, trouble) = carriers(&config);
        problems.extend(trouble);
        let house = Self {
            config: Arc::new(config),
            clock,
            store,
            sources,
            carriers,
            register: Register::AsItStands,
            health,
        };
        (house, problems)
    }

    /// A house in which a past season is played: the temperature files as they stood day by day, letters into a folder.
    pub fn rehearsed(
        config: Config,
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
                                Box::new(Rehearsed::new(&source, site.site.zone, foresight))
                                    as Box<dyn Source>,
                            ))
                        }
                        WeatherConfig::OpenMeteo(_) => None,
                    });
                (site.site.clone(), files.collect())
            })
            .collect();
        Ok(Self {
            config: Arc::new(config),
            clock,
            store: Arc::new(Mutex::new(store)),
            sources,
            carriers: vec![Box::new(Folder::new(letters))],
            register: Register::AsItStood,
            health: Arc::default(),
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

    /// The names of the carriers, as the outbox knows them.
    pub fn carrier_names(&self) -> Vec<&'static str> {
        self.carriers.iter().map(|c| c.name()).collect()
    }

    /// The credits that sources ask for.
    pub fn credits(&self) -> Vec<(String, String)> {
        let all = self.sources.iter().flat_map(|(_, sources)| sources);
        all.map(|(name, source)| (name.clone(), source.attribution().to_owned()))
            .collect()
    }
}

impl WeatherConfig {
    /// The word in the config.
    pub fn name(&self) -> &'static str {
        match self {
            Self::File(_) => "file",
            Self::OpenMeteo(_) => "open-meteo",
        }
    }
}

/// Puts one source together.
pub fn source(site: &Site, weather: &WeatherConfig) -> Result<Box<dyn Source>, Problem> {
    match weather {
        WeatherConfig::File(file) => Ok(Box::new(FileSource::new(
            file.path.clone(),
            file.layout.clone(),
            site.zone,
        ))),
        WeatherConfig::OpenMeteo(asked) => Ok(Box::new(open_meteo(site, asked)?)),
    }
}

fn open_meteo(site: &Site, asked: &OpenMeteoWeather) -> Result<OpenMeteo, Problem> {
    let key = match &asked.key_file {
        Some(path) => match read_secret(path) {
            (Some(key), _) => Some(key),
            (None, problem) => return Err(problem.unwrap_or_else(|| no_secret(path))),
        },
        None => None,
    };
    let settings = open_meteo::Settings {
        url: asked.url.clone(),
        key,
        past_days: asked.past_days,
        forecast_days: asked.forecast_days,
        contact: asked.contact.clone().unwrap_or_default(),
    };
    OpenMeteo::new(site, settings, Patience::USUAL)
}

fn no_secret(path: &Path) -> Problem {
    Problem::new(
        path.display().to_string(),
        "holds no secret",
        "it is not used",
        "write the key or password into it, on one line",
    )
}

/// Puts the ways out together.
pub fn carriers(config: &Config) -> (Vec<Box<dyn Carrier>>, Vec<Problem>) {
    let mut carriers: Vec<Box<dyn Carrier>> = Vec::new();
    let mut problems = Vec::new();
    if config.post.log {
        carriers.push(Box::new(Log));
    }
    if let Some(folder) = &config.post.folder {
        carriers.push(Box::new(Folder::new(folder)));
    }
    match smtp(config) {
        Some(Ok(smtp)) => carriers.push(Box::new(smtp)),
        Some(Err(problem)) => problems.push(problem),
        None => {}
    }
    (carriers, problems)
}

/// The mail server, where the config has one.
pub fn smtp(config: &Config) -> Option<Result<Smtp, Problem>> {
    let asked = config.post.smtp.as_ref()?;
    let login = match &asked.login {
        Some((user, path)) => match read_secret(path) {
            (Some(password), _) => Some((user.clone(), password)),
            (None, problem) => return Some(Err(problem.unwrap_or_else(|| no_secret(path)))),
        },
        None => None,
    };
    let from = config
        .post
        .from
        .as_ref()
        .map_or_else(String::new, |from| from.email.clone());
    let settings = SmtpSettings {
        host: asked.host.clone(),
        port: asked.port,
        security: asked.security,
        login,
        from,
    };
    Some(Smtp::new(settings, Smtp::LIMIT))
}
