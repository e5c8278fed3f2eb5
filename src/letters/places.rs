//! Where something is to be done: blocks for the head of a section, batches for its list.

use super::letter::{Context, Place, Row, care_of, step_of};
use super::words::{count_of, day_short, grouped, list};
use crate::care::{BatchCare, ESTIMATED_ABOVE, StepCare};
use crate::notices::{Kind, Notice};
use chrono::NaiveDate;

/// The blocks that the notices touch.
pub fn places(notices: &[&Notice], context: &Context<'_>) -> Vec<Place> {
    let several = context.grounds.len() > 1;
    let mut places: Vec<Place> = Vec::new();
    for notice in notices {
        let Some(care) = care_of(notice, context) else {
            continue;
        };
        let batch = &care.batch;
        let site = if several {
            batch.site.clone()
        } else {
            String::new()
        };
        let left = left(care, step_of(notice, context));
        let by = step_of(notice, context).and_then(|s| s.in_time_to(context.today));
        let here = |p: &&mut Place| p.site == site && p.block == batch.block;
        match places.iter_mut().find(here) {
            Some(place) => {
                place.batches += 1;
                place.grafts = place.grafts.saturating_add(left);
                place.by = [place.by, by].into_iter().flatten().min();
            }
            None => places.push(Place {
                site,
                block: batch.block.clone(),
                batches: 1,
                grafts: left,
                by,
            }),
        }
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

    /// ", by Tue 18 Aug", ", was due by Tue 18 Aug"; empty where it has no end.
    pub fn until(&self, today: NaiveDate) -> String {
        match self.by {
            Some(by) if by < today => format!(", was due by {}", day_short(by)),
            Some(by) => format!(", by {}", day_short(by)),
            None => String::new(),
        }
    }
}

/// The same places, where nothing is to be done by a day.
pub fn undated(mut places: Vec<Place>) -> Vec<Place> {
    for place in &mut places {
        place.by = None;
    }
    places
}

fn left(care: &BatchCare<'_>, step: Option<&StepCare<'_>>) -> u32 {
    step.map_or_else(
        || care.facts.alive(),
        |s| s.progress.of.saturating_sub(s.progress.done),
    )
}

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
            let mut row = row(care, step_of(notice, context), context);
            if notice.kind == Kind::OverCallusRisk {
                let word = if notice.on < context.today {
                    "since"
                } else {
                    "by"
                };
                row.by = format!("{word} {}", day_short(notice.on));
            }
            Some(((care.batch.site.clone(), care.batch.block.clone()), row))
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
    let heat = care.warmth.at_least(care.known_to());
    let mark = if care.heat().is_none() {
        "at least "
    } else if care.filled_share > ESTIMATED_ABOVE {
        "about "
    } else {
        ""
    };
    let place = if context.grounds.len() > 1 {
        format!("Block {} at {}", care.batch.block, care.batch.site)
    } else {
        format!("Block {}", care.batch.block)
    };
    Row {
        place,
        batch: care.batch.name.clone(),
        scion: care.batch.scion.clone(),
        grafts,
        warmth: format!(
            "{mark}{:.1} standard days, {}",
            care.standard_days().0,
            context.units.heat(heat)
        ),
        by: step
            .and_then(|s| s.in_time_to(context.today))
            .map_or_else(String::new, |day| until(day, context)),
    }
}

fn until(day: NaiveDate, context: &Context<'_>) -> String {
    let word = if day < context.today { "was due" } else { "by" };
    format!("{word} {}", day_short(day))
}
