//! The file mended: what counts as damage, and what a kill or the same damage again leads to.

use super::*;
use crate::store::backup::{self, NoBackup};

/// A state folder with a backup of a day, and what stands under "last" in the memory.
pub(super) struct State {
    folder: tempfile::TempDir,
}

impl State {
    pub(super) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        Self { folder }
    }

    pub(super) fn path(&self) -> &Path {
        self.folder.path()
    }

    pub(super) fn file(&self, name: &str) -> PathBuf {
        self.path().join(name)
    }

    fn write(&self, last: &str) {
        with(&mut Store::open(self.path()).unwrap(), |memory| {
            memory.remember("last", last)
        });
    }

    /// Writes that down and makes the backup of that day of July.
    pub(super) fn backed_up(self, last: &str, n: u32) -> Self {
        self.write(last);
        backup::make(self.path(), day(n), &|| {}).unwrap();
        self
    }

    fn open(&self) -> Result<Store, StoreError> {
        Store::open_mended(self.path(), hour(6))
    }

    /// What stands under "last" after opening, and from which day's backup it was put back.
    #[track_caller]
    pub(super) fn opens(&self) -> (Option<String>, Option<PutBack>) {
        with(&mut self.open().unwrap(), |memory| {
            Ok((memory.fact("last")?, memory.put_back()?))
        })
    }

    fn damage(&self) {
        let mut bytes = std::fs::read(Store::file_in(self.path())).unwrap();
        let half = bytes.len() / 2;
        bytes.truncate(half);
        std::fs::write(Store::file_in(self.path()), bytes).unwrap();
    }
}

fn met() -> StoreError {
    StoreError::DamageMet("database disk image is malformed".into())
}

#[test]
fn a_sound_memory_is_opened_as_it_is() {
    let state = State::new().backed_up("1", 19);
    state.write("2");
    assert_eq!(state.opens(), (Some("2".into()), None));
}

#[test]
fn what_was_put_back_is_remembered_until_it_is_told() {
    let state = State::new().backed_up("1", 18).backed_up("2", 19);
    std::fs::write(backup::file_of(state.path(), day(19)), "no copy").unwrap();
    state.damage();
    let (last, found) = state.opens();
    assert_eq!(last.as_deref(), Some("1"));
    let mut found = found.unwrap();
    assert!(found.how.starts_with("damaged ("), "{}", found.how);
    found.how.clear();
    let expected = PutBack {
        at: hour(6),
        how: String::new(),
        kept: "graftwarden.db.damaged-20260720T060000Z".into(),
        day: Some(day(18)),
        last_round: None,
        passed_over: vec![day(19)],
    };
    assert_eq!(found, expected);
    with(&mut state.open().unwrap(), |memory| {
        memory.put_back_is_told()
    });
    assert_eq!(state.opens(), (Some("1".into()), None));
}

#[test]
fn the_newest_by_its_name_is_put_back_however_the_clock_stands() {
    let state = State::new().backed_up("1", 19).backed_up("2", 28);
    state.damage();
    assert_eq!(state.opens().0.as_deref(), Some("2"));
}

#[test]
fn a_good_copy_takes_those_of_a_clock_that_ran_ahead_away_and_counts_where_one_of_them_stays() {
    let state = State::new().backed_up("1", 28).backed_up("2", 30);
    // A folder is not removed like a file.
    std::fs::remove_file(backup::file_of(state.path(), day(28))).unwrap();
    std::fs::create_dir(backup::file_of(state.path(), day(28))).unwrap();
    let state = state.backed_up("3", 20);
    assert_eq!(backup::days(state.path()).unwrap(), [day(28), day(20)]);
}

#[test]
fn a_backup_that_cannot_be_read_is_no_bad_one() {
    let state = State::new().backed_up("1", 18).backed_up("2", 19);
    let unread = backup::file_of(state.path(), day(19));
    std::fs::remove_file(&unread).unwrap();
    std::fs::create_dir(&unread).unwrap();
    state.damage();
    let said = state.open().unwrap_err();
    assert!(
        matches!(&said, StoreError::Unusable { path, .. } if *path == unread),
        "{said}"
    );
    std::fs::remove_dir(&unread).unwrap();
    assert_eq!(state.opens().0.as_deref(), Some("1"));
}

