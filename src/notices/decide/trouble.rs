//! What the program has to say of itself: no temperatures, and what could not be read, fetched or sent.

use super::View;
use crate::care::{Ground, on_site};
use crate::notices::notice::{About, Kind, Ledger, Notice};
use chrono::{DateTime, LocalResult, NaiveDate, NaiveTime, TimeDelta, TimeZone, Utc};

/// Without temperatures for this long, it is told.
const WITHOUT_TEMPERATURES: TimeDelta = TimeDelta::hours(36);

/// No measured or modelled day has come in for too long, at a site where that matters.
pub(super) fn no_temperatures(
    view: &View<'_>,
    ground: &Ground<'_>,
    ledger: &Ledger,
) -> Option<Notice> {
    let site = &ground.site.id;
    let last = ground.series.last_known();
    let mut here = on_site(view.cares, site).iter();
    let matters = here.any(|care| care.is_open());
    let since = last
        .and_then(|day| day.succ_opt())
        .and_then(|midnight| start_of(ground, midnight));
    let long = since.is_none_or(|since| view.now - since > WITHOUT_TEMPERATURES);
    let anchor = last.map_or_else(|| "never".to_owned(), |day| day.to_string());
    let told = ledger
        .of(Kind::NoTemperatures, site)
        .iter()
        .any(|t| t.anchor == anchor);
    (matters && long && !told).then(|| {
        let on = last
            .and_then(|day| day.succ_opt())
            .unwrap_or(ground.moment.today);
        Notice {
            until: last,
            ..Notice::plain(
                Kind::NoTemperatures,
                About::Site(site.clone()),
                anchor,
                1,
                on,
            )
        }
    })
}

fn start_of(ground: &Ground<'_>, day: NaiveDate) -> Option<DateTime<Utc>> {
    match ground
        .site
        .zone
        .from_local_datetime(&day.and_time(NaiveTime::MIN))
    {
        LocalResult::Single(start) | LocalResult::Ambiguous(start, _) => Some(start.to_utc()),
        LocalResult::None => ground
            .site
            .zone
            .from_local_datetime(&day.and_hms_opt(1, 0, 0)?)
            .earliest()
            .map(|t| t.to_utc()),
    }
}

/// Each problem once.
pub(super) fn trouble(view: &View<'_>, ledger: &Ledger) -> Vec<Notice> {
    let told = ledger.of(Kind::Trouble, "");
    let mut news: Vec<Notice> = Vec::new();
    for problem in view.problems {
        let known = told.iter().any(|t| t.anchor == problem.key)
            || news.iter().any(|n| n.anchor == problem.key);
        if !known {
            let notice = Notice::plain(
                Kind::Trouble,
                About::Nursery,
                problem.key.clone(),
                1,
                view.today,
            );
            news.push(Notice {
                say: problem.to_string(),
                ..notice
            });
        }
    }
    news
}
