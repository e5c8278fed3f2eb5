//! The answer of a weather service, over HTTP on this machine; the first byte chooses the service.
#![no_main]

use chrono_tz::Europe;
use graftwarden::nursery::Site;
use graftwarden::weather::http::Patience;
use graftwarden::weather::{
    Ask, Source, bright_sky, met_norway, noaa_daily, open_meteo, us_weather_service,
};
use libfuzzer_sys::fuzz_target;
use std::io::{Read, Write};
use std::net::{Ipv4Addr, TcpListener};
use std::sync::{LazyLock, Mutex};
use std::time::Duration;
use tokio::runtime::Runtime;

/// What is answered to whatever is asked.
static ANSWER: Mutex<Vec<u8>> = Mutex::new(Vec::new());

struct House {
    runtime: Runtime,
    sources: Vec<Box<dyn Source>>,
}

static HOUSE: LazyLock<House> = LazyLock::new(|| {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let url = format!("http://{}", listener.local_addr().unwrap());
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let Ok(mut stream) = stream else { continue };
            let mut head: Vec<u8> = Vec::new();
            let mut piece = [0_u8; 4096];
            while !head.windows(4).any(|four| four == b"\r\n\r\n") {
                match stream.read(&mut piece) {
                    Ok(n @ 1..) => head.extend(&piece[..n]),
                    _ => break,
                }
            }
            let body = ANSWER.lock().unwrap().clone();
            let length = body.len();
            let _ = write!(
                stream,
                "HTTP/1.1 200 Said\r\ncontent-type: application/json\r\ncontent-length: {length}\r\nconnection: close\r\n\r\n"
            );
            let _ = stream.write_all(&body);
        }
    });
    House {
        runtime: tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap(),
        sources: sources(&url),
    }
});

fn sources(url: &str) -> Vec<Box<dyn Source>> {
    let site = Site {
        id: "hill".into(),
        latitude: 51.05,
        longitude: 13.75,
        elevation: Some(118.0),
        zone: Europe::Berlin,
        standard_day: None,
    };
    let once = Patience {
        connect: Duration::from_secs(5),
        whole: Duration::from_secs(10),
        retries: 0,
        pause: Duration::ZERO,
        longest_pause: Duration::ZERO,
    };
    let contact = || "office@alderfold.example".to_owned();
    let url = || Some(url.to_owned());
    let open_meteo = open_meteo::Settings {
        url: url(),
        archive_url: None,
        key: None,
        past_days: 5,
        forecast_days: 2,
        contact: contact(),
    };
    let bright_sky = bright_sky::Settings {
        url: url(),
        past_days: 10,
        forecast_days: 3,
        contact: contact(),
    };
    let met_norway = met_norway::Settings {
        url: url(),
        contact: contact(),
    };
    let noaa = noaa_daily::Settings {
        url: url(),
        station: Some("USW00990011".into()),
        path: None,
        contact: contact(),
    };
    let us = us_weather_service::Settings {
        url: url(),
        station: Some("KALB".into()),
        contact: contact(),
    };
    vec![
        Box::new(open_meteo::OpenMeteo::new(&site, &open_meteo, once).unwrap()),
        Box::new(bright_sky::BrightSky::new(&site, bright_sky, once).unwrap()),
        Box::new(met_norway::MetNorway::new(&site, met_norway, once).unwrap()),
        Box::new(noaa_daily::NoaaDaily::new(&site, noaa, once).unwrap()),
        Box::new(us_weather_service::UsWeatherService::new(&site, us, once).unwrap()),
    ]
}

fuzz_target!(|bytes: &[u8]| {
    let Some((choice, answer)) = bytes.split_first() else {
        return;
    };
    *ANSWER.lock().unwrap() = answer.to_vec();
    let source = &HOUSE.sources[usize::from(*choice) % HOUSE.sources.len()];
    let ask = Ask {
        now: "2026-07-03T06:00:00Z".parse().unwrap(),
        from: "2026-07-01".parse().unwrap(),
        memo: None,
    };
    let found = HOUSE.runtime.block_on(source.fetch(ask));
    assert!(found.answered || !found.problems.is_empty());
    for day in found.days {
        assert!(day.min.is_finite() && day.max.is_finite());
    }
});
