//! Why nothing usable came over HTTP, in words: where, what, whether it may pass by itself, what to do.
//!
//! Everything in here has been cleaned of keys by the getter; nothing here knows a service.

/// Why nothing usable came back.
#[derive(Debug, thiserror::Error)]
#[expect(missing_docs, reason = "each text says it")]
pub enum HttpError {
    #[error("no connection to {url} can be prepared: {why}")]
    Setup { url: String, why: String },
    #[error("{url} could not be reached: {why}")]
    Connect { url: String, why: String },
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
    /// Whether asking again soon may help. A spent hourly or daily allowance does not come back within a fetch, and
    /// each further call is counted.
    pub fn is_transient(&self) -> bool {
        match self {
            Self::Connect { .. }
            | Self::Slow { .. }
            | Self::Broken { .. }
            | Self::Garbled { .. } => true,
            Self::Setup { .. }
            | Self::Elsewhere { .. }
            | Self::Clock { .. }
            | Self::TooLarge { .. } => false,
            Self::Status {
                status: 429, said, ..
            } => !(said.contains("Hourly") || said.contains("Daily")),
            Self::Status { status, .. } => *status == 408 || *status >= 500,
        }
    }

    /// A short word for the kind of trouble, the same each time it happens.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Setup { .. } => "setup",
            Self::Connect { .. } => "connect",
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
            Self::Connect { .. } | Self::Slow { .. } | Self::Broken { .. } => {
                "it is asked again at the next round; if it lasts, look at the server's network connection"
            }
            Self::Status { status: 429, .. } => {
                "it is asked again at the next round; ask less often, or use a key of your own"
            }
            Self::Status {
                status: 401 | 403, ..
            } => "look at the key file in the config",
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
    fn a_spent_daily_allowance_is_not_asked_for_again() {
        let status = |status, said: &str| HttpError::Status {
            url: "https://weather.example".into(),
            status,
            said: said.into(),
        };
        assert!(status(429, "Minutely API request limit exceeded.").is_transient());
        assert!(!status(429, "Daily API request limit exceeded.").is_transient());
        assert!(status(503, "").is_transient());
        for refused in [400, 401, 403, 404] {
            assert!(!status(refused, "").is_transient(), "{refused}");
        }
    }
}
