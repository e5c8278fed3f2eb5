//! Each way in which a memory is damaged or gone, and that it is put back.

use super::{
    DB, SECOND, backups, disorder, flip, kept, mended, newest, second_morning, troubles, truncate,
};
use chrono::{DateTime, Utc};
use graftwarden::assemble::House;
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::round::round;
use graftwarden::store::{Store, damage_was_met};
use insta::assert_snapshot;
use std::fs;
use std::sync::Arc;

#[test]
fn a_truncated_memory_is_put_back() {
    let (nursery, ran) = mended(|nursery| truncate(nursery, DB));
    assert_snapshot!(ran, @r#"
    to Maren Holt: Trouble: the program's memory, state/graftwarden.db: it was damaged (its structure is broken)
    1 notice, 1 letter
    -- error --
    [time] ERROR the database found: database disk image is malformed
    [time] ERROR the program's memory was damaged (its structure is broken); it was put back kept="graftwarden.db.damaged-20240717T041000Z" backup="2024-07-16"
    the program's memory, state/graftwarden.db: it was damaged (its structure is broken); what was there is kept as graftwarden.db.damaged-20240717T041000Z in state, and the backup of Tue 16 Jul was put back, which knows all up to the round of Tue 16 Jul 06:10. Nothing that was written down is lost: the register, the records, and what notes and answers were confirmed (accepted.csv) are read again. What was told since may be told once more. See whether the disk is well: such damage comes of a disk, or of a power cut.
    "#);
    assert_snapshot!(newest(&nursery), @r"
    Alder Fold Nursery, Wednesday 17 July 2024

    TROUBLE

    the program's memory, state/graftwarden.db: it was damaged (its
    structure is broken); what was there is kept as
    graftwarden.db.damaged-20240717T041000Z in state, and the backup
    of Tue 16 Jul was put back, which knows all up to the round of Tue
    16 Jul 06:10. Nothing that was written down is lost: the register,
    the records, and what notes and answers were confirmed
    (accepted.csv) are read again. What was told since may be told
    once more. See whether the disk is well: such damage comes of a
    disk, or of a power cut.

    -- 
    The program's memory was put back to its state of Tue 16 Jul
    06:10: what was told since may stand here once more.
    ");
    assert_eq!(kept(&nursery), ["graftwarden.db.damaged-20240717T041000Z"]);
    assert_eq!(
        backups(&nursery),
        ["graftwarden-2024-07-16.db", "graftwarden-2024-07-17.db"]
    );
}

#[test]
fn a_memory_with_bytes_flipped_is_put_back_and_kept_as_it_was() {
    let damaged = std::cell::RefCell::new(Vec::new());
    let (nursery, _) = mended(|nursery| {
        flip(nursery, DB);
        damaged.replace(fs::read(nursery.path(DB)).unwrap());
    });
    let kept = fs::read(nursery.path("state/graftwarden.db.damaged-20240717T041000Z")).unwrap();
    assert!(kept == *damaged.borrow());
}

#[test]
fn a_structure_that_is_broken_is_told_without_the_words_of_the_database() {
    let nursery = second_morning();
    disorder(&nursery, "batch");
    let ran = nursery.round(SECOND);
    assert!(
        ran.err.contains("the database found: *** in database main"),
        "{ran}"
    );
    assert!(
        ran.err
            .contains("state/graftwarden.db: it was damaged (its structure is broken); "),
        "{ran}"
    );
    assert!(!newest(&nursery).contains("***"), "{}", newest(&nursery));
}

#[tokio::test]
async fn damage_that_the_daily_copy_meets_ends_the_round_and_the_next_start_mends_it() {
    let nursery = second_morning();
    // No round reads it, so that the copy is the first to meet it.
    nursery.memory("CREATE TABLE other (n INTEGER PRIMARY KEY)");
    nursery.memory("INSERT INTO other VALUES (1), (2), (3)");
    let state = nursery.path("state");
    let store = Store::open(&state).unwrap();
    let config = Config::load(&nursery.path("graftwarden.toml")).unwrap();
    let now = SECOND.parse::<DateTime<Utc>>().unwrap();
    let (house, _) = House::live(config, Arc::new(ManualClock::at(now)), store);
    disorder(&nursery, "other");
    let said = round(&house).await.unwrap_err();
    assert!(said.is_damage(), "{said}");
    damage_was_met(&state, &said);
    drop(house);
    assert_eq!(backups(&nursery), ["graftwarden-2024-07-16.db"]);
    let ran = nursery.round("2024-07-17T07:10:00+02:00");
    assert!(
        ran.err
            .contains("it was damaged (its structure is broken); "),
        "{ran}"
    );
    assert_eq!(troubles(&nursery), ["memory put back 2024-07-17T05:10:00Z"]);
    assert_eq!(
        backups(&nursery),
        ["graftwarden-2024-07-16.db", "graftwarden-2024-07-17.db"]
    );
}

#[test]
fn a_file_that_is_no_memory_at_all_is_put_aside() {
    let text = "this is no database, but a text that is long enough to be looked at as one";
    let (nursery, ran) = mended(|nursery| nursery.write(DB, text));
    assert!(
        ran.err
            .contains("it was damaged (what stands in it is something else); "),
        "{ran}"
    );
    assert_eq!(
        nursery.read("state/graftwarden.db.damaged-20240717T041000Z"),
        text
    );
}

#[test]
fn a_memory_that_is_gone_is_put_back() {
    let (nursery, ran) = mended(|nursery| fs::remove_file(nursery.path(DB)).unwrap());
    assert!(
        ran.err
            .contains("it was gone, though there are backups of it; "),
        "{ran}"
    );
    assert_eq!(kept(&nursery), [""; 0]);
}

#[test]
fn an_empty_file_is_put_back() {
    let (nursery, ran) = mended(|nursery| nursery.write(DB, ""));
    assert!(
        ran.err
            .contains("it was empty, though there are backups of it; "),
        "{ran}"
    );
    assert_eq!(kept(&nursery), ["graftwarden.db.damaged-20240717T041000Z"]);
}

#[test]
fn a_log_that_was_left_without_its_memory_is_not_read_into_another() {
    let (nursery, _) = mended(|nursery| {
        fs::remove_file(nursery.path(DB)).unwrap();
        nursery.write("state/graftwarden.db-wal", "what was written last");
    });
    assert_eq!(
        nursery.read("state/graftwarden.db.damaged-20240717T041000Z-wal"),
        "what was written last"
    );
}
