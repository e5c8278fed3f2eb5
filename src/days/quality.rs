//! Judging the days of one source: what cannot be, is rejected; what is doubtful, is used and said.
//!
//! After Durre et al. 2010, J. Appl. Meteor. Climatol. 49:1615-1633; the usual thresholds are partly from memory. Judges
//! one source at a time and never alters a value.

use super::{Origin, RawDay, Remark};
use std::ops::Range;

/// What a site takes for possible and for usual.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thresholds {
    /// Coldest possible temperature in °C.
    pub coldest: f64,
    /// Warmest possible temperature in °C.
    pub warmest: f64,
    /// A smaller daily range in °C is doubted.
    pub least_range: f64,
    /// A larger daily range in °C is doubted.
    pub most_range: f64,
    /// A larger change of minimum or maximum from one day to the next in °C is doubted.
    pub jump: f64,
    /// So many equal days running are doubted.
    pub equal_doubted: u32,
    /// So many equal days running are a stuck instrument.
    pub equal_rejected: u32,
    /// A maximum in °C above which a day looks like °F.
    pub like_fahrenheit: f64,
    /// Two sources whose means are further apart than this, in °C, ...
    pub apart: f64,
    /// ... on so many days running are told.
    pub apart_days: u32,
}

impl Default for Thresholds {
    fn default() -> Self {
        Self {
            coldest: -60.0,
            warmest: 55.0,
            least_range: 0.5,
            most_range: 30.0,
            jump: 20.0,
            equal_doubted: 5,
            equal_rejected: 10,
            like_fahrenheit: 50.0,
            apart: 8.0,
            apart_days: 3,
        }
    }
}

/// So many days running that look like °F are °F.
const FAHRENHEIT_DAYS: usize = 3;
/// No weather is hotter, even in °F.
const HOTTEST_FAHRENHEIT: f64 = 140.0;
/// From °F back to °C at -2.5 °C both fall by this; weather in °F hardly ever does from one day to the next (judgement).
const FALL: f64 = 30.0;
/// After a longer gap in days a jump says nothing: it may be another season.
const LONGEST_GAP: i64 = 7;

/// An instrument that has shown fewer other days is not called stuck.
const VARIED_LEAST: usize = 10;

/// The judgement on one day.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// Used.
    Sound,
    /// Used, with the reason for doubt.
    Doubted(Remark),
    /// Not used, with the reason.
    Rejected(String),
}

/// The stretches, as places in `days`, in which the source reads like °F where °C is expected. One begins where on three
/// days running the maxima are above [`Thresholds::like_fahrenheit`], or minima and maxima lie above those of the day
/// before by more than the jump allows and stay there (a winter in °F). It ends where both fall back to what they were.
pub fn fahrenheit(days: &[RawDay], thresholds: &Thresholds) -> Vec<Range<usize>> {
    let mut stretches = Vec::new();
    let mut at = 0;
    while at < days.len() {
        if begins(days, at, thresholds) {
            let before = at.checked_sub(1).map(|before| &days[before]);
            let end = (at + FAHRENHEIT_DAYS..days.len())
                .find(|&i| falls_back(&days[i - 1], &days[i], before, thresholds))
                .unwrap_or(days.len());
            stretches.push(at..end);
            at = end;
        } else {
            at += 1;
        }
    }
    stretches
}

fn begins(days: &[RawDay], at: usize, thresholds: &Thresholds) -> bool {
    let Some(next) = days.get(at..at + FAHRENHEIT_DAYS) else {
        return false;
    };
    let hot = |d: &RawDay| d.max > thresholds.like_fahrenheit && d.max < HOTTEST_FAHRENHEIT;
    let jumps = |before: &RawDay| {
        let above = |d: &RawDay| {
            d.min - before.min > thresholds.jump && d.max - before.max > thresholds.jump
        };
        next.iter().all(above) && is_soon(before, &next[0])
    };
    next.iter().all(hot) || at > 0 && jumps(&days[at - 1])
}

/// Whether a day is in °C again after one in °F; `then` is the last one before the °F.
fn falls_back(last: &RawDay, day: &RawDay, then: Option<&RawDay>, thresholds: &Thresholds) -> bool {
    let near = |then: &RawDay| {
        (day.min - then.min).abs() <= thresholds.jump
            && (day.max - then.max).abs() <= thresholds.jump
    };
    last.min - day.min > FALL
        && last.max - day.max > FALL
        && is_soon(last, day)
        && day.max <= thresholds.like_fahrenheit
        && then.is_none_or(near)
}

fn is_next(before: &RawDay, day: &RawDay) -> bool {
    before.date.succ_opt() == Some(day.date)
}

fn is_soon(before: &RawDay, day: &RawDay) -> bool {
    (day.date - before.date).num_days() <= LONGEST_GAP
}

