//! An address of the farm's own, or of a gateway or chat: each letter is posted to it.
//!
//! What its answer means for the letter is decided here; how it is asked, and how a failure is worded, is the business of
//! `weather::http`.

use super::Signature;
use crate::post::Outcome;
use crate::roots::Roots;
use crate::weather::http::{Getter, HttpError, Line, Patience};
use reqwest::Url;
use std::time::Duration;

/// For a connection, where there is as much time for all.
const CONNECT: Duration = Duration::from_secs(10);

pub(super) struct Address {
    url: Url,
    getter: Getter,
}

impl Address {
    pub fn new(url: Url, contact: &str, limit: Duration, roots: Roots) -> Result<Self, HttpError> {
        let patience = Patience {
            connect: CONNECT.min(limit),
            whole: limit,
            retries: 0,
            ..Patience::USUAL
        };
        let line = Line {
            roots,
            ..patience.into()
        };
        let getter = Getter::for_posting(&url, contact, line)?;
        Ok(Self { url, getter })
    }

    /// Hands over one letter.
    pub async fn hand(&self, body: &[u8], signature: Option<&Signature>) -> Outcome {
        let mut headers = vec![("content-type", "application/json")];
        if let Some(signature) = signature {
            headers.push(("graftwarden-timestamp", signature.timestamp.as_str()));
            headers.push(("graftwarden-signature", signature.value.as_str()));
        }
        match self.getter.post(&self.url, &headers, body.to_vec()).await {
            Ok(()) => Outcome::Delivered,
            Err(error) => judge(&error),
        }
    }
}

/// A no to the letter is one of 400 to 499, but for those that say "not now".
fn judge(error: &HttpError) -> Outcome {
    let why = error.to_string();
    match error {
        HttpError::Status {
            status: 400..=407 | 409..=428 | 430..=499,
            ..
        } => Outcome::Refused { why },
        HttpError::Status { retry_after, .. } => Outcome::Away {
            why,
            rest: *retry_after,
        },
        _ => Outcome::Away { why, rest: None },
    }
}
