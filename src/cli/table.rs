//! Tables for people: columns as wide as they need to be, no wider than a screen.

use std::io::{self, Write};

/// How a column is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Set {
    /// Words.
    Left,
    /// Figures.
    Right,
}

/// Writes rows under headings, two blanks between columns, none at the end of a line.
pub fn write(out: &mut dyn Write, columns: &[(&str, Set)], rows: &[Vec<String>]) -> io::Result<()> {
    let width = |i: usize| {
        rows.iter()
            .map(|row| row[i].chars().count())
            .chain([columns[i].0.chars().count()])
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns.len()).map(width).collect();
    let line = |cells: &[String]| {
        let set = |(i, cell): (usize, &String)| {
            let pad = " ".repeat(widths[i].saturating_sub(cell.chars().count()));
            match columns[i].1 {
                Set::Left => format!("{cell}{pad}"),
                Set::Right => format!("{pad}{cell}"),
            }
        };
        let cells: Vec<String> = cells.iter().enumerate().map(set).collect();
        cells.join("  ").trim_end().to_owned()
    };
    let headings: Vec<String> = columns.iter().map(|(name, _)| (*name).to_owned()).collect();
    writeln!(out, "{}", line(&headings))?;
    for row in rows {
        writeln!(out, "{}", line(row))?;
    }
    Ok(())
}

/// Cut to so many characters, with a mark where something is missing.
pub fn cut(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let kept: String = text.chars().take(width.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

/// Breaks a line at blanks into lines of so many characters; those that follow are set in.
pub fn fold(text: &str, width: usize, indent: &str) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let at = lines.len() - 1;
        if !lines[at].trim().is_empty()
            && lines[at].chars().count() + 1 + word.chars().count() > width
        {
            lines.push(format!("{indent}{word}"));
        } else {
            if !lines[at].is_empty() {
                lines[at].push(' ');
            }
            lines[at].push_str(word);
        }
    }
    lines
}
