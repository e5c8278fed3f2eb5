//! Settling: everything between what came in and what goes out, inside one transaction.

use super::answers::{self, Owed};
use super::diary::Diary;
use super::errands::Whom;
use super::incoming::{Incoming, absorb};
use super::mailroom::{Envelope, Mailroom};
use super::{Outcome, Posted, Telling, keeping, mailbag, of_itself, pages, reckoning};
use crate::care::Outlook;
use crate::config::Config;
use crate::letters::calendar::{Window, windows};
use crate::letters::{self, ByName, Context, SourceNote, Topic};
use crate::notices::{self, Digest, Foretold, Kind, Notice, View};
use crate::nursery::{Gets, Person};
use crate::post::message::Cause;
use crate::post::{Hook, Pictures};
use crate::problem::Problem;
use crate::store::{Memory, StoreError};
use crate::survey::{When, survey};
use chrono::{DateTime, FixedOffset, NaiveDate, NaiveTime, TimeDelta, Utc};
use std::cell::OnceCell;
use std::collections::HashSet;

/// What letters need beside the config.
#[derive(Clone, Copy, Debug)]
pub struct Desk<'a> {
    /// The names of the carriers that each letter goes by.
    pub carriers: &'a [&'static str],
    /// Every source of every site, with the credit it asks for.
    pub sources: &'a [SourceOf],
}

/// One source of one site.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceOf {
    /// The site.
    pub site: String,
    /// The name under which its days are stored.
    pub name: String,
    /// The credit it asks for; may be empty.
    pub credit: &'static str,
    /// Whether it is a service.
    pub remote: bool,
}

/// A service that has not answered for longer is said to be silent.
const SILENT: TimeDelta = TimeDelta::hours(24);

/// What was told longer ago is not said to have been written down since.
const TOLD_WITHIN: TimeDelta = TimeDelta::days(60);

/// A letter that was refused longer ago is not spoken of any more.
const REFUSED_WITHIN: TimeDelta = TimeDelta::days(62);

/// Everything between what came in and what goes out, inside one transaction.
pub fn settle(
    memory: &Memory<'_>,
    config: &Config,
    incoming: &Incoming,
    desk: &Desk<'_>,
    now: DateTime<Utc>,
) -> Result<Outcome, StoreError> {
    let mut problems = absorb(memory, incoming, now)?;
    let knew_all = incoming.is_of_everybody() && problems.is_empty();
    let took = answers::take(memory, config, &incoming.answers.mails, now)?;
    problems.extend(took.problems);
    problems.extend(mailbag::told(memory, &incoming.answers, now)?);
    problems.extend(answers::told(memory, config, now)?);
    problems.extend(undelivered(memory, now)?);
    problems.extend(pages::trouble(memory, config.pages.as_deref())?);
    problems.extend(of_itself::troubles(memory, config, now)?);
    let ledger = memory.ledger()?;
    problems.extend(keeping::trouble(memory, config)?);
    let put_back = keeping::put_back(memory, config)?;
    let secret = memory.secret()?;
    let today = now.with_timezone(&config.zone).date_naive();
    let diary = Diary::read(memory, config, now)?;
    let people = of_itself::listeners(memory, config, now, today, &diary)?;
    let asked = !matches!(incoming.whom, Whom::Nobody | Whom::AtHand);
    let waits = !asked && !memory.had_round_on(today)?;
    let outcome = survey(memory, config, When::Now(now), |survey| {
        problems.extend(survey.problems.iter().cloned());
        problems.extend(reckoning::changes(memory, config, &survey.cares, today)?);
        of_itself::leave(memory, incoming, &survey.cares)?;
        let outlook = Outlook::new(survey.grounds, survey.past, &survey.cares);
        let view = View {
            now,
            today,
            workdays: &config.workdays,
            grounds: survey.grounds,
            cares: &survey.cares,
            problems: &problems,
            outlook: &outlook,
            people: &people,
            diary: diary.view(&[]),
        };
        let foretold = match notices::season_due(&view, &ledger) {
            Some(year) => memory.foretold_in(year)?,
            None => Vec::new(),
        };
        let view = View {
            diary: diary.view(&foretold),
            ..view
        };
        let mut notices = notices::decide(&view, &ledger);
        of_itself::press(&mut notices);
        if waits {
            // Before the day's own round has fetched temperatures, only what cannot wait for it is told.
            notices.retain(|notice| notice.urgent);
        }
        let entered = enter(memory, notices, today, now)?;
        foretell(memory, &entered, today)?;
        let context = Context {
            nursery: &config.name,
            today,
            units: config.units,
            workdays: &config.workdays,
            grounds: survey.grounds,
            cares: &survey.cares,
            named: &ByName::new(&survey.cares),
            outlook: &outlook,
            records: survey.records,
            sources: &source_notes(memory, desk, now.with_timezone(&config.zone).fixed_offset())?,
            reply_to: None,
            put_back,
        };
        let mailroom = Mailroom {
            memory,
            config,
            carriers: desk.carriers,
            secret: &secret,
            pictures: &Pictures::default(),
            now,
        };
        let pages = pages::make(&mailroom, &context, &problems)?;
        let receipts = write_receipts(&mailroom, &context, &took.owed)?;
        let mut outcome = write_letters(&mailroom, &context, &people, entered)?;
        outcome.letters.splice(0..0, receipts);
        Ok::<_, StoreError>(Outcome { pages, ..outcome })
    })??;
    match incoming.whom {
        Whom::Nobody => memory.answers_taken(now)?,
        // The round itself follows.
        Whom::AtHand => {}
        Whom::Everybody | Whom::WhoFailed => {
            memory.round_done(now, today)?;
            memory.let_go(now)?;
        }
    }
    keeping::forget_what_is_told(memory, knew_all, now)?;
    Ok(Outcome {
        problems,
        taken: took.taken,
        ..outcome
    })
}

