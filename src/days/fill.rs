//! Filling gaps of one or two days by a line between their neighbours. Longer gaps stay unknown: a missing day is
//! never 0 °C and never 0 heat.

use super::{Day, Origin};
use chrono::{Days, NaiveDate};

/// The longest gap in days that is filled by a line.
const LONGEST: usize = 2;

/// Fills what can be filled in a run of days that starts on `first`.
pub fn by_line(first: NaiveDate, days: &mut [Option<Day>]) {
    let mut at = 0;
    while at < days.len() {
        let Some(gap) = days[at..]
            .iter()
            .position(Option::is_none)
            .map(|offset| at + offset)
        else {
            return;
        };
        let after = days[gap..]
            .iter()
            .position(Option::is_some)
            .map_or(days.len(), |offset| gap + offset);
        if gap > 0 && after < days.len() && after - gap <= LONGEST {
            fill_between(first, days, gap, after);
        }
        at = after;
    }
}

fn fill_between(first: NaiveDate, days: &mut [Option<Day>], gap: usize, after: usize) {
    let (Some(left), Some(right)) = (days[gap - 1].clone(), days[after].clone()) else {
        return;
    };
    if !(left.is_known() && right.is_known()) {
        return;
    }
    let steps = (after - gap + 1) as f64;
    for (k, day) in days[gap..after].iter_mut().enumerate() {
        let share = (k + 1) as f64 / steps;
        let between = |a: f64, b: f64| a + (b - a) * share;
        *day = Some(Day {
            date: first + Days::new((gap + k) as u64),
            min: between(left.min, right.min),
            max: between(left.max, right.max),
            gust: None,
            rain: None,
            origin: Origin::Filled,
            source: String::new(),
            remark: format!(
                "between {} and {}",
                left.date.format("%-d %b"),
                right.date.format("%-d %b")
            ),
        });
    }
}
