//! The register as it is edited while the program runs: bad, vanished, renamed and moved rows, and what spreadsheets make
//! of a file.

use crate::program::{FIRST, Nursery, temperatures};
use insta::assert_snapshot;

/// The morning before [`FIRST`], when nothing is due yet.
const EVE: &str = "2024-07-15T06:10:00+02:00";
const SECOND: &str = "2024-07-17T06:10:00+02:00";
const THIRD: &str = "2024-07-18T06:10:00+02:00";

/// A register of twelve batches grafted on 1 July, one row each; losing one of them is losing 8 in 100.
fn twelve() -> String {
    let rows: String = (1..=12)
        .map(|n| format!("T{n:02},A,maple field T-graft,{n}0,2024-07-01,\n"))
        .collect();
    format!("batch,block,plan,grafts,grafted_on,remarks\n{rows}")
}

/// A nursery that has had its round on the eve; `edit` is what the grower then does to the register.
fn edited(register: &str, edit: impl Fn(&str) -> String) -> Nursery {
    let nursery = Nursery::small()
        .with("temps.csv", &temperatures("2024-07-14"))
        .with("batches.csv", register);
    nursery.round(EVE).well();
    nursery.write("batches.csv", edit(register));
    nursery.write("temps.csv", temperatures("2024-07-15"));
    nursery
}

fn next(nursery: &Nursery, at: &str) -> String {
    nursery.write("temps.csv", temperatures("2024-07-17"));
    nursery.round(at).to_string()
}

fn without(row: &str) -> impl Fn(&str) -> String {
    move |text: &str| {
        text.lines()
            .filter(|line| !line.starts_with(row))
            .map(|line| format!("{line}\n"))
            .collect()
    }
}

