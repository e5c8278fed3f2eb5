//! The mailroom: a letter written out in all its ways and put into the outbox, within the transaction that decided it.
//!
//! Every letter passes here, notices and receipts alike, so that all look the same and none leaves without its row in
//! the outbox. Knows what a letter is made of, not what it says.

mod parcel;

use crate::config::Config;
use crate::letters::calendar::{self, Kept, Window};
use crate::letters::{Context, Letter, ReplyTo};
use crate::nursery::Person;
use crate::post::message::{self, Cause, Draft};
use crate::post::{Hook, Pictures, Smtp, hook};
use crate::problem::Problem;
use crate::store::{Memory, NewLetter, StoreError};
use chrono::{DateTime, NaiveDate, Utc};
use parcel::parcel;

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
    /// The pictures drawn so far.
    pub pictures: &'a Pictures,
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
    /// The windows that go along as dates for the person's calendar, those of others among them; none for a letter that
    /// carries no dates.
    pub dates: Option<&'a [Window]>,
}

impl Mailroom<'_> {
    /// The Message-ID of the letter to a person that carries what has these keys.
    pub fn message_id(&self, person: &Person, keys: &[String]) -> String {
        message::message_id(self.secret, &person.email, keys, self.from().1)
    }

    /// Where an answer to the letter of that Message-ID goes, and how it is known as one; none where answers are not read.
    pub fn reply_to(&self, message_id: &str) -> Option<ReplyTo> {
        let answers = self.config.answers.as_ref()?;
        let (name, domain) = answers.address.rsplit_once('@')?;
        let (token, _) = message_id.split_once('@')?;
        Some(if answers.plus {
            ReplyTo {
                address: format!("{name}+{token}@{domain}"),
                mark: None,
            }
        } else {
            ReplyTo {
                address: answers.address.clone(),
                mark: Some(token.to_owned()),
            }
        })
    }

    /// Writes the letter out and puts it into the outbox; a letter that cannot be written is a problem.
    pub fn post(
        &self,
        person: &Person,
        letter: &Letter,
        context: &Context<'_>,
        envelope: Envelope<'_>,
    ) -> Result<Option<Problem>, StoreError> {
        let kept = match envelope.dates {
            Some(windows) => {
                let theirs = windows.iter().filter(|window| window.concerns(person));
                self.kept(&person.email, theirs, context.today)?
            }
            None => Vec::new(),
        };
        let calendar = (!kept.is_empty()).then(|| {
            let entries: Vec<_> = kept.iter().map(|kept| kept.entry.clone()).collect();
            calendar::write(&entries, context.nursery, self.now)
        });
        let dated = self.now.with_timezone(&self.config.zone).fixed_offset();
        let text = letter.text(context);
        let draft = Draft {
            from: self.from(),
            to: (&person.name, &person.email),
            subject: &letter.subject,
            text: &text,
            html: None,
            pictures: &[],
            calendar: calendar.as_deref(),
            dated,
            message_id: envelope.message_id,
            reply_to: context.reply_to.map(|to| to.address.as_str()),
            thread: envelope.thread,
            cause: envelope.cause,
        };
        let bytes = match parcel(letter, context, self.pictures, &draft) {
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
        let told = hook::Told {
            nursery: &self.config.name,
            person: (&person.name, &person.email),
            subject: &letter.subject,
            short: &letter.short(context.today),
            text: &text,
            urgent: envelope.urgent,
            dated,
            message_id: envelope.message_id,
        };
        let (carriers, own) = self.ways(&told, envelope.cause);
        let letter = NewLetter {
            message_id: envelope.message_id.to_owned(),
            recipient: person.email.clone(),
            subject: letter.subject.clone(),
            dated,
            bytes,
            own,
            notices: envelope.notices,
            urgent: envelope.urgent,
            thread: envelope.thread.to_vec(),
            asked: letter.asked.clone(),
        };
        self.memory.post(&letter, &carriers, self.now)?;
        self.memory.keep_calendar(&person.email, &kept)?;
        Ok(None)
    }

    /// What the calendar of a recipient is told of these windows, after what it was told before.
    pub fn kept<'w>(
        &self,
        recipient: &str,
        windows: impl IntoIterator<Item = &'w Window>,
        today: NaiveDate,
    ) -> Result<Vec<Kept>, StoreError> {
        let told = self.memory.calendar(recipient)?;
        // Each person's entries are their own, since their numbers rise by the letters that they get. Made from the
        // secret, they are others where the memory was lost: the numbers begin anew then.
        let uid = |key: &str| {
            let keys = ["calendar".to_owned(), key.to_owned()];
            message::message_id(self.secret, recipient, &keys, self.from().1)
        };
        Ok(calendar::keep(told, windows, uid, today))
    }

    /// The carriers that a letter goes by, and what is handed to those that take another form of it. Receipts belong to the
    /// mail that they answer: where mail goes out, the hook has none of them.
    fn ways(
        &self,
        told: &hook::Told<'_>,
        cause: Cause,
    ) -> (Vec<&'static str>, Vec<(&'static str, Vec<u8>)>) {
        let mut carriers = self.carriers.to_vec();
        let hook = self.config.post.hook.as_ref();
        let urgent_only = hook.is_some_and(|hook| hook.urgent_only) && !told.urgent;
        let by_mail = cause == Cause::Answer && carriers.contains(&Smtp::NAME);
        if urgent_only || by_mail {
            carriers.retain(|&carrier| carrier != Hook::NAME);
        }
        let own = carriers
            .contains(&Hook::NAME)
            .then(|| (Hook::NAME, hook::body(told)));
        (carriers, own.into_iter().collect())
    }

    /// The sender's name and address.
    fn from(&self) -> (&str, &str) {
        let from = self.config.post.from.as_ref();
        from.map_or(("", "graftwarden@localhost"), |m| {
            (m.name.as_str(), m.email.as_str())
        })
    }
}
