//! What is due and what comes next, in the words that a table has room for.
//!
//! The pages and the table in the terminal say the same, since both take it from here. Knows nothing of how it is set.

use crate::care::{BatchCare, DayLoad, ESTIMATED_ABOVE, Ground, Outlook, State, StepCare};
use crate::letters::grafting::days_left;
use crate::letters::{about, capital, count_of, day_near, day_short, from_to};
use crate::nursery::What;
use chrono::NaiveDate;

/// For so many days before it the last safe day for grafting is worth a line: the season.
const SEASON: i64 = 92;

/// Batches side by side that stand in one block.
pub fn blocks<'o, 'c>(
    open: &'o [&'c BatchCare<'c>],
) -> impl Iterator<Item = &'o [&'c BatchCare<'c>]> {
    open.chunk_by(|a, b| (&a.batch.site, &a.batch.block) == (&b.batch.site, &b.batch.block))
}

/// The steps of a batch that are due.
pub fn due<'c, 'a>(care: &'c BatchCare<'a>) -> impl Iterator<Item = &'c StepCare<'a>> {
    care.steps.iter().filter(|step| step.state.is_due())
}

/// What comes first of what has not opened: the next of the steps that follow each other.
pub fn next<'c, 'a>(care: &'c BatchCare<'a>) -> Option<&'c StepCare<'a>> {
    let follows = |s: &&StepCare<'_>| s.step.opens.repeat.is_none() && !s.step.aside;
    let ahead = |s: &&StepCare<'_>| s.state == State::Ahead && follows(s);
    care.steps.iter().find(ahead)
}

/// Standard days so far, marked where they are not all known.
pub fn warmth(care: &BatchCare<'_>) -> String {
    let mark = if care.heat().is_none() {
        "+"
    } else if care.filled_share > ESTIMATED_ABOVE {
        "~"
    } else {
        ""
    };
    format!("{:.1} d{mark}", care.standard_days().0)
}

/// What presses about a step that is due; empty where nothing does.
pub fn pressing(state: State) -> &'static str {
    match state {
        State::Late => "late",
        State::Closing => "last days",
        _ => "",
    }
}

/// "about Thu 20 Aug (Tue 18 - Sun 23)": when a window opens; a date alone where it is not a matter of warmth.
pub fn opens(
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    outlook: &Outlook<'_>,
    today: NaiveDate,
) -> String {
    match outlook.of(care, step) {
        Some(foreseen) => about(&foreseen, today),
        None => step
            .opened
            .map_or_else(String::new, |o| format!("about {}", day_near(o.on, today))),
    }
}

/// The last day in time, by the days known and the forecast; where that lies beyond them, about when.
pub fn until(
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    outlook: &Outlook<'_>,
    today: NaiveDate,
) -> String {
    match (step.closes_on, outlook.closes(care, step)) {
        (Some(day), _) => day_near(day, today),
        (None, Some(foreseen)) => about(&foreseen, today),
        (None, None) => String::new(),
    }
}

/// The crew hours of a day: "3.9 - 4.2".
pub fn hours(load: &DayLoad) -> String {
    from_to(
        &format!("{:.1}", load.hours_p50),
        &format!("{:.1}", load.hours_p90),
    )
}

/// Those of a site.
pub fn of_site<'o, 'c>(
    ground: &'o Ground<'_>,
    open: &'o [&'c BatchCare<'c>],
) -> impl Iterator<Item = &'c BatchCare<'c>> + use<'o, 'c> {
    let site = ground.site.id.as_str();
    open.iter()
        .copied()
        .filter(move |care| care.batch.site == site)
}

/// "Last safe day for grafting at home: Sat 22 Aug, 12 days left (maple field T-graft; ...)"; none out of season.
pub fn last_graft(ground: &Ground<'_>, open: &[&BatchCare<'_>]) -> Option<String> {
    let mut plans: Vec<&str> = of_site(ground, open)
        .map(|care| care.batch.plan.as_str())
        .collect();
    plans.sort_unstable();
    plans.dedup();
    let said: Vec<String> = plans
        .iter()
        .filter_map(|plan| last_day(ground, plan))
        .collect();
    (!said.is_empty()).then(|| {
        let site = &ground.site.id;
        format!("Last safe day for grafting at {site}: {}", said.join("; "))
    })
}

fn last_day(ground: &Ground<'_>, plan: &str) -> Option<String> {
    let last = ground.last_graft(plan)?.ok()?;
    let today = ground.moment.today;
    let (day, frost) = last.of_season(today)?;
    let in_season = (day - today).num_days() <= SEASON;
    let frost = format!(
        "{plan}; in 80 of 100 years no frost before {}",
        day_short(frost)
    );
    in_season.then(|| format!("{}, {} ({frost})", day_short(day), days_left(day, today)))
}

/// "C-14, block C: 12 grafts, re-graft by Sat 22 Aug, 12 days left"; none where nothing of it is grafted anew.
pub fn to_regraft(care: &BatchCare<'_>, today: NaiveDate) -> Option<String> {
    let anew = |step: &&StepCare<'_>| step.step.brings == [What::Regrafted];
    let step = due(care).find(anew)?;
    let by = step.closes_on?;
    Some(format!(
        "{}, block {}: {}, re-graft by {}, {}",
        care.batch.name,
        care.batch.block,
        count_of(step.left(), "graft"),
        day_short(by),
        days_left(by, today)
    ))
}

/// What little is to be cut when the first frost is near, for each step that is due and minds it.
pub fn frost_near(ground: &Ground<'_>, open: &[&BatchCare<'_>]) -> Vec<String> {
    let Some(frost) = ground.frost_near() else {
        return Vec::new();
    };
    let mut said: Vec<(&str, &str)> = of_site(ground, open)
        .flat_map(due)
        .filter_map(|step| Some((step.step.title.as_str(), step.step.say_frost.as_deref()?)))
        .collect();
    said.sort_unstable();
    said.dedup();
    let line = |(title, say): (&str, &str)| {
        format!(
            "{} at {}, first frost about {}: {say}",
            capital(title),
            ground.site.id,
            day_short(frost)
        )
    };
    said.into_iter().map(line).collect()
}
