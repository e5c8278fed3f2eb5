//! Questions about a series of daily readings: how much heat from one day to another, and when an amount is reached.
//!
//! Both ends of a question are included. A question over a day that is missing has no heat for an answer. Knows nothing
//! of files, units of writing or the command line.

use super::curve::Extremes;
use super::totals::{Totals, Trust, Warm};
use crate::nursery::{Cutoff, Method, Model};
use crate::units::DegreeDays;
use chrono::{Days, NaiveDate};
use std::collections::{BTreeMap, HashMap};

/// The readings of a series by date.
pub type Series = BTreeMap<NaiveDate, Extremes>;

/// What is asked of a series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// The first day that counts.
    pub from: NaiveDate,
    /// The last day that counts; no day counts where it lies before `from`.
    pub to: NaiveDate,
    /// The heat whose day is wanted, in the unit of the method; finite and above 0.
    pub need: Option<f64>,
    /// How heat is reckoned.
    pub model: Model,
}

/// What the series says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Answer {
    /// How many days were asked about.
    pub days: u32,
    /// How many of them are missing.
    pub missing: u32,
    /// The heat in the unit of the method; none where any day is missing.
    pub heat: Option<f64>,
    /// The day at whose end the need was met; none where that is not before the end or the first missing day.
    pub reached_on: Option<NaiveDate>,
    /// The last day reckoned, where a double method had to use the single curve on it: tomorrow's minimum is missing.
    pub single_on: Option<NaiveDate>,
}

/// Answers one question.
///
/// ```
/// use graftwarden::heat::{Extremes, ask};
/// use graftwarden::nursery::{Cutoff, Method, Model};
/// // Iowa State University, Agronomy 541, lesson 2b: a day of 50 to 70 °F has 10 °F·d above 50 °F.
/// let (min, max, base) = (10.0, 190.0 / 9.0, 10.0);
/// let day = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
/// let (from, to) = (day("2026-07-01"), day("2026-07-03"));
/// let series = from.iter_days().take(3).map(|date| (date, Extremes { min, max })).collect();
/// let model = Model::new(Method::Average, Cutoff::None, base, None, None).unwrap();
/// let answer = ask::answer(&series, &ask::Question { from, to, need: Some(20.0 / 1.8), model });
/// assert!((answer.heat.unwrap() * 1.8 - 30.0).abs() < 1e-9);
/// assert_eq!(answer.reached_on, Some(day("2026-07-02")));
/// ```
pub fn answer(series: &Series, question: &Question) -> Answer {
    let totals = totals_for(series, &question.model, question.from, question.to);
    reply(&totals, question)
}

/// Answers many questions on one series, in their order; each model's totals are built only once.
pub fn answers(series: &Series, questions: &[Question]) -> Vec<Answer> {
    let mut alike: HashMap<Key, Vec<usize>> = HashMap::new();
    for (place, question) in questions.iter().enumerate() {
        alike.entry(key(&question.model)).or_default().push(place);
    }
    let mut replies: Vec<(usize, Answer)> = Vec::with_capacity(questions.len());
    for places in alike.into_values() {
        let asked = || places.iter().map(|&place| &questions[place]);
        let from = asked().map(|question| question.from).min();
        let to = asked().map(|question| question.to).max();
        if let (Some(first), Some(from), Some(to)) = (asked().next(), from, to) {
            let totals = totals_for(series, &first.model, from, to);
            replies.extend(
                places
                    .iter()
                    .map(|&place| (place, reply(&totals, &questions[place]))),
            );
        }
    }
    replies.sort_unstable_by_key(|&(place, _)| place);
    replies.into_iter().map(|(_, answer)| answer).collect()
}

/// What tells one model from another, in a form that can be looked up.
type Key = (Method, Cutoff, u64, Option<u64>, Option<u64>);

fn key(model: &Model) -> Key {
    (
        model.method,
        model.cutoff,
        model.base.to_bits(),
        model.optimum.map(f64::to_bits),
        model.upper.map(f64::to_bits),
    )
}

/// Totals over what the series has of `from` to the day after `to`, whose minimum the double methods use.
fn totals_for(series: &Series, model: &Model, from: NaiveDate, to: NaiveDate) -> Totals {
    let end = to.checked_add_days(Days::new(1)).unwrap_or(to);
    let bounds = series.first_key_value().zip(series.last_key_value());
    let Some(((&first, _), (&last, _))) = bounds else {
        return Totals::new(model, from, &[]);
    };
    let (first, last) = (first.max(from), last.min(end));
    if last < first {
        return Totals::new(model, from, &[]);
    }
    let index = |date: NaiveDate| (date - first).num_days() as usize;
    let mut days = vec![None; index(last) + 1];
    for (&date, &Extremes { min, max }) in series.range(first..=last) {
        let trust = Trust::Known;
        days[index(date)] = Some(Warm { min, max, trust });
    }
    Totals::new(model, first, &days)
}

fn reply(totals: &Totals, question: &Question) -> Answer {
    let Question {
        from,
        to,
        need,
        model,
    } = *question;
    // Totals count from the end of the day before. The calendar's very first date has none; no series holds it.
    let before = from.pred_opt().unwrap_or(from);
    let days = (to - before).num_days().max(0) as u32;
    let missing = totals.unknown(before, to);
    let whole = |upto: &NaiveDate| *upto <= to && totals.unknown(before, *upto) == 0;
    Answer {
        days,
        missing,
        heat: totals.since(before, to).map(|heat| heat.0),
        reached_on: need
            .and_then(|need| totals.reached(before, DegreeDays(need)))
            .map(|day| day.max(from))
            .filter(whole),
        single_on: model
            .method
            .is_double()
            .then(|| last_reckoned(totals, before, to))
            .flatten()
            .filter(|day| {
                day.succ_opt()
                    .and_then(|next| totals.trust_of(next))
                    .is_none()
            }),
    }
}

