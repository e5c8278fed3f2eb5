//! A word that does not say which of several steps is done, and the lines that do.

use super::{Became, Receipt, quoted};
use crate::letters::answer::{Offer, Reply, offers};
use crate::letters::letter::{Asked, Context, List, Section};
use crate::letters::words::capital;
use chrono::NaiveDate;

/// The section that asks.
pub(super) fn which(receipt: &Receipt, context: &Context<'_>) -> Option<Section> {
    let said = asked(receipt);
    let (first, ..) = said.first()?;
    let mut section = Section {
        heading: "Please say which".into(),
        subject: format!("Which is done? A question about {}", quoted(first)),
        ..Section::default()
    };
    for (said, asked, on) in said {
        section.paragraphs.push(format!(
            "{}: the letter asked for more than one thing, and this does not say which of them is done. Nothing is written down by it.",
            quoted(said)
        ));
        let offers = offers(asked, Some(on), context);
        if offers.is_empty() {
            section
                .paragraphs
                .push("Nothing of what it asked for waits any more.".into());
        }
        section.lists.extend(offers.into_iter().map(list_of));
    }
    Some(section)
}

fn list_of(offer: Offer) -> List {
    let lines = match offer.example {
        Some(example) => vec![format!("with its count, such as {example}")],
        None => offer.ways.into_iter().flat_map(|way| way.lines).collect(),
    };
    List {
        title: format!("{} ({}):", capital(&offer.title), offer.batches),
        lines,
    }
}

/// The same lines as replies that are begun.
pub(super) fn replies(receipt: &Receipt, context: &Context<'_>) -> Vec<Reply> {
    let said = asked(receipt).into_iter();
    let offers = said.flat_map(|(_, asked, on)| offers(asked, Some(on), context));
    offers.flat_map(|offer| offer.ways).collect()
}

/// What was said, of which steps, and of which day; whoever says it twice is asked once.
fn asked(receipt: &Receipt) -> Vec<(&str, &[Asked], NaiveDate)> {
    let mut found: Vec<(&str, &[Asked], NaiveDate)> = Vec::new();
    for line in &receipt.lines {
        if let Became::Which(asked, on) = &line.became
            && found.iter().all(|(_, known, _)| known != asked)
        {
            found.push((&line.said, asked, *on));
        }
    }
    found
}
