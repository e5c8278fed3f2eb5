//! Letters: what is said, to whom, in which words.
//!
//! `letter` bundles one person's notices by what must be done and where, `sections` puts each into words, `answer` says
//! how to answer; `text` and `html` write the whole out. `calendar` says the windows as dates for a phone. Nothing here knows how
//! a letter travels.

mod answer;
mod asked;
pub mod calendar;
pub mod cautions;
mod chart;
mod either;
pub mod grafting;
mod html;
mod letter;
mod named;
mod places;
pub mod receipt;
mod sections;
mod small_print;
#[cfg(test)]
pub(crate) mod tests;
mod text;
mod topic;
mod words;

pub use answer::{Answer, Reply, ReplyTo};
pub use chart::{Chart, chart_of};
pub use letter::{
    Asked, Context, Letter, Paragraph, Place, PutBack, Row, Section, SourceNote, addressed,
    compose, instructions,
};
pub use named::ByName;
pub use places::{block_of, heat_so_far};
pub use sections::{season_section, written_since};
pub use small_print::{small_print_of, tuned_groups};
pub use topic::Topic;
pub use words::{
    about, capital, count_of, crew_time, day, day_near, day_short, from_to, grouped, list, moment,
    names, span, tuned,
};
