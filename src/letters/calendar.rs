//! Dates for a phone: all-day entries as iCalendar (RFC 5545).
//!
//! `windows` says which windows of which batches are entries, `kept` sets them against what a calendar was told before,
//! and this file writes entries out. Nothing here knows where a calendar goes: a letter carries one, a page may be one.

mod kept;
mod windows;

pub use kept::{Kept, keep};
pub use windows::{AHEAD, Window, windows};

use chrono::{DateTime, NaiveDate, Utc};

/// One entry of a calendar, on whole days.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The same as long as it is the same entry; no other entry of the world has it.
    pub uid: String,
    /// From 0; raised with each change (RFC 5545, 3.8.7.4).
    pub sequence: u32,
    /// What is to be done, and where.
    pub title: String,
    /// The first day.
    pub first: NaiveDate,
    /// The last day, included; where it lies before the first, the entry has one day.
    pub last: NaiveDate,
    /// The rest, on lines of its own.
    pub detail: String,
    /// Whether it is to vanish from the calendar.
    pub cancelled: bool,
}

/// A calendar of that name with these entries, as of the moment `stamp`: lines end in CR LF and are no longer than 75
/// bytes (RFC 5545, 3.1).
pub fn write(entries: &[Entry], name: &str, stamp: DateTime<Utc>) -> String {
    let mut sheet = Sheet(String::new());
    sheet.line("BEGIN:VCALENDAR");
    sheet.line("VERSION:2.0");
    sheet.line("PRODID:-//graftwarden//dates//EN");
    sheet.line("CALSCALE:GREGORIAN");
    sheet.line("METHOD:PUBLISH");
    // Not in the standard, but what phones show as the name of a calendar.
    sheet.line(&format!("X-WR-CALNAME:{}", text(name)));
    for entry in entries {
        sheet.entry(entry, stamp);
    }
    sheet.line("END:VCALENDAR");
    sheet.0
}

/// The longest line in bytes, without its end.
const LONGEST: usize = 75;

struct Sheet(String);

impl Sheet {
    fn entry(&mut self, entry: &Entry, stamp: DateTime<Utc>) {
        // An entry ends before its end (RFC 5545, 3.6.1): that is the day after its last.
        let last = entry.last.max(entry.first);
        let end = last.succ_opt().unwrap_or(last);
        let status = if entry.cancelled {
            "CANCELLED"
        } else {
            "CONFIRMED"
        };
        self.line("BEGIN:VEVENT");
        self.line(&format!("UID:{}", text(&entry.uid)));
        self.line(&format!("DTSTAMP:{}", stamp.format("%Y%m%dT%H%M%SZ")));
        self.line(&format!("SEQUENCE:{}", entry.sequence));
        self.line(&format!("STATUS:{status}"));
        self.line(&format!(
            "DTSTART;VALUE=DATE:{}",
            entry.first.format("%Y%m%d")
        ));
        self.line(&format!("DTEND;VALUE=DATE:{}", end.format("%Y%m%d")));
        self.line(&format!("SUMMARY:{}", text(&entry.title)));
        self.line(&format!("DESCRIPTION:{}", text(&entry.detail)));
        // Work that is due takes nobody's free time away.
        self.line("TRANSP:TRANSPARENT");
        self.line("END:VEVENT");
    }

