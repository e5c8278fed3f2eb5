//! The catalogue of how weather services fail, each failure played through whole rounds: a service that gave days fails,
//! another behind it stands in, then that fails too, then the first comes back.
//!
//! In each case no wrong day gets in, stored days stay, the next source is used for what is missing, the log has one
//! clear line, and the grower hears of it only by the rules: a refusal once, what passes never, and 36 hours without a
//! measured or modelled day. The program is begun anew for each round, so that what it remembers is in the store.

mod clock_changes;
mod connections;
mod documents;
mod manners;
mod refusals;

use crate::program::Nursery;
use crate::scripted_server::{Reply, Scripted, json};
use crate::weather_documents::{bright_sky, met_norway};
use crate::weather_server::answer;
use chrono::{DateTime, Days, NaiveDate, TimeDelta, Timelike, Utc};
use graftwarden::assemble::House;
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::days::{Origin, PastYears, Series};
use graftwarden::notices::Kind;
use graftwarden::round::{Outcome, round};
use graftwarden::store::Store;
use graftwarden::survey::series_from;
use graftwarden::weather::http::{Line, Patience};
use std::io::Write;
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// One more try, without a pause.
const QUICK: Patience = Patience {
    connect: Duration::from_secs(5),
    whole: Duration::from_secs(20),
    retries: 1,
    pause: Duration::ZERO,
    longest_pause: Duration::ZERO,
};
/// Where both sources are asked for.
const PLACE: (f64, f64) = (50.8, 4.4);
const BATCHES: &str = "\
batch,block,plan,scion,grafts,grafted_on
A1,A,maple field T-graft,Ember Lace,310,2024-07-10
";

pub fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

pub fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// A temperature by night, and another from 10 to 16 o'clock GMT.
pub fn warmth(night: f64, day: f64) -> impl Fn(DateTime<Utc>) -> Option<f64> {
    move |at| {
        Some(if (10..16).contains(&at.hour()) {
            day
        } else {
            night
        })
    }
}

/// What the first source answers to the question of a moment: five days before, one more for the zone, four to come.
pub fn open_meteo(
    now: DateTime<Utc>,
    temperature: impl Fn(DateTime<Utc>) -> Option<f64>,
) -> serde_json::Value {
    answer(PLACE, now.date_naive() - Days::new(6), 10, temperature)
}

/// A good answer of the first source: 10 to 20 °C.
pub fn good(now: DateTime<Utc>) -> Reply {
    json(200, open_meteo(now, warmth(10.0, 20.0)).to_string())
}

/// A good answer of MET Norway, as the first source: the same temperatures.
pub fn good_forecast(now: DateTime<Utc>) -> Reply {
    json(200, forecast(now, now).to_string())
}

/// The same, made at another moment.
pub fn forecast(now: DateTime<Utc>, made: DateTime<Utc>) -> serde_json::Value {
    let hour = now - TimeDelta::minutes(now.minute().into());
    let mut document = met_norway(PLACE, hour, (50, 8), warmth(10.0, 20.0));
    document["properties"]["meta"]["updated_at"] = made.to_rfc3339().into();
    document
}

/// A good answer of the second source: 11 to 21 °C, measured up to now.
fn good_behind(now: DateTime<Utc>) -> Reply {
    let (from, to) = (
        now.date_naive() - Days::new(6),
        now.date_naive() + Days::new(4),
    );
    let kind = |at: DateTime<Utc>| if at < now { "historical" } else { "forecast" };
    let hour = |at| (warmth(11.0, 21.0)(at), kind(at));
    json(
        200,
        bright_sky(PLACE, chrono_tz::Europe::Brussels, (from, to), hour).to_string(),
    )
}

/// Which service stands first.
#[derive(Clone, Copy, PartialEq, Eq)]
enum First {
    OpenMeteo,
    MetNorway,
}

/// What stands behind it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Behind {
    Service,
    /// A file needs no time, where the first source is left little.
    File,
}

/// How a source fails, and what is to come of it.
pub struct Failure {
    first: First,
    behind: Behind,
    reply: Box<dyn Fn(DateTime<Utc>) -> Reply>,
    url: Option<String>,
    keyed: bool,
    line: Line,
    said: Option<&'static str>,
    told: bool,
    answers: bool,
    asked: Option<[usize; 2]>,
}

