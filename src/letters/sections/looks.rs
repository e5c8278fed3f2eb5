//! Looks that no window asks for: at sisters of a batch that shows lines, and early at one batch of a scion.

use super::title;
use crate::care::Sisters;
use crate::letters::letter::{Context, Section, care_of, step_of};
use crate::letters::places::{places, places_named, rows, totals, undated};
use crate::letters::words::{day_short, list};
use crate::notices::Notice;

pub(super) fn sisters(notices: &[&Notice], context: &Context<'_>) -> Section {
    let sisters = Sisters::of(context.cares);
    let mut seen: Vec<String> = Vec::new();
    for notice in notices {
        let Some(care) = care_of(notice, context) else {
            continue;
        };
        for (name, day) in sisters.with_lines(&care.batch) {
            let words = format!("{name} on {}", day_short(day));
            if !seen.contains(&words) {
                seen.push(words);
            }
        }
    }
    let lead = format!(
        "Lines were written down for {}, of the same scion and grafted within two days of these. What shows in one most likely shows in its sisters: look before their own time has come.",
        list(&seen)
    );
    of_looks(
        "Look at the sisters too",
        "the sisters show lines",
        lead,
        notices,
        context,
    )
}

pub(super) fn sentinel(notices: &[&Notice], context: &Context<'_>) -> Section {
    let mut scions: Vec<String> = notices
        .iter()
        .filter_map(|notice| Some(care_of(notice, context)?.batch.scion.to_string()))
        .collect();
    scions.sort();
    scions.dedup();
    let comes = if scions.len() == 1 { "comes" } else { "come" };
    let lead = format!(
        "To learn whether {} {comes} earlier than the plan says. Only who looks early sees it. This is asked of one batch of a scion a season; the others wait for their time. Write down lines or no-lines, both teach.",
        list(&scions)
    );
    of_looks(
        "An early look",
        "an early look, to learn",
        lead,
        notices,
        context,
    )
}

fn of_looks(
    heading: &str,
    subject: &str,
    lead: String,
    notices: &[&Notice],
    context: &Context<'_>,
) -> Section {
    // The time of their window has not come, and its end says nothing of this look.
    let places = undated(places(notices, context));
    let mut rows = rows(notices, context);
    for row in &mut rows {
        row.by.clear();
    }
    let named = places_named(&places);
    let say = step_of(notices[0], context).map(|s| s.step.say.clone());
    Section {
        heading: format!("{heading}: {}", title(notices[0], context)),
        subject: format!("{named}: {subject} ({})", totals(&places)),
        places,
        paragraphs: std::iter::once(lead).chain(say).collect(),
        rows,
        ..Section::default()
    }
}
