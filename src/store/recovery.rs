//! Mending: a memory that is damaged or gone is kept aside, and the newest good backup put in its place.
//!
//! Only [`Store::open_mended`] mends, under the lock of the state folder. A newer schema, no leave, a locked file, a full
//! disk and one that does not answer are no damage. The new file is made ready beside the old one first; what is moved then
//! is moved so that a kill at any point leaves the next start enough to go on by. Nothing that was there is deleted but the
//! oldest of what was kept aside.

use super::soundness::{Look, Unsound, damage_in, is_damage, last_round_in};
use super::{Memory, Store, StoreError, backup, moment, prepare, schema, unusable};
use chrono::{DateTime, NaiveDate, Utc};
use rusqlite::{Connection, config::DbConfig};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write};
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

/// What lies beside a database file and belongs to it.
const BESIDE: [&str; 3] = ["-wal", "-shm", "-journal"];
/// The new file while it is made ...
const PART: &str = ".graftwarden.db.part";
/// ... and once it is ready.
const READY: &str = "graftwarden.db.put-back";
/// What happened since a round last came to its end, a line each.
const DIARY: &str = "damage-met";
/// How a line of it begins that says which backup was put back.
const PUT_BACK: &str = "put back ";
/// What is written into it where no backup was put back.
const BEGUN_ANEW: &str = "begun anew";
/// The name under which it is remembered until it is told.
const FACT: &str = "memory put back";

/// That the memory was put back, for the round that tells it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PutBack {
    /// When.
    pub at: DateTime<Utc>,
    /// What had become of it: "damaged (file is not a database)".
    pub how: String,
    /// The name under which it is kept; empty where there was nothing to keep.
    pub kept: String,
    /// The day of the backup; none where there was no good one.
    pub day: Option<NaiveDate>,
    /// The last round that the backup knows of.
    pub last_round: Option<DateTime<Utc>>,
    /// The days of newer backups that were no good.
    pub passed_over: Vec<NaiveDate>,
}

impl PutBack {
    fn write(&self) -> String {
        let days: Vec<String> = self.passed_over.iter().map(ToString::to_string).collect();
        [
            moment(self.at),
            self.day.map_or_else(String::new, |day| day.to_string()),
            self.last_round.map_or_else(String::new, moment),
            self.kept.clone(),
            days.join(" "),
            self.how.replace('\n', " "),
        ]
        .join("\n")
    }

    fn read(text: &str) -> Option<Self> {
        let lines: Vec<&str> = text.split('\n').collect();
        let &[at, day, last_round, kept, days, how] = lines.as_slice() else {
            return None;
        };
        Some(Self {
            at: at.parse().ok()?,
            how: how.to_owned(),
            kept: kept.to_owned(),
            day: day.parse().ok(),
            last_round: last_round.parse().ok(),
            passed_over: days.split(' ').filter_map(|day| day.parse().ok()).collect(),
        })
    }
}

impl Memory<'_> {
    /// That the memory was put back, until that is told.
    pub fn put_back(&self) -> Result<Option<PutBack>, StoreError> {
        self.fact_as(FACT, PutBack::read)
    }

    /// It was told.
    pub fn put_back_is_told(&self) -> Result<(), StoreError> {
        self.remember(FACT, "")
    }
}

impl Store {
    /// Opens or creates the store; one that is damaged or gone is mended. Only for whoever holds the lock. The whole file is
    /// read: quickly, or thoroughly where damage was met since a round last came to its end.
    pub fn open_mended(state: &Path, now: DateTime<Utc>) -> Result<Self, StoreError> {
        Self::make_folder(state)?;
        go_on_with_what_is_ready(state, now).map_err(|error| failed(state, &error))?;
        let met = Met::read(state).map_err(|error| failed(state, &error))?;
        match open_looked_through(state, &met) {
            // It says that it is damaged and does not look it: believed the second time.
            Ok(_) if met.times >= 2 => {
                put_back(
                    state,
                    "damaged, as it said twice running while it was used",
                    &met,
                    now,
                )?;
            }
            Err(StoreError::Damaged { how, .. }) => put_back(state, &how, &met, now)?,
            Err(StoreError::DamageMet(how)) => {
                put_back(state, &format!("damaged ({how})"), &met, now)?;
            }
            Err(error) => return Err(error),
            Ok(store) => {
                // Days later it would be older than what it stands in for.
                remove_remains(state).map_err(|error| failed(state, &error))?;
                return Ok(store);
            }
        }
        Self::open(state)
    }
}

