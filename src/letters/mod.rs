//! Letters: what is said, to whom, in which words.
//!
//! `letter` bundles one person's notices by what must be done and where, `sections` puts each into words, `answer` says
//! how to answer; `text` and `html` write the whole out. Nothing here knows how a letter travels.

mod answer;
mod cautions;
mod chart;
pub mod grafting;
mod html;
mod letter;
mod named;
mod places;
mod sections;
mod small_print;
#[cfg(test)]
mod tests;
mod text;
mod words;

pub use answer::{Answer, Reply};
pub use letter::{
    Asked, Context, Letter, Paragraph, Place, Row, Section, SourceNote, addressed, compose,
};
pub use named::ByName;
pub use sections::season_section;
pub use words::{about, capital, count_of, day, day_short, from_to, grouped, list, span, tuned};
