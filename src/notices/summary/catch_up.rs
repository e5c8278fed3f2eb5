//! After days off, or after the program was down: what happened meanwhile, and what is to be done today.

use super::super::notice::{Ledger, Notice};
use super::{Desk, Errand, Unsent, errand};
use crate::care::{Ground, State, standard_day};
use crate::days::Origin;
use crate::units::StandardDays;
use chrono::{Days, NaiveDate, NaiveDateTime};
use std::collections::BTreeMap;

/// What one person is told after days off.
#[derive(Clone, Debug, PartialEq)]
pub struct CatchUp {
    /// The last day before on which they worked and a round was walked: what is told happened from then on.
    pub since: NaiveDate,
    /// The weather at each of their sites with open batches, from `since` to yesterday.
    pub sites: Vec<SiteSpan>,
    /// What opened meanwhile and is not done, with the day.
    pub opened: Vec<Errand>,
    /// What ran out meanwhile and is not done, with its last day.
    pub late: Vec<Errand>,
    /// Limits reached meanwhile, with the day.
    pub limits: Vec<Errand>,
    /// When the program was down meanwhile.
    pub down: Vec<(NaiveDateTime, NaiveDateTime)>,
    /// Letters of these days that did not get out.
    pub unsent: Vec<Unsent>,
    /// Everything that is due today, in the order in which one walks, with the last day it is in time.
    pub today: Vec<Errand>,
}

/// The weather of some days at one site.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteSpan {
    /// The site.
    pub site: String,
    /// How many days.
    pub days: u32,
    /// Heat of these days by the plan that most batches there have; at least, where days are unknown.
    pub standard_days: StandardDays,
    /// The hottest maximum in °C, and its day.
    pub hottest: Option<(NaiveDate, f64)>,
    /// How many of the days were put in.
    pub filled: u32,
    /// How many of the days nothing is known of.
    pub unknown: u32,
}

/// None on a day that follows a working day with a round, and where there is nothing to say.
pub(super) fn digest(desk: &Desk<'_>, ledger: &Ledger, told: &[Notice]) -> Option<CatchUp> {
    let view = desk.view;
    let worked = |day: &&NaiveDate| **day < view.today && desk.workdays.works(**day);
    let since = *view.diary.rounds.iter().rfind(worked)?;
    let yesterday = view.today.pred_opt()?;
    if since >= yesterday {
        return None;
    }
    let meanwhile = |day: NaiveDate| (since..=yesterday).contains(&day);
    let mut digest = CatchUp {
        since,
        sites: site_spans(desk, since, yesterday),
        opened: Vec::new(),
        late: Vec::new(),
        limits: Vec::new(),
        down: Vec::new(),
        unsent: Vec::new(),
        today: Vec::new(),
    };
    for (care, step) in desk.due() {
        let opened = step.opened.map_or(view.today, |o| o.on);
        let id = &step.step.id;
        match step.closes_on {
            Some(close) if step.state == State::Late && meanwhile(close) => {
                digest.late.push(errand(care, id, close));
            }
            _ if meanwhile(opened) => digest.opened.push(errand(care, id, opened)),
            _ => {}
        }
        let until = step.in_time_to(view.today).unwrap_or(NaiveDate::MAX);
        digest.today.push(errand(care, id, until));
    }
    digest.today = desk.walk(std::mem::take(&mut digest.today), desk.early(ledger, told));
    for care in desk.open() {
        let running = care.limit.filter(|l| l.running);
        let reached = running.and_then(|l| Some((l.limit, l.reached_on?)));
        if let Some((limit, day)) = reached.filter(|(_, day)| meanwhile(*day)) {
            digest.limits.push(errand(care, &limit.id, day));
        }
    }
    let down = view.diary.down.iter().copied();
    digest.down = down.filter(|(_, end)| end.date() > since).collect();
    let unsent = view.diary.unsent.iter();
    digest.unsent = unsent.filter(|u| u.written_on >= since).cloned().collect();
    let says = !(digest.today.is_empty()
        && digest.limits.is_empty()
        && digest.down.is_empty()
        && digest.unsent.is_empty());
    says.then_some(digest)
}

/// The weather at each site where this person has open batches.
pub(super) fn site_spans(desk: &Desk<'_>, first: NaiveDate, last: NaiveDate) -> Vec<SiteSpan> {
    let span = |ground: &Ground<'_>| site_span(desk, ground, first, last);
    desk.view.grounds.iter().filter_map(span).collect()
}

fn site_span(
    desk: &Desk<'_>,
    ground: &Ground<'_>,
    first: NaiveDate,
    last: NaiveDate,
) -> Option<SiteSpan> {
    let here = desk.open_on(&ground.site.id);
    let mut as_many: BTreeMap<&str, usize> = BTreeMap::new();
    for care in here.clone() {
        *as_many.entry(&care.plan.name).or_default() += 1;
    }
    let care = here.clone().max_by_key(|c| {
        (
            as_many[c.plan.name.as_str()],
            std::cmp::Reverse(&c.batch.name),
        )
    })?;
    // Days before the first grafting are of no weight.
    let begun = here.clone().map(|c| c.batch.grafted_on).min()?;
    let before = begun.max(first - Days::new(1));
    let first = before + Days::new(1);
    if first > last {
        return None;
    }
    let heat = care.warmth.totals.at_least(before, last);
    let mut span = SiteSpan {
        site: ground.site.id.clone(),
        days: u32::try_from((last - before).num_days()).unwrap_or(0),
        standard_days: heat.in_standard_days(standard_day(ground.site, care.plan)),
        hottest: None,
        filled: 0,
        unknown: 0,
    };
    let mut known = 0;
    for day in ground.series.between(first, last) {
        match day.origin {
            Origin::Filled => {
                span.filled += 1;
                continue;
            }
            Origin::Forecast => continue,
            Origin::Measured | Origin::Modelled => known += 1,
        }
        if span.hottest.is_none_or(|(_, max)| day.max > max) {
            span.hottest = Some((day.date, day.max));
        }
    }
    span.unknown = span.days.saturating_sub(known + span.filled);
    Some(span)
}
