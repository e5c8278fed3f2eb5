//! `watch` as a service: what it tells the service manager, how it takes signals, and a letter that arrives.
//!
//! The real clock runs here, so the nursery's dates hang on today. Everything waits for what it waits for, up to a
//! deadline; only silence has to be listened to for a while.

mod damaged;

use crate::program::{Nursery, today};
use crate::smtp_server::{Mode, SmtpServer, Stage};
use crate::weather_server::WeatherServer;
use chrono::{DateTime, Days, TimeDelta, Timelike, Utc};
use insta::assert_snapshot;
use serde_json::Value;
use std::fmt::Write as _;
use std::io::{BufRead, BufReader};
use std::os::unix::net::UnixDatagram;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::{Duration, Instant};
use wiremock::ResponseTemplate;

/// For whatever is to happen.
const PATIENCE: Duration = Duration::from_secs(20);
/// The service has so long to end after it was asked to.
const TO_END: Duration = Duration::from_secs(5);

/// A running service, its log and its service manager.
struct Service {
    child: Child,
    log: Receiver<String>,
    logged: Vec<Value>,
    manager: UnixDatagram,
}

impl Service {
    fn start(nursery: &Nursery, watchdog: Duration) -> Self {
        let socket = nursery.path("notify");
        drop(std::fs::remove_file(&socket));
        let manager = UnixDatagram::bind(&socket).unwrap();
        let mut child = nursery
            .command("--log-json watch")
            .env("NOTIFY_SOCKET", &socket)
            .env("WATCHDOG_USEC", watchdog.as_micros().to_string())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (said, log) = channel();
        let lines = BufReader::new(child.stderr.take().unwrap()).lines();
        thread::spawn(move || {
            lines
                .map_while(Result::ok)
                .try_for_each(|line| said.send(line))
        });
        Self {
            child,
            log,
            logged: Vec::new(),
            manager,
        }
    }

    /// The next message to the service manager; none when there is none for so long.
    fn heard(&self, within: Duration) -> Option<String> {
        self.manager.set_read_timeout(Some(within)).unwrap();
        let mut bytes = [0; 4096];
        let read = self.manager.recv(&mut bytes).ok()?;
        Some(String::from_utf8(bytes[..read].to_vec()).unwrap())
    }

    /// Waits until the service manager is told this.
    #[track_caller]
    fn tells(&self, line: &str) {
        let end = Instant::now() + PATIENCE;
        while let Some(message) = self.heard(
            end.saturating_duration_since(Instant::now())
                .max(Duration::from_millis(1)),
        ) {
            if message.lines().any(|told| told == line) {
                return;
            }
        }
        panic!("the service manager was never told {line}");
    }

    /// Waits for a log line with this message; every line on the way must be JSON.
    #[track_caller]
    fn logs(&mut self, message: &str) -> Value {
        let end = Instant::now() + PATIENCE;
        loop {
            let left = end.saturating_duration_since(Instant::now());
            let Ok(line) = self.log.recv_timeout(left) else {
                panic!("never logged {message:?}, but: {:#?}", self.logged);
            };
            let entry: Value =
                serde_json::from_str(&line).unwrap_or_else(|error| panic!("{error}: {line}"));
            self.logged.push(entry.clone());
            if entry["fields"]["message"]
                .as_str()
                .is_some_and(|said| said.contains(message))
            {
                return entry;
            }
        }
    }

    /// Sends a signal by its name.
    fn signal(&self, name: &str) {
        let done = Command::new("kill")
            .args([&format!("-{name}"), &self.child.id().to_string()])
            .status();
        assert!(done.unwrap().success());
    }

