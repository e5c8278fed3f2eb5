//! Once a week: late work that was told, limits that were passed, and callus that was seen to run on, of which nothing has
//! been written down since.
//!
//! It goes on the day of the weekly letter, so that nobody is reminded on several days of a week. What has stood for a month
//! goes with one of them a month, all of it together and with the way to end it.

use super::{Desk, Errand, errand, weekly};
use crate::care::{BatchCare, State, StepCare};
use crate::notices::decide::{anchor, last};
use crate::notices::notice::{Kind, Ledger};
use crate::nursery::What;
use chrono::{Datelike, Days, NaiveDate};

/// So many weeks are a month.
const MONTH: i64 = 4;
/// The word of the ledger for a reminder with what has stood for a month.
pub(super) const STANDING: &str = "standing";

/// What one person is reminded of.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reminder {
    /// Late steps, with the last day on which they were in time.
    pub late: Vec<Errand>,
    /// The work that would have ended a limit, with the day on which that was reached.
    pub limits: Vec<Errand>,
    /// What callus was seen to run on over scions, with that day, and the look after it that nobody has answered, with the
    /// day on which it was due.
    pub over_callused: Vec<Errand>,
    /// Any of these, of which nothing has been written down for a month; with the same days.
    pub standing: Vec<Errand>,
}

impl Reminder {
    /// All of it.
    pub fn errands(&self) -> impl Iterator<Item = &Errand> {
        [
            &self.late,
            &self.limits,
            &self.over_callused,
            &self.standing,
        ]
        .into_iter()
        .flatten()
    }
}

/// None but on the day of the weekly letter, and where nothing stands.
pub(super) fn digest(desk: &Desk<'_>, ledger: &Ledger) -> Option<Reminder> {
    weekly::first_day(desk)?;
    let today = desk.view.today;
    let told = ledger.of(Kind::Reminder, &desk.person.email);
    let monthly = told.iter().rfind(|told| told.step == STANDING);
    let is_month = monthly.is_none_or(|told| weeks(told.told_on, today) >= MONTH);
    let mut found = Reminder::default();
    for care in desk.open() {
        for (question, of, since) in questions(care, desk, ledger) {
            match (weeks(since, today), of) {
                (..1, _) => {}
                (MONTH.., _) if is_month => found.standing.push(question),
                (MONTH.., _) => {}
                (_, Of::Late) => found.late.push(question),
                (_, Of::Limit) => found.limits.push(question),
                (_, Of::OverCallused) => found.over_callused.push(question),
            }
        }
    }
    let says = found.errands().next().is_some();
    says.then_some(found)
}

/// Whether a step has been late for a month.
pub(super) fn is_standing(step: &StepCare<'_>, today: NaiveDate) -> bool {
    let closed = step.closes_on.filter(|_| step.state == State::Late);
    closed.is_some_and(|day| weeks(day, today) >= MONTH)
}

/// What a question is of.
#[derive(Clone, Copy)]
enum Of {
    Late,
    Limit,
    OverCallused,
}

/// What stands of a batch, of what it is, and since when nobody has answered it.
fn questions(
    care: &BatchCare<'_>,
    desk: &Desk<'_>,
    ledger: &Ledger,
) -> Vec<(Errand, Of, NaiveDate)> {
    let told = ledger.of(Kind::Late, &care.batch.name);
    let is_late = |step: &&StepCare<'_>| step.state == State::Late;
    let late = care.steps.iter().filter(is_late).filter_map(|step| {
        let told = last(told, &step.step.id, &anchor(care, Some(step)))?;
        let closed = step.closes_on.unwrap_or(told.on);
        let known = told.told_on < desk.view.today;
        known.then(|| (errand(care, &step.step.id, closed), Of::Late, told.told_on))
    });
    let mut found: Vec<_> = late.collect();
    let run_on = run_on(care, desk.view.today, ledger);
    let running = care.limit.filter(|limit| limit.running && run_on.is_none());
    let passed = running.and_then(|limit| {
        let day = limit.reached_on?;
        let step = care.step(&limit.limit.until)?;
        let known = day <= care.warmth.moment.through && step.state != State::Late;
        known.then(|| (errand(care, &step.step.id, day), Of::Limit, day))
    });
    found.extend(passed);
    found.extend(run_on);
    found
}

