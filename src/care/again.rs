//! Steps that come again and again: looks by warmth after certain records, and work every so many days in season.

use super::facts::Facts;
use super::warmth::Warmth;
use super::windows::{By, Opened, Subject};
use crate::nursery::{Again, MonthDay, Repeat, Step, What};
use crate::units::DegreeDays;
use chrono::{Datelike, Days, NaiveDate};

/// One coming of a repeated step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Turn {
    /// The record whose rule it is; none for what comes by the calendar.
    pub after: Option<What>,
    /// The day from which it counts: the record that began it, or the last answer.
    pub base: NaiveDate,
    /// The how-manieth since then, from 1.
    pub count: u32,
    /// When it comes.
    pub opened: Opened,
}

impl Turn {
    fn by_warmth(after: What, base: NaiveDate, count: u32, on: NaiveDate) -> Self {
        let opened = Opened { on, by: By::Heat };
        Self {
            after: Some(after),
            base,
            count,
            opened,
        }
    }
}

/// The turn that has come and is not answered, else the next one that can be foreseen.
pub fn turn(subject: &Subject<'_>, step: &Step, repeat: &Repeat) -> Option<Turn> {
    match repeat {
        Repeat::Warmth(rules) => {
            let turns: Vec<Turn> = rules
                .iter()
                .filter_map(|rule| by_warmth(subject, step, rule))
                .collect();
            let come = |t: &&Turn| t.opened.on <= subject.warmth.moment.through;
            let latest = turns.iter().filter(come).max_by_key(|t| t.opened.on);
            latest
                .or_else(|| turns.iter().min_by_key(|t| t.opened.on))
                .copied()
        }
        Repeat::Days(every, above) => by_days(subject, step, *every, above.0),
    }
}

/// The next coming of a look by warmth: from which day it counts, the how-manieth since then, and the heat since grafting
/// at which it comes. None where its rule has not begun or has ended.
pub(super) fn next(
    facts: &Facts,
    warmth: &Warmth<'_>,
    step: &Step,
    rule: &Again,
) -> Option<(NaiveDate, u32, DegreeDays)> {
    let begun = facts
        .last(&[rule.after])
        .filter(|fact| !rule.under_half || fact.under_half())?;
    if has_ended(facts, rule) {
        return None;
    }
    let each = warmth.heat_of(rule.each).0;
    let answered = facts
        .last(&step.brings)
        .map_or(begun.date, |fact| fact.date.max(begun.date));
    if rule.once {
        let heat = DegreeDays(warmth.at_least(begun.date).0 + each);
        // Looking before its time does not do away with a look that was asked for.
        let waits = answered == begun.date || warmth.reaches(heat).is_none_or(|on| answered < on);
        return waits.then_some((begun.date, 1, heat));
    }
    let from = warmth.at_least(answered).0;
    let gathered = warmth.at_least(warmth.known_to()).0 - from;
    let turns = |heat: f64| ((heat / each) + 1e-9).floor();
    let last = rule
        .until_warmth
        .map_or(f64::INFINITY, |need| turns(warmth.heat_of(need).0 - from));
    let count = turns(gathered).max(1.0).min(last);
    (count >= 1.0).then_some((answered, count as u32, DegreeDays(from + count * each)))
}

/// Whether one of the records was written down that end a rule.
pub(super) fn has_ended(facts: &Facts, rule: &Again) -> bool {
    let given = |&what: &What| facts.answered_on(what).is_some();
    rule.until.iter().any(given)
}

fn by_warmth(subject: &Subject<'_>, step: &Step, rule: &Again) -> Option<Turn> {
    let (base, count, heat) = next(subject.facts, &subject.warmth, step, rule)?;
    let begun = subject.facts.last(&[rule.after])?.date;
    let through = subject.warmth.moment.through;
    let over = rule.season_above.and_then(|above| {
        let spring = spring_before(subject, begun);
        autumn_week(subject, spring, begun, above.0).filter(|&end| end <= through)
    });
    if over.is_some() {
        return None;
    }
    let on = subject.warmth.reaches(heat)?;
    Some(Turn::by_warmth(rule.after, base, count, on))
}

fn by_days(subject: &Subject<'_>, step: &Step, every: u32, above: f64) -> Option<Turn> {
    if subject.facts.first(&step.opens.unless).is_some() {
        return None;
    }
    let through = subject.warmth.moment.through;
    let begun = subject.anchor(step.opens.after)?;
    let answer = subject
        .facts
        .last(&step.brings)
        .map_or(begun, |fact| fact.date.max(begun));
    let spring = spring_before(subject, through.max(answer));
    let base = if answer >= spring {
        answer
    } else {
        subject.series.first_week(spring, |mean| mean >= above)?
    };
    let end = autumn_week(subject, spring, base, above).filter(|&end| end <= through);
    let passed = u32::try_from((through - base).num_days() / i64::from(every))
        .unwrap_or(0)
        .max(1);
    let on = base + Days::new((passed * every).into());
    if end.is_some() {
        return None;
    }
    Some(Turn {
        after: None,
        base,
        count: passed,
        opened: Opened {
            on,
            by: By::Calendar,
        },
    })
}

/// The end of the first week of the autumn after that spring, not before `from`, whose mean is below so many °C: the season is
/// over.
fn autumn_week(
    subject: &Subject<'_>,
    spring: NaiveDate,
    from: NaiveDate,
    above: f64,
) -> Option<NaiveDate> {
    let august = MonthDay { month: 8, day: 1 };
    let autumn = august.on_or_after(spring, subject.site.hemisphere());
    subject
        .series
        .first_week(autumn.max(from), |mean| mean < above)
}

/// The last 1 March (south 1 September) on or before `day`: the growing season begins after it.
fn spring_before(subject: &Subject<'_>, day: NaiveDate) -> NaiveDate {
    let march = MonthDay { month: 3, day: 1 };
    let hemisphere = subject.site.hemisphere();
    let this_year = march.in_year(day.year(), hemisphere);
    if this_year <= day {
        this_year
    } else {
        march.in_year(day.year() - 1, hemisphere)
    }
}
