//! The weekly reminder: late work, limits, and callus that ran on, of which nothing has been written down since they were told.

use super::lists::errands;
use crate::letters::answer::quoted;
use crate::letters::letter::{Context, List, Place, Section};
use crate::letters::places::places_named;
use crate::letters::words::{count_of, shortened};
use crate::notices::{Errand, Reminder};
use std::collections::BTreeSet;

/// A batch's name is shown in an example up to so many characters.
const NAME: usize = 60;

pub(super) fn reminder(digest: &Reminder, context: &Context<'_>) -> Section {
    let batches: BTreeSet<&str> = digest.errands().map(|e| e.batch.as_str()).collect();
    let count = count_of(batches.len() as u32, "batch");
    let named = places_named(&blocks(&batches, context));
    let lists = [
        ("Late:", errands(&digest.late, "was due", context)),
        (
            "Past the limit, and not written down as done:",
            errands(&digest.limits, "since", context),
        ),
        (
            "Over-callused: head back, ease the tape, look again, and write each down:",
            errands(&digest.over_callused, "since", context),
        ),
        (
            "For a month and longer:",
            errands(&digest.standing, "since", context),
        ),
    ];
    let fresh = digest.errands().count() > digest.standing.len();
    let lead = "Nothing has been written down of this since we wrote of it. Done? Write it down with its date. Not done? Look first what is still worth doing.";
    let again = if fresh {
        "This letter comes once a week, until it is answered."
    } else {
        ""
    };
    Section {
        heading: "Still not written down".into(),
        subject: format!("{named}: still not written down ({count})"),
        paragraphs: [lead.to_owned() + " " + again]
            .into_iter()
            .map(|text| text.trim_end().to_owned())
            .chain(digest.standing.first().map(|first| closing(first, context)))
            .collect(),
        lists: lists
            .into_iter()
            .filter(|(_, lines)| !lines.is_empty())
            .map(|(title, lines)| List {
                title: title.to_owned(),
                lines,
            })
            .collect(),
        ..Section::default()
    }
}

/// How a batch is taken off the list.
fn closing(errand: &Errand, context: &Context<'_>) -> String {
    let how = if context.reply_to.is_some() {
        let name = shortened(&errand.batch, NAME);
        format!("answer this letter with a line such as \"{name} closed\".")
    } else {
        let name = quoted(&errand.batch);
        format!("write closed in the field records, or as here: graftwarden note {name} closed")
    };
    format!(
        "What has stood for a month comes once a month from now on. A batch that is finished or given up is closed, and no more is said of it: {how}"
    )
}

/// The blocks of these batches.
fn blocks(batches: &BTreeSet<&str>, context: &Context<'_>) -> Vec<Place> {
    let several = context.grounds.len() > 1;
    let cares = batches.iter().filter_map(|name| context.named.get(name));
    let blocks = cares.map(|care| {
        let site = if several { &care.batch.site } else { "" };
        (site.to_owned(), care.batch.block.to_string())
    });
    let blocks: BTreeSet<(String, String)> = blocks.collect();
    let place = |(site, block)| Place {
        site,
        block,
        batches: 0,
        grafts: 0,
        by: None,
        about: None,
    };
    blocks.into_iter().map(place).collect()
}
