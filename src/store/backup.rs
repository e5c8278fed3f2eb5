//! Copies of the store in a folder beside it, one a day: made while it is in use, looked through before they count.
//!
//! Which are kept is a pure function of their days. Knows nothing of when one is due, nor of what is told of trouble.

use super::soundness::{Unsound, is_damage, last_round_in, said};
use super::{Store, readable};
use chrono::{Datelike, IsoWeek, NaiveDate};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::fs::{self, DirBuilder, File};
use std::io;
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// So many of the newest are kept ...
const DAYS: usize = 7;
/// ... and the newest of each of so many weeks.
const WEEKS: usize = 8;
/// Pages that are copied between two signs of progress: 4 MB.
const PAGES: i32 = 1000;
/// So much room must be left on the disk beside the copy: answers and letters are written meanwhile.
const ROOM: u64 = 16 << 20;
/// The name of a copy that is not finished.
const PART: &str = ".graftwarden.db.part";

/// Why there is no backup.
#[derive(Debug, thiserror::Error)]
pub enum NoBackup {
    /// It could not be written.
    #[error("{0}")]
    Unwritten(String),
    /// It was written, but is not sound.
    #[error("the copy is no good: {0}")]
    Unsound(Unsound),
}

/// The folder with the backups of a state folder.
pub fn folder_in(state: &Path) -> PathBuf {
    state.join("backups")
}

/// The backup of a day.
pub fn file_of(state: &Path, day: NaiveDate) -> PathBuf {
    folder_in(state).join(format!("graftwarden-{day}.db"))
}

/// The days of which there are backups, the newest first.
pub fn days(state: &Path) -> io::Result<Vec<NaiveDate>> {
    let entries = match fs::read_dir(folder_in(state)) {
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
            ) =>
        {
            return Ok(Vec::new());
        }
        entries => entries?,
    };
    let mut days = Vec::new();
    for entry in entries {
        days.extend(entry?.file_name().to_str().and_then(day_of));
    }
    days.sort_unstable_by(|a: &NaiveDate, b| b.cmp(a));
    Ok(days)
}

/// The day of a file that is named like ours; none of any other.
fn day_of(name: &str) -> Option<NaiveDate> {
    let text = name.strip_prefix("graftwarden-")?.strip_suffix(".db")?;
    let day: NaiveDate = text.parse().ok()?;
    (day.to_string() == text).then_some(day)
}

impl NoBackup {
    /// Whether the memory itself may be what is damaged.
    pub fn is_damage(&self) -> bool {
        matches!(self, Self::Unsound(Unsound::Damaged(_)))
    }
}

/// The days whose backups are not kept any more. Those of days after tomorrow were made by a clock that ran ahead: they
/// would be in the way when their day comes, and until then be taken for the newest.
fn superfluous(days: &[NaiveDate], today: NaiveDate) -> Vec<NaiveDate> {
    let tomorrow = today.succ_opt().unwrap_or(today);
    let (mut gone, mut come): (Vec<NaiveDate>, Vec<NaiveDate>) =
        days.iter().partition(|day| **day > tomorrow);
    come.retain(|day| *day <= today);
    come.sort_unstable_by(|a, b| b.cmp(a));
    let mut weeks: Vec<IsoWeek> = Vec::new();
    for (n, day) in come.into_iter().enumerate() {
        let week = day.iso_week();
        let first = !weeks.contains(&week);
        if first {
            weeks.push(week);
        }
        let kept = n < DAYS || (first && weeks.len() <= WEEKS);
        if !kept {
            gone.push(day);
        }
    }
    gone
}

