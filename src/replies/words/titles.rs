//! The titles of the plans' steps as words of work: a letter says "bud again", and so does who answers it.
//!
//! Only where a title means one thing everywhere: not for a look, of which it matters what was seen, and not for what
//! ends a batch.

use super::made::is_look;
use super::tokens;
use crate::care::BatchCare;
use crate::nursery::What;

/// Words of titles as they are said of what is done.
const DONE: &[(&str, &str)] = &[
    ("bud", "budded"),
    ("check", "checked"),
    ("count", "counted"),
    ("dock", "docked"),
    ("ease", "eased"),
    ("give", "gave"),
    ("graft", "grafted"),
    ("harden", "hardened"),
    ("head", "headed"),
    ("move", "moved"),
    ("plant", "planted"),
    ("re-bud", "re-budded"),
    ("re-graft", "re-grafted"),
    ("rub", "rubbed"),
    ("shorten", "shortened"),
    ("stump", "stumped"),
    ("take", "took"),
    ("tie", "tied"),
    ("uncover", "uncovered"),
];
const ARTICLES: &[&str] = &["the", "a", "an"];

/// What answers the step whose title begins with the first of these words, and how many words it has.
pub fn titled(words: &[&str], cares: &[BatchCare<'_>]) -> Option<(What, usize)> {
    let mut best: Option<(What, usize)> = None;
    let mut unsure = false;
    for (title, brings) in all(cares) {
        let Some(used) = begins(words, title) else {
            continue;
        };
        let one = match brings {
            [what] if means_work(*what) => Some(*what),
            _ => None,
        };
        match best {
            Some((_, most)) if most > used => {}
            Some((what, most)) if most == used && one == Some(what) => {}
            Some((_, most)) if most == used => unsure = true,
            _ => {
                unsure = one.is_none();
                best = Some((one.unwrap_or(What::Looked), used));
            }
        }
    }
    best.filter(|_| !unsure)
}

/// How many of these words are the title of a look.
pub fn look(words: &[&str], cares: &[BatchCare<'_>]) -> Option<usize> {
    let looks = all(cares).filter(|(_, brings)| is_look(brings));
    looks.filter_map(|(title, _)| begins(words, title)).max()
}

/// Whether a word is one of a title.
pub fn has(word: &str, cares: &[BatchCare<'_>]) -> bool {
    all(cares).any(|(title, _)| {
        let title = tokens::words(title);
        title.iter().any(|part| now(&part.text) == now(word))
    })
}

/// Whether the title of the step that this word answers speaks of that.
pub fn speaks_of(care: &BatchCare<'_>, what: What, word: &str) -> bool {
    let mut steps = care.plan.steps.iter();
    let step = steps.find(|step| step.brings.contains(&what));
    step.is_some_and(|step| tokens::words(&step.title).iter().any(|w| w.text == word))
}

fn means_work(what: What) -> bool {
    let seen = [What::Lines, What::NoLines, What::OverCallused, What::Closed];
    !seen.contains(&what)
}

/// The titles of every plan in use, each once.
fn all<'a>(cares: &'a [BatchCare<'_>]) -> impl Iterator<Item = (&'a str, &'a [What])> {
    let mut plans: Vec<&crate::nursery::Plan> = Vec::new();
    for care in cares {
        if plans.iter().all(|plan| !std::ptr::eq(*plan, care.plan)) {
            plans.push(care.plan);
        }
    }
    let steps = plans.into_iter().flat_map(|plan| &plan.steps);
    steps.map(|step| (step.title.as_str(), step.brings.as_slice()))
}

/// How many of these words are the title; articles do not count.
fn begins(words: &[&str], title: &str) -> Option<usize> {
    let letter = |text: &str| text.chars().next().map(|c| c.to_ascii_lowercase());
    if letter(words.first()?) != letter(title) {
        return None;
    }
    let title = tokens::words(title);
    let wanted = title.iter().map(|word| word.text.as_str());
    let mut said = words.iter().enumerate();
    let mut used = 0;
    for wanted in wanted.filter(|word| !ARTICLES.contains(word)) {
        let (at, word) = said.find(|(_, word)| !ARTICLES.contains(word))?;
        if now(word) != now(wanted) {
            return None;
        }
        used = at + 1;
    }
    (used > 0).then_some(used)
}

fn now(word: &str) -> &str {
    let found = DONE.iter().find(|(_, done)| *done == word);
    found.map_or(word, |(now, _)| now)
}
