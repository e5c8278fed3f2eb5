//! Whether a line that names no batch may be about something else than the batches of its letter.
//!
//! Beside the work and before it each word must be known to say nothing of where. In what follows, only what may be a
//! name, a place or "the rest" speaks against the letter's batches. What stands beside a named batch is a remark, unless it
//! names another one. Nothing is guessed: where a name is of batches, they are said.

use super::Asking;
use super::clause::Part;
use super::doubts::is_alongside;
use super::made::spoken;
use super::named::Named;
use super::phrases::{Did, is_filler};
use super::program::is_later;
use super::titles;
use super::tokens::{self, Word};
use super::told::parts;
use crate::letters::names;

/// Words for batches or grafts that are not said.
const LEFT: &[&str] = &["rest", "remaining", "remainder"];
const OTHERS: &[&str] = &["other", "others", "another", "else", "elsewhere"];
/// Where within a batch, as far as there is only one.
const WITHIN: &[&str] = &[
    "row", "rows", "bed", "beds", "bay", "tunnel", "house", "north", "south", "east", "west",
    "left", "right", "side", "upper", "lower",
];
/// What is no part of a batch, unless its grafts were counted.
const ROOFS: &[&str] = &["tunnel", "house"];
/// Words that say how it went, and nothing of where.
const HARMLESS: &[&str] = &[
    "actually",
    "any",
    "anyway",
    "asked",
    "anywhere",
    "bark",
    "bit",
    "bud",
    "buds",
    "callusing",
    "cane",
    "canes",
    "carefully",
    "check",
    "checks",
    "cold",
    "complete",
    "completed",
    "completely",
    "cool",
    "count",
    "counts",
    "cuts",
    "damp",
    "dry",
    "early",
    "easy",
    "evening",
    "far",
    "finally",
    "firm",
    "fog",
    "frost",
    "fully",
    "growing",
    "guys",
    "hand",
    "hard",
    "healthy",
    "heat",
    "here",
    "hot",
    "indeed",
    "job",
    "jobs",
    "kindly",
    "knife",
    "late",
    "letter",
    "leaf",
    "leaves",
    "lunch",
    "lunchtime",
    "me",
    "midday",
    "my",
    "myself",
    "new",
    "noon",
    "oops",
    "our",
    "ourselves",
    "pls",
    "quick",
    "quickly",
    "rain",
    "rained",
    "raining",
    "rainy",
    "really",
    "report",
    "round",
    "safely",
    "shoot",
    "shoots",
    "snow",
    "sorry",
    "stake",
    "stakes",
    "storm",
    "strongly",
    "stub",
    "stubs",
    "sunny",
    "sunshine",
    "team",
    "that",
    "ties",
    "time",
    "today",
    "together",
    "tonight",
    "union",
    "unions",
    "us",
    "warm",
    "weather",
    "wet",
    "wind",
    "windy",
    "work",
    "your",
];

/// Why a line cannot be taken for the batches of the letter, or for those that it names.
pub fn elsewhere(line: &str, named: &Named<'_>, asking: &Asking<'_>) -> Option<String> {
    let like = named.like(asking);
    let words = tokens::words(line);
    let said = Said {
        asking,
        as_in: format!("{like} {}", work(named)),
        own: own_names(named),
        place: has_place(named),
    };
    said.known_name(&words, named).or_else(|| {
        let mut reached = false;
        pieces(line).into_iter().find_map(|piece| {
            let words = tokens::words(piece);
            let here = parts(&words, asking).ok()?;
            let beside = here.says_what();
            let strict = !said.place && (beside || !reached);
            reached |= beside;
            if has_place(&here) {
                return said.and_others(&words, &here);
            }
            (beside || !said.place).then(|| said.speaks_against(&words, &here, strict))?
        })
    })
}

/// A line, and what it is read against.
struct Said<'s, 'a> {
    asking: &'s Asking<'a>,
    /// How it might be written.
    as_in: String,
    /// What the batches that it names are of, and where they stand, in small letters.
    own: Vec<String>,
    /// Whether it names a batch or a block.
    place: bool,
}

