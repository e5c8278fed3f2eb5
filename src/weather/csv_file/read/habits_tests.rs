//! The habits of files of every shape: what stands at their end, what comes twice, which days are whole, which file is newest.

use super::super::file::Why;
use super::tests::{check, check_laid_out, read_text};
use super::*;
use crate::weather::layout::Columns;

#[test]
fn rows_that_sum_up_are_passed_over() {
    check(
        "Temperatures of 2026\n\ndate,tmin,tmax\n2026-08-01,8,20\n2026-08-02,9,21\n,,\nMin:,8,20\nMax:,9,21\n,Average,20.5\nEnd of report\n",
        &[
            "2026-08-01 8.0 20.0",
            "2026-08-02 9.0 21.0",
            "- 4 rows from 7 to 10 have no date and sum up: they are passed over",
        ],
    );
}

#[test]
fn half_a_line_is_left_until_it_is_whole() {
    let remark = "- row 3, the last one, is only half written: it is left until it is whole";
    for half in [
        "2026-08-02,9.0,2",
        "2026-08-02,9.",
        "2026-08-02,9.0,",
        "2026-0",
        "2026-08-02,9.0,-",
        "\"2026-08",
    ] {
        let text = format!("date,tmin,tmax\n2026-08-01,8.0,20.0\n{half}");
        check(text, &["2026-08-01 8.0 20.0", remark]);
    }
    check(
        "date,tmin,tmax\n2026-08-01,8,20\n2026-08-02,9,2",
        &["2026-08-01 8.0 20.0", remark],
    );
    // Spreadsheets may leave the last end of line away.
    check(
        "date,tmin,tmax\n2026-08-01,8,20\n2026-08-02,9,21",
        &["2026-08-01 8.0 20.0", "2026-08-02 9.0 21.0"],
    );
}

#[test]
fn exports_may_overlap_and_be_out_of_order() {
    let file = read_text(
        "time,temp,rain_mm\n2026-08-02 06:00,9,0\n2026-08-02 18:00,21,1\n2026-08-01 06:00,8,2\n2026-08-01 18:00,20,3\n\
        2026-08-02 06:00,9,0\n2026-08-02 18:00,21,1\n",
        &Layout::default(),
    );
    let days: Vec<_> = file.days.iter().map(|d| (d.min, d.max, d.rain)).collect();
    assert_eq!(days, [(8.0, 20.0, Some(5.0)), (9.0, 21.0, Some(1.0))]);
    assert_eq!(file.readings_per_day, Some(2));
    assert_eq!(
        file.remarks,
        [
            "2 rows are of a minute that was there before (exports that overlap, or the hour that autumn repeats): each minute counts once"
        ]
    );
}

#[test]
fn a_file_without_names_is_read_by_numbers() {
    let layout = Layout {
        columns: Columns {
            date: Some("#1".into()),
            min: Some("#3".into()),
            max: Some("#2".into()),
            ..Columns::default()
        },
        ..Layout::default()
    };
    check_laid_out(
        "2026-08-01,20,8,1\n2026-08-02,21,9,1\n",
        &layout,
        &["2026-08-01 8.0 20.0", "2026-08-02 9.0 21.0"],
    );
}

/// An afternoon's export has most of the day's readings, and not its evening.
#[test]
fn the_last_day_must_be_nearly_whole() {
    let hours = |date: &str, until: u32| -> String {
        (0..until)
            .map(|hour| format!("{date} {hour:02}:00,{hour}\n"))
            .collect::<Vec<_>>()
            .concat()
    };
    let text = |until| {
        format!(
            "time,temp\n{}{}",
            hours("2026-08-01", 24),
            hours("2026-08-02", until)
        )
    };
    check(text(20), &["2026-08-01 0.0 23.0"]);
    check(text(23), &["2026-08-01 0.0 23.0", "2026-08-02 0.0 22.0"]);
    let followed = format!("{}2026-08-03 00:00,1\n", text(20));
    check(&followed, &["2026-08-01 0.0 23.0", "2026-08-02 0.0 19.0"]);
    let strict = Layout {
        min_readings: Some(90),
        ..Layout::default()
    };
    check_laid_out(&followed, &strict, &["2026-08-01 0.0 23.0"]);
    let left_out = read_text(text(20), &Layout::default()).left_out;
    assert_eq!(left_out[0].why, Why::NotOver { had: 20 });
}

/// Files that are begun anew: all are read, and where they speak of the same, the newest is right.
#[test]
fn the_newest_of_several_files_is_right() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, age: u64, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        let written = std::time::SystemTime::now() - std::time::Duration::from_secs(age);
        let file = std::fs::File::options().append(true).open(path).unwrap();
        file.set_modified(written).unwrap();
    };
    let read = |pattern: &str| {
        let file = read(&folder.path().join(pattern), &Layout::default(), None);
        let days = file
            .days
            .iter()
            .map(|d| format!("{} {} {}", d.date, d.min, d.max));
        (days.collect::<Vec<_>>(), file.files, file.problems.len())
    };
    write(
        "d-new.csv",
        1,
        "date,tmin,tmax\n2026-08-02,9.5,21\n2026-08-03,10,22\n",
    );
    write(
        "d-old.csv",
        9,
        "date,tmin,tmax\n2026-08-01,8,20\n2026-08-02,9,21\n",
    );
    write("d-bad.csv", 5, "nothing of use\n");
    let days = ["2026-08-01 8 20", "2026-08-02 9.5 21", "2026-08-03 10 22"];
    assert_eq!(read("d-*.csv"), (days.map(String::from).to_vec(), 2, 1));
    // A day that is half in one file and half in the other, and a day read out again after the sensor was set right.
    write(
        "r-1.csv",
        9,
        "time,temp\n2026-08-01 06:00,8\n2026-08-01 18:00,20\n2026-08-02 06:00,9\n",
    );
    write(
        "r-2.csv",
        1,
        "time,temp\n2026-08-02 18:00,21\n2026-08-01 06:00,7\n2026-08-01 18:00,19\n",
    );
    let days = ["2026-08-01 7 19", "2026-08-02 9 21"];
    assert_eq!(read("r-?.csv"), (days.map(String::from).to_vec(), 2, 0));
}

/// A logger that was set from an hour to ten minutes has whole days before and after.
#[test]
fn an_interval_may_be_changed() {
    let day = |date: u32, minutes: &[u32]| -> String {
        let rows = (0..24).flat_map(|hour| minutes.iter().map(move |minute| (hour, minute)));
        rows.map(|(hour, minute)| format!("2026-08-{date:02} {hour:02}:{minute:02},{hour}\n"))
            .collect::<Vec<_>>()
            .concat()
    };
    let tens = [0, 10, 20, 30, 40, 50];
    let text = format!(
        "time,temp\n{}{}{}",
        day(1, &[0]),
        day(2, &tens),
        day(3, &tens)
    );
    let file = read_text(text, &Layout::default());
    assert_eq!((file.days.len(), file.readings_per_day), (3, Some(144)));
}
