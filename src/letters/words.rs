//! Dates, numbers and plurals as people read them.

use crate::care::{Foreseen, Tuned};
use crate::nursery::Record;
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

/// "Tue 18 Aug" of this year, "Tue 5 Jan 2027" of another.
pub fn day_near(date: NaiveDate, today: NaiveDate) -> String {
    if date.year() == today.year() {
        day_short(date)
    } else {
        date.format("%a %-d %b %Y").to_string()
    }
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

/// "about Thu 20 Aug (Tue 18 - Sun 23)": the middle, and between which days eight times out of ten; "roughly Thu 20 Aug"
/// without years before; "not in sight" where the middle lies beyond what is looked at.
pub fn about(foreseen: &Foreseen, today: NaiveDate) -> String {
    let Band { p10, p50, p90 } = foreseen.band;
    let Some(middle) = p50 else {
        return "not in sight".into();
    };
    if foreseen.rough {
        return format!("roughly {}", day_near(middle, today));
    }
    if p10 == p90 {
        return format!("about {}", day_near(middle, today));
    }
    let with_day = |first: NaiveDate| match p90.filter(|last| last.month() == first.month()) {
        Some(_) => first.format("%a %-d").to_string(),
        None => day_short(first),
    };
    let early = p10.map_or_else(String::new, with_day);
    let late = match p90 {
        // Its month stands with the middle, unless that is another.
        Some(last) if last.month() == middle.month() => last.format("%a %-d").to_string(),
        Some(last) => day_short(last),
        None => "later".into(),
    };
    format!("about {} ({early} - {late})", day_near(middle, today))
}

/// "Tue 4 Aug (Jory)": the day a record is about, and who wrote it where that is known.
pub fn recorded(record: &Record, today: NaiveDate) -> String {
    let day = day_near(record.date, today);
    if record.by.is_empty() {
        day
    } else {
        format!("{day} ({})", record.by)
    }
}

/// "tuned: 15.6 standard days by 4 batches of Ember Lace".
pub fn tuned(tuned: &Tuned) -> String {
    let batches = count_of(u32::try_from(tuned.batches).unwrap_or(u32::MAX), "batch");
    format!(
        "tuned: {:.1} standard days by {batches} of {}",
        tuned.need.need, tuned.of
    )
}

/// "140", "140 - 160".
pub fn from_to(low: &str, high: &str) -> String {
    if low == high {
        low.to_owned()
    } else {
        format!("{low} - {high}")
    }
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

/// "C-14, C-15"; of many the first and how many more.
pub fn names(batches: &[&str]) -> String {
    match batches.len() {
        0..=8 => batches.join(", "),
        n => format!("{} and {} more", batches[..6].join(", "), n - 6),
    }
}

/// "36 min", "3.9 h", "124 h".
pub fn crew_time(minutes: f64) -> String {
    let hours = minutes / 60.0;
    if minutes < 59.5 {
        format!("{:.0} min", minutes.max(1.0))
    } else if hours < 9.95 {
        format!("{hours:.1} h")
    } else {
        format!("{} h", grouped(hours.round() as u32))
    }
}

/// The first letter made large.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// A text as one line of no more than so many characters.
pub fn shortened(text: &str, most: usize) -> String {
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() <= most {
        return line;
    }
    let shown: String = line.chars().take(most - 1).collect();
    format!("{}…", shown.trim_end())
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

    #[track_caller]
    fn check_about(days: [&str; 3], rough: bool, expected: &str) {
        let [p10, p50, p90] = days.map(|day| day.parse().ok());
        let band = Band { p10, p50, p90 };
        let today = "2026-08-13".parse().unwrap();
        assert_eq!(about(&Foreseen { band, rough }, today), expected);
    }

    #[test]
    fn dates_to_come_say_how_sure_they_are() {
        let days = ["2026-08-18", "2026-08-20", "2026-08-23"];
        check_about(days, false, "about Thu 20 Aug (Tue 18 - Sun 23)");
        check_about(days, true, "roughly Thu 20 Aug");
        check_about(["2026-08-20"; 3], false, "about Thu 20 Aug");
        check_about(["", "", ""], false, "not in sight");
        let late = ["2026-08-18", "2026-08-20", ""];
        check_about(late, false, "about Thu 20 Aug (Tue 18 Aug - later)");
        let over = ["2026-08-30", "2026-08-31", "2026-09-02"];
        check_about(over, false, "about Mon 31 Aug (Sun 30 Aug - Wed 2 Sep)");
        let into = ["2026-08-30", "2026-09-01", "2026-09-02"];
        check_about(into, false, "about Tue 1 Sep (Sun 30 Aug - Wed 2)");
        let winter = ["2026-12-28", "2027-01-05", "2027-01-17"];
        check_about(winter, false, "about Tue 5 Jan 2027 (Mon 28 Dec - Sun 17)");
        check_about(["2027-01-05"; 3], true, "roughly Tue 5 Jan 2027");
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
