//! Graftwarden follows the warmth that every batch of field grafts has had and tells the grower what is due.
//!
//! The modules stand in the order in which data flows: words, pure core, shell.
//! DEVELOPERS.md has the map and the rules.

// words: plain types, no behaviour beyond their own validity
pub mod excerpt;
pub mod fingerprint;
pub mod nursery;
pub mod problem;
pub mod texts;
pub mod units;

// pure core: values in, values out
pub mod days;
pub mod heat;

pub mod outlook;

pub mod care;
pub mod notices;

pub mod letters;
pub mod pages;

// shell: each file meets one outside thing and turns it into our words
pub mod clock;
pub mod config;
pub mod health;
pub mod lock;
pub mod post;
pub mod register;
pub mod replies;
pub mod roots;
pub mod schedule;
pub mod sheet;
pub mod store;
pub mod weather;
pub mod whole_file;

// the line walked: put together, surveyed, walked once, played through
pub mod assemble;
pub mod condition;
pub mod rehearsal;
pub mod round;
pub mod survey;

// the commands
pub mod cli;
pub mod watch;

#[cfg(test)]
mod kept;
