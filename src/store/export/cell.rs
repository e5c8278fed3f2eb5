//! One value as a cell of a spreadsheet or as JSON, and back. Knows no file and no table.
//!
//! A cell with nothing in it is a value that is not known; an empty text is a `'` alone. A text that a spreadsheet might
//! take for a formula has a `'` in front. Bytes are hexadecimal.

use crate::excerpt::one_line;
use chrono::{DateTime, NaiveDate};
use rusqlite::types::{Value, ValueRef};
use serde_json::Value as Json;
use std::fmt::Write as _;

/// Where a spreadsheet begins to reckon; the last four are what it makes of the wide forms.
const RISKY: [char; 12] = [
    '=', '+', '-', '@', '\t', '\r', '\n', '\'', '＝', '＋', '－', '＠',
];

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A whole number.
    Whole,
    /// A number.
    Number,
    /// Any text.
    Text,
    /// A date as text.
    Date,
    /// A moment as text.
    Moment,
    /// The bytes of a letter, or of a year.
    Bytes,
}

/// One column of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name.
    pub name: String,
    /// What it holds.
    pub kind: Kind,
    /// Whether a value may be unknown.
    pub may_be_unknown: bool,
}

/// A value as a cell; none where it is no text, which nothing of ours is.
pub fn to_cell(value: ValueRef<'_>) -> Option<String> {
    Some(match value {
        ValueRef::Null => String::new(),
        ValueRef::Integer(n) => n.to_string(),
        // The shortest that reads back as the same.
        ValueRef::Real(x) => format!("{x:?}"),
        ValueRef::Text(text) => {
            let text = std::str::from_utf8(text).ok()?;
            if text.is_empty() || text.starts_with(RISKY) {
                format!("'{text}")
            } else {
                text.to_owned()
            }
        }
        ValueRef::Blob([]) => "'".into(),
        ValueRef::Blob(bytes) => hex(bytes),
    })
}

/// A cell as a value of its column, or what is wrong with it.
pub fn from_cell(cell: &str, column: &Column) -> Result<Value, String> {
    if cell.is_empty() {
        return unknown(column);
    }
    match column.kind {
        Kind::Whole => {
            let n = cell.parse().map_err(|_| is_no(cell, "whole number"))?;
            Ok(Value::Integer(n))
        }
        Kind::Number => number(cell.parse().ok(), cell),
        Kind::Bytes => bytes(bare(cell)),
        Kind::Text | Kind::Date | Kind::Moment => text(bare(cell), column),
    }
}

/// A value as JSON; none where it is no text, which nothing of ours is.
pub fn to_json(value: ValueRef<'_>) -> Option<Json> {
    Some(match value {
        ValueRef::Null => Json::Null,
        ValueRef::Integer(n) => n.into(),
        ValueRef::Real(x) => x.into(),
        ValueRef::Text(text) => std::str::from_utf8(text).ok()?.into(),
        ValueRef::Blob(bytes) => hex(bytes).into(),
    })
}

/// JSON as a value of its column, or what is wrong with it.
pub fn from_json(json: &Json, column: &Column) -> Result<Value, String> {
    match (json, column.kind) {
        (Json::Null, _) => unknown(column),
        (Json::Number(n), Kind::Whole) if n.is_i64() => {
            Ok(Value::Integer(n.as_i64().unwrap_or_default()))
        }
        (Json::Number(n), Kind::Number) => number(n.as_f64(), &n.to_string()),
        (Json::String(hex), Kind::Bytes) => bytes(hex),
        (Json::String(said), Kind::Text | Kind::Date | Kind::Moment) => text(said, column),
        (other, _) => Err(is_no(&other.to_string(), what(column.kind))),
    }
}

/// Without what stands in front of it for the spreadsheet's sake.
fn bare(cell: &str) -> &str {
    cell.strip_prefix('\'').unwrap_or(cell)
}

fn unknown(column: &Column) -> Result<Value, String> {
    if column.may_be_unknown {
        Ok(Value::Null)
    } else {
        Err(format!("nothing stands where a {} must", what(column.kind)))
    }
}

fn number(x: Option<f64>, said: &str) -> Result<Value, String> {
    let finite = x.filter(|x| x.is_finite());
    finite.map(Value::Real).ok_or_else(|| is_no(said, "number"))
}

fn text(said: &str, column: &Column) -> Result<Value, String> {
    let is_right = match column.kind {
        // As we write it: days are found in the order of their text.
        Kind::Date => said
            .parse()
            .is_ok_and(|date: NaiveDate| date.to_string() == said),
        Kind::Moment => DateTime::parse_from_rfc3339(said).is_ok(),
        _ => true,
    };
    if is_right {
        Ok(Value::Text(said.to_owned()))
    } else {
        Err(is_no(said, what(column.kind)))
    }
}

fn what(kind: Kind) -> &'static str {
    match kind {
        Kind::Whole => "whole number",
        Kind::Number => "number",
        Kind::Text => "text",
        Kind::Date => "date like 2026-08-18",
        Kind::Moment => "moment like 2026-08-18T04:10:00Z",
        Kind::Bytes => "row of hexadecimal digits",
    }
}

fn is_no(said: &str, what: &str) -> String {
    format!("'{}' is no {what}", beginning(said))
}

/// So much of what was said that it can be found again.
pub fn beginning(said: &str) -> String {
    const MOST: usize = 40;
    let mut shown: String = said.chars().take(MOST).collect();
    if said.chars().nth(MOST).is_some() {
        shown.push_str("...");
    }
    one_line(&shown)
}

