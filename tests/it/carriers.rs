//! Carriers side by side, played by carriers that do as a test says: one that fails never delays another, and one that
//! is away holds up a round once.

use crate::program::demo;
use chrono::{DateTime, FixedOffset, TimeDelta, Utc};
use graftwarden::assemble::{Foresight, House};
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::post::{Carrier, Outcome, Parcel, Pending};
use graftwarden::rehearsal::house;
use graftwarden::round::send;
use graftwarden::store::NewLetter;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tempfile::TempDir;
use tokio::sync::Notify;

/// One try of a carrier.
enum Act {
    Says(Outcome),
    /// Takes the letter, but not before it is called.
    Waits(Arc<Notify>),
    /// Takes the letter and calls.
    Calls(Arc<Notify>),
}

/// Does as it is told, letter by letter, and then takes everything.
struct Scripted {
    name: &'static str,
    acts: Mutex<VecDeque<Act>>,
    tried: Arc<Mutex<Vec<String>>>,
}

impl Scripted {
    async fn act(&self, parcel: &Parcel) -> Outcome {
        let tried = format!("{} {}", self.name, parcel.subject);
        self.tried.lock().unwrap().push(tried);
        let act = self.acts.lock().unwrap().pop_front();
        match act {
            Some(Act::Says(outcome)) => return outcome,
            Some(Act::Waits(bell)) => bell.notified().await,
            Some(Act::Calls(bell)) => bell.notify_one(),
            None => {}
        }
        Outcome::Delivered
    }
}

impl Carrier for Scripted {
    fn name(&self) -> &'static str {
        self.name
    }

    fn carry<'a>(&'a self, parcel: &'a Parcel) -> Pending<'a, Outcome> {
        Box::pin(self.act(parcel))
    }
}

/// A house whose carriers are scripted, with so many letters for each of them: "1", "2" and so on.
struct Desk {
    house: House,
    clock: Arc<ManualClock>,
    tried: Arc<Mutex<Vec<String>>>,
    _folder: TempDir,
}

fn start() -> DateTime<Utc> {
    "2026-07-20T06:10:00Z".parse().unwrap()
}

fn away(rest: Option<TimeDelta>) -> Act {
    Act::Says(Outcome::Away {
        why: "no answer".into(),
        rest,
    })
}