impl Said<'_, '_> {
    /// A name of the register that is none of a batch, nor of those that the line names.
    fn known_name(&self, words: &[Word], named: &Named<'_>) -> Option<String> {
        let texts: Vec<&str> = words.iter().map(|w| w.text.as_str()).collect();
        let unread = |word: &&str| {
            named.rest.iter().any(|w| w.text == **word) && !is_filler(word) && word.len() > 1
        };
        let found = |name: &str| {
            let name = tokens::words(name);
            let name: Vec<&str> = name.iter().map(|w| w.text.as_str()).collect();
            !name.is_empty()
                && name.iter().any(unread)
                && texts.windows(name.len()).any(|here| *here == name[..])
        };
        let free = |name: &str| !self.own.contains(&name.to_lowercase()) && found(name);
        let cares = self.asking.cares;
        if let Some(block) = cares.iter().map(|c| &c.batch.block).find(|b| free(b)) {
            return Some(format!(
                "'{block}' may be block {block}; write a line for each, as in block {block} headed back"
            ));
        }
        let mut all = cares
            .iter()
            .flat_map(|c| [&c.batch.scion, &c.batch.understock]);
        if let Some(name) = all.find(|name| free(name)) {
            let of = |c: &&crate::care::BatchCare<'_>| {
                [&c.batch.scion, &c.batch.understock].contains(&name)
            };
            let of: Vec<&str> = cares
                .iter()
                .filter(of)
                .map(|c| c.batch.name.as_str())
                .collect();
            let is_of = if of.len() == 1 {
                "is of it"
            } else {
                "are of it"
            };
            return Some(format!(
                "'{name}' is no batch or block; {} {is_of}. Name the batches, as in {}",
                names(&of),
                self.as_in
            ));
        }
        let mut sites = cares.iter().map(|c| &c.site.id);
        sites.find(|site| free(site)).map(|site| {
            format!(
                "'{site}' is a site and no batch or block; name the batches, as in {}",
                self.as_in
            )
        })
    }

    /// "C-14 and the rest": what is joined to a batch and is none.
    fn and_others(&self, words: &[Word], here: &Named<'_>) -> Option<String> {
        let unread = self.unread(here);
        let at = (1..words.len()).find(|&at| {
            let before = words[..at]
                .iter()
                .rfind(|w| !matches!(w.text.as_str(), "the" | "all" | "both"));
            let joined =
                before.is_some_and(|w| w.text == "and" || matches!(w.then, Some('&' | '+')));
            let word = &words[at];
            joined && (is_others(word) || is_capital(word) && unread.contains(&word))
        })?;
        Some(self.no_batch(words, at, &unread))
    }

    fn speaks_against(&self, words: &[Word], here: &Named<'_>, strict: bool) -> Option<String> {
        if is_later(&here.rest.iter().map(|w| w.text.clone()).collect::<Vec<_>>()) {
            return None;
        }
        if let Some(word) = here.rest.iter().find(|word| self.leaves_open(word, here)) {
            return Some(format!(
                "'{}' does not say which batches; name them, as in {}",
                word.said, self.as_in
            ));
        }
        let unread = self.unread(here);
        let name = (0..words.len()).find(|&at| {
            let before = words[..at]
                .iter()
                .rfind(|w| !matches!(w.text.as_str(), "the" | "a" | "our" | "my" | "all"));
            let within = before.is_some_and(|w| matches!(w.text.as_str(), "in" | "at"));
            unread.contains(&&words[at]) && (within || is_capital(&words[at]))
        });
        if let Some(at) = name {
            return Some(self.no_batch(words, at, &unread));
        }
        let word = unread.first().filter(|_| strict)?;
        Some(format!(
            "'{}' is not understood, and no batch is named; name the batches, as in {}",
            word.said, self.as_in
        ))
    }

    /// Whether a word means batches that are not said, or only a part of them.
    fn leaves_open(&self, word: &Word, here: &Named<'_>) -> bool {
        let text = word.text.as_str();
        if OTHERS.contains(&text) {
            return true;
        }
        let one = matches!(self.asking.asked, [asked] if asked.batches.len() == 1) && !self.place;
        let work = here
            .parts
            .iter()
            .all(|p| !matches!(p, Part::Did(did) if !did.is_work()));
        let counted = here
            .parts
            .iter()
            .any(|p| matches!(p, Part::Count(_) | Part::Early(_)));
        if LEFT.contains(&text) {
            return !(one && work);
        }
        !self.place && (WITHIN.contains(&text) && !one || ROOFS.contains(&text) && !counted)
    }

    /// The words that may be a name, or anything.
    fn unread<'w>(&self, here: &'w Named<'_>) -> Vec<&'w Word> {
        let known = |word: &Word| {
            let text = word.text.as_str();
            is_filler(text)
                || is_alongside(text, self.asking.by)
                || HARMLESS.contains(&text)
                || !text.chars().any(char::is_alphabetic)
                || self
                    .own
                    .iter()
                    .any(|name| name.split(' ').any(|one| one == text))
                || titles::has(text, self.asking.cares)
        };
        here.rest.iter().filter(|word| !known(word)).collect()
    }

    /// A name of one or more words that is no batch.
    fn no_batch(&self, words: &[Word], at: usize, unread: &[&Word]) -> String {
        let more = words[at + 1..]
            .iter()
            .take_while(|w| is_capital(w) && unread.contains(w));
        let name: Vec<&str> = std::iter::once(&words[at])
            .chain(more)
            .map(|w| w.said.as_str())
            .collect();
        format!(
            "'{}' is no batch or block; name the batches, as in {}",
            name.join(" "),
            self.as_in
        )
    }
}

