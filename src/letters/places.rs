//! Where something is to be done: blocks for the head of a section, batches for its list.

use super::letter::{Context, Place, Row, care_of, step_of};
use super::words::{count_of, day_near, grouped, list};
use crate::care::{BatchCare, Deadline, ESTIMATED_ABOVE, State, StepCare};
use crate::notices::{Kind, Notice};
use crate::nursery::What;
use chrono::{Days, NaiveDate};
use std::collections::HashMap;

/// The blocks that the notices touch.
pub fn places(notices: &[&Notice], context: &Context<'_>) -> Vec<Place> {
    let several = context.grounds.len() > 1;
    let mut places: Vec<Place> = Vec::new();
    let mut at: HashMap<_, usize> = HashMap::new();
    for notice in notices {
        let Some(care) = care_of(notice, context) else {
            continue;
        };
        let batch = &care.batch;
        let site = if several {
            batch.site.to_string()
        } else {
            String::new()
        };
        let left = left(care, work_of(notice, context));
        let (by, about) =
            step_of(notice, context).map_or((None, None), |step| closes(care, step, context));
        let key = (several.then_some(batch.site.as_str()), batch.block.as_str());
        let &mut at = at.entry(key).or_insert(places.len());
        if at == places.len() {
            places.push(Place {
                site,
                block: batch.block.to_string(),
                batches: 0,
                grafts: 0,
                by,
                about,
            });
        }
        let place = &mut places[at];
        place.batches += 1;
        place.grafts = place.grafts.saturating_add(left);
        place.by = [place.by, by].into_iter().flatten().min();
        place.about = [place.about, about].into_iter().flatten().min();
    }
    places.sort_by(|a, b| (&a.site, &a.block).cmp(&(&b.site, &b.block)));
    places
}

impl Place {
    /// "Block C", "Block C at home".
    pub fn name(&self) -> String {
        places_named(std::slice::from_ref(self))
    }

    /// "2 batches, 310 grafts".
    pub fn size(&self) -> String {
        totals(std::slice::from_ref(self))
    }

    /// ", by Tue 18 Aug", ", by about Tue 18 Aug" where that is only foretold, ", was due by Tue 18 Aug" (of several
    /// batches "were"); empty where it has no end.
    pub fn until(&self, today: NaiveDate) -> String {
        let were = if self.batches == 1 { "was" } else { "were" };
        match (self.by, self.about) {
            (Some(by), _) if by < today => format!(", {were} due by {}", day_near(by, today)),
            (by, Some((day, rough))) if by.is_none_or(|by| day < by) => {
                format!(", {}", by_about(day, rough, today))
            }
            (Some(by), _) => format!(", by {}", day_near(by, today)),
            (None, _) => String::new(),
        }
    }
}

/// The same places, where nothing is to be done by a day.
pub fn undated(mut places: Vec<Place>) -> Vec<Place> {
    for place in &mut places {
        place.by = None;
        place.about = None;
    }
    places
}

fn by_about(day: NaiveDate, rough: bool, today: NaiveDate) -> String {
    let word = if rough { "roughly" } else { "about" };
    format!("by {word} {}", day_near(day, today))
}

/// The day before which a batch asks for this work, as far as it is known; where no forecast reaches it, the earliest tenth of
/// the days on which it may come, and whether that is rough. One date a batch: where its limit may be reached before the
/// window closes, that of the limit.
fn closes(
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    context: &Context<'_>,
) -> (Option<NaiveDate>, Option<(NaiveDate, bool)>) {
    let open = matches!(step.state, State::Open | State::Closing);
    let by = if let Some(limit) = limit_first(care, step, context) {
        Some(limit)
    } else if step.closes_on.is_some() || !open {
        return (step.in_time_to(context.today), None);
    } else {
        context.outlook.act_before_close(care, step)
    };
    match by.map(|by| (by.on.max(context.today), by.foreseen)) {
        Some((day, None)) => (Some(day), None),
        Some((day, Some(foreseen))) if day <= context.today + SOON => {
            (None, Some((day, foreseen.rough)))
        }
        _ => (None, None),
    }
}

