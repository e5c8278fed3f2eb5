//! The register, the field records, the program's own records and sightings: the same bytes under each name.
#![no_main]

use chrono::NaiveDate;
use graftwarden::register::{AcceptedFile, BatchFile, Known, RecordFile, RowFile, read_sightings};
use libfuzzer_sys::fuzz_target;
use std::fs;

fuzz_target!(|bytes: &[u8]| {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("file.csv");
    fs::write(&path, bytes).unwrap();
    let today = NaiveDate::from_ymd_opt(2026, 8, 20).unwrap();
    let known = Known {
        sites: vec!["home".into(), "hill".into()],
        plans: vec!["maple field T-graft".into(), "apple chip bud".into()],
        today,
    };
    BatchFile::open(&path, known).read(&mut |row| {
        assert!(row.value.grafts > 0 && row.value.grafted_on <= today);
    });
    RecordFile::open(&path, today).read(&mut |row| assert!(row.value.date <= today));
    AcceptedFile::open(&path).read(&mut |_| ());
    let _ = read_sightings(&path);
});
