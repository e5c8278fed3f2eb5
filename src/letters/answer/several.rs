//! A letter that asks for several steps: `done` does not say which, so that each is answered in words of its own.

use super::{Answer, FEW, Known, Reply, begun, example, first, names, one_line, spoken};
use crate::care::{BatchCare, StepCare};
use crate::letters::letter::{Asked, Context};
use crate::letters::words::{capital, list};
use crate::nursery::What;
use chrono::NaiveDate;

/// So many names stand in one line.
const IN_A_LINE: usize = 12;

/// How one of the steps is answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offer {
    /// "head back".
    pub title: String,
    /// "C-14 and C-15", "all 12 batches".
    pub batches: String,
    /// What there is to say, each in lines that can be sent back as they stand, with what it is called.
    pub ways: Vec<Reply>,
    /// A line that is sent back with a number of one's own, where the lines wait for it.
    pub example: Option<String>,
}

/// How each step that is asked for is answered, in the order of the letter; with the day on which it was done, where that
/// is known.
pub fn offers(asked: &[Asked], on: Option<NaiveDate>, context: &Context<'_>) -> Vec<Offer> {
    let waiting: Vec<Asked> = asked.iter().map(|one| waiting(one, context)).collect();
    let all = waiting.iter().filter_map(|one| {
        let (_, step) = first(one, context)?;
        Some(offers_of(one, step, asked, on, context))
    });
    all.flatten().collect()
}

/// The same step of those batches that still wait for it.
fn waiting(one: &Asked, context: &Context<'_>) -> Asked {
    let waits = |name: &&String| {
        let care = context.named.get(name);
        let step = care.and_then(|care| care.step(&one.step));
        care.is_some_and(BatchCare::is_open) && step.is_some_and(|step| !step.state.is_past())
    };
    Asked {
        step: one.step.clone(),
        batches: one.batches.iter().filter(waits).cloned().collect(),
    }
}

fn offers_of(
    one: &Asked,
    step: &StepCare<'_>,
    all: &[Asked],
    on: Option<NaiveDate>,
    context: &Context<'_>,
) -> Vec<Offer> {
    let title = &step.step.title;
    let brings = &step.step.brings;
    let day = on.map_or_else(String::new, |on| on.format(" %-d %b").to_string());
    // A word that several of the steps bring does not say which of them it is.
    let shared = |what: What| {
        let brings_it = |one: &&Asked| {
            first(one, context).is_some_and(|(_, step)| step.step.brings.contains(&what))
        };
        all.iter().filter(brings_it).count() > 1
    };
    // Without a name it is read of all that the letter asked, also of those that wait no more.
    let asked = all.iter().find(|asked| asked.step == one.step);
    let asked = asked.map_or(0, |asked| asked.batches.len());
    let said = |batches: &[String], what: What| {
        let words = format!("{}{day}", spoken(what));
        let bare = batches.len() == asked
            && brings.contains(&what)
            && !shared(what)
            && what != What::Closed;
        if bare {
            vec![words]
        } else {
            named(batches, &words)
        }
    };
    let counted = |batches: &[String], what: What| Offer {
        title: title.clone(),
        batches: names_of(batches),
        ways: vec![Reply::new(
            if what == What::HeadLength {
                "Write the length"
            } else {
                "Write the count"
            },
            begun(batches, what),
        )],
        example: batches.first().and_then(|name| {
            let care = context.named.get(name)?;
            Some(format!("{}{day}", example(care, care.step(&one.step)?)?))
        }),
    };
    let seen = |batches: &[String], words: &[What]| {
        let way = |&what: &What| Reply::new(seen_as(what), said(batches, what));
        Offer {
            title: title.clone(),
            batches: names_of(batches),
            ways: words.iter().map(way).collect(),
            example: None,
        }
    };
    match brings.first() {
        None => Vec::new(),
        Some(what @ (What::Take | What::HeadLength)) => vec![counted(&one.batches, *what)],
        Some(_) if brings.contains(&What::Lines) => {
            let words = [What::Lines, What::NoLines, What::Looked];
            let words: Vec<What> = words.into_iter().filter(|w| brings.contains(w)).collect();
            vec![seen(&one.batches, &words)]
        }
        Some(&what) => {
            let known = Known::of(one, context);
            let mut found = Vec::new();
            if !known.whole.is_empty() {
                found.push(Offer {
                    title: title.clone(),
                    batches: names_of(&known.whole),
                    ways: vec![Reply::new(
                        format!("{}: done", capital(title)),
                        said(&known.whole, what),
                    )],
                    example: None,
                });
            }
            if !known.part.is_empty() {
                found.push(counted(&known.part, what));
            }
            if let (Some(looked_for), false) = (known.looked_for, known.blind.is_empty()) {
                // Where the letter asks for the look as well, that says how it is answered.
                let look = all.iter().any(|other| {
                    let brings = first(other, context).map(|(_, step)| &step.step.brings);
                    brings.is_some_and(|brings| brings.contains(&looked_for))
                        && known.blind.iter().all(|name| other.batches.contains(name))
                });
                found.push(if look {
                    seen(&known.blind, &[what])
                } else if looked_for == What::Lines {
                    seen(&known.blind, &[What::Lines, What::NoLines, what])
                } else {
                    counted(&known.blind, what)
                });
            }
            found
        }
    }
}

