//! One person's letter: notices bundled by what must be done, then by where.
//!
//! The parts are data, so that every way of writing a letter says the same. The most pressing part comes first and
//! gives the subject.

use super::answer::{Answer, ReplyTo, answer};
pub use super::asked::Asked;
use super::cautions;
use super::chart::{Chart, charts};
use super::either::{Together, is_instead, is_look, is_one_look, told_instead};
use super::named::ByName;
use super::places::{act_before, is_foreseen};
use super::sections::{last_section, section};
use super::small_print::small_print;
use crate::care::{BatchCare, By, Ground, Outlook, StepCare};
use crate::notices::{About, Kind, Notice};
use crate::nursery::{Person, Record, Workdays};
use crate::units::Units;
use chrono::{Days, NaiveDate, NaiveDateTime};

/// What a letter needs to know beside its notices.
#[derive(Clone, Copy, Debug)]
pub struct Context<'a> {
    /// The nursery's name.
    pub nursery: &'a str,
    /// The nursery's local date.
    pub today: NaiveDate,
    /// The measures people read.
    pub units: Units,
    /// When somebody is in the field.
    pub workdays: &'a Workdays,
    /// Every site.
    pub grounds: &'a [Ground<'a>],
    /// Every batch.
    pub cares: &'a [BatchCare<'a>],
    /// The same, by name.
    pub named: &'a ByName<'a>,
    /// When windows will open, and how surely.
    pub outlook: &'a Outlook<'a>,
    /// Every field record in force, in the order in which they were written down.
    pub records: &'a [Record],
    /// Every source of every site.
    pub sources: &'a [SourceNote],
    /// How an answer to this letter is known as one to it; none where answers are not read.
    pub reply_to: Option<&'a ReplyTo>,
    /// To what the program's memory was put back just now, where it was.
    pub put_back: Option<PutBack>,
}

/// To what the program's memory was put back after it was damaged: letters may say once more what they said since.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PutBack {
    /// To what it was after the round of that moment, by the nursery's clocks.
    To(NaiveDateTime),
    /// To nothing.
    Nothing,
}

/// What a letter has to say of a source that it used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceNote {
    /// The site.
    pub site: String,
    /// The name under which its days are known.
    pub source: String,
    /// The credit it asks for; may be empty.
    pub credit: String,
    /// The day on which it last answered, where that is more than a day ago.
    pub silent_since: Option<NaiveDate>,
}

/// A letter before it is written out.
#[derive(Clone, Debug, PartialEq)]
pub struct Letter {
    /// The most pressing thing.
    pub subject: String,
    /// In order of urgency.
    pub sections: Vec<Section>,
    /// At most one a site.
    pub charts: Vec<Chart>,
    /// Cautions, once each.
    pub cautions: Vec<String>,
    /// How to answer.
    pub answer: Option<Answer>,
    /// What is asked for, the most pressing first; `done` in an answer means this where it is one step.
    pub asked: Vec<Asked>,
    /// Where the temperatures came from and how heat was reckoned.
    pub small_print: Vec<String>,
}

/// One thing to do or to know.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Section {
    /// What: "Head back now".
    pub heading: String,
    /// Where, how many, by when.
    pub places: Vec<Place>,
    /// How, why, and the rest.
    pub paragraphs: Vec<Paragraph>,
    /// Short lines under a title each.
    pub lists: Vec<List>,
    /// The batches.
    pub rows: Vec<Row>,
    /// The subject line, should this be the first section.
    pub subject: String,
}

/// A paragraph of a section.
pub type Paragraph = String;

/// Short lines under a title.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct List {
    /// With its colon.
    pub title: String,
    /// In order.
    pub lines: Vec<String>,
}

/// A block with something to do in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The site, where there are several; else empty.
    pub site: String,
    /// The block.
    pub block: String,
    /// How many batches.
    pub batches: u32,
    /// How many grafts are left to do.
    pub grafts: u32,
    /// The earliest close among them that is known.
    pub by: Option<NaiveDate>,
    /// The earliest close among those that are only foretold, and whether it is rough: see [`Place::until`].
    pub about: Option<(NaiveDate, bool)>,
}

