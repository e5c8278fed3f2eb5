//! A letter as plain text, complete in itself and good on a phone: short lines, what to do first.

use super::letter::{Context, Letter, Row, Section};
use super::places::by_place;
use super::words::{count_of, day};
use chrono::NaiveDate;
use std::fmt::Write;

/// Lines are no longer than this, so that a phone does not break them again.
const WIDTH: usize = 66;
/// A name up to this long leaves room for the rest of its line.
const LONGEST_NAME: usize = 18;
/// Characters of one text message (3GPP TS 23.038).
const SHORT: usize = 160;

impl Letter {
    /// The whole letter as text.
    pub fn text(&self, context: &Context<'_>) -> String {
        let mut out = format!("{}, {}\n", context.nursery, day(context.today));
        for section in &self.sections {
            out.push('\n');
            write_section(&mut out, section, context);
        }
        for caution in &self.cautions {
            out.push('\n');
            wrap(&mut out, caution, "");
        }
        if let Some(answer) = &self.answer {
            out.push('\n');
            wrap(&mut out, &answer.say, "");
        }
        if !self.small_print.is_empty() {
            out.push_str("\n-- \n");
        }
        for line in &self.small_print {
            wrap(&mut out, line, "");
        }
        out
    }

    /// One line that a text message can carry: the subject, and of the first places as many as there is room for.
    pub fn short(&self, today: NaiveDate) -> String {
        let mut short = cut(&self.subject);
        let places = self.sections.first().map_or(&[][..], |s| &s.places);
        for place in places {
            let until = place.until(today);
            let part = if let [_] = places {
                until
            } else {
                let grafts = count_of(place.grafts, "graft");
                format!("; {}: {grafts}{until}", place.name())
            };
            if short.chars().count() + part.chars().count() > SHORT {
                break;
            }
            short.push_str(&part);
        }
        short
    }
}

/// Not longer than a text message.
fn cut(text: &str) -> String {
    if text.chars().count() <= SHORT {
        return text.to_owned();
    }
    // Full stops, since one character outside the alphabet of text messages halves their room.
    let cut: String = text.chars().take(SHORT - 3).collect();
    format!("{}...", cut.trim_end())
}

fn write_section(out: &mut String, section: &Section, context: &Context<'_>) {
    wrap(out, &section.heading.to_uppercase(), "");
    for place in &section.places {
        let until = place.until(context.today);
        let line = format!("{}: {}{until}", place.name(), place.size());
        wrap(out, &line, "  ");
    }
    for paragraph in &section.paragraphs {
        out.push('\n');
        wrap(out, paragraph, "");
    }
    for list in &section.lists {
        out.push('\n');
        wrap(out, &list.title, "");
        for line in &list.lines {
            wrap(out, line, "  ");
        }
    }
    if !section.rows.is_empty() {
        out.push('\n');
        write_rows(out, &section.rows);
    }
}

/// Two short lines a batch, aligned, rather than one that a phone would break. Long names stand on lines of their own.
fn write_rows(out: &mut String, rows: &[Row]) {
    let widest = |of: fn(&Row) -> usize| rows.iter().map(of).max().unwrap_or(0);
    let (name, grafts) = (
        widest(|r| r.batch.chars().count()),
        widest(|r| r.grafts.chars().count()),
    );
    let is_long = name > LONGEST_NAME;
    let indent = " ".repeat(if is_long { 4 } else { name + 4 });
    for (place, rows) in by_place(rows) {
        if !place.is_empty() {
            wrap(out, place, "");
        }
        for row in rows {
            if is_long {
                wrap(out, &row.batch, "  ");
                out.push_str(&indent);
            } else {
                let _ = write!(out, "  {:name$}  ", row.batch);
            }
            let line = format!("{:>grafts$}  {}", row.grafts, row.by);
            out.push_str(line.trim_end());
            out.push('\n');
            let scion = if row.scion.is_empty() {
                String::new()
            } else {
                format!("{}: ", row.scion)
            };
            wrap(out, &format!("{scion}{}", row.warmth), &indent);
        }
    }
}