/// Remembers the dates that are given in letters of this round.
fn foretell(
    memory: &Memory<'_>,
    entered: &[(i64, Notice)],
    told_on: NaiveDate,
) -> Result<(), StoreError> {
    let digests = entered
        .iter()
        .filter_map(|(_, notice)| notice.digest.as_ref());
    for coming in digests.flat_map(Digest::dates) {
        memory.foretell(&Foretold {
            batch: coming.batch.clone(),
            step: coming.step.clone(),
            grafted_on: coming.grafted_on,
            told_on,
            band: coming.foreseen.band,
        })?;
    }
    Ok(())
}

fn enter(
    memory: &Memory<'_>,
    notices: Vec<Notice>,
    today: NaiveDate,
    now: DateTime<Utc>,
) -> Result<Vec<(i64, Notice)>, StoreError> {
    let mut entered = Vec::with_capacity(notices.len());
    for notice in notices {
        if let Some(id) = memory.enter(&notice, today, now)? {
            entered.push((id, notice));
        }
    }
    Ok(entered)
}

/// One letter for each person who is told something.
fn write_letters(
    mailroom: &Mailroom<'_>,
    context: &Context<'_>,
    people: &[Person],
    entered: Vec<(i64, Notice)>,
) -> Result<Outcome, StoreError> {
    let (ids, notices): (Vec<i64>, Vec<Notice>) = entered.into_iter().unzip();
    let mut outcome = Outcome::default();
    let mut went_by: Vec<Vec<_>> = notices.iter().map(|_| Vec::new()).collect();
    let all_dates: OnceCell<Vec<Window>> = OnceCell::new();
    let dates = || all_dates.get_or_init(|| windows(context));
    let told = letters::addressed(people, &notices, context.named, context.today);
    for (person, theirs) in people.iter().zip(told) {
        let keys: Vec<String> = theirs.iter().map(|n| n.key()).collect();
        let message_id = mailroom.message_id(person, &keys);
        let reply_to = mailroom.reply_to(&message_id);
        let context = Context {
            reply_to: reply_to.as_ref(),
            units: person.units.unwrap_or(context.units),
            ..*context
        };
        let Some(mut letter) = letters::compose(&theirs, &context) else {
            continue;
        };
        letter
            .sections
            .extend(written_since(mailroom, person, &context)?);
        let within: HashSet<*const Notice> =
            theirs.iter().copied().map(std::ptr::from_ref).collect();
        let carried = |n: &Notice| within.contains(&std::ptr::from_ref(n));
        let numbers = notices
            .iter()
            .zip(&ids)
            .filter(|(n, _)| carried(n))
            .map(|(_, &id)| id)
            .collect();
        let dates = carries_dates(person, &theirs).then(dates);
        let envelope = Envelope {
            message_id: &message_id,
            cause: Cause::Notice,
            thread: &thread(mailroom, person, &theirs, &context)?,
            notices: numbers,
            urgent: theirs.iter().any(|n| n.urgent),
            dates: dates.map(Vec::as_slice),
        };
        if let Some(problem) = mailroom.post(person, &letter, &context, envelope)? {
            outcome.problems.push(problem);
            continue;
        }
        for (letters, _) in went_by.iter_mut().zip(&notices).filter(|(_, n)| carried(n)) {
            letters.push((person.email.clone(), format!("<{message_id}>")));
        }
        outcome.letters.push(Posted {
            name: person.name.clone(),
            subject: letter.subject,
        });
    }
    let telling = |(notice, letters)| Telling { notice, letters };
    outcome.tellings = notices.into_iter().zip(went_by).map(telling).collect();
    Ok(outcome)
}

