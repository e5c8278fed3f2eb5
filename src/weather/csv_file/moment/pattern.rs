//! A date format as the config gives it, followed letter by letter.
//!
//! The usual signs of strftime are followed here, fast and with the names of months in several languages; a format with
//! any other sign is left to the calendar library.

use crate::weather::csv_file::clock::{DAY, digit, digits};
use chrono::format::{Item, Parsed, StrftimeItems, parse_and_remainder};
use chrono::{NaiveDate, Offset, Timelike};

/// A format that makes sense.
#[derive(Clone, Debug)]
pub enum Pattern {
    Own(Vec<Part>),
    Library(Vec<Item<'static>>),
}

/// One sign of a format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    Day,
    Month,
    MonthName,
    Year,
    ShortYear,
    Hour,
    HalfHour,
    Minute,
    Second,
    Half,
    Space,
    Letter(char),
}

/// What was found at the beginning of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Matched<'t> {
    pub date: NaiveDate,
    /// The second of the day, where the format has a time.
    pub second: Option<u32>,
    /// Seconds east of Greenwich, where the format has an offset.
    pub offset: Option<i32>,
    pub rest: &'t str,
}

/// The first letters of the names of the months: English, German, French, Dutch, Spanish, Italian, Portuguese (memory).
const MONTHS: [&[&str]; 12] = [
    &["jan", "jän", "ene", "gen"],
    &["feb", "fév", "fev"],
    &["mar", "mär", "mrz", "maa", "mrt"],
    &["apr", "avr", "abr"],
    &["mai", "may", "mei", "mag"],
    &["jun", "juin", "giu"],
    &["jul", "juil", "lug"],
    &["aug", "aoû", "aou", "ago"],
    &["sep", "set"],
    &["oct", "okt", "ott", "out"],
    &["nov"],
    &["dec", "dez", "déc", "dic"],
];

impl Pattern {
    /// None where the format makes no sense.
    pub fn new(format: &str) -> Option<Self> {
        let whole = StrftimeItems::new(format).parse_to_owned().ok()?;
        Some(parts(format).map_or(Self::Library(whole), Self::Own))
    }

    /// Follows the format from the beginning of the text.
    pub fn follow<'t>(&self, text: &'t str) -> Option<Matched<'t>> {
        match self {
            Self::Own(parts) => follow(parts, text),
            Self::Library(items) => {
                let mut parsed = Parsed::new();
                let rest = parse_and_remainder(&mut parsed, text, items.iter()).ok()?;
                let offset = parsed.to_fixed_offset().ok();
                Some(Matched {
                    date: parsed.to_naive_date().ok()?,
                    second: parsed
                        .to_naive_time()
                        .ok()
                        .map(|t| t.num_seconds_from_midnight()),
                    offset: offset.map(|o| o.fix().local_minus_utc()),
                    rest,
                })
            }
        }
    }
}

/// None where a sign is not one of ours.
fn parts(format: &str) -> Option<Vec<Part>> {
    let long = format
        .replace("%F", "%Y-%m-%d")
        .replace("%D", "%m/%d/%y")
        .replace("%T", "%H:%M:%S")
        .replace("%R", "%H:%M");
    let mut letters = long.chars();
    let mut parts = Vec::new();
    while let Some(letter) = letters.next() {
        parts.push(match letter {
            '%' => match letters.next()? {
                'd' | 'e' => Part::Day,
                'm' => Part::Month,
                'b' | 'B' | 'h' => Part::MonthName,
                'Y' => Part::Year,
                'y' => Part::ShortYear,
                'H' | 'k' => Part::Hour,
                'I' | 'l' => Part::HalfHour,
                'M' => Part::Minute,
                'S' => Part::Second,
                'p' | 'P' => Part::Half,
                '%' => Part::Letter('%'),
                _ => return None,
            },
            space if space.is_whitespace() => Part::Space,
            letter => Part::Letter(letter),
        });
    }
    Some(parts)
}

