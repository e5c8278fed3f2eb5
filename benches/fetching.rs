//! A round's questions for 200 sites to services on four hosts. One host is asked one question at a time, so its
//! answers one after the other are the least that a round can take; the goal is to stay within 1.2 times that for the
//! slowest host.

use chrono::{DateTime, Days, TimeDelta, Utc};
use divan::{Bencher, black_box};
use graftwarden::assemble::House;
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::round::{Whom, fetch};
use graftwarden::store::Store;
use std::fmt::Write as _;
use std::io::{self, BufRead, BufReader, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::{Duration, Instant};
use tempfile::TempDir;
use tokio::runtime::{Builder, Runtime};

/// What each host is like: how many sites ask it, and how long it takes to answer.
const HOSTS: [(usize, Duration); 4] = [
    (80, Duration::from_millis(20)),
    (60, Duration::from_millis(15)),
    (40, Duration::from_millis(30)),
    (20, Duration::from_millis(50)),
];

const NOW: &str = "2026-07-15T04:10:00Z";

fn main() {
    println!(
        "200 sites on four hosts: the goal is 1.2 times the slowest host's answers one after the other"
    );
    let round = Round::new();
    let slowest = HOSTS
        .iter()
        .map(|&(sites, pause)| pause * sites as u32)
        .max();
    let slowest = slowest.unwrap_or_default().as_secs_f64();
    let begun = Instant::now();
    round.fetch();
    let took = begun.elapsed().as_secs_f64();
    println!(
        "the slowest host's answers take {slowest:.2} s, the round {took:.2} s: {:.2} times that; put together in {:.2} s; at most {} at once on a host",
        took / slowest,
        round.put_together.as_secs_f64(),
        round.most.load(Ordering::Relaxed)
    );
    divan::main();
}

#[divan::bench(sample_count = 5, sample_size = 1)]
fn fetching(bencher: Bencher) {
    let round = Round::new();
    bencher.bench_local(|| round.fetch());
}

/// The sites of a nursery, and the hosts that they ask.
struct Round {
    house: House,
    runtime: Runtime,
    put_together: Duration,
    /// The most questions that any host had before it at once.
    most: Arc<AtomicUsize>,
    _folder: TempDir,
}

impl Round {
    fn new() -> Self {
        let most = Arc::new(AtomicUsize::new(0));
        let mut config = String::from(NURSERY);
        for (host, &(sites, pause)) in (2..).zip(&HOSTS) {
            let url = serve(host, pause, most.clone()).expect("a free port");
            for site in 0..sites {
                let _ = write!(
                    config,
                    "\n[[site]]\nid = \"h{host}s{site}\"\nlatitude = 50.8\nlongitude = 4.4\n\n[[site.weather]]\nsource = \"open-meteo\"\nurl = \"{url}\"\n"
                );
            }
        }
        let folder = tempfile::tempdir().expect("a temporary folder");
        let house = |config: &Path| {
            let config = Config::load(config).expect("a config without a fault");
            let clock = ManualClock::at(now());
            let store = Store::in_memory().expect("a store");
            House::live(config, Arc::new(clock), store)
        };
        let path = folder.path().join("graftwarden.toml");
        std::fs::write(&path, config).expect("a file in the folder");
        std::fs::write(folder.path().join("batches.csv"), BATCHES).expect("a file in the folder");
        let begun = Instant::now();
        let (house, problems) = house(&path);
        assert!(problems.is_empty(), "{problems:?}");
        Self {
            house,
            runtime: Builder::new_current_thread()
                .enable_all()
                .build()
                .expect("a runtime"),
            put_together: begun.elapsed(),
            most,
            _folder: folder,
        }
    }

    /// Every site is answered.
    fn fetch(&self) {
        let incoming = self
            .runtime
            .block_on(fetch(&self.house, now(), Whom::Everybody));
        let answered = incoming
            .days
            .iter()
            .filter(|given| given.fetched.answered && given.fetched.days.len() > 7);
        assert_eq!(answered.count(), 200, "{:?}", incoming.days.first());
        black_box(incoming);
    }
}

fn now() -> DateTime<Utc> {
    NOW.parse().expect("a moment")
}

/// Answers every question on 127.0.0.`host` after that pause, and tells the address.
fn serve(host: u8, pause: Duration, most: Arc<AtomicUsize>) -> io::Result<String> {
    let listener = TcpListener::bind(SocketAddr::from(([127, 0, 0, host], 0)))?;
    let url = format!("http://{}/v1/forecast", listener.local_addr()?);
    let (answer, at_once) = (Arc::new(answer()), Arc::new(AtomicUsize::new(0)));
    thread::spawn(move || {
        for caller in listener.incoming().flatten() {
            let (answer, at_once, most) = (answer.clone(), at_once.clone(), most.clone());
            thread::spawn(move || {
                converse(&caller, || {
                    most.fetch_max(at_once.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                    thread::sleep(pause);
                    at_once.fetch_sub(1, Ordering::SeqCst);
                    answer.as_bytes()
                })
            });
        }
    });
    Ok(url)
}

/// Answers one question after the other until the caller hangs up.
fn converse<'a>(mut caller: &TcpStream, answer: impl Fn() -> &'a [u8]) -> io::Result<()> {
    let mut lines = BufReader::new(caller).lines();
    while let Some(line) = lines.next().transpose()? {
        if line.is_empty() {
            caller.write_all(answer())?;
        }
    }
    Ok(())
}

/// Hours in GMT from eight weeks before to two weeks after.
fn answer() -> String {
    let midnight = (now().date_naive() - Days::new(56))
        .and_hms_opt(0, 0, 0)
        .expect("a midnight");
    let hours: Vec<i64> = (0..70 * 24).collect();
    let listed = |of: &dyn Fn(i64) -> String| {
        hours
            .iter()
            .map(|&hour| of(hour))
            .collect::<Vec<_>>()
            .join(",")
    };
    let body = format!(
        "{{\"latitude\":50.8,\"longitude\":4.4,\"utc_offset_seconds\":0,\"timezone\":\"GMT\",\"hourly_units\":{{\"time\":\"iso8601\",\"temperature_2m\":\"°C\",\"wind_gusts_10m\":\"km/h\",\"precipitation\":\"mm\"}},\"hourly\":{{\"time\":[{}],\"temperature_2m\":[{}],\"wind_gusts_10m\":[{}],\"precipitation\":[{}]}}}}",
        listed(&|hour| (midnight + TimeDelta::hours(hour))
            .format("\"%Y-%m-%dT%H:%M\"")
            .to_string()),
        listed(&|hour| format!("{:.1}", 12.0 + (hour % 24) as f64 / 2.0)),
        listed(&|_| "18.4".into()),
        listed(&|_| "0.0".into()),
    );
    let length = body.len();
    format!(
        "HTTP/1.1 200 OK\r\ncontent-type: application/json\r\ncontent-length: {length}\r\n\r\n{body}"
    )
}

const NURSERY: &str = r#"version = 1

[nursery]
name = "Alder Fold Nursery"
zone = "Europe/Brussels"

[post]
from = "Alder Fold Nursery <letters@alderfold.example>"
log = true

[[people]]
name = "Maren Holt"
email = "maren@alderfold.example"
"#;

const BATCHES: &str = "\
batch,site,block,plan,scion,grafts,grafted_on
A1,h2s0,A,maple field T-graft,Ember Lace,310,2026-07-01
";
