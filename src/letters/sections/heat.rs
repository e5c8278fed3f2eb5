//! Heat that hurts unions, its end, and cold that keeps them waiting: with what it does to their dates.

use super::{in_heat, named, rows_of, site_of};
use crate::care::{Advice, BatchCare, Ground, Level, Stretch, every_spell};
use crate::letters::letter::{Context, Section};
use crate::letters::words::{count_of, list, span};
use crate::notices::Notice;
use crate::units::Celsius;
use chrono::NaiveDate;

pub(super) fn heat_spike(notice: &Notice, context: &Context<'_>) -> Section {
    let until = notice.until.unwrap_or(notice.on);
    let first: NaiveDate = notice.anchor.parse().unwrap_or(notice.on);
    let site = notice.about.subject();
    let ground = site_of(notice, context);
    let hottest = ground
        .iter()
        .flat_map(|g| g.series.between(first, until))
        .map(|d| d.max)
        .fold(f64::MIN, f64::max);
    let word = match notice.level {
        Some(Level::Injury) => "Dangerous heat",
        Some(Level::VeryHot) => "Very hot spell",
        _ => "Hot spell",
    };
    let (over, foreseen) = (until < context.today, first >= context.today);
    let (when, are) = match (over, foreseen) {
        (true, _) => ("It was up to", "were"),
        (false, true) => ("By the forecast up to", "are"),
        (false, false) => ("Partly by the forecast up to", "are"),
    };
    let danger = if notice.level == Some(Level::Injury) {
        " A single day of this may injure them."
    } else {
        ""
    };
    let advice = if over {
        "Look at them soon, the strongest stocks first: callus may have run on or been hurt."
    } else {
        "Look at the strongest stocks first. Take off no tape and bare no trunks in this heat; water, and shade where you can."
    };
    let words = span(first, until);
    let many = count_of(notice.batches.len() as u32, "batch");
    let mut paragraphs = vec![format!(
        "{when} {}, while the unions of {} {are} callusing or in tape.{danger}",
        context.units.temperature(Celsius(hottest)),
        list(&notice.batches)
    )];
    let effect = Effect::of(notice, first, until, context);
    paragraphs.extend(effect.iter().map(|e| e.as_foreseen(over)));
    paragraphs.push(advice.into());
    paragraphs.extend(not_put_off(notice, context));
    Section {
        heading: format!("{word} at {site}, {words}"),
        subject: format!("{word} {words}: {many} at {site}"),
        paragraphs,
        rows: rows_of(notice, context),
        ..Section::default()
    }
}

/// What is to be cut in spite of the heat, since it drives callus on.
fn not_put_off(notice: &Notice, context: &Context<'_>) -> Option<String> {
    let presses = |care: &&BatchCare<'_>| {
        let ends = care.limit.and_then(|limit| care.step(&limit.limit.until));
        let heat = ends.and_then(|step| in_heat::of_step(care, step, context));
        heat.is_some_and(|heat| heat.advice == Advice::NotPutOff)
    };
    let pressing: Vec<&BatchCare<'_>> = named(notice, context).filter(presses).collect();
    let limit = pressing.first()?.limit?.limit;
    let work = &pressing[0].plan.step(&limit.until)?.title;
    let names: Vec<String> = pressing.iter().map(|c| c.batch.name.clone()).collect();
    Some(format!(
        "Not to be put off for it, for {} runs on the faster: {work} {}, early in the morning, where lines show on both sides.",
        limit.title,
        list(&names)
    ))
}

/// A spell that was told is over: one line, with what it has done.
pub(super) fn spell_over(notice: &Notice, context: &Context<'_>) -> Section {
    let last = notice.until.unwrap_or(notice.on);
    let told: NaiveDate = notice.anchor.parse().unwrap_or(notice.on);
    let site = notice.about.subject();
    let spells = site_of(notice, context).map(every_spell);
    let spell = spells.iter().flatten().find(|s| s.last == last);
    let first = spell.map_or(told, |s| s.first);
    let hottest = spell.map_or_else(String::new, |s| {
        let max = context.units.temperature(Celsius(s.hottest));
        format!(" (up to {max})")
    });
    let effect = Effect::of(notice, first, last, context);
    let effect: Vec<String> = effect.iter().map(Effect::as_past).collect();
    let effect = effect.join("; ");
    Section {
        heading: format!("The hot spell at {site} is over"),
        subject: format!("The hot spell at {site} is over"),
        paragraphs: vec![format!(
            "The spell of {}{hottest} is over: {effect}.",
            span(first, last)
        )],
        ..Section::default()
    }
}

/// Cold days running: windows have moved, and there is nothing to do.
pub(super) fn cold_stall(notice: &Notice, context: &Context<'_>) -> Section {
    let last = notice.until.unwrap_or(notice.on);
    let first = notice.anchor.split(' ').next();
    let first: NaiveDate = first.and_then(|day| day.parse().ok()).unwrap_or(notice.on);
    let site = notice.about.subject();
    let foreseen = if last >= context.today {
        ", the last by forecast"
    } else {
        ""
    };
    let effect = Effect::of(notice, first, last, context);
    let effect: Vec<String> = effect.iter().map(Effect::as_past).collect();
    Section {
        heading: format!("Cold at {site}: windows come later"),
        subject: format!("Cold at {site} {}: windows come later", span(first, last)),
        paragraphs: vec![format!(
            "It has been cold, {}{foreseen}: {}. There is nothing to do but wait: callus comes with the warmth.",
            span(first, last),
            effect.join("; ")
        )],
        ..Section::default()
    }
}

