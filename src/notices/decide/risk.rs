//! The risk of over-callusing: told at once, days off included, and asked about afterwards.

use super::{View, anchor, last, of_batch};
use crate::care::{BatchCare, LimitCare, Moment};
use crate::notices::notice::{Kind, Ledger, Notice};
use chrono::{Days, NaiveDate};

/// E within this many days is an urgent risk, even with a working day left.
const RISK_WITHIN: i64 = 3;
/// A risk is told again when its day has come nearer by this many days.
const RISK_NEARER: i64 = 2;
/// After the limit, for so many days the question is asked; then the weekly `late` speaks for it.
const ASKED_FOR: i64 = 14;

/// Told at once, again when it has come nearer, then asked about on working days.
pub(super) fn over_callus(
    view: &View<'_>,
    care: &BatchCare<'_>,
    ledger: &Ledger,
) -> Option<Notice> {
    let risk = care.limit.filter(|l| l.running && care.is_open())?;
    let day = risk.reached_on?;
    let anchor = anchor(care, None);
    let told = last(
        ledger.of(Kind::OverCallusRisk, &care.batch.name),
        &risk.limit.id,
        &anchor,
    );
    let urgent = match told {
        None => presses(view, care.warmth.moment, day),
        Some(told) => day >= view.today && (told.on - day).num_days() >= RISK_NEARER,
    };
    let asked = told.is_some_and(|t| t.told_on < view.today)
        && view.workdays.works(view.today)
        && is_asked(risk, care.warmth.moment);
    if !(urgent || asked) {
        return None;
    }
    let mut notice = of_batch(
        care,
        Kind::OverCallusRisk,
        &risk.limit.id,
        anchor,
        told.map_or(1, |t| t.n + 1),
        day,
    );
    notice.urgent = urgent;
    Some(notice)
}

/// No working day is left between today and the day of the limit, or that is near.
fn presses(view: &View<'_>, moment: Moment, day: NaiveDate) -> bool {
    let (tomorrow, eve) = (moment.today + Days::new(1), day - Days::new(1));
    (day - moment.today).num_days() <= RISK_WITHIN
        || view.workdays.last_within(tomorrow, eve).is_none()
}

fn is_asked(risk: LimitCare<'_>, moment: Moment) -> bool {
    risk.reached_on
        .is_some_and(|day| day <= moment.through && (moment.today - day).num_days() <= ASKED_FOR)
}
