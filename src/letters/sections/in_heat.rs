//! What a spell of heat does to the work of a section: one sentence, with what to do instead.

use crate::care::{Advice, BatchCare, InHeat, StepCare, in_heat};
use crate::letters::letter::{Context, care_of, step_of};
use crate::letters::words::{capital, day_near, list, span};
use crate::notices::Notice;
use crate::nursery::What;
use crate::units::Celsius;
use chrono::NaiveDate;
use std::collections::BTreeSet;

/// What heat does to a step of a batch, where a spell falls into its window.
pub(super) fn of_step(
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    context: &Context<'_>,
) -> Option<InHeat> {
    let site = &care.batch.site;
    let ground = context.grounds.iter().find(|g| g.site.id == *site)?;
    in_heat(ground, care, step, context.workdays)
}

/// The same of what a notice asks for: of a limit the work that ends it.
fn of_notice<'a>(notice: &Notice, context: &Context<'a>) -> Option<(&'a StepCare<'a>, InHeat)> {
    let care = care_of(notice, context)?;
    let step = if notice.kind.is_of_limit() {
        care.step(&care.limit?.limit.until)?
    } else {
        step_of(notice, context)?
    };
    Some((step, of_step(care, step, context)?))
}

/// The day after the heat from which on all of this is to be done, where all of it waits.
pub(super) fn waits_until(notices: &[&Notice], context: &Context<'_>) -> Option<NaiveDate> {
    let day = |notice: &&Notice| match of_notice(notice, context)?.1.advice {
        Advice::After(day) => Some(day),
        _ => None,
    };
    let days: Option<Vec<NaiveDate>> = notices.iter().map(day).collect();
    let days = days?;
    let first = *days.first()?;
    days.iter().all(|day| *day == first).then_some(first)
}

/// What a spell asks for, in a sentence for all whom it touches alike.
pub(super) fn said(notices: &[&Notice], context: &Context<'_>) -> Vec<String> {
    let mut said: Vec<(String, BTreeSet<&str>)> = Vec::new();
    let several = notices.iter().any(|n| n.step != notices[0].step);
    for notice in notices {
        let Some((step, heat)) = of_notice(notice, context) else {
            continue;
        };
        let mut sentence = sentence(&heat, step, context);
        if several {
            sentence = format!("{}: {sentence}", capital(&step.step.title));
        }
        let name = notice.about.subject();
        match said.iter_mut().find(|(of, _)| *of == sentence) {
            Some((_, names)) => {
                names.insert(name);
            }
            None => said.push((sentence, BTreeSet::from([name]))),
        }
    }
    let all: BTreeSet<&str> = notices.iter().map(|n| n.about.subject()).collect();
    let line = |(sentence, names): (String, BTreeSet<&str>)| {
        if names == all {
            return sentence;
        }
        let names: Vec<String> = names.into_iter().map(str::to_owned).collect();
        format!("{}: {sentence}", list(&names))
    };
    said.into_iter().map(line).collect()
}

fn sentence(heat: &InHeat, step: &StepCare<'_>, context: &Context<'_>) -> String {
    let (spell, today) = (&heat.spell, context.today);
    let days = span(spell.first, spell.last);
    let of = if spell.first > today {
        "foretold for"
    } else {
        "of"
    };
    let max = context.units.temperature(Celsius(spell.hottest));
    let heat_of = format!("heat {of} {days} (up to {max})");
    let is_tape = step.step.brings.contains(&What::TapeOff);
    match heat.advice {
        Advice::NotPutOff => format!(
            "The {heat_of} is no reason to wait: it drives callus over the scion all the faster. Do this early in the morning."
        ),
        Advice::After(day) => {
            let leave = if is_tape {
                "leave the tape on and bare no trunk"
            } else {
                "do not cut"
            };
            format!(
                "Not in the {heat_of}: {leave} until it is over, and do this from {} on.",
                day_near(day, today)
            )
        }
        Advice::Ease(day) => format!(
            "Take no tape off in the {heat_of}: until it is over, slit it opposite the scion early in the morning where it cuts in, rebind loosely and write down tape-eased; take it off from {} on.",
            day_near(day, today)
        ),
        Advice::EarlyInTheDay => {
            let before = if spell.first > today {
                "before it, or "
            } else {
                ""
            };
            format!(
                "The {heat_of} lasts as long as there is time for this: do it {before}early in the morning, and shade what is bared."
            )
        }
    }
}
