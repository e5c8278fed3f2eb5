//! Bright Sky: the German weather service's stations and forecasts, hour by hour; stations in Germany, forecasts there
//! and at points elsewhere.
//!
//! One answer holds what stations measured and what is foretold, and says of each hour which it is. A day counts as
//! measured only when it is over and every hour of it was. It hands on days; it knows nothing of what is stored.

mod answer;

use super::hours::{self, Gathered};
use super::http::{Getter, HttpError, Line, authority};
use super::place::coordinate;
use super::voice::{Bad, Voice};
use super::{Ask, Fetched, Pending, Source};
use crate::days::Origin;
use crate::nursery::Site;
use crate::problem::Problem;
use answer::{Answer, Heard};
use chrono::{Days, NaiveDate, TimeDelta};
use reqwest::Url;

const URL: &str = "https://api.brightsky.dev/weather";
/// How far away a station may be, in metres.
const FARTHEST: u32 = 50_000;
/// A longer answer would be larger than what is taken.
const MOST_PAST_DAYS: u32 = 92;
/// Forecasts reach about as far.
const MOST_FORECAST_DAYS: u32 = 10;
/// After a 429 that does not say how long.
const TOO_OFTEN: TimeDelta = TimeDelta::hours(1);

/// What the config says about this source.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Settings {
    /// Another address of the same service.
    pub url: Option<String>,
    /// Days before today, 0 to 92.
    pub past_days: u32,
    /// Days from today on, 1 to 10.
    pub forecast_days: u32,
    /// An address or web page for the User-Agent.
    pub contact: String,
}

/// Bright Sky for one site.
#[derive(Debug)]
pub struct BrightSky {
    site: Site,
    url: Url,
    getter: Getter,
    voice: Voice,
    past_days: u32,
    forecast_days: u32,
}

impl BrightSky {
    /// Prepares the source; connects to nothing. Refuses an address that is none and numbers of days that the service
    /// does not have.
    pub fn new(site: &Site, settings: Settings, line: impl Into<Line>) -> Result<Self, Problem> {
        let Settings {
            url,
            past_days,
            forecast_days,
            contact,
        } = settings;
        let mut voice = Voice::new(site, "bright-sky");
        let url = voice.address(url.as_deref(), URL)?;
        for (name, days, least, most) in [
            ("past_days", past_days, 0, MOST_PAST_DAYS),
            ("forecast_days", forecast_days, 1, MOST_FORECAST_DAYS),
        ] {
            if !(least..=most).contains(&days) {
                let what = format!("{name} = {days} is more or less than can be asked for");
                return Err(voice.unfit(what, &format!("write {least} to {most}")));
            }
        }
        let getter = Getter::new(&url, &contact, None, line)
            .map_err(|e| voice.unfit(e.to_string(), e.remedy()))?
            .yielding();
        Ok(Self {
            site: site.clone(),
            url,
            getter,
            voice,
            past_days,
            forecast_days,
        })
    }

    /// Whole local dates: the last hour asked for is the midnight that ends the last of them.
    fn request(&self, ask: &Ask) -> Url {
        let today = self.today(ask);
        let first = ask
            .from
            .clamp(today - Days::new(self.past_days.into()), today);
        let end = today + Days::new(self.forecast_days.into());
        let mut url = self.url.clone();
        url.query_pairs_mut()
            .append_pair("lat", &coordinate(self.site.latitude))
            .append_pair("lon", &coordinate(self.site.longitude))
            .append_pair("date", &first.to_string())
            .append_pair("last_date", &end.to_string())
            .append_pair("tz", self.site.zone.name())
            .append_pair("max_dist", &FARTHEST.to_string())
            .append_pair("units", "dwd");
        url
    }

    fn today(&self, ask: &Ask) -> NaiveDate {
        ask.now.with_timezone(&self.site.zone).date_naive()
    }

    async fn ask(&self, ask: Ask) -> Fetched {
        match self.getter.json::<Answer>(&self.request(&ask)).await {
            Ok(answer) => self.judge(answer, &ask),
            Err(error) => self.unheard(&error, &ask),
        }
    }

    fn unheard(&self, error: &HttpError, ask: &Ask) -> Fetched {
        let mut problem = self.voice.unheard(error);
        let status = match error {
            HttpError::Status { status, .. } => *status,
            _ => 0,
        };
        let rest = error.rest(ask.now);
        let (remedy, rest) = match status {
            404 => (
                "there is no station or forecast point within 50 km: look at the site's latitude and longitude in the \
                 config (east is positive, west negative), or use another source",
                rest,
            ),
            400 | 422 => (
                "look at the site's latitude, longitude and zone in the config",
                rest,
            ),
            403 => (
                "look at contact in the config: an address at which you read what they write; it is asked again after a day",
                rest,
            ),
            429 => (error.remedy(), Some(rest.unwrap_or(TOO_OFTEN))),
            _ => (error.remedy(), rest),
        };
        problem.remedy = remedy.into();
        Fetched::unheard(problem, error, ask.now).resting(rest, ask.now)
    }

    fn judge(&self, answer: Answer, ask: &Ask) -> Fetched {
        let heard = match answer.hours(&self.site) {
            Ok(heard) => heard,
            Err(bad) => return nothing(self.voice.useless(bad)),
        };
        let today = self.today(ask);
        let foretold = heard.foretold_dates(self.site.zone);
        let Heard { hours, remarks, .. } = heard;
        let Gathered { mut days, mut gaps } = hours::gather(&hours, self.site.zone, today);
        days.retain(|day| day.date >= ask.from);
        gaps.retain(|gap| *gap >= ask.from);
        if days.is_empty() {
            let bad = Bad::shape("the answer has no day whose hours are known");
            return nothing(self.voice.useless(bad));
        }
        for day in &mut days {
            let measured = day.date < today && !foretold.contains(&day.date);
            day.origin = if measured {
                Origin::Measured
            } else {
                Origin::Forecast
            };
        }
        let mut problems: Vec<_> = remarks
            .into_iter()
            .map(|bad| self.voice.remark(bad))
            .collect();
        if !gaps.is_empty() {
            let dates: Vec<_> = gaps.iter().map(ToString::to_string).collect();
            problems.push(self.voice.remark(Bad {
                kind: "gaps",
                what: format!("hours without a temperature on {}", dates.join(", ")),
                remedy: "they are asked for again at the next round; a logger file bridges what lasts",
            }));
        }
        Fetched {
            days,
            problems,
            passing: true,
            answered: true,
            ..Fetched::default()
        }
    }
}

impl Source for BrightSky {
    fn name(&self) -> &'static str {
        "bright-sky"
    }

    fn host(&self) -> Option<String> {
        Some(authority(&self.url))
    }

    fn attribution(&self) -> &'static str {
        "Datenbasis: Deutscher Wetterdienst, Einzelwerte gemittelt."
    }

    fn terms(&self) -> &'static str {
        "Bright Sky: free for all purposes, commercial use too; data of Deutscher Wetterdienst, to be named as their \
         source."
    }

    fn fetch(&self, ask: Ask) -> Pending<'_, Fetched> {
        Box::pin(self.ask(ask))
    }
}

fn nothing(problem: Problem) -> Fetched {
    Fetched {
        problems: vec![problem],
        passing: true,
        ..Fetched::default()
    }
}
