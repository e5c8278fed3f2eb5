//! One record of what was done, and what is odd about it.

use super::Asking;
use super::phrases::Did;
use super::titles;
use crate::care::{BatchCare, Facts, State, StepCare};
use crate::nursery::{Count, Record, What};
use crate::register::{RecordWords, parse_record_words};
use chrono::NaiveDate;

const SEEN: &str =
    "the letter asked to look, so it matters what was seen; write lines, no lines or lines 3/10";

/// The record of one batch of which these facts are known, and what is to be asked about it.
pub fn of_batch(
    care: &BatchCare<'_>,
    did: Did,
    count: Option<&str>,
    date: NaiveDate,
    remark: &str,
    facts: &Facts,
    asking: &Asking<'_>,
) -> Result<(Record, Option<String>), String> {
    let name = &care.batch.name;
    let what = word(care, did, asking)?;
    let count = count.map(|count| of_all(count, what, care, facts));
    if let Some(share) = count
        .as_deref()
        .filter(|c| c.contains('/') && what.is_work())
    {
        return Err(format!(
            "'{share}' is not a count of grafts; write how many, or where it is a date, as in 18 Aug"
        ));
    }
    let record = record(what, name, count.as_deref(), date, remark, asking)?;
    if date < care.batch.grafted_on {
        return Err(format!(
            "{date} lies before {name} was grafted on {}",
            care.batch.grafted_on
        ));
    }
    if let Some(Count::Of(n)) = record.count
        && record.what != What::HeadLength
        && n > f64::from(care.batch.grafts)
    {
        return Err(format!(
            "{name} has {} grafts, not {n}; write the count again",
            care.batch.grafts
        ));
    }
    let question = question(care, &record, facts);
    Ok((record, question))
}

/// The record of a block, of which only batches that wait for it are touched.
pub fn of_block(
    block: &str,
    did: Did,
    count: Option<&str>,
    date: NaiveDate,
    remark: &str,
    asking: &Asking<'_>,
) -> Result<(Record, Option<String>), String> {
    let here = || asking.cares.iter().filter(|c| c.batch.block == block);
    let mut words = here().filter_map(|care| word(care, did, asking).ok());
    let Some(what) = words.next() else {
        return Err(format!(
            "what was done in block {block} is not plain; write it as in block {block} headed back"
        ));
    };
    let record = record(what, &format!("block:{block}"), count, date, remark, asking)?;
    let open = here().filter(|c| step_of(c, what).is_some_and(|s| is_open(s.state)));
    if open.count() == 0 {
        return Err(format!(
            "in block {block} nothing waits for {}; name the batches",
            what.name()
        ));
    }
    Ok((record, None))
}

/// A word of the field records as people write it.
pub fn spoken(what: What) -> String {
    what.name().replace('-', " ")
}

fn record(
    what: What,
    target: &str,
    count: Option<&str>,
    date: NaiveDate,
    remarks: &str,
    asking: &Asking<'_>,
) -> Result<Record, String> {
    // None of ten show lines: that is the other word.
    let none_seen = count.is_some_and(|c| c.starts_with("0/"));
    let what = if what == What::Lines && none_seen {
        What::NoLines
    } else {
        what
    };
    let words = RecordWords {
        date: &date.to_string(),
        batch: target,
        what: what.name(),
        count: count.unwrap_or_default(),
        by: asking.by,
        remarks,
    };
    parse_record_words(words, asking.today).map_err(|bad| {
        let said: Vec<String> = bad.iter().map(ToString::to_string).collect();
        said.join("; ")
    })
}

/// The word of the field records for what was done on a batch.
fn word(care: &BatchCare<'_>, did: Did, asking: &Asking<'_>) -> Result<What, String> {
    match did {
        Did::This(what) => Ok(what),
        Did::Cut => {
            let progress = care.facts.progress(&[What::HeadedBack]);
            let again =
                progress.done >= progress.of && step_of(care, What::HeadedBackAgain).is_some();
            Ok(if again {
                What::HeadedBackAgain
            } else {
                What::HeadedBack
            })
        }
        // Where a plan slits the tie to take it off, its step says so; else it is eased.
        Did::Slit if titles::speaks_of(care, What::TapeOff, "slit") => Ok(What::TapeOff),
        Did::Slit => Ok(What::TapeEased),
        Did::Look => {
            let mut looks = asking.asked_of(&care.batch.name).filter_map(|asked| {
                let brings = &care.step(&asked.step)?.step.brings;
                is_look(brings).then_some(brings)
            });
            if looks.any(|brings| !brings.contains(&What::Looked)) {
                return Err(SEEN.into());
            }
            Ok(What::Looked)
        }
        Did::Asked => {
            let step = step_meant(care, asking)?;
            let brings = &step.step.brings;
            match brings.first() {
                Some(What::Lines | What::NoLines) => Err(SEEN.into()),
                Some(What::HeadLength) => Err(format!(
                    "the letter asked for a length; write it as in {} head length 35",
                    care.batch.name
                )),
                Some(&what) => Ok(what),
                None => Err("the letter asked for nothing to write down".into()),
            }
        }
    }
}

