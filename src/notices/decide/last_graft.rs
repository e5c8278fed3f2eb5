//! The last safe day for grafting: told once a season, two weeks ahead, on a working day.

use super::View;
use crate::care::{BatchCare, Ground, on_site};
use crate::notices::notice::{About, Kind, Ledger, Notice};
use chrono::{Datelike, Days, NaiveDate};

/// So many days ahead it is told.
const AHEAD: u64 = 14;
/// A batch runs for so many days after grafting: another of its plan may well be made.
const RUNS_FOR: i64 = 183;

/// One notice for each plan with running batches. One in whose season the program is first started is told at once.
pub(super) fn last_graft(view: &View<'_>, ground: &Ground<'_>, ledger: &Ledger) -> Vec<Notice> {
    let site = ground.site.id.as_str();
    let running = |care: &&BatchCare<'_>| care.is_open() && care.days() <= RUNS_FOR;
    let here = on_site(view.cares, site).iter();
    let running: Vec<&BatchCare<'_>> = here.filter(running).collect();
    let mut plans: Vec<&str> = running.iter().map(|c| c.batch.plan.as_str()).collect();
    plans.sort_unstable();
    plans.dedup();
    let told = ledger.of(Kind::LastGraft, site);
    let news = |plan: &str| {
        let last = last_day(ground, plan)?;
        let anchor = format!("{} by {plan}", last.year());
        let today = ground.moment.today;
        let soon = last.checked_sub_days(Days::new(AHEAD))? <= today && today <= last;
        if !soon || told.iter().any(|t| t.anchor == anchor) {
            return None;
        }
        let of_plan = running.iter().filter(|care| care.batch.plan == plan);
        Some(Notice {
            until: Some(last),
            batches: of_plan.map(|care| care.batch.name.clone()).collect(),
            ..Notice::plain(
                Kind::LastGraft,
                About::Site(site.to_owned()),
                anchor,
                1,
                today,
            )
        })
    };
    plans.into_iter().filter_map(news).collect()
}

/// The last safe day of the season that is on.
fn last_day(ground: &Ground<'_>, plan: &str) -> Option<NaiveDate> {
    let last = ground.last_graft(plan)?.ok()?;
    Some(last.of_season(ground.moment.today)?.0)
}
