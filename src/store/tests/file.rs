//! The file: made, migrated, refused, copied, rolled back.

use super::*;
use std::os::unix::fs::PermissionsExt;

/// The schema of this program; raise it with each migration.
const NEWEST: i64 = 4;

fn version(state: &Path) -> i64 {
    let connection = Connection::open(Store::file_in(state)).unwrap();
    connection
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .unwrap()
}

#[test]
fn an_empty_folder_gets_a_store_of_the_newest_schema() {
    let folder = tempfile::tempdir().unwrap();
    let state = folder.path().join("deep").join("state");
    let mut store = Store::open(&state).unwrap();
    with(&mut store, |memory| {
        assert!(memory.batches()?.is_empty() && memory.records()?.is_empty());
        assert_eq!((memory.last_round()?, memory.depth()?), (None, 0));
        Ok(())
    });
    drop(store);
    assert_eq!(version(&state), NEWEST);
}

#[test]
fn a_file_without_tables_is_brought_to_the_newest_schema() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(Store::file_in(folder.path()), b"").unwrap();
    with(&mut Store::open(folder.path()).unwrap(), |memory| {
        memory.remember("a", "b")
    });
    assert_eq!(version(folder.path()), NEWEST);
}

#[test]
fn what_was_written_is_there_when_it_is_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    with(&mut Store::open(folder.path()).unwrap(), |memory| {
        memory.round_done(hour(6), day(20))
    });
    let mut again = Store::open(folder.path()).unwrap();
    assert_eq!(
        with(&mut again, |memory| memory.last_round()),
        Some(hour(6))
    );
}

#[test]
fn every_commit_is_on_the_disk_before_it_is_confirmed() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).unwrap();
    let pragma = |name: &str| -> String {
        let value: rusqlite::types::Value = store
            .connection
            .pragma_query_value(None, name, |row| row.get(0))
            .unwrap();
        format!("{value:?}")
    };
    assert_eq!(pragma("journal_mode"), "Text(\"wal\")");
    // 2 is FULL.
    assert_eq!(pragma("synchronous"), "Integer(2)");
    assert_eq!(pragma("foreign_keys"), "Integer(1)");
}

#[test]
fn a_file_of_a_newer_program_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    drop(Store::open(folder.path()).unwrap());
    let path = Store::file_in(folder.path());
    Connection::open(&path)
        .unwrap()
        .pragma_update(None, "user_version", 7)
        .unwrap();
    let before = std::fs::read(&path).unwrap();
    let said = [Store::open(folder.path()), Store::copy_of(folder.path())]
        .map(|store| store.unwrap_err().to_string());
    for said in said {
        assert_eq!(
            said,
            "the store was written by a newer graftwarden (schema 7, this one knows 4); install that version or newer"
        );
    }
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn nothing_stays_of_work_that_fails() {
    let mut store = Store::in_memory().unwrap();
    with(&mut store, |memory| memory.remember("kept", "1"));
    let failed: Result<(), StoreError> = store.settle(|memory| {
        memory.remember("kept", "2")?;
        memory.remember("new", "3")?;
        Err(StoreError::Newer { found: 9, known: 1 })
    });
    assert!(failed.is_err());
    let facts = with(&mut store, |memory| {
        Ok((memory.fact("kept")?, memory.fact("new")?))
    });
    assert_eq!(facts, (Some("1".into()), None));
}

/// The files of a folder but for the shared memory, which holds locks and no data.
fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<(String, Vec<u8>)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|entry| {
            (
                entry.file_name().into_string().unwrap(),
                std::fs::read(entry.path()).unwrap(),
            )
        })
        .filter(|(name, _)| !name.ends_with("-shm"))
        .collect();
    files.sort();
    files
}

#[test]
fn a_copy_has_what_was_written_last_and_leaves_the_files_as_they_are() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    with(&mut store, |memory| memory.remember("last", "in the log"));
    let before = files(folder.path());
    let mut copy = Store::copy_of(folder.path()).unwrap();
    with(&mut copy, |memory| {
        assert_eq!(memory.fact("last")?.as_deref(), Some("in the log"));
        memory.remember("last", "in the copy")
    });
    assert_eq!(files(folder.path()), before);
    assert_eq!(
        with(&mut store, |memory| memory.fact("last")).as_deref(),
        Some("in the log")
    );
}

