//! What goes along with letters, over the whole invented season: dates for calendars, threads, each person's own measures,
//! and quiet hours. Rounds are walked without a process; a postman takes the letters and says when they came.

use crate::program::demo;
use chrono::{DateTime, NaiveTime, TimeDelta, Utc};
use graftwarden::assemble::{Foresight, House};
use graftwarden::clock::{Clock, ManualClock};
use graftwarden::config::Config;
use graftwarden::notices::Kind;
use graftwarden::nursery::{Gets, Person, Quiet};
use graftwarden::post::{Carrier, Outcome, Parcel, Pending};
use graftwarden::rehearsal::season;
use graftwarden::round::{Telling, round, send};
use graftwarden::schedule::Schedule;
use graftwarden::units::Units;
use mail_parser::{HeaderValue, Message, MessageParser, MimeHeaders};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::{Arc, Mutex};

const MAREN: &str = "maren@alderfold.example";
const JORY: &str = "jory@alderfold.example";
const ILSE: &str = "ilse@alderfold.example";

/// A try: when, and what.
type Try = (DateTime<Utc>, Parcel);

/// Stands for a mail server.
struct Postman {
    clock: Arc<ManualClock>,
    came: Arc<Mutex<Vec<Try>>>,
    /// Takes nothing before.
    open_from: DateTime<Utc>,
}

impl Carrier for Postman {
    fn name(&self) -> &'static str {
        "smtp"
    }

    fn carry<'a>(&'a self, parcel: &'a Parcel) -> Pending<'a, Outcome> {
        let now = self.clock.now();
        self.came.lock().unwrap().push((now, parcel.clone()));
        let why = String::from("closed");
        Box::pin(std::future::ready(if now < self.open_from {
            Outcome::Later { why }
        } else {
            Outcome::Delivered
        }))
    }
}

/// A season that was played.
struct Played {
    config: Config,
    came: Vec<Try>,
    tellings: Vec<Telling>,
}

/// Plays the season with another config. Between rounds the outbox is worked off whenever something in it is due.
fn play(open_from: &str, change: impl FnOnce(&mut Config)) -> Played {
    let mut config = Config::load(&demo().join("graftwarden.toml")).unwrap();
    change(&mut config);
    let (first, last) = season(&config).unwrap();
    let midnight = |day: chrono::NaiveDate| day.and_time(NaiveTime::MIN).and_utc();
    let slots = config
        .schedule
        .scheduled_between(midnight(first), midnight(last), config.zone);
    let clock = Arc::new(ManualClock::at(slots[0].at));
    let folder = tempfile::tempdir().unwrap();
    let kept = config.clone();
    let mut house =
        House::rehearsed(config, clock.clone(), folder.path(), Foresight::None).unwrap();
    let came = Arc::default();
    house.carriers = vec![Box::new(Postman {
        clock: clock.clone(),
        came: Arc::clone(&came),
        open_from: open_from.parse().unwrap(),
    })];
    let runtime = tokio::runtime::Builder::new_current_thread().build();
    let tellings = runtime.unwrap().block_on(async {
        let mut tellings = Vec::new();
        for (n, slot) in slots.iter().enumerate() {
            clock.set(slot.at);
            tellings.extend(round(&house).await.unwrap().tellings);
            let next_round = slots.get(n + 1).map(|slot| slot.at);
            while let Some(at) = house.with_store(|memory| memory.next_try()).unwrap()
                && next_round.is_none_or(|round| at < round)
            {
                clock.set(at);
                send(&house).await.unwrap();
            }
        }
        tellings
    });
    let came = came.lock().unwrap().clone();
    Played {
        config: kept,
        came,
        tellings,
    }
}

const OPEN: &str = "2000-01-01T00:00:00Z";

impl Played {
    /// The letters to one person in the order in which they came.
    fn to<'p>(&'p self, person: &'p str) -> impl Iterator<Item = &'p Parcel> {
        let letters = self.came.iter().map(|(_, parcel)| parcel);
        letters.filter(move |parcel| parcel.recipient == person)
    }

    /// The notices that a letter carries.
    fn carried<'p>(&'p self, parcel: &'p Parcel) -> impl Iterator<Item = &'p Telling> {
        let letter = (parcel.recipient.clone(), format!("<{}>", parcel.message_id));
        self.tellings
            .iter()
            .filter(move |telling| telling.letters.contains(&letter))
    }

