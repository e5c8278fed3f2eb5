//! Where each step of a batch stands.

use super::again::{Turn, turn};
use super::facts::{Fact, Progress};
use super::windows::{By, Opened, Subject};
use crate::nursery::{Anchor, Plan, Step, What};
use chrono::NaiveDate;

/// Above this share of filled days in a batch's heat no window is called closed on it.
pub const ESTIMATED_ABOVE: f64 = 0.25;

/// Where a step stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Its window has not opened.
    Ahead,
    /// Its window is open.
    Open,
    /// Open, and no working day is left after today up to its close.
    Closing,
    /// Its window has closed without it.
    Late,
    /// Done.
    Done,
    /// A later step is done without it.
    PassedOver,
}

impl State {
    /// The word used in tables and in `--json`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Ahead => "ahead",
            Self::Open => "open",
            Self::Closing => "closing",
            Self::Late => "late",
            Self::Done => "done",
            Self::PassedOver => "passed-over",
        }
    }

    /// Whether its window has opened and it waits to be done.
    pub fn is_due(self) -> bool {
        matches!(self, Self::Open | Self::Closing | Self::Late)
    }

    /// Whether nothing more is to be done.
    pub fn is_past(self) -> bool {
        matches!(self, Self::Done | Self::PassedOver)
    }
}

/// One step of one batch.
#[derive(Clone, Debug, PartialEq)]
pub struct StepCare<'a> {
    /// The step.
    pub step: &'a Step,
    /// Where it stands.
    pub state: State,
    /// When it opened or, by forecast, will open.
    pub opened: Option<Opened>,
    /// The last day on which it is in time, by forecast where it lies ahead.
    pub closes_on: Option<NaiveDate>,
    /// How far it has come.
    pub progress: Progress,
    /// For a step that comes again: which coming.
    pub turn: Option<Turn>,
}

impl StepCare<'_> {
    /// Grafts that are left to do.
    pub fn left(&self) -> u32 {
        self.progress.of.saturating_sub(self.progress.done)
    }

    /// Whether a record is about this step: it answers it, or holds its close.
    pub fn takes(&self, what: What) -> bool {
        let held = self.step.closes.and_then(|closes| closes.held);
        self.step.brings.contains(&what) || held.is_some_and(|held| held.by == what)
    }

    /// Whether it is only for what has failed, or a look whose turn hangs on work that is not done yet: nothing to look
    /// forward to.
    pub fn is_conditional(&self) -> bool {
        let opens = &self.step.opens;
        match opens.repeat {
            Some(_) => self.turn.is_none(),
            None => self.step.aside && !opens.unless.is_empty(),
        }
    }

    /// The last day in time as it may be told: none where it has passed by an estimate too rough to call the step late.
    pub fn in_time_to(&self, today: NaiveDate) -> Option<NaiveDate> {
        let is_told = |day: &NaiveDate| *day >= today || self.state == State::Late;
        self.closes_on.filter(is_told)
    }
}

/// Where every step of the batch stands, in the plan's order.
pub fn steps<'p>(subject: &Subject<'_>, plan: &'p Plan, filled_share: f64) -> Vec<StepCare<'p>> {
    let mut cares: Vec<StepCare<'p>> = plan.steps.iter().map(|step| look(subject, step)).collect();
    let mut later_done = false;
    for care in cares.iter_mut().rev() {
        care.state = state(subject, care, later_done, filled_share);
        if care.state == State::Ahead && !care.opened.is_some_and(|o| is_foreseen(care.step, o)) {
            care.opened = None;
            care.closes_on = care.closes_on.filter(|_| !closes_after_opening(care.step));
        }
        later_done |= !care.step.aside && care.progress.done_on.is_some();
    }
    cares
}

/// The latest day by the calendar is no forecast of a window that warmth will most likely open sooner.
fn is_foreseen(step: &Step, opened: Opened) -> bool {
    opened.by != By::Calendar || step.opens.warmth.is_none()
}

fn closes_after_opening(step: &Step) -> bool {
    step.closes
        .is_some_and(|closes| closes.after == Anchor::Opening)
}

