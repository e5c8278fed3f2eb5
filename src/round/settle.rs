//! Settling: everything between what came in and what goes out, inside one transaction.

use super::diary::Diary;
use super::incoming::{Incoming, absorb};
use super::mailroom::{Envelope, Mailroom};
use super::{Outcome, Posted, Telling, reckoning};
use crate::care::Outlook;
use crate::config::Config;
use crate::letters::{self, ByName, Context, SourceNote};
use crate::notices::{self, Digest, Foretold, Notice, View};
use crate::post::message::Cause;
use crate::problem::Problem;
use crate::store::{Memory, StoreError};
use crate::survey::{When, survey};
use chrono::{DateTime, FixedOffset, NaiveDate, TimeDelta, Utc};
use std::collections::HashSet;

/// What letters need beside the config.
#[derive(Clone, Copy, Debug)]
pub struct Desk<'a> {
    /// The names of the carriers that each letter goes by.
    pub carriers: &'a [&'static str],
    /// Every source of every site, with the credit it asks for.
    pub sources: &'a [SourceOf],
}

/// One source of one site.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceOf {
    /// The site.
    pub site: String,
    /// The name under which its days are stored.
    pub name: String,
    /// The credit it asks for; may be empty.
    pub credit: &'static str,
    /// Whether it is a service.
    pub remote: bool,
}

/// A service that has not answered for longer is said to be silent.
const SILENT: TimeDelta = TimeDelta::hours(24);

/// Everything between what came in and what goes out, inside one transaction.
pub fn settle(
    memory: &Memory<'_>,
    config: &Config,
    incoming: &Incoming,
    desk: &Desk<'_>,
    now: DateTime<Utc>,
) -> Result<Outcome, StoreError> {
    let mut problems = absorb(memory, incoming, now)?;
    problems.extend(undelivered(memory)?);
    let ledger = memory.ledger()?;
    let secret = memory.secret()?;
    let today = now.with_timezone(&config.zone).date_naive();
    let diary = Diary::read(memory, config, now)?;
    let outcome = survey(memory, config, When::Now(now), |survey| {
        problems.extend(survey.problems.iter().cloned());
        problems.extend(reckoning::changes(memory, config, &survey.cares, today)?);
        let outlook = Outlook::new(survey.grounds, survey.past, &survey.cares);
        let view = View {
            now,
            today,
            workdays: &config.workdays,
            grounds: survey.grounds,
            cares: &survey.cares,
            problems: &problems,
            outlook: &outlook,
            people: &config.people,
            diary: diary.view(&[]),
        };
        let foretold = match notices::season_due(&view, &ledger) {
            Some(year) => memory.foretold_in(year)?,
            None => Vec::new(),
        };
        let view = View {
            diary: diary.view(&foretold),
            ..view
        };
        let notices = notices::decide(&view, &ledger);
        let entered = enter(memory, notices, today, now)?;
        foretell(memory, &entered, today)?;
        let context = Context {
            nursery: &config.name,
            today,
            units: config.units,
            workdays: &config.workdays,
            grounds: survey.grounds,
            cares: &survey.cares,
            named: &ByName::new(&survey.cares),
            outlook: &outlook,
            sources: &source_notes(memory, desk, now.with_timezone(&config.zone).fixed_offset())?,
            reply_to: None,
        };
        let mailroom = Mailroom {
            memory,
            config,
            carriers: desk.carriers,
            secret: &secret,
            now,
        };
        write_letters(&mailroom, &context, entered)
    })??;
    memory.round_done(now, today)?;
    Ok(Outcome {
        problems,
        ..outcome
    })
}

/// Remembers the dates that are given in letters of this round.
fn foretell(
    memory: &Memory<'_>,
    entered: &[(i64, Notice)],
    told_on: NaiveDate,
) -> Result<(), StoreError> {
    let digests = entered
        .iter()
        .filter_map(|(_, notice)| notice.digest.as_ref());
    for coming in digests.flat_map(Digest::dates) {
        memory.foretell(&Foretold {
            batch: coming.batch.clone(),
            step: coming.step.clone(),
            grafted_on: coming.grafted_on,
            told_on,
            band: coming.foreseen.band,
        })?;
    }
    Ok(())
}

