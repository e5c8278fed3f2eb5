//! The shape of a file: a table of TOML, read key by key.
//!
//! A section remembers every key it was asked for; whatever else stands in it is unknown and named when it is
//! finished. So the keys are written down once, where they are read, and every unknown key and every wrong type is
//! found in one go, each with its place. Knows nothing of what the values mean.

use super::report::{Complaint, Findings};
use std::cell::RefCell;
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Reads the text as a table; every fault of its grammar is found.
pub(super) fn parse<'t>(text: &'t str, findings: &Findings) -> Option<Spanned<DeTable<'t>>> {
    if text.trim().is_empty() {
        findings.of_file(Complaint::new(
            "the file is empty",
            "fill it in; config/README.md shows what belongs in it",
        ));
        return None;
    }
    let (table, faults) = DeTable::parse_recoverable(text);
    for fault in &faults {
        let end = text.trim_end().len();
        findings.error(
            fault.span().unwrap_or(end..end),
            Complaint::new(
                format!("this is not TOML: {}", fault.message().replace('\n', ", ")),
                "texts stand in quotes, lists in [ ], and each key once on a line of its own",
            ),
        );
    }
    faults.is_empty().then_some(table)
}

/// One table of the file.
pub(super) struct Section<'t> {
    /// How it is called in messages: `[nursery]`.
    title: String,
    table: &'t DeTable<'t>,
    span: Range<usize>,
    known: RefCell<Vec<&'static str>>,
    findings: &'t Findings,
}

impl<'t> Section<'t> {
    pub fn new(
        title: impl Into<String>,
        table: &'t DeTable<'t>,
        span: Range<usize>,
        findings: &'t Findings,
    ) -> Self {
        Self {
            title: title.into(),
            table,
            span,
            known: RefCell::default(),
            findings,
        }
    }

