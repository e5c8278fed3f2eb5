//! The program's memory is taken care of: its daily copy, and the word that it had to be put back.
//!
//! The copy is made once the letters of a round are out, and only after the day's own round, so that it knows what was
//! told on its day. A copy that fails stops nothing: the next round tells of it and tries again.

use crate::assemble::House;
use crate::condition::{LAST_BACKUP, NOT_BACKED_UP};
use crate::config::Config;
use crate::letters;
use crate::letters::day_short;
use crate::notices::Kind;
use crate::problem::Problem;
use crate::store::backup::{self, NoBackup};
use crate::store::{Memory, PutBack, Store, StoreError, is_well};
use chrono::{DateTime, NaiveDate, NaiveDateTime, SecondsFormat, TimeDelta, Utc};
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// So long after the memory was put back letters say that they may repeat something, while no round knows everything.
const MAY_REPEAT: TimeDelta = TimeDelta::days(30);

/// What is to be told of the memory.
pub(super) fn trouble(memory: &Memory<'_>, config: &Config) -> Result<Vec<Problem>, StoreError> {
    let put_back = memory.put_back()?.map(|found| of_put_back(&found, config));
    let no_backup = memory.fact_as(NOT_BACKED_UP, |told| {
        let (since, rest) = told.split_once('\n')?;
        let (why, remedy) = rest.split_once('\n').unwrap_or((rest, ""));
        let problem = of_no_backup(&config.state, why, remedy);
        Some(problem.keyed(format!("no backup since {since}")))
    })?;
    Ok(put_back.into_iter().chain(no_backup).collect())
}

/// At the end of a round: that the memory was put back is forgotten once it is told, which on days off it is not, and
/// once a round knew everything, as long as one may come: before, later letters may still repeat something.
pub(super) fn forget_what_is_told(
    memory: &Memory<'_>,
    knew_all: bool,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    let Some(found) = memory.put_back()? else {
        return Ok(());
    };
    let key = key_of(&found);
    let ledger = memory.ledger()?;
    let is_told = ledger
        .of(Kind::Trouble, "")
        .iter()
        .any(|told| told.anchor == key);
    if is_told && (knew_all || now - found.at > MAY_REPEAT) {
        memory.put_back_is_told()?;
    }
    Ok(())
}

fn key_of(found: &PutBack) -> String {
    format!("memory put back {}", moment(found.at))
}

/// To what the memory was put back, until that is told: letters may say once more what they said since.
pub(super) fn put_back(
    memory: &Memory<'_>,
    config: &Config,
) -> Result<Option<letters::PutBack>, StoreError> {
    let found = memory.put_back()?;
    Ok(found.map(|found| match found.last_round {
        Some(at) => letters::PutBack::To(wall(at, config)),
        None => letters::PutBack::Nothing,
    }))
}

fn wall(at: DateTime<Utc>, config: &Config) -> NaiveDateTime {
    at.with_timezone(&config.zone).naive_local()
}

fn of_put_back(found: &PutBack, config: &Config) -> Problem {
    let kept = match found.kept.as_str() {
        "" => String::new(),
        name => format!(
            "what was there is kept as {name} in {}, and ",
            config.state.display()
        ),
    };
    let passed_over = match found.passed_over.as_slice() {
        [] => String::new(),
        days => format!(
            " ({} could not be used)",
            letters::list(&days.iter().map(|&day| day_short(day)).collect::<Vec<_>>())
        ),
    };
    let done = match (found.day, found.last_round) {
        (Some(day), Some(last)) => format!(
            "{kept}the backup of {}{passed_over} was put back, which knows all up to the round of {}",
            day_short(day),
            letters::moment(wall(last, config))
        ),
        (Some(day), None) => format!(
            "{kept}the backup of {}{passed_over} was put back",
            day_short(day)
        ),
        (None, _) => {
            format!("{kept}since there was no good backup{passed_over} an empty memory was begun")
        }
    };
    let once_more = match found.day {
        Some(_) => "What was told since may be told once more",
        None => "All that still stands is told once more",
    };
    let answers = match found.day {
        _ if config.answers.is_none() => "",
        Some(_) => {
            ". An answer since then that waited for a yes has to be written again, and what an answer since then wrote down is taken back by `retract`, not by undo"
        }
        None => {
            ". Answers to letters of before are held like fresh mails until a yes comes, one that waited for a yes already has to be written again, and what an answer wrote down before is taken back by `retract`, not by undo"
        }
    };
    let problem = Problem::new(
        format!(
            "the program's memory, {}",
            Store::file_in(&config.state).display()
        ),
        format!("it was {}", found.how),
        done,
        format!(
            "nothing that was written down is lost: the register, the records, and what notes and answers were confirmed (accepted.csv) are read again. {once_more}{answers}. See whether the disk is well: such damage comes of a disk, or of a power cut"
        ),
    );
    problem.keyed(key_of(found))
}