fn enter(
    memory: &Memory<'_>,
    notices: Vec<Notice>,
    today: NaiveDate,
    now: DateTime<Utc>,
) -> Result<Vec<(i64, Notice)>, StoreError> {
    let mut entered = Vec::with_capacity(notices.len());
    for notice in notices {
        if let Some(id) = memory.enter(&notice, today, now)? {
            entered.push((id, notice));
        }
    }
    Ok(entered)
}

/// One letter for each person who is told something.
fn write_letters(
    mailroom: &Mailroom<'_>,
    context: &Context<'_>,
    entered: Vec<(i64, Notice)>,
) -> Result<Outcome, StoreError> {
    let config = mailroom.config;
    let (ids, notices): (Vec<i64>, Vec<Notice>) = entered.into_iter().unzip();
    let mut outcome = Outcome {
        tellings: notices
            .iter()
            .map(|n| Telling {
                notice: n.clone(),
                letters: Vec::new(),
            })
            .collect(),
        ..Outcome::default()
    };
    let told = letters::addressed(&config.people, &notices, context.named, context.today);
    for (person, theirs) in config.people.iter().zip(told) {
        let keys: Vec<String> = theirs.iter().map(|n| n.key()).collect();
        let message_id = mailroom.message_id(person, &keys);
        let reply_to = mailroom.reply_to(&message_id);
        let context = Context {
            reply_to: reply_to.as_deref(),
            ..*context
        };
        let Some(letter) = letters::compose(&theirs, &context) else {
            continue;
        };
        let within: HashSet<*const Notice> =
            theirs.iter().copied().map(std::ptr::from_ref).collect();
        let carried = |n: &Notice| within.contains(&std::ptr::from_ref(n));
        let numbers = notices
            .iter()
            .zip(&ids)
            .filter(|(n, _)| carried(n))
            .map(|(_, &id)| id)
            .collect();
        let envelope = Envelope {
            message_id: &message_id,
            cause: Cause::Notice,
            thread: &[],
            notices: numbers,
            urgent: theirs.iter().any(|n| n.urgent),
        };
        if let Some(problem) = mailroom.post(person, &letter, &context, envelope)? {
            outcome.problems.push(problem);
            continue;
        }
        for (telling, _) in outcome
            .tellings
            .iter_mut()
            .zip(&notices)
            .filter(|(_, n)| carried(n))
        {
            telling
                .letters
                .push((person.email.clone(), format!("<{message_id}>")));
        }
        outcome.letters.push(Posted {
            name: person.name.clone(),
            subject: letter.subject,
        });
    }
    Ok(outcome)
}

/// What letters have to say of sources: the credit, and how long a service has been silent.
fn source_notes(
    memory: &Memory<'_>,
    desk: &Desk<'_>,
    now: DateTime<FixedOffset>,
) -> Result<Vec<SourceNote>, StoreError> {
    let note = |of: &SourceOf| {
        let answered = if of.remote {
            memory.source(&of.site, &of.name)?.answered_at
        } else {
            None
        };
        let silent = answered.filter(|&at| now.to_utc() - at > SILENT);
        Ok(SourceNote {
            site: of.site.clone(),
            source: of.name.clone(),
            credit: of.credit.to_owned(),
            silent_since: silent.map(|at| at.with_timezone(now.offset()).date_naive()),
        })
    };
    desk.sources.iter().map(note).collect()
}

/// Letters that a carrier refused for good, told once for each address and reason.
fn undelivered(memory: &Memory<'_>) -> Result<Vec<Problem>, StoreError> {
    let mut refused: Vec<Problem> = Vec::new();
    for (recipient, subject, carrier, answer) in memory.undelivered()? {
        let key = format!("{carrier} to {recipient}: {answer}");
        if refused.iter().any(|problem| problem.key == key) {
            continue;
        }
        // The place says to whom; a carrier's answer may begin with it too.
        let addressed = format!("letter to {recipient}: ");
        let problem = Problem::new(
            format!("mail to {recipient}"),
            answer.strip_prefix(&addressed).unwrap_or(&answer),
            format!("the letter '{subject}' is not tried again"),
            "check the address and the mail server, and tell them by another way",
        );
        refused.push(problem.keyed(key));
    }
    Ok(refused)
}
