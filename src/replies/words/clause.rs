//! What belongs together in a line: which work on which batches, how many and when.

use super::heard::Heard;
use super::made::{is_look, is_open, of_batch, of_block};
use super::meanwhile::{LeftOut, left_out, not_due_in};
use super::phrases::Did;
use super::{Asking, Noted};
use crate::care::BatchCare;
use crate::letters::Asked;
use crate::letters::list;
use crate::nursery::What;
use chrono::NaiveDate;

const TWO_COUNTS: &str = "it has two counts for one thing; write a line for each";

/// What stands in a line, in its order.
#[derive(Clone, Debug)]
pub enum Part<'a> {
    Batch(&'a BatchCare<'a>),
    /// What reads like a batch and is none.
    Stranger(String),
    Block(&'a str),
    Did(Did),
    Count(String),
    /// A count of the work that follows it.
    Early(String),
    Date(NaiveDate),
}

impl Part<'_> {
    /// Whether it says how many.
    pub fn is_count(&self) -> bool {
        matches!(self, Self::Count(_) | Self::Early(_))
    }

    /// Whether it says where.
    pub fn is_place(&self) -> bool {
        matches!(self, Self::Batch(_) | Self::Stranger(_) | Self::Block(_))
    }
}

/// What belongs together: these batches, what was done on them, how many and when.
#[derive(Debug, Default)]
pub struct Clause<'a> {
    batches: Vec<&'a BatchCare<'a>>,
    strangers: Vec<String>,
    block: Option<&'a str>,
    dids: Vec<(Did, Option<String>)>,
    /// A count that stands before its word.
    early: Option<String>,
    date: Option<NaiveDate>,
    word_first: bool,
}

