//! Whatever comes from outside may be broken in any way: half of it, a value of another kind, a figure beyond all bounds, or
//! no text at all. It is borne: what is used of it is sound, and where nothing is, a sentence says so.
//!
//! Good documents are damaged at random, a bounded number of times. The same entry points stand in tests/fuzz for long runs.

mod files;
mod services;

use proptest::collection::vec;
use proptest::prelude::*;
use serde_json::Value;

/// What may come instead of what belongs there.
fn junk() -> impl Strategy<Value = String> {
    let words = [
        "",
        "\"",
        "'''",
        "[",
        "]",
        "{",
        "}",
        "[[",
        "=",
        ",",
        ";",
        "\t",
        "\n",
        "\r",
        "\0",
        "\u{feff}",
        "-",
        "NaN",
        "inf",
        "-99999999999999999999",
        "1e999",
        "1e-999",
        "0x7f",
        "9999-12-31",
        "-9999-01-01",
        "2026-02-30",
        "24:00",
        "°",
        "𝄞",
    ];
    prop_oneof![
        3 => prop::sample::select(words.to_vec()).prop_map(str::to_owned),
        1 => ".{0,12}",
        1 => "[0-9.,:+-]{1,24}",
    ]
}

/// A text with a few pieces of it replaced.
fn damaged_text(text: &'static str) -> impl Strategy<Value = String> {
    let piece = (any::<prop::sample::Index>(), 0..30_usize, junk());
    vec(piece, 1..4).prop_map(move |pieces| {
        let mut letters: Vec<char> = text.chars().collect();
        for (place, length, junk) in pieces {
            let from = place.index(letters.len().max(1)).min(letters.len());
            let to = (from + length).min(letters.len());
            letters.splice(from..to, junk.chars());
        }
        letters.into_iter().collect()
    })
}

/// A value that does not belong where it stands.
fn stranger() -> impl Strategy<Value = Value> {
    let figures = [
        0.0,
        -1.0,
        1e9,
        -1e9,
        1e308,
        -1e308,
        1e-320,
        253_402_300_800.0,
    ];
    let deep = (0..60).fold(Value::Null, |inner, _| Value::from(vec![inner]));
    prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        prop::sample::select(figures.to_vec()).prop_map(Value::from),
        junk().prop_map(Value::from),
        "[0-9]{4}-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9](Z|[+-][01][0-9]:00)?(/P[0-9]{1,9}[DTHM]{1,2})?"
            .prop_map(Value::from),
        Just(Value::from(Vec::<Value>::new())),
        Just(Value::Object(serde_json::Map::new())),
        Just(deep),
    ]
}

/// A JSON document with a few of its values replaced or taken out, at any depth.
fn damaged_json(text: &'static str) -> impl Strategy<Value = String> {
    let document: Value = serde_json::from_str(text).unwrap();
    let change = (any::<prop::sample::Index>(), prop::option::of(stranger()));
    vec(change, 1..5).prop_map(move |changes| {
        let mut document = document.clone();
        for (place, with) in changes {
            let mut left = place.index(size(&document));
            change_at(&mut document, &mut left, with.as_ref());
        }
        document.to_string()
    })
}

/// How many values a document has, itself among them.
fn size(value: &Value) -> usize {
    1 + match value {
        Value::Array(values) => values.iter().map(size).sum(),
        Value::Object(map) => map.values().map(size).sum::<usize>(),
        _ => 0,
    }
}

/// Replaces the value that comes after `left` others, or takes it out of what holds it; whether that is done.
fn change_at(value: &mut Value, left: &mut usize, with: Option<&Value>) -> bool {
    if *left == 0 {
        *value = with.cloned().unwrap_or(Value::Null);
        return true;
    }
    *left -= 1;
    match value {
        Value::Array(values) => {
            for n in 0..values.len() {
                if *left == 0 && with.is_none() {
                    values.remove(n);
                    return true;
                }
                if change_at(&mut values[n], left, with) {
                    return true;
                }
            }
        }
        Value::Object(map) => {
            let keys: Vec<String> = map.keys().cloned().collect();
            for key in keys {
                if *left == 0 && with.is_none() {
                    map.shift_remove(&key);
                    return true;
                }
                if map
                    .get_mut(&key)
                    .is_some_and(|inner| change_at(inner, left, with))
                {
                    return true;
                }
            }
        }
        _ => {}
    }
    false
}

#[test]
fn a_value_is_changed_where_it_stands() {
    let document: Value = serde_json::from_str(r#"{"a":[1,{"b":2}],"c":3}"#).unwrap();
    let changed = |mut left: usize, with: Option<Value>| {
        let mut document = document.clone();
        assert!(change_at(&mut document, &mut left, with.as_ref()));
        document.to_string()
    };
    assert_eq!(size(&document), 6);
    assert_eq!(changed(2, None), r#"{"a":[{"b":2}],"c":3}"#);
    assert_eq!(changed(4, Some("x".into())), r#"{"a":[1,{"b":"x"}],"c":3}"#);
    assert_eq!(changed(5, None), r#"{"a":[1,{"b":2}]}"#);
}
