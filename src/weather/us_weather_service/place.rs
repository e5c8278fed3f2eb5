//! Where on the service a site is found: its cell of the forecast grid and the station next to it.
//!
//! The service says it once for a pair of coordinates; it is remembered for a week, because the grid's cells are
//! renumbered now and then. An answer may lead to addresses of the same service only.

use crate::excerpt::excerpt;
use crate::nursery::Site;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use reqwest::Url;
use serde::{Deserialize, Serialize};

/// How long the service's word on a place is good.
const GOOD_FOR: TimeDelta = TimeDelta::days(7);
/// A station further off, in km, has weather of its own.
const NEAR: f64 = 60.0;

/// What is remembered from one fetch to the next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The coordinates as they were asked for.
    pub point: String,
    /// When the service said so.
    pub said_at: DateTime<Utc>,
    /// The address of the cell's forecast.
    pub grid: Url,
    /// The address of the list of stations around.
    pub stations: Option<Url>,
    /// The station next to the site, once the list was seen.
    pub station: Option<String>,
    /// Dates whose observations were handed on already.
    pub had: Vec<NaiveDate>,
}

/// A place as it is written down, in small JSON.
#[derive(Serialize, Deserialize)]
struct Written {
    point: String,
    said_at: DateTime<Utc>,
    grid: String,
    stations: Option<String>,
    station: Option<String>,
    had: Vec<NaiveDate>,
}

impl Place {
    /// What a memo says of this point. A memo that cannot be read, is of another point, or leads to another host is
    /// none.
    pub fn remembered(memo: Option<&str>, point: &str, base: &Url) -> Option<Self> {
        let written: Written = serde_json::from_str(memo?).ok()?;
        let stations = written.stations.map(|url| within(&url, base));
        let place = Self {
            point: written.point,
            said_at: written.said_at,
            grid: within(&written.grid, base).ok()?,
            stations: stations.transpose().ok()?,
            station: written.station,
            had: written.had,
        };
        let good = place.point == point && place.station.as_deref().is_none_or(is_station);
        good.then_some(place)
    }

    /// Whether the service need not be asked again.
    pub fn is_fresh(&self, now: DateTime<Utc>) -> bool {
        (TimeDelta::zero()..GOOD_FOR).contains(&(now - self.said_at))
    }

    /// For the next fetch.
    pub fn memo(&self) -> Option<String> {
        let written = Written {
            point: self.point.clone(),
            said_at: self.said_at,
            grid: self.grid.to_string(),
            stations: self.stations.as_ref().map(ToString::to_string),
            station: self.station.clone(),
            had: self.had.clone(),
        };
        serde_json::to_string(&written).ok()
    }
}

