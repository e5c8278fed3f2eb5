//! Words that mean something to the program: yes, no, undo and not yet; and greetings, thanks and wishes.

use super::tokens::Word;
use super::{Asking, Meant};

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
pub fn whole_line(words: &[Word], asking: &Asking<'_>) -> Option<Meant> {
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
    let names = asking.people.iter().flat_map(|name| name.split(' '));
    let own = asking.by.split_whitespace().map(str::to_lowercase);
    let names: Vec<String> = names.map(str::to_owned).chain(own).collect();
    let courteous = |w: &Word| COURTESY.contains(&w.text.as_str()) || names.contains(&w.text);
    let wish = |w: &Word| courteous(w) || WISHES.contains(&w.text.as_str());
    let wishes = words
        .first()
        .is_some_and(|w| WISHES[..3].contains(&w.text.as_str()))
        && words.iter().all(wish);
    (wishes || words.iter().all(courteous)).then_some(Meant::Courtesy)
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

/// Whether these words only wish something to the reader: "see you tomorrow".
pub fn is_wish(words: &[Word]) -> bool {
    let texts: Vec<&str> = words.iter().map(|w| w.text.as_str()).collect();
    let begins = matches!(
        texts[..],
        ["see", "you", ..] | ["have", "a", ..] | ["enjoy", ..]
    );
    let wish = |word: &&str| COURTESY.contains(word) || WISHES.contains(word);
    begins && texts.iter().all(wish)
}

/// Whether the name of somebody may follow.
pub fn is_greeting(word: &str) -> bool {
    ["hi", "hello", "hey", "dear", "thanks", "thx", "cheers"].contains(&word)
}

/// Whether a word is one of greetings and thanks.
pub fn is_courteous(word: &str) -> bool {
    COURTESY.contains(&word)
}
