//! What others wrote down since of work that this person was told of: one line, so that it does not go silently.

use crate::letters::letter::{Context, Section};
use crate::letters::words::day_near;
use crate::nursery::{Count, Person, Record, Target, What, counts_as};

/// So many are named; more are counted.
const NAMED: usize = 8;

/// The end of a letter to `person`, where others have written down some of the work that they were told of: `told` is batch
/// and step, `records` what is new since their last letter.
pub fn written_since(
    person: &Person,
    told: &[(String, String)],
    records: &[Record],
    context: &Context<'_>,
) -> Option<Section> {
    let mut said: Vec<String> = Vec::new();
    for record in records {
        let news = !record.by.is_empty()
            && !person.is_called(&record.by)
            && told
                .iter()
                .any(|(batch, step)| answers(record, batch, step, context));
        let line = line(record, context);
        if news && !said.contains(&line) {
            said.push(line);
        }
    }
    if said.is_empty() {
        return None;
    }
    let more = said.len().saturating_sub(NAMED);
    said.truncate(NAMED);
    if more > 0 {
        said.push(format!("and {more} more"));
    }
    Some(Section {
        heading: "Written down since our last letter".into(),
        paragraphs: vec![format!("{}.", said.join("; "))],
        ..Section::default()
    })
}

/// Whether a record, in force still, answers a step of a batch.
fn answers(record: &Record, batch: &str, step: &str, context: &Context<'_>) -> bool {
    let Some(care) = context.named.get(batch) else {
        return false;
    };
    let limit = care.plan.limit.as_ref().filter(|limit| limit.id == step);
    let step = care.plan.step(limit.map_or(step, |limit| &limit.until));
    let ends = record.what == What::Closed;
    let brings = step.is_some_and(|step| step.brings.contains(&counts_as(record)));
    let stands = || {
        let facts = care.facts.all().iter();
        let mut same = facts.filter(|f| f.date == record.date && f.what == counts_as(record));
        same.any(|f| f.count == record.count)
    };
    record.is_about(&care.batch) && (ends || brings) && stands()
}

/// "C-14 headed back 310 (Maren, Tue 4 Aug)".
fn line(record: &Record, context: &Context<'_>) -> String {
    let target = match &record.target {
        Target::Batch(name) => name.clone(),
        Target::Block(block) => format!("block {block}"),
    };
    let count = match record.count {
        None => String::new(),
        Some(Count::Of(n)) => format!(" {n}"),
        Some(Count::Share(n, of)) => format!(" {n}/{of}"),
    };
    let what = record.what.name().replace('-', " ");
    let day = day_near(record.date, context.today);
    format!("{target} {what}{count} ({}, {day})", record.by)
}
