//! Words about days for grafting: what speaks for and against them, which is best, and how late in the year it can be.

use super::words::{count_of, day_short};
use crate::care::{Against, DayAsked, LastGraft, NoLastGraft, Unsure, best};
use crate::units::{Celsius, Units};
use chrono::NaiveDate;

/// What speaks against a day.
pub fn against(found: &Against, units: Units) -> String {
    let degrees = |t: f64| units.temperature(Celsius(t));
    match *found {
        Against::DayOff => "a day off".into(),
        Against::AfterLast(last) => format!("after the last safe day, {}", day_short(last)),
        Against::NoSeason => "too little warmth without frost comes before autumn".into(),
        Against::NotGrowing(mean) => format!(
            "the bark may not slip, with a mean of {} over the week",
            degrees(mean)
        ),
        Against::UsuallyNotGrowing(mean) => format!(
            "the bark may not slip, for the usual mean of that week is {}",
            degrees(mean)
        ),
        Against::Cool(max, usual) => {
            format!(
                "cool for here, {} (most days reach {})",
                degrees(max),
                degrees(usual)
            )
        }
        Against::Hot(max, usual) => {
            format!(
                "hot for here, {} (most days stay under {})",
                degrees(max),
                degrees(usual)
            )
        }
        Against::Spell(first, max) => {
            format!("heat of {} comes from {}", degrees(max), day_short(first))
        }
        Against::ColdNight(min) => format!("a cold night, {}", degrees(min)),
        Against::Gusts(gust) => match units {
            Units::Metric => format!("gusts of {gust:.0} km/h"),
            Units::Us => format!("gusts of {:.0} mph", gust / 1.609_344),
        },
        Against::Rain(rain) => format!("rain, {}", depth(rain, units)),
    }
}

fn depth(rain: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{rain:.0} mm"),
        Units::Us => format!("{:.1} in", rain / 25.4),
    }
}

/// What is not known of a day.
pub fn unsure(what: Unsure) -> String {
    match what {
        Unsure::Weather => "no forecast reaches it".into(),
        Unsure::Week => "not all days of its week are known, so nothing is said of the bark".into(),
        Unsure::Usual => {
            "without years before, nothing is said of what is cool or hot for here".into()
        }
        Unsure::HeatAfter(last) => {
            format!(
                "the forecast ends on {}, so heat may come after",
                day_short(last)
            )
        }
        Unsure::Gusts => "gusts are not known".into(),
        Unsure::Rain => "rain is not known".into(),
        Unsure::LastGraft => "the last safe day is not known".into(),
    }
}

/// When to water, where the ground is dry: two or three days ahead, or today if it is nearer.
pub fn dry(rain: f64, day: NaiveDate, today: NaiveDate, units: Units) -> String {
    let before = |days| (day - chrono::TimeDelta::days(days)).max(today);
    let when = match (before(3), before(2)) {
        (_, to) if to >= day => "water first, and graft two days later".to_owned(),
        (from, to) if from == to => format!("water on {}", day_short(to)),
        (from, to) => format!("water on {} or {}", day_short(from), day_short(to)),
    };
    format!(
        "the ground is dry, {} in seven days: {when}",
        depth(rain, units)
    )
}

