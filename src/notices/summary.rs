//! Before and after days off, weekly, and at the end of a season: what one person is told of everything at once.
//!
//! A digest is data, made when its notice is decided, for the eyes of one person: their sites and blocks, their own
//! days off. `letters` words it. What is told elsewhere anyway is only named here.

mod catch_up;
mod look_ahead;
mod reminder;
mod season;
mod weekly;

pub use catch_up::{CatchUp, SiteSpan};
pub use look_ahead::LookAhead;
pub use reminder::Reminder;
pub use season::{Held, Season, Share, ToLines, season};
pub use weekly::Weekly;

use super::decide::{View, looks};
use super::notice::{About, Kind, Ledger, Notice};
use crate::care::{BatchCare, Foreseen, Outlook, State, StepCare, on_site};
use crate::nursery::{Gets, Hemisphere, Person, Workdays};
use crate::outlook::Band;
use chrono::{Datelike, NaiveDate, NaiveDateTime};
use std::collections::{HashMap, HashSet};

/// What the program knows of its own past.
#[derive(Clone, Copy, Debug, Default)]
pub struct Diary<'a> {
    /// The nursery's dates with a round before this one, in order.
    pub rounds: &'a [NaiveDate],
    /// Spans in which scheduled rounds were missed, by the nursery's clocks: from the last round before to the first after.
    pub down: &'a [(NaiveDateTime, NaiveDateTime)],
    /// Letters that wait to be sent, or were refused, of the last weeks.
    pub unsent: &'a [Unsent],
    /// Dates that were given, for a season that is to be told.
    pub foretold: &'a [Foretold],
}

/// A letter that did not get out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsent {
    /// To whom.
    pub recipient: String,
    /// Its subject line.
    pub subject: String,
    /// The nursery's date on which it was written.
    pub written_on: NaiveDate,
    /// Whether it is still tried.
    pub waiting: bool,
}

/// A date that was given in a letter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Foretold {
    /// The batch.
    pub batch: String,
    /// The step whose opening it is.
    pub step: String,
    /// The grafting it holds for.
    pub grafted_on: NaiveDate,
    /// The nursery's date on which it was given.
    pub told_on: NaiveDate,
    /// Between which days it was to be.
    pub band: Band,
}

/// What one person is told of everything at once.
#[derive(Clone, Debug, PartialEq)]
pub enum Digest {
    /// Before days off.
    LookAhead(LookAhead),
    /// After days off, or after the program was down.
    CatchUp(CatchUp),
    /// What nobody has answered, once a week.
    Reminder(Reminder),
    /// Once a week.
    Weekly(Weekly),
    /// Once a season, and again when the take is counted.
    Season(Season),
}

impl Digest {
    /// The dates that are given in it.
    pub fn dates(&self) -> &[Coming] {
        match self {
            Self::LookAhead(digest) => &digest.opening,
            Self::Weekly(digest) => &digest.coming,
            Self::CatchUp(_) | Self::Reminder(_) | Self::Season(_) => &[],
        }
    }

    /// The batches whose dates or work are named in it.
    pub fn batches(&self) -> impl Iterator<Item = &str> {
        let errands: [&[Errand]; 4] = match self {
            Self::LookAhead(_) | Self::Season(_) => [&[]; 4],
            Self::CatchUp(d) => [&d.opened, &d.late, &d.limits, &d.today],
            Self::Reminder(d) => [&d.late, &d.limits, &d.over_callused, &d.standing],
            Self::Weekly(digest) => [&digest.due, &digest.pressing, &[], &[]],
        };
        let errands = errands.into_iter().flatten().map(|e| e.batch.as_str());
        let ending: [&[Coming]; 2] = match self {
            Self::LookAhead(digest) => [&digest.closing, &digest.limits],
            _ => [&[]; 2],
        };
        let dates = ending.into_iter().flatten().chain(self.dates());
        errands.chain(dates.map(|coming| coming.batch.as_str()))
    }

