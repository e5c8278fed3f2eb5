//! Figures of a line: counts, times of day, and the numbers of rows.

/// How many words say at what time of day: `4pm`, `4 am`, `4.30pm`, and after "at" `16:30`.
pub fn time(texts: &[&str], before: &str) -> Option<usize> {
    let number = |text: &str| {
        let digits = |c: char| c.is_ascii_digit() || matches!(c, '.' | ':');
        text.starts_with(|c: char| c.is_ascii_digit())
            && text.len() <= 5
            && text.chars().all(digits)
    };
    let first = *texts.first()?;
    let bare = first.strip_suffix("am").or(first.strip_suffix("pm"));
    let clock = before == "at" && first.contains(':') && number(first);
    if clock || bare.is_some_and(number) {
        return Some(1);
    }
    let then = matches!(texts.get(1), Some(&("am" | "pm" | "o'clock")));
    (then && number(first)).then_some(2)
}

/// How many words after `row` say which: `12`, `3 to 5`, `12 of 20`; they are no count.
pub fn place(texts: &[&str]) -> usize {
    let number =
        |text: Option<&&str>| text.is_some_and(|t| t.starts_with(|c: char| c.is_ascii_digit()));
    if !number(texts.first()) {
        return 0;
    }
    let joined = texts
        .get(1)
        .is_some_and(|t| matches!(*t, "to" | "and" | "until" | "till" | "of"));
    if joined && number(texts.get(2)) { 3 } else { 1 }
}

/// `180`, `32.5`, `32cm`, `3/10`, `3 of 10`, `3 out of 10`, with the words it takes.
pub fn count(texts: &[&str]) -> Option<(String, usize)> {
    let whole = |text: &str| {
        (!text.is_empty() && text.len() <= 7 && text.bytes().all(|b| b.is_ascii_digit()))
            .then(|| text.to_owned())
    };
    let first = texts.first()?.trim_end_matches('.');
    if let Some((seen, of)) = first.split_once('/') {
        return Some((format!("{}/{}", whole(seen)?, whole(of)?), 1));
    }
    let length = first.strip_suffix("cm").unwrap_or(first);
    let Some(number) = whole(length) else {
        let (units, tenths) = length.split_once(['.'])?;
        return Some((format!("{}.{}", whole(units)?, whole(tenths)?), 1));
    };
    let of = match texts.get(1..) {
        Some(["of" | "in", of, ..]) => Some((*of, 3)),
        Some(["out", "of", of, ..]) => Some((*of, 4)),
        _ => None,
    };
    match of.and_then(|(of, used)| Some((whole(of)?, used))) {
        Some((of, used)) => Some((format!("{number}/{of}"), used)),
        None => Some((number, 1)),
    }
}
