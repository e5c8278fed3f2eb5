//! The last safe day for grafting.

use crate::letters::grafting::{days_left, how_sure};
use crate::letters::letter::{Context, Section};
use crate::letters::words::day_near;
use crate::notices::Notice;

pub(super) fn last_graft(notice: &Notice, context: &Context<'_>) -> Section {
    let site = notice.about.subject();
    let plan = notice
        .anchor
        .split_once(" by ")
        .map_or("", |(_, plan)| plan);
    let last = notice.until.unwrap_or(notice.on);
    let ground = context.grounds.iter().find(|g| g.site.id == site);
    let sure = ground
        .and_then(|g| g.last_graft(plan)?.ok())
        .and_then(|last| how_sure(&last, context.today));
    let mut paragraphs = vec![format!(
        "By {plan}, {} is the last day on which grafts made at {site} will have grown together and hardened before the first frost: {}.",
        day_near(last, context.today),
        days_left(last, context.today)
    )];
    paragraphs.extend(sure);
    paragraphs.push(
        "Re-graft by then what is to be grafted anew; later ones are better left for next season."
            .into(),
    );
    // Each kind of grafting has a last day of its own.
    let heading = format!(
        "Last day for {plan} at {site}: {}",
        day_near(last, context.today)
    );
    Section {
        subject: heading.clone(),
        heading,
        paragraphs,
        ..Section::default()
    }
}