    /// The sites whose weather is told in it.
    pub fn sites(&self) -> impl Iterator<Item = &str> {
        let spans: &[SiteSpan] = match self {
            Self::CatchUp(digest) => &digest.sites,
            Self::Weekly(digest) => &digest.sites,
            Self::LookAhead(_) | Self::Reminder(_) | Self::Season(_) => &[],
        };
        spans.iter().map(|span| span.site.as_str())
    }
}

/// A step of a batch that is to be done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Errand {
    /// The batch.
    pub batch: String,
    /// The step or limit, by id.
    pub step: String,
    /// The day it is about: when it opened, closes, or is reached.
    pub on: NaiveDate,
}

/// A window that will open or close, or a limit that will be reached.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coming {
    /// The batch.
    pub batch: String,
    /// The step or limit, by id.
    pub step: String,
    /// The day of its grafting.
    pub grafted_on: NaiveDate,
    /// Between which days.
    pub foreseen: Foreseen,
}

/// The digests that are due, each for one person, beside what else this round tells.
pub fn news(view: &View<'_>, ledger: &Ledger, told: &[Notice]) -> Vec<Notice> {
    let of_person = |person| Desk::new(view, person).news(ledger, told);
    view.people.iter().flat_map(of_person).collect()
}

/// The season of which the summary is due for somebody in this round, so that the dates given in it can be looked up.
pub fn season_due(view: &View<'_>, ledger: &Ledger) -> Option<i32> {
    let due = |person| season::due(&Desk::new(view, person), ledger);
    view.people.iter().find_map(due).map(|(year, _)| year)
}

/// One person's view of the nursery.
pub(super) struct Desk<'a> {
    view: &'a View<'a>,
    person: &'a Person,
    workdays: Workdays,
}

impl<'a> Desk<'a> {
    fn new(view: &'a View<'a>, person: &'a Person) -> Self {
        Self {
            view,
            person,
            workdays: view.workdays.and_off(&person.off),
        }
    }

    fn news(&self, ledger: &Ledger, told: &[Notice]) -> Vec<Notice> {
        let today = self.view.today;
        if !self.workdays.works(today) {
            return Vec::new();
        }
        let mut notices = Vec::new();
        let week = today.iso_week();
        let week = format!("{}-W{:02}", week.year(), week.week());
        // What was told in a round before needs no digest again.
        let mut tell = |kind, anchor: &str, n, digest: &dyn Fn() -> Option<Digest>| {
            let told = ledger.of(kind, &self.person.email);
            if told.iter().any(|t| t.anchor == *anchor && t.n == n) {
                return;
            }
            let Some(digest) = digest() else {
                return;
            };
            let about = About::Person(self.person.email.clone());
            let standing = matches!(&digest, Digest::Reminder(r) if !r.standing.is_empty());
            notices.push(Notice {
                step: standing.then(|| reminder::STANDING.to_owned()),
                digest: Some(digest),
                ..Notice::plain(kind, about, anchor.to_owned(), n, today)
            });
        };
        if self.person.gets.contains(&Gets::Work) {
            let day = today.to_string();
            tell(Kind::CatchUp, &day, 1, &|| {
                catch_up::digest(self, ledger, told).map(Digest::CatchUp)
            });
            tell(Kind::LookAhead, &day, 1, &|| {
                look_ahead::digest(self).map(Digest::LookAhead)
            });
            tell(Kind::Reminder, &week, 1, &|| {
                reminder::digest(self, ledger).map(Digest::Reminder)
            });
        }
        if self.person.gets.contains(&Gets::Weekly) {
            tell(Kind::Weekly, &week, 1, &|| {
                weekly::digest(self, ledger, told).map(Digest::Weekly)
            });
            if let Some((year, n)) = season::due(self, ledger) {
                let (place, foretold) = (self.hemisphere(), self.view.diary.foretold);
                tell(Kind::Season, &year.to_string(), n, &|| {
                    Some(Digest::Season(season(year, self.cares(), place, foretold)))
                });
            }
        }
        notices
    }

    fn hemisphere(&self) -> Hemisphere {
        let first = self.view.grounds.first();
        first.map_or(Hemisphere::North, |ground| ground.site.hemisphere())
    }

