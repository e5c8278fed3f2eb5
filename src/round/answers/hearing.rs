//! What a mail is heard against beside its letter: what a thumb held up would mean, and the names of people.

use super::Desk;
use crate::replies::Nod;
use crate::store::{AnswerState, SentLetter, StoreError};
use crate::survey::Survey;
use std::collections::{BTreeSet, HashSet};

impl Desk<'_, '_> {
    /// What a thumb held up means in answer to a letter. A receipt asks for nothing to be done.
    pub(super) fn nod(&self, letter: Option<&SentLetter>) -> Result<Nod, StoreError> {
        let answered = match letter {
            Some(letter) => self.memory.answer_with_receipt(&letter.message_id)?,
            None => None,
        };
        let Some(answer) = answered else {
            return Ok(Nod::Done);
        };
        let asks = !self.memory.questions_of(answer.id)?.is_empty();
        Ok(if answer.state == AnswerState::Held || asks {
            Nod::Yes
        } else if self.memory.written_by(answer.id)?.is_empty() {
            Nod::Unknown
        } else {
            Nod::Read
        })
    }

    /// The names of our people and of whoever grafts, in small letters, but for those that name something else as well.
    pub(super) fn people(&self, survey: &Survey<'_>) -> Vec<String> {
        let known = self.config.people.iter().map(|person| person.name.as_str());
        let grafters = survey.cares.iter().map(|care| care.batch.by.as_str());
        let doers = survey.records.iter().map(|record| record.by.as_str());
        // "Two students" and "North crew" are no names.
        let capital = |word: &str| word.starts_with(char::is_uppercase);
        let called = |name: &&str| name.split_whitespace().all(capital);
        let others = grafters.chain(doers).filter(called);
        let places = survey.cares.iter().flat_map(|care| {
            let batch = &care.batch;
            [
                batch.name.as_str(),
                &batch.block,
                &batch.site,
                &batch.scion,
                &batch.understock,
            ]
        });
        let small = |text: &str| {
            text.split_whitespace()
                .collect::<Vec<_>>()
                .join(" ")
                .to_lowercase()
        };
        let places: HashSet<String> = places
            .map(small)
            .flat_map(|text| text.split(' ').map(str::to_owned).collect::<Vec<_>>())
            .collect();
        let is_name = |name: &String| {
            let mut words = name.split(' ');
            words.all(|word| word.chars().count() > 1 && !places.contains(word))
                && name
                    .chars()
                    .all(|c| c.is_alphabetic() || " '-.".contains(c))
        };
        let all: BTreeSet<String> = known.chain(others).map(small).collect();
        all.into_iter().filter(is_name).collect()
    }
}