/// Breaks a paragraph at words; a word longer than a line stands alone.
fn wrap(out: &mut String, text: &str, indent: &str) {
    let mut line = String::from(indent);
    for word in text.split_whitespace() {
        let used = line.chars().count();
        if used > indent.len() && used + 1 + word.chars().count() > WIDTH {
            out.push_str(&line);
            out.push('\n');
            line = String::from(indent);
        }
        if line.len() > indent.len() {
            line.push(' ');
        }
        line.push_str(word);
    }
    out.push_str(&line);
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::letters::Place;

    fn place(block: &str, grafts: u32, by: Option<&str>) -> Place {
        Place {
            site: String::new(),
            block: block.into(),
            batches: 1,
            grafts,
            by: by.map(|day| day.parse().unwrap()),
            about: None,
        }
    }

    #[test]
    fn a_place_says_by_when() {
        let today = "2026-12-21".parse().unwrap();
        let check = |by, about: Option<(&str, bool)>, batches, said: &str| {
            let place = Place {
                about: about.map(|(day, rough)| (day.parse().unwrap(), rough)),
                batches,
                ..place("C", 310, by)
            };
            assert_eq!(place.until(today), said);
        };
        check(None, None, 1, "");
        check(Some("2026-12-24"), None, 1, ", by Thu 24 Dec");
        check(Some("2027-01-05"), None, 1, ", by Tue 5 Jan 2027");
        check(Some("2026-12-18"), None, 1, ", was due by Fri 18 Dec");
        check(Some("2026-12-18"), None, 2, ", were due by Fri 18 Dec");
        check(
            None,
            Some(("2026-12-24", false)),
            1,
            ", by about Thu 24 Dec",
        );
        check(
            None,
            Some(("2027-01-05", true)),
            1,
            ", by roughly Tue 5 Jan 2027",
        );
        let about = Some(("2026-12-23", false));
        check(Some("2026-12-24"), about, 2, ", by about Wed 23 Dec");
        check(Some("2026-12-22"), about, 2, ", by Tue 22 Dec");
    }

    /// What stands in a text message on 13 August 2026.
    #[track_caller]
    fn check_short(subject: &str, places: Vec<Place>, short: &str) {
        let letter = Letter {
            subject: subject.into(),
            sections: vec![Section {
                places,
                ..Section::default()
            }],
            charts: Vec::new(),
            cautions: Vec::new(),
            answer: None,
            asked: Vec::new(),
            small_print: Vec::new(),
        };
        assert_eq!(letter.short("2026-08-13".parse().unwrap()), short);
        assert!(short.chars().count() <= 160);
    }

    #[test]
    fn a_text_message_has_the_subject_and_by_when() {
        let subject = "Block C: head back now (1 batch, 310 grafts)";
        check_short(
            subject,
            vec![place("C", 310, Some("2026-08-18"))],
            "Block C: head back now (1 batch, 310 grafts), by Tue 18 Aug",
        );
        check_short(subject, vec![place("C", 310, None)], subject);
        check_short(
            "Blocks A and C: head back now (2 batches, 320 grafts)",
            vec![
                place("A", 10, Some("2026-08-12")),
                place("C", 310, Some("2026-08-18")),
            ],
            "Blocks A and C: head back now (2 batches, 320 grafts); Block A: 10 grafts, was due by Wed 12 Aug; Block C: 310 grafts, by Tue 18 Aug",
        );
    }

    #[test]
    fn what_has_no_room_in_a_text_message_is_left_out_whole() {
        let many = |n: u32| (0..n).map(|i| place(&format!("Long field {i}"), 10, None));
        check_short(
            "6 blocks: head back now (6 batches, 60 grafts)",
            many(6).collect(),
            "6 blocks: head back now (6 batches, 60 grafts); Block Long field 0: 10 grafts; Block Long field 1: 10 grafts; Block Long field 2: 10 grafts",
        );
        let (long, end) = ("x".repeat(200), "x".repeat(157));
        check_short(&long, many(2).collect(), &format!("{end}..."));
    }

    #[test]
    fn paragraphs_are_broken_at_words_and_never_lost() {
        let mut out = String::new();
        let long = "x".repeat(80);
        wrap(
            &mut out,
            &format!("{} {long} end", "word ".repeat(20)),
            "  ",
        );
        assert!(
            out.lines()
                .filter(|l| !l.contains(&long))
                .all(|l| l.chars().count() <= WIDTH)
        );
        assert_eq!(out.split_whitespace().count(), 22);
    }
}
