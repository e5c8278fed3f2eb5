//! The weekly letter: all is well, or what is not, and the fortnight to come.

use super::away::weather;
use super::lists::{coming, hours_of};
use crate::letters::letter::{Context, List, Section};
use crate::letters::words::count_of;
use crate::notices::Weekly;

pub(super) fn weekly(digest: &Weekly, context: &Context<'_>) -> Section {
    let word = if digest.well {
        "All is well"
    } else {
        "The week"
    };
    let batches = match digest.batches {
        0 => "no batch is open".to_owned(),
        n => format!(
            "{}, {}",
            count_of(n, "batch"),
            count_of(digest.grafts, "graft")
        ),
    };
    let mut paragraphs = vec![standing(digest, context)];
    if let Some(next) = &digest.next {
        let first = coming(std::slice::from_ref(next), context);
        paragraphs.push(format!("Next comes {}.", first.concat()));
    } else if digest.batches > 0 && digest.coming.is_empty() && digest.due.is_empty() {
        paragraphs.push("No opening is in sight.".into());
    }
    let mut lists = vec![
        List {
            title: "The last days:".into(),
            lines: digest
                .sites
                .iter()
                .map(|site| weather(site, context))
                .collect(),
        },
        List {
            title: "Within two weeks:".into(),
            lines: coming(&digest.coming, context),
        },
    ];
    lists.retain(|list| !list.lines.is_empty());
    Section {
        heading: word.into(),
        subject: format!("{word}: {batches}, {}", due(digest)),
        paragraphs,
        lists,
        ..Section::default()
    }
}

fn due(digest: &Weekly) -> String {
    let late = match digest.late {
        0 => String::new(),
        n => format!(", {n} of them late"),
    };
    match digest.due.len() as u32 {
        0 => "nothing is due".to_owned(),
        n => format!("{} due{late}", count_of(n, "thing")),
    }
}

/// How things stand, in a few sentences.
fn standing(digest: &Weekly, context: &Context<'_>) -> String {
    let text = match digest.batches {
        0 => "No batch is open.".to_owned(),
        n => format!(
            "{} with {} are followed: {}{}.",
            count_of(n, "batch"),
            count_of(digest.grafts, "graft"),
            due(digest),
            hours_of(&digest.due, context)
        ),
    };
    let say = |n: u32, one: &str, many: &str| match n {
        0 => String::new(),
        1 => format!(" 1 {one}."),
        n => format!(" {n} {many}."),
    };
    text + &say(
        digest.pressing,
        "batch is at its limit or near it",
        "batches are at their limit or near it",
    ) + &say(
        digest.troubles,
        "trouble stands: graftwarden check tells of it",
        "troubles stand: graftwarden check tells of them",
    )
}