    /// Asks it to stop; it must say so, and end well and in time.
    #[track_caller]
    fn stops(mut self) -> Vec<Value> {
        let asked = Instant::now();
        self.signal("TERM");
        self.tells("STOPPING=1");
        // The log ends when the process does.
        while let Ok(line) = self.log.recv_timeout(PATIENCE) {
            self.logged.push(serde_json::from_str(&line).unwrap());
        }
        let ended = self.child.wait().unwrap();
        assert_eq!(ended.code(), Some(0));
        assert!(asked.elapsed() < TO_END, "it took {:?}", asked.elapsed());
        std::mem::take(&mut self.logged)
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

/// Servers for weather and mail, and a nursery that uses them.
struct Farm {
    weather: WeatherServer,
    mail: SmtpServer,
    nursery: Nursery,
}

impl Farm {
    /// One batch, grafted 16 days ago; the days since had 20 °C in the mean, 15 standard days in all, so it is to be
    /// looked at and nothing else.
    fn new(rounds: &str, weather: WeatherServer) -> Self {
        let mail = SmtpServer::start(&[]);
        let nursery = Nursery::bare()
            .with(
                "graftwarden.toml",
                &config(rounds, &weather.url(), mail.port()),
            )
            .with(
                "batches.csv",
                &format!("batch,block,plan,grafts,grafted_on\n{}", row("N1")),
            );
        Self {
            weather,
            mail,
            nursery,
        }
    }
}

fn config(rounds: &str, url: &str, port: u16) -> String {
    format!(
        r#"
[nursery]
name = "Alder Fold Nursery"
zone = "Europe/Brussels"
working_days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]

[[site]]
id = "home"
latitude = 50.8
longitude = 4.4

[[site.weather]]
source = "open-meteo"
url = "{url}"
past_days = 40

[rounds]
at = ["{rounds}"]

[[people]]
name = "Maren Holt"
email = "maren@alderfold.example"

[post]
from = "letters@alderfold.example"

[post.smtp]
host = "127.0.0.1"
port = {port}
security = "none"
"#
    )
}

fn row(batch: &str) -> String {
    format!(
        "{batch},N,maple field T-graft,150,{}\n",
        today() - Days::new(16)
    )
}

/// Hours of 14 to 26 °C, and each day a little unlike the one before.
fn mild(at: DateTime<Utc>) -> f64 {
    let hour = f64::from(at.hour());
    let unlike = (at.timestamp() / 86400 % 3 - 1) as f64 * 0.4;
    20.0 + unlike - 6.0 * (hour * std::f64::consts::TAU / 24.0).cos()
}

async fn mild_weather() -> WeatherServer {
    WeatherServer::start(Utc::now(), |at| Some(mild(at))).await
}

/// Rounds at the time of day that it is so long after now. The first round of all is walked at once.
fn daily(from_now: TimeDelta) -> String {
    let at = (Utc::now() + from_now).with_timezone(&chrono_tz::Europe::Brussels);
    at.format("%-S %-M %-H * * *").to_string()
}

/// Not while a test runs, nor in the hour of the night in which clocks are changed: that is warned of.
fn far() -> String {
    let now = Utc::now().with_timezone(&chrono_tz::Europe::Brussels);
    daily(TimeDelta::hours(if now.hour() == 14 { 10 } else { 12 }))
}

/// The config with rounds at other times.
fn with_rounds(config: &str, at: &str) -> String {
    let line = |line: &str| match line.strip_prefix("at = ") {
        Some(_) => format!("at = [\"{at}\"]\n"),
        None => format!("{line}\n"),
    };
    config.lines().map(line).collect()
}

/// How often a log says this.
fn said(log: &[Value], message: &str) -> usize {
    let same = |entry: &&Value| entry["fields"]["message"] == message;
    log.iter().filter(same).count()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_letter_arrives_while_the_service_manager_is_kept_informed() {
    let farm = Farm::new(&far(), mild_weather().await);
    let mut service = Service::start(&farm.nursery, Duration::from_secs(2));
    service.tells("READY=1");
    service.tells("STATUS=at work on a round");
    service.tells("STATUS=waiting for the next round");
    for _ in 0..5 {
        service.tells("WATCHDOG=1");
    }
    let letter = service.logs("letter");
    assert_eq!(letter["fields"]["recipient"], "maren@alderfold.example");
    let done = service.logs("round done");
    assert_eq!(
        (&done["fields"]["notices"], &done["fields"]["waiting"]),
        (&1.into(), &0.into()),
        "{done}"
    );
    let log = service.stops();
    assert!(log.iter().all(|entry| entry["level"] == "INFO"), "{log:#?}");

    let mails = farm.mail.mails();
    assert_eq!(mails.len(), 1);
    assert_eq!(mails[0].to, "maren@alderfold.example");
    let text = crate::program::unfolded(std::str::from_utf8(&mails[0].bytes).unwrap());
    assert!(
        text.contains("Subject: Block N: look for callus lines now (1 batch, 150 grafts)\n"),
        "{text}"
    );
    let plain = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        plain.contains("Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0"),
        "{text}"
    );
    assert!(!farm.weather.requests().await.is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_frozen_round_starves_the_watchdog_and_still_stops_when_asked() {
    let watchdog = Duration::from_millis(500);
    let hanging = ResponseTemplate::new(200).set_delay(Duration::from_secs(600));
    let farm = Farm::new(&far(), WeatherServer::saying(hanging).await);
    let mut service = Service::start(&farm.nursery, watchdog);
    service.tells("STATUS=at work on a round");
    let end = Instant::now() + PATIENCE;
    // Well-fed it would be fed every quarter of that time; four times that time without a word is starving.
    while let Some(message) = service.heard(4 * watchdog) {
        assert!(message.contains("WATCHDOG=1"), "{message}");
        assert!(Instant::now() < end, "still fed");
    }
    assert_eq!(service.child.try_wait().unwrap(), None, "it runs");
    service.stops();
}

/// N1 is to be looked at, N2 soon over-callused, and both are known from a file.
#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_wait_is_told_before_a_service_that_hangs_is_waited_for() {
    let hanging = ResponseTemplate::new(200).set_delay(Duration::from_secs(600));
    let farm = Farm::new(&far(), WeatherServer::saying(hanging).await);
    let file = "[[site.weather]]\nsource = \"file\"\npath = \"temps.csv\"\n\n[[site.weather]]";
    let config = farm.nursery.read("graftwarden.toml");
    farm.nursery.write(
        "graftwarden.toml",
        config.replacen("[[site.weather]]", file, 1),
    );
    let mut days = String::from("date,tmin_c,tmax_c\n");
    for ago in (1..70_u32).rev() {
        let unlike = f64::from(ago % 3) * 0.4;
        let _ = writeln!(
            days,
            "{},{},{}",
            today() - Days::new(ago.into()),
            13.6 + unlike,
            25.6 + unlike
        );
    }
    farm.nursery.write("temps.csv", &days);
    let grafted = today() - Days::new(26);
    let pressing = format!("N2,N,maple field T-graft,150,{grafted}\n");
    farm.nursery.append("batches.csv", &pressing);

    let service = Service::start(&farm.nursery, Duration::from_secs(10));
    farm.mail.wait_for_mails(1);
    service.tells("STATUS=at work on a round");
    let log = service.stops();
    assert_eq!(said(&log, "round done"), 0, "{log:#?}");
    let told = farm
        .nursery
        .memory("SELECT kind || ' ' || subject FROM notice ORDER BY id");
    assert_eq!(told, ["over-callus-risk N2"]);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_bad_config_is_refused_and_a_good_one_taken_without_a_stop() {
    let farm = Farm::new(&far(), mild_weather().await);
    let mut service = Service::start(&farm.nursery, Duration::from_secs(10));
    service.logs("round done");
    let good = farm.nursery.read("graftwarden.toml");
    let soon = || daily(TimeDelta::seconds(2));

    let bad = good.replace("Europe/Brussels", "Europe/Nowhere");
    farm.nursery
        .write("graftwarden.toml", with_rounds(&bad, &soon()));
    service.signal("HUP");
    let refused = service.logs("the new config cannot be used, the old one stays in force");
    assert_eq!(refused["level"], "ERROR");
    let why = refused["fields"]["message"].as_str().unwrap();
    assert!(why.contains("'Europe/Nowhere' is not a time zone"), "{why}");

    // With one more person, one more batch, and a round in a moment: the first that is walked since the start.
    farm.nursery.append("batches.csv", &row("N2"));
    let jory =
        "[[people]]\nname = \"Jory Penhale\"\nemail = \"jory@alderfold.example\"\n\n[post]\n";
    let good = good.replace("[post]\n", jory);
    farm.nursery
        .write("graftwarden.toml", with_rounds(&good, &soon()));
    service.signal("HUP");
    service.logs("the config was read again");
    let mut told = service.logs("letter");
    while told["fields"]["recipient"] != "jory@alderfold.example" {
        told = service.logs("letter");
    }
    assert_eq!(
        told["fields"]["subject"],
        "Block N: look for callus lines now (1 batch, 150 grafts)"
    );
    service.logs("round done");
    let log = service.stops();
    assert_eq!(said(&log, "round done"), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn there_is_only_one_at_a_time() {
    let farm = Farm::new(&far(), mild_weather().await);
    let mut service = Service::start(&farm.nursery, Duration::from_secs(10));
    service.logs("round done");
    assert_snapshot!(farm.nursery.run("watch"), @r"
    -- error --
    another graftwarden is at work on state; stop it first, or wait for its round to end
    -- exit 75 --
    ");
    assert_snapshot!(farm.nursery.run("round"), @r"
    -- error --
    another graftwarden is at work on state; stop it first, or wait for its round to end
    -- exit 75 --
    ");
    // What only looks, and what is only noted, is welcome.
    assert_eq!(farm.nursery.run("due").code, 0);
    assert_eq!(
        farm.nursery.run("note N1 lines").well(),
        format!("written down: N1 lines on {}\n", today())
    );
    service.stops();
    assert_eq!(farm.nursery.run("round").code, 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn after_a_gap_one_round_makes_up_for_all() {
    let now = Utc::now();
    let farm = Farm::new(&far(), mild_weather().await);
    let past = (now - TimeDelta::days(3)).to_rfc3339_opts(chrono::SecondsFormat::Secs, true);
    farm.nursery.round(&past).well();
    // On a working day that round had something to say itself.
    let before = farm.mail.mails().len();
    let mut service = Service::start(&farm.nursery, Duration::from_secs(10));
    let missed = service.logs("rounds were missed; one round makes up for them");
    assert_eq!(missed["fields"]["missed"], 2);
    service.logs("round done");
    let log = service.stops();
    assert_eq!(said(&log, "round done"), 1);
    assert_eq!(farm.mail.mails().len() - before, 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn killed_while_it_mails_it_takes_up_where_it_was() {
    let farm = Farm::new(&far(), mild_weather().await);
    farm.mail.script(&[Mode::SilentOnceTaken]);
    let mut service = Service::start(&farm.nursery, Duration::from_secs(10));
    farm.mail.wait_for(Stage::Taken);
    service.child.kill().unwrap();
    service.child.wait().unwrap();

    let service = Service::start(&farm.nursery, Duration::from_secs(10));
    farm.mail.wait_for_mails(2);
    let log = service.stops();
    assert_eq!(said(&log, "round done"), 0, "it was settled before");
    assert_eq!(said(&log, "letter"), 0, "it stands in the log already");
    let mails = farm.mail.mails();
    assert_eq!(
        mails[0], mails[1],
        "the one whose answer was lost, the same to the byte"
    );
    assert_eq!(mails.len(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_is_taken_between_the_rounds() {
    let farm = Farm::new(&far(), mild_weather().await);
    for folder in ["mail/new", "mail/cur", "mail/tmp"] {
        std::fs::create_dir_all(farm.nursery.path(folder)).unwrap();
    }
    farm.nursery.append(
        "graftwarden.toml",
        "\n[answers]\naddress = \"answers@alderfold.example\"\nmaildir = \"mail\"\n",
    );
    let mut service = Service::start(&farm.nursery, Duration::from_secs(10));
    service.logs("round done");
    farm.mail.wait_for_mails(1);
    let asked = farm.weather.requests().await.len();
    let letter =
        crate::program::unfolded(std::str::from_utf8(&farm.mail.mails()[0].bytes).unwrap());
    let to = letter
        .lines()
        .find_map(|line| line.strip_prefix("Reply-To: "));
    let mail = format!(
        "From: maren@alderfold.example\r\nTo: {}\r\nMessage-ID: <1@phone.example>\r\n\r\nN1 looked\r\n",
        to.unwrap()
    );
    farm.nursery.write("mail/new/1", mail);
    // A reload looks at once and does not wait for the next two minutes.
    service.signal("HUP");
    service.logs("the config was read again");
    let done = service.logs("round done");
    assert_eq!(
        (&done["fields"]["letters"], &done["fields"]["problems"]),
        (&1.into(), &0.into()),
        "{done}"
    );
    farm.mail.wait_for_mails(2);
    service.stops();
    assert_eq!(
        farm.weather.requests().await.len(),
        asked,
        "no service was asked"
    );
    let receipt =
        crate::program::unfolded(std::str::from_utf8(&farm.mail.mails()[1].bytes).unwrap());
    assert!(
        receipt.contains("Subject: Written down: N1 looked"),
        "{receipt}"
    );
    assert!(
        farm.nursery
            .read("state/accepted.csv")
            .contains(",N1,looked,,Maren Holt,")
    );
    assert!(farm.nursery.path("mail/cur/1:2,S").exists());
}