/// What the disk did not give once it may give the second time, and the database calls some of that damage.
fn open_looked_through(state: &Path, met: &Met) -> Result<Store, StoreError> {
    // What the database found is logged by the second look, if that finds it too.
    let silent = tracing::subscriber::NoSubscriber::default();
    let first = tracing::subscriber::with_default(silent, || look_through(state, met));
    first.or_else(|error| match error {
        StoreError::Damaged { .. }
        | StoreError::DamageMet(_)
        | StoreError::Disk(_)
        | StoreError::Unusable { .. } => {
            tracing::warn!("{error}; it is looked through again");
            look_through(state, met)
        }
        error => Err(error),
    })
}

fn look_through(state: &Path, met: &Met) -> Result<Store, StoreError> {
    let store = Store::open(state)?;
    let look = match met.times {
        0 => Look::Quick,
        _ => Look::Thorough,
    };
    let path = Store::file_in(state);
    match damage_in(&store.connection, look).map_err(|error| unusable(&path, &error))? {
        None => Ok(store),
        Some(how) => {
            // It is kept as it is, with its log beside it.
            let stays = DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE;
            store.connection.set_db_config(stays, true)?;
            let how = format!("damaged ({how})");
            Err(StoreError::Damaged { path, how })
        }
    }
}

/// Refuses a folder whose memory is gone: without this, an empty one would be begun.
pub(super) fn refuse_what_is_gone(state: &Path) -> Result<(), StoreError> {
    match gone(state).map_err(|error| failed(state, &error))? {
        Some(how) => Err(StoreError::Damaged {
            path: Store::file_in(state),
            how,
        }),
        None => Ok(()),
    }
}

/// Whether there is no memory although there was one.
fn gone(state: &Path) -> io::Result<Option<String>> {
    let how = match length(&Store::file_in(state))? {
        None => "gone",
        Some(0) => "empty",
        Some(_) => return Ok(None),
    };
    let has_log = length(&beside(state, "-wal"))?.is_some_and(|bytes| bytes > 0);
    let traces = if !backup::days(state)?.is_empty() {
        "there are backups of it"
    } else if has_log {
        "its log is there"
    } else if length(&state.join(DIARY))?.is_some() {
        "it was in use"
    } else {
        return Ok(None);
    };
    Ok(Some(format!("{how}, though {traces}")))
}

fn length(file: &Path) -> io::Result<Option<u64>> {
    match fs::metadata(file) {
        Ok(found) => Ok(Some(found.len())),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(error),
    }
}

fn beside(state: &Path, ending: &str) -> PathBuf {
    state.join(format!("graftwarden.db{ending}"))
}

fn failed(state: &Path, error: &io::Error) -> StoreError {
    StoreError::Unusable {
        path: Store::file_in(state),
        why: error.to_string(),
    }
}

/// Keeps aside what is there and puts the newest good backup in its place, or an empty memory.
fn put_back(state: &Path, how: &str, met: &Met, now: DateTime<Utc>) -> Result<(), StoreError> {
    let failed = |error| failed(state, &error);
    let mut found = PutBack {
        at: now,
        how: how.to_owned(),
        kept: String::new(),
        day: None,
        last_round: None,
        passed_over: Vec::new(),
    };
    choose(state, met, &mut found)?;
    let aside = aside(state, now);
    let files = [""].into_iter().chain(BESIDE);
    if files.clone().any(|ending| beside(state, ending).exists()) {
        found.kept.clone_from(&aside);
    }
    make_ready(state, &found)?;
    move_in(state, &aside).map_err(failed)?;
    // Not before: what could not be moved in was not used.
    let line = match found.day {
        Some(day) => format!("{PUT_BACK}{day}"),
        None => BEGUN_ANEW.into(),
    };
    note(state, &line).map_err(failed)?;
    if let Err(error) = let_go_of_the_oldest(state) {
        tracing::warn!("a damaged memory of long ago could not be deleted: {error}");
    }
    tracing::error!(
        kept = found.kept,
        backup = found.day.map(|day| day.to_string()),
        "the program's memory was {how}; it was put back"
    );
    Ok(())
}