impl Desk {
    fn new(letters: u32, carriers: Vec<(&'static str, Vec<Act>)>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let config = Config::load(&demo().join("graftwarden.toml")).unwrap();
        let (mut house, clock) = house(config, folder.path(), Foresight::None).unwrap();
        clock.set(start());
        let tried = Arc::default();
        house.carriers = Vec::new();
        for (name, acts) in carriers {
            house.carriers.push(Box::new(Scripted {
                name,
                acts: Mutex::new(acts.into()),
                tried: Arc::clone(&tried),
            }));
        }
        let names = house.carrier_names();
        for number in 1..=letters {
            let letter = NewLetter {
                thread: Vec::new(),
                message_id: format!("{number}@alderfold.example"),
                recipient: "maren@alderfold.example".into(),
                subject: number.to_string(),
                dated: DateTime::<FixedOffset>::from(start()),
                bytes: Vec::new(),
                own: Vec::new(),
                notices: Vec::new(),
                urgent: false,
                asked: Vec::new(),
            };
            let posted = house.with_store(|memory| memory.post(&letter, &names, start()));
            posted.unwrap();
        }
        Self {
            house,
            clock,
            tried,
            _folder: folder,
        }
    }

    /// Sends so many seconds after the start; what was tried.
    async fn send(&self, seconds: i64) -> Vec<String> {
        self.clock.set(start() + TimeDelta::seconds(seconds));
        let sent = tokio::time::timeout(Duration::from_secs(3600), send(&self.house)).await;
        sent.expect("one carrier waits for another").unwrap();
        std::mem::take(&mut *self.tried.lock().unwrap())
    }

    /// What waits and when it is tried again, in seconds from the start: "smtp 1, 1 tries, 60".
    fn waiting(&self) -> Vec<String> {
        let within = |seconds: i64| {
            let at = start() + TimeDelta::seconds(seconds);
            self.house.with_store(|memory| memory.waiting(at)).unwrap()
        };
        let all = within(1_000_000);
        let due = |letter, carrier: &str| {
            let there = |s: &i64| {
                let rows = within(*s);
                rows.iter()
                    .any(|r| r.letter == letter && r.carrier == carrier)
            };
            (0..100_000).find(there).unwrap()
        };
        let row = |r: &graftwarden::store::OutboxRow| {
            let seconds = due(r.letter, &r.carrier);
            format!(
                "{} {}, tries {}, at {seconds}",
                r.carrier, r.subject, r.tries
            )
        };
        all.iter().map(row).collect()
    }
}

#[tokio::test(start_paused = true)]
async fn one_that_hangs_holds_up_no_other() {
    let bell = Arc::new(Notify::new());
    // The first of one answers only once the other has had its last.
    let slow = vec![Act::Waits(bell.clone())];
    let quick = vec![Act::Says(Outcome::Delivered), Act::Calls(bell)];
    let desk = Desk::new(2, vec![("folder", slow), ("smtp", quick)]);
    let tried = ["folder 1", "smtp 1", "smtp 2", "folder 2"];
    assert_eq!(desk.send(0).await, tried);
    assert_eq!(desk.waiting(), [""; 0]);
}

#[tokio::test(start_paused = true)]
async fn one_that_is_away_is_tried_once_and_its_other_letters_wait_with_it() {
    let desk = Desk::new(3, vec![("folder", vec![]), ("smtp", vec![away(None)])]);
    let mut tried = desk.send(0).await;
    tried.sort();
    assert_eq!(tried, ["folder 1", "folder 2", "folder 3", "smtp 1"]);
    let waiting = [
        "smtp 2, tries 1, at 60",
        "smtp 3, tries 1, at 60",
        "smtp 1, tries 1, at 61",
    ];
    assert_eq!(desk.waiting(), waiting);
    assert_eq!(desk.send(59).await, [""; 0]);
    assert_eq!(desk.send(61).await, ["smtp 2", "smtp 3", "smtp 1"]);
    assert_eq!(desk.waiting(), [""; 0]);
}

#[tokio::test(start_paused = true)]
async fn a_letter_that_shuts_its_carrier_each_time_does_not_shut_out_the_others() {
    let acts = vec![away(None), Act::Says(Outcome::Delivered), away(None)];
    let desk = Desk::new(2, vec![("hook", acts)]);
    assert_eq!(desk.send(0).await, ["hook 1"]);
    assert_eq!(desk.send(61).await, ["hook 2", "hook 1"]);
    assert_eq!(desk.waiting(), ["hook 1, tries 2, at 362"]);
}

#[tokio::test(start_paused = true)]
async fn a_letter_that_waits_by_itself_holds_up_no_other() {
    let later = Outcome::Later {
        why: "mailbox busy".into(),
    };
    let desk = Desk::new(2, vec![("smtp", vec![Act::Says(later)])]);
    assert_eq!(desk.send(0).await, ["smtp 1", "smtp 2"]);
    assert_eq!(desk.waiting(), ["smtp 1, tries 1, at 60"]);
}

#[tokio::test(start_paused = true)]
async fn who_asks_to_be_left_alone_is_left_alone() {
    let rest = TimeDelta::seconds(600);
    let desk = Desk::new(2, vec![("hook", vec![away(Some(rest))])]);
    assert_eq!(desk.send(0).await, ["hook 1"]);
    let waiting = ["hook 2, tries 1, at 600", "hook 1, tries 1, at 601"];
    assert_eq!(desk.waiting(), waiting);
}

#[tokio::test(start_paused = true)]
async fn who_is_away_for_five_days_gets_none_of_its_letters() {
    let always = (0..200).map(|_| away(None)).collect();
    let desk = Desk::new(2, vec![("smtp", always)]);
    let mut seconds = 0;
    let mut tries = 0;
    while !desk.waiting_is_empty() && tries < 200 {
        tries += 1;
        assert_eq!(desk.send(seconds).await.len(), 1);
        seconds += 2 * 3600;
    }
    assert_eq!(tries, 124);
    let ever = chrono::DateTime::UNIX_EPOCH;
    let undelivered = desk.house.with_store(|memory| memory.undelivered(ever));
    let told: Vec<(String, String)> = undelivered
        .unwrap()
        .into_iter()
        .map(|(_, subject, _, why)| (subject, why))
        .collect();
    assert_eq!(
        told,
        ["1", "2"].map(|subject| (subject.to_owned(), "no answer".to_owned()))
    );
}

#[tokio::test(start_paused = true)]
async fn letters_for_a_carrier_that_is_gone_are_no_burden_to_the_others() {
    let mut desk = Desk::new(1, vec![("hook", vec![]), ("smtp", vec![])]);
    desk.house.carriers.remove(0);
    assert_eq!(desk.send(0).await, ["smtp 1"]);
    assert_eq!(desk.waiting(), ["hook 1, tries 1, at 60"]);
}

impl Desk {
    fn waiting_is_empty(&self) -> bool {
        let depth = self.house.with_store(|memory| memory.depth());
        depth.unwrap() == 0
    }
}

/// The mail server is down while a thousand letters wait: each try is one connection, and when it is back all go out, in
/// order, within one round.
#[tokio::test(start_paused = true)]
async fn a_thousand_letters_wait_for_a_server_that_is_down_and_go_out_when_it_is_back() {
    const MANY: u32 = 1000;
    let down = [0; 4].map(|_| away(None)).into();
    let desk = Desk::new(MANY, vec![("smtp", down)]);
    assert_eq!(desk.send(0).await, ["smtp 1"]);
    // After a minute; the first stands behind by a second, and is tried alone.
    assert_eq!(desk.send(60).await, ["smtp 2"]);
    assert_eq!(desk.send(359).await, ["smtp 1"]);
    // After five more, and a quarter of an hour more.
    assert_eq!(desk.send(361).await, ["smtp 3"]);
    let all_due = 361 + 15 * 60 + 1;
    let at = start() + TimeDelta::seconds(all_due);
    let waiting = desk.house.with_store(|memory| memory.waiting(at)).unwrap();
    let tries: Vec<u32> = waiting.iter().map(|row| row.tries).collect();
    let mut expected = [3; MANY as usize];
    expected[0] = 2;
    assert_eq!(tries, expected);
    let mut went = desk.send(all_due).await;
    assert_eq!(went.len(), 1000);
    assert!(desk.send(1_000_000).await.is_empty());
    went.sort();
    went.dedup();
    assert_eq!(went.len(), 1000);
}
