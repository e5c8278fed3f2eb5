//! A field record: something seen or done in the field on a day.

use super::Batch;
use chrono::NaiveDate;

/// One row of the field records, or one `note`.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// The day on which it was seen or done.
    pub date: NaiveDate,
    /// What it is about.
    pub target: Target,
    /// The word.
    pub what: What,
    /// How many, or how long; empty means all that is left.
    pub count: Option<Count>,
    /// Who; may be empty.
    pub by: String,
    /// May be empty; for `retract` the word taken back.
    pub remarks: String,
}

impl Record {
    /// Whether it is about that batch, by name or with its block.
    pub fn is_about(&self, batch: &Batch) -> bool {
        match &self.target {
            Target::Batch(name) => *name == batch.name,
            Target::Block(block) => block.to_lowercase() == batch.block.to_lowercase(),
        }
    }
}

/// The word that a record counts as: `lines` that saw none of those looked at is `no-lines`.
pub fn counts_as(record: &Record) -> What {
    match (record.what, record.count) {
        (What::Lines, Some(Count::Share(0, _))) => What::NoLines,
        (what, _) => what,
    }
}

/// What a record is about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Target {
    /// One batch, by name.
    Batch(String),
    /// Every batch of a block that has the step open; written `block:C`.
    Block(String),
}

/// A number in the count column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Count {
    /// Grafts, or centimetres for `head-length`; not negative.
    Of(f64),
    /// Seen on so many of so many looked at (`3/10`).
    Share(u32, u32),
}

/// The words of the field records.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(
    missing_docs,
    reason = "the words are the trade's own and documented in config/"
)]
pub enum What {
    Lines,
    NoLines,
    OverCallused,
    HeadedBack,
    HeadedBackAgain,
    TapeOff,
    TapeEased,
    TiedIn,
    SuckersRubbed,
    Looked,
    Take,
    Lost,
    Dead,
    Regrafted,
    Stumped,
    HeadLength,
    Docked,
    Closed,
    Retract,
}

impl What {
    /// Every word, in the order of the documentation.
    pub const ALL: [Self; 19] = [
        Self::Lines,
        Self::NoLines,
        Self::OverCallused,
        Self::HeadedBack,
        Self::HeadedBackAgain,
        Self::TapeOff,
        Self::TapeEased,
        Self::TiedIn,
        Self::SuckersRubbed,
        Self::Looked,
        Self::Take,
        Self::Lost,
        Self::Dead,
        Self::Regrafted,
        Self::Stumped,
        Self::HeadLength,
        Self::Docked,
        Self::Closed,
        Self::Retract,
    ];

    /// The word as written in files and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Lines => "lines",
            Self::NoLines => "no-lines",
            Self::OverCallused => "over-callused",
            Self::HeadedBack => "headed-back",
            Self::HeadedBackAgain => "headed-back-again",
            Self::TapeOff => "tape-off",
            Self::TapeEased => "tape-eased",
            Self::TiedIn => "tied-in",
            Self::SuckersRubbed => "suckers-rubbed",
            Self::Looked => "looked",
            Self::Take => "take",
            Self::Lost => "lost",
            Self::Dead => "dead",
            Self::Regrafted => "regrafted",
            Self::Stumped => "stumped",
            Self::HeadLength => "head-length",
            Self::Docked => "docked",
            Self::Closed => "closed",
            Self::Retract => "retract",
        }
    }

    /// The word of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|w| w.name() == name)
    }

    /// Work on grafts: its counts add up until the batch is done.
    pub fn is_work(self) -> bool {
        matches!(
            self,
            Self::HeadedBack
                | Self::HeadedBackAgain
                | Self::TapeOff
                | Self::TiedIn
                | Self::SuckersRubbed
                | Self::Regrafted
                | Self::Stumped
                | Self::Docked
        )
    }
}
