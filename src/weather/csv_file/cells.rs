//! What single cells of a temperature file say in numbers. Pure.
//!
//! Nothing is allocated for a cell: a logger's file has millions of them.

use crate::units::Celsius;
use crate::weather::layout::Unit;

/// What instruments write when they have nothing to say (spreadsheets' error cells among them).
const NOTHING: [&str; 13] = [
    "nan", "na", "n/a", "#n/a", "null", "none", "m", "x", ".", "?", "#name?", "#value!", "#div/0!",
];

/// Numbers that instruments write for the same.
const NO_READING: [f64; 16] = [
    -99.0, -99.9, -99.99, -999.0, -999.9, -999.99, -9999.0, -9999.9, 999.9, 3276.7, -3276.8,
    7999.0, 9999.0, 9999.9, 32767.0, -32768.0,
];

/// A thermometer's byte that is full means nothing either; rain may well be 255 mm.
const FULL_BYTE: f64 = 255.0;

/// No number that anybody measures is longer.
const LONGEST: usize = 40;

/// A number, nothing, or neither.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Figure {
    Number(f64),
    Missing,
    Unreadable,
}

/// How a file writes its numbers.
#[derive(Clone, Debug, Default)]
pub struct Numerals {
    decimal: Option<char>,
    /// Lower case.
    missing: Vec<String>,
    missing_numbers: Vec<f64>,
}

impl Numerals {
    /// `decimal` is the decimal sign where it is known; `missing` is what else stands for nothing.
    pub fn new(decimal: Option<char>, missing: &[String]) -> Self {
        let plain = Self {
            decimal,
            ..Self::default()
        };
        let figure = |text: &String| match plain.number(text) {
            Figure::Number(number) => Some(number),
            _ => None,
        };
        Self {
            missing_numbers: missing.iter().filter_map(figure).collect(),
            missing: missing
                .iter()
                .map(|text| text.trim().to_lowercase())
                .collect(),
            ..plain
        }
    }

    /// A number with a decimal point or comma, and with or without marks between thousands; always finite.
    pub fn number(&self, text: &str) -> Figure {
        self.figure(text, |number| NO_READING.contains(&number))
    }

    /// A temperature in °C; a unit behind the number says more than the file's.
    pub fn temperature(&self, text: &str, unit: Unit) -> Figure {
        let (digits, unit) = without_unit(text.trim(), unit);
        let figure = self.figure(digits, |number| match unit {
            // In tenths -99 and 255 are temperatures.
            Unit::TenthsC => number.abs() > 900.0 && NO_READING.contains(&number),
            _ => NO_READING.contains(&number) || number == FULL_BYTE,
        });
        match (figure, unit) {
            (Figure::Number(f), Unit::F) => Figure::Number(Celsius::from_fahrenheit(f).0),
            (Figure::Number(tenths), Unit::TenthsC) => Figure::Number(tenths / 10.0),
            (figure, _) => figure,
        }
    }

    fn figure(&self, text: &str, stands_for_nothing: impl Fn(f64) -> bool) -> Figure {
        let text = text.trim();
        if text
            .chars()
            .all(|c| matches!(c, '-' | '–' | '—' | '\u{2212}'))
        {
            return Figure::Missing; // also the empty cell
        }
        if self.missing.iter().any(|word| same(word, text)) {
            return Figure::Missing;
        }
        let plain = text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'-' | b'.'));
        let number = match (plain, self.decimal) {
            (_, Some(',')) => self.grouped(text),
            (true, _) => text.parse().ok().or_else(|| self.grouped(text)),
            (false, _) => self.grouped(text).or_else(|| text.parse().ok()),
        };
        match number {
            Some(number) if !number.is_finite() => Figure::Missing,
            Some(number)
                if stands_for_nothing(number) || self.missing_numbers.contains(&number) =>
            {
                Figure::Missing
            }
            Some(number) => Figure::Number(number),
            None if NOTHING.iter().any(|word| same(word, text)) => Figure::Missing,
            None => Figure::Unreadable,
        }
    }

    /// A number as people write it: `−1 234,5`, `1,234.5`, `1'234.5`.
    fn grouped(&self, text: &str) -> Option<f64> {
        let decimal = self.decimal.or_else(|| decimal_sign(text));
        let mut plain = [0; LONGEST];
        let mut length = 0;
        let mut put = |byte: u8| {
            *plain.get_mut(length)? = byte;
            length += 1;
            Some(())
        };
        let (mut digits, mut groups, mut behind) = (0, 0, false);
        for (place, c) in text.chars().enumerate() {
            match c {
                '-' | '+' | '\u{2212}' | '–' if place == 0 => {
                    put(if c == '+' { b'+' } else { b'-' })?;
                }
                '0'..='9' => {
                    digits += 1;
                    put(c as u8)?;
                }
                c if Some(c) == decimal && !behind && (groups == 0 || digits == 3) => {
                    behind = true;
                    put(b'.')?;
                }
                '.' | ',' | ' ' | '\u{a0}' | '\u{2009}' | '\u{202f}' | '\'' | '’' => {
                    let first = groups == 0 && (1..=3).contains(&digits);
                    if behind || !(first || digits == 3) {
                        return None;
                    }
                    groups += 1;
                    digits = 0;
                }
                _ => return None,
            }
        }
        if groups > 0 && !behind && digits != 3 {
            return None;
        }
        std::str::from_utf8(&plain[..length]).ok()?.parse().ok()
    }
}

