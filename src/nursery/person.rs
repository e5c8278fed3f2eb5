//! A person who gets letters.

use chrono::NaiveDate;

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
}

impl Person {
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
