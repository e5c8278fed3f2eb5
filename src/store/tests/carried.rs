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
