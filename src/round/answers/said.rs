//! A mail from one of our people, and how far it is believed.
//!
//! Its From is what stands there, and anybody could have written it; the letter it answers is known by a token. Knows
//! nothing of what becomes of records.

use crate::config::Trust;
use crate::letters::list;
use crate::letters::receipt::Held;
use crate::nursery::{Person, Target, What};
use crate::replies::{self, Mail, Meant, Noted};
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

/// What is to be asked about the records of a line: one question for all batches of which the same is asked.
pub fn questions(noted: &[Noted]) -> Vec<String> {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for Noted { record, question } in noted {
        let (Some(question), Target::Batch(name)) = (question, &record.target) else {
            continue;
        };
        // With the name out of it, which it holds once.
        let about = question.replacen(name.as_str(), "\0", 1);
        match groups.iter_mut().find(|(other, _)| *other == about) {
            Some((_, names)) => names.push(name.clone()),
            None => groups.push((about, vec![name.clone()])),
        }
    }
    let whole = |(about, names): (String, Vec<String>)| about.replacen('\0', &list(&names), 1);
    groups.into_iter().map(whole).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;

    fn noted(name: &str, question: &str) -> Noted {
        let record = crate::nursery::Record {
            date: NaiveDate::default(),
            target: Target::Batch(name.into()),
            what: What::TapeOff,
            count: None,
            by: String::new(),
            remarks: String::new(),
        };
        Noted {
            record,
            question: Some(question.into()),
        }
    }

    #[test]
    fn the_same_question_is_asked_once() {
        let all = [
            noted("C-14", "'tape off' of C-14 is not due yet; is it meant?"),
            noted("C-15", "C-15 is closed; is it meant?"),
            noted("C-16", "'tape off' of C-16 is not due yet; is it meant?"),
        ];
        assert_eq!(
            questions(&all),
            [
                "'tape off' of C-14 and C-16 is not due yet; is it meant?",
                "C-15 is closed; is it meant?"
            ]
        );
    }
}