#[test]
fn a_copy_of_a_store_at_rest_leaves_the_file_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    with(&mut Store::open(folder.path()).unwrap(), |memory| {
        memory.remember("last", "1")
    });
    let path = Store::file_in(folder.path());
    let before = (
        std::fs::read(&path).unwrap(),
        std::fs::metadata(&path).unwrap().modified().unwrap(),
    );
    let mut copy = Store::copy_of(folder.path()).unwrap();
    assert_eq!(
        with(&mut copy, |memory| memory.fact("last")).as_deref(),
        Some("1")
    );
    drop(copy);
    let after = (
        std::fs::read(&path).unwrap(),
        std::fs::metadata(&path).unwrap().modified().unwrap(),
    );
    assert!(after == before);
}

#[test]
fn a_copy_of_nothing_is_empty_and_makes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let state = folder.path().join("state");
    let mut copy = Store::copy_of(&state).unwrap();
    assert_eq!(with(&mut copy, |memory| memory.last_round()), None);
    assert!(!state.exists());
}

#[test]
fn the_secret_is_made_once() {
    let mut store = Store::in_memory().unwrap();
    let (first, again) = with(&mut store, |memory| {
        Ok((memory.secret()?, memory.secret()?))
    });
    assert_eq!((first.len(), &first), (32, &again));
    let other = with(&mut Store::in_memory().unwrap(), |memory| memory.secret());
    assert_ne!(first, other);
}

#[test]
fn a_copy_of_a_store_at_rest_needs_no_leave_to_write() {
    let folder = tempfile::tempdir().unwrap();
    with(&mut Store::open(folder.path()).unwrap(), |memory| {
        memory.remember("last", "1")
    });
    // Looking at a file in WAL makes its shared memory beside it, which cannot be in a folder of somebody else. A link
    // that leads nowhere is in the way of every user, root too.
    let shared = folder.path().join("graftwarden.db-shm");
    std::os::unix::fs::symlink(folder.path().join("none").join("none"), shared).unwrap();
    let mut copy = Store::copy_of(folder.path()).unwrap();
    assert_eq!(
        with(&mut copy, |memory| memory.fact("last")).as_deref(),
        Some("1")
    );
}

#[test]
fn a_file_of_the_first_schema_keeps_its_last_round() {
    let folder = tempfile::tempdir().unwrap();
    {
        let mut store = Store::open(folder.path()).unwrap();
        with(&mut store, |memory| memory.round_done(hour(6), day(20)));
        store
            .connection
            .execute_batch("DROP TABLE round_on; DROP TABLE down; DROP TABLE foretold; DROP TABLE answer_record; DROP TABLE answer; DROP TABLE calendar; DROP TABLE asked; DROP INDEX letter_to; ALTER TABLE letter DROP COLUMN thread; ALTER TABLE letter DROP COLUMN urgent; ALTER TABLE outbox DROP COLUMN bytes; PRAGMA user_version = 1;")
            .unwrap();
    }
    let mut store = Store::open(folder.path()).unwrap();
    let found = with(&mut store, |memory| {
        Ok((memory.last_round()?, memory.rounds_before(day(21))?))
    });
    assert_eq!(found, (Some(hour(6)), vec![day(20)]));
    assert_eq!(version(folder.path()), NEWEST);
}

#[test]
fn a_new_file_is_for_its_owner_only_in_any_folder() {
    let folder = tempfile::tempdir().unwrap();
    let everybody = std::fs::Permissions::from_mode(0o755);
    std::fs::set_permissions(folder.path(), everybody).unwrap();
    let store = Store::open(folder.path()).unwrap();
    for name in ["graftwarden.db", "graftwarden.db-wal"] {
        let found = std::fs::metadata(folder.path().join(name)).unwrap();
        assert_eq!(found.permissions().mode() & 0o777, 0o600, "{name}");
    }
    drop(store);
}

#[test]
fn a_copy_of_what_another_keeps_for_itself_waits_and_then_says_so() {
    let folder = tempfile::tempdir().unwrap();
    with(&mut Store::open(folder.path()).unwrap(), |memory| {
        memory.remember("last", "1")
    });
    let other = Connection::open(Store::file_in(folder.path())).unwrap();
    other.pragma_update(None, "journal_mode", "DELETE").unwrap();
    other
        .execute_batch("BEGIN EXCLUSIVE; UPDATE fact SET value = '2' WHERE key = 'last'")
        .unwrap();
    let said = Store::copy_within(folder.path(), Duration::ZERO).unwrap_err();
    assert!(matches!(said, StoreError::Busy), "{said}");
    // It is let go of while the copy waits.
    let copying = std::thread::scope(|scope| {
        let copying = scope.spawn(|| Store::copy_of(folder.path()));
        other.execute_batch("COMMIT").unwrap();
        copying.join().unwrap()
    });
    let last = with(&mut copying.unwrap(), |memory| memory.fact("last"));
    assert_eq!(last.as_deref(), Some("2"));
}