impl Failure {
    /// The first source answers each question like this; it is asked twice in each round.
    pub fn of(reply: impl Fn(DateTime<Utc>) -> Reply + 'static) -> Self {
        Self {
            first: First::OpenMeteo,
            behind: Behind::Service,
            reply: Box::new(reply),
            url: None,
            keyed: false,
            line: QUICK.into(),
            said: None,
            told: false,
            answers: false,
            asked: Some([2, 2]),
        }
    }

    /// While it fails, another address is asked, which nobody counts.
    pub fn at(url: String) -> Self {
        Self {
            url: Some(url),
            asked: None,
            ..Self::of(|_| Reply::Silent)
        }
    }

    pub fn of_met_norway(self) -> Self {
        Self {
            first: First::MetNorway,
            ..self
        }
    }

    pub fn before_a_file(self) -> Self {
        Self {
            behind: Behind::File,
            ..self
        }
    }

    /// The first source has a key.
    pub fn with_a_key(self) -> Self {
        Self {
            keyed: true,
            ..self
        }
    }

    /// While it fails, it is asked by this line.
    pub fn by(self, line: impl Into<Line>) -> Self {
        Self {
            line: line.into(),
            ..self
        }
    }

    /// How often it is asked in the round of the morning and in that of the evening.
    pub fn asked(self, morning: usize, evening: usize) -> Self {
        Self {
            asked: Some([morning, evening]),
            ..self
        }
    }

    /// The grower is told, once.
    pub fn told(self) -> Self {
        Self { told: true, ..self }
    }

    /// It gives what it has, and that is used; only not all is there.
    pub fn answers(self) -> Self {
        Self {
            answers: true,
            ..self
        }
    }

    /// Plays it; the one line of the log says this.
    pub fn says(mut self, said: &'static str) {
        self.said = Some(said);
        Story::begin(self).play();
    }
}

/// A nursery with a chain of two sources, and the failure that is played in it.
struct Story {
    nursery: Nursery,
    first: Scripted,
    behind: Scripted,
    failure: Failure,
    log: Log,
}

impl Story {
    fn begin(failure: Failure) -> Self {
        Self {
            nursery: Nursery::bare()
                .with("batches.csv", BATCHES)
                .with("key", "hazel-4711-rowan\n"),
            first: Scripted::start(),
            behind: Scripted::start(),
            failure,
            log: Log::default(),
        }
    }

    fn play(&self) {
        let failure = &self.failure;
        self.both_well("2024-07-16T04:10:00Z");
        assert_eq!(self.log.take(), [""; 0]);

        self.fails("2024-07-17T04:10:00Z", 0);
        self.fails("2024-07-17T16:10:00Z", 1);
        // What has just been foretold by the second goes before what the first foretold a day and a half ago.
        if failure.behind == Behind::Service && !failure.answers {
            self.knows("2024-07-18", Origin::Forecast, self.second());
        }

        let nothing = |at: &str| self.both_fail(at);
        assert_eq!(nothing("2024-07-18T04:10:00Z"), 0, "30 hours are no reason");
        assert_eq!(nothing("2024-07-18T16:10:00Z"), 1, "42 hours are");
        assert_eq!(nothing("2024-07-19T04:10:00Z"), 0, "it is told once");
        self.log.take();

        self.both_well("2024-07-20T04:10:00Z");
        self.knows("2024-07-19", self.trusted_origin(), self.trusted());
        let again = self.log.take();
        let first: Vec<_> = again
            .iter()
            .filter(|l| l.contains(self.first_name()))
            .collect();
        assert_eq!(first.len(), usize::from(!failure.answers), "{again:?}");
        assert!(
            first.iter().all(|line| line.contains("answers again")),
            "{again:?}"
        );
        self.both_well("2024-07-20T16:10:00Z");
        assert_eq!(self.log.take(), [""; 0]);
        let troubles = self
            .nursery
            .memory("SELECT count(*) FROM notice WHERE kind = 'trouble'");
        assert_eq!(troubles, [u8::from(failure.told).to_string()]);
    }

    fn both_well(&self, at: &str) {
        let now = moment(at);
        self.first.says(match self.failure.first {
            First::OpenMeteo => good(now),
            First::MetNorway => good_forecast(now),
        });
        self.behind_is_well(now);
        self.round(now, false);
    }