/// A line of the list of batches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// "Block C", "Block C at home".
    pub place: String,
    /// The batch.
    pub batch: String,
    /// What was grafted.
    pub scion: String,
    /// "310 grafts", or "130 left of 310 grafts".
    pub grafts: String,
    /// Standard days so far.
    pub warmth: String,
    /// "by Tue 18 Aug", "was due Tue 18 Aug".
    pub by: String,
}

/// For each person the notices that they are told: of the kinds they take, of their sites and blocks, and not on a day
/// of their own off, unless everybody who would be told it is off.
pub fn addressed<'n>(
    people: &[Person],
    notices: &'n [Notice],
    named: &ByName<'_>,
    today: NaiveDate,
) -> Vec<Vec<&'n Notice>> {
    let mut letters: Vec<Vec<&Notice>> = people.iter().map(|_| Vec::new()).collect();
    for notice in notices {
        let takes = |p: &&Person| concerns(p, notice, named);
        let on_duty = people.iter().filter(takes).any(|p| !p.is_off(today));
        for (person, letter) in people.iter().zip(&mut letters) {
            if takes(&person) && !(on_duty && person.is_off(today)) {
                letter.push(notice);
            }
        }
    }
    letters
}

/// Whether a notice is of a kind that the person takes, and of their sites and blocks.
fn concerns(person: &Person, notice: &Notice, named: &ByName<'_>) -> bool {
    let about = &notice.about;
    if let About::Person(email) = about {
        return *email == person.email;
    }
    let of_block = |name: &String| {
        named
            .get(name)
            .is_some_and(|c| person.cares_for_block(&c.batch.block))
    };
    person.gets.contains(&notice.wanted_by())
        && about.site().is_none_or(|site| person.cares_for_site(site))
        && about
            .block()
            .is_none_or(|block| person.cares_for_block(block))
        && (notice.batches.is_empty() || notice.batches.iter().any(of_block))
}

/// Bundles notices into a letter; none where there is nothing to tell.
pub fn compose(notices: &[&Notice], context: &Context<'_>) -> Option<Letter> {
    let mut sections = Vec::new();
    let told = Together::new(notices);
    let mut waiting = in_order(notices, context);
    waiting.retain(|n| !is_instead(n, &told, context));
    let asked = asked(&waiting, context);
    let leads = waiting.first().copied();
    while let Some(&first) = waiting.first() {
        let bundle = bundle_of(first, &told, context);
        let (together, rest): (Vec<&Notice>, Vec<&Notice>) = waiting
            .into_iter()
            .partition(|n| bundle_of(n, &told, context) == bundle);
        let mut told_section = section(&together, context);
        told_section
            .paragraphs
            .extend(told_instead(&together, &told, context));
        sections.push(told_section);
        waiting = rest;
    }
    sections.extend(last_section(notices, context));
    let (leads, first) = (leads?, sections.first()?);
    let more = sections.iter().skip(1).filter(|s| !s.subject.is_empty());
    let subject = match more.count() {
        // It counts all that is to do today itself.
        _ if leads.kind == Kind::CatchUp => first.subject.clone(),
        0 => first.subject.clone(),
        1 => format!("{}, and 1 more thing", first.subject),
        more => format!("{}, and {more} more things", first.subject),
    };
    let small_print = small_print(notices, context);
    let answer = answer(&asked, notices, context);
    Some(Letter {
        subject,
        charts: charts(notices, context),
        cautions: cautions_for(notices, context),
        answer,
        asked,
        small_print,
        sections,
    })
}