/// The newest good backup, of those that have not failed at once before.
fn choose(state: &Path, met: &Met, found: &mut PutBack) -> Result<(), StoreError> {
    let mut days = backup::days(state).map_err(|error| StoreError::Unusable {
        path: backup::folder_in(state),
        why: error.to_string(),
    })?;
    days.retain(|day| !met.put_back.contains(day));
    for day in days {
        let file = backup::file_of(state, day);
        match last_round_in(&file) {
            Ok(last_round) => {
                (found.day, found.last_round) = (Some(day), last_round);
                return Ok(());
            }
            Err(Unsound::Newer(version)) => return schema::known(version),
            // It may be a good one: nothing older is put in its place.
            Err(Unsound::Unread(error)) if !is_damage(&error) => {
                return Err(unusable(&file, &error));
            }
            Err(error) => {
                tracing::error!("the backup of {day} cannot be put back: {error}");
                found.passed_over.push(day);
            }
        }
    }
    Ok(())
}

/// Makes the new file beside the old one: of the newest schema, and with the word of what happened in it.
fn make_ready(state: &Path, found: &PutBack) -> Result<(), StoreError> {
    let failed = |error| failed(state, &error);
    let (part, ready) = (state.join(PART), state.join(READY));
    remove_remains(state).map_err(failed)?;
    let mut new = File::options();
    let mut file = new
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(&part)
        .map_err(failed)?;
    if let Some(day) = found.day {
        let mut backup = File::open(backup::file_of(state, day)).map_err(failed)?;
        io::copy(&mut backup, &mut file).map_err(failed)?;
    }
    drop(file);
    let connection = Connection::open(&part).map_err(|error| unusable(&part, &error))?;
    prepare(&connection).map_err(|error| unusable(&part, &error))?;
    let mut store = Store::migrated(connection)?;
    store.settle::<(), StoreError>(|memory| memory.remember(FACT, &found.write()))?;
    // What closing cannot bring in from its log it leaves there without a word, and the log is not moved along.
    store.checkpoint()?;
    drop(store);
    fs::set_permissions(&part, fs::Permissions::from_mode(0o600)).map_err(failed)?;
    File::open(&part)
        .and_then(|file| file.sync_all())
        .map_err(failed)?;
    fs::rename(&part, &ready).map_err(failed)?;
    File::open(state)
        .and_then(|folder| folder.sync_all())
        .map_err(failed)
}

/// What an earlier try to put it back left.
fn remove_remains(state: &Path) -> io::Result<()> {
    let remains = [PART.to_owned(), READY.to_owned()].into_iter();
    for name in remains.chain(BESIDE.map(|ending| format!("{PART}{ending}"))) {
        match fs::remove_file(state.join(name)) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
    }
    Ok(())
}

/// Another memory was put in the place of this one: what is remembered of damage was about that.
pub(super) fn begins_with_another(state: &Path) -> io::Result<()> {
    is_well(state);
    remove_remains(state)
}

/// What a name begins with that something damaged is kept under; then comes the moment.
const ASIDE: &str = "graftwarden.db.damaged-";
/// So many damaged memories are kept, the newest ones: a disk that dies would soon be full of them.
const KEPT_ASIDE: usize = 5;

