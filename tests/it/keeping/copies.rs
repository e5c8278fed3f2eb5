//! The daily copies: when they are made, which are kept, and what is told where none can be made.

use super::{OF_FIRST, SECOND, backups, newest, troubles};
use crate::program::{FIRST, Nursery, temperatures};
use insta::assert_snapshot;
use std::fs;
use std::os::unix::fs::PermissionsExt;

#[test]
fn the_first_round_of_a_day_copies_the_memory() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    assert_eq!(backups(&nursery), ["graftwarden-2024-07-16.db"]);
    let mode = |name: &str| {
        let found = fs::metadata(nursery.path(name)).unwrap();
        found.permissions().mode() & 0o777
    };
    assert_eq!((mode("state/backups"), mode(OF_FIRST)), (0o700, 0o600));
    // It knows what was told, and that it went out.
    let copy = rusqlite::Connection::open(nursery.path(OF_FIRST)).unwrap();
    let sent: String = copy
        .query_row(
            "SELECT n.kind || ' ' || n.subject || ' ' || o.state FROM notice n JOIN letter_notice ON notice = n.id JOIN outbox o USING (letter)",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert_eq!(sent, "opens A1 sent");
    drop(copy);

    let before = fs::read(nursery.path(OF_FIRST)).unwrap();
    nursery.run("note A1 looked --on 2024-07-16").well();
    nursery.round("2024-07-16T18:10:00+02:00").well();
    assert_eq!(backups(&nursery), ["graftwarden-2024-07-16.db"]);
    assert!(fs::read(nursery.path(OF_FIRST)).unwrap() == before);
    nursery.write("temps.csv", temperatures("2024-07-16"));
    nursery.round(SECOND).well();
    assert_eq!(
        backups(&nursery),
        ["graftwarden-2024-07-16.db", "graftwarden-2024-07-17.db"]
    );
}

#[test]
fn seven_days_and_the_newest_of_each_week_are_kept_and_other_files_too() {
    let nursery = Nursery::small();
    fs::create_dir_all(nursery.path("state/backups")).unwrap();
    for day in 1..=15 {
        nursery.write(
            &format!("state/backups/graftwarden-2024-07-{day:02}.db"),
            "x",
        );
    }
    for other in ["notes.txt", "graftwarden-before-the-move.db"] {
        nursery.write(&format!("state/backups/{other}"), "mine");
    }
    // They are there only once there is a memory, or they would be tried in its place.
    fs::rename(nursery.path("state/backups"), nursery.path("aside")).unwrap();
    nursery.round("2024-07-15T06:10:00+02:00").well();
    fs::remove_dir_all(nursery.path("state/backups")).unwrap();
    fs::rename(nursery.path("aside"), nursery.path("state/backups")).unwrap();
    nursery.round(FIRST).well();
    // 15 and 16 July are a Monday and a Tuesday; 7 July is the Sunday of the week before last.
    assert_eq!(
        backups(&nursery),
        [
            "graftwarden-2024-07-07.db",
            "graftwarden-2024-07-10.db",
            "graftwarden-2024-07-11.db",
            "graftwarden-2024-07-12.db",
            "graftwarden-2024-07-13.db",
            "graftwarden-2024-07-14.db",
            "graftwarden-2024-07-15.db",
            "graftwarden-2024-07-16.db",
            "graftwarden-before-the-move.db",
            "notes.txt",
        ]
    );
}

#[test]
fn a_folder_that_cannot_be_written_stops_nothing_and_is_told_once() {
    let nursery = Nursery::small();
    fs::create_dir(nursery.path("state")).unwrap();
    nursery.write("state/backups", "in the way");
    let first = nursery.round(FIRST);
    assert_snapshot!(first, @r"
    to Maren Holt: Block A: look for callus lines now (1 batch, 310 grafts)
    1 notice, 1 letter
    -- error --
    [time] ERROR backup of the program's memory in state/backups: File exists (os error 17); the backups that are there are of earlier days; rounds and letters go on, and it is tried again at each round. See that there is room on the disk, and that this program may write into that folder.
    ");
    // No day is lost by it: it is tried again at the next round, which tells of it.
    assert_snapshot!(nursery.round("2024-07-16T12:10:00+02:00"), @r"
    to Maren Holt: Trouble: backup of the program's memory in state/backups: File exists (os error 17)
    1 notice, 1 letter
    -- error --
    [time] ERROR backup of the program's memory in state/backups: File exists (os error 17); the backups that are there are of earlier days; rounds and letters go on, and it is tried again at each round. See that there is room on the disk, and that this program may write into that folder.
    backup of the program's memory in state/backups: File exists (os error 17); the backups that are there are of earlier days; rounds and letters go on, and it is tried again at each round. See that there is room on the disk, and that this program may write into that folder.
    ");
    assert_snapshot!(newest(&nursery), @r"
    Alder Fold Nursery, Tuesday 16 July 2024

    TROUBLE

    backup of the program's memory in state/backups: File exists (os
    error 17); the backups that are there are of earlier days; rounds
    and letters go on, and it is tried again at each round. See that
    there is room on the disk, and that this program may write into
    that folder.
    ");
    assert_eq!(
        nursery.round("2024-07-16T13:10:00+02:00").out,
        "0 notices, 0 letters\n"
    );
    let running = nursery.run("check --running").out;
    assert!(
        running.contains("mend  no backup of the memory since 2024-07-16: File exists"),
        "{running}"
    );

    fs::remove_file(nursery.path("state/backups")).unwrap();
    nursery.round("2024-07-16T14:10:00+02:00");
    assert_eq!(backups(&nursery), ["graftwarden-2024-07-16.db"]);
    assert_eq!(
        nursery.round("2024-07-16T15:10:00+02:00").well(),
        "0 notices, 0 letters\n"
    );
    let running = nursery.run("check --running").out;
    assert!(!running.contains("no backup"), "{running}");
    assert!(
        running.contains("note  last backup of the memory: 2024-07-16 14:10 CEST\n"),
        "{running}"
    );
    assert_eq!(troubles(&nursery), ["no backup since 2024-07-16"]);
}
