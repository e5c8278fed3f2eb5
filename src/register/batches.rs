//! `batches.csv`: the register, one batch a row.
//!
//! A batch is known by its name, so two rows of one name are one too many. Every bad cell of a row is told, not only the
//! first. Hands on batches whose site and plan exist.

use super::cell::{self, BadCell, Names, instead, known};
use super::table::{Column, Table, TableRow};
use super::waiting::Waiting;
use super::{Row, RowFile, Told};
use crate::nursery::{Batch, Vigour};
use crate::problem::Problem;
use chrono::NaiveDate;
use std::collections::HashSet;
use std::path::{Path, PathBuf};

/// What a row of the register may refer to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Known {
    /// The ids of the sites.
    pub sites: Vec<String>,
    /// The names of the care plans.
    pub plans: Vec<String>,
    /// No batch was grafted later.
    pub today: NaiveDate,
}

/// The register as it stands.
#[derive(Debug)]
pub struct BatchFile {
    path: PathBuf,
    table: Result<Table, Problem>,
    known: Known,
}

const BATCH: usize = 0;
const SITE: usize = 1;
const BLOCK: usize = 2;
const PLAN: usize = 3;
const SCION: usize = 4;
const UNDERSTOCK: usize = 5;
const VIGOUR: usize = 6;
const GRAFTS: usize = 7;
const GRAFTED_ON: usize = 8;
const BY: usize = 9;
const REMARKS: usize = 10;

impl BatchFile {
    /// Opens the register. Site and plan may be left out where only one is known.
    pub fn open(path: &Path, known: Known) -> Self {
        Self {
            path: path.to_owned(),
            table: Table::open(path, &columns(&known)),
            known,
        }
    }
}

impl RowFile for BatchFile {
    type Value = Batch;

    fn read(&self, take: &mut dyn FnMut(Row<Batch>)) -> Told {
        match &self.table {
            Ok(table) => read(table, &self.known, take).unwrap_or_else(Told::nothing),
            Err(problem) => Told::nothing(problem.clone()),
        }
    }

    fn hash(&self) -> &str {
        self.table.as_ref().map_or("", |table| &table.hash)
    }

    fn print(&self) -> Option<String> {
        let hash = &self.table.as_ref().ok()?.hash;
        let names: [&[String]; 2] = [&self.known.sites, &self.known.plans];
        Some(super::print(&self.path, hash, &names))
    }
}

fn read(table: &Table, known: &Known, take: &mut dyn FnMut(Row<Batch>)) -> Result<Told, Problem> {
    let mut problems: Vec<Problem> = table.remark.iter().cloned().collect();
    let mut waiting = Waiting::default();
    let mut names = HashSet::new();
    let sites = Names::of(&known.sites);
    let plans = Names::of(&known.plans);
    let mut rows = table.rows()?;
    while let Some(row) = rows.next_row()? {
        let name = row.cell(BATCH).to_owned();
        let again = names.contains(&name);
        match batch(&row, (&sites, &plans), known.today, again) {
            Ok(value) => take(Row {
                line: row.line,
                value,
                identity: name.clone(),
            }),
            Err(bad) => {
                if !waiting.takes(&row, &bad) {
                    problems.extend(bad.iter().map(|bad| row.problem(bad)));
                }
            }
        }
        if !again && !name.is_empty() {
            names.insert(name);
        }
    }
    problems.extend(waiting.problem());
    problems.extend(rows.remark());
    Ok(Told {
        problems,
        identities: names,
        unreadable: false,
    })
}

fn columns(known: &Known) -> [Column; 11] {
    let column = |name, required| Column { name, required };
    [
        column("batch", true),
        column("site", known.sites.len() != 1),
        column("block", true),
        column("plan", known.plans.len() != 1),
        column("scion", false),
        column("understock", false),
        column("vigour", false),
        column("grafts", true),
        column("grafted_on", true),
        column("by", false),
        column("remarks", false),
    ]
}

