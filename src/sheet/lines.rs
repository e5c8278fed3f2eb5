//! Bytes to lines of text: UTF-8 with or without a mark, UTF-16 with one, and Windows-1252 where a line is not UTF-8.

use std::io::{self, BufRead, BufReader, Chain, Cursor, ErrorKind, Read};

/// No table has such lines: what has them is not a table, and memory must stay bounded.
const MAX_LINE: usize = 1 << 20;

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
    /// A line so far was not UTF-8 and was read as Windows-1252.
    pub not_utf8: bool,
}

#[derive(Clone, Copy)]
enum Encoding {
    Bytes,
    Utf16(fn([u8; 2]) -> u16),
}

impl<R: Read> Lines<R> {
    /// Takes the byte order mark off.
    pub fn new(mut reader: R) -> io::Result<Self> {
        let mut head = Vec::new();
        reader.by_ref().take(3).read_to_end(&mut head)?;
        let (encoding, mark) = match head.as_slice() {
            [0xEF, 0xBB, 0xBF] => (Encoding::Bytes, 3),
            [0xFF, 0xFE, ..] => (Encoding::Utf16(u16::from_le_bytes), 2),
            [0xFE, 0xFF, ..] => (Encoding::Utf16(u16::from_be_bytes), 2),
            _ => (Encoding::Bytes, 0),
        };
        head.drain(..mark);
        Ok(Self {
            reader: BufReader::new(Cursor::new(head).chain(reader)),
            encoding,
            after_cr: false,
            not_utf8: false,
        })
    }

    /// The next line, ended by CR, LF, both, or the end of the file.
    pub fn next_line(&mut self) -> io::Result<Option<String>> {
        match self.encoding {
            Encoding::Bytes => Ok(self.next_bytes()?.map(|line| self.decode(line))),
            Encoding::Utf16(unit) => self.next_utf16(unit),
        }
    }

    fn next_bytes(&mut self) -> io::Result<Option<Vec<u8>>> {
        let mut line = Vec::new();
        let mut any = false;
        loop {
            let buffer = match self.reader.fill_buf() {
                Ok(buffer) => buffer,
                Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            if buffer.is_empty() {
                return Ok(any.then_some(line));
            }
            if std::mem::take(&mut self.after_cr) && buffer[0] == b'\n' {
                self.reader.consume(1);
                continue;
            }
            any = true;
            let end = buffer.iter().position(|b| matches!(b, b'\n' | b'\r'));
            let taken = end.unwrap_or(buffer.len());
            bounded(line.len() + taken)?;
            line.extend_from_slice(&buffer[..taken]);
            self.after_cr = end.is_some_and(|end| buffer[end] == b'\r');
            self.reader.consume(taken + usize::from(end.is_some()));
            if end.is_some() {
                return Ok(Some(line));
            }
        }
    }

    fn next_utf16(&mut self, unit: fn([u8; 2]) -> u16) -> io::Result<Option<String>> {
        let mut line = Vec::new();
        let mut any = false;
        loop {
            let mut pair = [0; 2];
            match self.reader.read_exact(&mut pair) {
                Ok(()) => {}
                Err(error) if error.kind() == ErrorKind::UnexpectedEof => break,
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
            line.push(unit);
            bounded(2 * line.len())?;
        }
        Ok(any.then(|| String::from_utf16_lossy(&line)))
    }

    fn decode(&mut self, line: Vec<u8>) -> String {
        String::from_utf8(line).unwrap_or_else(|error| {
            self.not_utf8 = true;
            error.as_bytes().iter().map(|&b| windows_1252(b)).collect()
        })
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
    fn check(bytes: &[u8], expect: &[&str], not_utf8: bool) {
        let mut lines = Lines::new(bytes).unwrap();
        let mut found = Vec::new();
        while let Some(line) = lines.next_line().unwrap() {
            found.push(line);
        }
        assert_eq!(found, expect);
        assert_eq!(lines.not_utf8, not_utf8);
    }

    #[test]
    fn short_files_are_whole() {
        check(b"", &[], false);
        check(b"a", &["a"], false);
        check(b"\xFF\xFE", &[], false);
        check(b"\xEF\xBB\xBF", &[], false);
        check(b"\r\n\r", &["", ""], false);
    }

    #[test]
    fn windows_1252_is_told() {
        check(b"\x80 \x93q\x94 \xE9", &["€ “q” é"], true);
    }

    #[test]
    fn half_a_unit_at_the_end_is_dropped() {
        check(b"\xFE\xFF\0a\0\r\0\n\0b\0", &["a", "b"], false);
    }
}
