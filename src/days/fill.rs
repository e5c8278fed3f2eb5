//! Filling what no source knows: gaps of one or two days by a line between their neighbours, longer ones by the past
//! years' mean for the date. What is left is unknown: a missing day is never 0 °C and never 0 heat.

use super::{Day, Origin, PastYears, Rank, Remark};
use chrono::{Days, NaiveDate};

/// The longest gap in days that is filled by a line.
const LONGEST: usize = 2;

/// Fills short gaps of a source whose neighbours it knows itself, even where a lesser source knows the days: a line is
/// closer than another instrument. `days` starts on `first`.
pub fn by_line(first: NaiveDate, days: &mut [Option<Day>]) {
    let rank = |day: &Option<Day>| day.filter(Day::came_to_pass)?.source;
    let ranks: Vec<Option<Rank>> = days.iter().map(rank).collect();
    let worse = |at: usize, than: Rank| {
        ranks[at].is_none_or(|rank| rank > than) && days_are_passed(at, &ranks, than)
    };
    let mut gaps = Vec::new();
    for left in 0..ranks.len() {
        let Some(own) = ranks[left] else { continue };
        let length = (left + 1..ranks.len())
            .take_while(|&at| worse(at, own))
            .count();
        let right = left + 1 + length;
        if (1..=LONGEST).contains(&length) && ranks.get(right) == Some(&Some(own)) {
            gaps.push((left, right));
        }
    }
    for (left, right) in gaps {
        fill_between(first, days, left, right);
    }
}

/// A gap only counts as one when the better source goes on after it.
fn days_are_passed(at: usize, ranks: &[Option<Rank>], than: Rank) -> bool {
    ranks[at..].contains(&Some(than))
}

fn fill_between(first: NaiveDate, days: &mut [Option<Day>], left: usize, right: usize) {
    let (Some(before), Some(after)) = (days[left], days[right]) else {
        return;
    };
    let steps = (right - left) as f64;
    for (at, day) in days.iter_mut().enumerate().take(right).skip(left + 1) {
        let share = (at - left) as f64 / steps;
        let between = |a: f64, b: f64| a + (b - a) * share;
        let (min, max) = (
            between(before.min, after.min),
            between(before.max, after.max),
        );
        let remark = Remark::Between(before.date, after.date);
        *day = Some(filled(first + Days::new(at as u64), min, max, remark));
    }
}

/// Fills what nobody knows of days that are over, from the first known day on, by the past years' mean.
pub fn by_past_years(
    first: NaiveDate,
    days: &mut [Option<Day>],
    past: &PastYears,
    through: NaiveDate,
) {
    let Some(begun) = days.iter().position(Option::is_some) else {
        return;
    };
    let gaps = days.iter_mut().enumerate().skip(begun);
    for (at, day) in gaps.filter(|(_, day)| day.is_none()) {
        let date = first + Days::new(at as u64);
        if date <= through
            && let Some((min, max, years)) = past.mean(date)
        {
            *day = Some(filled(date, min, max, Remark::Mean(years)));
        }
    }
}

fn filled(date: NaiveDate, min: f64, max: f64, remark: Remark) -> Day {
    Day {
        date,
        min,
        max,
        gust: None,
        rain: None,
        origin: Origin::Filled,
        source: None,
        remark: Some(remark),
        shift: None,
    }
}
