//! A JSON document to rows of cells: a list of objects, or an object of lists of one length.
//!
//! Pure. Knows which columns are wanted and not what stands in them.

use crate::sheet::Cells;
use crate::weather::layout::Columns;
use serde_json::Value;

/// What is wrong, and what to do.
type Said = (String, String);

/// The rows at the end of the way `rows`, their cells in the order of [`Columns::named`].
pub fn rows(json: &Value, rows: &str, columns: &Columns) -> Result<Vec<Cells>, Said> {
    let Some(node) = json.pointer(rows) else {
        return Err((
            format!("there is nothing at {rows}; {}", inside(json)),
            "correct rows in the config".into(),
        ));
    };
    match node {
        Value::Array(list) => of_objects(list, columns),
        Value::Object(_) => of_lists(node, columns),
        _ => Err((
            format!(
                "there is {} where the rows should be",
                short(&node.to_string())
            ),
            "let rows in the config lead to a list of objects, or to an object of lists".into(),
        )),
    }
}

fn of_objects(list: &[Value], columns: &Columns) -> Result<Vec<Cells>, Said> {
    for (word, name) in columns.named() {
        let first = list.first();
        if let Some(first) = first.filter(|_| !list.iter().any(|row| step(row, name).is_some())) {
            return Err((
                format!("no row has {name}; the first one: {}", inside(first)),
                format!("correct {word} under columns in the config"),
            ));
        }
    }
    let row = |row: &Value| {
        let mut cells = Cells::default();
        for (_, name) in columns.named() {
            cells.push(&step(row, name).map_or_else(String::new, text));
        }
        cells
    };
    Ok(list.iter().map(row).collect())
}

fn of_lists(node: &Value, columns: &Columns) -> Result<Vec<Cells>, Said> {
    let mut lists = Vec::new();
    for (word, name) in columns.named() {
        let Some(list) = step(node, name).and_then(Value::as_array) else {
            return Err((
                format!("there is no list named {name}; {}", inside(node)),
                format!("correct {word} under columns in the config"),
            ));
        };
        lists.push((name, list));
    }
    // A list that is shorter lacks a value somewhere, and nobody knows where.
    let (first, length) = lists
        .first()
        .map_or(("", 0), |(name, list)| (*name, list.len()));
    if let Some((other, list)) = lists.iter().find(|(_, list)| list.len() != length) {
        return Err((
            format!(
                "{first} has {length} values and {other} has {}: which belong together is not known",
                list.len()
            ),
            "it is asked again at the next round; if it lasts, mend the station".into(),
        ));
    }
    let row = |at: usize| {
        let mut cells = Cells::default();
        for (_, list) in &lists {
            cells.push(&text(&list[at]));
        }
        cells
    };
    Ok((0..length).map(row).collect())
}

/// One value of a row: a key, or a way that begins with `/`.
fn step<'v>(row: &'v Value, name: &str) -> Option<&'v Value> {
    if name.starts_with('/') {
        row.pointer(name)
    } else {
        row.get(name)
    }
}

fn text(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        value => value.to_string(),
    }
}

/// What there is instead, for a message.
fn inside(value: &Value) -> String {
    match value {
        Value::Object(map) if map.is_empty() => "there is an empty object".into(),
        Value::Object(map) => {
            let keys: Vec<&str> = map.keys().map(String::as_str).collect();
            format!("there is {}", short(&keys.join(", ")))
        }
        Value::Array(list) => format!("there is a list of {}", list.len()),
        value => format!("there is {}", short(&value.to_string())),
    }
}

fn short(text: &str) -> String {
    crate::excerpt::excerpt(text.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The rows as `cell|cell`, or what is said.
    #[track_caller]
    fn check(json: &str, way: &str, names: [&str; 3], expect: &[&str]) {
        let [date, min, max] = names.map(|name| Some(name.to_owned()));
        let columns = Columns {
            date,
            min,
            max,
            ..Columns::default()
        };
        let found = match rows(&serde_json::from_str(json).unwrap(), way, &columns) {
            Ok(rows) => rows
                .iter()
                .map(|cells| cells.iter().collect::<Vec<_>>().join("|"))
                .collect(),
            Err((what, remedy)) => vec![format!("{what}. {remedy}")],
        };
        assert_eq!(found, expect);
    }

    const NAMES: [&str; 3] = ["d", "lo", "hi"];

    /// Any JSON a few levels deep, with the names that are asked for in it.
    fn any_json() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<f64>().prop_map(Value::from),
            "[0-9/:. -]{0,12}".prop_map(Value::from),
        ];
        leaf.prop_recursive(4, 40, 6, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
                prop::collection::hash_map("d|lo|hi|x", inner, 0..5).prop_map(Value::from_iter),
            ]
        })
    }

    proptest! {
        #[test]
        fn any_document_is_borne(json in any_json(), way in "(/(d|lo|x|0|1|~1)){0,2}") {
            let columns = Columns {
                date: Some("d".into()),
                temp: Some("/lo".into()),
                ..Columns::default()
            };
            if let Ok(rows) = rows(&json, &way, &columns) {
                prop_assert!(rows.iter().all(|cells| cells.len() == 2));
            }
        }
    }

    #[test]
    fn a_list_of_objects_is_rows() {
        check(
            r#"[{"d":"2026-08-01","lo":8,"hi":20.5},{"d":"2026-08-02","lo":null,"hi":"21 °C"},{"d":"2026-08-03"}]"#,
            "",
            NAMES,
            &["2026-08-01|8|20.5", "2026-08-02||21 °C", "2026-08-03||"],
        );
        check(
            r#"{"a/b":{"days":[{"d":1,"t":[8,20]}]}}"#,
            "/a~1b/days",
            ["d", "/t/0", "/t/1"],
            &["1|8|20"],
        );
        check("[]", "", NAMES, &[]);
    }

    #[test]
    fn an_object_of_lists_is_rows() {
        check(
            r#"{"daily":{"d":["a","b"],"lo":[1,null],"hi":[2,3.5]}}"#,
            "/daily",
            NAMES,
            &["a|1|2", "b||3.5"],
        );
        check(
            r#"{"d":["a","b"],"lo":[1],"hi":[2,3]}"#,
            "",
            NAMES,
            &[
                "d has 2 values and lo has 1: which belong together is not known. it is asked again at the next round; if it lasts, mend the station",
            ],
        );
    }

    #[test]
    fn a_way_that_leads_nowhere_says_what_there_is() {
        check(
            r#"{"ok":true,"days":[]}"#,
            "/data",
            NAMES,
            &["there is nothing at /data; there is ok, days. correct rows in the config"],
        );
        check(
            r#"{"days":7}"#,
            "/days",
            NAMES,
            &[
                "there is 7 where the rows should be. let rows in the config lead to a list of objects, or to an object of lists",
            ],
        );
        check(
            r#"[{"date":"2026-08-01","lo":8,"hi":20}]"#,
            "",
            NAMES,
            &[
                "no row has d; the first one: there is date, lo, hi. correct date under columns in the config",
            ],
        );
        check(
            r#"{"d":[],"lo":[],"high":[]}"#,
            "",
            NAMES,
            &[
                "there is no list named hi; there is d, lo, high. correct max under columns in the config",
            ],
        );
    }
}