    pub fn findings(&self) -> &'t Findings {
        self.findings
    }

    /// Where it begins.
    pub fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// Something is wrong with the section as a whole.
    pub fn error(&self, what: impl Into<String>, remedy: impl Into<String>) {
        self.findings
            .error(self.span(), Complaint::new(what, remedy));
    }

    /// Whether the key is there; counts as asked for.
    pub fn has(&self, key: &'static str) -> bool {
        self.get(key).is_some()
    }

    fn get(&self, key: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.known.borrow_mut().push(key);
        self.table.get(key)
    }

    /// Where the value of a key stands, or the section where it has none.
    pub fn place(&self, key: &str) -> Range<usize> {
        self.table
            .get(key)
            .map_or_else(|| self.span(), Spanned::span)
    }

    /// Complains if the key is absent; a wrong value has been complained about already.
    pub fn need<T>(&self, key: &'static str, got: Option<T>, remedy: &str) -> Option<T> {
        if got.is_none() && !self.has(key) {
            self.error(format!("{} has no {key}", self.title), remedy);
        }
        got
    }

    fn read<T>(
        &self,
        key: &'static str,
        read: impl FnOnce(&'t DeValue<'t>) -> Result<T, Complaint>,
    ) -> Option<T> {
        let value = self.get(key)?;
        read(value.get_ref())
            .map_err(|complaint| self.findings.error(value.span(), complaint))
            .ok()
    }

    /// A text that means something.
    pub fn parsed<T>(
        &self,
        key: &'static str,
        parse: impl FnOnce(&str) -> Result<T, Complaint>,
    ) -> Option<T> {
        self.read(key, |value| parse(text_of(key, value)?))
    }

    /// A text that is not empty.
    pub fn text(&self, key: &'static str) -> Option<String> {
        self.parsed(key, |text| Ok(text.to_owned()))
    }

    /// A text on one line, for names that end up in the headers of letters.
    pub fn line(&self, key: &'static str) -> Option<String> {
        self.parsed(key, |text| {
            if text.contains(char::is_control) {
                let what = format!("`{key}` has a line end or another control sign in it");
                return Err(Complaint::new(what, "write it on one line"));
            }
            Ok(text.to_owned())
        })
    }

    /// One word of a few.
    pub fn choice<T>(
        &self,
        key: &'static str,
        words: &[&str],
        named: impl FnOnce(&str) -> Option<T>,
    ) -> Option<T> {
        self.read(key, |value| word_of(key, value, words, named))
    }

    pub fn flag(&self, key: &'static str) -> Option<bool> {
        self.read(key, |value| {
            let bad = || wrong_type(key, "true or false", value);
            value.as_bool().ok_or_else(bad)
        })
    }

    /// A number within a range, whole or not.
    pub fn number(&self, key: &'static str, range: RangeInclusive<f64>) -> Option<f64> {
        let wanted = format!("a number from {} to {}", range.start(), range.end());
        self.read(key, |value| {
            let number = match value {
                DeValue::Integer(_) => whole_of(value).map(|n| n as f64),
                DeValue::Float(f) => f.as_str().parse().ok(),
                _ => None,
            };
            number
                .filter(|n| range.contains(n))
                .ok_or_else(|| wrong_type(key, &wanted, value))
        })
    }

    /// A whole number within a range.
    pub fn whole(&self, key: &'static str, range: RangeInclusive<u32>) -> Option<u32> {
        let wanted = format!("a whole number from {} to {}", range.start(), range.end());
        self.read(key, |value| {
            whole_of(value)
                .and_then(|n| u32::try_from(n).ok())
                .filter(|n| range.contains(n))
                .ok_or_else(|| wrong_type(key, &wanted, value))
        })
    }

    /// A list, each entry read by itself; entries that are wrong are complained about and left out.
    pub fn list<T>(
        &self,
        key: &'static str,
        read: impl Fn(&'t DeValue<'t>) -> Result<T, Complaint>,
    ) -> Option<Vec<Spanned<T>>> {
        let array = self.read(key, |value| {
            let bad = || wrong_type(key, "a list in [ ]", value);
            value.as_array().ok_or_else(bad)
        })?;
        let entries = array.iter().filter_map(|entry| {
            read(entry.get_ref())
                .map_err(|complaint| self.findings.error(entry.span(), complaint))
                .ok()
                .map(|value| Spanned::new(entry.span(), value))
        });
        Some(entries.collect())
    }

    /// A list of texts.
    pub fn texts(&self, key: &'static str) -> Option<Vec<Spanned<String>>> {
        self.list(key, |value| Ok(text_of(key, value)?.to_owned()))
    }

    /// A list of words, each one of a few.
    pub fn choices<T>(
        &self,
        key: &'static str,
        words: &[&str],
        named: impl Fn(&str) -> Option<T>,
    ) -> Option<Vec<T>> {
        let list = self.list(key, |value| word_of(key, value, words, &named))?;
        Some(list.into_iter().map(Spanned::into_inner).collect())
    }

    /// A table within this one.
    pub fn section(&self, key: &'static str) -> Option<Section<'t>> {
        let table = self.read(key, |value| {
            let bad = || wrong_type(key, &format!("[{key}] in single brackets, or {{ }}"), value);
            value.as_table().ok_or_else(bad)
        })?;
        Some(self.inner(key, table, self.place(key)))
    }

    /// The tables of that name within this one, `[[so]]`; none where there is none.
    pub fn sections(&self, key: &'static str) -> Vec<Section<'t>> {
        let wanted = format!("[[{key}]] in double brackets before each");
        let list = self.read(key, |value| {
            let bad = || wrong_type(key, &wanted, value);
            value.as_array().ok_or_else(bad)
        });
        let tables = list.into_iter().flat_map(|list| list.iter());
        let sections = tables.filter_map(|entry| {
            let table = entry.get_ref().as_table();
            if table.is_none() {
                let complaint = wrong_type(key, &wanted, entry.get_ref());
                self.findings.error(entry.span(), complaint);
            }
            Some(self.inner(key, table?, entry.span()))
        });
        sections.collect()
    }

    fn inner(&self, key: &str, table: &'t DeTable<'t>, span: Range<usize>) -> Section<'t> {
        Section::new(format!("[{key}]"), table, span, self.findings)
    }

    /// Keys that belong elsewhere: asked for only to be refused.
    pub fn refuse(&self, keys: &[&'static str], why: &str) {
        for &key in keys {
            if self.has(key) {
                let what = format!("`{key}` {why}");
                let complaint = Complaint::new(what, "take the line out");
                self.findings.error(self.place(key), complaint);
            }
        }
    }

    /// Names every key that nobody asked for.
    pub fn finish(self) {
        let known = self.known.borrow();
        for key in self.table.keys() {
            let name = key.get_ref().as_ref();
            if !known.contains(&name) {
                let what = format!("{} has no key `{name}`", self.title);
                let complaint = Complaint::new(what, offer(name, &known));
                self.findings.error(key.span(), complaint);
            }
        }
    }
}

/// A value that is a text and not empty.
pub(super) fn text_of<'v>(key: &str, value: &'v DeValue<'_>) -> Result<&'v str, Complaint> {
    let text = value
        .as_str()
        .ok_or_else(|| wrong_type(key, "a text in quotes", value))?;
    if text.is_empty() {
        let remedy = "write something, or take the line out";
        return Err(Complaint::new(format!("`{key}` is empty"), remedy));
    }
    Ok(text)
}

fn whole_of(value: &DeValue<'_>) -> Option<i64> {
    let integer = value.as_integer()?;
    i64::from_str_radix(integer.as_str(), integer.radix()).ok()
}

pub(super) fn wrong_type(key: &str, wanted: &str, value: &DeValue<'_>) -> Complaint {
    let given = match value {
        DeValue::String(text) => format!("the text '{text}'"),
        DeValue::Integer(number) => format!("the number {}", number.as_str()),
        DeValue::Float(number) => format!("the number {}", number.as_str()),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(date) => format!("the date or time {date}"),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    };
    Complaint::new(
        format!("`{key}` cannot be {given}"),
        format!("write {wanted}"),
    )
}

fn word_of<T>(
    key: &str,
    value: &DeValue<'_>,
    words: &[&str],
    named: impl FnOnce(&str) -> Option<T>,
) -> Result<T, Complaint> {
    let Some(word) = value.as_str() else {
        return Err(wrong_type(
            key,
            &format!("\"{}\"", words.join("\" or \"")),
            value,
        ));
    };
    named(word).ok_or_else(|| {
        Complaint::new(
            format!("'{word}' is not a word for `{key}`"),
            offer(word, words),
        )
    })
}

/// Offers the nearest known word, or all of them where none is near.
pub(super) fn offer<W: AsRef<str>>(word: &str, known: &[W]) -> String {
    let near = |k: &&W| strsim::damerau_levenshtein(&word.to_lowercase(), k.as_ref());
    match known.iter().min_by_key(near) {
        Some(best) if near(&best) <= 1 + word.chars().count() / 3 => {
            format!("perhaps `{}` is meant", best.as_ref())
        }
        _ => {
            let mut words: Vec<&str> = known.iter().map(AsRef::as_ref).collect();
            words.sort_unstable();
            words.dedup();
            format!("known here: {}", words.join(", "))
        }
    }
}
