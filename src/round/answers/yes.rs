//! `yes` and `no` in answer to a receipt: to a mail that is held, and to what a receipt asks.
//!
//! Only the sender of a mail answers for it, and only in answer to its receipt, which went to the address of the config.

use super::deeds::Deeds;
use super::lines::{not, unchanged, written};
use super::{Desk, GOOD_FOR, Said};
use crate::letters::receipt::{Became, Line};
use crate::replies::{self, Meant};
use crate::store::{Answer, AnswerState, StoreError};

impl<'a> Desk<'a, '_> {
    /// What is held is written down; what was asked about stands.
    pub(super) fn yes(
        &self,
        words: &str,
        said: &Said<'_, 'a>,
        deeds: &mut Deeds,
    ) -> Result<Vec<Line>, StoreError> {
        let Some(answer) = self.answered(said)? else {
            return Ok(vec![unchanged(
                words,
                "there is nothing here that waits for a yes. If what the letter asks for is done, answer \"done\"",
            )]);
        };
        if deeds.has_settled(answer.id) {
            return Ok(Vec::new());
        }
        match answer.state {
            AnswerState::Held if answer.came_at >= self.now - GOOD_FOR => {
                self.confirm(&answer, said, deeds)
            }
            AnswerState::Held => Ok(vec![unchanged(
                words,
                "that mail is too old by now; write it again",
            )]),
            AnswerState::Dropped => Ok(vec![unchanged(
                words,
                "you said no to that mail before; write it again",
            )]),
            _ if self.took_back_asked(answer.id)? => Ok(vec![unchanged(
                words,
                "what was asked about was taken back before; if it is right after all, write it again",
            )]),
            _ if self.memory.written_by(answer.id)?.is_empty() => Ok(vec![unchanged(
                words,
                "nothing of that mail stands any more; write it again",
            )]),
            _ => Ok(vec![unchanged(
                words,
                "what was written down before stands",
            )]),
        }
    }

    /// Whether something that the receipt of an answer asks about was taken back.
    fn took_back_asked(&self, answer: i64) -> Result<bool, StoreError> {
        let asked = self.memory.questions_of(answer)?;
        let many = asked.len();
        Ok(self.standing(asked)?.len() < many)
    }

    /// What is held is dropped; what was asked about is taken back, and where nothing was asked all that the receipt says.
    pub(super) fn no(
        &self,
        words: &str,
        said: &Said<'_, 'a>,
        deeds: &mut Deeds,
    ) -> Result<Vec<Line>, StoreError> {
        let nothing = || {
            Ok(vec![unchanged(
                words,
                "there is nothing here that was asked. Where you looked for lines and saw none, write \"no lines\"",
            )])
        };
        let Some(answer) = self.answered(said)? else {
            return nothing();
        };
        if deeds.has_settled(answer.id) {
            return Ok(vec![unchanged(
                words,
                "this mail says yes as well, and what that wrote down stands; if it is wrong, answer its receipt with \"undo\"",
            )]);
        }
        if matches!(answer.state, AnswerState::Held | AnswerState::Dropped) {
            deeds.settle(answer.id, AnswerState::Dropped);
            return Ok(vec![unchanged(
                words,
                "nothing of that mail is written down",
            )]);
        }
        let mut about = self.memory.questions_of(answer.id)?;
        if about.is_empty() {
            about = self.memory.written_by(answer.id)?;
        }
        if about.is_empty() {
            return nothing();
        }
        self.take_back(words, &self.standing(about)?, said, deeds)
    }

    /// The mail of the same sender whose receipt is answered.
    fn answered(&self, said: &Said<'_, 'a>) -> Result<Option<Answer>, StoreError> {
        let found = match &said.letter {
            Some(letter) => self.memory.answer_with_receipt(&letter.message_id)?,
            None => None,
        };
        Ok(found.filter(|answer| answer.sender == said.person.email))
    }

    fn confirm(
        &self,
        held: &Answer,
        said: &Said<'_, 'a>,
        deeds: &mut Deeds,
    ) -> Result<Vec<Line>, StoreError> {
        self.memory
            .forget_records(Deeds::of(&held.mail).beginning())?;
        let letter = match held.letter {
            Some(id) => self.memory.letter_numbered(id)?,
            None => None,
        };
        let mut lines = Vec::new();
        for replies::Line { said: words, meant } in self.understood(
            &held.words,
            self.written_on(Some(held.dated), held.came_at),
            letter.as_ref(),
            said.person,
        )? {
            match meant {
                Meant::Records { noted, left } => {
                    deeds.write_held(held, &noted);
                    lines.extend(written(&words, noted, &left));
                }
                // It was plain when it came, and is not any more.
                Meant::Unread { why } => lines.push(not(&words, &why)),
                Meant::Known { why } => lines.push(unchanged(&words, &why)),
                Meant::Which { asked, on } => lines.push(Line {
                    said: words,
                    became: Became::Which(asked, on),
                }),
                _ => {}
            }
        }
        deeds.settle(held.id, AnswerState::Taken);
        Ok(lines)
    }
}
