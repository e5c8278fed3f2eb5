//! Rows of the register and of the field records: the last good version of each stays in force.

use super::*;
use proptest::prelude::*;
use std::collections::HashSet;

fn rows(names: &[&str]) -> Vec<(String, Batch)> {
    names
        .iter()
        .map(|name| ((*name).to_owned(), batch(name, 100)))
        .collect()
}

/// Reads a register of these batches; in some other rows these names could be read, and nothing else.
fn read(store: &mut Store, rows: &[(String, Batch)], unreadable: &[&str]) -> Absorbed {
    let unreadable = unreadable.iter().map(|name| (*name).to_owned());
    absorbed(rows, unreadable, |read| {
        with(store, |memory| memory.absorb_batches(read))
    })
}

/// Hands `write` the reading of a file with these rows.
fn absorbed<T>(
    rows: &[(String, T)],
    unreadable: impl Iterator<Item = String>,
    write: impl FnOnce(&FileRead<'_, T>) -> Absorbed,
) -> Absorbed {
    let names = rows.iter().map(|(name, _)| name.clone());
    write(&FileRead {
        file: "rows.csv",
        identities: &names.chain(unreadable).collect(),
        rows: &|take| rows.iter().for_each(|(name, row)| take(name, row)),
    })
}

/// So many rows were written, and none was missed.
fn wrote(written: usize) -> Absorbed {
    Absorbed {
        written,
        ..Absorbed::default()
    }
}

#[track_caller]
fn check_held(store: &mut Store, expected: &[&str]) {
    let held = with(store, |memory| memory.batches());
    let names: Vec<&str> = held.iter().map(|b| b.name.as_str()).collect();
    assert_eq!(names, expected);
}

const TEN: [&str; 10] = ["A", "B", "C", "D", "E", "F", "G", "H", "I", "J"];

#[test]
fn rows_come_back_as_they_were_written() {
    let mut store = Store::in_memory().unwrap();
    assert_eq!(read(&mut store, &rows(&["A"]), &[]), wrote(1));
    assert_eq!(
        with(&mut store, |memory| memory.batches()),
        [batch("A", 100).into()].into()
    );
}

#[test]
fn an_edited_row_replaces_the_one_before() {
    let mut store = Store::in_memory().unwrap();
    read(&mut store, &rows(&["A"]), &[]);
    read(&mut store, &[("A".into(), batch("A", 90))], &[]);
    assert_eq!(with(&mut store, |memory| memory.batches())[0].grafts, 90);
}

#[test]
fn a_tenth_may_vanish_stays_in_force_and_is_asked_about_once() {
    let mut store = Store::in_memory().unwrap();
    read(&mut store, &rows(&TEN), &[]);
    let absorbed = read(&mut store, &rows(&TEN[1..]), &[]);
    assert_eq!(
        (absorbed.vanished, absorbed.refused),
        (vec!["A".to_owned()], false)
    );
    check_held(&mut store, &TEN);
    assert_eq!(read(&mut store, &rows(&TEN[1..]), &[]), Absorbed::default());
}

#[test]
fn a_row_that_is_put_back_may_vanish_again() {
    let mut store = Store::in_memory().unwrap();
    read(&mut store, &rows(&TEN), &[]);
    read(&mut store, &rows(&TEN[1..]), &[]);
    read(&mut store, &rows(&TEN), &[]);
    assert_eq!(read(&mut store, &rows(&TEN[1..]), &[]).vanished, ["A"]);
}

#[test]
fn one_row_is_a_correction_in_a_short_file_too() {
    let mut store = Store::in_memory().unwrap();
    read(&mut store, &rows(&TEN[..3]), &[]);
    let corrected = read(&mut store, &rows(&[TEN[0], TEN[1], "new"]), &[]);
    assert_eq!(
        (corrected.vanished, corrected.refused),
        (vec![TEN[2].to_owned()], false)
    );
    check_held(&mut store, &[TEN[0], TEN[1], TEN[2], "new"]);
    // Two of three are a file that was cut off.
    let cut = read(&mut store, &rows(&["new"]), &[]);
    assert!(cut.refused);
}

#[test]
fn when_more_than_a_tenth_vanishes_nothing_of_that_reading_is_used() {
    let mut store = Store::in_memory().unwrap();
    read(&mut store, &rows(&TEN), &[]);
    let mut halved = rows(&TEN[2..]);
    halved[0].1.grafts = 5;
    halved.extend(rows(&["new"]));
    for _ in 0..2 {
        let absorbed = read(&mut store, &halved, &[]);
        assert_eq!((absorbed.vanished.len(), absorbed.refused), (2, true));
        check_held(&mut store, &TEN);
        assert!(
            with(&mut store, |memory| memory.batches())
                .iter()
                .all(|b| b.grafts == 100)
        );
    }
}

#[test]
fn a_row_that_cannot_be_read_has_not_vanished() {
    let mut store = Store::in_memory().unwrap();
    read(&mut store, &rows(&TEN), &[]);
    assert_eq!(
        read(&mut store, &rows(&TEN[3..]), &["A", "B", "C"]),
        Absorbed::default()
    );
    check_held(&mut store, &TEN);
}

#[test]
fn rows_of_another_file_are_not_missed() {
    let mut store = Store::in_memory().unwrap();
    read(&mut store, &rows(&["A"]), &[]);
    let other = FileRead {
        file: "next.csv",
        identities: &["B".to_owned()].into(),
        rows: &|take| take("B", &batch("B", 100)),
    };
    assert_eq!(
        with(&mut store, |memory| memory.absorb_batches(&other)),
        wrote(1)
    );
    check_held(&mut store, &["A", "B"]);
}

fn absorb(store: &mut Store, records: &[(&str, Record)]) -> Absorbed {
    let rows: Vec<(String, Record)> = records
        .iter()
        .map(|(id, r)| ((*id).to_owned(), r.clone()))
        .collect();
    absorbed(&rows, std::iter::empty(), |read| {
        with(store, |memory| memory.absorb_records(read))
    })
}

#[test]
fn records_come_back_in_the_order_in_which_they_were_first_written() {
    let mut store = Store::in_memory().unwrap();
    let lines = record(16, What::Lines, Some(Count::Share(3, 10)));
    let length = record(15, What::HeadLength, Some(Count::Of(32.5)));
    let mut block = record(17, What::HeadedBack, None);
    block.target = Target::Block("C".into());
    let mut taken_back = record(18, What::Retract, None);
    taken_back.remarks = "lines".into();
    absorb(
        &mut store,
        &[
            ("a", lines.clone()),
            ("b", length.clone()),
            ("c", block.clone()),
            ("d", taken_back.clone()),
        ],
    );
    assert_eq!(
        with(&mut store, |memory| memory.records()),
        [lines, length.clone(), block.clone(), taken_back.clone()].into()
    );
    let edited = record(16, What::Lines, Some(Count::Share(8, 10)));
    absorb(
        &mut store,
        &[
            ("d", taken_back.clone()),
            ("c", block.clone()),
            ("b", length.clone()),
            ("a", edited.clone()),
        ],
    );
    assert_eq!(
        with(&mut store, |memory| memory.records()),
        [edited, length, block, taken_back].into()
    );
}

#[test]
fn records_that_vanish_stay_in_force_or_refuse_the_reading() {
    let mut store = Store::in_memory().unwrap();
    let ids: Vec<String> = (1..=10).map(|n| n.to_string()).collect();
    let all: Vec<(&str, Record)> = ids
        .iter()
        .zip(1..)
        .map(|(id, n)| (id.as_str(), record(n, What::Looked, None)))
        .collect();
    absorb(&mut store, &all);
    assert_eq!(absorb(&mut store, &all[1..]).vanished, ["1"]);
    let absorbed = absorb(&mut store, &all[3..]);
    assert_eq!(
        (absorbed.vanished, absorbed.refused),
        (vec!["2".to_owned(), "3".to_owned()], true)
    );
    assert_eq!(with(&mut store, |memory| memory.records()).len(), 10);
}

#[test]
fn a_note_counts_at_once_and_is_not_missed_in_the_file_of_records() {
    let mut store = Store::in_memory().unwrap();
    let noted = record(16, What::Lines, None);
    with(&mut store, |memory| {
        memory.write_record("n1", "accepted.csv", &noted)
    });
    assert_eq!(absorb(&mut store, &[]), Absorbed::default());
    assert_eq!(with(&mut store, |memory| memory.records()), [noted].into());
}

#[test]
fn only_rows_that_say_something_else_are_written() {
    let mut store = Store::in_memory().unwrap();
    assert_eq!(read(&mut store, &rows(&TEN), &[]), wrote(10));
    let mut edited = rows(&TEN);
    edited[3].1.remarks = "wet".into();
    edited[7].1.grafts = 5;
    edited.push(("K".into(), batch("K", 100)));
    assert_eq!(read(&mut store, &edited, &[]), wrote(3));
    assert_eq!(read(&mut store, &edited, &[]), wrote(0));
    // What was gone is written as there again.
    read(&mut store, &edited[1..], &[]);
    assert_eq!(read(&mut store, &edited, &[]), wrote(1));
}

#[test]
fn a_row_that_cannot_be_read_any_more_has_its_file_read_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let reading = Reading {
        print: "abc".into(),
        on: day(20),
        first: Some(day(1)),
    };
    read(&mut store, &rows(&["A", "B"]), &[]);
    let held = with(&mut store, |memory| {
        memory.remember_reading("batches", Some(&reading))?;
        memory.batches()?;
        memory.reading("batches")
    });
    assert_eq!(held, Some(reading));
    let bad = "UPDATE batch SET grafted_on = 'someday' WHERE name = 'A'";
    store.connection.execute(bad, []).unwrap();
    let held = with(&mut store, |memory| memory.batches());
    assert_eq!(held, [batch("B", 100).into()].into());
    assert_eq!(with(&mut store, |memory| memory.reading("batches")), None);
    assert_eq!(read(&mut store, &rows(&["A", "B"]), &[]), wrote(1));
    check_held(&mut store, &["A", "B"]);
}