/// The most pressing kind first; within a kind, what closes soonest; of what one look decides between, the look.
pub(super) fn in_order<'n>(notices: &[&'n Notice], context: &Context<'_>) -> Vec<&'n Notice> {
    let close = |n: &Notice| {
        let known = care_of(n, context).zip(step_of(n, context));
        let close = known.and_then(|(care, step)| act_before(care, step, context));
        close.unwrap_or(NaiveDate::MAX)
    };
    let told = Together::new(notices);
    let key = |&notice: &&'n Notice| {
        if !is_one_look(notice, &told, context) {
            return (notice.kind, close(notice), false);
        }
        let theirs = told.like(notice);
        let theirs = theirs.filter(|n| is_one_look(n, &told, context));
        let first = theirs.map(|n| (n.kind, close(n))).min();
        let (kind, day) = first.unwrap_or((notice.kind, close(notice)));
        (kind, day, !is_look(notice, context))
    };
    let mut sorted = notices.to_vec();
    sorted.sort_by_cached_key(key);
    sorted
}

/// What makes notices one section: the kind, the step, which instructions it needs, and by what its day is foreseen.
type Bundle<'a> = (Kind, bool, &'a str, &'a str, Option<bool>);

fn bundle_of<'a>(notice: &'a Notice, told: &Together<'_>, context: &Context<'a>) -> Bundle<'a> {
    if let Some(care) = care_of(notice, context)
        && is_one_look(notice, told, context)
    {
        let said = if care.is_unlooked() {
            "nobody"
        } else {
            "no lines"
        };
        return (Kind::Opens, false, &care.plan.name, said, None);
    }
    let step = notice.step.as_deref().unwrap_or_default();
    let (kind, urgent, step, say) = match notice.kind {
        Kind::OverCallused if is_done(notice, context) => {
            (notice.kind, notice.urgent, step, "done")
        }
        // What tomorrow brings is one list, however many steps it is.
        Kind::HeadsUp => (notice.kind, notice.urgent, "", ""),
        Kind::Opens | Kind::LastCall | Kind::Late => {
            let known = care_of(notice, context).zip(step_of(notice, context));
            let ran_on = known.is_some_and(|(care, step)| care.ran_on(step).is_some());
            let say = if ran_on {
                "over-callused"
            } else {
                say(notice, context)
            };
            (notice.kind, notice.urgent, step, say)
        }
        Kind::HeatSpike
        | Kind::LastGraft
        | Kind::SpellOver
        | Kind::ColdStall
        | Kind::Wind
        | Kind::Frost
        | Kind::Rain
        | Kind::NoTemperatures => (
            notice.kind,
            notice.urgent,
            notice.about.subject(),
            notice.anchor.as_str(),
        ),
        _ => (notice.kind, notice.urgent, step, ""),
    };
    (kind, urgent, step, say, is_foreseen(notice, context))
}

/// Whether the work that ends the limit of the batch is done on all of its grafts.
pub(super) fn is_done(notice: &Notice, context: &Context<'_>) -> bool {
    let ends = care_of(notice, context).and_then(|care| care.step(&care.limit?.limit.until));
    ends.is_some_and(|ends| ends.left() == 0)
}

pub(super) fn care_of<'a>(notice: &Notice, context: &Context<'a>) -> Option<&'a BatchCare<'a>> {
    context.named.get(notice.about.batch()?)
}

pub(super) fn step_of<'a>(notice: &Notice, context: &Context<'a>) -> Option<&'a StepCare<'a>> {
    let id = notice.step.as_deref()?;
    care_of(notice, context)?
        .steps
        .iter()
        .find(|s| s.step.id == id)
}

/// The instructions that fit how the window opened, what was seen, and the time of the year.
pub(super) fn say<'a>(notice: &Notice, context: &Context<'a>) -> &'a str {
    let (Some(care), Some(step)) = (care_of(notice, context), step_of(notice, context)) else {
        return "";
    };
    let by = notice.by.or(step.opened.map(|o| o.by));
    instructions(care, step, by, frost_near(notice, context).is_some())
}

/// The instructions for a step, by how its window opened, whether anybody has written down what opens it at once, and
/// whether the first frost of autumn is near.
pub fn instructions<'a>(
    care: &BatchCare<'_>,
    due: &StepCare<'a>,
    by: Option<By>,
    frost_near: bool,
) -> &'a str {
    let step = due.step;
    let unseen = care.unseen(due, &care.facts).is_some();
    let other = [
        (frost_near, &step.say_frost),
        (by == Some(By::Calendar), &step.say_calendar),
        (unseen, &step.say_unseen),
    ];
    let mut fits = other.into_iter().filter(|(fits, _)| *fits);
    let said = fits.find_map(|(_, say)| say.as_deref());
    said.unwrap_or(&step.say)
}