/// Callus that was seen to run on, of which we wrote: the work that there is to do about it, and then the look after it.
fn run_on(
    care: &BatchCare<'_>,
    today: NaiveDate,
    ledger: &Ledger,
) -> Option<(Errand, Of, NaiveDate)> {
    let work = care.over_callused().filter(|&seen| {
        let since = |words: &[What]| care.facts.last(words).is_some_and(|f| f.date >= seen);
        let ends = care.limit.and_then(|limit| care.step(&limit.limit.until));
        let headed = ends.is_some_and(|step| step.left() == 0);
        let looked = care.facts.last(&[What::Looked]);
        let answered = headed && since(&[What::TapeEased, What::TapeOff]);
        !answered && looked.is_none_or(|look| look.date <= seen)
    });
    if let Some(seen) = work {
        let limit = care.limit.map_or("over-callusing", |limit| &limit.limit.id);
        let told = ledger.of(Kind::OverCallused, &care.batch.name);
        let told = told.iter().find(|t| t.on == seen && t.told_on < today)?;
        let question = errand(care, limit, seen);
        return Some((question, Of::OverCallused, told.told_on));
    }
    let mut looks = care.steps.iter().filter(|step| step.state.is_due());
    let (look, seen) = looks.find_map(|step| Some((&step.step.id, care.ran_on(step)?)))?;
    let told = ledger.of(Kind::Opens, &care.batch.name);
    let told = told.iter().find(|t| t.step == look && t.on > seen)?;
    let question = errand(care, look, told.on);
    (told.told_on < today).then_some((question, Of::OverCallused, told.told_on))
}