/// Whether a source takes back most of what it said of the days that came to pass, by more than `jump` °C, where it
/// speaks of at least so many of them again: the first such day, as it was known and as it is given. Models and stations
/// mend single days and tenths of degrees.
pub fn contradiction(
    known: &[RawDay],
    given: &[RawDay],
    least: usize,
    jump: f64,
) -> Option<(RawDay, RawDay)> {
    let passed = |d: &&RawDay| d.origin != Origin::Forecast;
    let before = |new: &RawDay| known.iter().filter(passed).find(|old| old.date == new.date);
    let common: Vec<(RawDay, RawDay)> = given
        .iter()
        .filter(passed)
        .filter_map(|new| Some((*before(new)?, *new)))
        .collect();
    let apart = |(old, new): &&(RawDay, RawDay)| {
        (old.min - new.min).abs() > jump || (old.max - new.max).abs() > jump
    };
    let most = common.iter().filter(apart).count() * 2 > common.len();
    let first = common.iter().find(apart).copied();
    first.filter(|_| most && common.len() >= least)
}

/// Judges the days of one source, given in order of date.
pub fn judge(days: &[RawDay], thresholds: &Thresholds) -> Vec<Verdict> {
    let runs = equal_runs(days);
    let shown = Shown::on(days, &runs, thresholds);
    let mut last_sound: Option<&RawDay> = None;
    let mut verdicts = Vec::with_capacity(days.len());
    for (day, &run) in days.iter().zip(&runs) {
        let stuck = shown.is_stuck(run, thresholds);
        let verdict = match impossible(day, stuck.then_some(run), thresholds) {
            Some(reason) => Verdict::Rejected(reason),
            None => {
                doubt(day, run, last_sound, thresholds).map_or(Verdict::Sound, Verdict::Doubted)
            }
        };
        if !matches!(verdict, Verdict::Rejected(_)) {
            last_sound = Some(day);
        }
        verdicts.push(verdict);
    }
    verdicts
}

/// For each day the length of the run of equal measured days that it belongs to, 1 for what is not measured.
fn equal_runs(days: &[RawDay]) -> Vec<u32> {
    let measured = |d: &RawDay| d.origin == Origin::Measured;
    let alike = |a: &RawDay, b: &RawDay| {
        (a.min, a.max) == (b.min, b.max) && measured(a) && measured(b) && is_next(a, b)
    };
    days.chunk_by(alike)
        .flat_map(|run| std::iter::repeat_n(run.len() as u32, run.len()))
        .collect()
}

/// On how many measured days an instrument repeated itself for so long that it is doubted, and on how many not.
struct Shown {
    repeating: usize,
    varied: usize,
}

impl Shown {
    fn on(days: &[RawDay], runs: &[u32], thresholds: &Thresholds) -> Self {
        let mut shown = Self {
            repeating: 0,
            varied: 0,
        };
        for (day, &run) in days.iter().zip(runs) {
            if day.origin == Origin::Measured {
                let repeats = run >= thresholds.equal_doubted;
                shown.repeating += usize::from(repeats);
                shown.varied += usize::from(!repeats);
            }
        }
        shown
    }

    /// Whether an instrument that repeats itself on so many days is stuck. One whose other days mostly repeat themselves
    /// too, or that has hardly shown anything else, stands in a room kept at set temperatures: there, equal days say
    /// nothing.
    fn is_stuck(&self, run: u32, thresholds: &Thresholds) -> bool {
        run >= thresholds.equal_rejected
            && self.varied >= VARIED_LEAST
            && self.varied + run as usize > self.repeating
    }
}

fn impossible(day: &RawDay, stuck: Option<u32>, thresholds: &Thresholds) -> Option<String> {
    if !(day.min.is_finite() && day.max.is_finite()) {
        return Some("is not a number".into());
    }
    if day.min > day.max {
        return Some(format!(
            "minimum {} °C is above maximum {} °C",
            day.min, day.max
        ));
    }
    if day.min < thresholds.coldest || day.max > thresholds.warmest {
        return Some(format!("{} to {} °C cannot be", day.min, day.max));
    }
    stuck.map(|days| {
        format!(
            "the same {} and {} °C on {days} days running: the instrument is stuck",
            day.min, day.max
        )
    })
}

fn doubt(
    day: &RawDay,
    equal: u32,
    before: Option<&RawDay>,
    thresholds: &Thresholds,
) -> Option<Remark> {
    let range = day.max - day.min;
    if range < thresholds.least_range || range > thresholds.most_range {
        return Some(Remark::Range(range));
    }
    let jump = thresholds.jump;
    let jumps = |b: &&RawDay| (day.max - b.max).abs() > jump || (day.min - b.min).abs() > jump;
    if before
        .filter(jumps)
        .is_some_and(|before| is_next(before, day))
    {
        return Some(Remark::Jump(jump));
    }
    (equal >= thresholds.equal_doubted).then_some(Remark::Equal(equal))
}

#[cfg(test)]
mod tests;
