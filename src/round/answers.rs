//! Answers: who wrote a mail, to which letter, and whether what it says is written down.
//!
//! Only people of the config are listened to, and only with the token of one of our letters, unless the config trusts
//! the sender alone. What programs write is never answered. Records are on the disk, under ids that follow from the
//! mail, before the transaction commits: whoever is killed in between takes the same mail again and doubles nothing.

mod deeds;
mod hearing;
mod letter;
mod lines;
mod said;
mod told;
mod undo;
mod yes;

pub use told::told;

use super::files::file_name;
use crate::config::{Config, Trust};
use crate::excerpt::one_line;
use crate::letters::Asked;
use crate::letters::receipt::{Became, Line, Receipt};
use crate::nursery::Person;
use crate::problem::Problem;
use crate::replies::{self, Arrived, Asking, LARGEST, Mail, MailKind, Meant, understand};
use crate::store::{AnswerState, Memory, NewAnswer, SentLetter, StoreError};
use crate::survey::{When, survey};
use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use deeds::Deeds;
use letter::letter_of;
use lines::{not, unchanged, written};
use said::Said;

/// For so long `done` is known to mean what a letter asked for, a held mail waits, and `undo` reaches back.
const GOOD_FOR: TimeDelta = TimeDelta::days(60);
/// A mail that says it is older was dated by a clock that stands wrong.
const OLDEST: Days = Days::new(31);
/// Nobody gets more receipts within an hour: two programs that answer each other come to an end.
const MOST_RECEIPTS: u32 = 30;
/// A receipt that is to be written.
#[derive(Debug)]
pub struct Owed<'a> {
    /// To whom.
    pub person: &'a Person,
    /// The number of the answer of which it is the receipt; none where it only tells of one.
    pub answer: Option<i64>,
    /// What the mail is known by.
    pub mail: String,
    /// The letters it goes on from, the oldest first.
    pub thread: Vec<String>,
    /// What it says.
    pub receipt: Receipt,
}

/// What taking mails has led to.
#[derive(Debug, Default)]
pub struct Took<'a> {
    /// Receipts to be written.
    pub owed: Vec<Owed<'a>>,
    /// The mails that are done with, as the mailbox knows them.
    pub taken: Vec<String>,
    /// Why the others are not.
    pub problems: Vec<Problem>,
}

/// Takes the mails in their order. Where records cannot be put on the disk, the rest waits for the next round.
pub fn take<'a>(
    memory: &Memory<'_>,
    config: &'a Config,
    mails: &[Arrived],
    now: DateTime<Utc>,
) -> Result<Took<'a>, StoreError> {
    let desk = Desk {
        memory,
        config,
        now,
    };
    let mut took = Took::default();
    for arrived in mails {
        if !memory.knows_mail(&arrived.mail.id)? {
            match desk.take(arrived)? {
                Ok(owed) => match owed.first() {
                    Some(first) if desk.may_have_receipt(first, &took.owed)? => {
                        took.owed.extend(owed);
                    }
                    _ => {}
                },
                Err(problem) => {
                    took.problems.push(problem);
                    break;
                }
            }
            took.problems.extend(told::broken(&arrived.mail));
        }
        took.taken.push(arrived.handle.clone());
    }
    Ok(took)
}

/// What it takes to take mails.
struct Desk<'a, 'm> {
    memory: &'m Memory<'m>,
    config: &'a Config,
    now: DateTime<Utc>,
}