    /// What of each batch a letter names.
    fn names(&self, parcel: &Parcel) -> BTreeSet<(String, String)> {
        let named = self.carried(parcel).filter_map(|telling| {
            let batch = telling.notice.about.batch()?.to_owned();
            // What is told of the limit is told of heading back, which ends it.
            match telling.notice.step.as_deref()? {
                "over-callusing" => Some((batch, "head-back".to_owned())),
                step => Some((batch, step.to_owned())),
            }
        });
        named.collect()
    }

    fn wall(&self, at: DateTime<Utc>) -> String {
        at.with_timezone(&self.config.zone)
            .format("%H:%M")
            .to_string()
    }
}

fn read(parcel: &Parcel) -> Message<'_> {
    MessageParser::default().parse(&parcel.bytes).unwrap()
}

fn ids(header: &HeaderValue<'_>) -> Vec<String> {
    match header {
        HeaderValue::Text(id) => vec![id.to_string()],
        HeaderValue::TextList(ids) => ids.iter().map(ToString::to_string).collect(),
        _ => Vec::new(),
    }
}

fn calendar(parcel: &Parcel) -> Option<String> {
    let message = read(parcel);
    let mut parts = message.attachments();
    let part = parts.find(|part| part.is_content_type("text", "calendar"))?;
    Some(part.text_contents().unwrap().replace("\r\n ", ""))
}

#[test]
fn a_letter_goes_on_from_the_newest_that_named_the_same() {
    let played = play(OPEN, |_| {});
    let (mut begun, mut gone_on, mut longest) = (0, 0, 0);
    for person in [MAREN, JORY, ILSE] {
        let mut before: Vec<&Parcel> = Vec::new();
        let mut chains: HashMap<String, Vec<String>> = HashMap::new();
        for parcel in played.to(person) {
            let (message, names) = (read(parcel), played.names(parcel));
            let thread = ids(message.references());
            assert_eq!(
                ids(message.in_reply_to()),
                thread.last().cloned().into_iter().collect::<Vec<_>>()
            );
            if let Some(parent) = thread.last() {
                gone_on += 1;
                let earlier = before.iter().find(|p| p.message_id == *parent).unwrap();
                assert!(
                    !played.names(earlier).is_disjoint(&names),
                    "{}",
                    parcel.subject
                );
                // The whole way back, or its beginning and its newest nine.
                let mut chain = chains[parent].clone();
                chain.push(parent.clone());
                if chain.len() > 10 {
                    chain = [&chain[..1], &chain[chain.len() - 9..]].concat();
                }
                assert_eq!(thread, chain);
            }
            // Where a letter names one thing only, it is known which it goes on from.
            if let [only] = names.iter().collect::<Vec<_>>()[..] {
                let newest = before.iter().rev().find(|p| played.names(p).contains(only));
                if newest.is_some() || thread.is_empty() {
                    assert_eq!(thread.last(), newest.map(|p| &p.message_id), "{only:?}");
                    begun += usize::from(newest.is_none());
                }
            }
            longest = longest.max(thread.len());
            chains.insert(parcel.message_id.clone(), thread);
            before.push(parcel);
        }
    }
    assert!(
        begun > 2 && gone_on > 20 && longest > 3,
        "{begun} {gone_on} {longest}"
    );
}

#[test]
fn each_person_reads_their_own_measures() {
    let played = play(OPEN, |config| {
        config.people[0].units = Some(Units::Us);
        config.people[1].units = None;
        config.units = Units::Metric;
    });
    let words = |person| {
        let letters: Vec<String> = played
            .to(person)
            .map(|parcel| read(parcel).body_text(0).unwrap().into_owned())
            .collect();
        let with = |word: &str| letters.iter().filter(|text| text.contains(word)).count();
        assert!(letters.len() > 10);
        [with("°F·d") > 10, with("°C·d") > 0]
    };
    assert_eq!(words(MAREN), [true, false]);
    assert_eq!(words(JORY), [false, true]);
}