    fn behind_is_well(&self, now: DateTime<Utc>) {
        self.behind.says(good_behind(now));
        if self.failure.behind == Behind::File {
            let days = date("2024-07-05").iter_days();
            let days = days.take_while(|day| *day < now.date_naive());
            let rows: String = days.map(|day| format!("{day},11,21\n")).collect();
            self.nursery
                .write("temps.csv", format!("date,tmin_c,tmax_c\n{rows}"));
        }
    }

    /// The first source fails, the second stands in: of the rounds on 17 July this is number `n`.
    fn fails(&self, at: &str, n: usize) {
        let (now, failure) = (moment(at), &self.failure);
        self.first.asked();
        self.first.says((failure.reply)(now));
        self.behind_is_well(now);
        let outcome = self.round(now, true);

        let log = self.log.take();
        let asked = failure.asked.map(|asked| asked[n]);
        let lines = usize::from(asked != Some(0));
        assert_eq!(
            log.len(),
            lines,
            "one line a round in which it is asked: {log:?}"
        );
        for line in &log {
            assert!(line.contains(self.first_name()), "{line}");
            assert!(line.contains(failure.said.unwrap()), "{line}");
            assert!(!line.contains("hazel-4711"), "{line}");
        }
        if let Some(asked) = asked {
            assert_eq!(self.first.asked(), asked, "{at}");
        }
        let told = count(&outcome, Kind::Trouble);
        assert_eq!(
            told,
            usize::from(failure.told && n == 0),
            "{:?}",
            outcome.tellings
        );
        assert_eq!(count(&outcome, Kind::NoTemperatures), 0);
        self.nothing_wrong_came_in();
        self.knows("2024-07-15", self.trusted_origin(), self.trusted());
        self.knows("2024-07-16", Origin::Measured, self.second());
    }

    /// Both fail; how often the grower is told that there are no temperatures.
    fn both_fail(&self, at: &str) -> usize {
        let now = moment(at);
        self.first.says((self.failure.reply)(now));
        self.behind.says(json(503, "{}"));
        let outcome = self.round(now, true);
        assert_eq!(count(&outcome, Kind::Trouble), 0, "{:?}", outcome.tellings);
        self.nothing_wrong_came_in();
        count(&outcome, Kind::NoTemperatures)
    }

    /// Every day that is stored of the first source is one that it gave while it was well.
    fn nothing_wrong_came_in(&self) {
        let house = self.house(moment("2024-07-17T16:10:00Z"), false);
        let name = self.first_name();
        let stored = house.with_store(|memory| memory.days("home", &[name], NaiveDate::MIN));
        let stored = stored.unwrap().remove(0).days;
        assert!(stored.len() >= 3, "{stored:?}");
        for day in &stored {
            assert_eq!((day.min, day.max), (10.0, 20.0), "{day:?}");
            let passed = day.origin != Origin::Forecast;
            assert!(!passed || day.date <= date("2024-07-15"), "{day:?}");
        }
    }

    #[track_caller]
    fn knows(&self, day: &str, origin: Origin, (min, max, source): (f64, f64, &str)) {
        let series = series(&self.house(moment("2024-07-20T04:10:00Z"), false));
        let found = series.day(date(day)).unwrap();
        assert_eq!((found.min, found.max), (min, max), "{found:?}");
        assert_eq!(
            (found.origin, series.source(found)),
            (origin, source),
            "{found:?}"
        );
    }

    /// What is known of a day that both sources know.
    fn trusted(&self) -> (f64, f64, &'static str) {
        match self.failure.first {
            First::OpenMeteo => (10.0, 20.0, "open-meteo"),
            // It has forecasts only.
            First::MetNorway => self.second(),
        }
    }

    fn trusted_origin(&self) -> Origin {
        match self.failure.first {
            First::OpenMeteo => Origin::Modelled,
            First::MetNorway => Origin::Measured,
        }
    }

    fn second(&self) -> (f64, f64, &'static str) {
        match self.failure.behind {
            Behind::Service => (11.0, 21.0, "bright-sky"),
            Behind::File => (11.0, 21.0, "file"),
        }
    }