    /// Every batch of theirs, finished ones too.
    fn cares(&self) -> impl Iterator<Item = &'a BatchCare<'a>> + Clone {
        let person = self.person;
        self.view.cares.iter().filter(move |care| {
            person.cares_for_site(&care.batch.site) && person.cares_for_block(&care.batch.block)
        })
    }

    /// Their batches on one site on which something is left to do.
    fn open_on(&self, site: &'a str) -> impl Iterator<Item = &'a BatchCare<'a>> + Clone {
        let person = self.person;
        let here = on_site(self.view.cares, site).iter();
        here.filter(move |care| {
            person.cares_for_site(site)
                && person.cares_for_block(&care.batch.block)
                && care.is_open()
        })
    }

    /// Their batches on which something is left to do.
    fn open(&self) -> impl Iterator<Item = &'a BatchCare<'a>> + Clone {
        self.cares().filter(|care| care.is_open())
    }

    /// Their windows that are open or late, in the order in which one walks: by site, block and batch. What has been late for
    /// a month is no work of today's any more, but a question that the reminder asks.
    fn due(&self) -> impl Iterator<Item = (&'a BatchCare<'a>, &'a StepCare<'a>)> {
        let today = self.view.today;
        self.due_or_standing()
            .filter(move |(_, step)| !reminder::is_standing(step, today))
    }

    fn due_or_standing(&self) -> impl Iterator<Item = (&'a BatchCare<'a>, &'a StepCare<'a>)> {
        self.open().flat_map(|care| {
            let due = care.steps.iter().filter(|step| step.state.is_due());
            due.map(move |step| (care, step))
        })
    }

    /// Their early looks that were asked for and are not answered.
    fn early(&self, ledger: &Ledger, told: &[Notice]) -> Vec<Errand> {
        let told: HashSet<&str> = looks::early(told).collect();
        let look = |care: &BatchCare<'_>| {
            let now = told.contains(care.batch.name.as_str());
            let look = looks::asked_early(care, ledger, now)?;
            Some(errand(care, &look.step.id, NaiveDate::MAX))
        };
        self.open().filter_map(look).collect()
    }

    /// What is due today with early looks among it, in the order in which one walks.
    fn walk(&self, mut due: Vec<Errand>, early: Vec<Errand>) -> Vec<Errand> {
        let names = self.open().map(|care| care.batch.name.as_str());
        let places: HashMap<&str, usize> = names.zip(0..).collect();
        due.extend(early);
        due.sort_by_key(|errand| places.get(errand.batch.as_str()));
        due
    }

    /// Their windows that may open before `end`: those of which one in ten futures says so.
    fn coming(&self, end: NaiveDate) -> Vec<Coming> {
        let ahead = self.open().flat_map(|care| {
            let ahead = care.steps.iter();
            let ahead = ahead.filter(|step| step.state == State::Ahead && !step.is_conditional());
            ahead.filter_map(move |step| coming(care, step, self.view.outlook))
        });
        let mut coming: Vec<Coming> = ahead
            .filter(|c| c.foreseen.band.p10.is_some_and(|day| day < end))
            .collect();
        coming.sort_by_key(|c| (c.foreseen.band.p50.is_none(), c.foreseen.band.p50));
        coming
    }
}

fn coming(care: &BatchCare<'_>, step: &StepCare<'_>, outlook: &Outlook<'_>) -> Option<Coming> {
    let foreseen = outlook
        .of(care, step)
        .or_else(|| step.opened.map(|opened| Foreseen::certain(opened.on)))?;
    Some(coming_of(care, &step.step.id, foreseen))
}

fn coming_of(care: &BatchCare<'_>, id: &str, foreseen: Foreseen) -> Coming {
    Coming {
        batch: care.batch.name.clone(),
        step: id.to_owned(),
        grafted_on: care.batch.grafted_on,
        foreseen,
    }
}

fn errand(care: &BatchCare<'_>, step: &str, on: NaiveDate) -> Errand {
    Errand {
        batch: care.batch.name.clone(),
        step: step.to_owned(),
        on,
    }
}

#[cfg(test)]
mod tests;
