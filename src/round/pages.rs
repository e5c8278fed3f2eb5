//! The pages of a round: made from what it settled, kept in the folder that the config names.
//!
//! They are made anew at every round and hold nothing that is not known elsewhere, so they are written after the
//! transaction, and a folder that cannot be written stops nothing: the next round tells of it.

use super::mailroom::Mailroom;
use crate::assemble::House;
use crate::care::{FORTNIGHT, workload};
use crate::letters::Context;
use crate::letters::calendar::{self, windows};
use crate::pages::{Occasion, due_page, field_sheet};
use crate::problem::Problem;
use crate::store::{Memory, StoreError};
use crate::whole_file;
use std::path::Path;
use std::time::Duration;

/// Under this recipient the store keeps what the calendar in the folder was told; nobody has it for an address.
const NOBODY: &str = "";
/// The name under which it is remembered why the folder could not be written.
const TROUBLE: &str = "pages not written";
/// How its trouble begins.
const PLACE: &str = "the pages in ";
/// A folder on another machine that does not answer is given up after this.
const PATIENCE: Duration = Duration::from_secs(30);

/// The files of one round: name and content.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pages(Vec<(&'static str, String)>);

/// Makes the pages, where the config wants them.
pub(super) fn make(
    mailroom: &Mailroom<'_>,
    context: &Context<'_>,
    problems: &[Problem],
) -> Result<Option<Pages>, StoreError> {
    let config = mailroom.config;
    if config.pages.is_none() {
        return Ok(None);
    }
    let local = |at: chrono::DateTime<chrono::Utc>| at.with_timezone(&config.zone).naive_local();
    let next = config.schedule.next_after(mailroom.now, config.zone);
    let loads = workload(
        context.cares,
        context.outlook,
        context.workdays,
        context.today,
        FORTNIGHT,
    );
    // Who reads this page sees that it could be written.
    let others = problems.iter().filter(|p| !p.place.starts_with(PLACE));
    let problems: Vec<Problem> = others.cloned().collect();
    let occasion = Occasion {
        context,
        loads: &loads,
        problems: &problems,
        written: local(mailroom.now),
        next: next.map(|slot| local(slot.at)),
    };
    Ok(Some(Pages(vec![
        ("due.html", due_page(&occasion)),
        ("field-sheet.html", field_sheet(&occasion)),
        ("due.ics", dates(mailroom, context)?),
    ])))
}

/// The calendar: all that is due or will be soon. What was cancelled is left out, since whoever subscribes to a file
/// forgets what is not in it any more.
fn dates(mailroom: &Mailroom<'_>, context: &Context<'_>) -> Result<String, StoreError> {
    let kept = mailroom.kept(NOBODY, &windows(context), context.today)?;
    mailroom.memory.keep_calendar(NOBODY, &kept)?;
    let entries = kept.into_iter().map(|kept| kept.entry);
    let entries: Vec<_> = entries.filter(|entry| !entry.cancelled).collect();
    Ok(calendar::write(&entries, context.nursery, mailroom.now))
}

/// What the last round had to say of the folder.
pub(super) fn trouble(
    memory: &Memory<'_>,
    folder: Option<&Path>,
) -> Result<Option<Problem>, StoreError> {
    let Some(folder) = folder else {
        return Ok(None);
    };
    let why = memory.fact(TROUBLE)?.filter(|why| !why.is_empty());
    Ok(why.map(|why| problem(folder, &why)))
}

fn problem(folder: &Path, why: &str) -> Problem {
    Problem::new(
        format!("{PLACE}{}", folder.display()),
        format!("they could not be written: {why}"),
        "what lies there is of an earlier round; letters leave all the same",
        "see that the folder is there, that this program may write into it, and that there is room",
    )
}

/// Writes the pages, each whole or not at all, and remembers whether that went well, so that the next round can tell.
pub(super) async fn keep(house: &House, pages: Pages) -> Result<(), StoreError> {
    let Some(folder) = house.config.pages.clone() else {
        return Ok(());
    };
    let into = folder.clone();
    // A folder on another machine may hang, which must not hold up the letters.
    let writing = tokio::task::spawn_blocking(move || {
        let mut files = pages.0.iter();
        files.try_for_each(|(name, text)| {
            whole_file::write_public(&into.join(name), text.as_bytes())
                .map_err(|error| format!("{name}: {error}"))
        })
    });
    let why = match tokio::time::timeout(PATIENCE, writing).await {
        Ok(Ok(Ok(()))) => None,
        Ok(Ok(Err(why))) => Some(why),
        Ok(Err(stopped)) => Some(stopped.to_string()),
        Err(_) => Some(format!("no answer within {} seconds", PATIENCE.as_secs())),
    };
    if let Some(why) = &why {
        tracing::error!("{}", problem(&folder, why));
    }
    house.with_store(|memory| {
        let before = memory.fact(TROUBLE)?.unwrap_or_default();
        match why.unwrap_or_default() {
            now if now == before => Ok(()),
            now => memory.remember(TROUBLE, &now),
        }
    })
}
