use super::*;

/// Words as `batch,what,count,remarks` on a good day; what they mean, or what stands against them.
#[track_caller]
fn check(words: &str, expect: &str) {
    let mut parts = words.split(',');
    let mut next = || parts.next().unwrap_or_default();
    let words = RecordWords {
        date: "2026-08-18",
        batch: next(),
        what: next(),
        count: next(),
        by: "R",
        remarks: next(),
    };
    let found = match parse_record_words(words, "2026-08-20".parse().unwrap()) {
        Ok(record) => format!(
            "{:?} {:?} {:?} {}",
            record.target,
            record.what.name(),
            record.count,
            record.remarks
        ),
        Err(bad) => bad
            .iter()
            .map(|bad| format!("{}: {bad}", bad.column))
            .collect::<Vec<_>>()
            .join(" | "),
    };
    assert_eq!(found.trim_end(), expect);
}

#[test]
fn words_become_records() {
    check("A1,lines,3/10", r#"Batch("A1") "lines" Some(Share(3, 10))"#);
    check(
        "A1,Headed back,180",
        r#"Batch("A1") "headed-back" Some(Of(180.0))"#,
    );
    check("A1,tape-off", r#"Batch("A1") "tape-off" None"#);
    check("A1,take,0", r#"Batch("A1") "take" Some(Of(0.0))"#);
    check(
        "A1,head-length,32.5",
        r#"Batch("A1") "head-length" Some(Of(32.5))"#,
    );
    check(
        "A1,no-lines,0/10",
        r#"Batch("A1") "no-lines" Some(Share(0, 10))"#,
    );
    check("BLOCK: C,looked", r#"Block("C") "looked" None"#);
    check("A1,retract,,Lines", r#"Batch("A1") "retract" None lines"#);
}

#[test]
fn a_decimal_comma_is_a_decimal_point() {
    let words = RecordWords {
        date: "2026-08-18",
        batch: "A1",
        what: "head-length",
        count: "32,5",
        ..RecordWords::default()
    };
    let record = parse_record_words(words, "2026-08-18".parse().unwrap()).unwrap();
    assert_eq!(record.count, Some(Count::Of(32.5)));
}

#[test]
fn an_unknown_word_offers_the_nearest() {
    check(
        "A1,headback",
        "what: 'headback' is not a word of the field records; perhaps 'headed-back' is meant",
    );
    check(
        "A1,retract,,linse",
        "remarks: 'linse' is not a word that retract can take back; perhaps 'lines' is meant",
    );
}

#[test]
fn counts_fit_their_words() {
    check(
        "A1,take",
        "count: take needs a count; write how many are alive, a whole number",
    );
    check(
        "A1,dead,0",
        "count: '0' is not a count for dead; write how many, a whole number above 0",
    );
    check(
        "A1,lines,4",
        "count: '4' is not a count for lines; write how many of how many show lines, as 3/10, or leave it empty",
    );
    check(
        "A1,lines,11/10",
        "count: '11/10' is not a count for lines; write how many of how many show lines, as 3/10, or leave it empty",
    );
    check(
        "A1,lines,0/10",
        "count: '0/10' says that no lines were seen; write no-lines",
    );
    check(
        "A1,tape-off,1.5",
        "count: '1.5' is not a count for tape-off; write a whole number above 0, or leave it empty for all that is left",
    );
    check(
        "A1,head-length,x",
        "count: 'x' is not a count for head-length; write the length in cm, as 32.5",
    );
    check(
        "A1,closed,3",
        "count: '3' is not a count for closed; leave the count empty",
    );
    check(
        "A1,retract,,",
        "remarks: retract does not say which word it takes back; write that word into the remarks, such as lines",
    );
}

#[test]
fn a_block_has_no_counts() {
    check(
        "block:C,headed-back,20",
        "count: the count 20 is for a whole block, and whose it is cannot be known; write one row per batch",
    );
    check(
        "block:C,take",
        "count: take needs a count, and a whole block has none; write one row per batch",
    );
    check(
        "block:,lines",
        "batch: block: names no block; write block:C for every batch of block C",
    );
}

#[test]
fn everything_is_told_at_once() {
    let words = RecordWords {
        date: "18/08/2026",
        what: "take",
        batch: "A1",
        ..RecordWords::default()
    };
    let bad = parse_record_words(words, "2026-08-20".parse().unwrap()).unwrap_err();
    let columns: Vec<&str> = bad.iter().map(|bad| bad.column).collect();
    assert_eq!(columns, ["date", "count"]);
    let bad = parse_record_words(RecordWords::default(), "2026-08-20".parse().unwrap());
    let columns: Vec<&str> = bad.unwrap_err().iter().map(|bad| bad.column).collect();
    assert_eq!(columns, ["date", "batch", "what"]);
}
