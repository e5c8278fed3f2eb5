//! What `due` says of the days to come: the work of the fortnight, and how late can still be grafted.

use crate::care::{BatchCare, DayLoad, Ground};
use crate::cli::figure;
use crate::cli::table::{self, Set};
use crate::letters::grafting::days_left;
use crate::letters::{count_of, day_short, from_to};
use crate::nursery::{Batch, What};
use chrono::NaiveDate;
use serde_json::json;
use std::io::Write;

/// For so many days before it the last safe day is worth a line: the season.
const SEASON: i64 = 92;

/// The days with work, their grafts and crew hours.
pub fn write_workload(out: &mut dyn Write, loads: &[DayLoad]) -> anyhow::Result<()> {
    if loads.iter().all(|load| !load.working) {
        let days = count_of(loads.len() as u32, "day");
        writeln!(
            out,
            "\nNone of the next {days} is a working day, so no work is put on any of them."
        )?;
        return Ok(());
    }
    let some = loads.iter().filter(|load| load.grafts_p90 > 0);
    let rows: Vec<Vec<String>> = some
        .map(|load| {
            vec![
                day_short(load.date),
                from_to(&load.grafts_p50.to_string(), &load.grafts_p90.to_string()),
                from_to(
                    &format!("{:.1}", load.hours_p50),
                    &format!("{:.1}", load.hours_p90),
                ),
            ]
        })
        .collect();
    if rows.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\nWork of the next {} (of two figures: half the time no more than the first, nine times in ten than the second)",
        count_of(loads.len() as u32, "day")
    )?;
    let columns = [
        ("day", Set::Left),
        ("grafts", Set::Right),
        ("crew hours", Set::Right),
    ];
    table::write(out, &columns, &rows)?;
    Ok(())
}

/// The same as one object.
pub fn workload_json(loads: &[DayLoad]) -> serde_json::Value {
    let day = |load: &DayLoad| {
        json!({
            "date": load.date,
            "working": load.working,
            "grafts_p50": load.grafts_p50,
            "grafts_p90": load.grafts_p90,
            "hours_p50": figure(load.hours_p50),
            "hours_p90": figure(load.hours_p90),
        })
    };
    json!({ "workload": loads.iter().map(day).collect::<Vec<_>>() })
}

/// One line for each site in season, and one for each batch of which something is to be grafted anew.
pub fn write_last_grafts(
    out: &mut dyn Write,
    grounds: &[Ground<'_>],
    open: &[&BatchCare<'_>],
) -> anyhow::Result<()> {
    for ground in grounds {
        let today = ground.moment.today;
        let mut plans: Vec<&str> = of_site(ground, open)
            .map(|care| care.batch.plan.as_str())
            .collect();
        plans.sort_unstable();
        plans.dedup();
        let said: Vec<String> = plans
            .iter()
            .filter_map(|plan| last_day(ground, plan))
            .collect();
        if !said.is_empty() {
            writeln!(
                out,
                "\nLast safe day for grafting at {}: {}",
                ground.site.id,
                said.join("; ")
            )?;
        }
        for care in of_site(ground, open) {
            if let Some((grafts, by)) = to_regraft(care) {
                let Batch { name, block, .. } = &care.batch;
                let left = days_left(by, today);
                writeln!(
                    out,
                    "  {name}, block {block}: {}, re-graft by {}, {left}",
                    count_of(grafts, "graft"),
                    day_short(by)
                )?;
            }
        }
    }
    Ok(())
}

fn of_site<'o, 'c>(
    ground: &'o Ground<'_>,
    open: &'o [&'o BatchCare<'c>],
) -> impl Iterator<Item = &'o BatchCare<'c>> {
    open.iter()
        .copied()
        .filter(|care| care.batch.site == ground.site.id)
}

/// "Sat 22 Aug, 12 days left (maple field T-graft)"; none out of season or where there is no such day.
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

/// How many are to be grafted anew, and by when.
fn to_regraft(care: &BatchCare<'_>) -> Option<(u32, NaiveDate)> {
    let due = |step: &&crate::care::StepCare<'_>| {
        step.step.brings == [What::Regrafted] && step.state.is_due()
    };
    let step = care.steps.iter().find(due)?;
    let grafts = step.progress.of.saturating_sub(step.progress.done);
    Some((grafts, step.closes_on?))
}

/// What little is to be cut when the first frost is near, for each step that is due and minds it.
pub fn write_frost(
    out: &mut dyn Write,
    grounds: &[Ground<'_>],
    open: &[&BatchCare<'_>],
) -> anyhow::Result<()> {
    for ground in grounds {
        let Some(frost) = ground.frost_near() else {
            continue;
        };
        let due = of_site(ground, open)
            .flat_map(|care| &care.steps)
            .filter(|step| step.state.is_due());
        let mut said: Vec<(&str, &str)> = due
            .filter_map(|step| Some((step.step.title.as_str(), step.step.say_frost.as_deref()?)))
            .collect();
        said.sort_unstable();
        said.dedup();
        for (title, say) in said {
            writeln!(
                out,
                "\n{} at {}, first frost about {}: {say}",
                crate::letters::capital(title),
                ground.site.id,
                day_short(frost)
            )?;
        }
    }
    Ok(())
}
