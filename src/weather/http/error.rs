//! Why nothing usable came over HTTP, in words: where, what, whether it may pass by itself, what to do.
//!
//! Whether asking again at once may help is one question, whether it may pass without anybody's doing another: what may
//! not is told to the grower. Everything in here has been cleaned of keys by the getter; nothing here knows a service.

use chrono::TimeDelta;

/// Why nothing usable came back.
#[derive(Debug, thiserror::Error)]
#[expect(missing_docs, reason = "each text says it")]
pub enum HttpError {
    #[error("no connection to {url} can be prepared: {why}")]
    Setup { url: String, why: String },
    #[error("{url} could not be reached: {why}")]
    Connect { url: String, why: String },
    #[error("{url} showed a certificate that cannot be trusted: {why}")]
    Untrusted { url: String, why: String },
    #[error("{url} gave no whole answer within {seconds} s")]
    Slow { url: String, seconds: f64 },
    #[error("the connection to {url} broke off: {why}")]
    Broken { url: String, why: String },
    #[error("{url} leads elsewhere: {why}")]
    Elsewhere { url: String, why: String },
    #[error("{url} answered {status}: {said}")]
    Status {
        url: String,
        status: u16,
        said: String,
        retry_after: Option<TimeDelta>,
    },
    #[error("{url} says that it is {theirs} GMT, this machine says {ours} GMT")]
    Clock {
        url: String,
        theirs: String,
        ours: String,
    },
    #[error("{url} answered with more than {cap} bytes")]
    TooLarge { url: String, cap: usize },
    #[error("{url} answered with something else than was asked for ({why}): {said}")]
    Garbled {
        url: String,
        why: String,
        said: String,
    },
}

impl HttpError {
    /// Whether asking again at once, or as soon as the service allows, may help.
    pub fn is_transient(&self) -> bool {
        match self {
            Self::Connect { .. }
            | Self::Slow { .. }
            | Self::Broken { .. }
            | Self::Garbled { .. } => true,
            Self::Setup { .. }
            | Self::Untrusted { .. }
            | Self::Elsewhere { .. }
            | Self::Clock { .. }
            | Self::TooLarge { .. } => false,
            Self::Status { status, .. } => matches!(status, 408 | 429 | 500..),
        }
    }

    /// Whether it may pass without anybody's doing.
    pub fn may_pass(&self) -> bool {
        self.is_transient() || matches!(self, Self::Untrusted { .. } | Self::TooLarge { .. })
    }

    /// A short word for the kind of trouble, the same each time it happens.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Setup { .. } => "setup",
            Self::Connect { .. } => "connect",
            Self::Untrusted { .. } => "certificate",
            Self::Slow { .. } => "slow",
            Self::Broken { .. } => "broken",
            Self::Elsewhere { .. } => "elsewhere",
            Self::Status { status: 429, .. } => "allowance",
            Self::Status {
                status: 401 | 403, ..
            } => "not allowed",
            Self::Status {
                status: 400..=499, ..
            } => "refused",
            Self::Status { .. } => "out of order",
            Self::Clock { .. } => "clock",
            Self::TooLarge { .. } => "too large",
            Self::Garbled { .. } => "garbled",
        }
    }

    /// What a grower can do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Setup { .. } => {
                "install the system's root certificates (package ca-certificates) and look at the contact in the config"
            }
            Self::Clock { .. } => {
                "set this machine's clock right; nothing is counted until the two agree"
            }
            Self::Untrusted { .. } => {
                "nothing is read from it; if it lasts, look whether the network wants a login first, whether this machine's clock is right, and whether its root certificates (package ca-certificates) are up to date"
            }
            Self::Connect { .. } | Self::Slow { .. } | Self::Broken { .. } => {
                "it is asked again at the next round; if it lasts, look at the server's network connection"
            }
            Self::Status { status: 429, .. } => {
                "it is asked again when it allows; nothing to do unless it lasts"
            }
            Self::Status { status: 401, .. } => "look at the key file in the config",
            Self::Status { status: 403, .. } => {
                "look at the key file and the contact in the config; it is asked again after a day"
            }
            Self::Status { status, .. } if *status >= 500 => {
                "it is asked again at the next round; nothing to do unless it lasts"
            }
            Self::Elsewhere { .. }
            | Self::Status { .. }
            | Self::TooLarge { .. }
            | Self::Garbled { .. } => {
                "it is asked again at the next round; if it lasts, look at the url in the config"
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_refused_does_not_pass_and_is_not_asked_again() {
        let status = |status| HttpError::Status {
            url: "https://weather.example".into(),
            status,
            said: String::new(),
            retry_after: None,
        };
        for passing in [408, 429, 500, 502, 503, 504] {
            let error = status(passing);
            assert!(error.is_transient() && error.may_pass(), "{passing}");
        }
        for refused in [400, 401, 403, 404, 410] {
            let error = status(refused);
            assert!(!error.is_transient() && !error.may_pass(), "{refused}");
        }
    }

    #[test]
    fn what_asking_on_does_not_mend_may_pass_all_the_same() {
        let (url, why) = (
            "https://weather.example".to_owned(),
            "it has run out".into(),
        );
        let untrusted = HttpError::Untrusted {
            url: url.clone(),
            why,
        };
        for error in [untrusted, HttpError::TooLarge { url, cap: 7 }] {
            assert!(!error.is_transient() && error.may_pass(), "{error}");
        }
    }
}