/// The decimal sign of a number of a file that may use either: the last sign, unless it stands there more than once.
fn decimal_sign(text: &str) -> Option<char> {
    let last = text.rfind(['.', ','])?;
    let sign = char::from(text.as_bytes()[last]);
    (text.find(sign) == Some(last)).then_some(sign)
}

/// The number, and the unit it has in its own cell or else in the file.
fn without_unit(text: &str, unit: Unit) -> (&str, Unit) {
    let said = match text.as_bytes().last() {
        Some(b'C' | b'c') => Unit::C,
        Some(b'F' | b'f') => Unit::F,
        _ => return (text, unit),
    };
    let before = text[..text.len() - 1].trim_end();
    let digits = before.strip_suffix(['°', 'º']).unwrap_or(before).trim_end();
    // Not the last letter of a word.
    if digits.ends_with(|c: char| c.is_ascii_digit()) {
        (digits, said)
    } else {
        (text, unit)
    }
}

/// `word` is lower case.
fn same(word: &str, text: &str) -> bool {
    word.eq_ignore_ascii_case(text) || (!text.is_ascii() && text.to_lowercase() == word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expect: Figure) {
        assert_eq!(Numerals::default().temperature(text, Unit::C), expect);
    }

    #[track_caller]
    fn check_with(decimal: char, text: &str, expect: Figure) {
        let numerals = Numerals::new(Some(decimal), &[]);
        assert_eq!(numerals.number(text), expect);
    }

    #[test]
    fn numbers_are_read_as_they_are_written() {
        for text in [
            "21.5", "21,5", "+21.5", " 21.5 ", "21.5 °C", "21.5C", "70.7 °F", "2.15e1",
        ] {
            check(text, Figure::Number(21.5));
        }
        check("\u{2212}4,5", Figure::Number(-4.5));
        check("–4.5 °C", Figure::Number(-4.5));
        check(".5", Figure::Number(0.5));
    }

    #[test]
    fn units_are_turned_into_celsius() {
        let numerals = Numerals::default();
        assert_eq!(numerals.temperature("50", Unit::F), Figure::Number(10.0));
        assert_eq!(
            numerals.temperature("-99", Unit::TenthsC),
            Figure::Number(-9.9)
        );
        assert_eq!(
            numerals.temperature("255", Unit::TenthsC),
            Figure::Number(25.5)
        );
        assert_eq!(
            numerals.temperature("-9999", Unit::TenthsC),
            Figure::Missing
        );
    }

    #[test]
    fn thousands_may_be_set_apart() {
        for text in [
            "1,200.5",
            "1.200,5",
            "1 200,5",
            "1'200.5",
            "1\u{202f}200.5",
            "1200.5",
        ] {
            check(text, Figure::Number(1200.5));
        }
        check("1,234,567", Figure::Number(1_234_567.0));
        check("1.234", Figure::Number(1.234)); // a decimal sign until the config says otherwise
        check_with(',', "1.234", Figure::Number(1234.0));
        check_with('.', "1,234", Figure::Number(1234.0));
        check_with(',', "8,5", Figure::Number(8.5));
        check_with(',', "8.5", Figure::Unreadable);
        check_with('.', "8,5", Figure::Unreadable);
    }

    #[test]
    fn nothing_is_written_in_many_ways() {
        for text in [
            "", " ", "-", "--", "---", "----", "NaN", "NAN", "NA", "N/A", "null", "M", "inf",
            "1e999", "#NAME?", "#N/A",
        ] {
            check(text, Figure::Missing);
        }
        for text in [
            "-9999",
            "-9999.0",
            "-9999,00",
            "-999.9",
            "-99",
            "+9999",
            "7999",
            "32767",
            "-32768",
            "255",
            "\u{2212}9999",
        ] {
            check(text, Figure::Missing);
        }
    }

    #[test]
    fn the_config_may_add_to_what_means_nothing() {
        let numerals = Numerals::new(None, &["Fehlt".into(), "88.8".into(), "ÄUSSERST".into()]);
        for text in ["fehlt", "88.80", "88,8", "äusserst"] {
            assert_eq!(numerals.number(text), Figure::Missing, "{text}");
        }
        assert_eq!(numerals.number("88"), Figure::Number(88.0));
        assert_eq!(numerals.number("255"), Figure::Number(255.0));
    }

    #[test]
    fn what_is_no_number_is_said_to_be_none() {
        for text in [
            "warm", "1.2.3", "12,34,5", "<31", "21.5 K", "8-5", "1 2", "²",
        ] {
            check(text, Figure::Unreadable);
        }
        check(&format!("1{}", "0".repeat(LONGEST)), Figure::Number(1e40));
    }
}
