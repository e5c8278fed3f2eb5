//! A person who gets letters.

use super::Quiet;
use crate::units::Units;
use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

/// Somebody who gets letters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Person {
    /// The name on the letter.
    pub name: String,
    /// The address.
    pub email: String,
    /// What they want to be told.
    pub gets: Vec<Gets>,
    /// Only these sites; empty means all.
    pub sites: Vec<String>,
    /// Only these blocks; empty means all.
    pub blocks: Vec<String>,
    /// Spans in which they are away, beside the nursery's days off; both ends included.
    pub off: Vec<(NaiveDate, NaiveDate)>,
    /// The measures they read; none for the nursery's.
    pub units: Option<Units>,
    /// The hours in which they want no letters.
    pub quiet: Option<Quiet>,
    /// Whether urgent letters come in these hours too.
    pub urgent_always: bool,
}

impl Person {
    /// Somebody who is told everything, at any hour.
    pub fn new(name: &str, email: &str) -> Self {
        Self {
            name: name.to_owned(),
            email: email.to_owned(),
            gets: Gets::ALL.to_vec(),
            sites: Vec::new(),
            blocks: Vec::new(),
            off: Vec::new(),
            units: None,
            quiet: None,
            urgent_always: false,
        }
    }

    /// Until when a letter to them has to wait; none where it may go. Quiet hours are by the clocks of `zone`.
    pub fn held_until(&self, urgent: bool, now: DateTime<Utc>, zone: Tz) -> Option<DateTime<Utc>> {
        let quiet = self.quiet.filter(|_| !(urgent && self.urgent_always))?;
        quiet.ends(now, zone)
    }

    /// Whether a record's `by` names them: by their whole name or the first word of it.
    pub fn is_called(&self, name: &str) -> bool {
        let name = name.trim().to_lowercase();
        let own = self.name.to_lowercase();
        own == name || own.split_whitespace().next() == Some(&name)
    }

    /// Whether they are away on that day.
    pub fn is_off(&self, day: NaiveDate) -> bool {
        self.off
            .iter()
            .any(|&(from, to)| (from..=to).contains(&day))
    }

    /// Whether a site is one of theirs.
    pub fn cares_for_site(&self, site: &str) -> bool {
        within(&self.sites, site)
    }

    /// Whether a block is one of theirs.
    pub fn cares_for_block(&self, block: &str) -> bool {
        within(&self.blocks, block)
    }
}

fn within(chosen: &[String], name: &str) -> bool {
    chosen.is_empty() || chosen.iter().any(|c| c.eq_ignore_ascii_case(name))
}

/// The kinds of news a person may ask for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Gets {
    /// What is due.
    Work,
    /// What cannot wait for a working day.
    Urgent,
    /// The weekly look.
    Weekly,
    /// What the program could not read, fetch or send.
    Trouble,
}

impl Gets {
    /// Every kind, in the order of the documentation.
    pub const ALL: [Self; 4] = [Self::Work, Self::Urgent, Self::Weekly, Self::Trouble];

    /// The word used in the config.
    pub fn name(self) -> &'static str {
        match self {
            Self::Work => "work",
            Self::Urgent => "urgent",
            Self::Weekly => "weekly",
            Self::Trouble => "trouble",
        }
    }

    /// The kind of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|g| g.name() == name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveTime;

    /// Quiet from 20:30 to 05:30; whether a letter waits at 22:00 in Brussels, an urgent one, and either of them at noon.
    #[track_caller]
    fn check(urgent_always: bool, expected: [bool; 4]) {
        let time = |hour, minute| NaiveTime::from_hms_opt(hour, minute, 0).unwrap();
        let maren = Person {
            quiet: Quiet::new(time(20, 30), time(5, 30)),
            urgent_always,
            ..Person::new("Maren Holt", "maren@alderfold.example")
        };
        let waits = |urgent, at: &str| {
            let at = at.parse().unwrap();
            let until = maren.held_until(urgent, at, chrono_tz::Europe::Brussels);
            assert!(until.is_none_or(|until| until.to_rfc3339() == "2026-07-21T03:30:00+00:00"));
            until.is_some()
        };
        let (night, noon) = ("2026-07-20T20:00:00Z", "2026-07-20T10:00:00Z");
        let found = [(false, night), (true, night), (false, noon), (true, noon)];
        assert_eq!(found.map(|(urgent, at)| waits(urgent, at)), expected);
    }

    #[test]
    fn urgent_letters_break_quiet_hours_only_where_the_person_said_so() {
        check(false, [true, true, false, false]);
        check(true, [true, false, false, false]);
    }

    #[test]
    fn without_quiet_hours_nothing_waits() {
        let maren = Person::new("Maren Holt", "maren@alderfold.example");
        let night = "2026-07-20T20:00:00Z".parse().unwrap();
        assert_eq!(maren.held_until(false, night, chrono_tz::UTC), None);
    }
}
