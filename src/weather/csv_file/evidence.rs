//! Dates of which nobody can know whether the day or the month stands first, and what the rest of a file says of it.
//!
//! A number above 12 is no month. That decides a file for those who ask, and is never acted upon in silence. Pure.

/// A date of three short numbers: `02/08/2022`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct TwoFaced {
    first: u32,
    second: u32,
    mark: char,
    long_year: bool,
}

/// What a file's dates say.
#[derive(Clone, Debug)]
pub struct Evidence {
    example: String,
    mark: char,
    long_year: bool,
    day_first: Option<(u64, String)>,
    month_first: Option<(u64, String)>,
}

/// A date format that a file itself decides, to be put into the config.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offer {
    /// `%d/%m/%Y`
    pub format: String,
    /// `the day stands first, because row 14 has '18/08/2022' and there is no month 18`
    pub because: String,
}

impl Evidence {
    /// None where the date is not two-faced.
    pub fn new(row: u64, date: &str) -> Option<Self> {
        let found = two_faced(date)?;
        let mut evidence = Self {
            example: day_of(date).to_owned(),
            mark: found.mark,
            long_year: found.long_year,
            day_first: None,
            month_first: None,
        };
        evidence.see(row, date);
        Some(evidence)
    }

    /// Looks at the date of a further row.
    pub fn see(&mut self, row: u64, date: &str) {
        let Some(found) = two_faced(date) else { return };
        let seen = || Some((row, day_of(date).to_owned()));
        if self.day_first.is_none() && found.first > 12 {
            self.day_first = seen();
        }
        if self.month_first.is_none() && found.second > 12 {
            self.month_first = seen();
        }
    }

    /// The format, where the file decides it.
    pub fn offer(&self) -> Option<Offer> {
        let (format, stands, (row, date)) = match (&self.day_first, &self.month_first) {
            (Some(day), None) => (self.format(true), "day", day),
            (None, Some(month)) => (self.format(false), "month", month),
            _ => return None,
        };
        let number = usize::from(stands != "day");
        let number = date.split(self.mark).nth(number).unwrap_or_default();
        Some(Offer {
            format,
            because: format!(
                "the {stands} stands first, because row {row} has '{date}' and there is no month {number}"
            ),
        })
    }

    /// What is wrong, and what to do.
    pub fn complaint(&self) -> (String, String) {
        if let Some(offer) = self.offer() {
            return (
                format!(
                    "the dates are written as '{}'; {}",
                    self.example, offer.because
                ),
                format!(
                    "set date_format = \"{}\" if that is so: dates are never guessed at",
                    offer.format
                ),
            );
        }
        if let (Some((a, day)), Some((b, month))) = (&self.day_first, &self.month_first) {
            return (
                format!(
                    "row {a} has '{day}' and row {b} has '{month}': whichever stands first, day or month, one of them is no date"
                ),
                "let the file be written anew with the year first, as in 2026-08-18".into(),
            );
        }
        (
            format!(
                "the dates are written as '{}', with the day first or the month first",
                self.example
            ),
            format!(
                "set date_format = \"{}\" where the day stands first, \"{}\" where the month does",
                self.format(true),
                self.format(false)
            ),
        )
    }

    fn format(&self, day_first: bool) -> String {
        let (mark, year) = (self.mark, if self.long_year { 'Y' } else { 'y' });
        let (first, second) = if day_first { ('d', 'm') } else { ('m', 'd') };
        format!("%{first}{mark}%{second}{mark}%{year}")
    }
}

/// The date without its time.
fn day_of(text: &str) -> &str {
    text.split([' ', 'T', ',']).next().unwrap_or_default()
}

fn two_faced(text: &str) -> Option<TwoFaced> {
    let day = day_of(text);
    let mark = day.chars().find(|c| matches!(c, '/' | '.' | '-'))?;
    let mut parts = day.split(mark);
    let (first, second, year) = (parts.next()?, parts.next()?, parts.next()?);
    let short = |part: &str| (1..=2).contains(&part.len());
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    let plain = short(first)
        && short(second)
        && matches!(year.len(), 2 | 4)
        && [first, second, year].into_iter().all(digits)
        && parts.next().is_none_or(str::is_empty);
    plain.then(|| {
        Some(TwoFaced {
            first: first.parse().ok()?,
            second: second.parse().ok()?,
            mark,
            long_year: year.len() == 4,
        })
    })?
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is said of dates in rows 2, 3 and so on.
    #[track_caller]
    fn check(dates: &[&str], expect: &str) {
        let mut evidence = Evidence::new(2, dates[0]).unwrap();
        for (row, date) in (3..).zip(&dates[1..]) {
            evidence.see(row, date);
        }
        let (what, remedy) = evidence.complaint();
        assert_eq!(format!("{what}. {remedy}"), expect);
        let decided = expect.contains("because");
        assert_eq!(evidence.offer().is_some(), decided);
    }

    #[test]
    fn a_number_above_twelve_decides() {
        check(
            &["02/08/2022   15:30", "18/08/2022 15:30"],
            "the dates are written as '02/08/2022'; the day stands first, because row 3 has '18/08/2022' and there is no month 18. set date_format = \"%d/%m/%Y\" if that is so: dates are never guessed at",
        );
        check(
            &["8-13-22"],
            "the dates are written as '8-13-22'; the month stands first, because row 2 has '8-13-22' and there is no month 13. set date_format = \"%m-%d-%y\" if that is so: dates are never guessed at",
        );
    }

    #[test]
    fn nothing_else_does() {
        check(
            &["02.08.2022", "03.08.2022", "Average"],
            "the dates are written as '02.08.2022', with the day first or the month first. set date_format = \"%d.%m.%Y\" where the day stands first, \"%m.%d.%Y\" where the month does",
        );
        check(
            &["18/08/2022", "08/19/2022"],
            "row 2 has '18/08/2022' and row 3 has '08/19/2022': whichever stands first, day or month, one of them is no date. let the file be written anew with the year first, as in 2026-08-18",
        );
    }

    #[test]
    fn two_faced_dates_are_known() {
        for text in ["02/08/2022", "2.8.22", "02/08/2022   15:30", "18-08-2026"] {
            assert!(two_faced(text).is_some(), "{text}");
        }
        for text in ["2026-08-18", "Average", "1/2", "", "1/2/3/4", "a/b/2022"] {
            assert!(two_faced(text).is_none(), "{text}");
        }
    }
}