/// The day before which a batch asks for this work, as letters show it; none where it has no end in sight.
pub fn act_before(
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    context: &Context<'_>,
) -> Option<NaiveDate> {
    let (by, about) = closes(care, step, context);
    by.or(about.map(|(day, _)| day))
}

/// The day of the limit of a batch, where that may come before the window of an open step closes.
pub fn limit_first(
    care: &BatchCare<'_>,
    step: &StepCare<'_>,
    context: &Context<'_>,
) -> Option<Deadline> {
    care.limit.filter(|limit| limit.running)?;
    let open = matches!(step.state, State::Open | State::Closing);
    let limit = context.outlook.act_before_limit(care)?;
    let close = context.outlook.act_before_close(care, step);
    let first = limit.on >= context.today && close.is_none_or(|close| limit.on < close.on);
    let is_told = limit.foreseen.is_none() || limit.on <= context.today + SOON;
    // The dead are past all that.
    let anew = step.step.brings == [What::Regrafted];
    (open && first && is_told && !anew).then_some(limit)
}

/// Whether the day to act before, of a limit or a close, is roughly foreseen or by the years before; none where it is known
/// or foretold.
pub fn is_foreseen(notice: &Notice, context: &Context<'_>) -> Option<bool> {
    if !matches!(notice.kind, Kind::OverCallusRisk | Kind::LastCall) {
        return None;
    }
    notice.until?;
    let care = care_of(notice, context)?;
    let futures = context
        .outlook
        .futures(&care.batch.site, &care.plan.model)?;
    Some(futures.is_rough())
}

/// The places with the days that the notices are about instead of those of windows, where these are still to come.
pub fn at_their_days(
    mut places: Vec<Place>,
    notices: &[&Notice],
    context: &Context<'_>,
) -> Vec<Place> {
    let several = context.grounds.len() > 1;
    let mut soonest: HashMap<(&str, &str), &Notice> = HashMap::new();
    for &notice in notices.iter().filter(|n| n.on >= context.today) {
        let site = notice.about.site().filter(|_| several);
        let block = notice.about.block().unwrap_or_default();
        let first = soonest.entry((site.unwrap_or_default(), block));
        let first = first.or_insert(notice);
        if notice.on < first.on {
            *first = notice;
        }
    }
    for place in &mut places {
        let soonest = soonest.get(&(place.site.as_str(), place.block.as_str()));
        let foreseen = soonest.is_some_and(|n| is_foreseen(n, context).is_some());
        let on = soonest.map(|n| n.on);
        // The careful day needs no "roughly".
        place.about = on.filter(|_| foreseen).map(|on| (on, false));
        place.by = on.filter(|_| !foreseen);
    }
    places
}

/// The step that is to be done: of a risk the one that ends it.
fn work_of<'a>(notice: &Notice, context: &Context<'a>) -> Option<&'a StepCare<'a>> {
    if notice.kind != Kind::OverCallusRisk {
        return step_of(notice, context);
    }
    let care = care_of(notice, context)?;
    care.step(&care.limit?.limit.until)
}

fn left(care: &BatchCare<'_>, step: Option<&StepCare<'_>>) -> u32 {
    step.map_or_else(
        || care.facts.alive(),
        |s| s.progress.of.saturating_sub(s.progress.done),
    )
}

/// A close that is only foretold is said within so many days; what closes later is no reason to hurry.
const SOON: Days = Days::new(28);

/// So many blocks are named; more are counted.
const NAMED: usize = 4;

/// "Block C", "Blocks A and C", "Blocks A and C at home and D at hill", "6 blocks".
pub fn places_named(places: &[Place]) -> String {
    if places.len() > NAMED {
        return count_of(places.len() as u32, "block");
    }
    let mut sites: Vec<(&str, Vec<String>)> = Vec::new();
    for place in places {
        match sites.iter_mut().find(|(site, _)| *site == place.site) {
            Some((_, blocks)) => blocks.push(place.block.clone()),
            None => sites.push((&place.site, vec![place.block.clone()])),
        }
    }
    let of_site = |(site, blocks): &(&str, Vec<String>)| {
        if site.is_empty() {
            list(blocks)
        } else {
            format!("{} at {site}", list(blocks))
        }
    };
    let names: Vec<String> = sites.iter().map(of_site).collect();
    let block = if places.len() == 1 { "Block" } else { "Blocks" };
    format!("{block} {}", list(&names))
}

