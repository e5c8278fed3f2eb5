//! What goes wrong if nobody acts: the limit of over-callusing, and spells of heat. In their plain form, from known
//! days and forecast.
//!
//! A risk is a finding, not yet a notice: whether it is news is decided in `notices`.

use super::BatchCare;
use super::steps::{State, StepCare};
use super::windows::Subject;
use crate::days::{Day, Series};
use crate::nursery::{Limit, Plan, Vigour};
use crate::units::DegreeDays;
use chrono::{Days, NaiveDate};

/// Where a batch stands against its limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitCare<'a> {
    /// The limit.
    pub limit: &'a Limit,
    /// The day on which it is reached, by known days and forecast; none while that cannot be foreseen.
    pub reached_on: Option<NaiveDate>,
    /// `ahead` until reached, `late` from then on, `done` or `passed-over` with the step that ends the risk.
    pub state: State,
    /// Whether the batch is past the opening of the step from which the risk counts, and not past the one that ends it.
    pub running: bool,
}

/// Where the batch stands against the limit of its plan.
pub fn limit<'p>(
    subject: &Subject<'_>,
    plan: &'p Plan,
    steps: &[StepCare<'_>],
) -> Option<LimitCare<'p>> {
    let limit = plan.limit.as_ref()?;
    let warmth = subject.warmth;
    let sooner = if subject.batch.vigour == Vigour::Strong {
        warmth.heat_of(limit.strong_sooner).0
    } else {
        0.0
    };
    let heat = subject.callus_lines().0 + warmth.heat_of(limit.warmth).0 - sooner;
    let reached_on = warmth.reaches(DegreeDays(heat));
    let state_of = |id: &str| {
        steps
            .iter()
            .find(|s| s.step.id == id)
            .map_or(State::Ahead, |s| s.state)
    };
    let (from, until) = (state_of(&limit.from), state_of(&limit.until));
    let state = match until {
        State::Done | State::PassedOver => until,
        _ if reached_on.is_some_and(|day| day <= warmth.moment.through) => State::Late,
        _ => State::Ahead,
    };
    Some(LimitCare {
        limit,
        reached_on,
        state,
        running: from != State::Ahead && !until.is_past(),
    })
}

/// How hot a spell is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// Two days at 32 °C.
    Hot,
    /// 35 °C.
    VeryHot,
    /// 38 °C: hurts the union, even on a single day.
    Injury,
}

impl Level {
    /// Every level.
    pub const ALL: [Self; 3] = [Self::Hot, Self::VeryHot, Self::Injury];

    /// The word used in letters and in `--json`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Hot => "hot",
            Self::VeryHot => "very hot",
            Self::Injury => "injury",
        }
    }

    /// The level of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|l| l.name() == name)
    }

    /// The maximum in °C from which a day is of this level. Common practice, after what is told of callus in
    /// Hartmann & Kester (memory) and Bioletti: soft from 29, injured above 32, killed at 40.
    fn from(self) -> f64 {
        match self {
            Self::Hot => 32.0,
            Self::VeryHot => 35.0,
            Self::Injury => 38.0,
        }
    }
}

/// A spell of heat: adjoining days, measured or forecast.
#[derive(Clone, Debug, PartialEq)]
pub struct Spell {
    /// Its first day.
    pub first: NaiveDate,
    /// Its last day so far.
    pub last: NaiveDate,
    /// Its hottest maximum in °C.
    pub hottest: f64,
    /// How hot it is.
    pub level: Level,
    /// The day at whose end it is of that level.
    pub on: NaiveDate,
    /// The batches whose unions it touches.
    pub batches: Vec<String>,
}

/// A spell that ended more than this many days ago is no news.
const NEWS_FOR: u64 = 3;