/// Copies the store as it stands, looks the copy through, gives it the name of the day, and lets go of those that are
/// kept no longer. `progress` is called again and again meanwhile.
pub fn make(state: &Path, day: NaiveDate, progress: &dyn Fn()) -> Result<(), NoBackup> {
    let (store, folder) = (Store::file_in(state), folder_in(state));
    let unwritten = |error: &dyn std::fmt::Display| NoBackup::Unwritten(error.to_string());
    let mut new = DirBuilder::new();
    new.recursive(true).mode(0o700);
    new.create(&folder).map_err(|error| unwritten(&error))?;
    has_room(&store, &folder).map_err(|error| unwritten(&error))?;
    let part = folder.join(PART);
    let done = copy(&store, &part, progress)
        .map_err(|error| match error {
            NoCopy::Sql(error) if is_damage(&error) => {
                NoBackup::Unsound(Unsound::Damaged(said(&error)))
            }
            error => unwritten(&error),
        })
        .and_then(|()| last_round_in(&part).map_err(NoBackup::Unsound))
        .and_then(|_| {
            progress();
            fs::rename(&part, file_of(state, day)).map_err(|error| unwritten(&error))
        });
    if done.is_err() {
        // Half a copy only takes room.
        let _ = fs::remove_file(&part);
        return done;
    }
    File::open(&folder)
        .and_then(|folder| folder.sync_all())
        .map_err(|error| unwritten(&error))?;
    prune(state, day);
    Ok(())
}

/// What cannot be removed only takes room: there is a backup all the same.
fn prune(state: &Path, today: NaiveDate) {
    let found = days(state).unwrap_or_else(|error| {
        tracing::warn!("{}: {error}", folder_in(state).display());
        Vec::new()
    });
    for day in superfluous(&found, today) {
        let file = file_of(state, day);
        if let Err(error) = fs::remove_file(&file) {
            tracing::warn!("{} cannot be removed: {error}", file.display());
        }
    }
}

/// A copy that fills the disk would leave no room for what comes in.
fn has_room(store: &Path, folder: &Path) -> io::Result<()> {
    let need = fs::metadata(store)?.len() + ROOM;
    let disk = rustix::fs::statvfs(folder)?;
    let free = disk.f_bavail.saturating_mul(disk.f_frsize);
    if free >= need {
        return Ok(());
    }
    let [need, free] = [need, free].map(|bytes| bytes >> 20);
    Err(io::Error::other(format!(
        "{need} MB of room are needed on the disk, {free} MB are left"
    )))
}

