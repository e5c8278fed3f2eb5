//! What presses most, the worst first: limits, weather on unions and soft growth, windows that have run out or are about to.
//!
//! These are findings of `care` as they stand, whether they have been told or not; `notices` decides what is news.

use super::Occasion;
use super::standing::{due, until};
use crate::care::{BatchCare, Bout, Ground, Harm, LimitCare, Spell, State, StepCare, bouts};
use crate::care::{spells, touches};
use crate::letters::{Context, about, block_of, day_near, day_short, span};
use crate::units::Celsius;
use chrono::{Days, NaiveDate};

/// A limit that is so near is worth acting on at once; the same days as in letters.
const PRESSING: Days = Days::new(3);
/// One that may be reached within so many days is worth knowing of (judgement).
const IN_SIGHT: Days = Days::new(7);

/// What kind of risk it is; the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Danger {
    /// Callus was seen to grow over scions.
    Seen,
    /// The limit is reached, or will be within days.
    Limit,
    /// Heat on callusing unions.
    Heat,
    /// Wind on untied scions.
    Wind,
    /// A window has closed without its work.
    Late,
    /// No working day is left after today.
    LastDay,
    /// Frost on soft growth.
    Frost,
    /// The limit may be reached within a week.
    InSight,
    /// Rain on new tape.
    Rain,
}

impl Danger {
    /// The word that says it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Seen => "Over-callused",
            Self::Limit => "Limit near",
            Self::Heat => "Heat",
            Self::Wind => "Wind",
            Self::Late => "Late",
            Self::LastDay => "Last working day",
            Self::Frost => "Frost",
            Self::InSight => "Limit in sight",
            Self::Rain => "Rain",
        }
    }

    /// Whether today's walk has to mind it beside the work itself.
    pub fn is_to_mind(self) -> bool {
        !matches!(self, Self::Late | Self::LastDay | Self::InSight)
    }
}

/// One risk of the batches of one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Risk<'a> {
    /// Which.
    pub danger: Danger,
    /// Site and block; no block where it is about a whole site.
    pub at: (&'a str, Option<&'a str>),
    /// "Block C", "home".
    pub place: String,
    /// "head back, was due Tue 18 Aug".
    pub said: String,
    /// Whom it is about.
    pub batches: Vec<&'a str>,
    on: NaiveDate,
}

/// Everything that presses, the worst first, then the soonest.
pub fn risks<'a>(occasion: &Occasion<'a>, open: &[&'a BatchCare<'a>]) -> Vec<Risk<'a>> {
    let context = occasion.context;
    let mut found: Vec<Risk<'a>> = Vec::new();
    for &care in open {
        let of_steps = due(care).filter_map(|step| window(care, step, context));
        for (danger, on, said) in seen(care, context)
            .into_iter()
            .chain(limit(care, context))
            .chain(of_steps)
        {
            let batch = care.batch.name.as_str();
            let at = (care.batch.site.as_str(), Some(care.batch.block.as_str()));
            // What is only in sight is one line a block, with its first day.
            let alike = |r: &Risk<'_>| r.said == said || danger == Danger::InSight;
            let same = |r: &&mut Risk<'_>| r.danger == danger && r.at == at && alike(r);
            match found.iter_mut().rev().find(same) {
                Some(risk) => {
                    risk.batches.push(batch);
                    if on < risk.on {
                        (risk.on, risk.said) = (on, said);
                    }
                }
                None => found.push(Risk {
                    danger,
                    at,
                    place: block_of(care, context),
                    said,
                    batches: vec![batch],
                    on,
                }),
            }
        }
    }
    let several = |r: &&mut Risk<'_>| r.danger == Danger::InSight && r.batches.len() > 1;
    for risk in found.iter_mut().filter(several) {
        risk.said = format!("the first: {}", risk.said);
    }
    let grounds = context.grounds.iter();
    found.extend(grounds.flat_map(|ground| weather(ground, context, open)));
    found.sort_by_key(|risk| (risk.danger, risk.on));
    found
}

type Found = (Danger, NaiveDate, String);

fn seen(care: &BatchCare<'_>, context: &Context<'_>) -> Option<Found> {
    let day = care.over_callused()?;
    let is_new = day + IN_SIGHT >= context.today;
    let said = format!("callus was seen to grow over scions on {}", day_short(day));
    is_new.then_some((Danger::Seen, day, said))
}

