//! What became of one line, as a receipt says it.

use super::said::questions;
use crate::letters::receipt::{Became, Line};
use crate::replies::Noted;

/// A line of which nothing was written down, and why.
pub fn not(said: &str, why: &str) -> Line {
    Line {
        said: said.to_owned(),
        became: Became::Not(why.to_owned()),
    }
}

/// A word to the program that changes nothing, and why.
pub fn unchanged(said: &str, why: &str) -> Line {
    Line {
        said: said.to_owned(),
        became: Became::Unchanged(why.to_owned()),
    }
}

/// The line of a receipt for what was written down, and one for each thing that was left out.
pub fn written(words: &str, noted: Vec<Noted>, left: &[String]) -> Vec<Line> {
    let questions = questions(&noted);
    let records = noted.into_iter().map(|one| one.record).collect();
    let first = Line {
        said: words.to_owned(),
        became: Became::Written { records, questions },
    };
    let left = left.iter().map(|why| not(words, why));
    std::iter::once(first).chain(left).collect()
}
