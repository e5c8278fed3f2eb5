//! Memories of older schemas carried out and in: tests/data/stores.

use super::super::export::write_out;
use super::*;
use crate::lock::Lock;

/// The files of a folder, but for the moment.
fn tables(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<(String, Vec<u8>)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|entry| {
            let name = entry.file_name().into_string().unwrap();
            (name, std::fs::read(entry.path()).unwrap())
        })
        .filter(|(name, _)| name != "about.txt")
        .collect();
    files.sort();
    files
}

/// Written out as it is, by its own schema, and taken in, it is the same as brought to today's schema where it lies.
#[track_caller]
fn comes_in(schema: i64, tables_then: u32, form: Form) {
    let kept =
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/stores/v{schema}.db"));
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let none = path("none");
    let old = Connection::open_with_flags(&kept, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
    assert_eq!(schema::version(&old).unwrap(), schema);
    let out = write_out(&old, &path("old"), form, &none, hour(6)).unwrap();
    assert_eq!(out.tables, tables_then);
    let about = std::fs::read_to_string(path("old").join("about.txt")).unwrap();
    assert!(about.contains(&format!("\nschema: {schema}\n")), "{about}");

    Store::make_folder(&path("new")).unwrap();
    let lock = Lock::take(&path("new")).unwrap();
    let taken = Store::import(&path("old"), &path("new"), &none, &lock).unwrap();
    assert_eq!((taken.tables, taken.rows), (out.tables, out.rows));
    let new = Store::copy_of(&path("new")).unwrap();
    new.export(&path("new-out"), form, &none, hour(7)).unwrap();

    Store::make_folder(&path("moved")).unwrap();
    std::fs::copy(&kept, Store::file_in(&path("moved"))).unwrap();
    let mut moved = Store::open(&path("moved")).unwrap();
    moved
        .export(&path("moved-out"), form, &none, hour(8))
        .unwrap();
    assert_eq!(tables(&path("new-out")), tables(&path("moved-out")));
    let rounds = with(&mut moved, |memory| memory.rounds_before(day(21)));
    assert!(!rounds.is_empty());
}

#[test]
fn a_memory_of_the_first_schema_is_carried() {
    comes_in(1, 10, Form::Csv);
    comes_in(1, 10, Form::Json);
}

#[test]
fn a_memory_of_the_second_schema_is_carried() {
    comes_in(2, 13, Form::Csv);
    comes_in(2, 13, Form::Json);
}

#[test]
fn a_memory_of_the_third_schema_is_carried() {
    comes_in(3, 17, Form::Csv);
    comes_in(3, 17, Form::Json);
}

/// A memory of the third schema with what a letter was written down to ask for, and with what it told.
fn old_memory(asked: &str, told: &[(&str, &str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/stores/v3.db");
    let file = Store::file_in(folder.path());
    std::fs::copy(kept, &file).unwrap();
    let old = Connection::open(file).unwrap();
    old.execute_batch(
        "INSERT INTO letter (id, message_id, round_at, recipient, subject, dated, bytes)
         VALUES (90, 'token@alderfold.example', '2024-07-18T04:10:00Z', 'maren@alderfold.example', '', '2024-07-18T06:10:00+02:00', x'')",
    )
    .unwrap();
    if !asked.is_empty() {
        old.execute("INSERT INTO asked VALUES (90, 'A1', ?1)", [asked])
            .unwrap();
    }
    for (n, (kind, batch, step)) in (900..).zip(told) {
        old.execute(
            "INSERT INTO notice (id, key, kind, subject, step, anchor, n, on_day, told_on, round_at)
             VALUES (?1, ?1, ?2, ?3, ?4, '', 1, '2024-07-18', '2024-07-18', '2024-07-18T04:10:00Z')",
            (n, kind, batch, step),
        )
        .unwrap();
        old.execute("INSERT INTO letter_notice VALUES (90, ?1)", [n])
            .unwrap();
    }
    folder
}

#[track_caller]
fn check_asked(asked: &str, told: &[(&str, &str, &str)], expect: &[(&str, &[&str])]) {
    let folder = old_memory(asked, told);
    let mut store = Store::open(folder.path()).unwrap();
    let letter = with(&mut store, |memory| memory.letter_of_token("token"));
    let found: Vec<(String, Vec<String>)> = letter
        .unwrap()
        .asked
        .into_iter()
        .map(|asked| (asked.step, asked.batches))
        .collect();
    let expect: Vec<(String, Vec<String>)> = expect
        .iter()
        .map(|(step, batches)| {
            let batches = batches.iter().map(|name| (*name).to_owned());
            ((*step).to_owned(), batches.collect())
        })
        .collect();
    assert_eq!(found, expect);
}

/// The first step was written down; of the others the notices know that the letter told.
#[test]
fn letters_of_the_third_schema_keep_what_they_asked_for() {
    let opens = ("opens", "A1", "head-back");
    check_asked("head-back", &[opens], &[("head-back", &["A1"])]);
    check_asked(
        "head-back",
        &[
            opens,
            ("late", "A3", "callus-check"),
            ("opens", "A2", "callus-check"),
            ("heads-up", "A4", "tape-off"),
            ("over-callus-risk", "A1", "over-callusing"),
            ("rain", "A1", ""),
        ],
        &[("head-back", &["A1"]), ("callus-check", &["A2", "A3"])],
    );
    check_asked("", &[opens], &[]);
}
