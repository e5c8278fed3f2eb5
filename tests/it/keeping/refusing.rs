//! Who mends and who does not: looking never does, and what a newer program wrote is left as it is.

use super::{DB, OF_SECOND, SECOND, flip, kept, second_morning, truncate};
use insta::assert_snapshot;
use std::fs;

#[test]
fn looking_mends_nothing_and_says_what_does() {
    let nursery = second_morning();
    truncate(&nursery, DB);
    let before = fs::read(nursery.path(DB)).unwrap();
    assert_snapshot!(nursery.run("due"), @r"
    -- error --
    [time] ERROR the database found: database disk image is malformed
    the program's memory state/graftwarden.db is damaged (its structure is broken); the next `graftwarden round` or start of the service keeps it aside and puts back the newest good backup
    -- exit 69 --
    ");
    assert_snapshot!(nursery.run("check"), @r"
    ok    graftwarden.toml: 1 site, 1 person
    ok    site home: temperatures from file
    ok    letters go by folder
    mend  state: the program's memory state/graftwarden.db is damaged (its structure is broken); the next `graftwarden round` or start of the service keeps it aside and puts back the newest good backup.
    ok    state: can be written, and no other graftwarden is at work on it
    note  3 batches and 1 field record in force
    note  site home: temperatures known to 2024-07-16
    note  site home: the last safe day for grafting is not known, since fewer than five whole years before are known (maple field T-graft)

    1 thing to mend.
    -- error --
    [time] ERROR the database found: database disk image is malformed
    -- exit 65 --
    ");
    assert_snapshot!(nursery.run("check --running"), @r"
    -- error --
    [time] ERROR the database found: database disk image is malformed
    the program's memory state/graftwarden.db is damaged (its structure is broken); the next `graftwarden round` or start of the service keeps it aside and puts back the newest good backup
    -- exit 69 --
    ");
    assert!(fs::read(nursery.path(DB)).unwrap() == before);
    flip(&nursery, DB);
    assert_eq!(nursery.run("due").code, 69);
    fs::remove_file(nursery.path(DB)).unwrap();
    assert_snapshot!(nursery.run("due"), @r"
    -- error --
    the program's memory state/graftwarden.db is gone, though there are backups of it; the next `graftwarden round` or start of the service keeps it aside and puts back the newest good backup
    -- exit 69 --
    ");
    assert!(!nursery.path(DB).exists());
}

#[test]
fn a_note_mends_the_memory_and_is_written_down() {
    let nursery = second_morning();
    fs::remove_file(nursery.path(DB)).unwrap();
    assert_eq!(
        nursery.run("note A1 lines --on 2024-07-16").out,
        "written down: A1 lines on 2024-07-16\n"
    );
    let ran = nursery.round(SECOND);
    assert!(
        ran.err
            .contains("it was gone, though there are backups of it; "),
        "{ran}"
    );
    let mut words: Vec<String> = nursery.memory("SELECT what FROM record");
    words.sort();
    assert_eq!(words, ["lines", "looked"]);
}

#[test]
fn a_memory_of_a_newer_program_is_not_damaged() {
    let nursery = second_morning();
    rusqlite::Connection::open(nursery.path(DB))
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    let ran = nursery.round(SECOND);
    assert_eq!(ran.code, 69, "{ran}");
    assert!(
        ran.err.contains("was written by a newer graftwarden"),
        "{ran}"
    );
    assert_eq!(kept(&nursery), [""; 0]);
    // Nor is an older copy put back where the newest is of a newer program.
    fs::copy(nursery.path(DB), nursery.path(OF_SECOND)).unwrap();
    truncate(&nursery, DB);
    let ran = nursery.round(SECOND);
    assert!(
        ran.err.contains("was written by a newer graftwarden"),
        "{ran}"
    );
    assert_eq!(kept(&nursery), [""; 0]);
}
