//! The mailroom: a letter written out in all its ways and put into the outbox, within the transaction that decided it.
//!
//! Every letter passes here, notices and receipts alike, so that all look the same and none leaves without its row in
//! the outbox. Knows what a letter is made of, not what it says.

use crate::config::Config;
use crate::letters::{Context, Letter};
use crate::nursery::Person;
use crate::post::message::{self, Cause, Draft};
use crate::problem::Problem;
use crate::store::{Memory, NewLetter, StoreError};
use chrono::{DateTime, Utc};

/// What it takes to write letters in one round.
#[derive(Clone, Copy, Debug)]
pub struct Mailroom<'a> {
    /// The open transaction.
    pub memory: &'a Memory<'a>,
    /// The config.
    pub config: &'a Config,
    /// The names of the carriers that each letter goes by.
    pub carriers: &'a [&'static str],
    /// What makes this installation's Message-IDs its own.
    pub secret: &'a str,
    /// The moment of the round.
    pub now: DateTime<Utc>,
}

/// What is written on the outside of one letter.
#[derive(Debug)]
pub struct Envelope<'a> {
    /// See [`Mailroom::message_id`].
    pub message_id: &'a str,
    /// Why it is sent.
    pub cause: Cause,
    /// The letters it goes on from, the oldest first.
    pub thread: &'a [String],
    /// The numbers of the notices it carries.
    pub notices: Vec<i64>,
    /// Whether it may break quiet hours.
    pub urgent: bool,
}

impl Mailroom<'_> {
    /// The Message-ID of the letter to a person that carries what has these keys.
    pub fn message_id(&self, person: &Person, keys: &[String]) -> String {
        message::message_id(self.secret, &person.email, keys, self.from().1)
    }

    /// The address at which an answer to the letter of that Message-ID is known as one.
    #[expect(
        clippy::unused_self,
        reason = "the address comes from the config once answers are read"
    )]
    pub fn reply_to(&self, _message_id: &str) -> Option<String> {
        None
    }

    /// Writes the letter out and puts it into the outbox; a letter that cannot be written is a problem.
    pub fn post(
        &self,
        person: &Person,
        letter: &Letter,
        context: &Context<'_>,
        envelope: Envelope<'_>,
    ) -> Result<Option<Problem>, StoreError> {
        let dated = self.now.with_timezone(&self.config.zone).fixed_offset();
        let draft = Draft {
            from: self.from(),
            to: (&person.name, &person.email),
            subject: &letter.subject,
            text: &letter.text(context),
            html: Some(&letter.html(context)),
            pictures: &[],
            calendar: None,
            dated,
            message_id: envelope.message_id,
            reply_to: context.reply_to,
            thread: envelope.thread,
            cause: envelope.cause,
        };
        let bytes = match message::write(&draft) {
            Ok(bytes) => bytes,
            Err(error) => {
                tracing::error!(recipient = %person.email, "{error}");
                return Ok(Some(Problem::new(
                    format!("letter to {}", person.email),
                    error.to_string(),
                    "it was not written",
                    "mend the address in the config",
                )));
            }
        };
        let letter = NewLetter {
            message_id: envelope.message_id.to_owned(),
            recipient: person.email.clone(),
            subject: letter.subject.clone(),
            dated,
            bytes,
            notices: envelope.notices,
            urgent: envelope.urgent,
            asked: letter.asked.clone(),
        };
        self.memory.post(&letter, self.carriers, self.now)?;
        Ok(None)
    }

    /// The sender's name and address.
    fn from(&self) -> (&str, &str) {
        let from = self.config.post.from.as_ref();
        from.map_or(("", "graftwarden@localhost"), |m| {
            (m.name.as_str(), m.email.as_str())
        })
    }
}
