//! `undo`: takes back what an answer wrote, each record by a `retract`.
//!
//! In answer to a receipt it takes back what that receipt says; else, and where that is taken back already, what the
//! newest answer of the same person wrote that still stands.

use super::deeds::Deeds;
use super::{Desk, GOOD_FOR, Said, unchanged};
use crate::care::{NotUndone, taking_back};
use crate::letters::receipt::{Became, Line};
use crate::letters::{day_short, list};
use crate::nursery::{Record, Target};
use crate::store::{Answer, AnswerState, StoreError};
use std::collections::HashSet;

impl Desk<'_, '_> {
    /// The lines of the receipt about it.
    pub(super) fn undo(
        &self,
        words: &str,
        said: &Said<'_, '_>,
        deeds: &mut Deeds,
    ) -> Result<Vec<Line>, StoreError> {
        let Some(answer) = self.answer_meant(said, deeds)? else {
            let why = "there is nothing of yours of the last 60 days that could be taken back";
            return Ok(vec![unchanged(words, why)]);
        };
        let written = self.standing(self.memory.written_by(answer.id)?)?;
        self.take_back(words, &written, said, deeds)
    }

    /// The records of these that are not taken back, each with the answer that wrote it.
    pub(super) fn standing(&self, records: Vec<String>) -> Result<Vec<(i64, String)>, StoreError> {
        let mut standing = Vec::new();
        for record in records {
            if let Some(writer) = self.memory.writer_of(&record)? {
                standing.push((writer, record));
            }
        }
        Ok(standing)
    }

    /// Takes back records, each of the answer of that number, in the order in which they were written.
    pub(super) fn take_back(
        &self,
        words: &str,
        written: &[(i64, String)],
        said: &Said<'_, '_>,
        deeds: &mut Deeds,
    ) -> Result<Vec<Line>, StoreError> {
        let mut all = self.memory.records_named()?;
        for (n, record) in deeds.records().enumerate() {
            all.push((format!("new {n}"), record.clone()));
        }
        let theirs = all
            .iter()
            .filter(|(id, _)| written.iter().any(|(_, theirs)| theirs == id));
        let targets: HashSet<String> = theirs.map(|(_, record)| target(record)).collect();
        all.retain(|(_, record)| targets.contains(&target(record)));
        let (mut back, mut left) = (Vec::new(), Vec::new());
        // The newest first, as they lie on top of each other.
        for (answer, id) in written.iter().rev() {
            let Some(at) = all.iter().position(|(known, _)| known == id) else {
                continue;
            };
            let which = &all[at].1;
            let alike: Vec<&Record> = all
                .iter()
                .map(|(_, record)| record)
                .filter(|record| target(record) == target(which))
                .collect();
            match taking_back(&alike, which) {
                Ok(retract) => {
                    let retract = Record {
                        by: said.person.name.clone(),
                        ..retract
                    };
                    back.push(which.clone());
                    deeds.take_back(*answer, id, Some(retract.clone()));
                    all.push((format!("retract {id}"), retract));
                }
                Err(NotUndone::Already | NotUndone::Retract) => {
                    deeds.take_back(*answer, id, None);
                }
                Err(NotUndone::Newer) => left.push(which.clone()),
            }
        }
        back.reverse();
        let mut lines = Vec::new();
        if back.is_empty() && left.is_empty() {
            let why = "it was taken back before";
            lines.push(unchanged(words, why));
        } else if !back.is_empty() {
            lines.push(Line {
                said: words.to_owned(),
                became: Became::TakenBack(back),
            });
        }
        if !left.is_empty() {
            lines.push(unchanged(words, &stands(&left)));
        }
        Ok(lines)
    }

    fn answer_meant(
        &self,
        said: &Said<'_, '_>,
        deeds: &Deeds,
    ) -> Result<Option<Answer>, StoreError> {
        let receipt = match &said.letter {
            Some(letter) => self.memory.answer_with_receipt(&letter.message_id)?,
            None => None,
        };
        let meant = receipt.filter(|answer| {
            answer.state == AnswerState::Taken && answer.sender == said.person.email
        });
        if let Some(answer) = meant
            && !deeds.took_back(answer.id)
            && !self.memory.written_by(answer.id)?.is_empty()
        {
            return Ok(Some(answer));
        }
        let since = self.now - GOOD_FOR;
        let newest = self.memory.newest_answer(&said.person.email, since)?;
        Ok(newest.filter(|answer| !deeds.took_back(answer.id)))
    }
}

/// What a record is about; blocks are the same whatever their case.
fn target(record: &Record) -> String {
    match &record.target {
        Target::Batch(name) => name.clone(),
        Target::Block(name) => format!("block {}", name.to_lowercase()),
    }
}

fn stands(left: &[Record]) -> String {
    let names: Vec<String> = left
        .iter()
        .map(|record| {
            let of = match &record.target {
                Target::Batch(name) => name.clone(),
                Target::Block(name) => format!("block {name}"),
            };
            format!(
                "{} of {of} on {}",
                record.what.name(),
                day_short(record.date)
            )
        })
        .collect();
    format!(
        "{} stands: somebody has written down the same of that day since, which would be taken back instead. Write \"retract\" into the field records, and the right count anew",
        list(&names)
    )
}
