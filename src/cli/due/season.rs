//! `due --season`: what became of a season's grafts, as the summary letter says it.

use crate::cli::figure;
use crate::letters::season_section;
use crate::notices::{Season, Share};
use serde_json::{Value, json};
use std::io::Write;

pub fn write_text(out: &mut dyn Write, season: &Season) -> anyhow::Result<()> {
    let section = season_section(season);
    writeln!(out, "{}", section.heading)?;
    for paragraph in &section.paragraphs {
        writeln!(out, "\n{paragraph}")?;
    }
    for list in &section.lists {
        writeln!(out, "\n{}", list.title)?;
        for line in &list.lines {
            writeln!(out, "  {line}")?;
        }
    }
    Ok(())
}

pub fn write_json(out: &mut dyn Write, season: &Season) -> anyhow::Result<()> {
    let groups = season.groups.iter().flat_map(|(by, shares)| {
        let named = |share: &Share| {
            let mut object = json!({ "by": by, "name": share.name });
            add(&mut object, share);
            object
        };
        shares.iter().map(named).collect::<Vec<Value>>()
    });
    let to_lines = season.to_lines.iter().map(|lines| {
        json!({
            "scion": lines.scion,
            "batches": lines.batches,
            "days": figure(lines.days),
            "standard_days": lines.standard_days.map(figure),
        })
    });
    let held = season.held.map(|held| {
        json!({
            "given": held.given,
            "inside": held.inside,
            "mean_later": figure(held.later),
            "mean_off": figure(held.off),
        })
    });
    let mut object = json!({
        "season": season.year,
        "batches": season.batches,
        "counted": season.counted,
    });
    add(&mut object, &season.whole);
    object["groups"] = groups.collect();
    object["to_lines"] = to_lines.collect();
    object["dates_held"] = json!(held);
    writeln!(out, "{object}")?;
    Ok(())
}

fn add(object: &mut Value, share: &Share) {
    object["taken"] = json!(share.taken);
    object["of"] = json!(share.of);
    object["low95"] = json!(figure(share.interval.0));
    object["high95"] = json!(figure(share.interval.1));
}