#[test]
fn dates_go_along_with_what_is_told_of_work() {
    const OFFICE: &str = "office@alderfold.example";
    const WATCH: &str = "watch@alderfold.example";
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("records.csv");
    let kept = std::fs::read_to_string(demo().join("records.csv")).unwrap();
    // On a Wednesday somebody writes down what cannot be.
    let strange = "2026-07-22,Z9,lines,,,\n";
    std::fs::write(&records, format!("{}\n{strange}", kept.trim_end())).unwrap();
    let played = play(OPEN, |config| {
        config.records = records;
        config.people.push(Person {
            gets: vec![Gets::Urgent, Gets::Trouble],
            ..Person::new("Watch", WATCH)
        });
        config.people.push(Person {
            gets: vec![Gets::Weekly, Gets::Trouble],
            ..Person::new("Office", OFFICE)
        });
    });
    let of_trouble =
        |telling: &Telling| matches!(telling.notice.kind, Kind::Trouble | Kind::NoTemperatures);
    let (mut with, mut without) = (0, 0);
    for person in [MAREN, JORY, ILSE, OFFICE] {
        for parcel in played.to(person) {
            let calendar = calendar(parcel);
            if played.carried(parcel).all(of_trouble) {
                assert_eq!(calendar, None, "{}", parcel.subject);
                without += 1;
            }
            let Some(calendar) = calendar else { continue };
            with += 1;
            let titles: Vec<&str> = calendar
                .lines()
                .filter_map(|line| line.strip_prefix("SUMMARY:"))
                .collect();
            assert!(!titles.is_empty());
            let here = |title: &&str| match person {
                ILSE => {
                    title.starts_with("Block D at hill: ") || title.starts_with("Block E at hill: ")
                }
                JORY => title.contains(" at home: "),
                _ => title.starts_with("Block "),
            };
            assert!(titles.iter().all(here), "{person}: {titles:#?}");
        }
    }
    assert!(with > 50 && without > 0, "{with} {without}");
    let letters: Vec<&Parcel> = played.to(WATCH).collect();
    assert!(letters.len() > 4, "{}", letters.len());
    assert!(letters.iter().all(|parcel| calendar(parcel).is_none()));
}

fn night() -> Option<Quiet> {
    let time = |hour, minute| NaiveTime::from_hms_opt(hour, minute, 0).unwrap();
    Quiet::new(time(20, 30), time(5, 30))
}

fn at(cron: &str) -> Schedule {
    let mut schedule = Schedule::default();
    schedule.add(cron).unwrap();
    schedule
}

#[test]
fn letters_of_an_evening_wait_for_the_morning() {
    let played = play(OPEN, |config| {
        config.schedule = at("10 21 * * *");
        for person in &mut config.people {
            person.quiet = night().filter(|_| person.email != ILSE);
            person.urgent_always = person.email == MAREN;
        }
    });
    // To whom, urgent or not, at which hour.
    let mut came: BTreeMap<(&str, bool, String), u32> = BTreeMap::new();
    for (at, parcel) in &played.came {
        let urgent = played.carried(parcel).any(|telling| telling.notice.urgent);
        let hour = played.wall(*at);
        *came.entry((&parcel.recipient, urgent, hour)).or_default() += 1;
    }
    let hours: Vec<(&str, bool, &str)> = came
        .keys()
        .map(|(person, urgent, hour)| (*person, *urgent, hour.as_str()))
        .collect();
    assert_eq!(
        hours,
        [
            (ILSE, false, "21:10"),
            (JORY, false, "05:30"),
            (JORY, true, "05:30"),
            (MAREN, false, "05:30"),
            (MAREN, true, "21:10"),
        ]
    );
    assert!(came.values().all(|&letters| letters > 2), "{came:?}");
    // Nothing is lost, nothing is another letter for having waited.
    let plain = play(OPEN, |config| config.schedule = at("10 21 * * *"));
    let letters = |played: &Played| -> BTreeSet<Vec<u8>> {
        let letters = played.came.iter();
        letters.map(|(_, parcel)| parcel.bytes.clone()).collect()
    };
    assert_eq!(played.came.len(), plain.came.len());
    assert_eq!(letters(&played), letters(&plain));
}

#[test]
fn a_letter_that_is_tried_again_waits_for_the_morning_too() {
    // The mail server is down until the evening of the second letter's day.
    let played = play("2026-07-22T22:00:00Z", |config| {
        config.schedule = at("20 20 * * *");
        config.people.retain(|person| person.email == JORY);
        config.people[0].quiet = night();
    });
    let first = &played.came[0].1.message_id;
    let tries: Vec<DateTime<Utc>> = played
        .came
        .iter()
        .filter(|(_, parcel)| parcel.message_id == *first)
        .map(|(at, _)| *at)
        .collect();
    let walls: Vec<String> = tries.iter().map(|&at| played.wall(at)).collect();
    assert_eq!(walls[..4], ["20:20", "20:21", "20:26", "05:30"]);
    assert_eq!(tries[3] - tries[0], TimeDelta::minutes(9 * 60 + 10));
    // The night was no try: the next comes after the gap of the fourth.
    assert_eq!(walls[4], "06:00");
}