/// The last day after `before` up to `to` with no missing day on the way to it.
fn last_reckoned(totals: &Totals, before: NaiveDate, to: NaiveDate) -> Option<NaiveDate> {
    let asked = (to - before).num_days().max(0) as u64;
    let (mut whole, mut broken) = (0, asked + 1);
    while broken - whole > 1 {
        let middle = u64::midpoint(whole, broken);
        let day = before.checked_add_days(Days::new(middle))?;
        if totals.unknown(before, day) == 0 {
            whole = middle;
        } else {
            broken = middle;
        }
    }
    (whole > 0)
        .then(|| before.checked_add_days(Days::new(whole)))
        .flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn model(method: Method) -> Model {
        Model::new(method, Cutoff::None, 5.0, None, None).unwrap()
    }

    /// Ten days from 1 July 2026 of 15 °C·d each, the seventh missing.
    fn series() -> Series {
        let (min, max) = (12.0, 28.0);
        let missing = date("2026-07-07");
        date("2026-07-01")
            .iter_days()
            .take(10)
            .filter(|&day| day != missing)
            .map(|day| (day, Extremes { min, max }))
            .collect()
    }

    fn ask(from: &str, to: &str, need: Option<f64>, method: Method) -> Question {
        Question {
            from: date(from),
            to: date(to),
            need,
            model: model(method),
        }
    }

    #[track_caller]
    fn check(
        question: Question,
        (days, missing): (u32, u32),
        heat: Option<f64>,
        reached_on: Option<&str>,
        single_on: Option<&str>,
    ) {
        let expected = Answer {
            days,
            missing,
            heat,
            reached_on: reached_on.map(date),
            single_on: single_on.map(date),
        };
        assert_eq!(answer(&series(), &question), expected);
    }

    #[test]
    fn both_ends_count() {
        let question = ask("2026-07-01", "2026-07-03", Some(45.0), Method::SingleSine);
        check(question, (3, 0), Some(45.0), Some("2026-07-03"), None);
        let question = ask("2026-07-02", "2026-07-02", Some(15.0), Method::SingleSine);
        check(question, (1, 0), Some(15.0), Some("2026-07-02"), None);
    }

    #[test]
    fn a_need_met_after_the_end_is_not_met() {
        let question = ask("2026-07-01", "2026-07-03", Some(46.0), Method::SingleSine);
        check(question, (3, 0), Some(45.0), None, None);
    }

    #[test]
    fn a_missing_day_leaves_the_heat_unknown_but_not_what_came_before() {
        let question = ask("2026-07-04", "2026-07-09", Some(45.0), Method::SingleSine);
        check(question, (6, 1), None, Some("2026-07-06"), None);
        let question = ask("2026-07-04", "2026-07-09", Some(46.0), Method::SingleSine);
        check(question, (6, 1), None, None, None);
    }

    #[test]
    fn days_outside_the_series_are_missing() {
        let question = ask("2026-06-29", "2026-07-02", Some(15.0), Method::SingleSine);
        check(question, (4, 2), None, None, None);
        let question = ask("2026-07-09", "2026-07-12", Some(30.0), Method::SingleSine);
        check(question, (4, 2), None, Some("2026-07-10"), None);
        let question = ask("2025-01-01", "2025-01-31", None, Method::SingleSine);
        check(question, (31, 31), None, None, None);
    }

    #[test]
    fn a_question_that_ends_before_it_begins_is_about_no_days() {
        let question = ask("2026-07-05", "2026-07-01", Some(15.0), Method::SingleSine);
        check(question, (0, 0), Some(0.0), None, None);
    }

    #[test]
    fn a_double_method_says_where_it_used_the_single_curve() {
        let double = Method::DoubleSine;
        let question = ask("2026-07-01", "2026-07-03", None, double);
        check(question, (3, 0), Some(45.0), None, None);
        let question = ask("2026-07-01", "2026-07-06", None, double);
        check(question, (6, 0), Some(90.0), None, Some("2026-07-06"));
        let question = ask("2026-07-01", "2026-07-10", None, double);
        check(question, (10, 1), None, None, Some("2026-07-06"));
        let question = ask("2026-07-08", "2026-07-10", None, double);
        check(question, (3, 0), Some(45.0), None, Some("2026-07-10"));
        let question = ask("2026-07-07", "2026-07-10", None, double);
        check(question, (4, 1), None, None, None);
    }

    #[test]
    fn an_empty_series_has_no_answers() {
        let question = ask("2026-07-01", "2026-07-02", Some(1.0), Method::Average);
        let answer = answer(&Series::new(), &question);
        assert_eq!((answer.days, answer.missing, answer.heat), (2, 2, None));
    }

    #[test]
    fn many_questions_are_answered_in_their_order_and_as_if_alone() {
        let methods = [Method::Average, Method::DoubleSine, Method::SingleTriangle];
        let spans = [
            ("2026-07-08", "2026-07-10"),
            ("2026-07-01", "2026-07-05"),
            ("2026-06-01", "2026-07-20"),
            ("2026-07-03", "2026-07-03"),
        ];
        let questions: Vec<Question> = spans
            .iter()
            .flat_map(|(from, to)| methods.map(|method| ask(from, to, Some(40.0), method)))
            .collect();
        let alone: Vec<Answer> = questions
            .iter()
            .map(|question| answer(&series(), question))
            .collect();
        assert_eq!(answers(&series(), &questions), alone);
        let heats: Vec<Option<f64>> = alone.iter().map(|answer| answer.heat).step_by(3).collect();
        assert_eq!(heats, [Some(45.0), Some(75.0), None, Some(15.0)]);
    }
}
