//! One thing worth telling, its key, and the ledger of what was told.

use super::summary::Digest;
use crate::care::{By, Level};
use crate::nursery::Gets;
use crate::texts::Text;
use crate::units::{DegreeDays, StandardDays};
use chrono::NaiveDate;
use std::collections::HashMap;

/// The kinds of news.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    /// Callus was seen to grow over scions.
    OverCallused,
    /// A batch may be over-callused before anybody can act.
    OverCallusRisk,
    /// A spell of heat touches unions.
    HeatSpike,
    /// Gusts may blow untied scions out.
    Wind,
    /// Frost may hurt soft growth.
    Frost,
    /// What happened while this person was away, and what is to be done.
    CatchUp,
    /// Today is the last working day on which a window is open.
    LastCall,
    /// A window has opened.
    Opens,
    /// A sister of a batch shows callus lines.
    Sisters,
    /// One batch of a scion is to be looked at early, to learn.
    Sentinel,
    /// A window has closed without its work.
    Late,
    /// Rain may have got under new tape.
    Rain,
    /// A risk that was told is not there any more, by a later forecast.
    RiskOver,
    /// A spell of heat that was told is over.
    SpellOver,
    /// Cold days running have moved windows out.
    ColdStall,
    /// A window that was told of is not open after all.
    NoLongerDue,
    /// What will be due before this person is back.
    LookAhead,
    /// A window will open before the next working day.
    HeadsUp,
    /// The last safe day for grafting comes in two weeks.
    LastGraft,
    /// No measured or modelled temperature for a day and a half.
    NoTemperatures,
    /// Something could not be read, fetched or sent.
    Trouble,
    /// What was told and nobody has answered.
    Reminder,
    /// The week: what is due, and the fortnight to come.
    Weekly,
    /// What became of a season's grafts.
    Season,
}

impl Kind {
    /// Every kind, the most pressing first.
    pub const ALL: [Self; 24] = [
        Self::OverCallused,
        Self::OverCallusRisk,
        Self::HeatSpike,
        Self::Wind,
        Self::Frost,
        Self::CatchUp,
        Self::LastCall,
        Self::Opens,
        Self::Sisters,
        Self::Sentinel,
        Self::Late,
        Self::Rain,
        Self::RiskOver,
        Self::SpellOver,
        Self::ColdStall,
        Self::NoLongerDue,
        Self::LookAhead,
        Self::HeadsUp,
        Self::LastGraft,
        Self::NoTemperatures,
        Self::Trouble,
        Self::Reminder,
        Self::Weekly,
        Self::Season,
    ];

    /// The word used in the ledger and in `--json`.
    pub fn name(self) -> &'static str {
        match self {
            Self::OverCallused => "over-callused",
            Self::OverCallusRisk => "over-callus-risk",
            Self::HeatSpike => "heat-spike",
            Self::Wind => "wind",
            Self::Frost => "frost",
            Self::CatchUp => "catch-up",
            Self::Opens => "opens",
            Self::LastCall => "last-call",
            Self::Sisters => "sisters",
            Self::Sentinel => "sentinel",
            Self::Late => "late",
            Self::Rain => "rain",
            Self::RiskOver => "risk-over",
            Self::SpellOver => "spell-over",
            Self::ColdStall => "cold-stall",
            Self::NoLongerDue => "no-longer-due",
            Self::LookAhead => "look-ahead",
            Self::HeadsUp => "heads-up",
            Self::LastGraft => "last-graft-date",
            Self::NoTemperatures => "no-temperatures",
            Self::Trouble => "trouble",
            Self::Reminder => "reminder",
            Self::Weekly => "weekly",
            Self::Season => "season",
        }
    }

    /// The kind of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|k| k.name() == name)
    }

    /// Whether it sends people to the work that ends the risk of a limit.
    pub fn is_of_limit(self) -> bool {
        matches!(self, Self::OverCallused | Self::OverCallusRisk)
    }
}

/// What a notice is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum About {
    /// One batch.
    Batch {
        /// Its name.
        name: String,
        /// Its site.
        site: String,
        /// Its block.
        block: String,
    },
    /// A whole site.
    Site(String),
    /// The nursery's files, services and mail.
    Nursery,
    /// What concerns one person, by address.
    Person(String),
}

/// One thing worth telling.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    /// The kind of news.
    pub kind: Kind,
    /// What it is about.
    pub about: About,
    /// The step or limit, by id. For a risk that is over, what it was: the limit, or the kind of notice that told it; for a
    /// frost, how hard; for a reminder, whether it has what has stood for a month.
    pub step: Option<String>,
    /// What it hangs on: grafting and turn, first day of a spell, last day with temperatures, content of a row.
    pub anchor: String,
    /// The how-manieth of its kind on that anchor, from 1.
    pub n: u32,
    /// The day whose end met the rule.
    pub on: NaiveDate,
    /// For a spell and the like, its last day so far. For a limit and a close that no forecast reaches, the middle of the days
    /// on which they are foreseen: `on` is the earliest tenth of these.
    pub until: Option<NaiveDate>,
    /// For a spell, how hot.
    pub level: Option<Level>,
    /// Heat of the batch at the end of `on`; none where a day is unknown.
    pub heat: Option<DegreeDays>,
    /// The same in standard days.
    pub standard_days: Option<StandardDays>,
    /// Days from grafting to `on`.
    pub days: Option<i64>,
    /// What opened the window.
    pub by: Option<By>,
    /// Told at once, on days off too.
    pub urgent: bool,
    /// For a spell and the like, the batches it touches; for the last day for grafting, those of its plan.
    pub batches: Vec<String>,
    /// For trouble, the sentence.
    pub say: String,
    /// For what one person is told of everything at once.
    pub digest: Option<Digest>,
}

