//! Open-Meteo: a weather model's hours for any place, past and to come.
//!
//! Hours are asked for in GMT and grouped by the site's own dates, because the service's own days use today's clock
//! offset for every date. An answer is taken only when its units, lengths, times and place are those asked for. It
//! hands on days; it knows nothing of what is stored.

mod answer;

use super::hours;
use super::http::{Getter, HttpError, Line, authority, is_loopback, shown};
use super::place::coordinate;
use super::voice::{Bad, Voice};
use super::{Ask, Fetched, Pending, Source};
use crate::nursery::Site;
use crate::problem::Problem;
use answer::Answer;
use chrono::{Days, NaiveDate, NaiveTime};
use reqwest::Url;
use secrecy::SecretString;

/// Free of charge, for non-commercial use.
const FREE_URL: &str = "https://api.open-meteo.com/v1/forecast";
/// For those who have a key.
const CUSTOMER_URL: &str = "https://customer-api.open-meteo.com/v1/forecast";
/// Years before, by reanalysis.
const FREE_ARCHIVE_URL: &str = "https://archive-api.open-meteo.com/v1/archive";
const CUSTOMER_ARCHIVE_URL: &str = "https://customer-archive-api.open-meteo.com/v1/archive";
/// The service's own limits, in days (its documentation).
const MOST_PAST_DAYS: u32 = 92;
const MOST_FORECAST_DAYS: u32 = 16;

/// What the config says about this source.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Another address of the same service.
    pub url: Option<String>,
    /// Another address of its archive.
    pub archive_url: Option<String>,
    /// The key of a paid subscription.
    pub key: Option<SecretString>,
    /// Days before today, 0 to 92.
    pub past_days: u32,
    /// Days from today on, 1 to 16.
    pub forecast_days: u32,
    /// An address or web page for the User-Agent.
    pub contact: String,
}

/// Open-Meteo for one site.
#[derive(Debug)]
pub struct OpenMeteo {
    site: Site,
    url: Url,
    archive: Url,
    getter: Getter,
    archive_getter: Getter,
    past_days: u32,
    forecast_days: u32,
    keyed: bool,
    voice: Voice,
}