/// The step that the letter asked for of a batch, where it is one.
fn step_meant<'c>(
    care: &'c BatchCare<'_>,
    asking: &Asking<'_>,
) -> Result<&'c StepCare<'c>, String> {
    let name = &care.batch.name;
    let mut asked = asking.asked_of(name);
    match (asked.next(), asked.next()) {
        (None, _) if asking.asked.is_empty() => Err(format!(
            "it answers no letter that asks for something; write what was done, as in {name} headed back"
        )),
        (Some(one), None) => care
            .step(&one.step)
            .ok_or_else(|| format!("{name} has no step that the letter asked for")),
        _ => Err(format!(
            "the letter asked for more than one thing, and not for one of {name}; write what was done, as in {name} headed back"
        )),
    }
}

/// Whether what answers a step is what was seen.
pub fn is_look(brings: &[What]) -> bool {
    let looks = [What::Lines, What::NoLines, What::Looked];
    brings.first().is_some_and(|first| looks.contains(first))
}

/// `180 of 310` is 180 where 310 are all grafts of the batch, or all that are left: letters say it so.
fn of_all(count: &str, what: What, care: &BatchCare<'_>, facts: &Facts) -> String {
    let progress = facts.progress(&[what]);
    let all = [
        care.batch.grafts,
        progress.of,
        progress.of.saturating_sub(progress.done),
    ];
    match count.split_once('/') {
        Some((done, of)) if what.is_work() || what == What::Take => of
            .parse()
            .ok()
            .filter(|of| all.contains(of))
            .map_or_else(|| count.to_owned(), |_| done.to_owned()),
        _ => count.to_owned(),
    }
}

/// The step that the word answers.
pub fn step_of<'c>(care: &'c BatchCare<'_>, what: What) -> Option<&'c StepCare<'c>> {
    care.steps.iter().find(|s| s.step.brings.contains(&what))
}

/// Whether a step of that state waits to be done.
pub fn is_open(state: State) -> bool {
    matches!(state, State::Open | State::Closing | State::Late)
}

/// Why nothing is to be done on a batch any more.
fn over(care: &BatchCare<'_>) -> Option<String> {
    let name = &care.batch.name;
    if care.is_open() {
        None
    } else if care.facts.closed_on().is_some() {
        Some(format!("{name} is closed"))
    } else if care.facts.alive() == 0 {
        Some(format!("no grafts of {name} are left"))
    } else {
        Some(format!("the last work on {name} is done"))
    }
}

/// The dead can be grafted anew, though no graft is left.
fn grafts_anew(care: &BatchCare<'_>, record: &Record) -> bool {
    record.what == What::Regrafted && care.facts.closed_on().is_none() && care.facts.alive() == 0
}

/// What is odd about a record that is written down all the same.
pub fn question(care: &BatchCare<'_>, record: &Record, facts: &Facts) -> Option<String> {
    let name = &care.batch.name;
    let word = record.what.name();
    // Who takes something back has seen what was written.
    if record.what == What::Retract {
        return None;
    }
    if let Some(over) = over(care).filter(|_| !grafts_anew(care, record)) {
        return Some(format!("{over}; is {word} really meant for it?"));
    }
    if record.what.is_work() {
        let left = facts.left(record.what);
        if left == 0 && record.what == What::Regrafted {
            return Some(format!(
                "all grafts of {name} were written down as regrafted or lost before; was this another time?"
            ));
        }
        if left == 0 {
            return Some(format!(
                "{name} was all written down as {word} before; was this another time?"
            ));
        }
        if let Some(Count::Of(n)) = record.count
            && n > f64::from(left)
        {
            return Some(format!(
                "{n} {word} on {name}, where {left} were left; is the count right?"
            ));
        }
    }
    // What is seen may be seen on any day; work has its time.
    let step = step_of(care, record.what).filter(|_| record.what.is_work())?;
    // Lines of the same mail may have opened it.
    let opened = facts.first(&step.step.opens.at_once).is_some();
    (step.state == State::Ahead && !opened).then(|| {
        format!(
            "'{}' of {name} is not due yet; is {word} really meant for it?",
            step.step.title
        )
    })
}
