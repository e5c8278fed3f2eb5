use super::*;
use crate::nursery::What;
use std::fs;
use std::os::unix::fs::PermissionsExt;

fn record(what: What, count: Option<Count>, remarks: &str) -> Record {
    Record {
        date: "2026-08-18".parse().unwrap(),
        target: Target::Batch("A 1, north".into()),
        what,
        count,
        by: "R".into(),
        remarks: remarks.into(),
    }
}

fn read_accepted(path: &Path) -> (Vec<Row<Accepted>>, Told) {
    let mut rows = Vec::new();
    let told = AcceptedFile::open(path).confirmed(&mut |row| rows.push(row));
    (rows, told)
}

fn at() -> DateTime<Utc> {
    "2026-08-18T09:15:00Z".parse().unwrap()
}

/// What the file reads as after `begin` was in it and one more record was appended.
#[track_caller]
fn check(begin: &str, expect: &str, ids: &[&str], problems: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("accepted.csv");
    fs::write(&path, begin).unwrap();
    append(&path, &record(What::TapeOff, None, ""), at(), "n2").unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap(), expect);
    let (rows, read) = read_accepted(&path);
    let found: Vec<&str> = rows.iter().map(|row| row.identity.as_str()).collect();
    let told: Vec<&str> = read.problems.iter().map(|p| p.what.as_str()).collect();
    assert_eq!(found, ids);
    assert_eq!(told, problems);
}

const HEADER: &str = "id,accepted_at,date,batch,what,count,by,remarks\n";
const LOST: &str = "the row was cut off when it was written, before it was confirmed";
const ADDED: &str = "n2,2026-08-18T09:15:00Z,2026-08-18,\"A 1, north\",tape-off,,R,\n";

#[test]
fn a_new_file_gets_its_header() {
    check("", &format!("{HEADER}{ADDED}"), &["n2"], &[]);
}

#[test]
fn half_a_row_is_marked_and_never_read() {
    let whole = "n1,2026-08-18T09:00:00Z,2026-08-18,A1,lines,3/10,R,";
    check(
        &format!("{HEADER}{whole}\n"),
        &format!("{HEADER}{whole}\n{ADDED}"),
        &["n1", "n2"],
        &[],
    );
    for half in [
        whole,
        &whole[..20],
        "n1",
        "n1,2026-08-18T09:00:00Z,2026-08-18,\"A",
    ] {
        check(
            &format!("{HEADER}{half}"),
            &format!("{HEADER}{half}\",,,,,,,,cut off\n{ADDED}"),
            &["n2"],
            &[LOST],
        );
    }
    check(
        "id,acc",
        &format!("id,acc\",,,,,,,,cut off\n{ADDED}"),
        &["n2"],
        &[LOST],
    );
}

#[test]
fn a_last_row_without_its_end_is_not_confirmed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("accepted.csv");
    fs::write(&path, format!("{HEADER}{}", ADDED.trim_end())).unwrap();
    let (rows, told) = read_accepted(&path);
    assert_eq!((rows, told.problems), (vec![], vec![]));
}

#[test]
fn what_is_written_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("accepted.csv");
    assert!(!read_accepted(&path).1.unreadable);
    fs::write(&path, "").unwrap();
    assert!(!read_accepted(&path).1.unreadable);
    let mut records = vec![
        record(
            What::Lines,
            Some(Count::Share(3, 10)),
            "a \"good\" look, dry",
        ),
        record(What::HeadLength, Some(Count::Of(32.5)), ""),
        record(What::Retract, None, "lines"),
        record(What::Looked, None, "=1+1"),
    ];
    records[3].target = Target::Block("C".into());
    for (n, record) in records.iter().enumerate() {
        append(&path, record, at(), &format!("n{n}")).unwrap();
    }
    append(&path, &records[0], at(), "n0").unwrap();
    let (rows, told) = read_accepted(&path);
    assert_eq!(told.problems, []);
    let found: Vec<Record> = rows.iter().map(|row| row.value.record.clone()).collect();
    assert_eq!(found, records);
    assert_eq!(rows[0].value.accepted_at, at());
    assert_eq!(rows[0].line, 2);
}

#[test]
fn a_remark_stays_on_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("accepted.csv");
    append(&path, &record(What::Looked, None, "one\r\ntwo"), at(), "n1").unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap().lines().count(), 2);
    assert_eq!(read_accepted(&path).0[0].value.record.remarks, "one  two");
}

#[test]
fn only_the_owner_reads_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("accepted.csv");
    append(&path, &record(What::Looked, None, ""), at(), "n1").unwrap();
    let mode = fs::metadata(&path).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
}