fn limit(care: &BatchCare<'_>, context: &Context<'_>) -> Option<Found> {
    let running: LimitCare<'_> = care.limit.filter(|limit| limit.running)?;
    let title = &running.limit.title;
    let ends = care.plan.step(&running.limit.until)?.title.as_str();
    match running.reached_on {
        Some(day) if running.state == State::Late => {
            let since = day_short(day);
            let said = format!("warm enough for {title} since {since}, and not done yet: {ends}");
            Some((Danger::Limit, day, said))
        }
        Some(day) => {
            let danger = if day <= context.today + PRESSING {
                Danger::Limit
            } else {
                Danger::InSight
            };
            Some((
                danger,
                day,
                format!("{title} by {}", day_near(day, context.today)),
            ))
        }
        None => {
            let foreseen = context.outlook.limit(care)?;
            let first = foreseen.band.p10?;
            let danger = if first <= context.today + PRESSING {
                Danger::Limit
            } else {
                Danger::InSight
            };
            let near = first <= context.today + IN_SIGHT;
            let said = format!("{title} {}", about(&foreseen, context.today));
            near.then_some((danger, first, said))
        }
    }
}

fn window(care: &BatchCare<'_>, step: &StepCare<'_>, context: &Context<'_>) -> Option<Found> {
    let (danger, word) = match step.state {
        State::Late => (Danger::Late, "was due"),
        State::Closing => (Danger::LastDay, "by"),
        _ => return None,
    };
    let day = until(care, step, context.outlook, context.today);
    let said = format!("{}, {word} {day}", care.task(step));
    Some((danger, step.closes_on?, said))
}

/// Heat, wind, frost and rain that are on or foretold and touch an open batch of the site.
fn weather<'a>(
    ground: &'a Ground<'a>,
    context: &Context<'a>,
    open: &[&'a BatchCare<'a>],
) -> Vec<Risk<'a>> {
    let site = ground.site.id.as_str();
    let risk = |danger, said, batches, on| Risk {
        danger,
        at: (site, None),
        place: site.to_owned(),
        said,
        batches,
        on,
    };
    let here = |concerned: &dyn Fn(&BatchCare<'_>) -> bool| -> Vec<&'a str> {
        let here = open.iter().filter(|care| care.batch.site == site);
        let here = here.filter(|care| concerned(care));
        here.map(|care| care.batch.name.as_str()).collect()
    };
    let on_or_to_come = |spell: &Spell| spell.last >= context.today;
    let heat = spells(ground).into_iter().filter(on_or_to_come);
    let heat = heat.map(|spell| {
        let max = context.units.temperature(Celsius(spell.hottest));
        let days = span(spell.first, spell.last);
        let said = format!("up to {max} on {days}, on unions that are callusing or in tape");
        let batches = here(&|care| touches(&spell, care));
        risk(Danger::Heat, said, batches, spell.on)
    });
    let bouts = [
        (Harm::Wind, Danger::Wind),
        (Harm::Frost, Danger::Frost),
        (Harm::Rain, Danger::Rain),
    ]
    .into_iter()
    .flat_map(|(harm, danger)| {
        let bouts = bouts(harm, ground, context.workdays, context.cares);
        let to_come = bouts.into_iter().filter(|bout| bout.last >= context.today);
        to_come.map(move |bout| (danger, bout))
    });
    let bouts = bouts.map(|(danger, bout): (Danger, Bout)| {
        let days = span(bout.first, bout.last);
        let said = match danger {
            Danger::Wind => format!(
                "gusts of up to {} on {days}, on scions that are not tied in or not firm",
                context.units.wind(bout.worst)
            ),
            Danger::Frost => format!(
                "down to {} on {days}, on soft growth",
                // Minus nought is written as nought.
                context.units.temperature(Celsius(bout.worst.round() + 0.0))
            ),
            _ => format!("{} on {days}, on new tape", context.units.rain(bout.worst)),
        };
        let batches = here(&|care| bout.batches.contains(&care.batch.name));
        risk(danger, said, batches, bout.first)
    });
    let all = heat.chain(bouts);
    all.filter(|risk| !risk.batches.is_empty()).collect()
}
