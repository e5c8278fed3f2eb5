//! The config: `graftwarden.toml` and the care plans it names, read, checked and turned into our words.
//!
//! `raw` reads tables, `resolve` (with `sites`, `sources`, `people`, `post` and `answers`) says what they mean, `plan` (with `step`, `warmth`, `sense`) reads care plans, `report`
//! draws excerpts. All problems of all files are found in one go; what parses but makes no sense is a warning. Opens
//! no connection and reads no secret; hands on a [`Config`].

mod alive;
mod answers;
mod built_in;
mod files;
mod mail_server;
mod people;
mod plan;
mod post;
mod raw;
mod report;
mod resolve;
mod sense;
mod sites;
mod sources;
mod step;
mod warmth;

pub use crate::post::{HookTo, Security};
pub use built_in::built_in;
pub use files::read_secret;
pub use report::ConfigTrouble;

use crate::care::Learn;
use crate::days::Thresholds;
use crate::nursery::{Person, Plan, Site, Workdays};
use crate::problem::Problem;
use crate::schedule::Schedule;
use crate::units::Units;
use crate::weather::layout::Layout;
use crate::weather::url::Format;
use crate::weather::{bright_sky, met_norway, noaa_daily, us_weather_service};
use chrono_tz::Tz;
use report::{Complaint, Findings, Source};
use reqwest::Url;
use secrecy::SecretString;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// The version of the format of `graftwarden.toml` and of care plans that this program reads.
pub const FORMAT: u32 = 1;

/// Everything the config says, checked. Paths are as the program can open them.
#[derive(Clone, Debug)]
pub struct Config {
    /// The file it was read from.
    pub path: PathBuf,
    /// The name of the nursery.
    pub name: String,
    /// The folder of the program's own memory.
    pub state: PathBuf,
    /// The register.
    pub batches: PathBuf,
    /// The field records; the file may be missing.
    pub records: PathBuf,
    /// A file with certificates of the farm's own that are trusted too.
    pub ca_file: Option<PathBuf>,
    /// The zone in which rounds are walked.
    pub zone: Tz,
    /// The measures people read.
    pub units: Units,
    /// On which days somebody is in the field.
    pub workdays: Workdays,
    /// What is done with what the field records teach.
    pub learn: Learn,
    /// At least one, each with at least one source of temperatures.
    pub sites: Vec<SiteConfig>,
    /// When rounds are walked.
    pub schedule: Schedule,
    /// Who gets letters.
    pub people: Vec<Person>,
    /// How letters leave.
    pub post: PostConfig,
    /// Where answers come in; none where they are not read.
    pub answers: Option<AnswersConfig>,
    /// The folder for pages to look at and to print; none where none are wanted.
    pub pages: Option<PathBuf>,
    /// How it can be seen from outside that the program does its work.
    pub alive: AliveConfig,
    /// The built-in care plans and the nursery's own.
    pub plans: Vec<Plan>,
    /// What parses but makes no sense.
    pub warnings: Vec<Problem>,
}

/// One site and where its temperatures come from.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteConfig {
    /// The place.
    pub site: Site,
    /// In order of trust.
    pub weather: Vec<WeatherConfig>,
    /// What is possible and usual there.
    pub thresholds: Thresholds,
    /// A file with the daily temperatures of years before.
    pub past_years: Option<PathBuf>,
}

/// One source of temperatures.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WeatherConfig {
    /// A file of the grower's own.
    File(FileWeather),
    /// The Open-Meteo service.
    OpenMeteo(OpenMeteoWeather),
    /// An address of the grower's own: a farm's station.
    Url(UrlWeather),
    /// The Norwegian weather service.
    MetNorway(met_norway::Settings),
    /// The German weather service, by Bright Sky.
    BrightSky(bright_sky::Settings),
    /// The weather service of the United States.
    UsWeatherService(us_weather_service::Settings),
    /// Stations' daily values, by NOAA.
    NoaaDaily(noaa_daily::Settings),
}

/// A temperature file of the grower's own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileWeather {
    /// Where it is.
    pub path: PathBuf,
    /// How it is laid out.
    pub layout: Layout,
}

/// An address that answers with temperatures.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UrlWeather {
    /// The whole address.
    pub url: String,
    /// What it answers with.
    pub format: Format,
    /// The way to the rows in JSON (RFC 6901); empty where they are all of it.
    pub rows: String,
    /// How the answer is laid out; the columns of JSON are keys or ways within a row.
    pub layout: Layout,
    /// The file with a secret line that goes along as a header.
    pub header_file: Option<PathBuf>,
    /// Days that are not over are taken for a forecast, and not left.
    pub forecast: bool,
    /// Who asks; may be empty.
    pub contact: String,
}

/// How the Open-Meteo service is asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenMeteoWeather {
    /// Another address than the usual one.
    pub url: Option<String>,
    /// Another address than the usual one for years before.
    pub archive_url: Option<String>,
    /// The file with the key of a paid plan.
    pub key_file: Option<PathBuf>,
    /// So many days that have passed are asked for; 0 to 92.
    pub past_days: u32,
    /// So many days to come are asked for; 1 to 16.
    pub forecast_days: u32,
    /// An address under which the service can reach somebody; absent only where the config has none at all.
    pub contact: Option<String>,
}

