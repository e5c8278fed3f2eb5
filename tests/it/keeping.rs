//! The memory is taken care of: copied once a day, and put back where it is damaged or gone, which the next round tells.

use crate::program::{FIRST, Nursery, Ran, temperatures};
use chrono::{DateTime, Utc};
use graftwarden::assemble::House;
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::round::round;
use graftwarden::store::{Store, damage_was_met};
use insta::assert_snapshot;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::sync::Arc;

const SECOND: &str = "2024-07-17T06:10:00+02:00";
const THIRD: &str = "2024-07-18T06:10:00+02:00";
const DB: &str = "state/graftwarden.db";
const OF_FIRST: &str = "state/backups/graftwarden-2024-07-16.db";
const OF_SECOND: &str = "state/backups/graftwarden-2024-07-17.db";

/// The names of the files in a folder, hidden ones too.
fn names(folder: &Path) -> Vec<String> {
    let files = fs::read_dir(folder).unwrap();
    let name = |file: std::io::Result<fs::DirEntry>| file.unwrap().file_name();
    let mut names: Vec<String> = files.map(|f| name(f).into_string().unwrap()).collect();
    names.sort();
    names
}

fn backups(nursery: &Nursery) -> Vec<String> {
    names(&nursery.path("state/backups"))
}

/// What is kept of memories that were damaged.
fn kept(nursery: &Nursery) -> Vec<String> {
    let mut names = names(&nursery.path("state"));
    names.retain(|name| name.starts_with("graftwarden.db."));
    names
}

/// The small nursery on the second morning, after a round on the first and a note since then.
fn second_morning() -> Nursery {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    nursery.run("note A1 looked --on 2024-07-16").well();
    nursery.write("temps.csv", temperatures("2024-07-16"));
    nursery
}

/// The same on the third morning.
fn third_morning() -> Nursery {
    let nursery = second_morning();
    nursery.round(SECOND).well();
    nursery.run("note A1 lines --on 2024-07-17").well();
    nursery.write("temps.csv", temperatures("2024-07-17"));
    nursery
}

/// A part in the middle of each page but the first is written over.
fn flip(nursery: &Nursery, file: &str) {
    let file = nursery.path(file);
    let mut bytes = fs::read(&file).unwrap();
    for page in bytes.chunks_mut(4096).skip(1) {
        let end = page.len().min(2600);
        page[1500..end].fill(0xa5);
    }
    fs::write(file, bytes).unwrap();
}

/// The first two rows of a small table change places: the page is whole, and its order is not.
fn disorder(nursery: &Nursery, table: &str) {
    let root = format!("SELECT rootpage FROM sqlite_schema WHERE name = '{table}'");
    let root: usize = nursery.memory(&root)[0].parse().unwrap();
    let mut bytes = fs::read(nursery.path(DB)).unwrap();
    // Where the cells of a leaf are stands behind the eight bytes of its head, two bytes for each.
    let cells = (root - 1) * 4096 + 8;
    bytes.swap(cells, cells + 2);
    bytes.swap(cells + 1, cells + 3);
    fs::write(nursery.path(DB), bytes).unwrap();
}

fn truncate(nursery: &Nursery, file: &str) {
    let file = fs::File::options()
        .write(true)
        .open(nursery.path(file))
        .unwrap();
    file.set_len(file.metadata().unwrap().len() / 2).unwrap();
}

/// The words of the newest letter.
fn newest(nursery: &Nursery) -> String {
    let letter = nursery.letters().pop().unwrap();
    letter.split_once("\n\n").unwrap().1.to_owned()
}

fn records(nursery: &Nursery) -> Vec<String> {
    nursery.memory("SELECT batch, what, date, gone FROM record ORDER BY date")
}

fn troubles(nursery: &Nursery) -> Vec<String> {
    nursery.memory("SELECT anchor FROM notice WHERE kind = 'trouble' ORDER BY id")
}

// ---- copies ----

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

// ---- mending ----