#[derive(Debug, thiserror::Error)]
enum NoCopy {
    #[error("{}", said(.0))]
    Sql(#[from] rusqlite::Error),
    #[error(transparent)]
    Io(#[from] io::Error),
    #[error("the memory is in use by another program")]
    InUse,
}

fn copy(from: &Path, to: &Path, progress: &dyn Fn()) -> Result<(), NoCopy> {
    match fs::remove_file(to) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error.into()),
        _ => {}
    }
    let mut new = File::options();
    new.write(true).create_new(true).mode(0o600).open(to)?;
    let source = Connection::open_with_flags(from, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    source.busy_timeout(Duration::from_secs(10))?;
    // What is read once is read on: one state from the first page to the last, while others go on writing.
    source.execute_batch("BEGIN")?;
    let source = readable(source)?;
    let mut copy = Connection::open(to)?;
    // It counts only once it is whole and on the disk, which is seen to below.
    copy.pragma_update(None, "journal_mode", "OFF")?;
    copy.pragma_update(None, "synchronous", "OFF")?;
    let backup = Backup::new(&source, &mut copy)?;
    loop {
        progress();
        match backup.step(PAGES)? {
            StepResult::Done => break,
            StepResult::More => {}
            _ => return Err(NoCopy::InUse),
        }
    }
    drop(backup);
    drop(copy);
    File::open(to)?.sync_all()?;
    progress();
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dates(text: &str) -> Vec<NaiveDate> {
        text.split_whitespace()
            .map(|day| day.parse().unwrap())
            .collect()
    }

    #[track_caller]
    fn check(today: &str, there: &str, gone: &str) {
        let today = today.parse().unwrap();
        assert_eq!(superfluous(&dates(there), today), dates(gone));
    }

    #[test]
    fn only_names_of_ours_have_a_day() {
        let of = |name: &str| day_of(name).map(|day| day.to_string());
        assert_eq!(
            of("graftwarden-2026-08-03.db").as_deref(),
            Some("2026-08-03")
        );
        for name in [
            "graftwarden-2026-8-3.db",
            "graftwarden-2026-02-30.db",
            "graftwarden-2026-08-03.db.gz",
            "graftwarden-before-the-move.db",
            "Graftwarden-2026-08-03.db",
            ".graftwarden.db.part",
            "graftwarden.db",
        ] {
            assert_eq!(of(name), None, "{name}");
        }
    }

    #[test]
    fn up_to_seven_days_are_all_kept() {
        check("2026-08-03", "", "");
        check("2026-08-03", "2026-08-03 2026-08-02 2026-07-31", "");
        // Whether they adjoin or not.
        check(
            "2026-08-03",
            "2024-03-01 2024-03-02 2024-03-03 2025-01-01 2025-01-02 2025-01-03 2026-08-03",
            "",
        );
    }

    #[test]
    fn the_eighth_goes_where_its_week_has_a_newer_one() {
        // 27 July to 2 August 2026 is week 31, the Monday after it week 32.
        check(
            "2026-08-03",
            "2026-08-03 2026-08-02 2026-08-01 2026-07-31 2026-07-30 2026-07-29 2026-07-28 2026-07-27",
            "2026-07-27",
        );
        // 26 July is the Sunday of week 30 and its newest; the Saturday before it goes.
        check(
            "2026-08-03",
            "2026-08-03 2026-08-02 2026-08-01 2026-07-31 2026-07-30 2026-07-29 2026-07-28 2026-07-26 2026-07-25",
            "2026-07-25",
        );
    }

    #[test]
    fn of_eight_weeks_the_newest_is_kept() {
        // Monday 3 August 2026 begins week 32. The seven newest are of weeks 32 and 31; then come the Sundays of weeks
        // 30, 29, 28, 27, 26 and 25 (21 June), which make eight weeks; week 24 is the ninth.
        check(
            "2026-08-03",
            "2026-08-03 2026-08-02 2026-08-01 2026-07-31 2026-07-30 2026-07-29 2026-07-28 2026-07-26 2026-07-19 2026-07-12 2026-07-05 2026-06-28 2026-06-21 2026-06-14",
            "2026-06-14",
        );
        // Weeks without one are not counted: a winter in which the machine was off takes nothing away.
        check(
            "2026-03-02",
            "2026-03-02 2025-10-12 2025-10-11 2025-10-10 2025-10-09 2025-10-08 2025-10-07 2025-10-05 2025-10-04",
            "2025-10-04",
        );
    }

    #[test]
    fn a_week_across_the_year_s_end_is_one() {
        // 28 December 2026 to 3 January 2027 is week 53 of 2026. All seven newest lie in it; 27 December ends week 52.
        check(
            "2027-01-03",
            "2027-01-03 2027-01-02 2027-01-01 2026-12-31 2026-12-30 2026-12-29 2026-12-28 2026-12-27 2026-12-26",
            "2026-12-26",
        );
        // 4 January 2027 begins week 1: eight days back, Monday 28 December is the eighth and its week has newer ones.
        check(
            "2027-01-04",
            "2027-01-04 2027-01-03 2027-01-02 2027-01-01 2026-12-31 2026-12-30 2026-12-29 2026-12-28",
            "2026-12-28",
        );
        // 30 December 2024 is of week 1 of 2025 already, as 5 January is; 29 December ends week 52 of 2024.
        check(
            "2025-01-06",
            "2025-01-06 2025-01-05 2025-01-04 2025-01-03 2025-01-02 2025-01-01 2024-12-31 2024-12-30 2024-12-29",
            "2024-12-30",
        );
        // Week 1 of 2025 and week 1 of 2026 are two.
        check(
            "2026-01-04",
            "2026-01-04 2026-01-03 2026-01-02 2026-01-01 2025-12-31 2025-12-30 2025-12-29 2025-01-05 2025-01-04",
            "2025-01-04",
        );
    }

    #[test]
    fn days_after_tomorrow_go_and_stand_in_for_none() {
        check(
            "2026-08-03",
            "2027-08-03 2026-08-05 2026-08-04 2026-08-03 2026-08-02 2026-08-01 2026-07-31 2026-07-30 2026-07-29 2026-07-28 2026-07-27",
            "2027-08-03 2026-08-05 2026-07-27",
        );
    }
}
