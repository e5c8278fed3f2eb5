//! Once a week: that all is well, or what is not, and the fortnight to come. Silence is then never ambiguous.

use super::super::notice::{Ledger, Notice};
use super::{Coming, Desk, Errand, SiteSpan, catch_up, errand, reminder};
use crate::care::{
    BatchCare, DayLoad, FORTNIGHT, Spell, State, is_sensitive, soft_spells, workload,
};
use chrono::{Datelike, Days, NaiveDate};

/// So far ahead the weekly letter looks.
const AHEAD: Days = Days::new(14);
/// A limit that is so near presses.
const PRESSING: Days = Days::new(3);
/// Grafting goes on where the last grafts are no older.
const GOES_ON: Days = Days::new(14);

/// What one person is told once a week.
#[derive(Clone, Debug, PartialEq)]
pub struct Weekly {
    /// Nothing is late, urgent or pressing, the days are known, and all could be read, fetched and sent.
    pub well: bool,
    /// How many batches of theirs are open.
    pub batches: u32,
    /// How many grafts are alive in these.
    pub grafts: u32,
    /// The weather of the last seven days.
    pub sites: Vec<SiteSpan>,
    /// What is due now, in the order in which one walks, with the last day it is in time.
    pub due: Vec<Errand>,
    /// How many of these are late.
    pub late: u32,
    /// The batches that are at their limit or come to it within three days, their stock not headed back, and the day.
    pub pressing: Vec<Errand>,
    /// How many things stand that could not be read, fetched or sent.
    pub troubles: u32,
    /// What may open within two weeks.
    pub coming: Vec<Coming>,
    /// Grafts and crew hours of the fortnight, day by day.
    pub work: Vec<DayLoad>,
    /// Days to come at which callus is soft though they are no spell, by site.
    pub soft: Vec<(String, Spell)>,
    /// Where grafting goes on, and by which care plan: the last of the site's.
    pub grafting: Vec<(String, String)>,
    /// The next that comes after that, where nothing does within two weeks.
    pub next: Option<Coming>,
}

/// None but on the day of the week on which it goes.
pub(super) fn digest(desk: &Desk<'_>, ledger: &Ledger, told: &[Notice]) -> Option<Weekly> {
    let today = first_day(desk)?;
    let yesterday = today.pred_opt()?;
    let due: Vec<Errand> = desk
        .due()
        .map(|(care, step)| {
            errand(
                care,
                &step.step.id,
                step.in_time_to(today).unwrap_or(NaiveDate::MAX),
            )
        })
        .collect();
    let due = desk.walk(due, desk.early(ledger, told));
    let alarm = told.iter().any(|n| n.urgent);
    let late = desk
        .due()
        .filter(|(_, step)| step.state == State::Late)
        .count() as u32;
    let any_late = desk
        .due_or_standing()
        .any(|(_, step)| step.state == State::Late);
    let runs_on =
        reminder::digest(desk, ledger).is_some_and(|found| !found.over_callused.is_empty());
    let presses = |care: &BatchCare<'_>| {
        let limit = care.limit.filter(|limit| limit.running)?;
        let by = desk.view.outlook.act_before_limit(care)?;
        (by.on <= today + PRESSING).then(|| errand(care, &limit.limit.id, by.on))
    };
    let coming = desk.coming(today + AHEAD);
    let next = if coming.is_empty() {
        desk.coming(NaiveDate::MAX).into_iter().next()
    } else {
        None
    };
    let pressing: Vec<Errand> = desk.open().filter_map(presses).collect();
    let troubles = desk.view.problems.len() as u32;
    let sites = catch_up::site_spans(desk, today - Days::new(7), yesterday);
    let days_known = sites.iter().all(|site| site.unknown == 0);
    let alive = desk.open().map(|care| care.facts.alive());
    Some(Weekly {
        well: !(any_late || alarm || runs_on) && troubles == 0 && pressing.is_empty() && days_known,
        batches: desk.open().count() as u32,
        grafts: alive.fold(0, u32::saturating_add),
        sites,
        due,
        late,
        pressing,
        troubles,
        coming,
        work: workload(
            desk.open(),
            desk.view.outlook,
            &desk.workdays,
            today,
            FORTNIGHT,
        ),
        soft: soft(desk),
        grafting: grafting(desk),
        next,
    })
}

/// Today, where it is this person's first working day of the week, or the next with a round where there was none on it.
pub(super) fn first_day(desk: &Desk<'_>) -> Option<NaiveDate> {
    let today = desk.view.today;
    let monday = today - Days::new(today.weekday().num_days_from_monday().into());
    let first = desk.workdays.first_from(monday)?;
    let is_it = first == today || (first < today && is_made_up_for(desk, first));
    is_it.then_some(today)
}

/// Whether the program, which ran before, has not run since that day on any on which this person works.
fn is_made_up_for(desk: &Desk<'_>, first: NaiveDate) -> bool {
    let rounds = desk.view.diary.rounds;
    let since = |day: &NaiveDate| *day >= first && desk.workdays.works(*day);
    rounds.iter().any(|day| *day < first) && !rounds.iter().any(since)
}

/// Soft days while unions of theirs are callusing or in tape.
fn soft(desk: &Desk<'_>) -> Vec<(String, Spell)> {
    let soft = desk.view.grounds.iter().flat_map(|g| {
        let concerned = |spell: &Spell| {
            let mut here = desk.open_on(&g.site.id);
            here.any(|care| is_sensitive(care, spell.last))
        };
        let spells = soft_spells(g).into_iter().filter(concerned);
        let named = |spell| (g.site.id.clone(), spell);
        spells.map(named).collect::<Vec<_>>()
    });
    soft.collect()
}

fn grafting(desk: &Desk<'_>) -> Vec<(String, String)> {
    let last = |site| {
        let last = desk
            .open_on(site)
            .max_by_key(|care| care.batch.grafted_on)?;
        let goes_on = last.batch.grafted_on + GOES_ON >= desk.view.today;
        goes_on.then(|| (site.to_owned(), last.plan.name.clone()))
    };
    let sites = desk.view.grounds.iter().map(|g| g.site.id.as_str());
    sites.filter_map(last).collect()
}