impl OpenMeteo {
    /// Prepares the source; connects to nothing. Refuses an address that is none, numbers of days that the service
    /// does not have, and a key over an open connection.
    pub fn new(site: &Site, settings: &Settings, line: impl Into<Line>) -> Result<Self, Problem> {
        let line = line.into();
        let mut voice = Voice::new(site, "open-meteo");
        let keyed = settings.key.is_some();
        let usual = |free, customer| if keyed { customer } else { free };
        let mut address = |given: &Option<String>, usual: &'static str| {
            let url = voice.address(given.as_deref(), usual)?;
            if keyed && url.scheme() == "http" && !is_loopback(&url) {
                let what = format!(
                    "{} would carry the key over an open connection",
                    shown(&url)
                );
                return Err(voice.unfit(what, "write https"));
            }
            Ok(url)
        };
        let archive = address(
            &settings.archive_url,
            usual(FREE_ARCHIVE_URL, CUSTOMER_ARCHIVE_URL),
        )?;
        // The last address is the one that complaints name.
        let url = address(&settings.url, usual(FREE_URL, CUSTOMER_URL))?;
        for (name, days, least, most) in [
            ("past_days", settings.past_days, 0, MOST_PAST_DAYS),
            (
                "forecast_days",
                settings.forecast_days,
                1,
                MOST_FORECAST_DAYS,
            ),
        ] {
            if !(least..=most).contains(&days) {
                let what = format!("{name} = {days} is more or less than the service has");
                return Err(voice.unfit(what, &format!("write {least} to {most}")));
            }
        }
        let getter = |url: &Url| {
            Getter::new(url, &settings.contact, settings.key.clone(), line.clone())
                .map_err(|e| voice.unfit(e.to_string(), e.remedy()))
        };
        let (getter, archive_getter) = (getter(&url)?, getter(&archive)?);
        Ok(Self {
            site: site.clone(),
            url,
            archive,
            getter,
            archive_getter,
            past_days: settings.past_days,
            forecast_days: settings.forecast_days,
            keyed,
            voice,
        })
    }

    /// How many days before today are asked for: one more than is wanted, so that the site's first date is whole in
    /// GMT too.
    fn past(&self, ask: &Ask) -> u32 {
        let since = (self.today(ask) - ask.from).num_days();
        let wanted = u32::try_from(since).unwrap_or(0).min(self.past_days);
        (wanted + 1).min(MOST_PAST_DAYS)
    }

    /// One day more is asked for at the other end too.
    fn request(&self, ask: &Ask) -> Url {
        let mut url = self.url.clone();
        {
            let mut query = url.query_pairs_mut();
            query
                .append_pair("latitude", &coordinate(self.site.latitude))
                .append_pair("longitude", &coordinate(self.site.longitude));
            if let Some(metres) = self.site.elevation {
                query.append_pair("elevation", &format!("{metres:.0}"));
            }
            query
                .append_pair("hourly", "temperature_2m,wind_gusts_10m,precipitation")
                .append_pair("timezone", "GMT")
                .append_pair("past_days", &self.past(ask).to_string())
                .append_pair(
                    "forecast_days",
                    &(self.forecast_days + 1).min(MOST_FORECAST_DAYS).to_string(),
                );
        }
        url
    }

    /// A year of hours, with a day more at each end for the site's first and last dates.
    async fn year(&self, year: i32) -> Fetched {
        let (Some(first), Some(last)) = (
            NaiveDate::from_ymd_opt(year, 1, 1),
            NaiveDate::from_ymd_opt(year, 12, 31),
        ) else {
            return Fetched::default();
        };
        let mut url = self.archive.clone();
        url.query_pairs_mut()
            .append_pair("latitude", &coordinate(self.site.latitude))
            .append_pair("longitude", &coordinate(self.site.longitude))
            .append_pair("hourly", "temperature_2m")
            .append_pair("timezone", "GMT")
            .append_pair("start_date", &(first - Days::new(1)).to_string())
            .append_pair("end_date", &(last + Days::new(1)).to_string());
        let ask = Ask {
            now: (last + Days::new(3)).and_time(NaiveTime::MIN).and_utc(),
            from: first,
            memo: None,
        };
        match self.archive_getter.json::<Answer>(&url).await {
            Ok(answer) => {
                let mut fetched = self.judge(answer, &ask, first - Days::new(1));
                fetched.days.retain(|day| day.date <= last);
                fetched
            }
            Err(error) => self.unheard(&error, &ask),
        }
    }

    fn unheard(&self, error: &HttpError, ask: &Ask) -> Fetched {
        Fetched::unheard(self.voice.unheard(error), error, ask.now)
    }

    fn today(&self, ask: &Ask) -> NaiveDate {
        ask.now.with_timezone(&self.site.zone).date_naive()
    }

    async fn ask(&self, ask: Ask) -> Fetched {
        match self.getter.json::<Answer>(&self.request(&ask)).await {
            Ok(answer) => {
                let first = ask.now.date_naive() - Days::new(self.past(&ask).into());
                self.judge(answer, &ask, first)
            }
            Err(error) => self.unheard(&error, &ask),
        }
    }

    /// The days of an answer whose hours were asked for from `first` on.
    fn judge(&self, answer: Answer, ask: &Ask, first: NaiveDate) -> Fetched {
        let (hours, remarks) = match answer.hours(&self.site, first) {
            Ok(used) => used,
            Err(bad) => return nothing(self.voice.useless(bad)),
        };
        let mut problems: Vec<_> = remarks
            .into_iter()
            .map(|bad| self.voice.remark(bad))
            .collect();
        let mut found = hours::gather(&hours, self.site.zone, self.today(ask));
        found.days.retain(|day| day.date >= ask.from);
        found.gaps.retain(|gap| *gap >= ask.from);
        if found.days.is_empty() {
            return nothing(self.voice.useless(Bad {
                kind: "no whole day",
                what: "the answer has no day whose hours are known".into(),
                remedy: "look at the site's latitude and longitude in the config: east is positive, west negative",
            }));
        }
        // Hours that cannot be leave gaps, and that is said already.
        let said = problems
            .iter()
            .any(|problem| problem.key.contains(": impossible"));
        if !found.gaps.is_empty() && !said {
            let dates: Vec<_> = found.gaps.iter().map(ToString::to_string).collect();
            problems.push(self.voice.remark(Bad {
                kind: "gaps",
                what: format!("hours without a temperature on {}", dates.join(", ")),
                remedy: "they are asked for again at the next round; a logger file bridges what lasts",
            }));
        }
        Fetched {
            days: found.days,
            problems,
            passing: true,
            answered: true,
            ..Fetched::default()
        }
    }
}

impl Source for OpenMeteo {
    fn name(&self) -> &'static str {
        "open-meteo"
    }

    fn host(&self) -> Option<String> {
        Some(authority(&self.url))
    }

    fn attribution(&self) -> &'static str {
        "Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0; heat computed from it."
    }

    fn terms(&self) -> &'static str {
        if self.keyed {
            "Open-Meteo with a key: used under your own subscription; data CC BY 4.0."
        } else {
            "Open-Meteo without a key is free for non-commercial use only: a nursery that sells trees needs a \
             subscription and its key (key_file), or another source; data CC BY 4.0."
        }
    }

    fn fetch(&self, ask: Ask) -> Pending<'_, Fetched> {
        Box::pin(self.ask(ask))
    }

    fn fetch_year(&self, year: i32) -> Option<Pending<'_, Fetched>> {
        Some(Box::pin(self.year(year)))
    }
}

fn nothing(problem: Problem) -> Fetched {
    Fetched {
        days: Vec::new(),
        problems: vec![problem],
        passing: true,
        ..Fetched::default()
    }
}
