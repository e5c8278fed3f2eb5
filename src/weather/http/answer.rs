//! The plain types of the getter: what is sent along, what comes back, how long it is waited for.

use crate::clock::Heard;
use crate::roots::Roots;
use chrono::{DateTime, Utc};
use reqwest::dns::Resolve;
use secrecy::SecretString;
use std::fmt;
use std::sync::Arc;
use std::time::Duration;

/// How long to wait and how often to try again within one fetch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// For a connection.
    pub connect: Duration,
    /// For one whole answer, connection included.
    pub whole: Duration,
    /// Tries after the first one.
    pub retries: usize,
    /// Before the first retry; four times as long before each further one, and up to twice that by chance.
    pub pause: Duration,
    /// A service that asks for a longer pause than this gets it, but the fetch ends.
    pub longest_pause: Duration,
}

impl Patience {
    /// 10 s, 60 s, and three more tries after about 2, 8 and 32 s, or the minute that some services ask for.
    pub const USUAL: Self = Self {
        connect: Duration::from_secs(10),
        whole: Duration::from_secs(60),
        retries: 3,
        pause: Duration::from_secs(2),
        longest_pause: Duration::from_secs(60),
    };
}

/// The way out to the services: how long they are waited for, who finds the addresses behind names, and where it is
/// noted what they say of the time.
#[derive(Clone)]
pub struct Line {
    /// How long to wait and how often to try again.
    pub patience: Patience,
    /// Finds addresses; the machine itself where there is none.
    pub names: Option<Arc<dyn Resolve>>,
    /// Whose certificates are trusted beside those that the system trusts.
    pub roots: Roots,
    /// What they say of the time.
    pub heard: Arc<Heard>,
}

impl From<Patience> for Line {
    fn from(patience: Patience) -> Self {
        Self {
            patience,
            names: None,
            roots: Roots::default(),
            heard: Arc::default(),
        }
    }
}

impl fmt::Debug for Line {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut shown = f.debug_struct("Line");
        shown.field("patience", &self.patience);
        shown.finish_non_exhaustive()
    }
}

/// What a service sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Document {
    /// All of it.
    pub body: Vec<u8>,
    /// Whether its content type allows for JSON.
    pub json: bool,
    /// Its Last-Modified header, word for word: it is echoed, never compared.
    pub last_modified: Option<String>,
    /// Not to be asked for again before.
    pub expires: Option<DateTime<Utc>>,
    /// The service says that this version of it will end (203).
    pub deprecated: bool,
}

/// An answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Got {
    /// A new document.
    Document(Document),
    /// The one had before still holds.
    Unchanged {
        /// Not to be asked for again before.
        expires: Option<DateTime<Utc>>,
    },
}

/// A header that is nobody else's business.
#[derive(Clone, Debug)]
pub struct SecretHeader {
    /// `Authorization`
    pub name: String,
    /// `Bearer ...`
    pub value: SecretString,
}
