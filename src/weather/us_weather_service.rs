//! The weather service of the United States: its forecast for the site's cell of the grid, and what the station next to
//! it measured on the days just past.
//!
//! The service runs office by office, and one of its doors may be shut for days while the others stand open: what
//! comes through any of them is used. Where things are found is remembered from fetch to fetch. It hands on days; it
//! knows nothing of what is stored.

mod grid;
mod observations;
mod place;
mod spans;
mod trouble;

use super::http::{Getter, HttpError, Line, authority};
use super::{Ask, Fetched, Pending, Source};
use crate::days::RawDay;
use crate::nursery::Site;
use crate::problem::Problem;
use chrono::{DateTime, Days, NaiveDate, SecondsFormat, Utc};
use grid::GridAnswer;
use observations::ObservationsAnswer;
use place::{Place, PointAnswer, StationsAnswer};
use reqwest::Url;
use serde::de::DeserializeOwned;
use trouble::{AGAIN, Troubles};

const BASE: &str = "https://api.weather.gov";
/// The service keeps a station's reports for 3 to 7 days.
const REPORTS: u64 = 6;
/// So many past days are asked for again though they were had: late reports change them.
const UNSETTLED: u64 = 2;
/// What to do where the service knows nothing of what it was asked for.
const OUTSIDE: &str = "the service knows the United States and their territories only: look at the site's latitude and longitude (west is negative), or use another source there";
const NO_STATION: &str = "look at the station in the config";

/// What the config says about this source.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Settings {
    /// Another address of the same service.
    pub url: Option<String>,
    /// The station whose reports are used; unset, the nearest one.
    pub station: Option<String>,
    /// An address or web page for the User-Agent: the service wants one.
    pub contact: String,
}

/// The service for one site.
#[derive(Debug)]
pub struct UsWeatherService {
    site: Site,
    base: Url,
    station: Option<String>,
    getter: Getter,
}

impl UsWeatherService {
    /// Prepares the source; connects to nothing. Refuses an address that is none, a station's name that is none, and a
    /// missing contact, without which the service answers nobody.
    pub fn new(site: &Site, settings: Settings, line: impl Into<Line>) -> Result<Self, Problem> {
        let place = label(site);
        let problem = |what: String, remedy: &str| {
            Problem::new(place.clone(), what, "this source is not used", remedy)
        };
        let text = settings.url.as_deref().unwrap_or(BASE);
        let base = Url::parse(text)
            .ok()
            .filter(|url| matches!(url.scheme(), "http" | "https") && url.has_host())
            .ok_or_else(|| {
                problem(
                    "its url is not a web address".into(),
                    "write it like https://api.weather.gov",
                )
            })?;
        if let Some(name) = settings
            .station
            .as_deref()
            .filter(|name| !place::is_station(name))
        {
            return Err(problem(
                format!("'{name}' is not the name of a station"),
                "write the letters that it goes by, like KDCA, or leave it out",
            ));
        }
        if !settings.contact.bytes().any(|b| b.is_ascii_alphanumeric()) {
            return Err(problem(
                "the service answers only those who say how they can be reached, and there is no contact".into(),
                "write an e-mail address or a web page as contact",
            ));
        }
        let getter = Getter::new(&base, &settings.contact, None, line)
            .map_err(|e| problem(e.to_string(), e.remedy()))?;
        Ok(Self {
            site: site.clone(),
            base,
            station: settings.station,
            getter,
        })
    }

    async fn ask(&self, ask: Ask) -> Fetched {
        let mut troubles = Troubles::of(label(&self.site), ask.now);
        let point = place::point(&self.site);
        let known = Place::remembered(ask.memo.as_deref(), &point, &self.base);
        let Some(mut place) = self.place(&point, known, ask.now, &mut troubles).await else {
            return troubles.beside(Vec::new(), None, &ask);
        };
        let mut days = self.measured(&mut place, &ask, &mut troubles).await;
        if troubles.is_shut_out() {
            return troubles.beside(days, place.memo(), &ask);
        }
        let measured = days.len();
        let (foretold, moved) = self.foretold(&place, &ask, &mut troubles).await;
        days.extend(foretold);
        if days.len() == measured && troubles.is_empty() {
            let what = "it has no whole day to come";
            troubles.useless(&place.grid, "shape", what, AGAIN);
        }
        // A cell that is not there any more is looked up anew.
        let memo = if moved { None } else { place.memo() };
        troubles.beside(days, memo, &ask)
    }

    /// Where the site is found. What was known longer than it is good for is better than nothing.
    async fn place(
        &self,
        point: &str,
        known: Option<Place>,
        now: DateTime<Utc>,
        troubles: &mut Troubles,
    ) -> Option<Place> {
        if let Some(known) = known.clone().filter(|place| place.is_fresh(now)) {
            return Some(known);
        }
        let url = self.address(&["points", point]);
        match self.get::<PointAnswer>(&url, troubles, OUTSIDE).await {
            None => known,
            Some(answer) => match answer.place(point, &self.base, now) {
                Ok(place) => Some(Place {
                    had: known.map_or_else(Vec::new, |known| known.had),
                    ..place
                }),
                Err(what) => {
                    troubles.lasting(&url, "place", what, "look at the url in the config");
                    known
                }
            },
        }
    }