/// "2 batches, 310 grafts".
pub fn totals(places: &[Place]) -> String {
    let batches = places.iter().map(|p| p.batches).sum();
    let grafts = places
        .iter()
        .fold(0_u32, |sum, p| sum.saturating_add(p.grafts));
    format!(
        "{}, {}",
        count_of(batches, "batch"),
        count_of(grafts, "graft")
    )
}

/// A line for each batch, by place and name.
pub fn rows(notices: &[&Notice], context: &Context<'_>) -> Vec<Row> {
    let mut rows: Vec<((String, String), Row)> = notices
        .iter()
        .filter_map(|notice| {
            let care = care_of(notice, context)?;
            let mut row = row(care, work_of(notice, context), context);
            if is_foreseen(notice, context).is_some() {
                row.by = by_about(notice.on, false, context.today);
            } else if notice.kind == Kind::OverCallusRisk {
                let word = if notice.on < context.today {
                    "since"
                } else {
                    "by"
                };
                row.by = format!("{word} {}", day_near(notice.on, context.today));
            }
            Some((
                (care.batch.site.to_string(), care.batch.block.to_string()),
                row,
            ))
        })
        .collect();
    rows.sort_by(|(a, row), (b, other)| (a, &row.batch).cmp(&(b, &other.batch)));
    rows.into_iter().map(|(_, row)| row).collect()
}

/// Rows of one place together, each place named where there are several.
pub fn by_place(rows: &[Row]) -> impl Iterator<Item = (&str, &[Row])> {
    let several = rows.iter().any(|row| row.place != rows[0].place);
    let runs = rows.chunk_by(|one, next| one.place == next.place);
    runs.map(move |run| (if several { run[0].place.as_str() } else { "" }, run))
}

/// "Block C", "Block C at home".
pub fn block_of(care: &BatchCare<'_>, context: &Context<'_>) -> String {
    let block = &care.batch.block;
    if context.grounds.len() > 1 {
        format!("Block {block} at {}", care.batch.site)
    } else {
        format!("Block {block}")
    }
}

/// One batch: what is left to do on it, how warm it has had it, until when.
pub fn row(care: &BatchCare<'_>, step: Option<&StepCare<'_>>, context: &Context<'_>) -> Row {
    let grafts = match step.map(|s| s.progress) {
        Some(p) if p.done > 0 => format!(
            "{} left of {}",
            grouped(p.of.saturating_sub(p.done)),
            count_of(p.of, "graft")
        ),
        _ => count_of(left(care, step), "graft"),
    };
    Row {
        place: block_of(care, context),
        batch: care.batch.name.clone(),
        scion: care.batch.scion.to_string(),
        grafts,
        warmth: heat_so_far(care, context),
        by: step.map_or_else(String::new, |step| until(care, step, context)),
    }
}

/// "18.0 standard days, 270 °C·d"; marked where days are missing or many were put in.
pub fn heat_so_far(care: &BatchCare<'_>, context: &Context<'_>) -> String {
    let heat = care.warmth.at_least(care.known_to());
    let mark = if care.heat().is_none() {
        "at least "
    } else if care.filled_share > ESTIMATED_ABOVE {
        "about "
    } else {
        ""
    };
    format!(
        "{mark}{:.1} standard days, {}",
        care.standard_days().0,
        context.units.heat(heat)
    )
}

/// "by Tue 18 Aug", "by about Tue 18 Aug", "was due Tue 18 Aug"; empty where it has no end in sight.
pub fn until(care: &BatchCare<'_>, step: &StepCare<'_>, context: &Context<'_>) -> String {
    let today = context.today;
    match closes(care, step, context) {
        (Some(day), _) if day < today => format!("was due {}", day_near(day, today)),
        (Some(day), _) => format!("by {}", day_near(day, today)),
        (None, Some((day, rough))) => by_about(day, rough, today),
        (None, None) => String::new(),
    }
}