    /// One line, broken where it is too long: what goes on begins with a space.
    fn line(&mut self, line: &str) {
        let mut length = 0;
        for c in line.chars() {
            if length + c.len_utf8() > LONGEST {
                self.0.push_str("\r\n ");
                length = 1;
            }
            self.0.push(c);
            length += c.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}

/// A text as a value (RFC 5545, 3.3.11). Whatever else might end a line or steer a screen becomes a space.
fn text(text: &str) -> String {
    let mut value = String::with_capacity(text.len());
    for c in text.replace("\r\n", "\n").chars() {
        match c {
            '\n' => value.push_str("\\n"),
            '\\' | ';' | ',' => value.extend(['\\', c]),
            '\u{2028}' | '\u{2029}' => value.push(' '),
            c if c.is_control() => value.push(' '),
            c => value.push(c),
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn entry() -> Entry {
        Entry {
            uid: "0123@alderfold.example".into(),
            sequence: 0,
            title: "Block C: head back (2 batches, 310 grafts)".into(),
            first: "2026-08-13".parse().unwrap(),
            last: "2026-08-18".parse().unwrap(),
            detail: "C-14 Ember Lace, 180 grafts\nC-15 Ember Lace, 130 grafts".into(),
            cancelled: false,
        }
    }

    fn stamp() -> DateTime<Utc> {
        "2026-08-13T04:10:00Z".parse().unwrap()
    }

    #[test]
    fn a_whole_calendar() {
        let cancelled = Entry {
            uid: "4567@alderfold.example".into(),
            sequence: 3,
            cancelled: true,
            title: "Block D: tape off and tie in, foreseen (1 batch, 60 grafts)".into(),
            ..entry()
        };
        let written = write(&[entry(), cancelled], "Alder Fold Nursery", stamp());
        assert_eq!(
            written.matches('\n').count(),
            written.matches("\r\n").count()
        );
        insta::assert_snapshot!(written.replace("\r\n", "\n"), @r"
        BEGIN:VCALENDAR
        VERSION:2.0
        PRODID:-//graftwarden//dates//EN
        CALSCALE:GREGORIAN
        METHOD:PUBLISH
        X-WR-CALNAME:Alder Fold Nursery
        BEGIN:VEVENT
        UID:0123@alderfold.example
        DTSTAMP:20260813T041000Z
        SEQUENCE:0
        STATUS:CONFIRMED
        DTSTART;VALUE=DATE:20260813
        DTEND;VALUE=DATE:20260819
        SUMMARY:Block C: head back (2 batches\, 310 grafts)
        DESCRIPTION:C-14 Ember Lace\, 180 grafts\nC-15 Ember Lace\, 130 grafts
        TRANSP:TRANSPARENT
        END:VEVENT
        BEGIN:VEVENT
        UID:4567@alderfold.example
        DTSTAMP:20260813T041000Z
        SEQUENCE:3
        STATUS:CANCELLED
        DTSTART;VALUE=DATE:20260813
        DTEND;VALUE=DATE:20260819
        SUMMARY:Block D: tape off and tie in\, foreseen (1 batch\, 60 grafts)
        DESCRIPTION:C-14 Ember Lace\, 180 grafts\nC-15 Ember Lace\, 130 grafts
        TRANSP:TRANSPARENT
        END:VEVENT
        END:VCALENDAR
        ");
    }

    /// The lines of a calendar of this entry, put together again as a reader does (RFC 5545, 3.1).
    fn lines(entry: Entry) -> Vec<String> {
        let written = write(&[entry], "Alder Fold", stamp());
        for line in written.split("\r\n") {
            assert!(line.len() <= 75, "{} bytes: {line}", line.len());
            assert!(!line.contains(char::is_control), "{line:?}");
        }
        let whole = written.replace("\r\n ", "");
        whole.split("\r\n").map(str::to_owned).collect()
    }

    #[track_caller]
    fn check_days(first: &str, last: &str, start: &str, end: &str) {
        let (first, last) = (first.parse().unwrap(), last.parse().unwrap());
        let lines = lines(Entry {
            first,
            last,
            ..entry()
        });
        let has = |line: String| assert!(lines.contains(&line), "{line} in {lines:#?}");
        has(format!("DTSTART;VALUE=DATE:{start}"));
        has(format!("DTEND;VALUE=DATE:{end}"));
    }

    #[test]
    fn an_entry_ends_on_the_day_after_its_last() {
        check_days("2026-08-13", "2026-08-18", "20260813", "20260819");
        check_days("2026-08-31", "2026-08-31", "20260831", "20260901");
        check_days("2026-12-30", "2026-12-31", "20261230", "20270101");
        // A leap year, and days the wrong way round.
        check_days("2028-02-28", "2028-02-28", "20280228", "20280229");
        check_days("2026-08-13", "2026-08-12", "20260813", "20260814");
    }

    #[track_caller]
    fn check_title(title: &str, expected: &str) {
        let title = title.to_owned();
        let lines = lines(Entry { title, ..entry() });
        let found: Vec<&String> = lines.iter().filter(|l| l.starts_with("SUMMARY")).collect();
        assert_eq!(found, [&format!("SUMMARY:{expected}")]);
        let events = lines.iter().filter(|l| *l == "BEGIN:VEVENT").count();
        assert_eq!(events, 1);
    }

    #[test]
    fn names_stay_text() {
        check_title("Rows 1, 2; 3\\4: \"tie\"", r#"Rows 1\, 2\; 3\\4: "tie""#);
        check_title("a\nb\r\nc\rd", r"a\nb\nc d");
        check_title(
            "Row\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:x",
            r"Row\nEND:VEVENT\nBEGIN:VEVENT\nSUMMARY:x",
        );
        check_title("Row\u{2028}\u{b}\u{85}\u{1b}[2J\0x", "Row    [2J x");
        check_title("", "");
    }

    #[test]
    fn a_long_line_is_broken_between_signs_and_not_within_one() {
        // "SUMMARY:" and 67 bytes fill a line of 75.
        let line = |title: &str| {
            let title = title.to_owned();
            let written = write(&[Entry { title, ..entry() }], "", stamp());
            let (_, rest) = written.split_once("SUMMARY:").unwrap();
            rest.split_once("\r\nDESCRIPTION").unwrap().0.to_owned()
        };
        assert_eq!(line(&"x".repeat(67)), "x".repeat(67));
        assert_eq!(line(&"x".repeat(68)), format!("{}\r\n x", "x".repeat(67)));
        let (full, next) = ("x".repeat(67), "x".repeat(74));
        assert_eq!(line(&"x".repeat(142)), format!("{full}\r\n {next}\r\n x"));
        // Two bytes do not fit where one is left, nor four where three are.
        assert_eq!(
            line(&format!("{}°", "x".repeat(66))),
            format!("{}\r\n °", "x".repeat(66))
        );
        assert_eq!(
            line(&format!("{}🌳", "x".repeat(64))),
            format!("{}\r\n 🌳", "x".repeat(64))
        );
    }

    proptest! {
        #[test]
        fn whatever_is_written_is_read_again(title in ".{0,200}", detail in "(.|\n|\r|,|;|\\\\){0,200}") {
            let lines = lines(Entry { title: title.clone(), detail: detail.clone(), ..entry() });
            let read = |name: &str| {
                let line = lines.iter().find_map(|l| l.strip_prefix(name)).unwrap();
                let mut out = String::new();
                let mut signs = line.chars();
                while let Some(c) = signs.next() {
                    match c {
                        '\\' => match signs.next().unwrap() {
                            'n' => out.push('\n'),
                            c => out.push(c),
                        },
                        c => out.push(c),
                    }
                }
                out
            };
            let cleaned = |text: &str| {
                let odd = |c: char| (c.is_control() && c != '\n') || ['\u{2028}', '\u{2029}'].contains(&c);
                text.replace("\r\n", "\n").replace(odd, " ")
            };
            prop_assert_eq!(read("SUMMARY:"), cleaned(&title));
            prop_assert_eq!(read("DESCRIPTION:"), cleaned(&detail));
        }
    }
}
