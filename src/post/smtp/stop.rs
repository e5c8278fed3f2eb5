//! What stopped a letter on its way to the mail server, and whether the letter itself was the reason.
//!
//! Knows the mail library's errors; hands on words and one judgement.

use crate::excerpt::excerpt;
use lettre::transport::smtp::Error;
use std::error::Error as StdError;
use std::time::Duration;

/// How far it came.
#[derive(Clone, Copy)]
pub enum Stage {
    /// Connecting, greeting and encrypting.
    Connect,
    /// User and password.
    Login,
    /// Sender and recipient.
    Envelope,
    /// The message itself.
    Letter,
}

/// What stopped it, and where.
pub struct Stop {
    /// Where.
    pub stage: Stage,
    /// What.
    pub cause: Cause,
}

/// What stopped it.
pub enum Cause {
    /// The server said no, or the connection failed.
    Said(Error),
    /// The time was up.
    Silence,
    /// The server has said beforehand that it cannot take this.
    Unable(&'static str),
}

impl Stop {
    /// A no to this sender, recipient or message. A no to the connection or the login is not, and neither is one that
    /// only asks for a login (530, 535: RFC 4954).
    pub fn is_about_the_letter(&self) -> bool {
        match (&self.cause, self.stage) {
            (_, Stage::Connect | Stage::Login) | (Cause::Silence, _) => false,
            (Cause::Unable(_), _) => true,
            (Cause::Said(error), _) => {
                let code = error.status().map(u16::from);
                error.is_permanent() && !matches!(code, Some(530 | 535))
            }
        }
    }

    /// No connection, no answer, no welcome or no login: whatever else is meant for this server had better wait too. Ten
    /// letters that try the same wrong password one after the other may get the sender shut out.
    pub fn is_about_the_server(&self) -> bool {
        matches!(
            (&self.cause, self.stage),
            (Cause::Silence, _) | (_, Stage::Connect | Stage::Login)
        )
    }

    /// What happened, in words that follow the name of the server; `limit` is the time there was.
    pub fn told(&self, limit: Duration) -> String {
        let doing = match self.stage {
            Stage::Connect => "while connecting",
            Stage::Login => "at the login",
            Stage::Envelope => "told sender and recipient",
            Stage::Letter => "handed the letter",
        };
        let (did, known) = match &self.cause {
            Cause::Said(error) => match error.status() {
                Some(code) => (format!("said {code} {}", innermost(error)), true),
                None => (format!("failed ({})", innermost(error)), false),
            },
            Cause::Silence => (
                format!("gave no answer within {} s", limit.as_secs_f64()),
                false,
            ),
            Cause::Unable(what) => (format!("cannot take it: {what}"), true),
        };
        let doubt = match self.stage {
            Stage::Letter if !known => {
                "; the letter may have arrived and goes out again under the same Message-ID"
            }
            _ => "",
        };
        format!("{doing}, {did}{doubt}")
    }
}

/// The cause at the bottom is the one that says something.
pub fn innermost(error: &Error) -> String {
    let mut cause: &dyn StdError = error;
    while let Some(deeper) = cause.source() {
        cause = deeper;
    }
    excerpt(cause.to_string().as_bytes())
}
