//! A person who gets letters.

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
