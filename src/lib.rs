//! Graftwarden follows the warmth that every batch of field grafts has had and tells the grower what is due.
//!
//! The modules stand in the order in which data flows: words, pure core, shell.
//! DEVELOPERS.md has the map and the rules.

// words: plain types, no behaviour beyond their own validity
pub mod nursery;
pub mod problem;
pub mod units;

// pure core: values in, values out
pub mod days;
pub mod heat;

pub mod care;
pub mod letters;
pub mod notices;

// shell: each file meets one outside thing and turns it into our words
pub mod store;
pub mod weather;
