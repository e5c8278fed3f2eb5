//! Wind, told at once, days off included; frost and rain, on working days; and what a later forecast takes away of them.

use super::View;
use super::bouts::{Bout, HARD, number, told};
use crate::care::{Ground, HARD_FROST, Harm, bouts, on_site};
use crate::notices::notice::{About, Kind, Ledger, Notice};
use chrono::NaiveDate;

/// The harms, what tells of them, and how many days may lie between two bouts that are told as one: who was told of one
/// frosty night looks out for the next.
const HARMS: [(Harm, Kind, u64); 3] = [
    (Harm::Wind, Kind::Wind, 1),
    (Harm::Frost, Kind::Frost, 14),
    (Harm::Rain, Kind::Rain, 3),
];

/// What there is to tell of wind, frost and rain at a site.
pub(super) fn news(view: &View<'_>, ground: &Ground<'_>, ledger: &Ledger) -> Vec<Notice> {
    let working = view.workdays.works(view.today);
    let site = &ground.site.id;
    let mut notices = Vec::new();
    for (harm, kind, apart) in HARMS {
        let urgent = kind == Kind::Wind;
        if !(urgent || working) {
            continue;
        }
        let told = told(ledger, kind, site, apart);
        let found = bouts(harm, ground, view.workdays, view.cares);
        for bout in found.iter().filter(|b| !b.batches.is_empty()) {
            let hard = harm == Harm::Frost && bout.worst <= HARD_FROST;
            let rank = usize::from(hard);
            let Some(n) = number(&told, (bout.first, bout.last), rank, apart) else {
                continue;
            };
            let about = About::Site(site.clone());
            notices.push(Notice {
                step: hard.then(|| HARD.to_owned()),
                until: Some(bout.last),
                urgent,
                batches: bout.batches.clone(),
                ..Notice::plain(kind, about, bout.first.to_string(), n, bout.first)
            });
        }
        let gone = told.iter().filter(|b| {
            let come = |f: &crate::care::Bout| b.adjoins(f.first, f.last, 1);
            !b.taken_back && b.last >= view.today && !found.iter().any(come)
        });
        if working {
            notices.extend(gone.filter_map(|bout| {
                let here = on_site(view.cares, site).iter();
                let hurt = here.filter(|care| harm.hurts(care, bout.last, ground));
                let hurt = hurt.map(|care| care.batch.name.clone()).collect();
                let known = |day| harm.is_known(ground, day);
                taken_back(kind, ground, bout, hurt, known)
            }));
        }
    }
    notices
}

/// The line that takes a bout back, where all of its days that are not over yet are foretold without it, and a batch would
/// have been hurt.
pub(super) fn taken_back(
    kind: Kind,
    ground: &Ground<'_>,
    bout: &Bout,
    batches: Vec<String>,
    is_known: impl Fn(NaiveDate) -> bool,
) -> Option<Notice> {
    let to_come = bout.first.max(ground.moment.today);
    let foretold = to_come
        .iter_days()
        .take_while(|&day| day <= bout.last)
        .all(|day| ground.series.day(day).is_some() && is_known(day));
    let about = About::Site(ground.site.id.clone());
    (foretold && !batches.is_empty()).then(|| Notice {
        step: Some(kind.name().to_owned()),
        until: Some(bout.last),
        batches,
        ..Notice::plain(
            Kind::RiskOver,
            about,
            bout.anchor.clone(),
            bout.n,
            bout.first,
        )
    })
}