impl<'a> Desk<'a, '_> {
    /// The receipt it is owed, and whom else it is told; the inner error says why it could not be taken.
    fn take(&self, arrived: &Arrived) -> Result<Result<Vec<Owed<'a>>, Problem>, StoreError> {
        let mail = &arrived.mail;
        if let MailKind::Bounce {
            recipient,
            said,
            letter,
        } = &mail.kind
        {
            self.bounced(mail, recipient.as_deref(), said, letter.as_deref())?;
            return Ok(Ok(Vec::new()));
        }
        let from = mail.from.as_deref().unwrap_or_default();
        if mail.kind == MailKind::Automatic || self.is_ours(from) {
            tracing::info!(from, mail = %mail.id, "a mail that a program wrote is passed over");
            self.enter(mail, from, None, AnswerState::Automatic, "")?;
            return Ok(Ok(Vec::new()));
        }
        let Some(person) = self.person(from) else {
            tracing::warn!(from, mail = %mail.id, subject = %one_line(&mail.subject), "a mail of somebody who is not in [[people]] is passed over");
            self.enter(mail, from, None, AnswerState::PassedOver, "")?;
            return Ok(Ok(Vec::new()));
        };
        let letter = letter_of(self.memory, self.config, mail)?;
        let said = Said {
            mail,
            person,
            letter,
            trust: self.trust(),
        };
        if let Some(size) = arrived.too_large {
            let why = format!(
                "has {} MB, and no more than {} MB are read. Send the words without the pictures",
                size / 1_000_000,
                LARGEST / 1_000_000
            );
            return Ok(Ok(vec![self.unread(&said, &why)?]));
        }
        if mail.kind == MailKind::Broken {
            let why = "could not be read: it was broken on its way, or by the program that wrote it. Write the words anew";
            return Ok(Ok(vec![self.unread(&said, why)?]));
        }
        self.listen(&said)
    }

    /// Reads what was written, and writes down what is believed.
    fn listen(&self, said: &Said<'_, 'a>) -> Result<Result<Vec<Owed<'a>>, Problem>, StoreError> {
        let Said { mail, person, .. } = said;
        let mut deeds = Deeds::of(&mail.id);
        self.memory.forget_records(deeds.beginning())?;
        let letter = said.letter.as_ref();
        let old = letter.is_some_and(|letter| self.is_old(letter));
        let read = self.understood(
            &mail.words,
            self.written_on(mail.dated, self.now),
            letter,
            person,
        )?;
        let held = said.held(&read);
        let mut receipt = Receipt {
            asked: letter.map_or_else(Vec::new, |letter| self.asked(letter)),
            held: held.filter(|_| writes(&read)),
            remarks: self.remarks(said, old),
            ..Receipt::default()
        };
        if read.is_empty() {
            let why = "There are no words of yours in the mail. Write one line for each thing";
            receipt.lines.push(not("", why));
        }
        for line in read {
            receipt
                .lines
                .extend(self.became(line, said, held.is_some(), &mut deeds)?);
        }
        if let Err(problem) = deeds.put_on_disk(&self.config.accepted(), self.now) {
            return Ok(Err(problem));
        }
        let state = match receipt.held {
            Some(_) => AnswerState::Held,
            None => AnswerState::Taken,
        };
        let id = self.enter(mail, &person.email, letter, state, &mail.words)?;
        deeds.enter(self.memory, &file_name(&self.config.accepted()), id)?;
        // Thanks alone are no answer.
        if receipt.lines.is_empty() {
            return Ok(Ok(Vec::new()));
        }
        let told = self.tell_owner(said, &receipt);
        let mut all = vec![owed(said, id, receipt)];
        all.extend(told);
        Ok(Ok(all))
    }

    /// What becomes of one line.
    fn became(
        &self,
        line: replies::Line,
        said: &Said<'_, 'a>,
        held: bool,
        deeds: &mut Deeds,
    ) -> Result<Vec<Line>, StoreError> {
        let replies::Line { said: words, meant } = line;
        Ok(match meant {
            Meant::Records { noted, left } => {
                if !held {
                    deeds.write(&noted);
                }
                written(&words, noted, &left)
            }
            Meant::Undo | Meant::No if !said.may_undo() => vec![unchanged(
                &words,
                "what was written down is taken back only in answer to one of our letters to you; answer the receipt of what you want to take back",
            )],
            Meant::Undo => self.undo(&words, said, deeds)?,
            Meant::Yes => self.yes(&words, said, deeds)?,
            Meant::No => self.no(&words, said, deeds)?,
            Meant::Wrong => vec![unchanged(
                &words,
                "nothing is taken back by this, since it does not say what is wrong. Answer \"undo\" to the receipt of what was wrong, and all that it says is taken back; then write what is right",
            )],
            Meant::Later => vec![Line {
                said: words,
                became: Became::Later,
            }],
            Meant::Which { asked, on } => vec![Line {
                said: words,
                became: Became::Which(asked, on),
            }],
            Meant::Known { why } => vec![unchanged(&words, &why)],
            Meant::Courtesy => Vec::new(),
            Meant::Unread { why } => vec![not(&words, &why)],
        })
    }

    /// What a mail written on that day says, in answer to that letter.
    fn understood(
        &self,
        words: &str,
        today: NaiveDate,
        letter: Option<&SentLetter>,
        person: &Person,
    ) -> Result<Vec<replies::Line>, StoreError> {
        let asked = letter.map_or_else(Vec::new, |letter| self.asked(letter));
        let asked_on = letter.map_or(self.now, |letter| letter.written_at);
        let nod = self.nod(letter)?;
        survey(self.memory, self.config, When::Now(self.now), |survey| {
            let people = self.people(&survey);
            let asking = Asking {
                today,
                asked: &asked,
                asked_on: asked_on.with_timezone(&self.config.zone).date_naive(),
                cares: &survey.cares,
                by: &person.name,
                people: &people,
                nod,
            };
            understand(words, &asking)
        })
    }

    /// What `done` means in answer to a letter; nothing that is still known where it is old.
    fn asked(&self, letter: &SentLetter) -> Vec<Asked> {
        if self.is_old(letter) {
            return Vec::new();
        }
        letter.asked.clone()
    }

    fn is_old(&self, letter: &SentLetter) -> bool {
        letter.written_at < self.now - GOOD_FOR
    }

    /// Whoever a letter was written to is told what somebody else has answered to it.
    fn tell_owner(&self, said: &Said<'_, 'a>, receipt: &Receipt) -> Option<Owed<'a>> {
        let letter = said.letter.as_ref().filter(|_| said.is_handed_on())?;
        let owner = self.person(&letter.recipient)?;
        let wrote = |line: &&Line| matches!(&line.became, Became::Written { records, .. } if !records.is_empty());
        let lines: Vec<Line> = receipt.lines.iter().filter(wrote).cloned().collect();
        let told = Receipt {
            lines,
            by: Some(said.person.name.clone()),
            ..Receipt::default()
        };
        (receipt.held.is_none() && !told.lines.is_empty()).then(|| Owed {
            person: owner,
            answer: None,
            mail: said.mail.id.clone(),
            thread: vec![letter.message_id.clone()],
            receipt: told,
        })
    }

    /// A letter of ours came back. Of others nothing is known.
    fn bounced(
        &self,
        mail: &Mail,
        recipient: Option<&str>,
        said: &str,
        letter: Option<&str>,
    ) -> Result<(), StoreError> {
        let letter = match letter {
            Some(id) => self.memory.letter_named(id)?,
            None => None,
        };
        let whose = letter
            .as_ref()
            .map(|letter| letter.recipient.clone())
            .or_else(|| Some(self.person(recipient?)?.email.clone()));
        let state = match &whose {
            Some(_) => AnswerState::Bounce,
            None => AnswerState::Automatic,
        };
        let whose = whose.unwrap_or_default();
        tracing::warn!(recipient = %whose, mail = %mail.id, "a letter came back: {}", one_line(said));
        self.enter(mail, &whose, letter.as_ref(), state, &one_line(said))?;
        Ok(())
    }

    /// A mail of which no word is read.
    fn unread(&self, said: &Said<'_, 'a>, why: &str) -> Result<Owed<'a>, StoreError> {
        let id = self.enter(
            said.mail,
            &said.person.email,
            said.letter.as_ref(),
            AnswerState::Taken,
            "",
        )?;
        let why = format!("Your mail \"{}\" {why}", one_line(&said.mail.subject));
        let receipt = Receipt {
            lines: vec![not("", &why)],
            ..Receipt::default()
        };
        Ok(owed(said, id, receipt))
    }

    fn enter(
        &self,
        mail: &Mail,
        sender: &str,
        letter: Option<&SentLetter>,
        state: AnswerState,
        words: &str,
    ) -> Result<i64, StoreError> {
        let answer = NewAnswer {
            mail: &mail.id,
            sender,
            letter: letter.map(|letter| letter.id),
            state,
            words,
            dated: mail.dated.unwrap_or(self.now),
        };
        self.memory.enter_answer(&answer, self.now)
    }

    fn remarks(&self, said: &Said<'_, 'a>, old: bool) -> Vec<String> {
        let Some(letter) = &said.letter else {
            return Vec::new();
        };
        let mut remarks = Vec::new();
        if said.is_handed_on() {
            let whose = self.person(&letter.recipient);
            let whose = whose.map_or(letter.recipient.as_str(), |p| p.name.as_str());
            remarks.push(format!("The letter you answered was written to {whose}."));
        }
        if old {
            let on = letter.written_at.with_timezone(&self.config.zone);
            remarks.push(format!(
                "The letter you answered is of {}: \"done\" cannot be known to mean what it asked for. Name the batch, what was done, and the date.",
                on.format("%-d %B %Y")
            ));
        }
        remarks
    }

    fn may_have_receipt(&self, owed: &Owed<'_>, before: &[Owed<'_>]) -> Result<bool, StoreError> {
        let email = &owed.person.email;
        let hour = self.now - TimeDelta::hours(1);
        let here = before.iter().filter(|o| o.person.email == *email).count();
        let may = self.memory.receipts_since(email, hour)? + (here as u32) < MOST_RECEIPTS;
        if !may {
            tracing::warn!(recipient = %email, "no receipt is written: there were {MOST_RECEIPTS} within an hour");
        }
        Ok(may)
    }

    /// The date on which a mail was written that came at this moment, by its own word where that can be.
    fn written_on(&self, dated: Option<DateTime<Utc>>, came_at: DateTime<Utc>) -> NaiveDate {
        let can_be = |at: &DateTime<Utc>| *at <= came_at && *at >= came_at - OLDEST;
        let at = dated.filter(can_be).unwrap_or(came_at);
        at.with_timezone(&self.config.zone).date_naive()
    }

    fn person(&self, address: &str) -> Option<&'a Person> {
        let is = |person: &&Person| person.email.eq_ignore_ascii_case(address);
        self.config.people.iter().find(is)
    }

    /// A mail of our own has come back in a circle.
    fn is_ours(&self, address: &str) -> bool {
        let from = self.config.post.from.as_ref().map(|from| &from.email);
        let answers = self.config.answers.as_ref().map(|answers| &answers.address);
        [from, answers]
            .into_iter()
            .flatten()
            .any(|ours| ours.eq_ignore_ascii_case(address))
    }

    fn trust(&self) -> Trust {
        let answers = self.config.answers.as_ref();
        answers.map_or(Trust::Letter, |answers| answers.trust)
    }
}

fn writes(read: &[replies::Line]) -> bool {
    read.iter()
        .any(|line| matches!(line.meant, Meant::Records { .. }))
}

fn owed<'a>(said: &Said<'_, 'a>, answer: i64, receipt: Receipt) -> Owed<'a> {
    let mail = &said.mail.id;
    // A mail without a Message-ID of its own cannot be named in a header, nor one that would break it.
    let can_be_named = mail.contains('@') && !mail.ends_with("@no-message-id") && mail.len() < 250;
    let named = can_be_named
        && mail
            .chars()
            .all(|c| c.is_ascii_graphic() && !"<>".contains(c));
    let letter = said.letter.as_ref().map(|l| l.message_id.clone());
    Owed {
        person: said.person,
        answer: Some(answer),
        mail: mail.clone(),
        thread: letter
            .into_iter()
            .chain(named.then(|| mail.clone()))
            .collect(),
        receipt,
    }
}
