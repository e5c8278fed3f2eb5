//! Fetching answers, and marking them as read once they are taken.
//!
//! A mailbox that cannot be read holds up nothing: it is tried again, and told once it has been so for an hour. Decides
//! nothing about what mails say.

use crate::assemble::House;
use crate::problem::Problem;
use crate::replies::Arrived;
use crate::store::{Memory, StoreError};
use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};

/// A single hiccup is not told.
const TOLD_AFTER: TimeDelta = TimeDelta::hours(1);

/// The name under which it is remembered since when the mailbox cannot be read; empty while it can.
const FAILING: &str = "mailbox fails since";

/// What lay in the mailbox.
#[derive(Debug, Default)]
pub struct Answers {
    /// Mails that were never taken before, the oldest first.
    pub mails: Vec<Arrived>,
    /// What could not be read of single mails.
    pub problems: Vec<Problem>,
    /// Why the mailbox could not be read at all.
    pub failed: Option<Problem>,
}

/// Looks into the mailbox. What was taken before and not marked as read is marked now.
pub async fn gather(house: &House) -> Answers {
    let Some(mailbox) = &house.mailbox else {
        return Answers::default();
    };
    let looked = mailbox.look().await;
    house.health.progress();
    let now = house.clock.now();
    let failed = looked.as_ref().err();
    if let Err(error) = house.with_store(|memory| remember(memory, failed, now)) {
        tracing::error!("{error}");
    }
    let bag = match looked {
        Ok(bag) => bag,
        Err(problem) => {
            tracing::warn!("{problem}");
            return Answers {
                failed: Some(problem),
                ..Answers::default()
            };
        }
    };
    let mut answers = Answers {
        problems: bag.problems,
        ..Answers::default()
    };
    let mut known = Vec::new();
    for arrived in bag.mails {
        // Where the store cannot say, the round will.
        if house
            .with_store(|memory| memory.knows_mail(&arrived.mail.id))
            .unwrap_or_default()
        {
            known.push(arrived.handle);
        } else {
            answers.mails.push(arrived);
        }
    }
    put_aside(house, &known).await;
    answers
}

/// Marks mails as read; what could not be marked is known when it comes again.
pub async fn put_aside(house: &House, handles: &[String]) {
    if let (Some(mailbox), false) = (&house.mailbox, handles.is_empty())
        && let Err(problem) = mailbox.put_aside(handles.to_vec()).await
    {
        tracing::warn!("{problem}");
    }
}

fn remember(
    memory: &Memory<'_>,
    failed: Option<&Problem>,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    let since = failing_since(memory)?;
    match (failed, since) {
        (Some(_), None) => {
            memory.remember(FAILING, &now.to_rfc3339_opts(SecondsFormat::Secs, true))
        }
        (None, Some(since)) => {
            tracing::info!(%since, "the mailbox can be read again");
            memory.remember(FAILING, "")
        }
        _ => Ok(()),
    }
}

fn failing_since(memory: &Memory<'_>) -> Result<Option<DateTime<Utc>>, StoreError> {
    memory.moment_of(FAILING)
}

/// Since when the mailbox cannot be read, where that is long enough to be told.
pub fn long_failing(
    memory: &Memory<'_>,
    now: DateTime<Utc>,
) -> Result<Option<DateTime<Utc>>, StoreError> {
    Ok(failing_since(memory)?.filter(|&since| now - since >= TOLD_AFTER))
}

/// What is to be told of the mailbox, each failure once.
pub fn told(
    memory: &Memory<'_>,
    answers: &Answers,
    now: DateTime<Utc>,
) -> Result<Vec<Problem>, StoreError> {
    let mut problems = answers.problems.clone();
    if let (Some(problem), Some(since)) = (&answers.failed, long_failing(memory, now)?) {
        let key = format!("{} since {since}", problem.place);
        problems.push(problem.clone().keyed(key));
    }
    Ok(problems)
}
