//! The ways in and out that fail by plan: a sky that is silent, and a postman who notes down what he has handed over.

use super::faults::Fault;
use chrono::{DateTime, Days, NaiveDate, Utc};
use graftwarden::days::{Origin, RawDay};
use graftwarden::post::{self, Carrier, Outcome, Parcel};
use graftwarden::problem::Problem;
use graftwarden::weather::{self, Ask, Fetched, Source};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, MutexGuard};

/// What was handed over to whom.
#[derive(Debug, Default)]
pub struct Mailed {
    /// How often each letter reached its person, by Message-ID.
    pub copies: BTreeMap<String, u32>,
    /// How often the program could not know that it did.
    pub unheard: BTreeMap<String, u32>,
    /// What was handed over, in its order.
    pub letters: Vec<Handed>,
    /// Those that a greylisting server has seen before.
    seen: BTreeSet<String>,
}

/// A letter that was handed over.
#[derive(Clone, Debug)]
pub struct Handed {
    pub to: String,
    /// Its Message-ID.
    pub id: String,
    /// Whether it says that it may say something once more.
    pub marked: bool,
}

impl Handed {
    fn new(parcel: &Parcel) -> Self {
        let mail = mail_parser::MessageParser::default().parse(&parcel.bytes);
        let text = mail.as_ref().and_then(|mail| mail.body_text(0)).unwrap();
        let words: Vec<&str> = text.split_whitespace().collect();
        Self {
            to: parcel.recipient.clone(),
            id: parcel.message_id.clone(),
            marked: words.join(" ").contains("may stand here once more"),
        }
    }
}

/// Shared by all that stands in for the world.
#[derive(Clone, Default)]
pub struct World {
    faults: Arc<Mutex<Vec<Fault>>>,
    mailed: Arc<Mutex<Mailed>>,
}

impl World {
    pub fn set(&self, faults: Vec<Fault>) {
        *self.faults.lock().unwrap() = faults;
    }

    fn has(&self, fault: Fault) -> bool {
        self.faults.lock().unwrap().contains(&fault)
    }

    pub fn mailed(&self) -> MutexGuard<'_, Mailed> {
        self.mailed.lock().unwrap()
    }
}

/// A service that knows the days that are over, and the next five as they will be.
pub struct Sky {
    pub world: World,
    pub days: Arc<Vec<RawDay>>,
    pub zone: chrono_tz::Tz,
}

impl Sky {
    fn seen(&self, from: NaiveDate, now: DateTime<Utc>) -> Vec<RawDay> {
        let today = now.with_timezone(&self.zone).date_naive();
        let known = |day: &&RawDay| day.date >= from && day.date < today + Days::new(5);
        let as_it_stood = |day: &RawDay| RawDay {
            origin: if day.date < today {
                Origin::Measured
            } else {
                Origin::Forecast
            },
            ..*day
        };
        self.days.iter().filter(known).map(as_it_stood).collect()
    }
}

impl Source for Sky {
    fn name(&self) -> &'static str {
        "file"
    }

    fn fetch(&self, ask: Ask) -> weather::Pending<'_, Fetched> {
        Box::pin(async move {
            tokio::task::yield_now().await;
            if self.world.has(Fault::NoWeather) {
                let silent = Problem::new("the sky", "no answer", "nothing came of it", "wait");
                return Fetched {
                    problems: vec![silent],
                    passing: true,
                    ..Fetched::default()
                };
            }
            Fetched {
                days: self.seen(ask.from, ask.now),
                answered: true,
                ..Fetched::default()
            }
        })
    }
}

/// A mail server, which may be killed on as well: what it has taken stays taken.
pub struct Postman {
    pub world: World,
}

impl Carrier for Postman {
    fn name(&self) -> &'static str {
        "smtp"
    }

    fn carry<'a>(&'a self, parcel: &'a Parcel) -> post::Pending<'a, Outcome> {
        Box::pin(async move {
            let later = |why: &str| Outcome::Later { why: why.into() };
            tokio::task::yield_now().await;
            if self.world.has(Fault::NoMail) {
                let why = "no answer".into();
                return Outcome::Away { why, rest: None };
            }
            let id = &parcel.message_id;
            if self.world.has(Fault::Greylisted) && self.world.mailed().seen.insert(id.clone()) {
                return later("come back later");
            }
            {
                let mut mailed = self.world.mailed();
                *mailed.copies.entry(id.clone()).or_default() += 1;
                *mailed.unheard.entry(id.clone()).or_default() += 1;
                mailed.letters.push(Handed::new(parcel));
            }
            // Killed here, the program never hears that the letter arrived.
            tokio::task::yield_now().await;
            if self.world.has(Fault::Unheard) {
                return later("the connection ended before the server's word");
            }
            *self.world.mailed().unheard.entry(id.clone()).or_default() -= 1;
            Outcome::Delivered
        })
    }
}
