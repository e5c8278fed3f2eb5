//! What "not yet" is told: until when the work is in time, and when it is told again.
//!
//! By the days measured or forecast where they reach the close, else by the outlook, as other letters say it.

use crate::care::{BatchCare, StepCare};
use crate::letters::letter::{Asked, Context};
use crate::letters::words::{capital, count_of, day_near};
use chrono::NaiveDate;

/// What of the letter's work waits, until when, and when it is told again.
///
/// A paragraph for each step of the letter: "not yet" is said of all of them, which does no harm.
pub(super) fn not_yet(asked: &[Asked], context: &Context<'_>) -> Vec<String> {
    let said = asked.iter().filter_map(|one| of_step(one, context));
    let said: Vec<String> = said.collect();
    if said.is_empty() {
        return vec!["What is open is told again before it closes.".into()];
    }
    said
}

fn of_step(asked: &Asked, context: &Context<'_>) -> Option<String> {
    let cares = asked.batches.iter().filter_map(|b| context.named.get(b));
    let steps: Vec<_> = cares
        .filter_map(|care| Some((care, care.step(&asked.step)?)))
        .collect();
    let (_, first) = steps.first()?;
    let title = capital(&first.step.title);
    let waiting: Vec<_> = steps
        .into_iter()
        .filter(|(care, step)| care.is_open() && !step.state.is_past())
        .collect();
    if waiting.is_empty() {
        return Some(format!("{title}: nothing of it waits any more."));
    }
    let of = count_of(waiting.len() as u32, "batch");
    Some(format!("{title} ({of}): {}.", again(&waiting, context)))
}

fn again(waiting: &[(&BatchCare<'_>, &StepCare<'_>)], context: &Context<'_>) -> String {
    let day = |day: NaiveDate| day_near(day, context.today);
    let known = waiting.iter().filter_map(|(_, step)| step.closes_on).min();
    match known {
        Some(on) if on < context.today => {
            return format!("it was due by {}, and is told again each week", day(on));
        }
        Some(on) => {
            return format!(
                "it is in time to {}, and is told again on the last working day before that",
                day(on)
            );
        }
        None => {}
    }
    let closes = waiting
        .iter()
        .filter_map(|(care, step)| context.outlook.closes(care, step));
    let middle = closes.filter_map(|f| Some((f.band.p50?.max(context.today), f.rough)));
    let about = match middle.min() {
        Some((on, true)) => format!("roughly {}", day(on)),
        Some((on, false)) => format!("about {}, by the years before", day(on)),
        None => return "it stays open".into(),
    };
    format!(
        "it is in time to {about}. It is told again on the last working day before it closes where a forecast shows that day, else once it is late"
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::tests::season::{Season, maple};
    use crate::days::PastYears;
    use crate::letters::tests::seen_by;

    #[track_caller]
    fn check(season: &Season, n: i64, expect: &str) {
        let asked = Asked {
            step: "callus-check".into(),
            batches: vec!["C-14".into()],
        };
        let said = seen_by(season, n, |context| not_yet(&[asked], context));
        assert_eq!(said, [expect]);
    }

    /// Three whole years at 20 °C.
    fn years_before() -> PastYears {
        let mut past = PastYears::default();
        for year in 2023..=2025 {
            let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
            for day in first.iter_days().take(365) {
                past.add(year, day, 20.0, 20.0);
            }
        }
        past
    }

    /// Standard days of 15 °C·d: 21 of them are over on 22 July.
    #[test]
    fn it_says_until_when_and_when_it_is_told_again() {
        check(
            &maple(),
            15,
            "Look for callus lines (1 batch): it is in time to Wed 22 Jul, and is told again on the last working day before that.",
        );
        let blind = maple().without_forecast();
        check(
            &blind,
            15,
            "Look for callus lines (1 batch): it is in time to roughly Wed 22 Jul. It is told again on the last working day before it closes where a forecast shows that day, else once it is late.",
        );
        check(
            &maple().without_forecast().but(|s| s.past = years_before()),
            15,
            "Look for callus lines (1 batch): it is in time to about Wed 22 Jul, by the years before. It is told again on the last working day before it closes where a forecast shows that day, else once it is late.",
        );
        check(
            &blind,
            30,
            "Look for callus lines (1 batch): it was due by Wed 22 Jul, and is told again each week.",
        );
    }

    #[test]
    fn what_was_done_meanwhile_does_not_wait() {
        check(
            &maple().records("15 lines"),
            16,
            "Look for callus lines: nothing of it waits any more.",
        );
    }
}