/// What others have written down since their last letter of work that they were told of.
fn written_since(
    mailroom: &Mailroom<'_>,
    person: &Person,
    context: &Context<'_>,
) -> Result<Option<letters::Section>, StoreError> {
    let records = mailroom.memory.written_since_last(&person.email)?;
    if records.is_empty() {
        return Ok(None);
    }
    let told = mailroom
        .memory
        .told_to(&person.email, mailroom.now - TOLD_WITHIN)?;
    Ok(letters::written_since(person, &told, &records, context))
}

/// Whether a letter tells the person's calendar: of those who are told of work, and not where it only tells of trouble.
fn carries_dates(person: &Person, theirs: &[&Notice]) -> bool {
    let of_trouble = |n: &&Notice| matches!(n.kind, Kind::Trouble | Kind::NoTemperatures);
    let works = |gets: &Gets| matches!(gets, Gets::Work | Gets::Weekly);
    person.gets.iter().any(works) && !theirs.iter().all(of_trouble)
}

/// The letters that one with these notices goes on from.
fn thread(
    mailroom: &Mailroom<'_>,
    person: &Person,
    theirs: &[&Notice],
    context: &Context<'_>,
) -> Result<Vec<String>, StoreError> {
    let Some(topic) = Topic::of(theirs, context) else {
        return Ok(Vec::new());
    };
    let since = topic.since.and_time(NaiveTime::MIN).and_utc();
    mailroom.memory.thread(&person.email, &topic, since)
}

/// A receipt for each answer that is owed one.
fn write_receipts(
    mailroom: &Mailroom<'_>,
    context: &Context<'_>,
    owed: &[Owed<'_>],
) -> Result<Vec<Posted>, StoreError> {
    let mut posted = Vec::new();
    for Owed {
        person,
        answer,
        mail,
        thread,
        receipt,
    } in owed
    {
        let key = match answer {
            Some(_) => format!("receipt of {mail}"),
            None => format!("told of {mail}"),
        };
        let message_id = mailroom.message_id(person, &[key]);
        let reply_to = mailroom.reply_to(&message_id);
        let context = Context {
            reply_to: reply_to.as_ref(),
            ..*context
        };
        let letter = letters::receipt::receipt(receipt, &context);
        let envelope = Envelope {
            message_id: &message_id,
            cause: Cause::Answer,
            thread,
            notices: Vec::new(),
            urgent: false,
            dates: None,
        };
        if mailroom
            .post(person, &letter, &context, envelope)?
            .is_none()
        {
            if let Some(answer) = answer {
                mailroom.memory.receipted(*answer, &message_id)?;
            }
            posted.push(Posted {
                name: person.name.clone(),
                subject: letter.subject,
            });
        }
    }
    Ok(posted)
}

/// What letters have to say of sources: the credit, and how long a service has been silent.
fn source_notes(
    memory: &Memory<'_>,
    desk: &Desk<'_>,
    now: DateTime<FixedOffset>,
) -> Result<Vec<SourceNote>, StoreError> {
    let note = |of: &SourceOf| {
        let answered = if of.remote {
            memory.source(&of.site, &of.name)?.answered_at
        } else {
            None
        };
        let silent = answered.filter(|&at| now.to_utc() - at > SILENT);
        Ok(SourceNote {
            site: of.site.clone(),
            source: of.name.clone(),
            credit: of.credit.to_owned(),
            silent_since: silent.map(|at| at.with_timezone(now.offset()).date_naive()),
        })
    };
    desk.sources.iter().map(note).collect()
}

/// Letters that a carrier refused for good, told once for each address and reason.
fn undelivered(memory: &Memory<'_>, now: DateTime<Utc>) -> Result<Vec<Problem>, StoreError> {
    let mut refused: Vec<Problem> = Vec::new();
    for (recipient, subject, carrier, answer) in memory.undelivered(now - REFUSED_WITHIN)? {
        let key = format!("{carrier} to {recipient}: {answer}");
        if refused.iter().any(|problem| problem.key == key) {
            continue;
        }
        // The place says to whom; a carrier's answer may begin with it too.
        let addressed = format!("letter to {recipient}: ");
        let (place, remedy) = if carrier == Hook::NAME {
            (
                format!("letter to {recipient} by the hook"),
                "look at what [post.hook] names, and tell them by another way",
            )
        } else {
            (
                format!("mail to {recipient}"),
                "check the address and the mail server, and tell them by another way",
            )
        };
        let problem = Problem::new(
            place,
            answer.strip_prefix(&addressed).unwrap_or(&answer),
            format!("the letter '{subject}' is not tried again"),
            remedy,
        );
        refused.push(problem.keyed(key));
    }
    Ok(refused)
}