/// The answer to a pair of coordinates.
#[derive(Debug, Deserialize)]
pub struct PointAnswer {
    properties: PointProperties,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
struct PointProperties {
    forecast_grid_data: Option<String>,
    observation_stations: Option<String>,
}

impl PointAnswer {
    /// The place, or why the answer leads nowhere.
    pub fn place(self, point: &str, base: &Url, now: DateTime<Utc>) -> Result<Place, String> {
        let grid = self.properties.forecast_grid_data;
        let grid = grid.ok_or("it names no cell of the forecast grid")?;
        Ok(Place {
            point: point.into(),
            said_at: now,
            grid: within(&grid, base)?,
            stations: self
                .properties
                .observation_stations
                .map(|url| within(&url, base))
                .transpose()?,
            station: None,
            had: Vec::new(),
        })
    }
}

/// The address, if it is the service's own.
fn within(text: &str, base: &Url) -> Result<Url, String> {
    let shown = excerpt(text.as_bytes());
    let url = Url::parse(text).map_err(|_| format!("'{shown}' is no web address"))?;
    if url.origin() == base.origin() {
        Ok(url)
    } else {
        Err(format!("it leads to another host, {shown}"))
    }
}

/// The answer to the question for stations, the nearest first.
#[derive(Debug, Deserialize)]
pub struct StationsAnswer {
    #[serde(default)]
    features: Vec<StationFeature>,
}

#[derive(Debug, Deserialize)]
struct StationFeature {
    geometry: Option<Geometry>,
    properties: StationProperties,
}

#[derive(Debug, Deserialize)]
struct Geometry {
    /// Longitude first.
    coordinates: (f64, f64),
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
struct StationProperties {
    station_identifier: String,
}

impl StationsAnswer {
    /// The first station of the list that is not too far off.
    pub fn nearest(&self, site: &Site) -> Option<&str> {
        let near = |feature: &&StationFeature| {
            is_station(&feature.properties.station_identifier)
                && feature.geometry.as_ref().is_some_and(|geometry| {
                    let (longitude, latitude) = geometry.coordinates;
                    kilometres(site, latitude, longitude) <= NEAR
                })
        };
        let first = self.features.iter().find(near)?;
        Some(&first.properties.station_identifier)
    }
}

/// Whether it may be a station's name, as part of an address.
pub fn is_station(name: &str) -> bool {
    (3..=12).contains(&name.len()) && name.bytes().all(|b| b.is_ascii_alphanumeric())
}

/// Over the plane that touches the globe: good to 1 % over so short a way.
fn kilometres(site: &Site, latitude: f64, longitude: f64) -> f64 {
    let around = (longitude - site.longitude + 540.0).rem_euclid(360.0) - 180.0;
    let east = around * site.latitude.to_radians().cos();
    // A degree of a great circle of the globe.
    111.2 * (latitude - site.latitude).hypot(east)
}

/// The coordinates as the service wants them: four decimals at most and no zeros at their end, or it sends on to the
/// address that it prefers.
pub fn point(site: &Site) -> String {
    let short = |degrees: f64| {
        let text = format!("{degrees:.4}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        if text == "-0" {
            "0".into()
        } else {
            text.to_owned()
        }
    };
    format!("{},{}", short(site.latitude), short(site.longitude))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn site(latitude: f64, longitude: f64) -> Site {
        Site {
            id: "hill".into(),
            latitude,
            longitude,
            elevation: None,
            zone: chrono_tz::America::New_York,
            standard_day: None,
        }
    }

    #[track_caller]
    fn check(latitude: f64, longitude: f64, text: &str) {
        assert_eq!(point(&site(latitude, longitude)), text);
    }

    #[test]
    fn coordinates_have_four_decimals_at_most_and_no_zeros_at_their_end() {
        check(38.889_44, -77.035_26, "38.8894,-77.0353");
        check(30.0, -85.0, "30,-85");
        check(42.5, -73.750_04, "42.5,-73.75");
        check(-0.000_01, 10.0, "0,10");
        check(13.48, 144.8, "13.48,144.8");
    }

    fn base() -> Url {
        Url::parse("https://api.weather.example").unwrap()
    }

    fn now() -> DateTime<Utc> {
        "2026-11-20T06:30:00Z".parse().unwrap()
    }

    fn place(grid: &str) -> Result<Place, String> {
        let answer = serde_json::json!({"properties": {"gridId": "ABC", "forecastGridData": grid,
            "observationStations": "https://api.weather.example/gridpoints/ABC/5,6/stations"}});
        let answer: PointAnswer = serde_json::from_value(answer).unwrap();
        answer.place("30,-85", &base(), now())
    }

    #[test]
    fn an_answer_leads_within_the_service_only() {
        let found = place("https://api.weather.example/gridpoints/ABC/5,6").unwrap();
        assert_eq!(found.grid.path(), "/gridpoints/ABC/5,6");
        assert_eq!(
            place("https://elsewhere.example/gridpoints/ABC/5,6").unwrap_err(),
            "it leads to another host, https://elsewhere.example/gridpoints/ABC/5,6"
        );
        assert_eq!(
            place("http://api.weather.example/gridpoints/ABC/5,6").unwrap_err(),
            "it leads to another host, http://api.weather.example/gridpoints/ABC/5,6"
        );
        assert_eq!(
            place("gridpoints").unwrap_err(),
            "'gridpoints' is no web address"
        );
    }

    #[test]
    fn a_place_is_remembered_for_a_week_and_for_its_point() {
        let found = place("https://api.weather.example/gridpoints/ABC/5,6").unwrap();
        let memo = found.memo().unwrap();
        let remembered = |memo: &str, point| Place::remembered(Some(memo), point, &base());
        assert_eq!(remembered(&memo, "30,-85"), Some(found.clone()));
        assert_eq!(remembered(&memo, "30.1,-85"), None);
        assert_eq!(remembered("{", "30,-85"), None);
        let led_astray = memo.replace("api.weather.example", "elsewhere.example");
        assert_eq!(remembered(&led_astray, "30,-85"), None);
        assert!(found.is_fresh(now() + TimeDelta::hours(167)));
        assert!(!found.is_fresh(now() + TimeDelta::hours(168)));
        // The clock was set back.
        assert!(!found.is_fresh(now() - TimeDelta::hours(1)));
    }

    #[test]
    fn a_station_too_far_off_is_passed_over() {
        let list = serde_json::json!({"features": [
            {"geometry": {"type": "Point", "coordinates": [-85.0, 30.6]}, "properties": {"stationIdentifier": "KFAR"}},
            {"geometry": null, "properties": {"stationIdentifier": "KNOWHERE"}},
            {"geometry": {"coordinates": [-85.1, 30.1]}, "properties": {"stationIdentifier": "../x"}},
            {"geometry": {"coordinates": [-85.5, 30.2]}, "properties": {"stationIdentifier": "KNEAR"}},
        ]});
        let list: StationsAnswer = serde_json::from_value(list).unwrap();
        // 0.6 degrees north are 67 km; 0.5 west and 0.2 north are 53 km.
        assert_eq!(list.nearest(&site(30.0, -85.0)), Some("KNEAR"));
        assert_eq!(list.nearest(&site(31.0, -80.0)), None);
    }
}