fn look<'p>(subject: &Subject<'_>, step: &'p Step) -> StepCare<'p> {
    let turn = step
        .opens
        .repeat
        .as_ref()
        .and_then(|repeat| turn(subject, step, repeat));
    let opened = match step.opens.repeat {
        Some(_) => turn.map(|t| t.opened),
        None => subject.opening(&step.opens),
    };
    let closes_on = step
        .closes
        .as_ref()
        .and_then(|closes| subject.closing(closes, opened));
    let last_graft = last_graft(subject, step, opened);
    let closes_on = closes_on.into_iter().chain(last_graft).min();
    // What would open after the last safe day waits for the next season: nobody is told of it.
    let too_late = |opened: &Opened| last_graft.is_some_and(|last| opened.on > last);
    let (opened, closes_on) = if opened.as_ref().is_some_and(too_late) {
        (None, None)
    } else {
        (opened, closes_on)
    };
    let progress = progress(subject, step, opened);
    StepCare {
        step,
        state: State::Ahead,
        opened,
        closes_on,
        progress,
        turn,
    }
}

/// Grafting anew ends with the last safe day of its season, where that is known.
fn last_graft(subject: &Subject<'_>, step: &Step, opened: Option<Opened>) -> Option<NaiveDate> {
    let last = subject
        .last_graft
        .filter(|_| step.brings == [What::Regrafted])?;
    Some(last.of_season(opened?.on)?.0)
}

/// A step that comes again is never done: its answer begins the next turn.
fn progress(subject: &Subject<'_>, step: &Step, opened: Option<Opened>) -> Progress {
    let facts = subject.facts;
    if step.opens.repeat.is_some() {
        return Progress {
            of: facts.alive(),
            ..Progress::default()
        };
    }
    if step.brings.iter().any(|what| what.is_work()) {
        let mut progress = facts.progress(&step.brings);
        if step.brings == [What::Regrafted] {
            progress = regrafted(subject, progress);
        }
        return progress;
    }
    // Who saw callus grow over scions has looked, and more than lines was there.
    let seen = step.brings.contains(&subject.plan.reckoning.seen);
    let brought = |what: What| step.brings.contains(&what) || seen && what == What::OverCallused;
    let done_on = facts
        .all()
        .iter()
        .find(|f| brought(f.what) && answers(subject, step, opened, f))
        .map(|f| f.date);
    let of = facts.alive();
    Progress {
        done: if done_on.is_some() { of } else { 0 },
        of,
        done_on,
    }
}

/// The work of re-grafting is the dead, not the living.
fn regrafted(subject: &Subject<'_>, living: Progress) -> Progress {
    let dead: u32 = subject
        .facts
        .all()
        .iter()
        .filter(|f| f.what == What::Dead)
        .filter_map(Fact::grafts)
        .sum();
    let anew = subject.facts.regrafts();
    let done = anew.iter().map(|&(_, n)| n).sum();
    let of = if dead > 0 { dead } else { living.of + done };
    let done_on = anew.last().map(|&(date, _)| date).filter(|_| done >= of);
    Progress { done, of, done_on }
}

/// Whether a look answers the step: "not yet" and "nothing to report" only once the window is open, the rest from
/// where the step begins to count.
fn answers(subject: &Subject<'_>, step: &Step, opened: Option<Opened>, fact: &Fact) -> bool {
    if [subject.plan.reckoning.unseen, What::Looked].contains(&fact.what) {
        return opened.is_some_and(|o| fact.date >= o.on);
    }
    let Some(anchor) = subject.anchor(step.opens.after) else {
        return false;
    };
    let floor = step.opens.from.map_or(anchor, |date| {
        date.on_or_after(anchor, subject.site.hemisphere())
    });
    fact.date >= floor
}

fn state(subject: &Subject<'_>, care: &StepCare<'_>, later_done: bool, filled_share: f64) -> State {
    let moment = subject.warmth.moment;
    if care.progress.done_on.is_some() {
        return State::Done;
    }
    if later_done && !care.step.aside {
        return State::PassedOver;
    }
    let has_opened = care.opened.is_some_and(|o| {
        o.on <= if o.by == By::Record {
            moment.today
        } else {
            moment.through
        }
    });
    if !has_opened {
        return State::Ahead;
    }
    let Some(close) = care.closes_on else {
        return State::Open;
    };
    if close < moment.today {
        return if filled_share > ESTIMATED_ABOVE {
            State::Open
        } else {
            State::Late
        };
    }
    let tomorrow = moment.today.succ_opt().unwrap_or(moment.today);
    if subject.workdays.last_within(tomorrow, close).is_some() {
        State::Open
    } else {
        State::Closing
    }
}
