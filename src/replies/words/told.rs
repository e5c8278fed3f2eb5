//! What a line tells, as field records: its batches, words, counts and dates put together.

use super::clause::{Part, clauses};
use super::doubts::{doubt, is_alongside, is_weak};
use super::phrases::{is_filler, is_later, phrase};
use super::tokens::Word;
use super::{Asking, Meant, names, when};

/// Words after which a number is a place and no count.
const PLACES: &[&str] = &["row", "rows", "bed", "beds", "bay", "tunnel", "house"];
/// The longest remark that is kept, in characters.
const REMARK: usize = 200;

/// The records of a line; or why there are none.
pub fn records(line: &str, words: &[Word], asking: &Asking<'_>) -> Result<Meant, String> {
    let Named { parts, rest, weak } = parts(words, asking)?;
    let said = parts.iter().any(|p| matches!(p, Part::Did(_)));
    if let Some(why) = rest.iter().find_map(|w| doubt(w)) {
        if !said && is_later(&rest) {
            return Ok(Meant::Later);
        }
        return Err(why);
    }
    for word in rest.iter().filter(|w| !is_filler(w)) {
        if let Some(why) = names::misnamed(word, asking.cares) {
            return Err(why);
        }
    }
    if !said {
        return Err(nothing_done(&parts));
    }
    let unknown = |w: &&String| !is_filler(w) && !is_alongside(w, asking.by);
    if let (Some(weak), Some(word)) = (weak, rest.iter().find(unknown)) {
        return Err(format!(
            "'{word}' is not understood, and beside it '{weak}' may be something else; write only what was done, as in C-14 headed back 180"
        ));
    }
    let counted = parts.iter().any(|p| matches!(p, Part::Count(_)));
    let work = |p: &Part<'_>| matches!(p, Part::Did(did) if did.is_work());
    if !counted
        && parts.iter().any(work)
        && rest.iter().any(|w| matches!(w.as_str(), "row" | "rows"))
    {
        return Err("how many grafts these rows have is not known; write the count, as in stopped row 12, 180 done".into());
    }
    let remark = rest.iter().any(|w| !is_filler(w));
    let remark: String = if remark {
        line.chars().take(REMARK).collect()
    } else {
        String::new()
    };
    let (mut records, mut questions) = (Vec::new(), Vec::new());
    for clause in clauses(parts)? {
        for (record, question) in clause.records(&remark, asking)? {
            if !records.contains(&record) {
                records.push(record);
                questions.extend(question);
            }
        }
    }
    Ok(Meant::Records { records, questions })
}

fn nothing_done(parts: &[Part<'_>]) -> String {
    let batch = parts.iter().find_map(|part| match part {
        Part::Batch(care) => Some(care.batch.name.as_str()),
        _ => None,
    });
    let batch = batch.unwrap_or("C-14");
    format!(
        "it does not say what was seen or done; write it as in {batch} headed back, {batch} lines 3/10 or {batch} tape off 18 Aug"
    )
}

/// What a line names.
struct Named<'a> {
    parts: Vec<Part<'a>>,
    /// The words that are left.
    rest: Vec<String>,
    /// A word for what was done that may mean something else.
    weak: Option<String>,
}

fn parts<'a>(words: &[Word], asking: &Asking<'a>) -> Result<Named<'a>, String> {
    let (mut parts, mut rest, mut weak) = (Vec::new(), Vec::new(), None);
    let mut at = 0;
    while at < words.len() {
        let here = &words[at..];
        let word = here[0].text.as_str();
        let texts: Vec<&str> = here.iter().take(6).map(|w| w.text.as_str()).collect();
        let before = at.checked_sub(1).map_or("", |b| words[b].text.as_str());
        if matches!(word, "block" | "blocks") {
            let (block, used) = names::block(&here[1..], asking.cares)?;
            parts.push(Part::Block(block));
            at += 1 + used;
        } else if let Some(found) =
            names::batch(here, asking.cares, matches!(before, "batch" | "batches"))
        {
            let (care, used) = found?;
            parts.push(Part::Batch(care));
            at += used;
        } else if PLACES.contains(&word) {
            rest.push(word.to_owned());
            at += 1 + place(&texts[1..]);
        } else if matches!(word, "sat" | "sun") && !matches!(before, "on" | "last") {
            return Err(format!(
                "'{word}' may be a day; write on {word}, or the date as in 18 Aug"
            ));
        } else if let Some(found) = when::date(here, asking.today) {
            let (date, used) = found?;
            parts.push(Part::Date(date));
            at += used;
        } else if let Some((did, used)) = phrase(&texts) {
            let said = texts[..used].join(" ");
            if is_weak(did, &said) {
                weak = Some(said);
            }
            parts.push(Part::Did(did));
            at += used;
        } else if let Some((count, used)) = count(&texts) {
            parts.push(Part::Count(count));
            at += used;
        } else {
            rest.push(word.to_owned());
            at += 1;
        }
    }
    Ok(Named { parts, rest, weak })
}

/// How many words after `row` say which: `12`, `3 to 5`, `12 of 20`; they are no count.
fn place(texts: &[&str]) -> usize {
    let number =
        |text: Option<&&str>| text.is_some_and(|t| t.starts_with(|c: char| c.is_ascii_digit()));
    if !number(texts.first()) {
        return 0;
    }
    let joined = texts
        .get(1)
        .is_some_and(|t| matches!(*t, "to" | "and" | "until" | "till" | "of"));
    if joined && number(texts.get(2)) { 3 } else { 1 }
}

/// `180`, `32.5`, `32cm`, `3/10`, `3 of 10`, `3 out of 10`, with the words it takes.
fn count(texts: &[&str]) -> Option<(String, usize)> {
    let whole = |text: &str| {
        (!text.is_empty() && text.len() <= 7 && text.bytes().all(|b| b.is_ascii_digit()))
            .then(|| text.to_owned())
    };
    let first = texts.first()?.trim_end_matches('.');
    if let Some((seen, of)) = first.split_once('/') {
        return Some((format!("{}/{}", whole(seen)?, whole(of)?), 1));
    }
    let length = first.strip_suffix("cm").unwrap_or(first);
    let Some(number) = whole(length) else {
        let (units, tenths) = length.split_once(['.'])?;
        return Some((format!("{}.{}", whole(units)?, whole(tenths)?), 1));
    };
    let of = match texts.get(1..) {
        Some(["of", of, ..]) => Some((*of, 3)),
        Some(["out", "of", of, ..]) => Some((*of, 4)),
        _ => None,
    };
    match of.and_then(|(of, used)| Some((whole(of)?, used))) {
        Some((of, used)) => Some((format!("{number}/{of}"), used)),
        None => Some((number, 1)),
    }
}
