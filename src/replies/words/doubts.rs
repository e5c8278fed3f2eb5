//! Words that make a line uncertain: then it is not written down.

use super::phrases::Did;
use super::program::COURTESY;
use super::tokens::Word;

/// Words after which something was not done, not yet or not for certain, or is to be taken back.
const NOT_DONE: &[&str] = &[
    "not", "no", "never", "can't", "cannot", "cant", "couldn't", "couldnt", "didn't", "didnt",
    "haven't", "havent", "hasn't", "hasnt", "isn't", "isnt", "aren't", "arent", "wasn't", "wasnt",
    "weren't", "werent", "won't", "wont", "don't", "dont", "without", "tomorrow", "will", "shall",
    "should", "must", "going", "gonna", "want", "plan", "planned", "next", "later", "if", "when",
    "unless", "except", "but", "maybe", "perhaps", "almost", "nearly", "half", "some", "most",
    "partly", "about", "roughly", "i'll", "we'll", "let's", "need", "needs", "or", "instead",
    "ready", "start", "started", "starting", "begin", "began", "begun", "still", "due", "soon",
    "try", "tried", "can", "could", "would", "might", "do", "does", "why", "what", "who", "how",
    "which", "where", "whether", "please",
];

/// Words by which something was not seen, whatever was looked for.
const NOTHING: &[&str] = &["none", "nothing", "nowhere"];

/// Words by which people take something back.
const TAKES_BACK: &[&str] = &[
    "undo",
    "retract",
    "wrong",
    "wrongly",
    "mistake",
    "mistaken",
    "cancel",
    "delete",
    "remove",
    "correction",
];

/// Numbers in letters, and words that stand for one.
const IN_LETTERS: &[&str] = &[
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "fifteen", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty",
    "ninety", "hundred", "thousand", "dozen", "couple", "few", "several",
];

/// Words that say when, but not on which day.
const SOMETIME: &[&str] = &[
    "ago", "before", "week", "weeks", "weekend", "month", "months", "night", "days", "earlier",
    "recently",
];

/// Words that mean work on grafts only where nothing unknown stands beside them: a gate is closed, too.
const WEAK: &[Did] = &[Did::Asked, Did::Look, Did::Cut];
const WEAK_WORDS: &[&str] = &[
    "line",
    "lines",
    "headed",
    "eased",
    "tied",
    "looked",
    "looked at",
    "checked",
    "take",
    "takes",
    "alive",
    "living",
    "lost",
    "dead",
    "died",
    "regraft",
    "stump",
    "dock",
    "closed",
];

/// What may stand beside them: how far one came, and how it looks.
const ALONGSIDE: &[&str] = &[
    "stopped",
    "reached",
    "end",
    "row",
    "rows",
    "bed",
    "beds",
    "bay",
    "tunnel",
    "house",
    "north",
    "south",
    "east",
    "west",
    "left",
    "right",
    "side",
    "sides",
    "top",
    "bottom",
    "upper",
    "lower",
    "first",
    "last",
    "looks",
    "look",
    "looking",
    "clear",
    "clearly",
    "visible",
    "great",
    "fine",
    "nice",
    "strong",
    "weak",
    "faint",
    "white",
    "everywhere",
    "counted",
    "far",
    "until",
    "till",
    "looking",
    "stopping",
    "callus",
    "yet",
    "sorry",
    "finally",
    "midday",
    "noon",
    "job",
    "any",
    "asked",
    "rest",
    "remaining",
    "remainder",
];

/// Why a line with this word is not written down, where it leaves open whether, how many or when; with a batch to show
/// how it is written.
pub fn doubt(word: &str, like: &str) -> Option<String> {
    if TAKES_BACK.contains(&word) {
        return Some("nothing is taken back by this. To take back what a receipt says, answer that receipt with \"undo\" and nothing else in the line; then write what is right".into());
    }
    let why = if NOTHING.contains(&word) {
        format!(
            "it is not plain what was seen; where you looked for lines and saw none, write {like} no lines"
        )
    } else if NOT_DONE.contains(&word) || word.ends_with('?') {
        format!(
            "it is not sure that it was done; write only what was done, as in {like} headed back"
        )
    } else if IN_LETTERS.contains(&word) {
        format!("it is not sure how many; write the count in figures, as in {like} lines 3/10")
    } else if SOMETIME.contains(&word) {
        format!("it is not sure when; write the date, as in {like} headed back 18 Aug")
    } else {
        return None;
    };
    Some(format!("with '{word}' in it, {why}"))
}

/// What to write where a line only speaks of callus.
pub fn callus(words: &[String], like: &str) -> Option<String> {
    let says = |word: &&str| words.iter().any(|w| w == *word);
    if !says(&"callus") {
        return None;
    }
    Some(if ["no", "not", "without", "none"].iter().any(says) {
        format!("where you looked for lines and saw none, write {like} no lines")
    } else if says(&"over") {
        format!("where callus has grown over the scion, write {like} over callused")
    } else {
        format!(
            "where callus lines show, write {like} lines 3/10, and where it has grown over the scion, {like} over callused"
        )
    })
}

/// Whether what was done, as it was said, may as well be something else than work on grafts.
pub fn is_weak(did: Did, said: &str) -> bool {
    WEAK.contains(&did) || WEAK_WORDS.contains(&said)
}

/// Whether a word may stand beside a weak one.
pub fn is_alongside(word: &str, by: &str) -> bool {
    let mut name = by.split_whitespace().map(str::to_lowercase);
    ALONGSIDE.contains(&word) || COURTESY.contains(&word) || name.any(|part| part == word)
}

/// Whether somebody wants no more letters.
pub fn is_stop(words: &[Word]) -> bool {
    let said: Vec<&str> = words.iter().map(|w| w.text.as_str()).collect();
    let said = said.join(" ");
    ["stop", "unsubscribe", "stop it", "remove me"].contains(&said.as_str())
        || said.contains("stop these")
        || said.contains("stop sending")
}
