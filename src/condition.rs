//! How the house stands: what somebody wants to know who looks at it from outside.
//!
//! Read from the memory and the config alone, without asking or touching anything. The same is printed by `check
//! --running`, written for other programs by `openmetrics`, and decides whether a round was a good one. Mends nothing.

mod openmetrics;

pub use openmetrics::openmetrics;

use crate::clock::{self, Known};
use crate::config::Config;
use crate::letters::count_of;
use crate::round::long_failing;
use crate::store::{Memory, Outbox, StoreError};
use crate::survey::source_names;
use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;
use std::collections::BTreeMap;

/// A round that is late by no more than this was not missed.
const IN_TIME: TimeDelta = TimeDelta::hours(2);
/// A site with work to come must know a measured or modelled day no longer ago than this after its end.
const KNOWN_WITHIN: TimeDelta = TimeDelta::hours(36);
/// A letter that was tried in vain for longer than this is stuck.
const STUCK: TimeDelta = TimeDelta::hours(12);

/// The names of facts that rounds leave for whoever looks.
pub const GOOD_ROUND: &str = "last good round";
/// The sites with batches that are not finished, with line ends between them.
pub const OPEN_SITES: &str = "sites with open batches";
/// Why the running service could not take a changed config; empty where it could.
pub const CONFIG_REFUSED: &str = "config refused";
/// Why the register could not be read; empty where it could.
pub const NO_REGISTER: &str = "register not read";
/// When the memory was last copied.
pub const LAST_BACKUP: &str = "last backup";
/// Since which day it could not be copied, why, and what to do, a line each; empty where it could.
pub const NOT_BACKED_UP: &str = "not backed up";

/// How the house stands at a moment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Condition {
    /// The moment.
    pub now: DateTime<Utc>,
    /// The nursery's time zone.
    pub zone: Tz,
    /// The last round.
    pub last_round: Option<DateTime<Utc>>,
    /// The last round in which nothing hindered the work.
    pub last_good_round: Option<DateTime<Utc>>,
    /// When the memory was last copied.
    pub last_backup: Option<DateTime<Utc>>,
    /// When the next round is due.
    pub next_round: Option<DateTime<Utc>>,
    /// Every site, in the order of the config.
    pub sites: Vec<SiteCondition>,
    /// Every source of each that was asked, in the order of the config.
    pub sources: Vec<SourceCondition>,
    /// What lies in the outbox.
    pub outbox: Outbox,
    /// How many notices were told, by kind.
    pub notices: BTreeMap<String, u32>,
    /// What hinders the work.
    pub hindrances: Vec<String>,
    /// What is amiss beside that.
    pub amiss: Vec<String>,
}

/// How a site stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SiteCondition {
    /// Its id.
    pub id: String,
    /// Whether batches there are not finished.
    pub open: bool,
    /// The last day that was measured or modelled.
    pub last_measured: Option<NaiveDate>,
    /// How long ago that day ended, by the site's clocks; never negative.
    pub age: Option<TimeDelta>,
}

/// How a service stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceCondition {
    /// The site.
    pub site: String,
    /// The name under which its days are stored.
    pub source: String,
    /// When it last answered; none for files.
    pub answered_at: Option<DateTime<Utc>>,
    /// Since when it fails.
    pub failing_since: Option<DateTime<Utc>>,
}

