//! Wind, frost and rain that may hurt young grafts, and the batches they may hurt.
//!
//! Under glass none of them counts. A bout is a finding, not yet a notice: whether it is news is decided in `notices`.

use super::{BatchCare, Ground, State, StepCare, on_site};
use crate::days::Day;
use crate::nursery::{Hemisphere, MonthDay, What, Workdays};
use chrono::{Days, NaiveDate};

/// What comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Harm {
    /// A gust that may blow an untied scion out.
    Wind,
    /// A frost while growth is soft.
    Frost,
    /// Rain that may get under new tape.
    Rain,
}

/// A gust in km/h from which an untied scion is in danger (common practice, no source).
const GUST: f64 = 60.0;
/// A minimum in °C at which frost is near (common practice: the ground is colder than the air at 2 m).
const NEAR_FROST: f64 = 0.0;
/// A minimum in °C that is a frost for soft growth (common practice).
pub const HARD_FROST: f64 = -2.0;
/// Rain in mm of a day that calls for a look at new tape (common practice).
const RAIN: f64 = 10.0;
/// So long after grafting tape is new, in days.
const NEW_TAPE: u64 = 10;
/// So long after taking the tape off a scion is not yet firm, in days.
const NEWLY_OFF: u64 = 14;
/// So many days ahead a forecast is told of.
const AHEAD: u64 = 3;

/// Adjoining days of one harm.
#[derive(Clone, Debug, PartialEq)]
pub struct Bout {
    /// The first.
    pub first: NaiveDate,
    /// The last.
    pub last: NaiveDate,
    /// The strongest gust in km/h, the lowest minimum in °C, the most rain of a day in mm.
    pub worst: f64,
    /// The batches it may hurt.
    pub batches: Vec<String>,
}

/// The bouts of a harm that are worth telling today, as far as they are foretold: of wind those that begin from today to
/// three days ahead; of frost those from last night on, up to the next working day where that is further; of rain those
/// of the last three days, of today and of tomorrow. They are given whether or not they hurt a batch.
pub fn bouts(
    harm: Harm,
    ground: &Ground<'_>,
    workdays: &Workdays,
    cares: &[BatchCare<'_>],
) -> Vec<Bout> {
    let today = ground.moment.today;
    let (ahead, next) = (today + Days::new(AHEAD), workdays.next_after(today));
    let (from, to) = match harm {
        Harm::Wind => (today, ahead),
        Harm::Frost => (
            today - Days::new(1),
            next.map_or(ahead, |day| day.max(ahead)),
        ),
        Harm::Rain => (today - Days::new(AHEAD), today + Days::new(1)),
    };
    let days = ground.series.between(from, NaiveDate::MAX);
    let days: Vec<(NaiveDate, f64)> = days
        .filter_map(|day| Some((day.date, harm.of(day)?)))
        .collect();
    days.chunk_by(|a, b| a.0.succ_opt() == Some(b.0))
        .filter(|run| run[0].0 <= to)
        .map(|run| {
            let (first, last) = (run[0].0, run[run.len() - 1].0);
            let hurt = |day: NaiveDate, care: &BatchCare<'_>| harm.hurts(care, day, ground);
            let batches = on_site(cares, &ground.site.id)
                .iter()
                .filter(|care| run.iter().any(|&(day, _)| hurt(day, care)));
            let worse = match harm {
                Harm::Frost => f64::min,
                Harm::Wind | Harm::Rain => f64::max,
            };
            Bout {
                first,
                last,
                worst: run[1..].iter().map(|r| r.1).fold(run[0].1, worse),
                batches: batches.map(|care| care.batch.name.clone()).collect(),
            }
        })
        .collect()
}

impl Harm {
    /// The figure of the day, where it is one of this harm.
    fn of(self, day: &Day) -> Option<f64> {
        match self {
            Self::Wind => day.gust.filter(|gust| *gust >= GUST),
            Self::Frost => Some(day.min).filter(|min| *min <= NEAR_FROST),
            Self::Rain => day.rain.filter(|rain| *rain >= RAIN),
        }
    }

    /// Whether it can be said of that day that this harm does or does not come.
    pub fn is_known(self, ground: &Ground<'_>, day: NaiveDate) -> bool {
        ground.series.day(day).is_some_and(|day| match self {
            Self::Wind => day.gust.is_some(),
            Self::Frost => true,
            Self::Rain => day.rain.is_some(),
        })
    }

    /// Whether a batch may be hurt on that day.
    pub fn hurts(self, care: &BatchCare<'_>, day: NaiveDate, ground: &Ground<'_>) -> bool {
        let grafted = care.batch.grafted_on;
        let open = care.is_open() && !care.plan.under_cover && grafted <= day;
        let season = || is_first_season(care, day, ground.site.hemisphere());
        open && match self {
            Self::Wind => season() && is_loose(care, day),
            Self::Frost => season() && leaf_fall(care).is_some(),
            Self::Rain => day <= grafted + Days::new(NEW_TAPE),
        }
    }
}

/// The first season lasts until leaf fall, where the plan looks for it, and at the latest until midwinter.
fn is_first_season(care: &BatchCare<'_>, day: NaiveDate, hemisphere: Hemisphere) -> bool {
    let midwinter = MonthDay { month: 1, day: 1 }.on_or_after(care.batch.grafted_on, hemisphere);
    day < midwinter && leaf_fall(care).is_none_or(|s| s.state == State::Ahead)
}

/// The step that waits for leaf fall. A plan without it knows no soft growth: its buds stay shut until spring.
fn leaf_fall<'c>(care: &'c BatchCare<'_>) -> Option<&'c StepCare<'c>> {
    care.steps
        .iter()
        .find(|s| s.step.opens.week_below.is_some())
}

/// A scion is loose from the first look on until it is tied in, or two weeks after the tape was taken off.
fn is_loose(care: &BatchCare<'_>, day: NaiveDate) -> bool {
    let Some(span) = &care.plan.sensitive else {
        return false;
    };
    let begun = care.step(&span.from).and_then(|s| s.opened);
    let tied = care.facts.answered_on(What::TiedIn).is_some();
    let firm = care.step(&span.until).is_some_and(|s| {
        let off = s.progress.done_on;
        s.state == State::PassedOver || off.is_some_and(|off| off + Days::new(NEWLY_OFF) < day)
    });
    begun.is_some_and(|o| o.on <= day) && !tied && !firm
}
