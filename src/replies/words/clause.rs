//! What belongs together in a line: which work on which batches, how many and when.

use super::Asking;
use super::made::{of_batch, of_block};
use super::phrases::Did;
use crate::care::BatchCare;
use crate::nursery::{Record, What};
use chrono::NaiveDate;

/// What stands in a line, in its order.
#[derive(Clone, Debug)]
pub enum Part<'a> {
    Batch(&'a BatchCare<'a>),
    Block(&'a str),
    Did(Did),
    Count(String),
    Date(NaiveDate),
}

/// What belongs together: these batches, what was done on them, how many and when.
#[derive(Debug, Default)]
pub struct Clause<'a> {
    batches: Vec<&'a BatchCare<'a>>,
    block: Option<&'a str>,
    dids: Vec<(Did, Option<String>)>,
    /// A count that stands before its word.
    early: Option<String>,
    date: Option<NaiveDate>,
    word_first: bool,
}

/// Puts together what belongs together: `C-14 lines, C-15 tape off` is two clauses, `headed back C-14 and C-15` one.
pub fn clauses(parts: Vec<Part<'_>>) -> Result<Vec<Clause<'_>>, String> {
    let dates: Vec<NaiveDate> = parts
        .iter()
        .filter_map(|p| match p {
            Part::Date(date) => Some(*date),
            _ => None,
        })
        .collect();
    let leading = matches!(parts.first(), Some(Part::Date(_)));
    let mut clauses: Vec<Clause<'_>> = vec![Clause::default()];
    for part in parts {
        let last = clauses.last().filter(|c| c.begins_anew(&part));
        if last.is_some() {
            clauses.push(Clause::default());
        }
        if let Some(clause) = clauses.last_mut() {
            clause.take(part)?;
        }
    }
    let several = clauses.len() > 1;
    match dates[..] {
        [] => {}
        [date] if !several || leading => clauses.iter_mut().for_each(|c| c.date = Some(date)),
        _ if several && clauses.iter().all(|c| c.date.is_some()) => {}
        _ => {
            return Err("it is not plain which date belongs to what; write a line for each".into());
        }
    }
    Ok(clauses)
}

impl<'a> Clause<'a> {
    fn has_place(&self) -> bool {
        !self.batches.is_empty() || self.block.is_some()
    }

    fn place(&self) -> String {
        match (self.block, &self.batches[..]) {
            (Some(block), _) => format!("in block {block}"),
            (None, []) => "there".into(),
            (None, batches) => {
                let names: Vec<String> = batches.iter().map(|c| c.batch.name.clone()).collect();
                format!("on {}", crate::letters::list(&names))
            }
        }
    }

    /// Whether a part begins the next clause.
    fn begins_anew(&self, part: &Part<'_>) -> bool {
        match part {
            Part::Batch(_) | Part::Block(_) => {
                self.has_place() && !self.dids.is_empty() && !self.word_first
            }
            Part::Did(_) => self.has_place() && self.word_first,
            _ => false,
        }
    }

    fn take(&mut self, part: Part<'a>) -> Result<(), String> {
        match part {
            Part::Batch(care) => self.batches.push(care),
            Part::Block(block) if self.block.is_none_or(|b| b == block) => self.block = Some(block),
            Part::Block(_) => return Err("it names two blocks; write a line for each".into()),
            Part::Did(did) => {
                self.word_first |= !self.has_place();
                let early = if self.dids.is_empty() {
                    self.early.take()
                } else {
                    None
                };
                self.dids.push((did, early));
            }
            Part::Count(count) => {
                let free = match self.dids.last_mut() {
                    Some((_, held)) => held,
                    None => &mut self.early,
                };
                if free.replace(count).is_some() {
                    return Err("it has two counts for one thing; write a line for each".into());
                }
            }
            Part::Date(date) => {
                if self.date.replace(date).is_some() {
                    return Err("it has two dates; write a line for each".into());
                }
            }
        }
        Ok(())
    }

    /// The records of this clause, each with what is to be asked about it.
    pub fn records(
        mut self,
        remark: &str,
        asking: &Asking<'_>,
    ) -> Result<Vec<(Record, Option<String>)>, String> {
        // `180 headed back, done`: the word says no more than the others.
        if self.dids.iter().any(|(did, _)| *did != Did::Asked) {
            let counted = self
                .dids
                .iter()
                .find_map(|(did, count)| count.clone().filter(|_| *did == Did::Asked));
            self.dids.retain(|(did, _)| *did != Did::Asked);
            if let (Some(count), Some((_, held @ None))) = (counted, self.dids.last_mut()) {
                *held = Some(count);
            }
        }
        if self.dids.is_empty() {
            return Err(format!(
                "it does not say what was seen or done {}; write a line for each",
                self.place()
            ));
        }
        let date = self.date.unwrap_or(asking.today);
        if self.block.is_some() && !self.batches.is_empty() {
            return Err("it names a block and batches; write a line for each".into());
        }
        let mut found = Vec::new();
        if let Some(block) = self.block {
            for (did, count) in &self.dids {
                found.push(of_block(
                    block,
                    *did,
                    count.as_deref(),
                    date,
                    remark,
                    asking,
                )?);
            }
            return Ok(found);
        }
        let closed = |(did, _): &(Did, Option<String>)| *did == Did::This(What::Closed);
        if self.batches.is_empty() && self.dids.iter().any(closed) {
            return Err("closed ends a batch for good; name it, as in C-14 closed".into());
        }
        let only_cut = matches!(self.dids[..], [(Did::Cut, _)]);
        let batches = if self.batches.is_empty() {
            asked_batches(asking)?
        } else {
            self.batches
        };
        for (did, count) in &self.dids {
            if let (Some(count), true) = (count, batches.len() > 1) {
                let names: Vec<String> = batches.iter().map(|c| c.batch.name.clone()).collect();
                return Err(format!(
                    "{count} of which of {}; write a line for each",
                    crate::letters::list(&names)
                ));
            }
            for care in &batches {
                let (record, mut question) =
                    of_batch(care, *did, count.as_deref(), date, remark, asking)?;
                // Alone, and to a letter that asks something else, it may have been the tape that was cut.
                if question.is_none() && only_cut && !asks(record.what, care, asking) {
                    question = Some(format!(
                        "'cut' was taken as {} of {}; is that what was cut?",
                        record.what.name(),
                        care.batch.name
                    ));
                }
                found.push((record, question));
            }
        }
        Ok(found)
    }
}

/// Whether the letter asks for this work.
fn asks(what: What, care: &BatchCare<'_>, asking: &Asking<'_>) -> bool {
    let step = asking.asked.and_then(|asked| care.step(&asked.step));
    step.is_some_and(|step| step.step.brings.contains(&what))
}

/// The batches that the letter asked for.
fn asked_batches<'a>(asking: &Asking<'a>) -> Result<Vec<&'a BatchCare<'a>>, String> {
    let Some(asked) = asking.asked else {
        return Err("it names no batch, and no letter that it answers is known; write it as in C-14 headed back".into());
    };
    let of = |name: &String| asking.cares.iter().find(|c| c.batch.name == *name);
    let found: Vec<&BatchCare<'_>> = asked.batches.iter().filter_map(of).collect();
    if found.is_empty() {
        return Err("the batches of that letter are not in the register any more".into());
    }
    Ok(found)
}
