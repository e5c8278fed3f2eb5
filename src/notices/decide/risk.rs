//! The risk of over-callusing: told at once, days off included, taken back where a later forecast moves it out; and
//! over-callusing that was seen. Where no forecast reaches the limit, the years before tell of it. A limit that has been
//! passed is asked about in the weekly reminder.

use super::{View, anchor, grafting, last, of_batch};
use crate::care::{BatchCare, LimitCare, Moment};
use crate::notices::notice::{Kind, Ledger, Notice, Told};
use chrono::{Days, NaiveDate};

/// E within this many days is an urgent risk, even with a working day left.
const RISK_WITHIN: i64 = 3;
/// A risk is told again when its day has come nearer by this many days, and taken back when it has moved out by as many.
const RISK_NEARER: i64 = 2;
/// What was seen longer ago than this many days is no news: in four weeks it is decided (judgement). Many write down at the
/// end of a week or two, and until something is done about it callus grows on.
const SEEN_WITHIN: u64 = 28;

/// What there is to tell of a batch.
pub(super) fn news(view: &View<'_>, care: &BatchCare<'_>, ledger: &Ledger) -> Vec<Notice> {
    let seen = over_callused(view, care, ledger);
    let risk = over_callus(view, care, ledger);
    let gone = risk_over(view, care, ledger);
    [seen, risk, gone].into_iter().flatten().collect()
}

/// Over-callusing that was seen, unless what there is to do about it was written down with it: told at once.
fn over_callused(view: &View<'_>, care: &BatchCare<'_>, ledger: &Ledger) -> Option<Notice> {
    let seen = care.over_callused()?;
    let is_news = care.is_open() && seen + Days::new(SEEN_WITHIN) >= view.today;
    let anchor = format!("seen {seen} of {}", grafting(care));
    let told = ledger.of(Kind::OverCallused, &care.batch.name);
    if !is_news || told.iter().any(|t| t.anchor == anchor) {
        return None;
    }
    let step = care.limit.map_or("over-callusing", |l| &l.limit.id);
    let mut notice = of_batch(care, Kind::OverCallused, step, anchor, 1, seen);
    notice.urgent = true;
    Some(notice)
}

/// Told at once, and again when it has come nearer.
fn over_callus(view: &View<'_>, care: &BatchCare<'_>, ledger: &Ledger) -> Option<Notice> {
    let risk = care.limit.filter(|l| l.running && care.is_open())?;
    let deadline = view.outlook.act_before_limit(care)?;
    let day = deadline.on;
    let anchor = anchor(care, None);
    let before = told_of(care, risk, ledger);
    // What was taken back is told anew.
    let told = before.filter(|told| !is_taken_back(care, told, ledger));
    let urgent = match told {
        None => presses(view, care.warmth.moment, day),
        Some(told) => day >= view.today && (told.on - day).num_days() >= RISK_NEARER,
    };
    if !urgent {
        return None;
    }
    let n = before.map_or(1, |t| t.n + 1);
    let mut notice = of_batch(care, Kind::OverCallusRisk, &risk.limit.id, anchor, n, day);
    notice.urgent = true;
    notice.until = deadline.middle();
    Some(notice)
}

/// The risk as it was told last for this grafting.
fn told_of<'a>(care: &BatchCare<'_>, risk: LimitCare<'_>, ledger: &'a Ledger) -> Option<&'a Told> {
    let told = ledger.of(Kind::OverCallusRisk, &care.batch.name);
    last(told, &risk.limit.id, &anchor(care, None))
}

fn is_taken_back(care: &BatchCare<'_>, told: &Told, ledger: &Ledger) -> bool {
    let back = ledger.of(Kind::RiskOver, &care.batch.name);
    back.iter()
        .any(|b| b.step == told.step && b.anchor == told.anchor && b.n == told.n)
}

/// A risk that was told and has moved out so far that it does not press any more, the work still to do: one line, on the
/// next working day.
fn risk_over(view: &View<'_>, care: &BatchCare<'_>, ledger: &Ledger) -> Option<Notice> {
    let risk = care.limit.filter(|l| l.running && care.is_open())?;
    let told = told_of(care, risk, ledger)?;
    let day = if is_foretold(told) {
        risk.reached_on.or_else(|| not_before(care))?
    } else {
        view.outlook.act_before_limit(care)?.on
    };
    let moved_out = (day - told.on).num_days() >= RISK_NEARER;
    let gone = moved_out && day > view.today && !presses(view, care.warmth.moment, day);
    let told_now = gone && view.workdays.works(view.today) && !is_taken_back(care, told, ledger);
    told_now.then(|| {
        let (id, anchor) = (&told.step, told.anchor.to_string());
        of_batch(care, Kind::RiskOver, id, anchor, told.n, told.on)
    })
}

/// Whether it was told by a forecast: a forecast that fails or ends takes nothing back.
fn is_foretold(told: &Told) -> bool {
    told.until.is_none() && told.on >= told.told_on
}

/// The first day on which a limit can be reached that is not reached by all that is known and foretold: the day after. None
/// where a day is missing: what is not known moves nothing out.
fn not_before(care: &BatchCare<'_>) -> Option<NaiveDate> {
    let (totals, grafted) = (care.warmth.totals, care.batch.grafted_on);
    let last = totals.last()?;
    (totals.unknown(grafted, last) == 0)
        .then(|| last.succ_opt())
        .flatten()
}

/// No working day is left between today and the day of the limit, or that is near.
fn presses(view: &View<'_>, moment: Moment, day: NaiveDate) -> bool {
    let (tomorrow, eve) = (moment.today + Days::new(1), day - Days::new(1));
    (day - moment.today).num_days() <= RISK_WITHIN
        || view.workdays.last_within(tomorrow, eve).is_none()
}