/// What a stretch of days does to the dates of the batches of one plan.
struct Effect {
    plan: Option<String>,
    standard_days: Option<f64>,
    days: i64,
    usual: f64,
    by_years: bool,
    batches: Vec<String>,
    /// The least and the most days by which dates come sooner; below 0, later.
    moved: Option<(i64, i64)>,
}

impl Effect {
    /// Plan by plan, for the batches of a notice.
    fn of(notice: &Notice, first: NaiveDate, last: NaiveDate, context: &Context<'_>) -> Vec<Self> {
        let Some(ground) = site_of(notice, context) else {
            return Vec::new();
        };
        let cares: Vec<&BatchCare<'_>> = named(notice, context).collect();
        let mut plans: Vec<&str> = cares.iter().map(|c| c.plan.name.as_str()).collect();
        plans.sort_unstable();
        plans.dedup();
        let several = plans.len() > 1;
        let of_plan = |plan: &&str| {
            let theirs: Vec<&BatchCare<'_>> = cares
                .iter()
                .filter(|c| c.plan.name == *plan)
                .copied()
                .collect();
            Self::of_plan(ground, &theirs, (first, last), several)
        };
        plans.iter().filter_map(of_plan).collect()
    }

    fn of_plan(
        ground: &Ground<'_>,
        cares: &[&BatchCare<'_>],
        (first, last): (NaiveDate, NaiveDate),
        several: bool,
    ) -> Option<Self> {
        let plan = cares.first()?.plan;
        let stretch = Stretch::new(ground, plan, first, last);
        let moved = || cares.iter().filter_map(|care| stretch.moved(care));
        Some(Self {
            plan: several.then(|| plan.name.clone()),
            standard_days: stretch.standard_days().map(|s| s.0),
            days: stretch.days(),
            usual: stretch.usual_standard_days().0,
            by_years: stretch.is_by_years(),
            batches: cares.iter().map(|c| c.batch.name.clone()).collect(),
            moved: moved().min().zip(moved().max()),
        })
    }

    /// "4.1 standard days in 3 days, where 2.8 are usual".
    fn amount(&self) -> Option<String> {
        let days = count_of(self.days as u32, "day");
        let usual = if self.by_years {
            format!(", where {:.1} are usual", self.usual)
        } else {
            String::new()
        };
        Some(format!(
            "{:.1} standard days in {days}{usual}",
            self.standard_days?
        ))
    }

    fn plan(&self) -> String {
        self.plan
            .as_ref()
            .map_or_else(String::new, |plan| format!("{plan}: "))
    }

    /// "2 days earlier", "1 to 2 days later"; empty where they hardly move.
    fn moved(&self) -> Option<String> {
        let (least, most) = self.moved?;
        let (few, many) = (least.abs().min(most.abs()), least.abs().max(most.abs()));
        if many == 0 {
            return Some(String::new());
        }
        let way = if least + most < 0 { "later" } else { "earlier" };
        let days = count_of(many as u32, "day");
        Some(if few == many || least.signum() * most.signum() < 0 {
            format!("{days} {way}")
        } else {
            format!("{few} to {days} {way}")
        })
    }

    /// The sentence of a spell that is foretold, on, or just over.
    fn as_foreseen(&self, over: bool) -> String {
        let (brings, come) = if over {
            ("It brought", "now come")
        } else {
            ("It brings", "come")
        };
        let amount = self
            .amount()
            .map_or_else(String::new, |amount| format!("{brings} {amount}. "));
        let moved = match self.moved() {
            None => "No window of theirs is left to move.".to_owned(),
            Some(by) if by.is_empty() && over => "Their windows have hardly moved.".to_owned(),
            Some(by) if by.is_empty() => "Their windows hardly move.".to_owned(),
            Some(by) => format!("Their windows {come} {by}."),
        };
        format!("{}{amount}{moved}", self.plan())
    }

    /// "4.1 standard days in 3 days; windows of these 6 batches now come 2 days earlier (A-1, A-2)".
    fn as_past(&self) -> String {
        let names = list(&self.batches);
        let these = match self.batches.len() {
            1 => "this batch".to_owned(),
            n => format!("these {n} batches"),
        };
        let moved = match self.moved() {
            None => format!("no window is left to move of {these} ({names})"),
            Some(by) if by.is_empty() => {
                format!("windows of {these} have hardly moved ({names})")
            }
            Some(by) => format!("windows of {these} now come {by} ({names})"),
        };
        let amount = self
            .amount()
            .map_or_else(String::new, |amount| format!("{amount}; "));
        format!("{}{amount}{moved}", self.plan())
    }
}
