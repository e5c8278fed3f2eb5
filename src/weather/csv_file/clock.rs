//! Times of day and offsets, as loggers write them. Pure, and nothing is allocated.

/// Seconds of a day.
pub const DAY: u32 = 86_400;

/// The second of the day (24:00 is the 86 400th) of `15:30`, `9:31:55.25`, `01:00 AM`, `1:00 p.m.`, `24:00` or a lone
/// hour, and what follows it.
pub fn time_of_day(text: &str) -> Option<(u32, &str)> {
    let (hour, rest) = digits(text.trim_start())?;
    let (mut minute, mut second, mut rest) = (0, 0, rest);
    let mark = rest.chars().next().filter(|c| matches!(c, ':' | '.' | 'h'));
    if let Some((found, after)) = mark.and_then(|mark| two_digits(&rest[mark.len_utf8()..])) {
        (minute, rest) = (found, after);
        if let Some((found, after)) = rest.strip_prefix([':', '.']).and_then(two_digits) {
            second = found;
            rest = without_fraction(after);
        }
    } else if rest.starts_with(|c: char| !c.is_whitespace()) && !begins_half(rest) {
        return None;
    }
    let (half, rest) = half_of_day(rest);
    let hour = match half {
        Some(_) if !(1..=12).contains(&hour) => return None,
        Some(half) => hour % 12 + 12 * half,
        None => hour,
    };
    let seconds = hour * 3600 + minute * 60 + second;
    // A second of 60 is a leap second, which no thermometer minds.
    let whole = minute < 60 && second <= 60 && seconds <= DAY;
    whole.then_some((seconds, rest))
}

/// The seconds east of Greenwich of `+02:00`, `-0500`, `+02`, `Z`, `UTC` or `UTC+1`; none where nothing is said.
/// The names of other zones are no offsets: what is local stays as it is written.
pub fn offset(text: &str) -> Option<i32> {
    let text = text.trim().trim_start_matches('(').trim_end_matches(')');
    let rest = ["UTC", "GMT", "utc", "gmt"]
        .iter()
        .find_map(|name| text.strip_prefix(name))
        .map(str::trim_start);
    match (text, rest) {
        ("Z" | "z", _) | (_, Some("")) => return Some(0),
        _ => {}
    }
    let text = rest.unwrap_or(text);
    let (sign, text) = match text.chars().next()? {
        '+' => (1, &text[1..]),
        '-' => (-1, &text[1..]),
        '\u{2212}' => (-1, &text['\u{2212}'.len_utf8()..]),
        _ => return None,
    };
    let (hours, rest) = digits(text)?;
    let minutes = match rest.strip_prefix(':').unwrap_or(rest) {
        "" => 0,
        rest => match two_digits(rest)? {
            (minutes, "") => minutes,
            _ => return None,
        },
    };
    let seconds = i32::try_from(hours * 3600 + minutes * 60).ok()?;
    (hours <= 14 && minutes < 60).then_some(sign * seconds)
}

/// One or two digits, and what follows them.
pub fn digits(text: &str) -> Option<(u32, &str)> {
    let bytes = text.as_bytes();
    let first = digit(*bytes.first()?)?;
    match bytes.get(1).copied().and_then(digit) {
        Some(second) => Some((first * 10 + second, &text[2..])),
        None => Some((first, &text[1..])),
    }
}

fn two_digits(text: &str) -> Option<(u32, &str)> {
    let (number, rest) = digits(text)?;
    (rest.len() + 2 == text.len()).then_some((number, rest))
}

pub fn digit(byte: u8) -> Option<u32> {
    byte.is_ascii_digit().then(|| u32::from(byte - b'0'))
}

fn without_fraction(text: &str) -> &str {
    match text.strip_prefix(['.', ',']) {
        Some(rest) => rest.trim_start_matches(|c: char| c.is_ascii_digit()),
        None => text,
    }
}

fn begins_half(text: &str) -> bool {
    half_of_day(text).0.is_some()
}

/// 0 for AM, 1 for PM, and what follows.
fn half_of_day(text: &str) -> (Option<u32>, &str) {
    let word = text.trim_start();
    for (forms, half) in [(["am", "a.m."], 0), (["pm", "p.m."], 1)] {
        for form in forms {
            if let Some((head, rest)) = word.split_at_checked(form.len())
                && head.eq_ignore_ascii_case(form)
            {
                return (Some(half), rest);
            }
        }
    }
    (None, text)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As hours, minutes, seconds and what follows.
    #[track_caller]
    fn check(text: &str, expect: &str) {
        let found = time_of_day(text).map_or("none".into(), |(second, rest)| {
            let (hour, minute) = (second / 3600, second / 60 % 60);
            format!("{hour}:{minute}:{} {rest}", second % 60)
        });
        assert_eq!(found.trim_end(), expect);
    }

    #[test]
    fn times_are_written_in_many_ways() {
        check("15:30", "15:30:0");
        check("9:31:55.250", "9:31:55");
        check("09.31", "9:31:0");
        check("15h30", "15:30:0");
        check("24:00", "24:0:0");
        check("7", "7:0:0");
        check("23:30-0500", "23:30:0 -0500");
        check("15:30:00 UTC", "15:30:0  UTC");
    }

    #[test]
    fn clocks_of_twelve_hours_are_known() {
        check("01:00 AM", "1:0:0");
        check("12:00 AM", "0:0:0");
        check("12:05pm", "12:5:0");
        check("1:00:30 p.m.", "13:0:30");
        check("11 PM", "23:0:0");
        check("13:00 PM", "none");
        check("0:30 AM", "none");
    }

    #[test]
    fn what_is_no_time_is_none() {
        for text in ["", "noon", "25:00", "24:01", "12:61", "x7", "7x"] {
            check(text, "none");
        }
    }

    #[test]
    fn offsets_are_written_in_many_ways() {
        for text in ["+02:00", "+0200", "+02", "UTC+2", "GMT +02:00", "(+02:00)"] {
            assert_eq!(offset(text), Some(7200), "{text}");
        }
        assert_eq!(offset("\u{2212}09:30"), Some(-34_200));
        for text in ["Z", "UTC", "gmt"] {
            assert_eq!(offset(text), Some(0), "{text}");
        }
        for text in ["", "CEST", "+99:00", "Europe/Berlin", "+1x", "2"] {
            assert_eq!(offset(text), None, "{text}");
        }
    }
}
