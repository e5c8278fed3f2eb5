//! Cron texts: what of them is taken, and what is refused because other programs read it differently.

use super::walls_after;
use chrono::NaiveDateTime;
use cron::TimeUnitSpec;
use std::fmt;

/// Whatever is wrong with a cron text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CronTrouble {
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub remedy: &'static str,
}

impl fmt::Display for CronTrouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.what, self.remedy)
    }
}

pub(super) fn read(text: &str) -> Result<cron::Schedule, CronTrouble> {
    let refuse = |what: String, remedy| Err(CronTrouble { what, remedy });
    let fields: Vec<&str> = text.split_whitespace().collect();
    let ([_, _, day, _, weekday] | [_, _, _, day, _, weekday]) = *fields.as_slice() else {
        return refuse(
            format!("'{text}' is not a cron text of five or six fields"),
            "write minute, hour, day, month, weekday, as in \"10 6 * * *\" for ten past six every day",
        );
    };
    if weekday.contains(|c: char| c.is_ascii_digit()) {
        return refuse(
            format!("'{weekday}' gives the weekday as a number, which programs count differently"),
            "write weekdays by name, as in \"10 6 * * Mon-Fri\"",
        );
    }
    let open = |field: &str| matches!(field, "*" | "?");
    if !open(day) && !open(weekday) {
        return refuse(
            format!("'{text}' restricts both the day of the month and the weekday"),
            "restrict one of them and leave the other \"*\"",
        );
    }
    let six = if fields.len() == 5 {
        format!("0 {text}")
    } else {
        text.to_owned()
    };
    let Ok(times) = six.parse::<cron::Schedule>() else {
        return refuse(
            format!("'{text}' cannot be read as times of rounds"),
            "write minute (0-59), hour (0-23), day (1-31), month (1-12) and weekday (Sun-Sat, a range may not pass Saturday), each a number, a list, a range or \"*\"",
        );
    };
    if times.seconds().count() != 1 {
        return refuse(
            format!("'{text}' asks for several rounds in one minute"),
            "begin a text of six fields with \"0 \"",
        );
    }
    if walls_after(&times, NaiveDateTime::default())
        .next()
        .is_none()
    {
        return refuse(
            format!("'{text}' never comes: no year has such a day"),
            "give a day that the month has",
        );
    }
    Ok(times)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check_refused(text: &str, words: &str) {
        let trouble = read(text).unwrap_err();
        assert!(trouble.what.contains(words), "{trouble}");
    }

    #[test]
    fn texts_that_mean_something_else_elsewhere_are_refused() {
        check_refused(
            "0 30 6 13 * Fri",
            "both the day of the month and the weekday",
        );
        check_refused("30 6 * * 1-5", "as a number");
        check_refused("0 30 6 31 2 *", "never comes");
        check_refused("30 6 * *", "five or six fields");
        check_refused("@daily", "five or six fields");
        check_refused("75 6 * * *", "cannot be read");
        check_refused("* 30 6 * * *", "several rounds in one minute");
    }
}
