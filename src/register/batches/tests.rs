use super::*;
use crate::register::all;
use proptest::prelude::*;

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn read_text(
    text: impl AsRef<[u8]>,
    sites: &[&str],
    plans: &[&str],
) -> (Vec<Row<Batch>>, Told, BatchFile) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("batches.csv");
    std::fs::write(&path, text).unwrap();
    let owned = |names: &[&str]| names.iter().map(|&name| name.to_owned()).collect();
    let known = Known {
        sites: owned(sites),
        plans: owned(plans),
        today: day("2026-08-20"),
    };
    let file = BatchFile::open(&path, known);
    let (rows, told) = all(&file);
    (rows, told, file)
}

/// The names that are used, the names in bad rows, and every problem, of a nursery with two sites and two plans.
#[track_caller]
fn check(rows: &str, used: &[&str], named: &[&str], problems: &[&str]) {
    let text = format!("batch,site,block,plan,vigour,grafts,grafted_on\n{rows}");
    let (rows, read, _) = read_text(text, &["hill", "valley"], &["maple field", "apple bud"]);
    let names: Vec<&str> = rows.iter().map(|row| row.identity.as_str()).collect();
    let told: Vec<String> = read.problems.iter().map(ToString::to_string).collect();
    assert_eq!(names, used);
    let standing: HashSet<&str> = read.identities.iter().map(String::as_str).collect();
    assert_eq!(standing, used.iter().chain(named).copied().collect());
    assert_eq!(told, problems);
    assert!(!read.unreadable);
}

#[test]
fn a_full_row_is_read() {
    let text = "\u{feff}batch;site;block;plan;scion;understock;vigour;grafts;grafted_on;by;remarks\r\n\
                A1;Hill;C;maple field;\"Acer 'Osakazuki'; red\";A. palmatum;strong;310;2026-08-18;R;=wet\r\n";
    let (rows, read, file) = read_text(text, &["hill", "valley"], &["maple field"]);
    assert_eq!(read.problems, []);
    assert_eq!(file.hash().len(), 64);
    let expect = Batch {
        name: "A1".into(),
        site: "hill".into(),
        block: "C".into(),
        plan: "maple field".into(),
        scion: "Acer 'Osakazuki'; red".into(),
        understock: "A. palmatum".into(),
        vigour: Vigour::Strong,
        grafts: 310,
        grafted_on: day("2026-08-18"),
        by: "R".into(),
        remarks: "=wet".into(),
    };
    let row = Row {
        line: 2,
        value: expect,
        identity: "A1".into(),
    };
    assert_eq!(rows, [row]);
}

#[test]
fn what_is_the_only_one_may_be_left_out() {
    let (rows, read, _) = read_text(
        "grafts,batch,block,grafted_on\n5,A1,C,2026-08-01\n",
        &["hill"],
        &["maple field"],
    );
    assert_eq!(read.problems, []);
    let batch = &rows[0].value;
    assert_eq!(
        (batch.site.as_str(), batch.plan.as_str()),
        ("hill", "maple field")
    );
    assert_eq!(batch.vigour, Vigour::Usual);
}

#[test]
fn a_site_must_be_said_where_there_are_two() {
    let (_, read, file) = read_text(
        "grafts,batch,block,grafted_on\n5,A1,C,2026-08-01\n",
        &["hill", "valley"],
        &["maple field"],
    );
    assert!(read.unreadable);
    assert_eq!((file.hash(), file.print()), ("", None));
    assert!(read.problems[0].what.contains("the column site is missing"));
}

#[test]
fn a_count_of_grafts_is_whole_and_above_nothing() {
    check(
        "A1,hill,C,maple field,,many,2026-08-01\n\
         A2,hill,C,maple field,,0,2026-08-01\n\
         A3,hill,C,maple field,,-3,2026-08-01\n\
         A4,hill,C,maple field,,,2026-08-01\n\
         A5,hill,C,maple field,,7,2026-08-01\n",
        &["A5"],
        &["A1", "A2", "A3", "A4"],
        &[
            "batches.csv, row 2, column grafts: 'many' is not a number of grafts; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, in digits only.",
            "batches.csv, row 3, column grafts: 0 grafts are no batch; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, in digits only.",
            "batches.csv, row 4, column grafts: '-3' is not a number of grafts; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, in digits only.",
            "batches.csv, row 5, column grafts: the number of grafts is missing; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, in digits only.",
        ],
    );
}