fn of_no_backup(state: &Path, why: &str, remedy: &str) -> Problem {
    Problem::new(
        format!(
            "backup of the program's memory in {}",
            backup::folder_in(state).display()
        ),
        why,
        "the backups that are there are of earlier days; rounds and letters go on, and it is tried again at each round",
        remedy,
    )
}

fn remedy(error: &NoBackup) -> &'static str {
    match error {
        NoBackup::Unwritten(_) => {
            "see that there is room on the disk, and that this program may write into that folder"
        }
        NoBackup::Unsound(_) => {
            "the memory itself may be damaged: restart the service, or walk a round by hand, and it is looked through and mended"
        }
    }
}

fn moment(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// After a round whose letters are out: makes the day's backup where there is none yet, and remembers how that went.
pub(super) async fn keep(house: &House) -> Result<(), StoreError> {
    let now = house.clock.now();
    let today = now.with_timezone(&house.config.zone).date_naive();
    if !held(&house.store).is_kept() {
        return Ok(());
    }
    let state = house.config.state.clone();
    is_well(&state);
    if backup::file_of(&state, today).exists()
        || !house.with_store(|memory| memory.had_round_on(today))?
    {
        return Ok(());
    }
    let (health, store) = (house.health.clone(), house.store.clone());
    let made = tokio::task::spawn_blocking(move || {
        held(&store).bring_in_log()?;
        let made = backup::make(&state, today, &|| health.progress());
        if made.as_ref().is_err_and(NoBackup::is_damage) {
            // The next start mends what is damaged; a copy alone is made again.
            health.progress();
            if let Err(error @ StoreError::DamageMet(_)) = Store::look_through_on_disk(&state) {
                return Err(error);
            }
        }
        Ok(made)
    });
    let made = match made.await {
        Ok(made) => made?,
        Err(stopped) => Err(NoBackup::Unwritten(stopped.to_string())),
    };
    house.health.progress();
    if let Err(error) = &made {
        tracing::error!(
            "{}",
            of_no_backup(&house.config.state, &error.to_string(), remedy(error))
        );
    }
    house.with_store(|memory| remember(memory, made.err().as_ref(), now, today))
}

fn held(store: &Mutex<Store>) -> MutexGuard<'_, Store> {
    store.lock().unwrap_or_else(PoisonError::into_inner)
}

fn remember(
    memory: &Memory<'_>,
    failed: Option<&NoBackup>,
    now: DateTime<Utc>,
    today: NaiveDate,
) -> Result<(), StoreError> {
    let before = memory.fact(NOT_BACKED_UP)?.unwrap_or_default();
    let Some(error) = failed else {
        memory.remember(LAST_BACKUP, &moment(now))?;
        return if before.is_empty() {
            Ok(())
        } else {
            memory.remember(NOT_BACKED_UP, "")
        };
    };
    let since = match before.split_once('\n') {
        Some((since, _)) => since.to_owned(),
        None => today.to_string(),
    };
    let why = error.to_string().replace('\n', " ");
    memory.remember(NOT_BACKED_UP, &format!("{since}\n{why}\n{}", remedy(error)))
}
