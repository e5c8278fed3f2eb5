//! The trade's words as people write them, and the words that mean something to the program.

use super::Meant;
use super::tokens::Word;
use crate::nursery::What;

/// Something seen or done, as it is named in a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Did {
    /// One of the words of the field records.
    This(What),
    /// The step that the letter asked for.
    Asked,
    /// Cut: heading back, or heading back again.
    Cut,
}

impl Did {
    /// Work of which a part may be done.
    pub fn is_work(self) -> bool {
        match self {
            Self::This(what) => what.is_work(),
            Self::Asked | Self::Cut => true,
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
    ("cut", Did::Cut),
];

/// Words that say nothing by themselves.
const FILLERS: &[&str] = &[
    "a",
    "again",
    "all",
    "also",
    "and",
    "are",
    "at",
    "batch",
    "batches",
    "been",
    "both",
    "cm",
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
    "now",
    "of",
    "off",
    "on",
    "our",
    "out",
    "plus",
    "seen",
    "show",
    "showing",
    "shows",
    "so",
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

const LATER: &[&str] = &[
    "not yet",
    "can't today",
    "cannot today",
    "cant today",
    "can't",
    "not today",
    "later",
    "tomorrow",
    "tmrw",
    "no time",
    "no time today",
    "not done",
    "not done yet",
    "can't do it today",
    "cannot do it today",
    "not now",
    "won't manage today",
    "too hot",
    "too wet",
    "too cold",
    "too windy",
    "raining",
    "rained off",
    "busy",
];
/// With these before it, the rest of a line says why: "not yet, too hot".
const LATER_BECAUSE: &[&str] = &[
    "not yet",
    "can't",
    "cannot",
    "cant",
    "not today",
    "no time",
    "not now",
    "not done yet",
    "too hot",
    "too wet",
];

const YES: &[&str] = &[
    "yes",
    "yep",
    "yeah",
    "confirm",
    "confirmed",
    "correct",
    "yes correct",
    "ok",
    "okay",
    "yes ok",
    "that's right",
    "yes that's right",
    "it's right",
    "yes it's right",
    "yes it is",
    "yes right",
    "right",
    "all right",
    "yes really",
    "yes write it down",
];

const NO: &[&str] = &[
    "no",
    "nope",
    "not mine",
    "no not mine",
    "not right",
    "no not right",
    "no wrong",
    "no that's wrong",
    "no it's wrong",
    "no it's not",
    "no it is not",
    "no undo",
];

const UNDO: &[&str] = &[
    "undo",
    "undo that",
    "undo this",
    "undo it",
    "undo all",
    "undo all that",
    "undo everything",
    "undo the last",
    "undo the last one",
    "undo my answer",
    "undo my last answer",
    "take back",
    "take that back",
    "take it back",
];

/// Words around a word to the program that change nothing about it.
const SOFT: &[&str] = &[
    "please", "pls", "sorry", "oops", "thanks", "thank", "you", "hi", "hello", "cheers", "kindly",
    "could", "can", "would", "just", "so",
];

/// A line of these alone, with one of [`WRONG`], says that something is wrong, but not what.
const ALONG_WRONG: &[&str] = &[
    "that", "that's", "this", "was", "is", "it", "it's", "a", "my", "the", "one", "all", "oh",
    "batch", "count", "date", "day", "number", "entry", "line", "answer", "by", "i", "made",
    "were", "those", "they", "in", "made",
];
const WRONG: &[&str] = &[
    "wrong",
    "mistake",
    "mistaken",
    "incorrect",
    "error",
    "wrongly",
];

/// Words of greetings and thanks.
pub const COURTESY: &[&str] = &[
    "afternoon",
    "all",
    "and",
    "best",
    "bye",
    "cheers",
    "dear",
    "evening",
    "good",
    "greetings",
    "hello",
    "hey",
    "hi",
    "kind",
    "many",
    "morning",
    "regards",
    "sincerely",
    "thank",
    "thanks",
    "the",
    "very",
    "warm",
    "wishes",
    "with",
    "you",
    "yours",
    "there",
    "much",
    "so",
    "thx",
    "tks",
    "thnx",
    "ty",
    "ta",
];

/// Words of wishes; a line of these and of courtesies that begins with one of the first three is one.
const WISHES: &[&str] = &[
    "have",
    "enjoy",
    "see",
    "a",
    "nice",
    "great",
    "lovely",
    "weekend",
    "week",
    "day",
    "one",
    "the",
    "your",
    "rest",
    "of",
    "tomorrow",
    "later",
    "soon",
    "on",
    "everybody",
    "everyone",
    "too",
];

/// What a line means as a whole, where it is a word to the program or a courtesy.
pub fn whole_line(words: &[Word], by: &str) -> Option<Meant> {
    let core = words.iter().map(|w| w.text.as_str());
    let core: Vec<&str> = core.filter(|word| !SOFT.contains(word)).collect();
    let line = core.join(" ");
    let is = |list: &[&str]| list.contains(&line.as_str());
    if is(UNDO) {
        return Some(Meant::Undo);
    }
    if is(YES) {
        return Some(Meant::Yes);
    }
    if is(NO) {
        return Some(Meant::No);
    }
    let wrong = |word: &&str| WRONG.contains(word);
    if core.iter().any(wrong)
        && core
            .iter()
            .all(|word| wrong(word) || ALONG_WRONG.contains(word))
    {
        return Some(Meant::Wrong);
    }
    if is(LATER) {
        return Some(Meant::Later);
    }
    let name: Vec<String> = by.split_whitespace().map(str::to_lowercase).collect();
    let courteous = |w: &Word| COURTESY.contains(&w.text.as_str()) || name.contains(&w.text);
    let wish = |w: &Word| courteous(w) || WISHES.contains(&w.text.as_str());
    let wishes = words
        .first()
        .is_some_and(|w| WISHES[..3].contains(&w.text.as_str()))
        && words.iter().all(wish);
    (wishes || words.iter().all(courteous)).then_some(Meant::Courtesy)
}

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

/// Whether what is left of a line besides names says that it is for later.
pub fn is_later(rest: &[String]) -> bool {
    let rest = rest.join(" ");
    let because = |begin: &&str| {
        rest.strip_prefix(begin)
            .is_some_and(|why| why.starts_with(' '))
    };
    LATER.contains(&rest.as_str()) || LATER_BECAUSE.iter().any(because)
}

/// Whether a word says nothing by itself.
pub fn is_filler(word: &str) -> bool {
    FILLERS.contains(&word)
}

/// Whether a word is one of greetings and thanks.
pub fn is_courteous(word: &str) -> bool {
    COURTESY.contains(&word)
}
