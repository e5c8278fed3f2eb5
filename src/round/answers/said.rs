//! A mail from one of our people, and how far it is believed.
//!
//! Its From is what stands there, and anybody could have written it; the letter it answers is known by a token. Knows
//! nothing of what becomes of records.

use crate::config::Trust;
use crate::letters::receipt::Held;
use crate::nursery::{Person, What};
use crate::replies::{self, Mail, Meant};
use crate::store::SentLetter;

/// A mail from one of our people.
pub struct Said<'s, 'a> {
    /// As it came.
    pub mail: &'s Mail,
    /// Who wrote it, by its From.
    pub person: &'a Person,
    /// The letter it answers.
    pub letter: Option<SentLetter>,
    /// What it takes to be believed.
    pub trust: Trust,
}

impl Said<'_, '_> {
    /// It answers a letter that was written to somebody else.
    pub fn is_handed_on(&self) -> bool {
        let letter = self.letter.as_ref();
        letter.is_some_and(|letter| !letter.recipient.eq_ignore_ascii_case(&self.person.email))
    }

    /// Why what it says waits for its sender's word, if it does. A letter that was handed on is in the hands of somebody
    /// who may be none of ours: what cannot be walked back lightly is not taken by it alone.
    pub fn held(&self, read: &[replies::Line]) -> Option<Held> {
        let weighs = |line: &replies::Line| match &line.meant {
            Meant::Records { noted, .. } => noted.iter().any(|one| weighs(one.record.what)),
            _ => false,
        };
        match (&self.letter, self.trust) {
            (_, Trust::Sender) => None,
            (None, Trust::Letter) => Some(Held::Fresh),
            (Some(_), Trust::Letter) => {
                (self.is_handed_on() && read.iter().any(weighs)).then_some(Held::HandedOn)
            }
        }
    }

    /// Whether what was written down before may be taken back by it.
    pub fn may_undo(&self) -> bool {
        self.trust == Trust::Sender || self.letter.is_some() && !self.is_handed_on()
    }
}

/// Ends a batch, or begins another one.
fn weighs(what: What) -> bool {
    matches!(what, What::Closed | What::Regrafted)
}
