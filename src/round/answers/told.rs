//! What is to be told of mails: letters that came back, and mails of strangers.
//!
//! Found anew at each round from what is remembered of the last days; each is told once, by its key.

use crate::config::Config;
use crate::excerpt::one_line;
use crate::problem::Problem;
use crate::replies::{Mail, MailKind};
use crate::store::{Answer, AnswerState, Memory, StoreError};
use chrono::{DateTime, Days, NaiveDate, Utc};

/// Strangers named one by one on one date.
const STRANGERS: usize = 5;
/// So far back it is looked for what is to be told of mails.
const TOLD_FOR: Days = Days::new(3);

/// What is to be told of mails: letters that came back, and strangers. Each is told once.
pub fn told(
    memory: &Memory<'_>,
    config: &Config,
    now: DateTime<Utc>,
) -> Result<Vec<Problem>, StoreError> {
    let since = now - TOLD_FOR;
    let bounces = memory.answers_since(AnswerState::Bounce, since)?;
    let mut problems: Vec<Problem> = bounces.iter().map(|b| came_back(b, config)).collect();
    let mut by_date: Vec<(NaiveDate, Vec<String>)> = Vec::new();
    for stranger in memory.answers_since(AnswerState::PassedOver, since)? {
        let date = stranger.came_at.with_timezone(&config.zone).date_naive();
        if by_date.last().is_none_or(|(on, _)| *on != date) {
            by_date.push((date, Vec::new()));
        }
        if let Some((_, names)) = by_date.last_mut()
            && !names.contains(&stranger.sender)
        {
            names.push(stranger.sender);
        }
    }
    for (date, names) in by_date {
        problems.extend(
            names
                .iter()
                .take(STRANGERS)
                .map(|name| stranger(name, date)),
        );
        if names.len() > STRANGERS {
            problems.push(strangers(date));
        }
    }
    Ok(problems)
}

/// A mail that could not be made out, so that somebody looks at it.
pub(super) fn broken(mail: &Mail) -> Option<Problem> {
    let from = match mail.from.as_deref().unwrap_or_default() {
        "" => "without a sender".to_owned(),
        sender => format!("from {}", one_line(sender)),
    };
    let problem = Problem::new(
        format!("mail {from}"),
        "it is broken and could not be read",
        "nothing in it was written down, and it stays in the mailbox",
        "open it there; what it says can be written down with `graftwarden note`, or sent anew",
    );
    (mail.kind == MailKind::Broken).then(|| problem.keyed(format!("broken mail {}", mail.id)))
}

fn came_back(bounce: &Answer, config: &Config) -> Problem {
    let month = bounce.came_at.with_timezone(&config.zone).format("%Y-%m");
    let recipient = &bounce.sender;
    let key = format!(
        "letters to {recipient} come back in {month}: {}",
        bounce.words
    );
    let said = match bounce.words.as_str() {
        "" => "they come back".to_owned(),
        words => format!("they come back: {}", words.trim_end_matches('.')),
    };
    Problem::new(
        format!("letters to {recipient}"),
        said,
        "this person gets no mail from here",
        "check the address in the config, and tell them by another way",
    )
    .keyed(key)
}

fn stranger(sender: &str, date: NaiveDate) -> Problem {
    let from = match sender {
        "" => "without a sender".to_owned(),
        sender => format!("from {}", one_line(sender)),
    };
    Problem::new(
        format!("mail {from}"),
        "it is from nobody in [[people]]",
        "nothing in it was written down, it stays in the mailbox and was not answered",
        "if it is one of your people, write with the address of the config, or add this one",
    )
    .keyed(format!("mail {from} on {date}"))
}

fn strangers(date: NaiveDate) -> Problem {
    Problem::new(
        format!("mails of {date}"),
        "there were more of people who are not in [[people]]",
        "nothing in them was written down, they stay in the mailbox and were not answered",
        "look into the mailbox, or into the log",
    )
    .keyed(format!("more strangers on {date}"))
}