fn hex(bytes: &[u8]) -> String {
    let mut hex = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        let _ = write!(hex, "{byte:02x}");
    }
    hex
}

fn bytes(hex: &str) -> Result<Value, String> {
    let wrong = || is_no(hex, what(Kind::Bytes));
    let value = |digit: u8| char::from(digit).to_digit(16).map(|value| value as u8);
    let (pairs, rest) = hex.as_bytes().as_chunks::<2>();
    let bytes: Option<Vec<u8>> = pairs
        .iter()
        .map(|[high, low]| Some(value(*high)? << 4 | value(*low)?))
        .collect();
    bytes
        .filter(|_| rest.is_empty())
        .map(Value::Blob)
        .ok_or_else(wrong)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn column(kind: Kind) -> Column {
        Column {
            name: "x".into(),
            kind,
            may_be_unknown: true,
        }
    }

    #[track_caller]
    fn is_written(value: &Value, cell: &str) {
        assert_eq!(to_cell(value.into()).as_deref(), Some(cell));
    }

    #[track_caller]
    fn refused(kind: Kind, cell: &str, said: &str) {
        let column = Column {
            may_be_unknown: false,
            ..column(kind)
        };
        assert_eq!(from_cell(cell, &column).unwrap_err(), said);
    }

    #[test]
    fn nothing_and_an_empty_text_are_two_things() {
        is_written(&Value::Null, "");
        is_written(&Value::Text(String::new()), "'");
        let read = |cell| from_cell(cell, &column(Kind::Text)).unwrap();
        assert_eq!(read(""), Value::Null);
        assert_eq!(read("'"), Value::Text(String::new()));
    }

    #[test]
    fn no_spreadsheet_reckons_with_a_text() {
        for text in [
            "=1+1", "+1", "-1", "@now", "\tx", "\rx", "\nx", "'x", "＝1", "＋1", "－1", "＠x",
        ] {
            is_written(&Value::Text(text.into()), &format!("'{text}"));
        }
        is_written(&Value::Text("a=1".into()), "a=1");
        // A number below nothing is no formula.
        is_written(&Value::Real(-1.5), "-1.5");
        is_written(&Value::Integer(-3), "-3");
        is_written(&Value::Blob(vec![0, 10, 255]), "000aff");
    }

    #[test]
    fn what_cannot_be_meant_is_said() {
        refused(Kind::Whole, "3.5", "'3.5' is no whole number");
        refused(Kind::Number, "warm", "'warm' is no number");
        refused(Kind::Number, "NaN", "'NaN' is no number");
        refused(Kind::Number, "inf", "'inf' is no number");
        refused(
            Kind::Date,
            "16/07/2024",
            "'16/07/2024' is no date like 2026-08-18",
        );
        refused(
            Kind::Date,
            "2024-7-6",
            "'2024-7-6' is no date like 2026-08-18",
        );
        refused(
            Kind::Moment,
            "2024-07-16",
            "'2024-07-16' is no moment like 2026-08-18T04:10:00Z",
        );
        refused(Kind::Bytes, "0", "'0' is no row of hexadecimal digits");
        refused(Kind::Bytes, "0g", "'0g' is no row of hexadecimal digits");
        refused(Kind::Text, "", "nothing stands where a text must");
        let long = "7 ".repeat(500_000);
        let shown = format!("'{}...' is no number", "7 ".repeat(20));
        refused(Kind::Number, &long, &shown);
        let json = from_json(&Json::Bool(true), &column(Kind::Whole));
        assert_eq!(json.unwrap_err(), "'true' is no whole number");
        let json = from_json(&serde_json::json!(2.5), &column(Kind::Whole));
        assert_eq!(json.unwrap_err(), "'2.5' is no whole number");
    }

    /// Any value with the kind of its column.
    fn values() -> impl Strategy<Value = (Kind, Value)> {
        prop_oneof![
            Just((Kind::Text, Value::Null)),
            any::<i64>().prop_map(|n| (Kind::Whole, Value::Integer(n))),
            any::<f64>()
                .prop_filter("finite", |x| x.is_finite())
                .prop_map(|x| (Kind::Number, Value::Real(x))),
            any::<String>().prop_map(|text| (Kind::Text, Value::Text(text))),
            "[=+@'\t\r\n\",;-]{0,4}".prop_map(|text| (Kind::Text, Value::Text(text))),
            any::<Vec<u8>>().prop_map(|bytes| (Kind::Bytes, Value::Blob(bytes))),
        ]
    }

    proptest! {
        #[test]
        fn a_cell_reads_back_as_what_was_written(row in prop::collection::vec(values(), 2..6)) {
            let mut file = csv::Writer::from_writer(Vec::new());
            file.write_record(row.iter().map(|(_, value)| to_cell(value.into()).unwrap())).unwrap();
            let file = file.into_inner().unwrap();
            let mut read = csv::ReaderBuilder::new().has_headers(false).from_reader(&file[..]);
            let cells = read.records().next().unwrap().unwrap();
            prop_assert_eq!(cells.len(), row.len());
            for (cell, (kind, value)) in cells.iter().zip(&row) {
                prop_assert_eq!(&from_cell(cell, &column(*kind)).unwrap(), value);
            }
        }

        #[test]
        fn json_reads_back_as_what_was_written((kind, value) in values()) {
            let line = to_json((&value).into()).unwrap().to_string();
            let json: Json = serde_json::from_str(&line).unwrap();
            prop_assert_eq!(from_json(&json, &column(kind)).unwrap(), value);
        }
    }
}
