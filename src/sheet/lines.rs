//! Bytes to lines of text: UTF-8 with or without a mark, UTF-16, and Windows-1252 where a line is not UTF-8.

use std::io::{self, BufRead, BufReader, Chain, Cursor, ErrorKind, Read};

/// No table has such lines: what has them is not a table, and memory must stay bounded.
const MAX_LINE: usize = 1 << 20;

/// So much of the file is read at once.
const BUFFER: usize = 1 << 16;

/// What bytes 0x80 to 0x9F mean in Windows-1252; the five unused ones stay control characters.
const WINDOWS_1252: [char; 32] = [
    '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž', '\u{8f}',
    '\u{90}', '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}', 'ž', 'Ÿ',
];

/// The lines of a file, without their ends.
pub struct Lines<R> {
    reader: BufReader<Chain<Cursor<Vec<u8>>, R>>,
    encoding: Encoding,
    after_cr: bool,
    bytes: Vec<u8>,
    units: Vec<u16>,
    /// A line so far was not UTF-8 and was read as Windows-1252.
    pub not_utf8: bool,
    /// The last line was handed on, and the file ended before it did.
    pub cut_off: bool,
}

#[derive(Clone, Copy)]
enum Encoding {
    Bytes,
    Marked,
    Utf16(fn([u8; 2]) -> u16),
}

impl<R: Read> Lines<R> {
    /// Takes the byte order mark off. UTF-16 without one is known by the zeros between its letters.
    pub fn new(mut reader: R) -> io::Result<Self> {
        let mut head = Vec::new();
        reader.by_ref().take(4).read_to_end(&mut head)?;
        let (encoding, mark) = match head.as_slice() {
            [0xEF, 0xBB, 0xBF, ..] => (Encoding::Marked, 3),
            [0xFF, 0xFE, ..] => (Encoding::Utf16(u16::from_le_bytes), 2),
            [0xFE, 0xFF, ..] => (Encoding::Utf16(u16::from_be_bytes), 2),
            &[a, 0, b, 0] if a != 0 && b != 0 => (Encoding::Utf16(u16::from_le_bytes), 0),
            &[0, a, 0, b] if a != 0 && b != 0 => (Encoding::Utf16(u16::from_be_bytes), 0),
            _ => (Encoding::Bytes, 0),
        };
        head.drain(..mark);
        Ok(Self {
            reader: BufReader::with_capacity(BUFFER, Cursor::new(head).chain(reader)),
            encoding,
            after_cr: false,
            bytes: Vec::new(),
            units: Vec::new(),
            not_utf8: false,
            cut_off: false,
        })
    }