/// The batch, or every cell that stands against it.
fn batch(
    row: &TableRow,
    (sites, plans): (&Names<'_>, &Names<'_>),
    today: NaiveDate,
    again: bool,
) -> Result<Batch, Vec<BadCell>> {
    if let Some(bad) = &row.bad {
        return Err(vec![bad.clone()]);
    }
    let mut bad = Vec::new();
    let mut keep = |cell: Result<String, BadCell>| cell.map_err(|cell| bad.push(cell)).ok();
    let name = keep(name(row.cell(BATCH), again));
    let site = keep(one_of("site", row.cell(SITE), sites));
    let block = keep(filled("block", row.cell(BLOCK)));
    let plan = keep(one_of("plan", row.cell(PLAN), plans));
    let vigour = vigour(row.cell(VIGOUR)).map_err(|cell| bad.push(cell)).ok();
    let grafts = grafts(row.cell(GRAFTS)).map_err(|cell| bad.push(cell)).ok();
    let grafted_on = cell::date("grafted_on", row.cell(GRAFTED_ON), today)
        .map_err(|cell| bad.push(cell))
        .ok();
    let all = (name, site, block, plan, vigour, grafts, grafted_on);
    let (Some(name), Some(site), Some(block), Some(plan), Some(vigour), Some(grafts), Some(on)) =
        all
    else {
        return Err(bad);
    };
    Ok(Batch {
        name,
        site: site.into(),
        block: block.into(),
        plan: plan.into(),
        scion: row.cell(SCION).into(),
        understock: row.cell(UNDERSTOCK).into(),
        vigour,
        grafts,
        grafted_on: on,
        by: row.cell(BY).into(),
        remarks: row.cell(REMARKS).to_owned(),
    })
}

fn name(text: &str, again: bool) -> Result<String, BadCell> {
    if again {
        return Err(BadCell {
            done: "the first is used and this one is not",
            ..BadCell::new(
                "batch",
                format!("'{text}' is the name of a batch further up"),
                "give each batch a name of its own",
            )
        });
    }
    if text.to_lowercase().starts_with("block:") {
        return Err(BadCell::new(
            "batch",
            format!("'{text}' reads like a whole block"),
            "give the batch a name that does not begin with block:",
        ));
    }
    filled("batch", text)
}

fn filled(column: &'static str, text: &str) -> Result<String, BadCell> {
    if text.is_empty() {
        return Err(BadCell::new(
            column,
            format!("the {column} is missing"),
            format!("write the name of the {column}"),
        ));
    }
    Ok(text.to_owned())
}

/// One of the known names; the only one may be left out.
fn one_of(column: &'static str, text: &str, names: &Names<'_>) -> Result<String, BadCell> {
    match (text, names.all) {
        ("", [only]) => Ok(only.clone()),
        ("", all) => Err(BadCell::new(
            column,
            format!("the {column} is missing, and there is more than one"),
            instead("", all.iter().map(String::as_str)),
        )),
        (_, all) => names.known(text).map(str::to_owned).ok_or_else(|| {
            BadCell::new(
                column,
                format!("'{text}' is not a known {column}"),
                instead(text, all.iter().map(String::as_str)),
            )
        }),
    }
}

fn vigour(text: &str) -> Result<Vigour, BadCell> {
    let names = || Vigour::ALL.map(Vigour::name);
    if text.is_empty() {
        return Ok(Vigour::default());
    }
    known(text, names()).and_then(Vigour::named).ok_or_else(|| {
        BadCell::new(
            "vigour",
            format!("'{text}' is not a known vigour"),
            instead(text, names()),
        )
    })
}

fn grafts(text: &str) -> Result<u32, BadCell> {
    const REMEDY: &str = "write a whole number above 0, in digits only";
    let what = match cell::whole(text) {
        Some(0) => "0 grafts are no batch".to_owned(),
        Some(grafts) => return Ok(grafts),
        None if text.is_empty() => "the number of grafts is missing".to_owned(),
        None => format!("'{text}' is not a number of grafts"),
    };
    Err(BadCell::new("grafts", what, REMEDY))
}

#[cfg(test)]
mod tests;