/// How letters leave.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PostConfig {
    /// The sender; always there where `folder` or `smtp` is.
    pub from: Option<Mailbox>,
    /// Each letter also as an .eml file in this folder.
    pub folder: Option<PathBuf>,
    /// Each letter also as a line in the log.
    pub log: bool,
    /// The mail server.
    pub smtp: Option<SmtpConfig>,
    /// A program or an address of the farm's own.
    pub hook: Option<HookConfig>,
}

/// A name and an address that a mail library takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mailbox {
    /// May be empty.
    pub name: String,
    /// "letters@alderfold.example".
    pub email: String,
}

/// The mail server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmtpConfig {
    /// Its name or address.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is kept private.
    pub security: Security,
    /// The user and the file with their password.
    pub login: Option<(String, PathBuf)>,
}

/// A program or an address of the farm's own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HookConfig {
    /// To whom letters are handed.
    pub to: HookTo,
    /// The file with what they are signed with.
    pub secret_file: Option<PathBuf>,
    /// For one letter; 1 s to 300 s.
    pub timeout: Duration,
    /// Only letters that cannot wait.
    pub urgent_only: bool,
}

/// Where answers come in, and from whom they are believed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AnswersConfig {
    /// "answers@alderfold.example".
    pub address: String,
    /// Whether the mail server delivers `answers+ANYTHING@` to the same mailbox.
    pub plus: bool,
    /// What a fresh mail is worth.
    pub trust: Trust,
    /// Where the mails lie.
    pub mailbox: MailboxConfig,
}

/// What a mail is worth that answers none of our letters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Trust {
    /// It is held until its sender confirms it by answering the receipt.
    #[default]
    Letter,
    /// It is taken by its sender's address, which anybody can write.
    Sender,
}

/// Where the mails lie.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MailboxConfig {
    /// In a folder of this machine with `new` and `cur` in it.
    Maildir(PathBuf),
    /// With a mail server.
    Imap(ImapConfig),
}

/// A mailbox with a mail server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImapConfig {
    /// Its name or address.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is kept private.
    pub security: Security,
    /// The user.
    pub user: String,
    /// The file with their password.
    pub password_file: PathBuf,
    /// "INBOX".
    pub folder: String,
}

/// How it can be seen from outside that the program does its work.
#[derive(Clone, Debug, Default)]
pub struct AliveConfig {
    /// The address that is called after each good round.
    pub to: Option<AliveTo>,
    /// The file into which each round writes its figures.
    pub metrics: Option<PathBuf>,
}

/// An address that is called; whoever knows it can pretend to be this program.
#[derive(Clone, Debug)]
pub enum AliveTo {
    /// As it stands in the config.
    Url(SecretString),
    /// In a file of its own.
    File(PathBuf),
}

/// An address to be called after good rounds: https, or http to this machine itself. The error says what is wrong with it
/// and not what it is.
pub fn alive_address(text: &str) -> Result<Url, String> {
    alive::address(text).map_err(|complaint| complaint.what)
}

impl Config {
    /// The program's own file of the records it has confirmed.
    pub fn accepted(&self) -> PathBuf {
        self.state.join(crate::register::ACCEPTED)
    }

    /// Reads the config and the care plans it names.
    pub fn load(path: &Path) -> Result<Self, ConfigTrouble> {
        let mut source = Source {
            name: path.display().to_string(),
            text: String::new(),
        };
        match files::read_text(path) {
            Ok(text) => source.text = text,
            Err(complaint) => return Err(trouble_with_file(source, complaint)),
        }
        let findings = Findings::of(source);
        let text = findings.source();
        let config = raw::parse(&text.text, &findings)
            .and_then(|table| resolve::config(path, &table, &findings));
        let found = findings.into_list();
        match config {
            Some(config) if found.iter().all(|f| f.warning) => Ok(Self {
                warnings: found.iter().map(report::Finding::problem).collect(),
                ..config
            }),
            _ => Err(ConfigTrouble { found }),
        }
    }
}

/// Reads lines that say how a temperature file is laid out, as they stand under a `[[site.weather]]`.
pub fn layout_of(lines: &str) -> Result<Layout, ConfigTrouble> {
    let findings = Findings::of(Source {
        name: "what was set".into(),
        text: lines.into(),
    });
    let text = findings.source();
    let layout = match lines.trim() {
        "" => Some(Layout::default()),
        _ => raw::parse(&text.text, &findings).map(|table| {
            let title = "[[site.weather]]";
            sources::layout_alone(raw::Section::new(title, table.get_ref(), 0..0, &findings))
        }),
    };
    let found = findings.into_list();
    match layout {
        Some(layout) if found.is_empty() => Ok(layout),
        _ => Err(ConfigTrouble { found }),
    }
}

fn trouble_with_file(source: Source, complaint: Complaint) -> ConfigTrouble {
    let findings = Findings::of(source);
    findings.of_file(complaint);
    ConfigTrouble {
        found: findings.into_list(),
    }
}

#[cfg(test)]
mod tests;
