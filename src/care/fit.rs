//! Whether a day is fit for grafting, by the weather before, on and after it.
//!
//! Says what speaks against the day and what is not known of it; where a forecast or years before are missing nothing is
//! guessed. Hands on findings, not words.

use super::spells::threshold;
use super::{Ground, Level, NoLastGraft};
use crate::nursery::{Plan, Workdays};
use chrono::{Days, NaiveDate};

/// Bark slips while the stock grows: mean of the week in °C from which on it does. Judgement.
const GROWING: f64 = 10.0;
/// Between these shares of 100 of the season's maxima a day is neither cool nor hot for the site: judgement.
const USUAL: (usize, usize) = (20, 80);
/// A spell of heat within so many days after grafting hurts the callus: judgement.
const SPELL_WITHIN: u64 = 7;
/// A night is warm from this minimum in °C on: judgement.
const WARM_NIGHT: f64 = 8.0;
/// Gusts in km/h from which on scions are hard to set and dry out: judgement.
const GUSTY: f64 = 40.0;
/// A day with so much rain in mm is a wet one, as is usual in the study of climate (memory).
const WET: f64 = 1.0;
/// Below so much rain in mm in the seven days before, stocks are watered two or three days ahead: judgement.
const DRY: f64 = 15.0;

/// One thing that speaks against grafting on a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Against {
    /// Nobody works on it.
    DayOff,
    /// It lies after the last safe day, which is this.
    AfterLast(NaiveDate),
    /// There is no safe day at this site, since too little warmth without frost comes before autumn.
    NoSeason,
    /// The week's mean in °C: bark may not slip.
    NotGrowing(f64),
    /// The usual mean in °C of the week up to it, where no forecast reaches it: bark may not slip.
    UsuallyNotGrowing(f64),
    /// Its maximum, and what four of five days reach, in °C.
    Cool(f64, f64),
    /// Its maximum, and what four of five days stay under, in °C.
    Hot(f64, f64),
    /// A spell of heat comes: its first day, and its hottest maximum in °C.
    Spell(NaiveDate, f64),
    /// Its minimum in °C.
    ColdNight(f64),
    /// Its strongest gust in km/h.
    Gusts(f64),
    /// Its rain in mm.
    Rain(f64),
}

/// One thing that is not known of a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unsure {
    /// Nothing of its weather is known.
    Weather,
    /// The week's mean.
    Week,
    /// What is usual at the site: years before are missing.
    Usual,
    /// Whether heat comes after this day, the last of the forecast.
    HeatAfter(NaiveDate),
    /// Its gusts.
    Gusts,
    /// Its rain.
    Rain,
    /// The last safe day: years before are missing.
    LastGraft,
}

/// How fit a day is.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fit {
    /// What speaks against it.
    pub against: Vec<Against>,
    /// What is not known of it.
    pub unsure: Vec<Unsure>,
    /// The ground is dry: the rain of the seven days before in mm.
    pub dry: Option<f64>,
}

/// How fit a day is for grafting by a plan.
pub fn fit(ground: &Ground<'_>, plan: &Plan, workdays: &Workdays, day: NaiveDate) -> Fit {
    let mut fit = Fit::default();
    if !workdays.works(day) {
        fit.against.push(Against::DayOff);
    }
    season(&mut fit, ground, plan, day);
    weather(&mut fit, ground, day);
    fit.dry = rain_before(ground, day).filter(|&rain| rain < DRY);
    fit
}

fn season(fit: &mut Fit, ground: &Ground<'_>, plan: &Plan, day: NaiveDate) {
    match ground.last_graft(&plan.name) {
        Some(Ok(last)) => {
            if let Some((last, _)) = last.of_season(day)
                && last < day
            {
                fit.against.push(Against::AfterLast(last));
            }
        }
        Some(Err(NoLastGraft::TooCold)) => fit.against.push(Against::NoSeason),
        Some(Err(NoLastGraft::Unknown)) => fit.unsure.push(Unsure::LastGraft),
        Some(Err(NoLastGraft::NeverFreezes)) | None => {}
    }
}

fn weather(fit: &mut Fit, ground: &Ground<'_>, day: NaiveDate) {
    let Some(on) = ground.series.day(day) else {
        fit.unsure.push(Unsure::Weather);
        // In the cold season no forecast is needed to know better.
        let usual = ground.usual_week(day).filter(|&mean| mean < GROWING);
        fit.against.extend(usual.map(Against::UsuallyNotGrowing));
        return;
    };
    match ground.series.week_mean(day) {
        Some(mean) if mean < GROWING => fit.against.push(Against::NotGrowing(mean)),
        Some(_) => {}
        None => fit.unsure.push(Unsure::Week),
    }
    let usual = |percent| ground.usual.maximum(percent);
    match (usual(USUAL.0), usual(USUAL.1)) {
        (Some(low), _) if on.max < low => fit.against.push(Against::Cool(on.max, low)),
        (_, Some(high)) if on.max > high => fit.against.push(Against::Hot(on.max, high)),
        (Some(_), Some(_)) => {}
        _ => fit.unsure.push(Unsure::Usual),
    }
    if on.min < WARM_NIGHT {
        fit.against.push(Against::ColdNight(on.min));
    }
    heat_after(fit, ground, day);
    match on.gust {
        Some(gust) if gust >= GUSTY => fit.against.push(Against::Gusts(gust)),
        Some(_) => {}
        None => fit.unsure.push(Unsure::Gusts),
    }
    match on.rain {
        Some(rain) if rain >= WET => fit.against.push(Against::Rain(rain)),
        Some(_) => {}
        None => fit.unsure.push(Unsure::Rain),
    }
}

/// Heat that would be a spell: see `spells`.
fn heat_after(fit: &mut Fit, ground: &Ground<'_>, day: NaiveDate) {
    let hot = threshold(&ground.usual);
    let span = day.iter_days().take(1 + SPELL_WITHIN as usize);
    let known: Vec<_> = span.map_while(|day| ground.series.day(day)).collect();
    let runs = known.chunk_by(|a, b| (a.max >= hot) == (b.max >= hot));
    let hottest = |run: &[&crate::days::Day]| run.iter().map(|d| d.max).fold(f64::MIN, f64::max);
    let spell = runs
        .filter(|run| run[0].max >= hot)
        .find(|run| run.len() > 1 || hottest(run) >= Level::Injury.from());
    if let Some(spell) = spell {
        fit.against
            .push(Against::Spell(spell[0].date, hottest(spell)));
    } else if known.len() < 1 + SPELL_WITHIN as usize {
        let last = known.last().map_or(day, |last| last.date);
        fit.unsure.push(Unsure::HeatAfter(last));
    }
}

/// The rain of the seven days before in mm; none where that of one is not known.
fn rain_before(ground: &Ground<'_>, day: NaiveDate) -> Option<f64> {
    (1..=7).try_fold(0.0, |sum, back| {
        let before = day.checked_sub_days(Days::new(back))?;
        Some(sum + ground.series.day(before)?.rain?)
    })
}