/// Some batches, each with a name of its own.
fn some_batches() -> impl Strategy<Value = Vec<(String, Batch)>> {
    let row = (
        "[A-C][0-9]",
        1_u32..500,
        1_u32..28,
        0_usize..3,
        "[ -~é]{0,8}",
    );
    prop::collection::vec(row, 0..12).prop_map(|rows| {
        let mut names = HashSet::new();
        let batch = |(name, grafts, n, vigour, remarks): (String, u32, u32, usize, String)| Batch {
            grafted_on: day(n),
            vigour: Vigour::ALL[vigour],
            remarks,
            ..batch(&name, grafts)
        };
        rows.into_iter()
            .map(batch)
            .filter(|batch| names.insert(batch.name.clone()))
            .map(|batch| (batch.name.clone(), batch))
            .collect()
    })
}

fn some_records() -> impl Strategy<Value = Vec<Record>> {
    let count = prop_oneof![
        Just(None),
        (0_u32..900).prop_map(|n| Some(Count::Of(f64::from(n) / 10.0))),
        (0_u32..9, 9_u32..20).prop_map(|(n, of)| Some(Count::Share(n, of))),
    ];
    let row = (1_u32..28, 0..What::ALL.len(), count, any::<bool>());
    let record = |(n, what, count, block): (u32, usize, Option<Count>, bool)| {
        let mut record = record(n, What::ALL[what], count);
        if block {
            record.target = Target::Block("C".into());
        }
        record
    };
    prop::collection::vec(row.prop_map(record), 0..12)
}

proptest! {
    #[test]
    fn the_same_rows_once_more_change_nothing(batches in some_batches(), records in some_records()) {
        let mut store = Store::in_memory().unwrap();
        let ids: Vec<String> = (0..records.len()).map(|n| n.to_string()).collect();
        let records: Vec<(&str, Record)> = ids.iter().map(String::as_str).zip(records).collect();
        prop_assert_eq!(read(&mut store, &batches, &[]), wrote(batches.len()));
        prop_assert_eq!(absorb(&mut store, &records), wrote(records.len()));
        let held = |store: &mut Store| with(store, |m| Ok((m.batches()?, m.records()?)));
        let once = held(&mut store);
        prop_assert_eq!(read(&mut store, &batches, &[]), wrote(0));
        prop_assert_eq!(absorb(&mut store, &records), wrote(0));
        prop_assert_eq!(held(&mut store), once);
    }
}