#[test]
fn every_bad_cell_is_told() {
    check(
        "A1,hil,,maple feild,stong,7,2026-08-01\n",
        &[],
        &["A1"],
        &[
            "batches.csv, row 2, column site: 'hil' is not a known site; this row is not used, the last good version of it stays in force if there was one. Perhaps 'hill' is meant.",
            "batches.csv, row 2, column block: the block is missing; this row is not used, the last good version of it stays in force if there was one. Write the name of the block.",
            "batches.csv, row 2, column plan: 'maple feild' is not a known plan; this row is not used, the last good version of it stays in force if there was one. Perhaps 'maple field' is meant.",
            "batches.csv, row 2, column vigour: 'stong' is not a known vigour; this row is not used, the last good version of it stays in force if there was one. Perhaps 'strong' is meant.",
        ],
    );
}

#[test]
fn a_future_graft_waits() {
    check(
        "A1,hill,C,maple field,,7,2026-08-21\n",
        &[],
        &["A1"],
        &[
            "batches.csv, row 2, column grafted_on: 2026-08-21 is in the future (today is 2026-08-20); the row waits until then, the last good version of it stays in force if there was one. Correct the date if it is a slip.",
        ],
    );
}

#[test]
fn of_two_with_one_name_the_first_is_used() {
    check(
        "A1,hill,C,maple field,,7,2026-08-01\nA1,hill,D,maple field,,9,2026-08-02\n",
        &["A1"],
        &[],
        &[
            "batches.csv, row 3, column batch: 'A1' is the name of a batch further up; the first is used and this one is not. Give each batch a name of its own.",
        ],
    );
}

#[test]
fn names_must_be_there_and_be_no_blocks() {
    check(
        ",hill,C,maple field,,7,2026-08-01\nBlock:C,hill,C,maple field,,7,2026-08-01\n",
        &[],
        &["Block:C"],
        &[
            "batches.csv, row 2, column batch: the batch is missing; this row is not used, the last good version of it stays in force if there was one. Write the name of the batch.",
            "batches.csv, row 3, column batch: 'Block:C' reads like a whole block; this row is not used, the last good version of it stays in force if there was one. Give the batch a name that does not begin with block:.",
        ],
    );
}

#[test]
fn a_stray_mark_leaves_the_name_known() {
    check(
        "\"A1,hill,C,maple field,,7,2026-08-01\nA2,hill,C,maple field,,7,2026-08-01\n",
        &["A2"],
        &["A1"],
        &[
            "batches.csv, row 2: a quotation mark is opened and never closed; this row is not used, the last good version of it stays in force if there was one. Close it, or take it away.",
        ],
    );
}

#[test]
fn a_missing_file_keeps_what_was() {
    let folder = tempfile::tempdir().unwrap();
    let known = Known {
        sites: vec!["hill".into()],
        plans: vec!["maple field".into()],
        today: day("2026-08-20"),
    };
    let (_, read) = all(&BatchFile::open(&folder.path().join("batches.csv"), known));
    assert!(read.unreadable);
    assert_eq!(read.problems.len(), 1);
    assert_eq!(read.problems[0].what, "there is no such file");
    assert_eq!(
        read.problems[0].done,
        "the whole file is not used, what was read from it before stays in force"
    );
}

proptest! {
    #[test]
    fn whatever_is_in_the_file_is_borne(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let mut text = b"batch,block,grafts,grafted_on\n".to_vec();
        text.extend(&bytes);
        for text in [bytes, text] {
            for row in read_text(text, &["hill"], &["maple field"]).0 {
                prop_assert!(row.value.grafts > 0 && !row.value.name.is_empty());
                prop_assert!(row.value.grafted_on <= day("2026-08-20"));
            }
        }
    }
}