fn let_go_of_the_oldest(state: &Path) -> io::Result<()> {
    let mut aside: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
    for file in fs::read_dir(state)? {
        let path = file?.path();
        let name = path.file_name().and_then(|name| name.to_str());
        let Some(name) = name.filter(|name| name.starts_with(ASIDE)) else {
            continue;
        };
        let of = BESIDE.iter().find_map(|ending| name.strip_suffix(ending));
        let of = of.unwrap_or(name).to_owned();
        aside.entry(of).or_default().push(path);
    }
    let old = aside.len().saturating_sub(KEPT_ASIDE);
    let mut files = aside.into_values().take(old).flatten();
    files.try_for_each(fs::remove_file)
}

/// A name under which nothing is kept yet.
fn aside(state: &Path, now: DateTime<Utc>) -> String {
    let name = format!("{ASIDE}{}", now.format("%Y%m%dT%H%M%SZ"));
    let numbered = (2..).map(|n| format!("{name}.{n}"));
    let free = |name: &String| {
        let mut files = [""].into_iter().chain(BESIDE);
        files.all(|ending| !state.join(format!("{name}{ending}")).exists())
    };
    let mut names = std::iter::once(name.clone()).chain(numbered);
    names.find(free).unwrap_or(name)
}

/// The old file goes first: as long as it is in its place, all of this begins anew; once it is not, what is ready is put in.
fn move_in(state: &Path, aside: &str) -> io::Result<()> {
    for ending in [""].into_iter().chain(BESIDE) {
        match fs::rename(
            beside(state, ending),
            state.join(format!("{aside}{ending}")),
        ) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
    }
    let folder = File::open(state)?;
    folder.sync_all()?;
    fs::rename(state.join(READY), Store::file_in(state))?;
    folder.sync_all()
}

/// The program was ended after the old file was moved away and before the new one was in its place.
fn go_on_with_what_is_ready(state: &Path, now: DateTime<Utc>) -> io::Result<()> {
    let ready = length(&state.join(READY))?.is_some();
    if ready && length(&Store::file_in(state))?.is_none() {
        move_in(state, &aside(state, now))?;
        // Which backup it was is not known here: were it bad, it would be tried once more.
        note(state, BEGUN_ANEW)?;
    }
    Ok(())
}

/// What happened since a round last came to its end.
#[derive(Debug, Default)]
struct Met {
    /// How often damage was met while the memory was used, since it was last put back.
    times: usize,
    /// The backups that were put back.
    put_back: Vec<NaiveDate>,
}

impl Met {
    fn read(state: &Path) -> io::Result<Self> {
        let bytes = match fs::read(state.join(DIARY)) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Self::default()),
            bytes => bytes?,
        };
        // The disk may have harmed it too: what can be read of it counts.
        let text = String::from_utf8_lossy(&bytes);
        let mut met = Self::default();
        for line in text.lines() {
            if line.starts_with("met ") {
                met.times += 1;
            } else {
                met.times = 0;
                let day = line.strip_prefix(PUT_BACK);
                met.put_back
                    .extend(day.and_then(|day| day.parse::<NaiveDate>().ok()));
            }
        }
        Ok(met)
    }
}

fn note(state: &Path, line: &str) -> io::Result<()> {
    let mut diary = File::options();
    let mut diary = diary
        .append(true)
        .create(true)
        .mode(0o600)
        .open(state.join(DIARY))?;
    diary.write_all(format!("{line}\n").as_bytes())?;
    diary.sync_all()
}

/// The memory turned out to be damaged while it was used: the next opening that may mend looks it through thoroughly, and
/// the second time running it is put back even where nothing is found.
pub fn damage_was_met(state: &Path, error: &StoreError) {
    if let StoreError::DamageMet(why) = error
        && let Err(failed) = note(state, &format!("met {}", why.replace('\n', " ")))
    {
        tracing::error!("{}: {failed}", state.join(DIARY).display());
    }
}

/// A round came to its end: what was met before is over.
pub fn is_well(state: &Path) {
    // Where it cannot be removed, the next start looks more closely than it must.
    let _ = fs::remove_file(state.join(DIARY));
}
