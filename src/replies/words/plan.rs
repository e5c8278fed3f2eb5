//! "70 yesterday, rest tomorrow": a line of which one part is done and another is to come.
//!
//! Only what is plain is taken apart: the part to come stands last and says by a word of its own that it is what is left,
//! or that it is not done, of batches or of other work. Everything else stays one line.

use super::Asking;
use super::clause::Part;
use super::named::Named;
use super::phrases::{Did, is_filler};
use super::tokens;
use super::told::parts;

/// Words for what is left.
const REST: &[&str] = &[
    "rest",
    "remaining",
    "remainder",
    "others",
    "other",
    "left",
    "half",
];
/// Words that say that something is not done.
const NOT_YET: &[&str] = &[
    "not", "yet", "will", "i'll", "we'll", "can't", "cannot", "no", "waits", "wait", "still",
    "open",
];
/// Words that say when it will be.
const WHEN: &[&str] = &[
    "tomorrow", "later", "next", "week", "soon", "today", "follow", "follows", "do", "be", "time",
];
/// An order to somebody is nothing that was done.
const ORDERS: &[&str] = &["head", "heading"];

/// Whether a word means what is left.
pub fn is_rest(word: &str) -> bool {
    matches!(word, "rest" | "remaining" | "remainder")
}

/// The part of a line that is done, and the part that is to come.
pub fn split(line: &str, asking: &Asking<'_>) -> Option<(String, String)> {
    let pieces: Vec<&str> = line
        .split([',', ';'])
        .flat_map(|piece| piece.split(" but "))
        .map(str::trim)
        .filter(|piece| !piece.is_empty())
        .collect();
    let at = pieces.iter().position(|piece| is_to_come(piece, asking))?;
    let (done, to_come) = pieces.split_at(at);
    let order = |piece: &&str| {
        tokens::words(piece)
            .iter()
            .any(|word| ORDERS.contains(&word.text.as_str()))
    };
    let plain = to_come.iter().all(|piece| is_to_come(piece, asking));
    // "Headed back, head back not yet" says two things of one.
    let dids = |pieces: &[&str]| -> Vec<Did> {
        let named = pieces
            .iter()
            .map(|piece| parts(&tokens::words(piece), asking));
        named
            .flatten()
            .flat_map(|n| n.dids().collect::<Vec<_>>())
            .collect()
    };
    let later = dids(to_come);
    let plain = plain && !dids(done).iter().any(|did| later.contains(did));
    (at > 0 && plain && !done.iter().any(order)).then(|| (done.join(", "), to_come.join(", ")))
}

/// Whether it says of other work, and of no batch, that it is not done: "head back not yet".
pub fn is_other_work(piece: &str, asking: &Asking<'_>) -> bool {
    let named = parts(&tokens::words(piece), asking);
    named.is_ok_and(|named| named.is_work_not_yet() && !named.parts.iter().any(Part::is_place))
}

/// Whether a piece of a line says of batches, or of what is left, that it is not done, and nothing else.
fn is_to_come(piece: &str, asking: &Asking<'_>) -> bool {
    let words = tokens::words(piece);
    let Ok(named) = parts(&words, asking) else {
        return false;
    };
    let known = |word: &tokens::Word| {
        let text = word.text.as_str();
        is_filler(text)
            || [REST, NOT_YET, WHEN]
                .iter()
                .any(|list| list.contains(&text))
    };
    let Named { parts, rest, .. } = &named;
    let says = |list: &[&str]| rest.iter().any(|word| list.contains(&word.text.as_str()));
    // "No lines" was seen.
    let work = |part: &Part<'_>| !matches!(part, Part::Did(did) if !did.is_work());
    let place = |part: &Part<'_>| matches!(part, Part::Batch(_) | Part::Block(_));
    let when = says(WHEN) || parts.iter().any(|part| matches!(part, Part::Date(_)));
    let of_the_rest = says(REST) && (says(NOT_YET) || when && !named.says_what());
    let of_a_place = parts.iter().any(place) && says(NOT_YET);
    if named.is_work_not_yet() {
        return true;
    }
    (of_the_rest || of_a_place) && rest.iter().all(known) && parts.iter().all(work)
}
