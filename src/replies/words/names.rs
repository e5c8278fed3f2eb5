//! Which batches and blocks a line names.

use super::tokens::{Word, plain};
use crate::care::BatchCare;
use crate::register::nearest;

/// A batch that begins with the first of these words, and how many words it has. `C-14`, `c14` and `C 14` are the same
/// where only one batch can be meant.
pub fn batch<'a>(
    words: &[Word],
    cares: &'a [BatchCare<'a>],
    named_before: bool,
) -> Option<Result<(&'a BatchCare<'a>, usize), String>> {
    let first = &words.first()?.text;
    let most = words.len().min(5);
    // A name of several words, as it stands.
    for used in (1..=most).rev() {
        let said: Vec<&str> = words[..used].iter().map(|w| w.text.as_str()).collect();
        let said = said.join(" ");
        if let Some(care) = cares.iter().find(|c| c.batch.name.to_lowercase() == said) {
            // A name that is a number is one only where it is called a batch.
            let number = said.bytes().all(|b| b.is_ascii_digit());
            if !number || named_before {
                return Some(Ok((care, used)));
            }
        }
    }
    let letters = first.chars().all(char::is_alphabetic);
    let digits = words
        .get(1)
        .filter(|w| letters && w.text.starts_with(|c: char| c.is_ascii_digit()));
    let said = match digits {
        Some(second) => (format!("{first}{}", second.text), 2),
        None if !letters => (first.clone(), 1),
        None => return None,
    };
    let (said, used) = said;
    if said.starts_with(|c: char| c.is_ascii_digit()) && !named_before {
        return None;
    }
    let same = |c: &&BatchCare<'_>| slashed_plain(&c.batch.name) == slashed_plain(&said);
    let found: Vec<&BatchCare<'_>> = cares.iter().filter(same).collect();
    match found[..] {
        [] => None,
        [one] => Some(Ok((one, used))),
        _ => {
            let names: Vec<&str> = found.iter().map(|c| c.batch.name.as_str()).collect();
            Some(Err(format!(
                "{said} may be {}; write the name as it stands in the register",
                names.join(" or ")
            )))
        }
    }
}

/// Why a number that follows the name of a batch may be another batch, as in `C-14, 15`.
pub fn may_be_batch(care: &BatchCare<'_>, number: &str, cares: &[BatchCare<'_>]) -> Option<String> {
    let name = &care.batch.name;
    let digits = |c: char| c.is_ascii_digit();
    let other = format!("{}{number}", name.trim_end_matches(digits));
    let known = cares.iter().any(|c| c.batch.name == other);
    known.then(|| format!("{number} after {name} may be {other} or a count; write a line for each"))
}

/// C-14/2 is not C-142.
fn slashed_plain(name: &str) -> Vec<String> {
    name.split('/').map(plain).collect()
}

/// The block of this name, as it is written in the register.
pub fn block_said<'a>(said: &str, cares: &'a [BatchCare<'a>]) -> Option<&'a str> {
    let found = cares.iter().find(|care| care.batch.block == said);
    found.map(|care| care.batch.block.as_str())
}

/// The block after the word `block`, and how many words its name has.
pub fn block<'a>(words: &[Word], cares: &'a [BatchCare<'a>]) -> Result<(&'a str, usize), String> {
    for used in (1..=words.len().min(4)).rev() {
        let said: Vec<&str> = words[..used].iter().map(|w| w.text.as_str()).collect();
        let said = said.join(" ");
        let is = |c: &&BatchCare<'_>| c.batch.block.to_lowercase() == said;
        if let Some(care) = cares.iter().find(is) {
            return Ok((&care.batch.block, used));
        }
    }
    let Some(said) = words.first() else {
        return Err("the block has no name; write it as in block C headed back".into());
    };
    let blocks = cares.iter().map(|c| c.batch.block.as_str());
    Err(format!(
        "there is no block {}{}",
        said.said,
        perhaps(&said.text, blocks)
    ))
}

/// Whether a word reads like one of the batches and is none: letters that one of them begins with, then a number.
pub fn is_stranger(word: &Word, cares: &[BatchCare<'_>]) -> bool {
    let letters = |name: &str| -> String {
        let name = name.chars().take_while(|c| c.is_alphabetic());
        name.flat_map(char::to_lowercase).collect()
    };
    let theirs = letters(&word.text);
    let number = word.text[theirs.len()..].trim_start_matches('-');
    let is_name = number.starts_with(|c: char| c.is_ascii_digit())
        && number.chars().all(|c| c.is_ascii_digit() || c == '/');
    !theirs.is_empty() && is_name && cares.iter().any(|c| letters(&c.batch.name) == theirs)
}

/// What is said of a batch that is none.
pub fn no_batch(name: &str, cares: &[BatchCare<'_>]) -> String {
    let names = cares.iter().map(|c| c.batch.name.as_str());
    format!("there is no batch {name}{}", perhaps(name, names))
}

/// What stands against a word that was not understood: that it looks like a batch that is not there.
pub fn misnamed(word: &Word, cares: &[BatchCare<'_>]) -> Option<String> {
    let names = || cares.iter().map(|c| c.batch.name.as_str());
    let Word {
        text: word, said, ..
    } = word;
    let digit = word.chars().any(|c| c.is_ascii_digit());
    let near = |name: &str| {
        name.chars().count() >= 3 && strsim::damerau_levenshtein(&name.to_lowercase(), word) <= 1
    };
    (digit || names().any(near))
        .then(|| format!("{said} is no batch and no count{}", perhaps(said, names())))
}

fn perhaps<'n>(word: &str, names: impl Iterator<Item = &'n str>) -> String {
    let mut names: Vec<&str> = names.collect();
    names.sort_unstable();
    names.dedup();
    nearest(word, names).map_or_else(String::new, |near| format!("; perhaps {near} is meant"))
}
