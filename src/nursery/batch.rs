//! A batch: grafts of one scion on one stock, made on one day in one block.

use crate::texts::Text;
use chrono::NaiveDate;

/// One row of the register.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Batch {
    /// Its name, which is its identity.
    pub name: String,
    /// The site it stands on.
    pub site: Text,
    /// The block it stands in.
    pub block: Text,
    /// The name of its care plan.
    pub plan: Text,
    /// What was grafted.
    pub scion: Text,
    /// Onto what.
    pub understock: Text,
    /// How the stock grows.
    pub vigour: Vigour,
    /// How many grafts were made; at least 1.
    pub grafts: u32,
    /// The day on which they were made.
    pub grafted_on: NaiveDate,
    /// Who made them; may be empty.
    pub by: Text,
    /// May be empty.
    pub remarks: String,
}

/// How strongly the stock grows: a strong one reaches over-callusing sooner.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Vigour {
    /// Slow, hungry or dry.
    Weak,
    /// As most.
    #[default]
    Usual,
    /// Fed, irrigated.
    Strong,
}

impl Vigour {
    /// Every vigour.
    pub const ALL: [Self; 3] = [Self::Weak, Self::Usual, Self::Strong];

    /// The word used in the register.
    pub fn name(self) -> &'static str {
        match self {
            Self::Weak => "weak",
            Self::Usual => "usual",
            Self::Strong => "strong",
        }
    }

    /// The vigour of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|v| v.name() == name)
    }
}
