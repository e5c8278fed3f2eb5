//! Work: windows that have opened, run out, or are not open after all. Decided on working days only.

use super::{View, anchor, grafting, hangs_on, last, of_batch};
use crate::care::{BatchCare, State, StepCare};
use crate::notices::notice::{Kind, Ledger, Notice, Told};

/// What is due on a batch on which anything is left to do, and what is not any more.
pub(super) fn news(view: &View<'_>, care: &BatchCare<'_>, ledger: &Ledger) -> Vec<Notice> {
    if !view.workdays.works(view.today) || !care.is_open() {
        return Vec::new();
    }
    let due = care.steps.iter().filter_map(|step| {
        work(care, step, ledger)
            .or_else(|| last_call(view, care, step, ledger))
            .or_else(|| heads_up(view, care, step, ledger))
    });
    withdrawn(care, ledger).into_iter().chain(due).collect()
}

/// The opening of a window, or its being late: once each.
fn work(care: &BatchCare<'_>, step: &StepCare<'_>, ledger: &Ledger) -> Option<Notice> {
    if !step.state.is_due() {
        return None;
    }
    let id = step.step.id.as_str();
    let anchor = anchor(care, Some(step));
    if let (State::Late, Some(closed)) = (step.state, step.closes_on) {
        let told = last(ledger.of(Kind::Late, &care.batch.name), id, &anchor);
        if told.is_some_and(|t| !is_withdrawn_since(ledger, care, t)) {
            return None;
        }
        let n = told.map_or(1, |t| t.n + 1);
        return Some(of_batch(care, Kind::Late, id, anchor, n, closed));
    }
    let told = last(ledger.of(Kind::Opens, &care.batch.name), id, &anchor);
    if told.is_some_and(|t| !is_withdrawn(ledger, care, t)) {
        return None;
    }
    let opened = step.opened?;
    let mut notice = of_batch(
        care,
        Kind::Opens,
        id,
        anchor,
        told.map_or(1, |t| t.n + 1),
        opened.on,
    );
    notice.by = Some(opened.by);
    Some(notice)
}

fn is_withdrawn(ledger: &Ledger, care: &BatchCare<'_>, opens: &Told) -> bool {
    let withdrawals = ledger.of(Kind::NoLongerDue, &care.batch.name);
    withdrawals
        .iter()
        .any(|w| w.step == opens.step && w.anchor == opens.anchor && w.n == opens.n)
}

/// Whether a window was taken back on the day on which it was told as late or after it.
fn is_withdrawn_since(ledger: &Ledger, care: &BatchCare<'_>, late: &Told) -> bool {
    let mut withdrawals = ledger.of(Kind::NoLongerDue, &care.batch.name).iter();
    withdrawals.any(|w| w.step == late.step && w.anchor == late.anchor && w.told_on >= late.told_on)
}

/// No working day is left after today up to its close, known, foretold or by the years before: once for each opening that
/// was told before today.
fn last_call(
    view: &View<'_>,
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    ledger: &Ledger,
) -> Option<Notice> {
    if !matches!(step.state, State::Open | State::Closing) {
        return None;
    }
    let (id, anchor) = (step.step.id.as_str(), anchor(care, Some(step)));
    let opens = last(ledger.of(Kind::Opens, &care.batch.name), id, &anchor)?;
    let called = last(ledger.of(Kind::LastCall, &care.batch.name), id, &anchor);
    if opens.told_on >= view.today || called.is_some_and(|called| called.n >= opens.n) {
        return None;
    }
    let close = view.outlook.act_before_close(care, step)?;
    let closing = if close.foreseen.is_some() {
        let tomorrow = view.today.succ_opt()?;
        view.workdays.last_within(tomorrow, close.on).is_none()
    } else {
        step.state == State::Closing
    };
    let mut notice = of_batch(care, Kind::LastCall, id, anchor, opens.n, close.on);
    notice.until = close.middle();
    closing.then_some(notice)
}

/// A window that by the forecast opens with the end of today, on the eve of a working day. Before days off the
/// look-ahead speaks of it. Looks that come again and again need no such word.
fn heads_up(
    view: &View<'_>,
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    ledger: &Ledger,
) -> Option<Notice> {
    let opened = step.opened.filter(|_| step.state == State::Ahead)?;
    let eve = view
        .today
        .succ_opt()
        .is_some_and(|day| view.workdays.works(day));
    let soon = opened.on == view.today && opened.on > care.warmth.moment.through;
    if !eve || !soon || step.turn.is_some() {
        return None;
    }
    let (id, anchor) = (step.step.id.as_str(), anchor(care, Some(step)));
    let told = last(ledger.of(Kind::HeadsUp, &care.batch.name), id, &anchor);
    let mut notice = of_batch(care, Kind::HeadsUp, id, anchor, 1, opened.on);
    notice.by = Some(opened.by);
    told.is_none().then_some(notice)
}

/// Windows that were told of and are not open after all: a day or record was corrected, or the grafting moved.
fn withdrawn(care: &BatchCare<'_>, ledger: &Ledger) -> Vec<Notice> {
    let grafting = grafting(care);
    let told = told_of(care, ledger);
    let stands = |at: usize, told_later: &[Told]| {
        let told = &told[at];
        let Some(step) = care.step(&told.step) else {
            return false;
        };
        if !hangs_on(&told.anchor, &grafting) {
            // Due by the new grafting too, or told of anew since.
            return step.state != State::Ahead || told_later.iter().any(|t| t.step == told.step);
        }
        // A step that comes again has moved on to another turn when its anchor differs: it was answered.
        step.state != State::Ahead || anchor(care, Some(step)) != told.anchor
    };
    told.iter()
        .enumerate()
        .filter(|(at, t)| !stands(*at, &told[at + 1..]) && !is_withdrawn(ledger, care, t))
        .map(|(_, t)| {
            of_batch(
                care,
                Kind::NoLongerDue,
                &t.step,
                t.anchor.to_string(),
                t.n,
                t.on,
            )
        })
        .collect()
}

/// The openings that were told, and under the number 0 those of which only lateness was.
fn told_of(care: &BatchCare<'_>, ledger: &Ledger) -> Vec<Told> {
    let opens = ledger.of(Kind::Opens, &care.batch.name);
    let late = ledger.of(Kind::Late, &care.batch.name);
    let only = late
        .iter()
        .filter(|l| l.n == 1 && last(opens, &l.step, &l.anchor).is_none())
        .map(|l| Told { n: 0, ..l.clone() });
    opens.iter().cloned().chain(only).collect()
}
