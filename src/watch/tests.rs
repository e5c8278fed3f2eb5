//! The service's way through time, in a nursery of its own and by a clock set by hand: which rounds it walks.

use super::*;
use crate::clock::ManualClock;
use crate::round::{round, say_clock_is_right};
use chrono::{DateTime, TimeDelta, Utc};
use tempfile::TempDir;

const CONFIG: &str = r#"
[nursery]
name = "Alder Fold Nursery"
zone = "Europe/Brussels"
[[site]]
id = "home"
latitude = 50.8
longitude = 4.4
[[site.weather]]
source = "file"
path = "temps.csv"
"#;

fn at(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

/// A service that is looked at, and everything it did.
struct Played {
    house: House,
    clock: Arc<ManualClock>,
    folder: TempDir,
    did: Vec<String>,
}

impl Played {
    /// From this moment on.
    fn from(now: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(
            folder.path().join("temps.csv"),
            "date,tmin_c,tmax_c\n2020-01-01,1,5\n",
        )
        .unwrap();
        std::fs::write(
            folder.path().join("batches.csv"),
            "batch,block,plan,scion,grafts,grafted_on\n",
        )
        .unwrap();
        let clock = Arc::new(ManualClock::at(at(now)));
        let config = Self::config(&folder, CONFIG);
        let store = Store::open(&config.state).unwrap();
        let (house, problems) = House::live(config, clock.clone(), store);
        assert!(problems.is_empty(), "{problems:?}");
        Self {
            house,
            clock,
            folder,
            did: Vec::new(),
        }
    }

    fn config(folder: &TempDir, text: &str) -> Config {
        let path = folder.path().join("graftwarden.toml");
        std::fs::write(&path, text).unwrap();
        Config::load(&path).unwrap()
    }

    /// The config is changed and read again.
    fn changed(&mut self, from: &str, to: &str) {
        assert!(CONFIG.contains(from));
        self.takes(&CONFIG.replace(from, to));
    }

    /// The service is handed this config, and takes it if it can.
    fn takes(&mut self, text: &str) {
        let path = self.folder.path().join("graftwarden.toml");
        let store = Store::open(&self.house.config.state).unwrap();
        let spare = House::live((*self.house.config).clone(), self.clock.clone(), store).0;
        std::fs::write(&path, text).unwrap();
        self.house = reload(std::mem::replace(&mut self.house, spare), &path);
    }

    /// The clock is set to this, and looked at.
    fn jumps(&mut self, to: &str) {
        self.clock.set(at(to));
        self.looks();
    }

    /// Time goes on, looked at every ten minutes.
    fn goes_on(&mut self, until: &str) {
        while self.clock.now() < at(until) {
            self.clock.advance(TimeDelta::minutes(10));
            self.looks();
        }
    }

    /// What the service does at each look.
    fn looks(&mut self) {
        let local = self.clock.now().with_timezone(&self.house.config.zone);
        if let Some(doubt) = clock_doubt(&self.house).unwrap() {
            let said = format!("refuses: {doubt}");
            if self
                .did
                .last()
                .is_none_or(|last| !last.starts_with("refuses"))
            {
                self.did.push(said);
            }
            return;
        }
        let house = &self.house;
        let due = house.with_store(|memory| slots::due(house, memory, own_minutes(memory)?));
        let Some(slot) = due.unwrap() else {
            return;
        };
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build();
        runtime.unwrap().block_on(round(&self.house)).unwrap();
        slots::done(&self.house, &slot).unwrap();
        self.did
            .push(format!("{} at {}", slot.key(), local.format("%d %H:%M")));
    }

    #[track_caller]
    fn did(&self, expect: &[&str]) {
        assert_eq!(self.did, expect);
    }
}

#[test]
fn a_machine_that_comes_up_in_1970_waits_until_its_clock_is_right() {
    let mut service = Played::from("1970-01-01T00:00:20Z");
    service.looks();
    service.goes_on("1970-01-02T12:00:00Z");
    service.jumps("2026-07-03T03:00:00Z");
    service.goes_on("2026-07-04T05:00:00Z");
    service.did(&[
        "refuses: this machine's clock says 1970-01-01 00:00 GMT, but this program was made in 2025 or later",
        "2026-07-03T05:00 at 03 05:00",
        "2026-07-03T06:10 at 03 06:10",
        "2026-07-04T06:10 at 04 06:10",
    ]);
}

#[test]
fn a_reboot_into_1970_between_two_rounds_loses_and_doubles_none() {
    let mut service = Played::from("2026-07-03T03:00:00Z");
    service.goes_on("2026-07-04T03:00:00Z");
    service.jumps("1970-01-01T00:00:20Z");
    service.goes_on("1970-01-01T06:00:00Z");
    service.jumps("2026-07-04T09:00:00Z");
    service.goes_on("2026-07-05T05:00:00Z");
    service.did(&[
        "2026-07-03T05:10 at 03 05:10",
        "2026-07-03T06:10 at 03 06:10",
        "refuses: this machine's clock says 1970-01-01 00:00 GMT, but this program was made in 2025 or later",
        "2026-07-04T06:10 at 04 11:00",
        "2026-07-05T06:10 at 05 06:10",
    ]);
}

#[test]
fn an_hour_back_neither_skips_nor_doubles() {
    let mut service = Played::from("2026-07-03T03:00:00Z");
    service.goes_on("2026-07-03T04:20:00Z");
    service.jumps("2026-07-03T03:20:00Z");
    service.goes_on("2026-07-04T04:20:00Z");
    service.jumps("2026-07-04T03:20:00Z");
    service.goes_on("2026-07-04T12:00:00Z");
    service.did(&[
        "2026-07-03T05:10 at 03 05:10",
        "2026-07-03T06:10 at 03 06:10",
        "2026-07-04T06:10 at 04 06:10",
    ]);
}

#[test]
fn a_year_forward_walks_nothing_and_writes_nothing() {
    let mut service = Played::from("2026-07-03T03:00:00Z");
    service.goes_on("2026-07-03T05:00:00Z");
    service.jumps("2027-07-03T05:00:00Z");
    service.goes_on("2027-07-05T05:00:00Z");
    service.jumps("2026-07-03T06:00:00Z");
    service.goes_on("2026-07-04T05:00:00Z");
    service.did(&[
        "2026-07-03T05:10 at 03 05:10",
        "2026-07-03T06:10 at 03 06:10",
        "refuses: this machine's clock says 2027-07-03 05:00 GMT, 365 days after it was last known to be right (2026-07-03 04:10 GMT), and nothing shows that so much time has passed",
        "2026-07-04T06:10 at 04 06:10",
    ]);
}

/// A whole winter in the shed: nobody asks a server, so a person has to say it.
#[test]
fn a_persons_word_ends_the_refusal() {
    let mut service = Played::from("2026-11-03T05:00:00Z");
    service.looks();
    service.jumps("2027-03-01T07:00:00Z");
    service.goes_on("2027-03-01T12:00:00Z");
    say_clock_is_right(&service.house.config.state, service.clock.now()).unwrap();
    service.goes_on("2027-03-02T06:00:00Z");
    service.did(&[
        "2026-11-03T06:00 at 03 06:00",
        "refuses: this machine's clock says 2027-03-01 07:00 GMT, 118 days after it was last known to be right (2026-11-03 05:00 GMT), and nothing shows that so much time has passed",
        "2027-03-01T06:10 at 01 13:10",
        "2027-03-02T06:10 at 02 06:10",
    ]);
}

#[test]
fn a_servers_word_ends_it_too_and_a_clock_that_ran_ahead_leaves_nothing_behind() {
    let mut service = Played::from("2026-07-03T03:00:00Z");
    service.goes_on("2026-07-03T05:00:00Z");
    // Ten days ahead cannot be told from ten days without current.
    service.jumps("2026-07-13T05:00:00Z");
    service.jumps("2026-07-03T06:00:00Z");
    service.goes_on("2026-07-03T12:00:00Z");
    service
        .house
        .line
        .heard
        .note(at("2026-07-03T12:00:03Z"), service.clock.now());
    service.goes_on("2026-07-05T05:00:00Z");
    service.did(&[
        "2026-07-03T05:10 at 03 05:10",
        "2026-07-03T06:10 at 03 06:10",
        "2026-07-13T06:10 at 13 07:00",
        "refuses: this machine's clock says 2026-07-03 06:00 GMT, but it was 2026-07-13 05:00 GMT already",
        "2026-07-04T06:10 at 04 06:10",
        "2026-07-05T06:10 at 05 06:10",
    ]);
}

#[test]
fn an_old_word_says_nothing() {
    let mut service = Played::from("2026-07-03T03:00:00Z");
    service.looks();
    say_clock_is_right(&service.house.config.state, service.clock.now()).unwrap();
    service.jumps("2027-07-03T05:00:00Z");
    assert!(service.did[1].starts_with("refuses"), "{:?}", service.did);
}

#[test]
fn both_clock_changes_walk_each_round_once() {
    let night = |start: &str, end: &str| {
        let mut service = Played::from(start);
        service.changed("[[site]]", "[rounds]\nat = [\"30 2 * * *\"]\n[[site]]");
        service.looks();
        service.goes_on(end);
        service.did
    };
    assert_eq!(
        night("2026-03-28T00:00:00Z", "2026-03-30T06:00:00Z"),
        [
            "2026-03-28T01:00 at 28 01:00",
            "2026-03-28T02:30 at 28 02:30",
            "2026-03-29T02:30 at 29 03:00",
            "2026-03-30T02:30 at 30 02:30",
        ]
    );
    assert_eq!(
        night("2026-10-24T00:00:00Z", "2026-10-26T06:00:00Z"),
        [
            "2026-10-24T02:00 at 24 02:00",
            "2026-10-24T02:30 at 24 02:30",
            "2026-10-25T02:30 at 25 02:30",
            "2026-10-26T02:30 at 26 02:30",
        ]
    );
}

#[test]
fn another_zone_skips_and_doubles_no_round() {
    let mut service = Played::from("2026-07-03T03:00:00Z");
    service.goes_on("2026-07-03T05:00:00Z");
    // Ten past six comes again in New York on that day.
    service.changed("Europe/Brussels", "America/New_York");
    service.goes_on("2026-07-04T12:00:00Z");
    service.changed("Europe/Brussels", "Asia/Tokyo");
    service.goes_on("2026-07-06T00:00:00Z");
    service.did(&[
        "2026-07-03T05:10 at 03 05:10",
        "2026-07-03T06:10 at 03 06:10",
        "2026-07-04T06:10 at 04 06:10",
        "2026-07-05T06:10 at 05 06:10",
        "2026-07-06T06:10 at 06 06:10",
    ]);
}

#[test]
fn a_leap_day_has_its_round_and_a_leap_second_is_none() {
    let mut service = Played::from("2028-02-28T03:00:00Z");
    service.goes_on("2028-03-01T06:00:00Z");
    service.did(&[
        "2028-02-28T04:10 at 28 04:10",
        "2028-02-28T06:10 at 28 06:10",
        "2028-02-29T06:10 at 29 06:10",
        "2028-03-01T06:10 at 01 06:10",
    ]);
    let mut service = Played::from("2028-12-31T20:00:00Z");
    service.changed("[[site]]", "[rounds]\nat = [\"0 1 * * *\"]\n[[site]]");
    service.looks();
    // One o'clock in Brussels is midnight in Greenwich, where a second more may be put in.
    service.jumps("2028-12-31T23:59:60Z");
    service.jumps("2029-01-01T00:00:00Z");
    service.jumps("2029-01-01T00:00:00Z");
    service.goes_on("2029-01-01T12:00:00Z");
    service.did(&[
        "2028-12-31T21:00 at 31 21:00",
        "2029-01-01T01:00 at 01 01:00",
    ]);
}

/// A config made bad under the running service is told by the next round, and no more once it is mended.
#[test]
fn a_config_that_was_refused_is_told() {
    let mut service = Played::from("2026-07-03T03:00:00Z");
    let told = |service: &Played| {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build();
        let outcome = runtime.unwrap().block_on(round(&service.house)).unwrap();
        let told = outcome.problems.iter().map(|problem| problem.what.clone());
        told.collect::<Vec<_>>()
    };
    assert_eq!(told(&service), [""; 0]);
    service.takes(&CONFIG.replace("Europe/Brussels", "Europe/Brusels"));
    assert_eq!(
        told(&service),
        ["the changed config cannot be used: error: 'Europe/Brusels' is not a time zone"]
    );
    assert_eq!(service.house.config.zone, chrono_tz::Europe::Brussels);
    service.takes(CONFIG);
    assert_eq!(told(&service), [""; 0]);
}
