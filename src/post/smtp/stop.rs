//! What stopped a letter on its way to the mail server, and whether the letter itself was the reason.
//!
//! Knows the mail library's errors; hands on words and one judgement.

use crate::excerpt::{excerpt, without_secret};
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

    /// What happened, in words that follow the name of the server; `limit` is the time there was, `secret` the ways in
    /// which the server may say the password back.
    pub fn told(&self, limit: Duration, secret: &[String]) -> String {
        let doing = match self.stage {
            Stage::Connect => "while connecting",
            Stage::Login => "at the login",
            Stage::Envelope => "told sender and recipient",
            Stage::Letter => "handed the letter",
        };
        let (did, known) = match &self.cause {
            Cause::Said(error) => match error.status() {
                Some(code) => (format!("said {code} {}", shown(error, secret)), true),
                None => (format!("failed ({})", shown(error, secret)), false),
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
    shown(error, &[])
}

fn shown(error: &Error, secret: &[String]) -> String {
    let mut cause: &dyn StdError = error;
    while let Some(deeper) = cause.source() {
        cause = deeper;
    }
    excerpt(without_secret(&cause.to_string(), secret).as_bytes())
}

/// The ways in which a server may say a password back: as it stood in either login, or as it is.
pub fn said_back(user: &str, password: &str) -> Vec<String> {
    let whole = format!("\0{user}\0{password}");
    vec![
        base64(whole.as_bytes()),
        base64(password.as_bytes()),
        password.to_owned(),
    ]
}

/// RFC 4648, 4.
fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let group = |group: &[u8]| {
        let all = group
            .iter()
            .fold(0, |all, &byte| all << 8 | usize::from(byte))
            << (8 * (3 - group.len()));
        [18, 12, 6, 0]
            .into_iter()
            .enumerate()
            .map(move |(at, shift)| {
                let digit = char::from(DIGITS[all >> shift & 63]);
                if at <= group.len() { digit } else { '=' }
            })
            .collect::<String>()
    };
    bytes.chunks(3).map(group).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the examples of RFC 4648 (10) and RFC 4616 (4).
    #[test]
    fn a_password_is_known_by_what_was_sent() {
        for (text, written) in [
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(text.as_bytes()), written);
        }
        assert_eq!(
            said_back("tim", "tanstaaftanstaaf"),
            [
                "AHRpbQB0YW5zdGFhZnRhbnN0YWFm",
                "dGFuc3RhYWZ0YW5zdGFhZg==",
                "tanstaaftanstaaf"
            ]
        );
    }
}
