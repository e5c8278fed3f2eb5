//! One round: fetch, settle, send, and once a day a copy of the memory.
//!
//! Fetching may fail in parts; answers are gathered with it. Settling is one transaction on one blocking thread: write what came in, survey, decide,
//! commit notices, letters and outbox. Sending works off the outbox, which outlives the round. Doing a round again at
//! the same moment adds nothing.

mod again;
mod answers;
mod clock;
mod diary;
mod errands;
mod files;
mod incoming;
mod keeping;
mod mailbag;
mod mailroom;
mod of_itself;
mod outbox;
mod pages;
mod reckoning;
mod settle;
mod signoff;

pub use again::is_to_be_asked_again;
pub use clock::{ask_the_time, clock_doubt, say_clock_is_right};
pub use errands::Whom;
pub use files::{Came, ReadOnce, file_name, names, read_register};
pub use incoming::{Given, Incoming, absorb, fetch, fetch_since};
pub use mailbag::{Answers, gather, long_failing};
pub use outbox::send;
pub use pages::Pages;
pub use settle::{Desk, SourceOf, settle};
pub use signoff::sign_off;

use crate::assemble::House;
use crate::notices::Notice;
use crate::problem::Problem;
use crate::store::StoreError;
use chrono::{DateTime, Utc};

/// A notice and the letters that carry it.
#[derive(Clone, Debug, PartialEq)]
pub struct Telling {
    /// The notice.
    pub notice: Notice,
    /// Address and Message-ID of each letter that carries it.
    pub letters: Vec<(String, String)>,
}

/// A letter that was put into the outbox.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Posted {
    /// The name of the person.
    pub name: String,
    /// The subject line.
    pub subject: String,
}

/// What a round did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outcome {
    /// What was told.
    pub tellings: Vec<Telling>,
    /// The letters that were written.
    pub letters: Vec<Posted>,
    /// Everything that was wrong, told before or not.
    pub problems: Vec<Problem>,
    /// The mails that were taken, as the mailbox knows them.
    pub taken: Vec<String>,
    /// The pages as they stand now, where the config wants them and they are not written yet.
    pub pages: Option<Pages>,
}

/// Walks one round at the clock's present moment.
pub async fn round(house: &House) -> Result<Outcome, StoreError> {
    round_with(house, Whom::Everybody).await
}

/// The same, with the services in it that are to be asked.
pub async fn round_with(house: &House, whom: Whom) -> Result<Outcome, StoreError> {
    let answers = gather(house).await;
    round_of(house, whom, answers).await
}

/// The same, with answers that were gathered before.
pub async fn round_of(house: &House, whom: Whom, answers: Answers) -> Result<Outcome, StoreError> {
    let now = house.clock.now();
    let mut incoming = fetch(house, now, whom).await;
    incoming.answers = answers;
    house.health.progress();
    let mut outcome = settle_on_thread(house, incoming, now).await?;
    house.health.progress();
    mailbag::put_aside(house, &outcome.taken).await;
    if let Some(pages) = outcome.pages.take() {
        pages::keep(house, pages).await?;
    }
    send(house).await?;
    keeping::keep(house).await?;
    Ok(outcome)
}

async fn settle_on_thread(
    house: &House,
    incoming: Incoming,
    now: DateTime<Utc>,
) -> Result<Outcome, StoreError> {
    let (store, config, carriers, sources) = (
        house.store.clone(),
        house.config.clone(),
        house.carrier_names(),
        house.source_list(),
    );
    let settled = tokio::task::spawn_blocking(move || {
        let mut store = store
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        store.settle(|memory| {
            settle(
                memory,
                &config,
                &incoming,
                &Desk {
                    carriers: &carriers,
                    sources: &sources,
                },
                now,
            )
        })
    });
    match settled.await {
        Ok(outcome) => outcome,
        Err(stopped) => std::panic::resume_unwind(stopped.into_panic()),
    }
}