/// Puts together what belongs together: `C-14 lines, C-15 tape off` is two clauses, `headed back C-14 and C-15` one.
pub fn clauses(parts: Vec<Part<'_>>) -> Result<Vec<Clause<'_>>, String> {
    let mut dates: Vec<NaiveDate> = parts
        .iter()
        .filter_map(|p| match p {
            Part::Date(date) => Some(*date),
            _ => None,
        })
        .collect();
    dates.dedup(); // "Mon 20 July"
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
        !self.batches.is_empty() || !self.strangers.is_empty() || self.block.is_some()
    }

    /// Every batch it names, of ours or not.
    fn names(&self) -> Vec<String> {
        let ours = self.batches.iter().map(|care| care.batch.name.clone());
        ours.chain(self.strangers.iter().cloned()).collect()
    }

    fn place(&self) -> String {
        match (self.block, self.names()) {
            (Some(block), _) => format!("in block {block}"),
            (None, names) if names.is_empty() => "there".into(),
            (None, names) => format!("on {}", list(&names)),
        }
    }

    /// Whether a part begins the next clause.
    fn begins_anew(&self, part: &Part<'_>) -> bool {
        match part {
            Part::Batch(_) | Part::Stranger(_) | Part::Block(_) => {
                self.has_place() && !self.dids.is_empty() && !self.word_first
            }
            Part::Did(_) | Part::Early(_) => self.has_place() && self.word_first,
            _ => false,
        }
    }

    fn take(&mut self, part: Part<'a>) -> Result<(), String> {
        match part {
            Part::Batch(care) => self.batches.push(care),
            Part::Stranger(name) => self.strangers.push(name),
            Part::Block(block) if self.block.is_none_or(|b| b == block) => self.block = Some(block),
            Part::Block(_) => return Err("it names two blocks; write a line for each".into()),
            Part::Did(did) => {
                self.word_first |= !self.has_place();
                self.dids.push((did, self.early.take()));
            }
            Part::Early(count) => {
                if self.early.replace(count).is_some() {
                    return Err(TWO_COUNTS.into());
                }
            }
            Part::Count(count) => {
                let free = match self.dids.last_mut() {
                    Some((_, held)) => held,
                    None => &mut self.early,
                };
                if free.replace(count).is_some() {
                    return Err(TWO_COUNTS.into());
                }
            }
            Part::Date(date) => {
                if self.date.replace(date).is_some_and(|other| other != date) {
                    return Err("it has two dates; write a line for each".into());
                }
            }
        }
        Ok(())
    }

    /// What this clause writes down, on top of what was heard before; each record is heard from then on.
    pub fn records(
        mut self,
        remark: &str,
        asking: &Asking<'a>,
        heard: &mut Heard,
    ) -> Result<Told, String> {
        self.settle_done()?;
        if self.dids.is_empty() {
            return Err(format!(
                "it does not say what was seen or done {}; write a line for each",
                self.place()
            ));
        }
        let date = self.date.unwrap_or(asking.today);
        if self.block.is_some() && !self.names().is_empty() {
            return Err("it names a block and batches; write a line for each".into());
        }
        let closed = |(did, _): &(Did, Option<String>)| *did == Did::This(What::Closed);
        if self.names().is_empty() && self.dids.iter().any(closed) {
            return Err(format!(
                "closed ends a batch for good; name it, as in {} closed",
                asking.like(None)
            ));
        }
        let (steps, several) = self.steps_meant(asking);
        if several {
            return Ok(Told {
                which: Some((steps, date)),
                ..Told::default()
            });
        }
        // Of all that the letter asked for, one step waits in the block.
        let one = Asking {
            asked: &steps,
            ..*asking
        };
        let asking = match steps[..] {
            [_] if self.block.is_some() => &one,
            _ => asking,
        };
        let only_cut = matches!(self.dids[..], [(Did::Cut, _)]);
        let mut told = Told::default();
        for (did, count) in &self.dids {
            let (did, count) = (*did, count.as_deref());
            if let Some(block) = self.block
                && (did != Did::Asked || count.is_some())
            {
                let (record, question) = of_block(block, did, count, date, remark, asking)?;
                heard.hear(&record);
                told.left.extend(not_due_in(block, record.what, asking));
                told.noted.push(Noted { record, question });
                continue;
            }
            let batches = self.meant(did, asking)?;
            self.counts_one(count, &batches)?;
            for care in batches {
                let facts = heard.facts(care);
                let (record, mut question) =
                    of_batch(care, did, count, date, remark, &facts, asking)?;
                // Where the letter asked for several steps, a word for one of them stands for `done`.
                let rule = match asking.asked {
                    [_, _, ..] if did.is_work() => Did::Asked,
                    _ => did,
                };
                if (did == Did::Asked || !self.has_place())
                    && let Some(left) = left_out(care, rule, &record, &facts, asking)
                {
                    told.left.push(left);
                    continue;
                }
                // Alone, and to a letter that asks something else, it may have been the tape that was cut.
                if question.is_none() && did == Did::Slit && record.what == What::TapeEased {
                    question = Some(format!(
                        "'slit' was taken as tape-eased of {}; is that right, and the tie not off?",
                        care.batch.name
                    ));
                }
                if question.is_none() && only_cut && !asks(record.what, care, asking) {
                    question = Some(format!(
                        "'cut' was taken as {} of {}; is that what was cut?",
                        record.what.name(),
                        care.batch.name
                    ));
                }
                heard.hear(&record);
                told.noted.push(Noted { record, question });
            }
        }
        Ok(told)
    }

    /// `180 headed back, done`: the word says no more than the others.
    fn settle_done(&mut self) -> Result<(), String> {
        // "Done done done."
        self.dids
            .dedup_by(|one, other| one.0 == other.0 && one.1.is_none());
        if self.dids.iter().all(|(did, _)| *did == Did::Asked) {
            return Ok(());
        }
        let counted = self
            .dids
            .iter()
            .find_map(|(did, count)| count.clone().filter(|_| *did == Did::Asked));
        self.dids.retain(|(did, _)| *did != Did::Asked);
        if let (Some(count), Some((_, held))) = (counted, self.dids.last_mut())
            && held.replace(count).is_some()
        {
            return Err(TWO_COUNTS.into());
        }
        Ok(())
    }

    /// The batches it is about: those it names, those that wait for what the letter asked for in its block, or all that
    /// the letter asked for.
    fn meant(&self, did: Did, asking: &Asking<'a>) -> Result<Vec<&'a BatchCare<'a>>, String> {
        match self.block {
            Some(block) => waiting_in(block, asking),
            None if self.has_place() => Ok(self.batches.clone()),
            None => asked_batches(did, asking),
        }
    }

    /// The steps of the letter that `done` may mean here, each with the batches in question, and whether that leaves open
    /// which of them is done. None where the letter asked for one, or the line says which.
    fn steps_meant(&self, asking: &Asking<'_>) -> (Vec<Asked>, bool) {
        let done = |(did, _): &(Did, Option<String>)| *did == Did::Asked;
        if asking.asked.len() < 2 || !self.dids.iter().all(done) {
            return (Vec::new(), false);
        }
        let here = |asked: &Asked, name: &String| match self.block {
            Some(block) => waits_in(block, asked, name, asking),
            None => !self.has_place() || self.batches.iter().any(|c| c.batch.name == *name),
        };
        let steps = asking.asked.iter().map(|asked| Asked {
            step: asked.step.clone(),
            batches: asked
                .batches
                .iter()
                .filter(|name| here(asked, name))
                .cloned()
                .collect(),
        });
        let steps: Vec<Asked> = steps.filter(|asked| !asked.batches.is_empty()).collect();
        let several = |name: &String| {
            let of = steps.iter().filter(|asked| asked.batches.contains(name));
            of.count() > 1
        };
        let named = self.has_place() && self.block.is_none();
        let open = if named {
            steps.iter().flat_map(|asked| &asked.batches).any(several)
        } else {
            steps.len() > 1
        };
        (steps, open)
    }

    /// A count is of one batch.
    fn counts_one(&self, count: Option<&str>, batches: &[&BatchCare<'_>]) -> Result<(), String> {
        let Some(count) = count.filter(|_| batches.len() + self.strangers.len() > 1) else {
            return Ok(());
        };
        let ours = batches.iter().map(|care| care.batch.name.clone());
        let names: Vec<String> = ours.chain(self.strangers.iter().cloned()).collect();
        Err(format!(
            "{count} of which of {}; write a line for each",
            list(&names)
        ))
    }
}

/// What a clause, or a line, writes down.
#[derive(Debug, Default)]
pub struct Told {
    /// Its records.
    pub noted: Vec<Noted>,
    /// The batches it is not taken for.
    pub left: Vec<LeftOut>,
    /// The steps that it may mean, where they are several, and the day of which it speaks.
    pub which: Option<(Vec<Asked>, NaiveDate)>,
}

/// Whether the letter asks for this work.
fn asks(what: What, care: &BatchCare<'_>, asking: &Asking<'_>) -> bool {
    let mut steps = asking.asked.iter().filter_map(|one| care.step(&one.step));
    steps.any(|step| step.step.brings.contains(&what))
}

/// Whether this is what answers a step of a batch.
fn answers(did: Did, care: &BatchCare<'_>, step: &str) -> bool {
    let brings = care.step(step).map_or(&[][..], |step| &step.step.brings);
    let any = |words: &[What]| words.iter().any(|what| brings.contains(what));
    match did {
        Did::This(what) => brings.contains(&what) || what == What::Looked && is_look(brings),
        Did::Look => is_look(brings),
        Did::Cut => any(&[What::HeadedBack, What::HeadedBackAgain]),
        Did::Slit => any(&[What::TapeOff, What::TapeEased]),
        Did::Asked => false,
    }
}

/// Whether a batch stands in that block and waits for what the letter asked for of it.
fn waits_in(block: &str, asked: &Asked, name: &str, asking: &Asking<'_>) -> bool {
    let mut cares = asking.cares.iter().filter(|c| c.batch.name == *name);
    cares.any(|care| {
        let step = care.step(&asked.step);
        care.batch.block == block && step.is_some_and(|step| is_open(step.state))
    })
}

/// The batches of a block in which what the letter asked for waits.
fn waiting_in<'a>(block: &str, asking: &Asking<'a>) -> Result<Vec<&'a BatchCare<'a>>, String> {
    if asking.asked.is_empty() {
        return Err(format!(
            "it answers no letter that asks for something; write what was done, as in block {block} headed back"
        ));
    }
    let waits = |care: &&BatchCare<'_>| {
        let name = &care.batch.name;
        let mut asked = asking.asked_of(name);
        asked.any(|asked| waits_in(block, asked, name, asking))
    };
    let found: Vec<&BatchCare<'_>> = asking.cares.iter().filter(waits).collect();
    if found.is_empty() {
        return Err(format!(
            "in block {block} nothing waits for what the letter asked for; name the batches and what was done"
        ));
    }
    Ok(found)
}