/// How many Mondays lie after a day, up to another; none where that lies before it.
fn weeks(since: NaiveDate, day: NaiveDate) -> i64 {
    let monday = |day: NaiveDate| day - Days::new(day.weekday().num_days_from_monday().into());
    ((monday(day) - monday(since)).num_days() / 7).max(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::tests::season::{Season, maple, weekdays};
    use crate::notices::seasons::{enter, news_for};
    use crate::notices::{Diary, Digest};
    use crate::nursery::Person;

    fn maren() -> Person {
        Person::new("Maren Holt", "maren@alderfold.example")
    }

    /// Grafted on Wednesday 1 July 2026, a standard day a day: day 26 is a Monday, and the look and heading back were called late
    /// on day 22, tying in on day 29; the limit lies on day 24.
    fn summer() -> Season {
        maple().but(|s| s.workdays = weekdays())
    }

    /// The reminders of one person: day, what is late, what is past its limit, what has stood for a month.
    fn reminders(season: &Season, person: &Person, last: i64) -> Vec<String> {
        reminders_by(|_| season, person, last)
    }

    /// The same, where the season stands each day as given.
    fn reminders_by<'s>(
        season: impl Fn(i64) -> &'s Season,
        person: &Person,
        last: i64,
    ) -> Vec<String> {
        let (mut ledger, mut told, mut rounds) = (Ledger::default(), Vec::new(), Vec::new());
        for n in 1..=last {
            let season = season(n);
            let diary = Diary {
                rounds: &rounds,
                ..Diary::default()
            };
            let people = std::slice::from_ref(person);
            for notice in news_for(season, n, &ledger, &[], people, diary) {
                enter(&mut ledger, &notice, season.day(n));
                if let Some(Digest::Reminder(found)) = &notice.digest {
                    let named = |errands: &[Errand]| {
                        let day = |e: &Errand| (e.on - season.day(0)).num_days();
                        let one = |e: &Errand| format!("{} {}", e.step, day(e));
                        errands.iter().map(one).collect::<Vec<_>>().join(", ")
                    };
                    let all = [&found.late, &found.limits, &found.standing].map(|e| named(e));
                    let run_on = named(&found.over_callused);
                    if !run_on.is_empty() {
                        told.push(format!("{n}: run on: {run_on}"));
                    }
                    told.push(format!("{n}: {}", all.join(" | ")));
                }
            }
            rounds.push(season.day(n));
        }
        told
    }

    /// What ran on, of these lines.
    fn run_on_of(mut told: Vec<String>) -> Vec<String> {
        told.retain(|line| line.contains("run on"));
        told
    }

    #[test]
    fn what_nobody_answers_comes_once_a_week_and_after_a_month_once_a_month() {
        assert_eq!(
            reminders(&summer(), &maren(), 110),
            [
                "26: callus-check 21, head-back 21 |  | ",
                "33: callus-check 21, head-back 21, tape-off 28 |  | ",
                "40: callus-check 21, head-back 21, tape-off 28 |  | ",
                "47: tape-off 28 |  | callus-check 21, head-back 21",
                "75:  |  | callus-check 21, head-back 21, tape-off 28",
                "103:  |  | callus-check 21, head-back 21, tape-off 28",
            ]
        );
    }

    #[test]
    fn what_is_written_down_is_not_asked_about() {
        let answered = summer().records("27 lines, 27 headed-back, 34 tape-off");
        assert_eq!(
            reminders(&answered, &maren(), 110),
            [
                "26: callus-check 21, head-back 21 |  | ",
                "33: tape-off 28 |  | "
            ]
        );
        let closed = summer().records("48 closed");
        assert_eq!(reminders(&closed, &maren(), 110).len(), 4);
    }

    #[test]
    fn a_limit_that_was_passed_is_asked_about_while_its_work_is_still_in_time() {
        let season = summer().but(|s| {
            let head_back = s.plan.steps.iter_mut().find(|s| s.id == "head-back");
            head_back.unwrap().closes = None;
        });
        assert_eq!(
            reminders(&season, &maren(), 47),
            [
                "26: callus-check 21 | head-back 24 | ",
                "33: callus-check 21, tape-off 28 | head-back 24 | ",
                "40: callus-check 21, tape-off 28 | head-back 24 | ",
                "47: tape-off 28 |  | callus-check 21, head-back 24",
            ]
        );
    }

    /// Seen on day 20, a Tuesday; headed back before it. Of the work there is to do about it nothing is written down, then
    /// of the look three standard days after it.
    #[test]
    fn what_ran_on_is_asked_about_until_it_is_done_and_looked_at_again() {
        let run_on = |records: &str| {
            let before = "15 lines, 16 headed-back, 20 over-callused";
            let season = summer().records(&format!("{before}{records}"));
            run_on_of(reminders(&season, &maren(), 41))
        };
        let work = ["26", "33", "40"].map(|n| format!("{n}: run on: over-callusing 20"));
        assert_eq!(run_on(""), work);
        let look = ["33", "40"].map(|n| format!("{n}: run on: look-again 23"));
        assert_eq!(run_on(", 21 tape-eased"), look[..]);
        assert_eq!(run_on(", 21 tape-eased, 26 looked"), [""; 0]);
        assert_eq!(run_on(", 24 looked"), [""; 0]);
    }

    /// Seen on day 20, and written down on day 45 or 50.
    #[test]
    fn what_ran_on_and_was_written_down_late_is_asked_about_from_then_on() {
        let unwritten = summer().records("15 lines, 16 headed-back");
        let written = summer().records("15 lines, 16 headed-back, 20 over-callused");
        let from = |first: i64| {
            let season = |n| if n < first { &unwritten } else { &written };
            run_on_of(reminders_by(season, &maren(), 70))
        };
        let weekly = ["47", "54", "61"];
        assert_eq!(
            from(45),
            weekly.map(|n| format!("{n}: run on: over-callusing 20"))
        );
        assert_eq!(from(50), [""; 0], "it was told nowhere");
    }

    #[test]
    fn it_comes_on_the_first_working_day_of_the_persons_own_week() {
        let mut away = maren();
        away.off.push((summer().day(26), summer().day(27)));
        let first = |person: &Person| reminders(&summer(), person, 30);
        assert_eq!(first(&away), ["28: callus-check 21, head-back 21 |  | "]);
        assert_eq!(first(&maren()), ["26: callus-check 21, head-back 21 |  | "]);
    }

    #[test]
    fn nobody_is_reminded_of_others_blocks_or_of_work_they_do_not_take() {
        let mut other = maren();
        other.blocks = vec!["A".into()];
        assert_eq!(reminders(&summer(), &other, 60), Vec::<String>::new());
        let mut urgent = maren();
        urgent.gets = vec![crate::nursery::Gets::Urgent];
        assert_eq!(reminders(&summer(), &urgent, 60), Vec::<String>::new());
    }
}
