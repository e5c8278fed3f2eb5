//! One row of text to cells, and the delimiter that parts them. Pure.

/// The cells of a row as far as its text goes.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Split {
    /// Trimmed, on one line each.
    pub cells: Vec<String>,
    /// The text ends inside a quoted cell.
    pub open: bool,
    /// Something other than a delimiter follows a closing quotation mark.
    pub untidy: bool,
}

/// Splits with regard to quotation marks (RFC 4180); a mark that does not begin a cell is text.
pub fn split(text: &str, delimiter: char) -> Split {
    let mut row = Split::default();
    let mut rest = text;
    loop {
        let lead = rest.trim_start_matches([' ', '\u{a0}']);
        let after = if let Some(quoted) = lead.strip_prefix('"') {
            let (mut cell, after) = take_quoted(quoted);
            let Some(after) = after else {
                row.open = true;
                row.cells.push(clean(&cell));
                return row;
            };
            let (tail, after) = take_plain(after, delimiter);
            row.untidy |= !tail.trim().is_empty();
            cell.push_str(tail);
            row.cells.push(clean(&cell));
            after
        } else {
            let (cell, after) = take_plain(rest, delimiter);
            row.cells.push(clean(cell));
            after
        };
        match after {
            Some(after) => rest = after,
            None => return row,
        }
    }
}

/// Splits as if quotation marks were letters.
pub fn split_plainly(text: &str, delimiter: char) -> Vec<String> {
    text.split(delimiter).map(clean).collect()
}

/// Of `,`, `;` and tab the one that gives the most rows the same number of cells; the comma where none does.
pub fn guess_delimiter(lines: &[&str]) -> char {
    let mut best = (',', (0, 0));
    for delimiter in [',', ';', '\t'] {
        let mut counts: Vec<usize> = lines
            .iter()
            .map(|line| split(line, delimiter).cells.len())
            .filter(|&cells| cells > 1)
            .collect();
        counts.sort_unstable();
        let score = counts
            .chunk_by(|a, b| a == b)
            .map(|alike| (alike.len(), alike[0]))
            .max()
            .unwrap_or_default();
        if score > best.1 {
            best = (delimiter, score);
        }
    }
    best.0
}

/// The text up to the closing mark with doubled marks made single, and what follows it; nothing follows an open cell.
fn take_quoted(text: &str) -> (String, Option<&str>) {
    let mut cell = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('"') {
        cell.push_str(before);
        let Some(more) = after.strip_prefix('"') else {
            return (cell, Some(after));
        };
        cell.push('"');
        rest = more;
    }
    cell.push_str(rest);
    (cell, None)
}

fn take_plain(text: &str, delimiter: char) -> (&str, Option<&str>) {
    match text.split_once(delimiter) {
        Some((cell, rest)) => (cell, Some(rest)),
        None => (text, None),
    }
}

/// A name with a line break in it could break a table, a subject line or a log: every cell is one line.
fn clean(cell: &str) -> String {
    let cell = cell.trim();
    if cell.contains(char::is_control) {
        let spaced: String = cell
            .chars()
            .map(|c| if c.is_control() { ' ' } else { c })
            .collect();
        return spaced.trim().to_owned();
    }
    cell.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, cells: &[&str], open: bool, untidy: bool) {
        let row = split(text, ',');
        assert_eq!(row.cells, cells);
        assert_eq!((row.open, row.untidy), (open, untidy));
    }

    #[test]
    fn cells_are_trimmed_and_on_one_line() {
        check(" a , \tb\u{a0},", &["a", "b", ""], false, false);
        check("\"a\nb\",c\u{7}d", &["a b", "c d"], false, false);
        check("", &[""], false, false);
    }

    #[test]
    fn marks_inside_a_cell_are_text() {
        check("5\" pot,\"\"", &["5\" pot", ""], false, false);
        check(" \"a,b\" ,c", &["a,b", "c"], false, false);
        check("\"a\" b,c", &["a b", "c"], false, true);
        check("a,\"b", &["a", "b"], true, false);
        check("\"a\"\"", &["a\""], true, false);
    }

    #[test]
    fn the_steadier_delimiter_wins() {
        let guess = |text: &str| guess_delimiter(&text.lines().collect::<Vec<_>>());
        assert_eq!(guess("date;tmin;tmax\n2026-01-01;1,5;2,5"), ';');
        assert_eq!(guess("batch,remarks\nA1,a;b\nA2,c"), ',');
        assert_eq!(guess("a station; 3, north\n\na\tb\n1\t2\n3\t4"), '\t');
        assert_eq!(guess("one"), ',');
    }
}
