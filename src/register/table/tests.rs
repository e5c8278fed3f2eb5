use super::*;

const COLUMNS: [Column; 3] = [
    Column {
        name: "batch",
        required: true,
    },
    Column {
        name: "grafted_on",
        required: true,
    },
    Column {
        name: "by",
        required: false,
    },
];

/// What the table says: its rows as `line: cells`, then its problems.
#[track_caller]
fn check(text: &str, expect: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("b.csv");
    std::fs::write(&path, text).unwrap();
    let mut problems = Vec::new();
    let mut found = Vec::new();
    match Table::open(&path, &COLUMNS) {
        Ok(table) => {
            problems.extend(table.remark.clone());
            let mut rows = table.rows().unwrap();
            while let Some(row) = rows.next_row().unwrap() {
                let cells = [0, 1, 2].map(|column| row.cell(column));
                found.push(format!("{}: {}", row.line, cells.join("|")));
                problems.extend(row.bad.as_ref().map(|bad| row.problem(bad)));
            }
            problems.extend(rows.remark());
        }
        Err(problem) => problems.push(problem),
    }
    let shown = path.display().to_string();
    found.extend(
        problems
            .iter()
            .map(|p| p.to_string().replace(&shown, "/b.csv")),
    );
    assert_eq!(found, expect);
}

#[test]
fn columns_stand_in_any_order_and_case() {
    check(
        "By;Grafted on;BATCH;\nAnn;2026-08-01;A1;\n;;\n;2026-08-02;A2\n",
        &["2: A1|2026-08-01|Ann", "4: A2|2026-08-02|"],
    );
}

#[test]
fn short_rows_are_filled_up() {
    check("batch,grafted_on,by\nA1\n", &["2: A1||"]);
}

#[test]
fn unknown_columns_get_one_remark() {
    check(
        "batch,Row no,grafted_on,colour\nA1,7,2026-08-01,red\n",
        &[
            "2: A1|2026-08-01|",
            "b.csv: the columns Row no and colour are not known; they are left unread.",
        ],
    );
}

#[test]
fn a_missing_column_stops_the_file() {
    check(
        "batch,grafted,by\nA1,2026-08-01,Ann\n",
        &[
            "/b.csv: the column grafted_on is missing; the whole file is not used, what was read from it before stays in force. Perhaps 'grafted' is meant: rename it grafted_on.",
        ],
    );
    check(
        "A1,2026-08-01,Ann\n",
        &[
            "/b.csv: the columns batch and grafted_on are missing; the whole file is not used, what was read from it before stays in force. Write all column names into the first row: batch, grafted_on.",
        ],
    );
}

#[test]
fn a_column_twice_stops_the_file() {
    check(
        "batch,grafted_on,Batch\nA1,2026-08-01,A2\n",
        &[
            "/b.csv: two columns are named batch; the whole file is not used, what was read from it before stays in force. Rename or delete the one that is not meant.",
        ],
    );
}

#[test]
fn a_row_out_of_shape_is_named() {
    check(
        "batch,grafted_on\nA1,2026-08-01,x\n\"A2,2026-08-01\n",
        &[
            "2: A1|2026-08-01|",
            "3: A2|2026-08-01|",
            "b.csv, row 2: it has 3 cells under 2 column names; this row is not used, the last good version of it stays in force if there was one. Put a text that has a comma in it between quotation marks.",
            "b.csv, row 3: a quotation mark is opened and never closed; this row is not used, the last good version of it stays in force if there was one. Close it, or take it away.",
        ],
    );
}

#[test]
fn another_encoding_gets_one_remark() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("b.csv");
    std::fs::write(&path, b"batch,grafted_on\nA\xE9,2026-08-01\n").unwrap();
    let table = Table::open(&path, &COLUMNS).unwrap();
    let mut rows = table.rows().unwrap();
    assert_eq!(rows.next_row().unwrap().unwrap().cell(0), "Aé");
    assert_eq!(
        rows.remark().unwrap().to_string(),
        "b.csv: the file is not in UTF-8; it was read as Windows-1252. If a letter with an accent looks wrong in a letter to you, save the file as CSV UTF-8."
    );
}

#[test]
fn the_key_follows_content_and_not_place() {
    let key = |text: &str| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("b.csv");
        std::fs::write(&path, text).unwrap();
        let table = Table::open(&path, &COLUMNS).unwrap();
        let mut rows = table.rows().unwrap();
        let row = rows.next_row().unwrap().unwrap();
        row.problem(&BadCell::new("batch", "wrong", "mend")).key
    };
    let one = key("batch,grafted_on\nA1,x\n");
    assert_eq!(one, key("batch,grafted_on\n\n\nA1,x\n"));
    assert_ne!(one, key("batch,grafted_on\nA1,y\n"));
}

#[test]
fn the_hash_is_of_the_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("b.csv");
    std::fs::write(&path, "batch,grafted_on\n").unwrap();
    let table = Table::open(&path, &COLUMNS).unwrap();
    assert_eq!(
        table.hash,
        "410d42bc00df4eb4c4fffddaecaa878a46c9c4fc74164eba76aa996f523d97c5"
    );
}
