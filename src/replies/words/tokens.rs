//! A line cut into words.

/// A word of a line, in small letters and without the signs around it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// `c-14`, `18.8.`, `3/10`, `can't`.
    pub text: String,
    /// As it was written: `C-14`.
    pub said: String,
    /// The sign that stands between it and the next word: a comma, `&`, `+`, or a dash by itself.
    pub then: Option<char>,
}

/// The words of a line. Points stay where they may belong to a date, hyphens, slashes and apostrophes within a word.
pub fn words(line: &str) -> Vec<Word> {
    let mut words: Vec<Word> = Vec::new();
    let ends = |c: char| c.is_whitespace() || ",;!()[]\"“”„…".contains(c);
    for whole in joined(line).split_inclusive(ends) {
        let piece = whole.trim_end_matches(ends).replace(['’', '‘', '`'], "'");
        let piece = piece.replace(['‐', '‑', '–', '—', '−'], "-");
        for text in at_colons(&piece) {
            // Signs that change what a number says stay with it: ~180, 180+, <10.
            let text = text.trim_matches(|c: char| "'*_-/\\|=#•·".contains(c));
            let digits = text.chars().next().is_some_and(|c| c.is_ascii_digit());
            let text = if digits && text.ends_with('.') {
                text // 18.8. or 18.
            } else {
                text.trim_end_matches('.')
            };
            let text = text.trim_start_matches('.');
            if text.chars().any(char::is_alphanumeric) || text.ends_with('?') {
                // Less than nothing is no count.
                let less = piece.strip_prefix('-') == Some(text) && digits;
                let text = if less { piece.as_str() } else { text };
                words.push(Word {
                    text: text.to_lowercase(),
                    said: text.to_owned(),
                    then: None,
                });
            }
        }
        let sign = match piece.as_str() {
            "" | "&" | "+" | "-" => piece.chars().next(),
            _ => None,
        };
        let sign = sign.or_else(|| whole.ends_with(',').then_some(','));
        if let (Some(word), Some(sign)) = (words.last_mut(), sign) {
            word.then = Some(sign);
        }
    }
    words
}

/// `7 / 10` as `7/10`.
fn joined(line: &str) -> String {
    let mut parts = line.split('/').peekable();
    let mut out = String::new();
    while let Some(part) = parts.next() {
        let bare = part.trim_start();
        let joins = out.ends_with('/') && bare.starts_with(|c: char| c.is_ascii_digit());
        let part = if joins { bare } else { part };
        out.push_str(part);
        if let Some(next) = parts.peek() {
            let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
            let kept = out.trim_end().len();
            if digit(out.trim_end().chars().last()) && digit(next.trim_start().chars().next()) {
                out.truncate(kept);
            }
            out.push('/');
        }
    }
    out
}

/// `block:c` and `c-14:lines` are two words, 8:30 is one.
fn at_colons(piece: &str) -> Vec<&str> {
    let time = |c: char| c.is_ascii_digit() || c == ':';
    if piece.chars().all(time) {
        return vec![piece.trim_matches(':')];
    }
    piece.split(':').collect()
}

/// Letters and digits only, so that C-14, c14 and "C 14" are the same.
pub fn plain(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}
