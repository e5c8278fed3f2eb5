//! Names of people of ours within a line: who was there, and who signs. They say nothing of what was done, nor where.

use super::Asking;
use super::clause::Part;
use super::doubts::doubt;
use super::elsewhere::is_part;
use super::figures;
use super::tokens::Word;

/// Words after which somebody was there.
const BESIDE: &[&str] = &["with", "by"];

/// How many of these words are a name that says who was there, or who signs; `last` is the word before them, and `together`
/// whether a name stood before that.
pub fn name(
    here: &[Word],
    last: Option<&Word>,
    together: bool,
    parts: &[Part<'_>],
    asking: &Asking<'_>,
) -> Option<usize> {
    let beside = last.is_some_and(|word| BESIDE.contains(&word.text.as_str()));
    let joined = together && last.is_some_and(|w| w.text == "and" || w.then.is_some());
    // "Done - Jory"; but "C-14, Jory" may be two places.
    let signs = last.is_some_and(|word| matches!(word.then, Some('-' | ',')))
        && !matches!(
            parts.last(),
            Some(Part::Batch(_) | Part::Block(_) | Part::Stranger(_))
        );
    let first = here.first()?;
    // Somebody may be called Will: then a line that begins with it may say what is to come.
    let says_more = doubt(&first.text, "").is_some()
        || is_part(&first.text)
        || figures::count(&[first.text.as_str()]).is_some();
    if says_more && last.is_none() {
        return None;
    }
    let placed = beside || joined || signs || last.is_none();
    let capital = first.said.starts_with(char::is_uppercase);
    if !placed || !(capital || beside) {
        return None;
    }
    let fits = |name: &String| {
        let whole: Vec<&str> = name.split(' ').collect();
        let is = |many: usize| {
            let said = here.iter().take(many).map(|word| word.text.as_str());
            here.len() >= many && said.eq(whole[..many].iter().copied())
        };
        [whole.len(), 1].into_iter().find(|&many| is(many))
    };
    asking.people.iter().filter_map(fits).max()
}

/// Whether a name is the sender's.
pub fn is_sender(words: &[Word], asking: &Asking<'_>) -> bool {
    let by = asking.by.to_lowercase();
    words
        .iter()
        .all(|word| by.split_whitespace().any(|part| part == word.text))
}
