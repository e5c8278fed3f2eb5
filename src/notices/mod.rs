//! Notices: what is worth telling and has not been told.
//!
//! `decide` sets what `care` found against the ledger of what was told and gives the news as data. It sends nothing
//! and writes nothing down.

mod decide;
mod notice;
mod summary;

#[cfg(test)]
pub(crate) use decide::tests as seasons;
pub use decide::{View, decide};
pub use notice::{About, Kind, Ledger, Notice, Told};
pub use summary::{
    CatchUp, Coming, Diary, Digest, Errand, Foretold, Held, LookAhead, Reminder, Season, Share,
    SiteSpan, ToLines, Unsent, Weekly, season, season_due,
};