/// The batches that the letter asked for: where it asked for several steps, of the one that this answers.
fn asked_batches<'a>(did: Did, asking: &Asking<'a>) -> Result<Vec<&'a BatchCare<'a>>, String> {
    let of = |name: &String| asking.cares.iter().find(|c| c.batch.name == *name);
    let asked = match asking.asked {
        [] => {
            return Err(format!(
                "it names no batch, and answers no letter that asks for something; write it as in {} headed back",
                asking.like(None)
            ));
        }
        [one] => &one.batches,
        several => {
            let answered = |asked: &&Asked| {
                let mut cares = asked.batches.iter().filter_map(of);
                cares.any(|care| answers(did, care, &asked.step))
            };
            let found: Vec<&Asked> = several.iter().filter(answered).collect();
            let among = if found.is_empty() {
                several.iter().collect()
            } else {
                found
            };
            let (first, others) = among.split_first().ok_or("the letter asked for nothing")?;
            let same = |other: &&Asked| {
                let known = |name: &String| first.batches.contains(name);
                other.batches.len() == first.batches.len() && other.batches.iter().all(known)
            };
            if !others.iter().all(same) {
                return Err(format!(
                    "the letter asked for more than one thing, and it is not plain of which batches this is said; name them, as in {} headed back",
                    asking.like(None)
                ));
            }
            &first.batches
        }
    };
    let found: Vec<&BatchCare<'_>> = asked.iter().filter_map(of).collect();
    if found.is_empty() {
        return Err("the batches of that letter are not in the register any more".into());
    }
    Ok(found)
}