    fn first_name(&self) -> &'static str {
        match self.failure.first {
            First::OpenMeteo => "open-meteo",
            First::MetNorway => "met-norway",
        }
    }

    fn round(&self, now: DateTime<Utc>, failing: bool) -> Outcome {
        let house = self.house(now, failing);
        run(&house, &self.log)
    }

    /// The program, begun anew.
    fn house(&self, now: DateTime<Utc>, failing: bool) -> House {
        let url = self.failure.url.clone().filter(|_| failing);
        let url = url.unwrap_or_else(|| self.first.url());
        let days = match self.failure.first {
            First::OpenMeteo => "past_days = 5\nforecast_days = 3\n",
            First::MetNorway => "",
        };
        let key = if self.failure.keyed {
            "key_file = \"key\"\n"
        } else {
            ""
        };
        let first = format!(
            "source = \"{}\"\nurl = \"{url}/v1\"\n{days}{key}",
            self.first_name()
        );
        let behind = match self.failure.behind {
            Behind::Service => format!(
                "source = \"bright-sky\"\nurl = \"{}/weather\"\npast_days = 5\nforecast_days = 3\n",
                self.behind.url()
            ),
            Behind::File => "source = \"file\"\npath = \"temps.csv\"\n".into(),
        };
        let line = if failing {
            self.failure.line.clone()
        } else {
            QUICK.into()
        };
        house(&self.nursery, &site("home", &[&first, &behind]), now, line)
    }
}

fn count(outcome: &Outcome, kind: Kind) -> usize {
    outcome
        .tellings
        .iter()
        .filter(|t| t.notice.kind == kind)
        .count()
}

/// A site of the config with its sources.
pub fn site(id: &str, sources: &[&str]) -> String {
    let sources = sources
        .iter()
        .map(|source| format!("[[site.weather]]\n{source}\n"));
    format!(
        "[[site]]\nid = \"{id}\"\nlatitude = {}\nlongitude = {}\n{}",
        PLACE.0,
        PLACE.1,
        sources.collect::<String>()
    )
}

/// The program in a nursery with these sites, where every day is a working day.
pub fn house(nursery: &Nursery, sites: &str, now: DateTime<Utc>, line: impl Into<Line>) -> House {
    let config = format!(
        r#"version = 1
[nursery]
name = "Alder Fold Nursery"
zone = "Europe/Brussels"
working_days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]

{sites}
[[people]]
name = "Maren Holt"
email = "maren@alderfold.example"

[post]
from = "Alder Fold Nursery <letters@alderfold.example>"
folder = "letters"
log = false
"#
    );
    nursery.write("graftwarden.toml", config);
    let config = Config::load(&nursery.path("graftwarden.toml")).unwrap();
    let store = Store::open(&config.state).unwrap();
    let (house, problems) = House::live_by(config, Arc::new(ManualClock::at(now)), store, line);
    assert_eq!(problems, []);
    house
}

/// One round, its log into `log`.
pub fn run(house: &House, log: &Log) -> Outcome {
    let _kept = log.keep();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(round(house)).unwrap()
}

/// The days of the first site, as the rounds see them.
pub fn series(house: &House) -> Series {
    let site = &house.config.sites[0];
    let through = house
        .clock
        .now()
        .with_timezone(&site.site.zone)
        .date_naive()
        - Days::new(1);
    let past = PastYears::default();
    let settled =
        house.with_store(|memory| series_from(memory, site, &past, NaiveDate::MIN, through));
    let (series, problems) = settled.unwrap();
    assert_eq!(problems, []);
    series
}

/// The log of this thread from `info` upwards.
#[derive(Clone, Default)]
pub struct Log(Arc<Mutex<Vec<u8>>>);

impl Log {
    fn keep(&self) -> tracing::subscriber::DefaultGuard {
        let log = self.clone();
        let kept = tracing_subscriber::fmt()
            .with_writer(move || log.clone())
            .with_ansi(false)
            .without_time()
            .finish();
        tracing::subscriber::set_default(kept)
    }

    /// The lines since the last look.
    pub fn take(&self) -> Vec<String> {
        let text = String::from_utf8(std::mem::take(&mut *self.0.lock().unwrap())).unwrap();
        text.lines().map(str::to_owned).collect()
    }
}

impl Write for Log {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
