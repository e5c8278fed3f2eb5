//! Work that bares a union or a trunk while a spell of heat is on or foretold: what waits for its end and what does not.
//!
//! Common practice, no source: tape stays on and no trunk is bared in heat that hurts unions; where tape cannot stay as it is,
//! it is slit and bound again loosely. A stock that drives callus over its scions is headed back all the same, since heat
//! drives it the more. What heat is, is the business of `spells`.

use super::spells::{Spell, every_spell, is_sensitive};
use super::{BatchCare, Ground, State, StepCare};
use crate::nursery::{What, Workdays};
use chrono::NaiveDate;

/// Work that falls into a spell.
#[derive(Clone, Debug, PartialEq)]
pub struct InHeat {
    /// The spell.
    pub spell: Spell,
    /// What to do instead.
    pub advice: Advice,
}

/// What to do about work that falls into a spell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Advice {
    /// It is what the heat asks for: the limit is reached before the spell is over, or callus was seen to run on.
    NotPutOff,
    /// It waits, and is still in time on this working day, the first after the spell.
    After(NaiveDate),
    /// It closes before the spell is over, and slitting the tape keeps it open: taken off from that day on.
    Ease(NaiveDate),
    /// It closes before the spell is over.
    EarlyInTheDay,
}

/// The first spell from today on that touches the batch within the window of a step that bares something, and what to do.
pub fn in_heat(
    ground: &Ground<'_>,
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    workdays: &Workdays,
) -> Option<InHeat> {
    let today = ground.moment.today;
    let bares = step.step.caution.is_some() || step.step.brings.contains(&What::TapeOff);
    if !bares || !step.state.is_due() || step.left() == 0 {
        return None;
    }
    let spells = every_spell(ground);
    let close = step.closes_on.map(|close| close.max(today));
    let falls_in = |spell: &&Spell| {
        spell.last >= today
            && close.is_none_or(|close| spell.first <= close)
            && is_sensitive(care, spell.last)
    };
    let spell = spells.iter().find(falls_in)?;
    let mut after = workdays.next_after(spell.last)?;
    while let Some(next) = spells.iter().find(|s| (s.first..=s.last).contains(&after)) {
        after = workdays.next_after(next.last)?;
    }
    let is_limits = care
        .limit
        .is_some_and(|limit| limit.running && limit.limit.until == step.step.id);
    let presses = || {
        let reached = care.limit.and_then(|limit| limit.reached_on);
        care.over_callused().is_some() || reached.is_some_and(|day| day <= after)
    };
    let in_time = step.state != State::Late && step.closes_on.is_none_or(|close| close >= after);
    let eased = step.step.closes.and_then(|closes| closes.held);
    let advice = if is_limits && presses() {
        Advice::NotPutOff
    } else if in_time {
        Advice::After(after)
    } else if eased.is_some_and(|held| held.by == What::TapeEased) {
        Advice::Ease(after)
    } else {
        Advice::EarlyInTheDay
    };
    Some(InHeat {
        spell: spell.clone(),
        advice,
    })
}
