//! What a round has to say of the program itself, and what it leaves for whoever looks at it from outside.
//!
//! Trouble that stops letters is told by whatever way is left: its notice is urgent, so that the hook takes it in any case.
//! One person gets a weekly word even where nobody asked for it, so that silence always means something.

use super::diary::Diary;
use super::incoming::Incoming;
use super::signoff;
use crate::care::BatchCare;
use crate::condition::{CONFIG_REFUSED, NO_REGISTER, OPEN_SITES};
use crate::config::Config;
use crate::notices::{Kind, Notice};
use crate::nursery::{Gets, Person};
use crate::problem::Problem;
use crate::store::{Memory, StoreError};
use chrono::{DateTime, Days, NaiveDate, SecondsFormat, TimeDelta, Utc};
use std::borrow::Cow;
use std::collections::BTreeSet;

/// So long no mail may get out before it is told by other ways.
const NO_MAIL_FOR: TimeDelta = TimeDelta::days(2);
/// How the key of that trouble begins.
const NO_MAIL: &str = "no mail gets out";
/// The name of the carrier that mails.
const MAIL: &str = "smtp";
/// So long nobody may have heard anything; a little less than a week, as rounds are walked when they can.
const SILENCE: TimeDelta = TimeDelta::hours(6 * 24 + 12);
/// The program has been at work for so long before silence means anything.
const AT_WORK: Days = Days::new(6);

/// Trouble with the program itself, each kept under the key by which it is told once.
pub(super) fn troubles(
    memory: &Memory<'_>,
    config: &Config,
    now: DateTime<Utc>,
) -> Result<Vec<Problem>, StoreError> {
    let mut problems = signoff::trouble(memory, &config.alive, now)?;
    if let Some(answer) = memory.takes_nothing_since(MAIL, now - NO_MAIL_FOR)? {
        let last = memory.last_sent(MAIL)?;
        let since = last.map_or_else(
            || "ever".into(),
            |at| at.to_rfc3339_opts(SecondsFormat::Secs, true),
        );
        let problem = Problem::new(
            "mail",
            format!("no letter has got out for two days: {answer}"),
            "they wait and are tried again",
            "look at the mail server; `graftwarden check --online` says what it answers",
        );
        problems.push(problem.keyed(format!("{NO_MAIL}, last {since}")));
    }
    let refused = memory.fact(CONFIG_REFUSED)?.filter(|why| !why.is_empty());
    if let Some(why) = refused {
        problems.push(Problem::new(
            config.path.display().to_string(),
            why,
            "the service goes on by the old one until it is restarted, and would not start by this one",
            "run `graftwarden check` and mend what it names, then `systemctl reload graftwarden`",
        ));
    }
    Ok(problems)
}

/// What cannot be told by mail must go by the hook, also where that takes only what is urgent.
pub(super) fn press(notices: &mut [Notice]) {
    for notice in notices {
        let no_mail = notice.kind == Kind::Trouble && notice.anchor.starts_with(NO_MAIL);
        notice.urgent |= no_mail;
    }
}

/// The people as this round tells them: where nobody asked for the weekly letter and nobody has heard anything for a week,
/// one of them gets it all the same.
pub(super) fn listeners<'c>(
    memory: &Memory<'_>,
    config: &'c Config,
    now: DateTime<Utc>,
    today: NaiveDate,
    diary: &Diary,
) -> Result<Cow<'c, [Person]>, StoreError> {
    let people = &config.people;
    let of = |news| people.iter().position(|person| person.gets.contains(&news));
    let first = diary.first_round();
    let at_work = first.is_some_and(|first| first <= today - AT_WORK);
    if people.is_empty() || of(Gets::Weekly).is_some() || !at_work {
        return Ok(Cow::Borrowed(people));
    }
    if memory
        .last_letter()?
        .is_some_and(|last| now - last < SILENCE)
    {
        return Ok(Cow::Borrowed(people));
    }
    let mut people = people.clone();
    people[of(Gets::Trouble).unwrap_or_default()]
        .gets
        .push(Gets::Weekly);
    Ok(Cow::Owned(people))
}

/// Leaves for whoever looks where there is work to come, and whether the register could be read.
pub(super) fn leave(
    memory: &Memory<'_>,
    incoming: &Incoming,
    cares: &[BatchCare<'_>],
) -> Result<(), StoreError> {
    let open = cares.iter().filter(|care| care.is_open());
    let open: BTreeSet<&str> = open.map(|care| care.batch.site.as_str()).collect();
    let open: Vec<&str> = open.into_iter().collect();
    let unread = incoming
        .batches
        .as_ref()
        .filter(|came| came.told.unreadable);
    let why = unread.and_then(|came| came.told.problems.first());
    for (name, now) in [
        (OPEN_SITES, open.join("\n")),
        (
            NO_REGISTER,
            why.map_or_else(String::new, ToString::to_string),
        ),
    ] {
        if memory.fact(name)?.unwrap_or_default() != now {
            memory.remember(name, &now)?;
        }
    }
    Ok(())
}