fn is_others(word: &Word) -> bool {
    LEFT.contains(&word.text.as_str()) || OTHERS.contains(&word.text.as_str())
}

/// Whether a word says that a part of a place is meant, or another one.
pub fn is_part(word: &str) -> bool {
    OTHERS.contains(&word) || WITHIN.contains(&word) || ROOFS.contains(&word)
}

fn is_capital(word: &Word) -> bool {
    word.said.starts_with(char::is_uppercase)
}

fn has_place(named: &Named<'_>) -> bool {
    named.parts.iter().any(Part::is_place)
}

/// What was done, as it might be written.
fn work(named: &Named<'_>) -> String {
    let did = named.parts.iter().find_map(|part| match part {
        Part::Did(did) => Some(*did),
        _ => None,
    });
    match did {
        Some(Did::This(what)) => spoken(what),
        Some(Did::Asked) => "done".into(),
        Some(Did::Look) => "looked".into(),
        Some(Did::Slit) => "tape off".into(),
        Some(Did::Cut) | None => "headed back".into(),
    }
}

/// Names that stand beside the batches which a line names, in small letters.
fn own_names(named: &Named<'_>) -> Vec<String> {
    let batches = named.parts.iter().filter_map(|part| match part {
        Part::Batch(care) => Some(*care),
        _ => None,
    });
    let of = batches.flat_map(|care| {
        let batch = &care.batch;
        [
            &*batch.scion,
            &batch.understock,
            &batch.block,
            &care.site.id,
        ]
    });
    let blocks = named.parts.iter().filter_map(|part| match part {
        Part::Block(block) => Some(block.to_lowercase()),
        _ => None,
    });
    of.map(|name| name.to_lowercase()).chain(blocks).collect()
}

/// A line at its commas and full stops; a point after a number is of a date.
fn pieces(line: &str) -> Vec<&str> {
    let mut pieces = Vec::new();
    let mut begin = 0;
    let mut before = ' ';
    let mut chars = line.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        let ends = chars.peek().is_none_or(|(_, next)| next.is_whitespace());
        if matches!(c, ',' | ';' | '!') || c == '.' && ends && !before.is_ascii_digit() {
            pieces.push(line[begin..at].trim());
            begin = at + c.len_utf8();
        }
        before = c;
    }
    pieces.push(line[begin..].trim());
    pieces.retain(|piece| !piece.is_empty());
    pieces
}
