//! The trade's words as people write them.

use crate::nursery::What;

/// Something seen or done, as it is named in a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Did {
    /// One of the words of the field records.
    This(What),
    /// The step that the letter asked for.
    Asked,
    /// The look that it asked for.
    Look,
    /// Cut: heading back, or heading back again.
    Cut,
    /// The tie slit: taken off, or eased, as the plan has it.
    Slit,
}

impl Did {
    /// Work of which a part may be done.
    pub fn is_work(self) -> bool {
        match self {
            Self::This(what) => what.is_work(),
            Self::Asked | Self::Cut | Self::Slit => true,
            Self::Look => false,
        }
    }
}

/// Phrases and what they mean; the longest that fits counts. A hyphen is a space.
const PHRASES: &[(&str, Did)] = &[
    ("callus lines", Did::This(What::Lines)),
    ("lines", Did::This(What::Lines)),
    ("line", Did::This(What::Lines)),
    ("no lines", Did::This(What::NoLines)),
    ("no line", Did::This(What::NoLines)),
    ("no callus lines", Did::This(What::NoLines)),
    ("no lines yet", Did::This(What::NoLines)),
    ("lines no", Did::This(What::NoLines)),
    ("lines none", Did::This(What::NoLines)),
    ("lines not yet", Did::This(What::NoLines)),
    ("still no lines", Did::This(What::NoLines)),
    ("tapes are off", Did::This(What::TapeOff)),
    ("tape is off", Did::This(What::TapeOff)),
    ("no callus lines yet", Did::This(What::NoLines)),
    ("callus over scion", Did::This(What::OverCallused)),
    ("callus over scions", Did::This(What::OverCallused)),
    ("callus over the scion", Did::This(What::OverCallused)),
    ("callus over the scions", Did::This(What::OverCallused)),
    ("callus over bud", Did::This(What::OverCallused)),
    ("callus over the bud", Did::This(What::OverCallused)),
    ("over callused", Did::This(What::OverCallused)),
    ("overcallused", Did::This(What::OverCallused)),
    ("over callusing", Did::This(What::OverCallused)),
    ("overcallusing", Did::This(What::OverCallused)),
    ("headed back", Did::This(What::HeadedBack)),
    ("head back", Did::This(What::HeadedBack)),
    ("heading back", Did::This(What::HeadedBack)),
    ("headed", Did::This(What::HeadedBack)),
    ("cut back", Did::This(What::HeadedBack)),
    ("headed back again", Did::This(What::HeadedBackAgain)),
    ("headed again", Did::This(What::HeadedBackAgain)),
    ("second head back", Did::This(What::HeadedBackAgain)),
    ("second heading back", Did::This(What::HeadedBackAgain)),
    ("tape off", Did::This(What::TapeOff)),
    ("tapes off", Did::This(What::TapeOff)),
    ("taped off", Did::This(What::TapeOff)),
    ("tape removed", Did::This(What::TapeOff)),
    ("tie off", Did::This(What::TapeOff)),
    ("ties off", Did::This(What::TapeOff)),
    ("tie is off", Did::This(What::TapeOff)),
    ("ties are off", Did::This(What::TapeOff)),
    ("tie removed", Did::This(What::TapeOff)),
    ("ties removed", Did::This(What::TapeOff)),
    ("ties eased", Did::This(What::TapeEased)),
    ("tie eased", Did::This(What::TapeEased)),
    ("slit", Did::Slit),
    ("slit tie", Did::Slit),
    ("slit ties", Did::Slit),
    ("slit the tie", Did::Slit),
    ("slit the ties", Did::Slit),
    ("slit tape", Did::Slit),
    ("slit tapes", Did::Slit),
    ("slit the tape", Did::Slit),
    ("slit the tapes", Did::Slit),
    ("tie slit", Did::Slit),
    ("ties slit", Did::Slit),
    ("tape slit", Did::Slit),
    ("tapes slit", Did::Slit),
    ("tape eased", Did::This(What::TapeEased)),
    ("tapes eased", Did::This(What::TapeEased)),
    ("eased tape", Did::This(What::TapeEased)),
    ("eased the tape", Did::This(What::TapeEased)),
    ("eased", Did::This(What::TapeEased)),
    ("tied in", Did::This(What::TiedIn)),
    ("tied", Did::This(What::TiedIn)),
    ("suckers rubbed", Did::This(What::SuckersRubbed)),
    ("suckers rubbed off", Did::This(What::SuckersRubbed)),
    ("rubbed suckers", Did::This(What::SuckersRubbed)),
    ("suckers off", Did::This(What::SuckersRubbed)),
    ("looked", Did::This(What::Looked)),
    ("looked at", Did::This(What::Looked)),
    ("checked", Did::This(What::Looked)),
    ("take", Did::This(What::Take)),
    ("takes", Did::This(What::Take)),
    ("alive", Did::This(What::Take)),
    ("living", Did::This(What::Take)),
    ("lost", Did::This(What::Lost)),
    ("dead", Did::This(What::Dead)),
    ("died", Did::This(What::Dead)),
    ("regrafted", Did::This(What::Regrafted)),
    ("re grafted", Did::This(What::Regrafted)),
    ("grafted again", Did::This(What::Regrafted)),
    ("budded again", Did::This(What::Regrafted)),
    ("rebudded", Did::This(What::Regrafted)),
    ("re budded", Did::This(What::Regrafted)),
    ("regraft", Did::This(What::Regrafted)),
    ("stumped", Did::This(What::Stumped)),
    ("stump", Did::This(What::Stumped)),
    ("head length", Did::This(What::HeadLength)),
    ("head lengths", Did::This(What::HeadLength)),
    ("docked", Did::This(What::Docked)),
    ("dock", Did::This(What::Docked)),
    ("closed", Did::This(What::Closed)),
    ("done", Did::Asked),
    ("finished", Did::Asked),
    ("all done", Did::Asked),
    ("look done", Did::Look),
    ("looks done", Did::Look),
    ("looking done", Did::Look),
    ("cut", Did::Cut),
];