fn follow<'t>(parts: &[Part], text: &'t str) -> Option<Matched<'t>> {
    let (mut year, mut month, mut day) = (None, None, None);
    let (mut hour, mut minute, mut second, mut half) = (None, 0, 0, None);
    let mut rest = text;
    for part in parts {
        let number = |rest| digits(str::trim_start(rest));
        rest = match part {
            Part::Space => rest.trim_start(),
            Part::Letter(letter) => rest.strip_prefix(*letter)?,
            Part::Year => {
                let (number, after) = four_digits(rest)?;
                year = Some(number);
                after
            }
            Part::MonthName => {
                let (number, after) = month_name(rest)?;
                month = Some(number);
                after
            }
            Part::Half => {
                let (head, after) = rest.split_at_checked(2)?;
                half = Some(match head {
                    "AM" | "am" => 0,
                    "PM" | "pm" => 1,
                    _ => return None,
                });
                after
            }
            Part::Day => {
                let (number, after) = number(rest)?;
                day = Some(number);
                after
            }
            Part::Month => {
                let (number, after) = number(rest)?;
                month = Some(number);
                after
            }
            Part::ShortYear => {
                let (number, after) = number(rest)?;
                // As POSIX has it: 69 to 99 are of the last century.
                year = Some(if number < 69 { 2000 } else { 1900 } + number as i32);
                after
            }
            Part::Hour | Part::HalfHour => {
                let (number, after) = number(rest)?;
                hour = Some(number);
                after
            }
            Part::Minute => {
                let (number, after) = number(rest)?;
                minute = number;
                after
            }
            Part::Second => {
                let (number, after) = number(rest)?;
                second = number;
                after
            }
        };
    }
    let hour = match (hour, half) {
        (Some(hour), Some(half)) if (1..=12).contains(&hour) => Some(hour % 12 + 12 * half),
        (Some(_), Some(_)) => return None,
        (hour, _) => hour,
    };
    let second = hour.map(|hour| hour * 3600 + minute * 60 + second);
    let possible = minute < 60 && second.is_none_or(|second| second <= DAY);
    let date = NaiveDate::from_ymd_opt(year?, month?, day?)?;
    possible.then_some(Matched {
        date,
        second,
        offset: None,
        rest,
    })
}

/// A year of four digits, and what follows it.
pub fn four_digits(text: &str) -> Option<(i32, &str)> {
    let mut year = 0;
    for &byte in text.as_bytes().get(..4)? {
        year = year * 10 + digit(byte)? as i32;
    }
    Some((year, &text[4..]))
}

fn month_name(text: &str) -> Option<(u32, &str)> {
    let end = text
        .find(|c: char| !c.is_alphabetic())
        .unwrap_or(text.len());
    let (name, rest) = text.split_at(end);
    let begins = |begin: &&str| {
        let mut letters = name.chars().flat_map(char::to_lowercase);
        begin.chars().all(|c| letters.next() == Some(c))
    };
    let month = MONTHS.iter().position(|all| all.iter().any(begins))?;
    // Short names may end with a point.
    let shortened = name.chars().count() <= 4;
    let rest = rest
        .strip_prefix(". ")
        .filter(|_| shortened)
        .unwrap_or(rest);
    Some((month as u32 + 1, rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The date, the second of the day where there is one, and what follows.
    #[track_caller]
    fn check(format: &str, text: &str, expect: &str) {
        let found = Pattern::new(format).unwrap().follow(text);
        let found = found.map_or("none".into(), |m| {
            let second = m.second.map_or(String::new(), |s| format!(" {s}"));
            format!("{}{second}|{}", m.date, m.rest)
        });
        assert_eq!(found, expect);
    }

    #[test]
    fn a_format_is_followed_sign_by_sign() {
        check("%d/%m/%Y", "02/08/2022   15:30", "2022-08-02|   15:30");
        check("%d.%m.%y", "29.11.24", "2024-11-29|");
        check("%d.%m.%y", "1.2.69", "1969-02-01|");
        check("%Y%m%d", "20220802", "2022-08-02|");
        check("%m/%d/%Y %I:%M %p", "8/2/2022 12:30 AM", "2022-08-02 1800|");
        check("%F %T", "2022-08-02 24:00:00", "2022-08-02 86400|");
    }

    #[test]
    fn months_have_names_in_several_languages() {
        check("%d %B %Y", "2 August 2022", "2022-08-02|");
        check("%d. %b %Y", "2. Okt. 2022", "2022-10-02|");
        check("%d. %b%Y", "2. Okt. 2022", "2022-10-02|");
        for (name, month) in [
            ("März", 3),
            ("mai", 5),
            ("Juillet", 7),
            ("août", 8),
            ("DÉC", 12),
        ] {
            check(
                "%d-%b-%Y",
                &format!("2-{name}-2022"),
                &format!("2022-{month:02}-02|"),
            );
        }
        check("%d-%b-%Y", "2-xyz-2022", "none");
    }

    #[test]
    fn other_signs_are_left_to_the_library() {
        check(
            "%d/%m/%Y %H:%M %z",
            "02/08/2022 23:30 +0000",
            "2022-08-02 84600|",
        );
        check("%Y-%j", "2022-214", "2022-08-02|");
        assert!(Pattern::new("%Q").is_none());
    }

    #[test]
    fn what_cannot_be_is_none() {
        for text in [
            "31/02/2022",
            "02-08-2022",
            "02/08/22",
            "02/08/",
            "é2/08/2022",
            "",
        ] {
            check("%d/%m/%Y", text, "none");
        }
        check("%d/%m/%Y %I %p", "02/08/2022 13 PM", "none");
        check("%d/%m/%Y %H:%M", "02/08/2022 12:60", "none");
    }
}