#[test]
fn the_last_good_version_of_a_bad_row_stays_in_force() {
    let nursery = edited(&twelve(), |text| {
        text.replace(
            "T07,A,maple field T-graft,70",
            "T07,A,maple field T-graft,seventy",
        )
    });
    // 10 + 20 + ... + 120 grafts, the 70 among them.
    assert_snapshot!(nursery.round(FIRST), @r"
    to Maren Holt: Block A: look for callus lines now (12 batches, 780 grafts), and 1 more thing
    13 notices, 1 letter
    -- error --
    batches.csv, row 8, column grafts: 'seventy' is not a number of grafts; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, in digits only.
    ");
}

#[test]
fn a_vanished_row_stays_in_force_and_is_asked_about_once() {
    let nursery = edited(&twelve(), without("T07"));
    assert_snapshot!(nursery.round(FIRST), @r"
    to Maren Holt: Block A: look for callus lines now (12 batches, 780 grafts), and 1 more thing
    13 notices, 1 letter
    -- error --
    batches.csv: the row of T07 is not there any more; what it said stays in force. Put it back, or write down what became of it: closed for a batch, retract for a record.
    ");
    let letter = nursery.letters().pop().unwrap();
    assert!(letter.contains("T07   70 grafts"), "{letter}");
    assert_eq!(next(&nursery, SECOND), "0 notices, 0 letters\n");
}

#[test]
fn a_vanished_record_stays_in_force_and_is_asked_about_once() {
    let nursery = Nursery::small()
        .with("batches.csv", &twelve())
        .with("temps.csv", &temperatures("2024-07-14"));
    let rows: String = (1..=12)
        .map(|n| format!("2024-07-12,T{n:02},lost,1,,\n"))
        .collect();
    nursery.append("records.csv", &rows);
    nursery.round(EVE).well();
    nursery.change("records.csv", "2024-07-12,T07,lost,1,,\n", "");
    nursery.write("temps.csv", temperatures("2024-07-15"));
    // 780 grafts less 12.
    assert_snapshot!(nursery.round(FIRST), @r"
    to Maren Holt: Block A: look for callus lines now (12 batches, 768 grafts), and 1 more thing
    13 notices, 1 letter
    -- error --
    records.csv: the row of T07 | 2024-07-12 | lost | 1 is not there any more; what it said stays in force. Put it back, or write down what became of it: closed for a batch, retract for a record.
    ");
    assert_eq!(next(&nursery, SECOND), "0 notices, 0 letters\n");
}

#[test]
fn a_reading_that_lost_many_rows_is_not_believed() {
    let nursery = edited(&twelve(), |text| {
        without("T07")(&without("T08")(text)).replace(",10,", ",1000,")
    });
    assert_snapshot!(nursery.round(FIRST), @r"
    to Maren Holt: Block A: look for callus lines now (12 batches, 780 grafts), and 1 more thing
    13 notices, 1 letter
    -- error --
    batches.csv: 2 of its rows are gone at once; nothing of this reading is used, all rows stay as they were. Put the rows back; to begin a new season's file, give it a new name in the config.
    ");
    assert_eq!(
        next(&nursery, SECOND).lines().next(),
        Some("0 notices, 0 letters")
    );
    nursery.write("batches.csv", twelve().replace(",10,", ",1000,"));
    assert_eq!(nursery.round(THIRD).to_string(), "0 notices, 0 letters\n");
    let due = nursery.run("due --on 2024-07-17").well();
    assert!(
        due.contains("T01    16.1 d  look for callus lines  1000"),
        "{due}"
    );
}

#[test]
fn a_new_graft_date_moves_everything() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    nursery.change("batches.csv", "310,2024-07-01", "310,2024-07-05");
    nursery.write("temps.csv", temperatures("2024-07-16"));
    assert_snapshot!(nursery.round(SECOND), @r"
    to Maren Holt: No longer due, Block A: look for callus lines (1 batch, 310 grafts)
    1 notice, 1 letter
    ");
    let letter = nursery.letters().pop().unwrap();
    let body = letter
        .split("\n\n")
        .skip(2)
        .take_while(|part| !part.starts_with("-- "))
        .collect::<Vec<_>>();
    assert_snapshot!(body.join("\n\n"), @r"
    NO LONGER DUE: LOOK FOR CALLUS LINES

    A1: the register now says that it was grafted on Fri 5 Jul. By
    what is known now it comes roughly Fri 19 Jul.
    ");
    // Fourteen days on, as it was with 1 July: 19 July, a Friday.
    nursery.write("temps.csv", temperatures("2024-07-21"));
    assert_snapshot!(nursery.round("2024-07-22T06:10:00+02:00"), @r"
    to Maren Holt: Since Wed 17 Jul: 3 things to do today, about 2.9 h of crew time
    4 notices, 1 letter
    ");
    assert_eq!(
        nursery.memory("SELECT on_day, anchor, n FROM notice WHERE subject = 'A1' AND kind = 'opens' ORDER BY id"),
        ["2024-07-15 | 2024-07-01 by maple field T-graft | 1", "2024-07-19 | 2024-07-05 by maple field T-graft | 1"]
    );
}

#[test]
fn what_is_not_an_anchor_may_be_edited_without_a_word() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    nursery.change(
        "batches.csv",
        "A1,A,maple field T-graft,Ember Lace,310",
        "A1,C,maple field T-graft,Fox Cinder,300",
    );
    nursery.write("temps.csv", temperatures("2024-07-16"));
    assert_eq!(nursery.round(SECOND).well(), "0 notices, 0 letters\n");
    let due = nursery.run("due --on 2024-07-16").well();
    assert!(due.contains("Block C\nbatch  warmth  to do                  left  since       until\nA1     15.1 d  look for callus lines   300"), "{due}");
}

#[test]
fn a_renamed_batch_is_one_vanished_and_one_new() {
    let nursery = edited(&twelve(), |text| text.replace("T07", "U07"));
    assert_snapshot!(nursery.round(FIRST), @r"
    to Maren Holt: Block A: look for callus lines now (13 batches, 850 grafts), and 1 more thing
    14 notices, 1 letter
    -- error --
    batches.csv: the row of T07 is not there any more; what it said stays in force. Put it back, or write down what became of it: closed for a batch, retract for a record.
    ");
    assert_eq!(next(&nursery, SECOND), "0 notices, 0 letters\n");
    let told = nursery.memory(
        "SELECT subject FROM notice WHERE kind = 'opens' AND subject LIKE '_07' ORDER BY subject",
    );
    assert_eq!(told, ["T07", "U07"]);
}

/// Both files of the season, changed by that.
fn season_of(change: impl Fn(&str) -> String) -> String {
    let nursery = Nursery::demo();
    for file in ["batches.csv", "records.csv"] {
        nursery.write(file, change(&nursery.read(file)));
    }
    nursery.run("rehearse --json --letters letters").well()
}

#[test]
fn what_a_spreadsheet_makes_of_the_files_changes_nothing() {
    let plain = season_of(str::to_owned);
    assert!(plain.lines().count() > 100, "{plain}");
    let semicolons = season_of(|text| {
        let rows = text
            .lines()
            .map(|line| format!("{};\r\n", line.replace(',', ";")));
        format!("\u{feff}{}\r\n;;\r\n", rows.collect::<String>())
    });
    assert!(
        semicolons == plain,
        "BOM, semicolons, CRLF, a trailing column, blank lines"
    );
    let tabs = season_of(|text| {
        let turned = text.lines().map(|line| {
            let cells: Vec<&str> = line.split(',').rev().collect();
            cells.join("\t") + "\n"
        });
        turned.collect()
    });
    assert!(tabs == plain, "tabs, and the columns the other way round");
}
