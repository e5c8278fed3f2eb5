//! What the words of a line name, sorted by [`super::told::parts`].

use super::Asking;
use super::clause::Part;
use super::phrases::Did;
use super::tokens::Word;

/// What a line names.
pub struct Named<'a> {
    pub parts: Vec<Part<'a>>,
    /// The words that are left.
    pub rest: Vec<Word>,
    /// A word for what was done that may mean something else.
    pub weak: Option<String>,
    /// Whether it names somebody beside its sender.
    pub others: bool,
}

impl Named<'_> {
    /// Whether it says what was seen or done.
    pub fn says_what(&self) -> bool {
        self.dids().next().is_some()
    }

    /// "Head back not yet", "C-14 head back not yet".
    pub fn is_work_not_yet(&self) -> bool {
        let work = |p: &Part<'_>| matches!(p, Part::Did(Did::This(what)) if what.is_work());
        let only_work = self.parts.iter().all(|p| work(p) || p.is_place());
        self.dids().count() == 1 && only_work && texts(&self.rest) == ["not", "yet"]
    }

    /// The words for what was seen or done.
    pub fn dids(&self) -> impl Iterator<Item = Did> {
        self.parts.iter().filter_map(|part| match part {
            Part::Did(did) => Some(*did),
            _ => None,
        })
    }

    /// A batch to show how a line is written: the first that this one names, else one of the letter's.
    pub fn like(&self, asking: &Asking<'_>) -> String {
        let named = self.parts.iter().find_map(|part| match part {
            Part::Batch(care) => Some(care.batch.name.as_str()),
            _ => None,
        });
        asking.like(named)
    }
}

/// Words as they are compared.
pub fn texts(words: &[Word]) -> Vec<String> {
    words.iter().map(|word| word.text.clone()).collect()
}