/// Damaged in that way on the second morning, the memory is put back by the round, which tells it; nothing that was
/// written down is lost and nobody is asked about it.
#[track_caller]
fn mended(damage: impl Fn(&Nursery)) -> (Nursery, Ran) {
    let nursery = second_morning();
    let letters = nursery.letters().len();
    damage(&nursery);
    let ran = nursery.round(SECOND);
    assert_eq!(ran.code, 0, "{ran}");
    assert_eq!(records(&nursery), ["A1 | looked | 2024-07-16 | 0"]);
    assert_eq!(troubles(&nursery), ["memory put back 2024-07-17T04:10:00Z"]);
    assert_eq!(nursery.letters().len(), letters + 1);
    let again = nursery.round("2024-07-17T07:10:00+02:00");
    assert_eq!(again.well(), "0 notices, 0 letters\n");
    (nursery, ran)
}

#[test]
fn a_truncated_memory_is_put_back() {
    let (nursery, ran) = mended(|nursery| truncate(nursery, DB));
    assert_snapshot!(ran, @r#"
    to Maren Holt: Trouble: the program's memory, state/graftwarden.db: it was damaged (database disk image is malformed)
    1 notice, 1 letter
    -- error --
    [time] ERROR the program's memory was damaged (database disk image is malformed); it was put back kept="graftwarden.db.damaged-20240717T041000Z" backup="2024-07-16"
    the program's memory, state/graftwarden.db: it was damaged (database disk image is malformed); what was there is kept as graftwarden.db.damaged-20240717T041000Z in state, and the backup of Tue 16 Jul was put back, which knows all up to the round of Tue 16 Jul 06:10. Nothing that was written down is lost: the register, the records, and what notes and answers were confirmed (accepted.csv) are read again. What was told since may be told once more. See whether the disk is well: such damage comes of a disk, or of a power cut.
    "#);
    assert_snapshot!(newest(&nursery), @r"
    Alder Fold Nursery, Wednesday 17 July 2024

    TROUBLE

    the program's memory, state/graftwarden.db: it was damaged
    (database disk image is malformed); what was there is kept as
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
fn what_happened_on_a_day_off_is_told_on_the_next_working_day() {
    let nursery = second_morning();
    nursery.round("2024-07-20T06:10:00+02:00").well();
    nursery.write("temps.csv", temperatures("2024-07-20"));
    truncate(&nursery, DB);
    let letters = nursery.letters().len();
    let sunday = nursery.round("2024-07-21T06:10:00+02:00");
    assert!(sunday.err.contains("it was put back"), "{sunday}");
    assert_eq!(troubles(&nursery), [""; 0]);
    for letter in &nursery.letters()[letters..] {
        assert!(!letter.contains("TROUBLE"), "{letter}");
    }
    nursery.write("temps.csv", temperatures("2024-07-21"));
    nursery.round("2024-07-22T06:10:00+02:00");
    let monday = newest(&nursery);
    assert!(
        monday.contains("what was told since may stand here once more."),
        "{monday}"
    );
    let told = monday.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        told.contains("the backup of Sat 20 Jul was put back, which knows all up to"),
        "{monday}"
    );
    assert_eq!(troubles(&nursery), ["memory put back 2024-07-21T04:10:00Z"]);
    nursery.write("temps.csv", temperatures("2024-07-22"));
    nursery.round("2024-07-23T06:10:00+02:00").well();
    assert_eq!(
        nursery.memory("SELECT value FROM fact WHERE key = 'memory put back'"),
        [""]
    );
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
            .contains("it was damaged (file is not a database); "),
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

#[test]
fn where_the_newest_backup_is_damaged_too_an_older_one_is_put_back_and_letters_that_repeat_say_so()
{
    let nursery = third_morning();
    let before = nursery.memory("SELECT key FROM notice ORDER BY key");
    truncate(&nursery, OF_SECOND);
    flip(&nursery, DB);
    assert_snapshot!(nursery.round(THIRD), @r#"
    to Maren Holt: Since Tue 16 Jul: 2 things to do today, about 4.3 h of crew time
    4 notices, 1 letter
    -- error --
    [time] ERROR the backup of 2024-07-17 cannot be put back: database disk image is malformed
    [time] ERROR the program's memory was damaged (database disk image is malformed); it was put back kept="graftwarden.db.damaged-20240718T041000Z" backup="2024-07-16"
    the program's memory, state/graftwarden.db: it was damaged (database disk image is malformed); what was there is kept as graftwarden.db.damaged-20240718T041000Z in state, and the backup of Tue 16 Jul (Wed 17 Jul could not be used) was put back, which knows all up to the round of Tue 16 Jul 06:10. Nothing that was written down is lost: the register, the records, and what notes and answers were confirmed (accepted.csv) are read again. What was told since may be told once more. See whether the disk is well: such damage comes of a disk, or of a power cut.
    "#);
    assert_snapshot!(newest(&nursery), @r"
    Alder Fold Nursery, Thursday 18 July 2024

    SINCE TUE 16 JUL

    home: 2.0 standard days of warmth in 2 days, up to 26 °C on Wed 17
    Jul.

    Opened:
      head back, block A: A1, since Wed 17 Jul
      look for callus lines, block A: A2, since Wed 17 Jul

    HEAD BACK NOW
      Block A: 1 batch, 310 grafts, by roughly Mon 22 Jul

    Head the stock back by two-thirds, evenly. If fewer than half of
    the trees looked at show lines, head back only those that do and
    look again in two days of mild weather.

    Opened by the record of Wed 17 Jul.

      A1  310 grafts  by roughly Mon 22 Jul
          Ember Lace: 16.1 standard days, 242 °C·d

    LOOK FOR CALLUS LINES NOW
      Block A: 1 batch, 120 grafts, by roughly Wed 24 Jul

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    Opened by warmth: 14.1 standard days since grafting, reached on
    Wed 17 Jul.

      A2  120 grafts  by roughly Wed 24 Jul
          Fox Cinder: 14.1 standard days, 212 °C·d

    TROUBLE

    the program's memory, state/graftwarden.db: it was damaged
    (database disk image is malformed); what was there is kept as
    graftwarden.db.damaged-20240718T041000Z in state, and the backup
    of Tue 16 Jul (Wed 17 Jul could not be used) was put back, which
    knows all up to the round of Tue 16 Jul 06:10. Nothing that was
    written down is lost: the register, the records, and what notes
    and answers were confirmed (accepted.csv) are read again. What was
    told since may be told once more. See whether the disk is well:
    such damage comes of a disk, or of a power cut.

    TODAY, IN THE ORDER TO WALK IT

    2 things, about 4.3 h of crew time.

    Block A:
      A1 head back, 310 grafts, 3.9 h
      A2 look for callus lines, 120 grafts, 24 min

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (headed-back), or as here:
    graftwarden note A1 headed-back

    -- 
    The program's memory was put back to its state of Tue 16 Jul
    06:10: what was told since may stand here once more.
    Temperatures at home: 16 days measured by the logger, known to Wed
    17 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
    assert_eq!(
        records(&nursery),
        [
            "A1 | looked | 2024-07-16 | 0",
            "A1 | lines | 2024-07-17 | 0"
        ]
    );
    // All that was told is in the ledger again, and what the third morning has to say.
    let after = nursery.memory("SELECT key FROM notice ORDER BY key");
    assert!(
        before.iter().all(|key| after.contains(key)),
        "{before:#?} {after:#?}"
    );
    // The next letters do not repeat anything.
    nursery.write("temps.csv", temperatures("2024-07-21"));
    let monday = nursery.round("2024-07-22T06:10:00+02:00").well();
    assert!(monday.ends_with(", 1 letter\n"), "{monday}");
    assert!(!newest(&nursery).contains("memory"), "{}", newest(&nursery));
}

#[test]
fn without_any_good_backup_an_empty_memory_is_begun() {
    let nursery = third_morning();
    for file in [OF_FIRST, OF_SECOND, DB] {
        truncate(&nursery, file);
    }
    let secret = "SELECT value FROM fact WHERE key = 'secret'";
    assert_snapshot!(nursery.round(THIRD), @r#"
    to Maren Holt: Block A: head back now (1 batch, 310 grafts), and 2 more things
    3 notices, 1 letter
    -- error --
    [time] ERROR the backup of 2024-07-17 cannot be put back: database disk image is malformed
    [time] ERROR the backup of 2024-07-16 cannot be put back: database disk image is malformed
    [time] ERROR the program's memory was damaged (database disk image is malformed); it was put back kept="graftwarden.db.damaged-20240718T041000Z"
    the program's memory, state/graftwarden.db: it was damaged (database disk image is malformed); what was there is kept as graftwarden.db.damaged-20240718T041000Z in state, and since there was no good backup (Wed 17 Jul and Tue 16 Jul could not be used) an empty memory was begun. Nothing that was written down is lost: the register, the records, and what notes and answers were confirmed (accepted.csv) are read again. All that still stands is told once more. See whether the disk is well: such damage comes of a disk, or of a power cut.
    "#);
    assert_snapshot!(newest(&nursery), @r"
    Alder Fold Nursery, Thursday 18 July 2024

    HEAD BACK NOW
      Block A: 1 batch, 310 grafts, by roughly Mon 22 Jul

    Head the stock back by two-thirds, evenly. If fewer than half of
    the trees looked at show lines, head back only those that do and
    look again in two days of mild weather.

    Opened by the record of Wed 17 Jul.

      A1  310 grafts  by roughly Mon 22 Jul
          Ember Lace: 16.1 standard days, 242 °C·d

    LOOK FOR CALLUS LINES NOW
      Block A: 1 batch, 120 grafts, by roughly Wed 24 Jul

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    Opened by warmth: 14.1 standard days since grafting, reached on
    Wed 17 Jul.

      A2  120 grafts  by roughly Wed 24 Jul
          Fox Cinder: 14.1 standard days, 212 °C·d

    TROUBLE

    the program's memory, state/graftwarden.db: it was damaged
    (database disk image is malformed); what was there is kept as
    graftwarden.db.damaged-20240718T041000Z in state, and since there
    was no good backup (Wed 17 Jul and Tue 16 Jul could not be used)
    an empty memory was begun. Nothing that was written down is lost:
    the register, the records, and what notes and answers were
    confirmed (accepted.csv) are read again. All that still stands is
    told once more. See whether the disk is well: such damage comes of
    a disk, or of a power cut.

    Cut with care: sharp knife, away from the body; guard on the
    holding hand; eyes protected; mind tops that fall; not alone.
    Disinfect between stocks. Not in lightning, and not before a
    sprayed block may be entered. Local rules and qualified advice
    come first.

    Done? Write it in the field records (headed-back), or as here:
    graftwarden note A1 headed-back

    -- 
    The program's memory was begun anew: what was told before may
    stand here once more.
    Temperatures at home: 16 days measured by the logger, known to Wed
    17 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    ");
    assert_eq!(nursery.memory(secret).len(), 1);
    assert_eq!(
        records(&nursery),
        [
            "A1 | looked | 2024-07-16 | 0",
            "A1 | lines | 2024-07-17 | 0"
        ]
    );
    assert_eq!(troubles(&nursery), ["memory put back 2024-07-18T04:10:00Z"]);
}

#[test]
fn a_memory_that_was_never_copied_is_begun_anew_too() {
    let (_, ran) = mended(|nursery| {
        fs::remove_dir_all(nursery.path("state/backups")).unwrap();
        flip(nursery, DB);
    });
    assert!(
        ran.err
            .contains("since there was no good backup an empty memory was begun"),
        "{ran}"
    );
}

#[test]
fn looking_mends_nothing_and_says_what_does() {
    let nursery = second_morning();
    truncate(&nursery, DB);
    let before = fs::read(nursery.path(DB)).unwrap();
    assert_snapshot!(nursery.run("due"), @r"
    -- error --
    the program's memory state/graftwarden.db is damaged (database disk image is malformed); the next `graftwarden round` or start of the service keeps it aside and puts back the newest good backup
    -- exit 69 --
    ");
    assert_snapshot!(nursery.run("check"), @r"
    ok    graftwarden.toml: 1 site, 1 person
    ok    site home: temperatures from file
    ok    letters go by folder
    mend  state: the program's memory state/graftwarden.db is damaged (database disk image is malformed); the next `graftwarden round` or start of the service keeps it aside and puts back the newest good backup.
    ok    state: can be written, and no other graftwarden is at work on it
    note  3 batches and 1 field record in force
    note  site home: temperatures known to 2024-07-16
    note  site home: the last safe day for grafting is not known, since fewer than five whole years before are known (maple field T-graft)

    1 thing to mend.
    -- exit 65 --
    ");
    assert_snapshot!(nursery.run("check --running"), @r"
    -- error --
    the program's memory state/graftwarden.db is damaged (database disk image is malformed); the next `graftwarden round` or start of the service keeps it aside and puts back the newest good backup
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
