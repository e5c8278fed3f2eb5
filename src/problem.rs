//! Something to be told about a file, row, day, source or batch.
//!
//! Problems flow beside results (`(T, Vec<Problem>)`): trouble with one row never stops the rest. A problem is told
//! once, by its `key`, which is made of the place and its content and never of a line number.

use std::fmt;

/// One thing that was wrong, in a grower's words.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Problem {
    /// Where: "batches.csv, row 7, column grafts", "site hill, open-meteo (https://…)".
    pub place: String,
    /// What was wrong: "'many' is not a number of grafts".
    pub what: String,
    /// What was done about it: "the last good version of this row stays in force".
    pub done: String,
    /// What to do: "write a whole number above 0".
    pub remedy: String,
    /// Says whether this is the same trouble as one told before.
    pub key: String,
}

impl Problem {
    /// A problem whose key is its place and what was wrong; use [`Problem::keyed`] where the place has a line number.
    pub fn new(
        place: impl Into<String>,
        what: impl Into<String>,
        done: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        let (place, what) = (place.into(), what.into());
        let key = format!("{place}: {what}");
        Self {
            place,
            what,
            done: done.into(),
            remedy: remedy.into(),
            key,
        }
    }

    /// The same problem under a key of its own.
    #[must_use]
    pub fn keyed(mut self, key: impl Into<String>) -> Self {
        self.key = key.into();
        self
    }
}

impl fmt::Display for Problem {
    /// One line: `place: what; done. Remedy.`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.what)?;
        if !self.done.is_empty() {
            write!(f, "; {}", self.done)?;
        }
        write!(f, ".")?;
        let mut remedy = self.remedy.chars();
        if let Some(first) = remedy.next() {
            write!(f, " {}{}.", first.to_uppercase(), remedy.as_str())?;
        }
        Ok(())
    }
}
