//! Dates as people write them.

use super::tokens::Word;
use chrono::{Datelike, Days, NaiveDate, Weekday};

/// The date that begins with the first of these words, and how many words it has; or why it cannot be taken.
pub fn date(words: &[Word], today: NaiveDate) -> Option<Result<(NaiveDate, usize), String>> {
    let first = words.first()?.text.as_str();
    let second = words.get(1).map(|w| w.text.as_str());
    let third = words.get(2).map(|w| w.text.as_str());
    let back = |days| today.checked_sub_days(Days::new(days));
    match first {
        "today" => return Some(Ok((today, 1))),
        "yesterday" => return Some(Ok((back(1)?, 1))),
        _ => {}
    }
    if let Some(weekday) = weekday(first) {
        let days =
            (7 + today.weekday().num_days_from_monday() - weekday.num_days_from_monday()) % 7;
        return Some(Ok((back(u64::from(days))?, 1)));
    }
    if let Some(day) = nth(first).filter(|_| second.and_then(month).is_none()) {
        // The newest that has come, as a weekday is.
        let days = (0..62).filter_map(back);
        return days
            .into_iter()
            .find(|date| date.day() == day)
            .map(|date| Ok((date, 1)));
    }
    let (day, month, year, used) = if let Ok(date) = first.parse::<NaiveDate>() {
        (date.day(), date.month(), Some(date.year()), 1)
    } else if let Some((day, month, year)) = dotted(first) {
        (day, month, year, 1)
    } else if let Some(parts) = slashed(first) {
        match parts {
            Ok((day, month, year)) => (day, month, Some(year), 1),
            Err(why) => return Some(Err(why)),
        }
    } else if let (Some(day), Some(month)) = (ordinal(first), second.and_then(month)) {
        let year = third.and_then(year);
        (day, month, year, 2 + usize::from(year.is_some()))
    } else if let (Some(month), Some(day)) = (month(first), second.and_then(ordinal)) {
        let year = third.and_then(year);
        (day, month, year, 2 + usize::from(year.is_some()))
    } else {
        return None;
    };
    let on = |year| NaiveDate::from_ymd_opt(year, month, day);
    let text = || {
        let said: Vec<&str> = words[..used].iter().map(|w| w.said.as_str()).collect();
        said.join(" ")
    };
    if year.is_none()
        && let Some(why) = about_to_come(day, month, &text(), today)
    {
        return Some(Err(why));
    }
    let found = match year {
        Some(year) => on(year),
        // Without a year the newest that has come: a leap day may lie years back.
        None => (0..8)
            .filter_map(|back| on(today.year() - back))
            .find(|&date| date <= today),
    };
    Some(match found {
        None => Err(format!("{} is no day of the calendar", text())),
        Some(date) if date > today => Err(format!(
            "{} has not come yet; write it when it is done",
            text()
        )),
        Some(date) => Ok((date, used)),
    })
}

/// Why a day without its year is not taken for last year's: it comes within these weeks.
fn about_to_come(day: u32, month: u32, said: &str, today: NaiveDate) -> Option<String> {
    let next = today.iter_days().skip(1).take(30);
    let days = next
        .enumerate()
        .find(|(_, date)| (date.day(), date.month()) == (day, month))?
        .0;
    let when = match days {
        0 => "is tomorrow".into(),
        more => format!("comes in {} days", more + 1),
    };
    Some(format!(
        "{said} {when}; write it when it is done, or with its year where it was in another"
    ))
}

/// `18.8.`, `18.08.2026`, `18.8.26`: the day first, as everywhere where points are written.
fn dotted(text: &str) -> Option<(u32, u32, Option<i32>)> {
    let mut parts = text.split('.');
    let (day, month) = (small(parts.next()?)?, small(parts.next()?)?);
    let rest = parts.next()?;
    if parts.next().is_some_and(|more| !more.is_empty()) {
        return None;
    }
    match rest {
        "" => Some((day, month, None)),
        rest => Some((day, month, Some(year(rest)?))),
    }
}

/// `18/8/2026`, where it can be only one day.
fn slashed(text: &str) -> Option<Result<(u32, u32, i32), String>> {
    let parts: Vec<&str> = text.split('/').collect();
    let [a, b, c] = parts[..] else { return None };
    if a.len() == 4 {
        return Some(Ok((small(c)?, small(b)?, year(a)?)));
    }
    let (a, b, year) = (small(a)?, small(b)?, year(c)?);
    Some(match (a, b) {
        (a, b) if a == b || (a > 12 && b <= 12) => Ok((a, b, year)),
        (a, b) if b > 12 && a <= 12 => Ok((b, a, year)),
        _ => Err(format!(
            "{text} may be two days; write it as in 2026-08-18 or 18 Aug"
        )),
    })
}

fn small(text: &str) -> Option<u32> {
    let digits = (1..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    digits.then(|| text.parse().ok()).flatten()
}

/// `18th`.
fn nth(text: &str) -> Option<u32> {
    let ends = ["st", "nd", "rd", "th"];
    small(ends.iter().find_map(|end| text.strip_suffix(end))?)
}

/// `18`, `18th`, `18.`
fn ordinal(text: &str) -> Option<u32> {
    let text = text.trim_end_matches('.');
    let ends = ["st", "nd", "rd", "th"];
    let digits = ends.iter().find_map(|end| text.strip_suffix(end));
    small(digits.unwrap_or(text))
}

/// `2026` or `26`.
fn year(text: &str) -> Option<i32> {
    let text = text.trim_end_matches('.');
    let year: i32 = text
        .bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| text.parse().ok())??;
    match text.len() {
        2 => Some(2000 + year),
        4 if (2000..2100).contains(&year) => Some(year),
        _ => None,
    }
}

fn month(text: &str) -> Option<u32> {
    let text = text.trim_end_matches('.');
    let names = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let is = |name: &str| {
        *name == *text || name[..3] == *text || (text == "sept" && name == "september")
    };
    names
        .iter()
        .position(|name| is(name))
        .map(|at| at as u32 + 1)
}

fn weekday(text: &str) -> Option<Weekday> {
    // `sat` and `sun` are words of their own; with the other short names they are taken for days.
    text.parse().ok().filter(|_| text.len() >= 3)
}
