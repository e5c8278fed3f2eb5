//! The beginning of something unexpected, made fit to stand in a message.
//!
//! What a server or a file said may be long, binary, or meant to mislead a terminal; what is handed on is one short
//! line of plain characters. Knows nothing of where it came from.

/// How many bytes of what was read are shown.
const SHOWN: usize = 200;

/// The first 200 bytes as one printable line: runs of blanks and control characters become one space, direction marks
/// and other invisible characters are dropped, a cut is shown by `…`.
///
/// ```
/// use graftwarden::excerpt::excerpt;
/// assert_eq!(excerpt(b"<html>\r\n\t<h1>502\x1b[31m"), "<html> <h1>502 [31m");
/// assert_eq!(excerpt(b""), "nothing");
/// ```
pub fn excerpt(bytes: &[u8]) -> String {
    let shown = &bytes[..bytes.len().min(SHOWN)];
    let line = one_line(&String::from_utf8_lossy(shown));
    if bytes.len() > SHOWN {
        // A character may have been cut in two.
        format!("{}…", line.trim_end_matches(char::REPLACEMENT_CHARACTER))
    } else if line.is_empty() {
        "nothing".into()
    } else {
        line
    }
}

/// What somebody said, without the secret that was said to them: these are the ways in which they may say it back, the
/// longest first. To be called before anything is cut off, since a cut through a secret would leave its beginning.
pub fn without_secret(said: &str, ways: &[String]) -> String {
    let ways = ways.iter().filter(|way| !way.is_empty());
    ways.fold(said.to_owned(), |said, way| {
        said.replace(way.as_str(), "(the password)")
    })
}

/// A text as one line of visible characters: runs of blanks and control characters become one space, invisible ones go.
pub fn one_line(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let text: String = without_invisible(text).chars().map(plain).collect();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A text without characters that take no room but change how others are shown; control characters stay.
pub fn without_invisible(text: &str) -> String {
    text.chars().filter(|&c| !invisible(c)).collect()
}

fn invisible(c: char) -> bool {
    matches!(
        c,
        '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
            | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}'
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(read: &str, shown: &str) {
        assert_eq!(excerpt(read.as_bytes()), shown);
    }

    #[test]
    fn plain_text_stays_as_it_is() {
        check("mailbox full, 25 °C", "mailbox full, 25 °C");
    }

    #[test]
    fn direction_marks_are_dropped() {
        check("\u{feff}abc\u{202e}def", "abcdef");
    }

    #[test]
    fn a_long_text_is_cut_between_characters() {
        check(
            &format!("{}°°", "x".repeat(199)),
            &format!("{}…", "x".repeat(199)),
        );
    }

    #[test]
    fn bytes_that_are_no_text_are_shown_as_such() {
        assert_eq!(excerpt(&[0x1f, 0x8b, b'a']), "\u{fffd}a");
    }
}
