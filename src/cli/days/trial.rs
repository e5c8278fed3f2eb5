//! `days --try`: what is understood of a temperature file, before it is used.

use crate::cli::exit::{Exit, config_trouble};
use crate::cli::table::{self, Set};
use crate::config::layout_of;
use crate::letters::{capital, count_of};
use crate::weather::csv_file::{FileDay, LeftOut, NamedBy, Why};
use crate::weather::understood::Understood;
use chrono_tz::Tz;
use serde_json::{Map, Value, json};
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

/// No line is longer.
const WIDTH: usize = 100;
/// Where the second column begins.
const INDENT: usize = 14;
/// So many days are shown at each end, and so many left-out dates.
const SHOWN: usize = 3;

/// Reads the file by the lines that were set, and says how.
pub fn run(
    path: &Path,
    set: &[String],
    zone: Option<Tz>,
    as_json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<ExitCode> {
    let layout =
        layout_of(&set.join("\n")).map_err(|trouble| config_trouble(&trouble.to_string()))?;
    let found = Understood::of(path, &layout, zone);
    if as_json {
        writeln!(out, "{}", object(&found))?;
    } else if found.usable {
        write_words(out, &found)?;
    } else {
        let whys: Vec<String> = found.problems.iter().map(ToString::to_string).collect();
        let help = "Try it again with --set and the line to set, as in --set 'unit = \"F\"'.";
        return Err(Exit::Data.because(format!("{}\n{help}", whys.join("\n"))));
    }
    Ok(if found.usable {
        ExitCode::SUCCESS
    } else {
        Exit::Data.code()
    })
}

fn object(found: &Understood) -> Value {
    let columns: Map<String, Value> = found
        .columns
        .named()
        .map(|(word, name)| (word.to_owned(), name.into()))
        .collect();
    let left_out = found.left_out.iter().map(|left| {
        let (why, readings) = match left.why {
            Why::Few { had } => ("few", Some(had)),
            Why::NotOver { had } => ("not-over", Some(had)),
            Why::Twice => ("twice", None),
        };
        json!({"date": left.date, "why": why, "readings": readings})
    });
    let span = found.span();
    json!({
        "file": found.path,
        "usable": found.usable,
        "files": found.files,
        "encoding": found.encoding,
        "delimiter": found.delimiter.to_string(),
        "decimal": found.decimal.map(|c| c.to_string()),
        "header_row": found.header_row,
        "columns": columns,
        "unit": found.unit.word(),
        "unit_by": match found.unit_by {
            NamedBy::Config => Some("set"),
            NamedBy::File => Some("file"),
            NamedBy::Nobody => None,
        },
        "date_format": found.layout.date_format,
        "date_format_because": found.date_because,
        "clock": found.layout.clock.map(|clock| clock.to_string()),
        "interval_end": found.layout.interval_end,
        "first": span.map(|(first, _)| first),
        "last": span.map(|(_, last)| last),
        "days": found.days.len(),
        "missing": found.missing(),
        "readings_a_day": found.readings_per_day,
        "left_out": left_out.collect::<Vec<_>>(),
        "remarks": found.remarks,
        "problems": found.problems.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "config": found.config_lines(),
    })
}

fn write_words(out: &mut dyn Write, found: &Understood) -> anyhow::Result<()> {
    let (first, last) = found.span().unwrap_or_default();
    let rows = found.readings_per_day.map_or_else(
        || "a row a day".into(),
        |readings| format!("{readings} readings a day"),
    );
    let days = match found.days.len() {
        1 => format!("one whole day, {first}"),
        days => format!("{days} whole days from {first} to {last}"),
    };
    writeln!(
        out,
        "{}",
        wrapped(&format!("{} can be used: {days}, {rows}.", found.path), 0)
    )?;
    writeln!(out)?;
    for (word, said) in facts(found) {
        let pad = " ".repeat(INDENT.saturating_sub(word.chars().count()));
        writeln!(out, "{word}{pad}{}", wrapped(&said, INDENT))?;
    }
    let said = found.remarks.iter().cloned();
    let wrong = found.problems.iter().map(ToString::to_string);
    let told: Vec<String> = said
        .map(|remark| capital(&remark) + ".")
        .chain(wrong)
        .collect();
    if !told.is_empty() {
        writeln!(out)?;
    }
    for told in told {
        writeln!(out, "- {}", wrapped(&told, 2))?;
    }
    writeln!(out)?;
    write_days(out, &found.days)?;
    writeln!(
        out,
        "\nTo use it, paste this below its [[site]] (paths count from the folder of the config):\n"
    )?;
    for line in found.config_lines() {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

fn facts(found: &Understood) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    if found.files > 1 {
        facts.push(("files", format!("{}; the newest says most", found.files)));
    }
    let parted = match found.delimiter {
        ',' => "commas".into(),
        ';' => "semicolons".into(),
        '\t' => "tabs".into(),
        other => format!("'{other}'"),
    };
    let decimal = match found.decimal {
        Some(',') => ", decimal comma",
        Some(_) => ", decimal point",
        None => "",
    };
    facts.push((
        "text",
        format!("{}, cells parted by {parted}{decimal}", found.encoding),
    ));
    facts.push((
        "names",
        found.header_row.map_or_else(
            || "none, columns by number".into(),
            |row| format!("in row {row}"),
        ),
    ));
    for (word, name) in found.columns.named() {
        let word = match word {
            "min" => "minimum",
            "max" => "maximum",
            "temp" => "temperature",
            word => word,
        };
        facts.push((word, name.to_owned()));
    }
    let by = match found.unit_by {
        NamedBy::Config => "as set",
        NamedBy::File => "as the file says",
        NamedBy::Nobody => "taken for granted: nothing in the file names it",
    };
    facts.push(("unit", format!("{}, {by}", found.unit.shown())));
    facts.push(("dates", dates(found)));
    let mut clock = found.layout.clock.map_or_else(
        || "the site's own, or the offset that stands with a time".into(),
        |clock| format!("{clock} from Greenwich all year"),
    );
    if found.layout.interval_end {
        clock.push_str("; a time is the end of its interval, midnight belongs to the day before");
    }
    facts.push(("clock", clock));
    if found.missing() > 0 {
        let missing = count_of(found.missing() as u32, "date");
        facts.push(("missing", missing + " between the first and the last day"));
    }
    if !found.left_out.is_empty() {
        facts.push((
            "left out",
            left_out(&found.left_out, found.readings_per_day),
        ));
    }
    facts
}

fn dates(found: &Understood) -> String {
    match (&found.layout.date_format, &found.date_because) {
        (None, _) => "year first".into(),
        (Some(format), None) => format!("{format}, as set"),
        (Some(format), Some(because)) => {
            format!("{format}: {because}. Make sure of it: no more than that is known")
        }
    }
}

fn left_out(all: &[LeftOut], usual: Option<usize>) -> String {
    let usual = usual.unwrap_or_default();
    let mut dates: Vec<String> = all
        .iter()
        .take(SHOWN)
        .map(|left| match left.why {
            Why::Few { had } => format!("{} ({had} of {usual} readings)", left.date),
            Why::NotOver { had } => {
                format!("{} ({had} of {usual} readings, not over yet)", left.date)
            }
            Why::Twice => format!("{} (twice, differently)", left.date),
        })
        .collect();
    if all.len() > SHOWN {
        dates.push(format!("{} more", all.len() - SHOWN));
    }
    dates.join(", ")
}

fn write_days(out: &mut dyn Write, days: &[FileDay]) -> anyhow::Result<()> {
    let row = |day: &FileDay| {
        vec![
            day.date.to_string(),
            format!("{:.1}", day.min),
            format!("{:.1}", day.max),
        ]
    };
    let mut rows: Vec<Vec<String>> = if days.len() <= 2 * SHOWN {
        days.iter().map(row).collect()
    } else {
        days[..SHOWN].iter().map(row).collect()
    };
    if days.len() > 2 * SHOWN {
        rows.push(vec!["...".into(), String::new(), String::new()]);
        rows.extend(days[days.len() - SHOWN..].iter().map(row));
    }
    let columns = [
        ("date", Set::Left),
        ("min °C", Set::Right),
        ("max °C", Set::Right),
    ];
    table::write(out, &columns, &rows)?;
    Ok(())
}

/// Lines no longer than a screen is wide, all but the first indented.
fn wrapped(text: &str, indent: usize) -> String {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let line = lines.last_mut().filter(|line| {
            line.is_empty() || indent + line.chars().count() + 1 + word.chars().count() <= WIDTH
        });
        match line {
            Some(line) if line.is_empty() => line.push_str(word),
            Some(line) => {
                line.push(' ');
                line.push_str(word);
            }
            None => lines.push(word.to_owned()),
        }
    }
    lines.join(&format!("\n{}", " ".repeat(indent)))
}
