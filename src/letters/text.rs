//! A letter as plain text, complete in itself and good on a phone: short lines, what to do first.

use super::letter::{Context, Letter, Row, Section};
use super::places::by_place;
use super::words::day;
use std::fmt::Write;

/// Lines are no longer than this, so that a phone does not break them again.
const WIDTH: usize = 66;
/// A name up to this long leaves room for the rest of its line.
const LONGEST_NAME: usize = 18;

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
