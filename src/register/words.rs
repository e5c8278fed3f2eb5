//! The words of one field record to a record: the one check for rows of a file and for the command line.
//!
//! Pure. Says everything that stands against the words, not only the first thing. Whether the batch exists and was
//! grafted by then is checked by those who know the register: a record may be written before its batch.

use super::cell::{self, BadCell, instead, known};
use crate::nursery::{Count, Record, Target, What};
use chrono::NaiveDate;

/// One field record as somebody wrote it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RecordWords<'a> {
    /// `2026-08-18`.
    pub date: &'a str,
    /// The name of a batch, or `block:C`.
    pub batch: &'a str,
    /// One of [`What::ALL`].
    pub what: &'a str,
    /// May be empty for most words.
    pub count: &'a str,
    /// May be empty.
    pub by: &'a str,
    /// May be empty but for `retract`.
    pub remarks: &'a str,
}

/// No scion head is longer, in cm: more is a slip of the pen.
const LONGEST_HEAD: f64 = 1000.0;

/// The record, or everything that stands against it. No record is of a day after `today`.
pub fn parse_record_words(words: RecordWords, today: NaiveDate) -> Result<Record, Vec<BadCell>> {
    let mut bad = Vec::new();
    let date = cell::date("date", words.date.trim(), today)
        .map_err(|cell| bad.push(cell))
        .ok();
    let target = target(words.batch).map_err(|cell| bad.push(cell)).ok();
    let what = what(words.what).map_err(|cell| bad.push(cell)).ok();
    let (Some(what), Some(target)) = (what, target) else {
        return Err(bad);
    };
    let count = count(what, &target, words.count.trim())
        .map_err(|cell| bad.push(cell))
        .ok();
    let remarks = match what {
        What::Retract => retracted(words.remarks).map_err(|cell| bad.push(cell)).ok(),
        _ => Some(words.remarks.trim().to_owned()),
    };
    let (Some(date), Some(count), Some(remarks)) = (date, count, remarks) else {
        return Err(bad);
    };
    Ok(Record {
        date,
        target,
        what,
        count,
        by: words.by.trim().to_owned(),
        remarks,
    })
}

/// A batch by its name, or a block written `block:C`.
pub fn target(text: &str) -> Result<Target, BadCell> {
    let text = text.trim();
    let block = text
        .split_at_checked(6)
        .filter(|(word, _)| word.eq_ignore_ascii_case("block:"))
        .map(|(_, name)| name.trim());
    match block {
        Some("") => Err(BadCell::new(
            "batch",
            "block: names no block",
            "write block:C for every batch of block C",
        )),
        Some(name) => Ok(Target::Block(name.to_owned())),
        None if text.is_empty() => Err(BadCell::new(
            "batch",
            "the batch is missing",
            "write the name of the batch, or block:C for every batch of block C",
        )),
        None => Ok(Target::Batch(text.to_owned())),
    }
}

/// A word of the field records; `No lines` is `no-lines`.
pub fn what(text: &str) -> Result<What, BadCell> {
    let names = || What::ALL.map(What::name);
    let plain = text.trim().replace([' ', '_'], "-");
    if plain.is_empty() {
        return Err(BadCell::new(
            "what",
            "the word for what was seen or done is missing",
            format!("write one of {}", names().join(", ")),
        ));
    }
    // Most rows are written as they should be, and a long file has many.
    let exact = What::named(&plain);
    let found = exact.or_else(|| known(&plain, names()).and_then(What::named));
    found.ok_or_else(|| {
        BadCell::new(
            "what",
            format!("'{}' is not a word of the field records", text.trim()),
            instead(&plain, names()),
        )
    })
}

fn retracted(text: &str) -> Result<String, BadCell> {
    let again = what(text).ok().filter(|&word| word != What::Retract);
    again.map(|word| word.name().to_owned()).ok_or_else(|| {
        let text = text.trim();
        if text.is_empty() {
            return BadCell::new(
                "remarks",
                "retract does not say which word it takes back",
                "write that word into the remarks, such as lines",
            );
        }
        let names = What::ALL.into_iter().filter(|&word| word != What::Retract);
        BadCell::new(
            "remarks",
            format!("'{text}' is not a word that retract can take back"),
            instead(text, names.map(What::name)),
        )
    })
}

fn count(what: What, target: &Target, text: &str) -> Result<Option<Count>, BadCell> {
    let word = what.name();
    let needed = needs_count(what);
    if matches!(target, Target::Block(_)) && (needed || !text.is_empty()) {
        let what = if text.is_empty() {
            format!("{word} needs a count, and a whole block has none")
        } else {
            format!("the count {text} is for a whole block, and whose it is cannot be known")
        };
        return Err(BadCell::new("count", what, "write one row per batch"));
    }
    if text.is_empty() {
        return if needed {
            Err(BadCell::new(
                "count",
                format!("{word} needs a count"),
                wanted(what),
            ))
        } else {
            Ok(None)
        };
    }
    let wrong = || {
        BadCell::new(
            "count",
            format!("'{text}' is not a count for {word}"),
            wanted(what),
        )
    };
    let count = match what {
        What::Closed | What::Retract => None,
        What::Lines if share(text).is_some_and(|(seen, _)| seen == 0) => {
            return Err(BadCell::new(
                "count",
                format!("'{text}' says that no lines were seen"),
                "write no-lines",
            ));
        }
        What::Lines => share(text).map(|(seen, of)| Count::Share(seen, of)),
        What::NoLines => match share(text) {
            Some((seen, of)) => (seen == 0).then_some(Count::Share(seen, of)),
            None => grafts(text, 1),
        },
        What::HeadLength => cell::decimal(text)
            .filter(|&cm| cm > 0.0 && cm <= LONGEST_HEAD)
            .map(Count::Of),
        What::Take => grafts(text, 0),
        _ => grafts(text, 1),
    };
    count.map(Some).ok_or_else(wrong)
}

fn needs_count(what: What) -> bool {
    matches!(
        what,
        What::Take | What::Lost | What::Dead | What::HeadLength
    )
}

fn wanted(what: What) -> &'static str {
    match what {
        What::Lines => "write how many of how many show lines, as 3/10, or leave it empty",
        What::NoLines => "write how many were looked at, or leave it empty",
        What::HeadLength => "write the length in cm, as 32.5",
        What::Take => "write how many are alive, a whole number",
        What::Lost | What::Dead => "write how many, a whole number above 0",
        What::Closed | What::Retract => "leave the count empty",
        _ => "write a whole number above 0, or leave it empty for all that is left",
    }
}

/// `3/10`: not more than were looked at, and at least one was.
fn share(text: &str) -> Option<(u32, u32)> {
    let (seen, of) = text.split_once('/')?;
    let (seen, of) = (cell::whole(seen.trim())?, cell::whole(of.trim())?);
    (of > 0 && seen <= of).then_some((seen, of))
}

fn grafts(text: &str, least: u32) -> Option<Count> {
    cell::whole(text)
        .filter(|&count| count >= least)
        .map(|count| Count::Of(f64::from(count)))
}

#[cfg(test)]
mod tests;
