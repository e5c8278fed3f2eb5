//! What letters say where an older backup or none was put back, or on a day off.

use super::{
    DB, OF_FIRST, OF_SECOND, THIRD, flip, mended, newest, records, second_morning, third_morning,
    troubles, truncate,
};
use crate::program::temperatures;
use insta::assert_snapshot;
use std::fs;

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
    [time] ERROR the database found: database disk image is malformed
    [time] ERROR the database found: database disk image is malformed
    [time] ERROR the backup of 2024-07-17 cannot be put back: its structure is broken
    [time] ERROR the program's memory was damaged (its structure is broken); it was put back kept="graftwarden.db.damaged-20240718T041000Z" backup="2024-07-16"
    the program's memory, state/graftwarden.db: it was damaged (its structure is broken); what was there is kept as graftwarden.db.damaged-20240718T041000Z in state, and the backup of Tue 16 Jul (Wed 17 Jul could not be used) was put back, which knows all up to the round of Tue 16 Jul 06:10. Nothing that was written down is lost: the register, the records, and what notes and answers were confirmed (accepted.csv) are read again. What was told since may be told once more. See whether the disk is well: such damage comes of a disk, or of a power cut.
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

    Opened by what was written down for Wed 17 Jul.

      A1  310 grafts  by roughly Mon 22 Jul
          Ember Lace: 16.1 standard days, 242 °C·d

    LOOK FOR CALLUS LINES NOW
      Block A: 1 batch, 120 grafts, by roughly Tue 23 Jul

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    Opened by warmth: 14.1 standard days since grafting, reached on
    Wed 17 Jul.

      A2  120 grafts  by roughly Tue 23 Jul
          Fox Cinder: 14.1 standard days, 212 °C·d

    TROUBLE

    the program's memory, state/graftwarden.db: it was damaged (its
    structure is broken); what was there is kept as
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
      A1 head back, 310 grafts, 3.9 h, by roughly Mon 22 Jul
      A2 look for callus lines, 120 grafts, 24 min, by roughly Tue 23
      Jul

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
    Temperatures at home: measured by the logger on 16 days, known to
    Wed 17 Jul.
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
    [time] ERROR the database found: database disk image is malformed
    [time] ERROR the database found: database disk image is malformed
    [time] ERROR the backup of 2024-07-17 cannot be put back: its structure is broken
    [time] ERROR the database found: database disk image is malformed
    [time] ERROR the backup of 2024-07-16 cannot be put back: its structure is broken
    [time] ERROR the program's memory was damaged (its structure is broken); it was put back kept="graftwarden.db.damaged-20240718T041000Z"
    the program's memory, state/graftwarden.db: it was damaged (its structure is broken); what was there is kept as graftwarden.db.damaged-20240718T041000Z in state, and since there was no good backup (Wed 17 Jul and Tue 16 Jul could not be used) an empty memory was begun. Nothing that was written down is lost: the register, the records, and what notes and answers were confirmed (accepted.csv) are read again. All that still stands is told once more. See whether the disk is well: such damage comes of a disk, or of a power cut.
    "#);
    assert_snapshot!(newest(&nursery), @r"
    Alder Fold Nursery, Thursday 18 July 2024

    HEAD BACK NOW
      Block A: 1 batch, 310 grafts, by roughly Mon 22 Jul

    Head the stock back by two-thirds, evenly. If fewer than half of
    the trees looked at show lines, head back only those that do and
    look again in two days of mild weather.

    Opened by what was written down for Wed 17 Jul.

      A1  310 grafts  by roughly Mon 22 Jul
          Ember Lace: 16.1 standard days, 242 °C·d

    LOOK FOR CALLUS LINES NOW
      Block A: 1 batch, 120 grafts, by roughly Tue 23 Jul

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    Opened by warmth: 14.1 standard days since grafting, reached on
    Wed 17 Jul.

      A2  120 grafts  by roughly Tue 23 Jul
          Fox Cinder: 14.1 standard days, 212 °C·d

    TROUBLE

    the program's memory, state/graftwarden.db: it was damaged (its
    structure is broken); what was there is kept as
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
    Temperatures at home: measured by the logger on 16 days, known to
    Wed 17 Jul.
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

/// Until a round has read everything again, what was told since the backup may come as late as that.
#[test]
fn what_comes_once_more_in_a_later_letter_says_so_too() {
    let nursery = third_morning();
    nursery.round(THIRD).well();
    let told = "SELECT round_at FROM notice WHERE kind = 'opens' AND subject = 'A1' AND step = 'head-back'";
    assert_eq!(nursery.memory(told), ["2024-07-18T04:10:00Z"]);
    fs::remove_file(nursery.path("state/backups/graftwarden-2024-07-18.db")).unwrap();
    truncate(&nursery, DB);
    // Just then the logger's file is gone, and so is what was noted.
    let accepted = nursery.read("state/accepted.csv");
    let temperatures_file = nursery.read("temps.csv");
    fs::remove_file(nursery.path("temps.csv")).unwrap();
    nursery.write("state/accepted.csv", "");
    nursery.round("2024-07-18T07:10:00+02:00");
    assert!(
        newest(&nursery).contains("was put back"),
        "{}",
        newest(&nursery)
    );
    assert_eq!(nursery.memory(told), [""; 0]);
    nursery.write("temps.csv", temperatures_file);
    nursery.write("state/accepted.csv", accepted);
    nursery.round("2024-07-18T12:10:00+02:00");
    assert_eq!(nursery.memory(told), ["2024-07-18T10:10:00Z"]);
    let again = newest(&nursery);
    assert!(again.contains("HEAD BACK NOW"), "{again}");
    assert!(again.contains("may stand here once more"), "{again}");
    // That round knew everything.
    nursery.write("temps.csv", temperatures("2024-07-21"));
    nursery.round("2024-07-22T06:10:00+02:00").well();
    assert!(!newest(&nursery).contains("memory"), "{}", newest(&nursery));
}