/// Words that say nothing by themselves.
const FILLERS: &[&str] = &[
    "a",
    "again",
    "all",
    "also",
    "am",
    "and",
    "are",
    "at",
    "batch",
    "batches",
    "been",
    "both",
    "cm",
    "did",
    "every",
    "everything",
    "for",
    "from",
    "graft",
    "grafts",
    "has",
    "have",
    "i",
    "in",
    "is",
    "it",
    "it's",
    "now",
    "of",
    "off",
    "on",
    "our",
    "out",
    "plus",
    "pm",
    "seen",
    "show",
    "showing",
    "shows",
    "so",
    "that's",
    "the",
    "their",
    "them",
    "there",
    "these",
    "they",
    "this",
    "those",
    "to",
    "today's",
    "tree",
    "trees",
    "up",
    "was",
    "we",
    "we've",
    "i've",
    "were",
    "with",
    "work",
    "whole",
    "found",
    "see",
    "lots",
    "stock",
    "stocks",
    "scion",
    "scions",
    "just",
    "yes",
    "ok",
    "okay",
    "note",
    "got",
    "as",
    "well",
    "too",
    "by",
    "only",
];

/// The longest phrase that begins with the first of these words, and how many words it has.
pub fn phrase(words: &[&str]) -> Option<(Did, usize)> {
    let fits = |phrase: &str| {
        let mut left = words.iter().enumerate();
        let mut pending = phrase.split(' ');
        let mut used = 0;
        // A word such as `headed-back` is two.
        let mut parts: std::vec::IntoIter<&str> = Vec::new().into_iter();
        for wanted in pending.by_ref() {
            let part = if let Some(part) = parts.next() {
                part
            } else {
                let (at, word) = left.next()?;
                used = at + 1;
                parts = word.split('-').collect::<Vec<_>>().into_iter();
                parts.next()?
            };
            if part != wanted {
                return None;
            }
        }
        parts.next().is_none().then_some(used)
    };
    let found = PHRASES.iter().filter_map(|&(phrase, did)| {
        let used = fits(phrase)?;
        Some((did, used, phrase.len()))
    });
    found
        .max_by_key(|&(_, _, length)| length)
        .map(|(did, used, _)| (did, used))
}

/// Whether a word says nothing by itself.
pub fn is_filler(word: &str) -> bool {
    FILLERS.contains(&word)
}