/// The spells that are on, foretold or just over, without the batches they touch.
pub fn spells(series: &Series, today: NaiveDate) -> Vec<Spell> {
    let Some(since) = today.checked_sub_days(Days::new(NEWS_FOR)) else {
        return Vec::new();
    };
    let hot = series
        .run()
        .iter()
        .flatten()
        .filter(|d| d.max >= Level::Hot.from());
    let hot: Vec<&Day> = hot.collect();
    hot.chunk_by(|a, b| a.date.succ_opt() == Some(b.date))
        .filter(|run| run[run.len() - 1].date >= since)
        .filter_map(spell)
        .collect()
}

fn spell(run: &[&Day]) -> Option<Spell> {
    let hottest = run.iter().map(|d| d.max).fold(f64::MIN, f64::max);
    if run.len() < 2 && hottest < Level::Injury.from() {
        return None;
    }
    let level = *Level::ALL.iter().rev().find(|l| hottest >= l.from())?;
    let reached = run.iter().find(|d| d.max >= level.from())?.date;
    // A spell is one from its second day on, or from a day of injury.
    let on = if level == Level::Injury {
        reached
    } else {
        reached.max(run[1].date)
    };
    Some(Spell {
        first: run[0].date,
        last: run[run.len() - 1].date,
        hottest,
        level,
        on,
        batches: Vec::new(),
    })
}

/// Whether the spell falls between the opening of the sensitive span of the batch and its end.
pub fn touches(spell: &Spell, care: &BatchCare<'_>) -> bool {
    let Some(sensitive) = &care.plan.sensitive else {
        return false;
    };
    let step = |id: &str| care.steps.iter().find(|s| s.step.id == id);
    let began = step(&sensitive.from)
        .and_then(|s| s.opened)
        .is_some_and(|o| o.on <= spell.last);
    let over = step(&sensitive.until).is_none_or(|s| s.state.is_past());
    care.is_open() && began && !over
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::days::{Origin, RawDay, SourceDays};

    fn day(n: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 8, n).unwrap()
    }

    #[track_caller]
    fn check(maxima: &[f64], expected: &[(u32, u32, Level, u32)]) {
        let days = (1..)
            .zip(maxima)
            .map(|(n, &max)| RawDay {
                date: day(n),
                min: 18.0,
                max,
                gust: None,
                rain: None,
                origin: Origin::Measured,
            })
            .collect();
        let (series, _) = Series::by_usual_rules(
            "home",
            &[SourceDays {
                source: "file".into(),
                days,
            }],
        );
        let found: Vec<_> = spells(&series, day(4))
            .into_iter()
            .map(|s| (s.first, s.last, s.level, s.on))
            .collect();
        let expected: Vec<_> = expected
            .iter()
            .map(|&(a, b, level, on)| (day(a), day(b), level, day(on)))
            .collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn two_adjoining_days_are_a_spell_and_one_is_not() {
        check(&[31.0, 32.0, 33.0, 30.0], &[(2, 3, Level::Hot, 3)]);
        check(&[31.0, 36.0, 31.9, 32.0], &[]);
    }

    #[test]
    fn a_single_day_of_injury_counts_always() {
        check(&[30.0, 38.0, 30.0], &[(2, 2, Level::Injury, 2)]);
    }

    #[test]
    fn the_level_is_that_of_the_hottest_day_and_dated_by_it() {
        check(&[32.0, 33.0, 35.5, 34.0], &[(1, 4, Level::VeryHot, 3)]);
        check(&[35.5, 33.0], &[(1, 2, Level::VeryHot, 2)]);
    }

    #[test]
    fn a_spell_long_over_is_no_news() {
        let maxima = [33.0, 33.0, 20.0, 20.0, 20.0, 20.0];
        let days = (1..)
            .zip(maxima)
            .map(|(n, max)| RawDay {
                date: day(n),
                min: 18.0,
                max,
                gust: None,
                rain: None,
                origin: Origin::Measured,
            })
            .collect();
        let (series, _) = Series::by_usual_rules(
            "home",
            &[SourceDays {
                source: "file".into(),
                days,
            }],
        );
        assert_eq!(spells(&series, day(5)).len(), 1);
        assert_eq!(spells(&series, day(6)).len(), 0);
    }
}
