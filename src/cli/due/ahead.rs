//! What `due` says of the days to come: the work of the fortnight, and how late can still be grafted.

use crate::care::{BatchCare, DayLoad, Ground};
use crate::cli::figure;
use crate::cli::table::{self, Set};
use crate::letters::{count_of, day_short, from_to};
use crate::pages::standing;
use serde_json::json;
use std::io::Write;

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
                standing::hours(load),
            ]
        })
        .collect();
    if rows.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\nWork of the next {}, a graft counted once a day (of two figures: half the time no more than the first, nine times in ten than the second)",
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
        if let Some(said) = standing::last_graft(ground, open) {
            writeln!(out, "\n{said}")?;
        }
        let today = ground.moment.today;
        let anew = standing::of_site(ground, open);
        let anew: Vec<String> = anew
            .filter_map(|care| standing::to_regraft(care, today))
            .collect();
        if !anew.is_empty() {
            writeln!(out, "\nTo be grafted anew at {}:", ground.site.id)?;
        }
        for line in anew {
            writeln!(out, "  {line}")?;
        }
    }
    Ok(())
}

/// What little is to be cut when the first frost is near.
pub fn write_frost(
    out: &mut dyn Write,
    grounds: &[Ground<'_>],
    open: &[&BatchCare<'_>],
) -> anyhow::Result<()> {
    let lines = grounds
        .iter()
        .flat_map(|ground| standing::frost_near(ground, open));
    for line in lines {
        writeln!(out, "\n{line}")?;
    }
    Ok(())
}