/// The first of the days against the best of them, in one sentence.
pub fn advice(days: &[DayAsked<'_>], units: Units) -> String {
    let Some(asked) = days.first() else {
        return "No day was asked about.".into();
    };
    if let Some(why) = never_grows(days) {
        return format!(
            "Do not graft in these {} days: {}.",
            days.len(),
            against(why, units)
        );
    }
    let Some(best) = best(days).map(|at| &days[at]) else {
        return no_day(days, units);
    };
    let name = day_short(best.date);
    if best.date == asked.date {
        return match (best.is_unknown(), reasons(best, None, units)) {
            (false, none) if none.is_empty() => {
                format!("{name} is a good day for grafting: nothing speaks against it.")
            }
            (true, none) if none == [unsure(Unsure::Weather)] => {
                format!(
                    "For grafting {name} will do, and so will other working days: no forecast tells of their weather yet."
                )
            }
            (_, reasons) => format!(
                "{name} is the best of {} days for grafting, though not a good one: {}.",
                days.len(),
                reasons.join("; ")
            ),
        };
    }
    let reasons = reasons(asked, Some(best), units);
    format!(
        "The best day for grafting is {name}. {} is not as good: {}.",
        day_short(asked.date),
        reasons.join("; ")
    )
}

/// Why the bark slips on none of the days; none where it may on one.
fn never_grows<'d>(days: &'d [DayAsked<'_>]) -> Option<&'d Against> {
    let still = |found: &&Against| {
        matches!(
            found,
            Against::NotGrowing(_) | Against::UsuallyNotGrowing(_)
        )
    };
    let mut found = days.iter().map(|day| day.fit.against.iter().find(still));
    let first = found.next()??;
    found.all(|still| still.is_some()).then_some(first)
}

/// Why a day is not good; where another is better, only what does not hold of that one too.
fn reasons(day: &DayAsked<'_>, better: Option<&DayAsked<'_>>, units: Units) -> Vec<String> {
    let here = |what: String| format!("it is {what}");
    let found = day.fit.against.iter().filter(|found| {
        let same =
            |other: &Against| std::mem::discriminant(other) == std::mem::discriminant(*found);
        !better.is_some_and(|better| better.fit.against.iter().any(same))
    });
    let found = found.map(|found| match found {
        Against::DayOff | Against::AfterLast(_) | Against::Cool(..) | Against::Hot(..) => {
            here(against(found, units))
        }
        _ => against(found, units),
    });
    let unknown = (day.is_unknown() && !better.is_some_and(DayAsked::is_unknown))
        .then(|| unsure(Unsure::Weather));
    let off = day.steps.iter().filter(|step| {
        let too = |better: &DayAsked<'_>| better.steps.iter().any(|s| s.id == step.id && s.off);
        step.off && !better.is_some_and(too)
    });
    let off = off.filter_map(|step| {
        let middle = day_short(step.band.p50?);
        Some(format!(
            "the day to {} would be {middle}, a day off",
            step.title
        ))
    });
    let mut reasons: Vec<String> = found.chain(unknown).chain(off).collect();
    if reasons.is_empty() && better.is_some() {
        reasons.push("more speaks against it".into());
    }
    reasons
}

fn no_day(days: &[DayAsked<'_>], units: Units) -> String {
    let all = |is: fn(&Against) -> bool| days.iter().all(|d| d.fit.against.iter().any(is));
    let last = days[0]
        .fit
        .against
        .iter()
        .find(|found| matches!(found, Against::AfterLast(_) | Against::NoSeason));
    if all(|found| *found == Against::DayOff) {
        return format!("None of the {} days is a working day.", days.len());
    }
    match last {
        Some(last) => format!("Do not graft: it is {}.", too_late(last, units)),
        None => "None of these days is both a working day and before the last safe day.".into(),
    }
}

fn too_late(found: &Against, units: Units) -> String {
    match found {
        Against::NoSeason => {
            "too cold here, and too little warmth without frost comes before autumn".into()
        }
        _ => against(found, units),
    }
}

/// "12 days left", "the last day".
pub fn days_left(last: NaiveDate, today: NaiveDate) -> String {
    match (last - today).num_days() {
        days if days < 0 => format!("{} ago", count_of(-days as u32, "day")),
        0 => "today".into(),
        days => format!("{} left", count_of(days as u32, "day")),
    }
}

/// By what the last safe day is set.
pub fn how_sure(last: &LastGraft, today: NaiveDate) -> Option<String> {
    let (_, frost) = last.of_season(today)?;
    Some(format!(
        "In 80 of 100 years the first frost came on {} or later (by {} years before); before it a graft needs 28 standard days to grow together and 21 days to harden.",
        day_short(frost),
        last.years()
    ))
}

/// Why there is no last safe day.
pub fn no_last_graft(why: NoLastGraft) -> &'static str {
    match why {
        NoLastGraft::Unknown => {
            "the last safe day for grafting is not known, since fewer than five whole years before are known"
        }
        NoLastGraft::NeverFreezes => {
            "frost sets no last day for grafting, since it hardly ever freezes in the half year after midsummer"
        }
        NoLastGraft::TooCold => {
            "no day for grafting is safe, since too little warmth without frost comes before autumn, whenever it is begun"
        }
    }
}