    /// How the text is encoded, as far as it has been read.
    pub fn encoding(&self) -> &'static str {
        match self.encoding {
            Encoding::Utf16(_) => "UTF-16",
            _ if self.not_utf8 => "Windows-1252",
            Encoding::Marked => "UTF-8 with a mark",
            Encoding::Bytes => "UTF-8",
        }
    }

    /// Puts the next line, ended by CR, LF, both, or the end of the file, in place of `line`; false where there is none.
    pub fn read_line(&mut self, line: &mut String) -> io::Result<bool> {
        line.clear();
        match self.encoding {
            Encoding::Bytes | Encoding::Marked => self.read_bytes(line),
            Encoding::Utf16(unit) => self.read_utf16(unit, line),
        }
    }

    fn read_bytes(&mut self, line: &mut String) -> io::Result<bool> {
        self.bytes.clear();
        let mut any = false;
        loop {
            let buffer = match self.reader.fill_buf() {
                Ok(buffer) => buffer,
                Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            if buffer.is_empty() {
                self.cut_off |= any;
                break;
            }
            if std::mem::take(&mut self.after_cr) && buffer[0] == b'\n' {
                self.reader.consume(1);
                continue;
            }
            any = true;
            let end = buffer.iter().position(|b| matches!(b, b'\n' | b'\r'));
            let taken = end.unwrap_or(buffer.len());
            bounded(self.bytes.len() + taken)?;
            self.bytes.extend_from_slice(&buffer[..taken]);
            self.after_cr = end.is_some_and(|end| buffer[end] == b'\r');
            self.reader.consume(taken + usize::from(end.is_some()));
            if end.is_some() {
                break;
            }
        }
        if let Ok(text) = std::str::from_utf8(&self.bytes) {
            line.push_str(text);
        } else {
            self.not_utf8 = true;
            line.extend(self.bytes.iter().map(|&b| windows_1252(b)));
        }
        Ok(any)
    }

    fn read_utf16(&mut self, unit: fn([u8; 2]) -> u16, line: &mut String) -> io::Result<bool> {
        self.units.clear();
        let mut any = false;
        loop {
            let mut pair = [0; 2];
            match self.reader.read_exact(&mut pair) {
                Ok(()) => {}
                Err(error) if error.kind() == ErrorKind::UnexpectedEof => {
                    self.cut_off |= any;
                    break;
                }
                Err(error) => return Err(error),
            }
            let unit = unit(pair);
            let after_cr = std::mem::take(&mut self.after_cr);
            if after_cr && unit == u16::from(b'\n') {
                continue;
            }
            any = true;
            self.after_cr = unit == u16::from(b'\r');
            if self.after_cr || unit == u16::from(b'\n') {
                break;
            }
            self.units.push(unit);
            bounded(2 * self.units.len())?;
        }
        let letters = char::decode_utf16(self.units.iter().copied());
        line.extend(letters.map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)));
        Ok(any)
    }
}

fn windows_1252(byte: u8) -> char {
    match byte {
        0x80..=0x9F => WINDOWS_1252[usize::from(byte - 0x80)],
        _ => char::from(byte),
    }
}

fn bounded(length: usize) -> io::Result<()> {
    if length > MAX_LINE {
        return Err(io::Error::new(
            ErrorKind::InvalidData,
            "a line is over 1 MiB long",
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(bytes: &[u8], expect: &[&str], encoding: &str) {
        let mut lines = Lines::new(bytes).unwrap();
        let (mut found, mut line) = (Vec::new(), String::new());
        while lines.read_line(&mut line).unwrap() {
            found.push(line.clone());
        }
        assert_eq!(found, expect);
        assert_eq!(lines.encoding(), encoding);
    }

    #[test]
    fn short_files_are_whole() {
        check(b"", &[], "UTF-8");
        check(b"a", &["a"], "UTF-8");
        check(b"\xFF\xFE", &[], "UTF-16");
        check(b"\xEF\xBB\xBF", &[], "UTF-8 with a mark");
        check(b"\r\n\r", &["", ""], "UTF-8");
    }

    #[test]
    fn windows_1252_is_told() {
        check(b"\x80 \x93q\x94 \xE9", &["€ “q” é"], "Windows-1252");
    }

    #[test]
    fn utf_16_needs_no_mark() {
        check(b"a\0b\0\n\0c\0", &["ab", "c"], "UTF-16");
        check(b"\0a\0b\0\r\0\n\0c", &["ab", "c"], "UTF-16");
    }

    #[test]
    fn half_a_unit_at_the_end_is_dropped() {
        check(b"\xFE\xFF\0a\0\r\0\n\0b\0", &["a", "b"], "UTF-16");
    }

    #[test]
    fn a_last_line_without_an_end_is_cut_off() {
        for (bytes, cut_off) in [
            (&b"a\nb\n"[..], false),
            (b"a\nb", true),
            (b"\xFF\xFEa\0", true),
        ] {
            let mut lines = Lines::new(bytes).unwrap();
            let mut line = String::new();
            while lines.read_line(&mut line).unwrap() {}
            assert_eq!(lines.cut_off, cut_off, "{bytes:?}");
        }
    }
}