#[test]
fn a_backup_that_could_not_be_moved_in_was_not_used() {
    let state = State::new().backed_up("1", 18).backed_up("2", 19);
    std::fs::remove_file(Store::file_in(state.path())).unwrap();
    // A folder cannot be given a name that is taken by something else.
    let left = state.file("graftwarden.db-journal");
    std::fs::create_dir(&left).unwrap();
    let taken = state.file("graftwarden.db.damaged-20260720T060000Z-journal");
    std::os::unix::fs::symlink("nowhere", &taken).unwrap();
    let said = state.open().unwrap_err();
    assert!(matches!(said, StoreError::Unusable { .. }), "{said}");
    assert!(state.file("graftwarden.db.put-back").exists());
    assert!(!state.file("damage-met").exists());
    std::fs::remove_file(&taken).unwrap();
    std::fs::remove_dir(&left).unwrap();
    assert_eq!(state.opens().0.as_deref(), Some("2"));
}

#[test]
fn what_an_earlier_try_left_is_taken_away_once_the_memory_is_sound() {
    let state = State::new().backed_up("1", 18);
    std::fs::copy(
        Store::file_in(state.path()),
        state.file("graftwarden.db.put-back"),
    )
    .unwrap();
    state.write("2");
    assert_eq!(state.opens().0.as_deref(), Some("2"));
    std::fs::remove_file(Store::file_in(state.path())).unwrap();
    std::fs::remove_file(backup::file_of(state.path(), day(18))).unwrap();
    assert_eq!(state.opens().0, None);
}

#[test]
fn a_journal_that_was_left_is_not_played_back_into_another_file() {
    let state = State::new().backed_up("1", 19);
    std::fs::remove_file(Store::file_in(state.path())).unwrap();
    std::fs::write(state.file("graftwarden.db-journal"), "of the old one").unwrap();
    assert_eq!(state.opens().0.as_deref(), Some("1"));
    let kept = state.file("graftwarden.db.damaged-20260720T060000Z-journal");
    assert_eq!(std::fs::read(kept).unwrap(), b"of the old one");
}

#[test]
fn a_value_that_cannot_be_read_is_told_with_its_row_and_never_puts_a_backup_back() {
    let state = State::new().backed_up("1", 19);
    let mut store = Store::open(state.path()).unwrap();
    with(&mut store, |memory| {
        memory.round_done(hour(6), day(18))?;
        memory.remember("last", "2")
    });
    store
        .connection
        .execute_batch("INSERT INTO round_on VALUES ('2026-07-17x'); INSERT INTO fact VALUES ('other', CAST(x'ff' AS TEXT))")
        .unwrap();
    let (dates, other, left_out) = with(&mut store, |memory| {
        let found = (memory.rounds_before(day(20))?, memory.fact("other")?);
        memory.rounds_before(day(20))?;
        Ok((found.0, found.1, memory.left_out()?))
    });
    assert_eq!((dates, other), (vec![day(18)], None));
    let said: Vec<String> = left_out.iter().map(ToString::to_string).collect();
    let began = [
        "the program's memory, table round_on: date '2026-07-17x' cannot be read; the row is left out",
        "the program's memory, table fact: value '\u{fffd}' cannot be read, in the row with key 'other'; the row is left out",
    ];
    assert_eq!(said.len(), began.len(), "{said:#?}");
    for (said, began) in said.iter().zip(began) {
        assert!(said.starts_with(began), "{said}");
    }
    // Where the whole depends on it, it is an error, and one that is met again and again is no damage either.
    let error = StoreError::from(
        store
            .connection
            .query_row("SELECT CAST(x'ff' AS TEXT)", [], |row| {
                row.get::<_, String>(0)
            })
            .unwrap_err(),
    );
    assert!(matches!(error, StoreError::Sql(_)), "{error}");
    drop(store);
    for _ in 0..2 {
        damage_was_met(state.path(), &error);
    }
    assert_eq!(state.opens(), (Some("2".into()), None));
}

#[test]
fn a_question_of_ours_that_the_database_does_not_understand_puts_no_backup_back() {
    let state = State::new().backed_up("1", 19);
    state.write("2");
    let store = Store::open(state.path()).unwrap();
    let error = StoreError::from(
        store
            .connection
            .execute_batch("SELECT no FROM fact")
            .unwrap_err(),
    );
    assert!(matches!(error, StoreError::Sql(_)), "{error}");
    drop(store);
    for _ in 0..2 {
        damage_was_met(state.path(), &error);
    }
    assert_eq!(state.opens(), (Some("2".into()), None));
}

