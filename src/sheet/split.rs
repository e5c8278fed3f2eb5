//! One row of text to cells, and the delimiter that parts them. Pure.

/// The cells of a row: trimmed, on one line each. Filled again and again, so that a long file costs no memory a row.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cells {
    text: String,
    ends: Vec<usize>,
}

impl Cells {
    /// How many there are.
    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// Whether there is none at all.
    pub fn is_empty(&self) -> bool {
        self.ends.is_empty()
    }

    /// The cell at that place, counted from 0; empty where the row has none.
    pub fn get(&self, place: usize) -> &str {
        let Some(&end) = self.ends.get(place) else {
            return "";
        };
        let start = place.checked_sub(1).map_or(0, |before| self.ends[before]);
        &self.text[start..end]
    }

    /// All of them in order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &str> + ExactSizeIterator + Clone {
        (0..self.len()).map(|place| self.get(place))
    }

    /// How many there are up to the last that is not empty.
    pub fn filled(&self) -> usize {
        self.iter()
            .rposition(|cell| !cell.is_empty())
            .map_or(0, |last| last + 1)
    }

    /// Takes all of them out.
    pub fn clear(&mut self) {
        self.text.clear();
        self.ends.clear();
    }

    /// Adds a cell. A name with a line break in it could break a table, a subject line or a log: every cell is one line.
    pub fn push(&mut self, cell: &str) {
        let cell = cell.trim();
        if cell.contains(char::is_control) {
            let cell = cell.trim_matches(|c: char| c.is_control() || c.is_whitespace());
            let spaced = cell.chars().map(|c| if c.is_control() { ' ' } else { c });
            self.text.extend(spaced);
        } else {
            self.text.push_str(cell);
        }
        self.ends.push(self.text.len());
    }
}

/// How a text ended that was split.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Ending {
    /// Inside a quoted cell.
    pub open: bool,
    /// Something other than a delimiter follows a closing quotation mark.
    pub untidy: bool,
}

/// Splits with regard to quotation marks (RFC 4180); a mark that does not begin a cell is text.
pub fn split(text: &str, delimiter: char, cells: &mut Cells) -> Ending {
    cells.clear();
    let mut ending = Ending::default();
    let mut rest = text;
    loop {
        let lead = rest.trim_start_matches([' ', '\u{a0}']);
        let after = if let Some(quoted) = lead.strip_prefix('"') {
            let (inside, after) = take_quoted(quoted);
            let Some(after) = after else {
                ending.open = true;
                cells.push(&single_marks(inside));
                return ending;
            };
            let (tail, after) = take_plain(after, delimiter);
            let tidy = tail.trim().is_empty();
            ending.untidy |= !tidy;
            if tidy && !inside.contains('"') {
                cells.push(inside);
            } else {
                cells.push(&(single_marks(inside) + tail));
            }
            after
        } else {
            let (cell, after) = take_plain(rest, delimiter);
            cells.push(cell);
            after
        };
        match after {
            Some(after) => rest = after,
            None => return ending,
        }
    }
}

/// Splits as if quotation marks were letters.
pub fn split_plainly(text: &str, delimiter: char, cells: &mut Cells) {
    cells.clear();
    for cell in text.split(delimiter) {
        cells.push(cell);
    }
}

/// Of `;`, tab and `,` the one that gives the most rows the same number of cells; the comma where none does. Between
/// two that do it equally well the comma is the decimal one.
pub fn guess_delimiter(lines: &[&str]) -> char {
    let mut best = (',', (0, 0));
    let mut cells = Cells::default();
    for delimiter in [';', '\t', ','] {
        let mut counts: Vec<usize> = lines
            .iter()
            .map(|line| {
                split(line, delimiter, &mut cells);
                cells.len()
            })
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

/// The text up to the closing mark, doubled marks and all, and what follows it; nothing follows an open cell.
fn take_quoted(text: &str) -> (&str, Option<&str>) {
    let mut from = 0;
    while let Some(mark) = text[from..].find('"').map(|at| from + at) {
        let after = &text[mark + 1..];
        if !after.starts_with('"') {
            return (&text[..mark], Some(after));
        }
        from = mark + 2;
    }
    (text, None)
}

fn single_marks(text: &str) -> String {
    text.replace("\"\"", "\"")
}

fn take_plain(text: &str, delimiter: char) -> (&str, Option<&str>) {
    match text.split_once(delimiter) {
        Some((cell, rest)) => (cell, Some(rest)),
        None => (text, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expect: &[&str], open: bool, untidy: bool) {
        let mut cells = Cells::default();
        let ending = split(text, ',', &mut cells);
        assert_eq!(cells.iter().collect::<Vec<_>>(), expect);
        assert_eq!((ending.open, ending.untidy), (open, untidy));
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
        check("\"a \"\"b\"\"\",c", &["a \"b\"", "c"], false, false);
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
        assert_eq!(guess("Mo;1,5\nTu;2,5"), ';');
    }
}