/// The words of batches by name, as many in a line as it takes well.
fn named(batches: &[String], words: &str) -> Vec<String> {
    let together = |some: &[String]| {
        let some: Vec<String> = some.iter().map(|name| one_line(name)).collect();
        format!("{} {words}", list(&some))
    };
    batches.chunks(IN_A_LINE).map(together).collect()
}

fn names_of(batches: &[String]) -> String {
    let all = if batches.len() > FEW { "all " } else { "" };
    format!("{all}{}", names(batches))
}

fn seen_as(what: What) -> String {
    match what {
        What::Lines => "Lines showing".into(),
        What::NoLines => "No lines yet".into(),
        What::Looked => "Looked, all well".into(),
        what => capital(&spoken(what)),
    }
}

/// The words that answer each thing that the letter asks for.
pub(super) fn by_letter(asked: &[Asked], context: &Context<'_>) -> Option<Answer> {
    let offers = offers(asked, None, context);
    let each: Vec<String> = offers.iter().map(in_a_sentence).collect();
    if each.is_empty() {
        return None;
    }
    let (care, step) = asked.iter().find_map(|one| first(one, context))?;
    let say = format!(
        "Answer this letter with a line for each thing that you have seen or done: {}; or a line for each batch, such as \"{}\". \"Done\" alone does not say which of these. \"Not yet\" writes nothing down.",
        each.join("; "),
        example(care, step)?
    );
    let mut replies: Vec<Reply> = Vec::new();
    for reply in offers.into_iter().flat_map(|offer| offer.ways) {
        match replies.iter_mut().find(|known| known.label == reply.label) {
            Some(known) => {
                let new = |line: &String| !known.lines.contains(line);
                let new: Vec<String> = reply.lines.into_iter().filter(new).collect();
                known.lines.extend(new);
            }
            None => replies.push(reply),
        }
    }
    replies.push(Reply::new("Not yet", vec!["not yet".into()]));
    Some(Answer { say, replies })
}

/// `"lines" or "no lines" (look for callus lines: C-14)`.
fn in_a_sentence(offer: &Offer) -> String {
    let quoted = |line: &String| format!("\"{line}\"");
    let ways = match &offer.example {
        Some(example) => vec![quoted(example)],
        None => offer
            .ways
            .iter()
            .filter_map(|way| way.lines.first().map(quoted))
            .collect(),
    };
    let (last, before) = ways
        .split_last()
        .map_or(("", &[][..]), |(last, before)| (last.as_str(), before));
    let ways = match before {
        [] => last.to_owned(),
        before => format!("{} or {last}", before.join(", ")),
    };
    format!("{ways} ({}: {})", offer.title, offer.batches)
}
