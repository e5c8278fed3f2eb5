//! A weather service within the test, on a free port of this machine: hours in GMT for whatever is asked.
//!
//! It answers like Open-Meteo's forecast API, for the place asked for, with the temperatures of a function of time.

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use serde_json::{Value, json};
use wiremock::matchers::any;
use wiremock::{Mock, MockServer, Request, ResponseTemplate};

pub struct WeatherServer {
    server: MockServer,
}

impl WeatherServer {
    /// Answers each request with hours around the GMT date of `now`. An hour without a temperature is null.
    pub async fn start(
        now: DateTime<Utc>,
        temperature: impl Fn(DateTime<Utc>) -> Option<f64> + Send + Sync + 'static,
    ) -> Self {
        let started = Self::silent().await;
        let respond = move |request: &Request| {
            let number = |name: &str| asked(request, name).parse::<f64>().unwrap();
            let past = number("past_days") as u64;
            let days = past + number("forecast_days") as u64;
            let from = now.date_naive() - Days::new(past);
            let place = (number("latitude"), number("longitude"));
            ResponseTemplate::new(200).set_body_json(answer(place, from, days, &temperature))
        };
        Mock::given(any())
            .respond_with(respond)
            .mount(&started.server)
            .await;
        started
    }

    /// Answers every request with this.
    pub async fn saying(response: ResponseTemplate) -> Self {
        let started = Self::silent().await;
        Mock::given(any())
            .respond_with(response)
            .mount(&started.server)
            .await;
        started
    }

    async fn silent() -> Self {
        Self {
            server: MockServer::start().await,
        }
    }

    /// Answers the first request with this, before anything else.
    pub async fn first(self, response: ResponseTemplate) -> Self {
        let first = Mock::given(any()).respond_with(response);
        first
            .up_to_n_times(1)
            .with_priority(1)
            .mount(&self.server)
            .await;
        self
    }

    /// The address for the config.
    pub fn url(&self) -> String {
        format!("{}/v1/forecast", self.server.uri())
    }

    pub fn port(&self) -> u16 {
        self.server.address().port()
    }

    pub async fn requests(&self) -> Vec<Request> {
        self.server.received_requests().await.unwrap()
    }
}

/// The value of a query parameter.
pub fn asked(request: &Request, name: &str) -> String {
    let mut pairs = request.url.query_pairs();
    let found = pairs.find(|(key, _)| key == name);
    found
        .unwrap_or_else(|| panic!("{name} was not asked"))
        .1
        .into()
}

/// A document with the hours of so many GMT days.
pub fn answer(
    (latitude, longitude): (f64, f64),
    from: NaiveDate,
    days: u64,
    temperature: impl Fn(DateTime<Utc>) -> Option<f64>,
) -> Value {
    let midnight = from.and_hms_opt(0, 0, 0).unwrap().and_utc();
    let hours: Vec<_> = (0..days * 24)
        .map(|hour| midnight + TimeDelta::hours(hour.cast_signed()))
        .collect();
    let texts = hours
        .iter()
        .map(|at| at.format("%Y-%m-%dT%H:%M").to_string());
    let temperatures = hours.iter().map(|&at| temperature(at));
    json!({
        "latitude": latitude,
        "longitude": longitude,
        "generationtime_ms": 0.1,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "hourly_units": {
            "time": "iso8601", "temperature_2m": "°C", "wind_gusts_10m": "km/h", "precipitation": "mm"
        },
        "hourly": {
            "time": texts.collect::<Vec<_>>(),
            "temperature_2m": temperatures.collect::<Vec<_>>(),
            "wind_gusts_10m": vec![18.0; hours.len()],
            "precipitation": vec![0.0; hours.len()],
        }
    })
}