impl Notice {
    /// A notice without figures.
    pub fn plain(
        kind: Kind,
        about: About,
        anchor: impl Into<String>,
        n: u32,
        on: NaiveDate,
    ) -> Self {
        Self {
            kind,
            about,
            step: None,
            anchor: anchor.into(),
            n,
            on,
            until: None,
            level: None,
            heat: None,
            standard_days: None,
            days: None,
            by: None,
            urgent: false,
            batches: Vec::new(),
            say: String::new(),
            digest: None,
        }
    }

    /// Its identity: a notice is decided once, by key.
    pub fn key(&self) -> String {
        let step = self.step.as_deref().unwrap_or_default();
        let level = self.level.map_or("", Level::name);
        format!(
            "{}|{}|{step}|{}|{level}|{}",
            self.kind.name(),
            self.about.subject(),
            self.anchor,
            self.n
        )
    }

    /// The news people have to ask for to be told this. That a risk is over goes to those who were told of it.
    pub fn wanted_by(&self) -> Gets {
        let of_work = [Kind::Frost, Kind::Rain].map(Kind::name);
        match self.kind {
            Kind::NoTemperatures | Kind::Trouble => Gets::Trouble,
            Kind::Weekly | Kind::Season => Gets::Weekly,
            Kind::RiskOver if !of_work.contains(&self.step.as_deref().unwrap_or_default()) => {
                Gets::Urgent
            }
            _ if self.urgent => Gets::Urgent,
            _ => Gets::Work,
        }
    }
}

impl About {
    /// The batch, site or person it names; empty for the nursery.
    pub fn subject(&self) -> &str {
        match self {
            Self::Batch { name, .. } => name,
            Self::Site(site) => site,
            Self::Person(email) => email,
            Self::Nursery => "",
        }
    }

    /// The site, where it has one.
    pub fn site(&self) -> Option<&str> {
        match self {
            Self::Batch { site, .. } | Self::Site(site) => Some(site),
            Self::Nursery | Self::Person(_) => None,
        }
    }

    /// The block, where it has one.
    pub fn block(&self) -> Option<&str> {
        match self {
            Self::Batch { block, .. } => Some(block),
            Self::Site(_) | Self::Nursery | Self::Person(_) => None,
        }
    }

    /// The batch, where it has one.
    pub fn batch(&self) -> Option<&str> {
        match self {
            Self::Batch { name, .. } => Some(name),
            Self::Site(_) | Self::Nursery | Self::Person(_) => None,
        }
    }
}

/// One line of the ledger: what decisions need to know of a notice that was told.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// What kind of notice it was.
    pub kind: Kind,
    /// The step or limit, by id; empty where there is none.
    pub step: Text,
    /// See [`Notice::anchor`].
    pub anchor: Text,
    /// See [`Notice::n`].
    pub n: u32,
    /// See [`Notice::on`].
    pub on: NaiveDate,
    /// See [`Notice::until`].
    pub until: Option<NaiveDate>,
    /// See [`Notice::level`].
    pub level: Option<Level>,
    /// The nursery's date when it was told.
    pub told_on: NaiveDate,
}

/// Of most subjects no more was told than this: room is made for line by line.
const FEW: usize = 8;

/// What was told, by subject: of a large nursery there are millions of lines.
#[derive(Clone, Debug, Default)]
pub struct Ledger {
    /// Of each subject by kind, and those of a kind in the order in which they were told.
    told: HashMap<Box<str>, Vec<Told>>,
}

impl Ledger {
    /// Enters one line. Lines are entered in the order in which they were told.
    pub fn enter(&mut self, subject: &str, told: Told) {
        let lines = match self.told.get_mut(subject) {
            Some(lines) => lines,
            None => self.told.entry(subject.into()).or_default(),
        };
        if lines.len() < FEW {
            lines.reserve_exact(1);
        }
        let at = lines.partition_point(|line| line.kind <= told.kind);
        lines.insert(at, told);
    }

    /// What was told of that kind about that subject, in order.
    pub fn of(&self, kind: Kind, subject: &str) -> &[Told] {
        let lines = self.told.get(subject).map_or(&[][..], Vec::as_slice);
        let first = lines.partition_point(|line| line.kind < kind);
        let many = lines[first..].partition_point(|line| line.kind == kind);
        &lines[first..first + many]
    }
}