impl Condition {
    /// Reads how the house stands.
    pub fn read(
        memory: &Memory<'_>,
        config: &Config,
        now: DateTime<Utc>,
    ) -> Result<Self, StoreError> {
        let open = memory.fact(OPEN_SITES)?.unwrap_or_default();
        let open: Vec<&str> = open.lines().collect();
        let mut condition = Self {
            now,
            zone: config.zone,
            last_round: memory.last_round()?,
            last_good_round: memory.moment_of(GOOD_ROUND)?,
            last_backup: memory.moment_of(LAST_BACKUP)?,
            next_round: config
                .schedule
                .next_after(now, config.zone)
                .map(|slot| slot.at),
            sites: Vec::new(),
            sources: Vec::new(),
            outbox: memory.outbox()?,
            notices: memory.told_by_kind()?,
            hindrances: Vec::new(),
            amiss: Vec::new(),
        };
        for site in &config.sites {
            let id = &site.site.id;
            let last_measured = memory.last_measured(id)?;
            let end = last_measured.and_then(|day| day.succ_opt());
            let end = end.and_then(|day| {
                let midnight = day.and_time(NaiveTime::MIN);
                site.site.zone.from_local_datetime(&midnight).earliest()
            });
            condition.sites.push(SiteCondition {
                id: id.clone(),
                open: open.contains(&id.as_str()),
                last_measured,
                age: end.map(|end| (now - end.to_utc()).max(TimeDelta::zero())),
            });
            for name in source_names(site.weather.len(), |i| site.weather[i].name()) {
                let known = memory.source(id, &name)?;
                condition.sources.push(SourceCondition {
                    site: id.clone(),
                    source: name,
                    answered_at: known.answered_at,
                    failing_since: known.failing_since,
                });
            }
        }
        condition.hindrances = condition.hindrances(memory)?;
        condition.amiss = condition.amiss(memory, config)?;
        Ok(condition)
    }

    /// Whether nothing is amiss.
    pub fn is_well(&self) -> bool {
        self.hindrances.is_empty() && self.amiss.is_empty()
    }

    /// A moment by the nursery's clocks, see [`shown`].
    pub fn shown(&self, at: DateTime<Utc>) -> String {
        shown(at, self.zone)
    }

    fn hindrances(&self, memory: &Memory<'_>) -> Result<Vec<String>, StoreError> {
        let mut found = Vec::new();
        for site in self.sites.iter().filter(|site| site.open) {
            if site.age.is_none_or(|age| age > KNOWN_WITHIN) {
                found.push(match site.last_measured {
                    Some(day) => format!("site {}: no temperatures since {day}", site.id),
                    None => format!("site {}: no temperatures at all", site.id),
                });
            }
        }
        if let Some(since) = self.outbox.stuck.filter(|&at| self.now - at > STUCK) {
            found.push(format!(
                "letters do not get out: {} waiting, the oldest since {}",
                count_of(self.outbox.waiting, "letter"),
                self.shown(since)
            ));
        }
        let why = memory.fact(NO_REGISTER)?.filter(|why| !why.is_empty());
        found.extend(why);
        if let Some(since) = long_failing(memory, self.now)? {
            found.push(format!(
                "the mailbox with answers cannot be read since {}",
                self.shown(since)
            ));
        }
        Ok(found)
    }

    fn amiss(&self, memory: &Memory<'_>, config: &Config) -> Result<Vec<String>, StoreError> {
        let mut found = Vec::new();
        let known = Known {
            right_at: memory.clock_right_at()?,
            ..Known::default()
        };
        if let Some(doubt) = clock::doubt(self.now, &known) {
            found.push(doubt.to_string());
        }
        match self.last_round {
            None => found.push("no round was walked yet".into()),
            Some(last) => {
                let upto = self.now - IN_TIME;
                let missed = config.schedule.scheduled_between(last, upto, config.zone);
                if let Some(slot) = missed.first() {
                    found.push(format!(
                        "no round was walked since {}, though one was due {}",
                        self.shown(last),
                        self.shown(slot.at)
                    ));
                }
            }
        }
        let why = memory.fact(CONFIG_REFUSED)?.filter(|why| !why.is_empty());
        found.extend(why);
        let no_backup = memory.fact(NOT_BACKED_UP)?.unwrap_or_default();
        if let [since, why, ..] = no_backup.split('\n').collect::<Vec<_>>()[..] {
            found.push(format!("no backup of the memory since {since}: {why}"));
        }
        Ok(found)
    }
}

/// A moment by the nursery's clocks, with the name of their time: "2026-07-03 06:10 CEST".
pub fn shown(at: DateTime<Utc>, zone: Tz) -> String {
    at.with_timezone(&zone)
        .format("%Y-%m-%d %H:%M %Z")
        .to_string()
}