#[test]
fn a_sound_file_with_other_tables_is_no_memory_of_ours() {
    for sql in [
        "DROP TABLE down",
        "ALTER TABLE letter RENAME COLUMN thread TO other",
    ] {
        let state = State::new().backed_up("1", 19);
        state.write("2");
        let store = Store::open(state.path()).unwrap();
        store.connection.execute_batch(sql).unwrap();
        drop(store);
        let (last, found) = state.opens();
        assert_eq!(last.as_deref(), Some("1"));
        let how = found.unwrap().how;
        assert_eq!(how, "damaged (its tables are not those of this program)");
    }
}

#[test]
fn what_was_noted_of_damage_may_be_damaged_itself() {
    let state = State::new().backed_up("1", 19);
    state.write("2");
    for _ in 0..2 {
        damage_was_met(state.path(), &met());
    }
    let diary = state.file("damage-met");
    let mut bytes = std::fs::read(&diary).unwrap();
    bytes[6] = 0xff;
    std::fs::write(&diary, bytes).unwrap();
    assert_eq!(state.opens().0.as_deref(), Some("1"));
}

#[test]
fn a_memory_that_others_keep_for_themselves_is_busy() {
    let state = State::new().backed_up("1", 19);
    let other = Store::open(state.path()).unwrap();
    other.connection.execute_batch("BEGIN IMMEDIATE").unwrap();
    let mut store = Store::open(state.path()).unwrap();
    store.connection.busy_timeout(Duration::ZERO).unwrap();
    let said = store
        .settle(|memory: &Memory<'_>| memory.remember("a", "b"))
        .unwrap_err();
    assert!(matches!(said, StoreError::Busy), "{said}");
}

#[test]
fn the_log_is_brought_in_while_the_memory_is_in_use() {
    let state = State::new();
    let mut store = Store::open(state.path()).unwrap();
    with(&mut store, |memory| memory.remember("last", "1"));
    let log = || {
        std::fs::metadata(state.file("graftwarden.db-wal"))
            .unwrap()
            .len()
    };
    assert!(log() > 0);
    store.bring_in_log().unwrap();
    assert_eq!(log(), 0);
}

#[test]
fn a_copy_of_a_damaged_memory_is_no_backup() {
    let state = State::new().backed_up("1", 18);
    let path = Store::file_in(state.path());
    let mut bytes = std::fs::read(&path).unwrap();
    for page in bytes.chunks_mut(4096).skip(1) {
        page[..64].fill(0xa5);
    }
    std::fs::write(&path, bytes).unwrap();
    let made = backup::make(state.path(), day(19), &|| {});
    assert!(made.as_ref().is_err_and(NoBackup::is_damage), "{made:?}");
    assert_eq!(backup::days(state.path()).unwrap(), [day(18)]);
    assert!(
        !backup::folder_in(state.path())
            .join(".graftwarden.db.part")
            .exists()
    );
}

#[test]
fn the_copy_is_of_one_state_while_others_write() {
    let state = State::new().backed_up("0", 18);
    let mut store = Store::open(state.path()).unwrap();
    with(&mut store, |memory| memory.remember("other", "0"));
    let store = std::cell::RefCell::new(store);
    let written = std::cell::Cell::new(0);
    backup::make(state.path(), day(19), &|| {
        written.set(written.get() + 1);
        let n = written.get().to_string();
        with(&mut store.borrow_mut(), |memory| {
            memory.remember("last", &n)?;
            memory.remember("other", &n)
        });
    })
    .unwrap();
    assert!(written.get() >= 2, "{}", written.get());
    drop(store);
    std::fs::remove_file(Store::file_in(state.path())).unwrap();
    let facts = with(&mut state.open().unwrap(), |memory| {
        Ok((memory.fact("last")?, memory.fact("other")?))
    });
    assert_eq!(facts, (Some("0".into()), Some("0".into())));
}

#[test]
fn no_leave_and_no_room_are_no_damage() {
    let state = State::new().backed_up("1", 19);
    let path = Store::file_in(state.path());
    std::fs::remove_file(&path).unwrap();
    // A folder in the place of the file: it cannot be opened.
    std::fs::create_dir(&path).unwrap();
    std::fs::write(path.join("x"), "x").unwrap();
    let said = state.open().unwrap_err();
    assert!(matches!(said, StoreError::Unusable { .. }), "{said}");
    assert!(path.join("x").exists());
}

#[test]
fn damage_that_is_met_twice_running_and_not_found_is_believed() {
    let state = State::new().backed_up("1", 18).backed_up("2", 19);
    state.write("3");
    damage_was_met(state.path(), &met());
    assert_eq!(state.opens(), (Some("3".into()), None));
    damage_was_met(state.path(), &met());
    let (last, found) = state.opens();
    assert_eq!(last.as_deref(), Some("2"));
    let how = found.unwrap().how;
    assert_eq!(how, "damaged, as it said twice running while it was used");
    // What was put back is as bad: an older one is taken, and then none.
    for expected in [Some("1"), None] {
        for _ in 0..2 {
            damage_was_met(state.path(), &met());
        }
        assert_eq!(state.opens().0.as_deref(), expected);
    }
}

#[test]
fn a_round_that_came_to_its_end_ends_the_suspicion() {
    let state = State::new().backed_up("1", 19);
    state.write("2");
    damage_was_met(state.path(), &met());
    is_well(state.path());
    damage_was_met(state.path(), &met());
    assert_eq!(state.opens(), (Some("2".into()), None));
    // What is no damage is none.
    is_well(state.path());
    for _ in 0..2 {
        damage_was_met(state.path(), &StoreError::Disk("disk I/O error".into()));
    }
    assert_eq!(state.opens(), (Some("2".into()), None));
}

#[test]
fn killed_before_what_was_ready_was_in_its_place() {
    let state = State::new().backed_up("1", 19);
    std::fs::rename(
        Store::file_in(state.path()),
        state.file("graftwarden.db.put-back"),
    )
    .unwrap();
    std::fs::write(state.file("graftwarden.db-wal"), "of the old one").unwrap();
    assert_eq!(state.opens(), (Some("1".into()), None));
    let kept = std::fs::read(state.file("graftwarden.db.damaged-20260720T060000Z-wal")).unwrap();
    assert_eq!(kept, b"of the old one");
}

#[test]
fn killed_before_the_old_one_was_moved_it_begins_anew() {
    let state = State::new().backed_up("1", 19);
    state.damage();
    std::fs::write(state.file("graftwarden.db.put-back"), "of an earlier try").unwrap();
    std::fs::write(state.file(".graftwarden.db.part"), "half of it").unwrap();
    std::fs::write(
        state.file("graftwarden.db.damaged-20260720T060000Z"),
        "an earlier one",
    )
    .unwrap();
    assert_eq!(state.opens().0.as_deref(), Some("1"));
    assert!(
        state
            .file("graftwarden.db.damaged-20260720T060000Z.2")
            .exists()
    );
    let earlier = std::fs::read(state.file("graftwarden.db.damaged-20260720T060000Z")).unwrap();
    assert_eq!(earlier, b"an earlier one");
    assert!(!state.file("graftwarden.db.put-back").exists());
}

#[test]
fn of_what_was_damaged_the_newest_five_are_kept() {
    let state = State::new().backed_up("1", 19);
    for year in 2010..2018 {
        for ending in ["", "-wal"] {
            let name = format!("graftwarden.db.damaged-{year}0720T060000Z{ending}");
            std::fs::write(state.file(&name), "x").unwrap();
        }
    }
    state.damage();
    assert_eq!(state.opens().0.as_deref(), Some("1"));
    let files = std::fs::read_dir(state.path()).unwrap();
    let names = files.map(|file| file.unwrap().file_name().into_string().unwrap());
    let mut kept: Vec<String> = names.filter(|name| name.contains("damaged-20")).collect();
    kept.retain(|name| !name.ends_with("-wal"));
    kept.sort();
    let years: Vec<&str> = kept.iter().map(|name| &name[23..27]).collect();
    assert_eq!(years, ["2014", "2015", "2016", "2017", "2026"]);
    assert!(
        !state
            .file("graftwarden.db.damaged-20130720T060000Z-wal")
            .exists()
    );
}