    /// The days just past by the station's reports, one request a day.
    async fn measured(&self, place: &mut Place, ask: &Ask, troubles: &mut Troubles) -> Vec<RawDay> {
        let today = self.today(ask);
        let back = |days| today.checked_sub_days(Days::new(days)).unwrap_or(today);
        let first = ask.from.max(back(REPORTS));
        place.had.retain(|date| (first..today).contains(date));
        let wanted: Vec<NaiveDate> = first
            .iter_days()
            .take_while(|date| *date < today)
            .filter(|date| *date >= back(UNSETTLED) || !place.had.contains(date))
            .collect();
        if wanted.is_empty() {
            return Vec::new();
        }
        let Some(station) = self.station(place, troubles).await else {
            return Vec::new();
        };
        let mut days = Vec::new();
        let mut gaps = Vec::new();
        for date in wanted {
            let Some(url) = self.reports(&station, date) else {
                continue;
            };
            let Some(answer) = self
                .get::<ObservationsAnswer>(&url, troubles, NO_STATION)
                .await
            else {
                // The other days come through the same door.
                break;
            };
            match answer.day(date, self.site.zone) {
                Ok(day) => {
                    days.push(day);
                    if !place.had.contains(&date) {
                        place.had.push(date);
                    }
                }
                Err(why) => gaps.push(why),
            }
        }
        if !gaps.is_empty() {
            troubles.gaps(format!("station {station}: {}", gaps.join(", ")));
        }
        days
    }

    /// The station of the config, else the nearest, which is looked up once and remembered with the place.
    async fn station(&self, place: &mut Place, troubles: &mut Troubles) -> Option<String> {
        if let Some(station) = self.station.as_ref().or(place.station.as_ref()) {
            return Some(station.clone());
        }
        let url = place.stations.clone()?;
        let answer = self
            .get::<StationsAnswer>(&url, troubles, NO_STATION)
            .await?;
        if let Some(name) = answer.nearest(&self.site) {
            place.station = Some(name.to_owned());
        } else {
            let remedy =
                "name a station in the config, or put another source for past days before this one";
            let what = "it names no station near the site";
            troubles.lasting(&url, "no station", what, remedy);
        }
        place.station.clone()
    }

    /// The days to come, and whether the cell is not there any more.
    async fn foretold(
        &self,
        place: &Place,
        ask: &Ask,
        troubles: &mut Troubles,
    ) -> (Vec<RawDay>, bool) {
        let answer = match self.getter.json::<GridAnswer>(&place.grid).await {
            Ok(answer) => answer,
            Err(HttpError::Status { status: 404, .. }) => {
                let what = "the site's cell of the forecast grid is not there any more";
                let remedy = "it is looked up anew at the next round";
                troubles.useless(&place.grid, "moved", what, remedy);
                return (Vec::new(), true);
            }
            Err(error) => {
                troubles.unheard(&error, AGAIN);
                return (Vec::new(), false);
            }
        };
        match answer.days(self.site.zone, ask.now) {
            Ok((mut days, bad)) => {
                for bad in bad {
                    troubles.remark(&place.grid, bad.kind, bad.what);
                }
                days.retain(|day| day.date >= ask.from);
                (days, false)
            }
            Err(bad) => {
                troubles.useless(&place.grid, bad.kind, bad.what, AGAIN);
                (Vec::new(), false)
            }
        }
    }

    /// What an address gives; `missing` is what to do when it gives a 404.
    async fn get<T: DeserializeOwned>(
        &self,
        url: &Url,
        troubles: &mut Troubles,
        missing: &str,
    ) -> Option<T> {
        match self.getter.json(url).await {
            Ok(answer) => Some(answer),
            Err(error) => {
                troubles.unheard(&error, missing);
                None
            }
        }
    }

    fn today(&self, ask: &Ask) -> NaiveDate {
        ask.now.with_timezone(&self.site.zone).date_naive()
    }

    fn address(&self, path: &[&str]) -> Url {
        let mut url = self.base.clone();
        // Only a URL that cannot have a path refuses this, and such a one has no host either.
        if let Ok(mut segments) = url.path_segments_mut() {
            segments.pop_if_empty().extend(path);
        }
        url
    }

    /// The reports of one date in the site's zone.
    fn reports(&self, station: &str, date: NaiveDate) -> Option<Url> {
        let text = |at: DateTime<Utc>| at.to_rfc3339_opts(SecondsFormat::Secs, true);
        let from = spans::starts(date, self.site.zone)?;
        let to = spans::starts(date.checked_add_days(Days::new(1))?, self.site.zone)?;
        let mut url = self.address(&["stations", station, "observations"]);
        url.query_pairs_mut()
            .append_pair("start", &text(from))
            .append_pair("end", &text(to));
        Some(url)
    }
}

impl Source for UsWeatherService {
    fn name(&self) -> &'static str {
        "us-weather-service"
    }

    fn host(&self) -> Option<String> {
        Some(authority(&self.base))
    }

    fn attribution(&self) -> &'static str {
        "Source: NOAA National Weather Service."
    }

    fn terms(&self) -> &'static str {
        "US National Weather Service: public domain, any use; the United States and their territories only."
    }

    fn fetch(&self, ask: Ask) -> Pending<'_, Fetched> {
        Box::pin(self.ask(ask))
    }
}

fn label(site: &Site) -> String {
    format!("site {}, us-weather-service", site.id)
}
