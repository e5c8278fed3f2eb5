//! Dates, numbers and plurals as people read them.

use crate::care::Foreseen;
use crate::outlook::Band;
use chrono::{Datelike, NaiveDate, NaiveDateTime};

/// "Tuesday 18 August 2026".
pub fn day(date: NaiveDate) -> String {
    date.format("%A %-d %B %Y").to_string()
}

/// "Tue 18 Aug".
pub fn day_short(date: NaiveDate) -> String {
    date.format("%a %-d %b").to_string()
}

/// "Tue 18 Aug", "Tue 18 - Thu 20 Aug", "Mon 31 Aug - Tue 1 Sep".
pub fn span(first: NaiveDate, last: NaiveDate) -> String {
    if first == last {
        return day_short(first);
    }
    let start = if (first.year(), first.month()) == (last.year(), last.month()) {
        first.format("%a %-d").to_string()
    } else {
        day_short(first)
    };
    format!("{start} - {}", day_short(last))
}

/// "Sat 8 Aug 06:10".
pub fn moment(at: NaiveDateTime) -> String {
    at.format("%a %-d %b %H:%M").to_string()
}

/// "about Thu 20 Aug (Tue 18 - Sun 23)": the middle, and between which days eight times out of ten. Rough without years
/// before.
pub fn foretold(foreseen: &Foreseen) -> String {
    let Band { p10, p50, p90 } = foreseen.band;
    let Some(middle) = p50 else {
        return "not in sight".into();
    };
    if foreseen.rough {
        return format!("roughly {}", day_short(middle));
    }
    if p10 == p90 {
        return format!("about {}", day_short(middle));
    }
    let early = p10.map_or_else(String::new, |day| match p90 {
        Some(last) if last.month() == day.month() => day.format("%a %-d").to_string(),
        _ => day_short(day),
    });
    let late = p90.map_or_else(
        || "later".into(),
        |day| match p10 {
            Some(first) if first.month() == day.month() => day.format("%a %-d").to_string(),
            _ => day_short(day),
        },
    );
    format!("about {} ({early} - {late})", day_short(middle))
}

/// "1 batch", "2 batches", "1 graft", "1,310 grafts".
pub fn count_of(n: u32, one: &str) -> String {
    let plural = match one {
        "batch" => "batches".to_owned(),
        _ => format!("{one}s"),
    };
    format!("{} {}", grouped(n), if n == 1 { one } else { &plural })
}

/// "1,310".
pub fn grouped(n: u32) -> String {
    let digits = n.to_string();
    let groups: Vec<&str> = digits
        .as_bytes()
        .rchunks(3)
        .rev()
        .filter_map(|g| std::str::from_utf8(g).ok())
        .collect();
    groups.join(",")
}

/// "A", "A and B", "A, B and C".
pub fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// The first letter made large.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_lists_read_well() {
        assert_eq!(count_of(1, "batch"), "1 batch");
        assert_eq!(count_of(2, "batch"), "2 batches");
        assert_eq!(count_of(1_234_310, "graft"), "1,234,310 grafts");
        let names = ["A", "B", "C"].map(str::to_owned);
        assert_eq!(list(&names), "A, B and C");
        assert_eq!(list(&names[..2]), "A and B");
    }

    #[test]
    fn spans_name_the_month_once() {
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        assert_eq!(span(day("2026-08-18"), day("2026-08-18")), "Tue 18 Aug");
        assert_eq!(
            span(day("2026-08-18"), day("2026-08-20")),
            "Tue 18 - Thu 20 Aug"
        );
        assert_eq!(
            span(day("2026-08-31"), day("2026-09-01")),
            "Mon 31 Aug - Tue 1 Sep"
        );
    }
}