/// The date from which on the first frost is to be reckoned with, where that is near.
pub(super) fn frost_near(notice: &Notice, context: &Context<'_>) -> Option<NaiveDate> {
    frost_of(notice.about.site()?, context)
}

/// The same of a site.
pub(super) fn frost_of(site: &str, context: &Context<'_>) -> Option<NaiveDate> {
    let ground = context.grounds.iter().find(|g| g.site.id == site)?;
    ground.frost_near()
}

fn cautions_for(notices: &[&Notice], context: &Context<'_>) -> Vec<String> {
    let cuts = |n: &&&Notice| {
        let step = step_of(n, context).is_some_and(|s| s.step.caution.is_some());
        n.kind.is_of_limit()
            || (step && matches!(n.kind, Kind::Opens | Kind::LastCall | Kind::Late))
    };
    let hottest = notices.iter().filter_map(|n| hottest(n, context));
    let cutting = notices
        .iter()
        .find(cuts)
        .map(|_| cautions::CUTTING.to_owned());
    let heat = hottest.reduce(f64::max).and_then(cautions::heat);
    cutting.into_iter().chain(heat.map(str::to_owned)).collect()
}

/// The hottest maximum in °C that people will work in, as far as is foretold: today or, in a spell, until it ends. Where
/// nothing is foretold, a spell that was on yesterday may go on.
fn hottest(notice: &Notice, context: &Context<'_>) -> Option<f64> {
    let last = match notice.kind {
        Kind::HeatSpike => notice.until.unwrap_or(notice.on).max(context.today),
        Kind::Opens | Kind::Late | Kind::OverCallused | Kind::OverCallusRisk => context.today,
        _ => return None,
    };
    let site = notice.about.site()?;
    let ground = context.grounds.iter().find(|g| g.site.id == site)?;
    let blind = notice.kind == Kind::HeatSpike && ground.series.day(context.today).is_none();
    let first = context.today - Days::new(u64::from(blind));
    let days = ground.series.between(first, last);
    days.map(|d| d.max).reduce(f64::max)
}

/// The steps that can be answered, in the order of the letter, each with every batch that the letter asks it of.
fn asked(notices: &[&Notice], context: &Context<'_>) -> Vec<Asked> {
    let pair = |notice| {
        let (batch, step) = asks(notice, context)?;
        Some((look_of(notice, context).unwrap_or(step), batch))
    };
    Asked::gather(notices.iter().copied().filter_map(pair))
}

/// The look that is asked for where it decides between several kinds of work and is due.
fn look_of<'a>(notice: &Notice, context: &Context<'a>) -> Option<&'a str> {
    let (care, step) = (care_of(notice, context)?, step_of(notice, context)?);
    let one_look = care.one_look();
    let is_one = one_look.iter().any(|s| s.step.id == step.step.id);
    let look = one_look.into_iter().find(|s| is_one && care.is_look(s))?;
    Some(&look.step.id)
}

/// The batch and the step of it that a notice asks for, where that can be answered.
pub(super) fn asks<'a>(notice: &'a Notice, context: &Context<'a>) -> Option<(&'a str, &'a str)> {
    let care = care_of(notice, context)?;
    let step = match notice.kind {
        Kind::OverCallused if is_done(notice, context) => return None,
        kind if kind.is_of_limit() => care
            .limit
            .map_or(notice.step.as_deref()?, |l| l.limit.until.as_str()),
        Kind::Opens | Kind::LastCall | Kind::Sisters | Kind::Sentinel | Kind::Late => {
            notice.step.as_deref()?
        }
        _ => return None,
    };
    let answerable = !care.step(step)?.step.brings.is_empty();
    answerable.then_some((care.batch.name.as_str(), step))
}
