//! Observations for learning: `group,above,upto`, one batch a row.
//!
//! An empty bound is open; equal bounds are exact. Hands on what was seen by group, in the order in which the groups
//! first appear; a row that cannot be is named and the rest used. Knows nothing of what the amounts measure.

use super::cell::{BadCell, decimal};
use super::table::{Column, Table, TableRow};
use crate::outlook::Sighting;
use crate::problem::Problem;
use std::path::Path;

const GROUP: usize = 0;
const ABOVE: usize = 1;
const UPTO: usize = 2;
const SEASONS_AGO: usize = 3;

const LEFT_OUT: &str = "this row is left out, the rest is used";

/// What was seen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sightings {
    /// By group.
    pub groups: Vec<(String, Vec<Sighting>)>,
    /// How many rows could not be used.
    pub left_out: usize,
}

/// Reads a file of observations; an error makes all of it useless.
pub fn read_sightings(path: &Path) -> Result<(Sightings, Vec<Problem>), Problem> {
    let column = |name, required| Column { name, required };
    let columns = [
        column("group", true),
        column("above", true),
        column("upto", true),
        column("seasons_ago", false),
    ];
    let table = Table::open(path, &columns)?;
    let mut problems: Vec<Problem> = table.remark.iter().cloned().collect();
    let mut rows = table.rows()?;
    let mut sightings = Sightings::default();
    while let Some(row) = rows.next_row()? {
        match sighting(&row) {
            Ok(sighting) => {
                let name = row.cell(GROUP);
                let groups = &mut sightings.groups;
                match groups.iter_mut().find(|(group, _)| group == name) {
                    Some((_, seen)) => seen.push(sighting),
                    None => groups.push((name.to_owned(), vec![sighting])),
                }
            }
            Err(bad) => {
                sightings.left_out += 1;
                problems.push(row.problem(&bad));
            }
        }
    }
    problems.extend(rows.remark());
    Ok((sightings, problems))
}

fn sighting(row: &TableRow) -> Result<Sighting, BadCell> {
    let bad = |column, what: String, remedy: &str| BadCell {
        done: LEFT_OUT,
        ..BadCell::new(column, what, remedy)
    };
    if let Some(whole) = &row.bad {
        return Err(BadCell {
            done: LEFT_OUT,
            ..whole.clone()
        });
    }
    if row.cell(GROUP).is_empty() {
        return Err(bad("group", "the group is missing".into(), "name it"));
    }
    let amount = |column: usize, name: &'static str| match row.cell(column) {
        "" => Ok(None),
        text => number(text)
            .filter(|&amount| amount > 0.0)
            .map(Some)
            .ok_or_else(|| {
                let what = format!("'{text}' is not a number above 0");
                bad(
                    name,
                    what,
                    "write one, or leave the cell empty where the end is open",
                )
            }),
    };
    let (above, upto) = (amount(ABOVE, "above")?, amount(UPTO, "upto")?);
    let seasons = match row.cell(SEASONS_AGO) {
        "" => 0.0,
        text => number(text)
            .filter(|&seasons| seasons >= 0.0)
            .ok_or_else(|| {
                let what = format!("'{text}' is not a number of seasons");
                bad(
                    "seasons_ago",
                    what,
                    "write 0 for this season, 1 for the last",
                )
            })?,
    };
    Sighting::new(above, upto)
        .map(|sighting| sighting.seasons_ago(seasons))
        .map_err(|why| {
            let remedy =
                "write the last amount without it under above, the first with it under upto";
            bad("", why, remedy)
        })
}

/// A finite number, with a decimal comma or the exponent that a program may write.
fn number(text: &str) -> Option<f64> {
    decimal(text)
        .or_else(|| text.parse().ok())
        .filter(|number| number.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> (Vec<(String, Vec<Sighting>)>, Vec<String>) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("seen.csv");
        std::fs::write(&path, text).unwrap();
        let (sightings, problems) = read_sightings(&path).unwrap();
        assert_eq!(sightings.left_out, problems.len());
        (
            sightings.groups,
            problems.iter().map(ToString::to_string).collect(),
        )
    }

    fn seen(above: impl Into<Option<f64>>, upto: impl Into<Option<f64>>) -> Sighting {
        Sighting::new(above.into(), upto.into()).unwrap()
    }

    #[track_caller]
    fn check(rows: &str, groups: &[(&str, &[Sighting])], problems: &[&str]) {
        let (found, told) = read(&format!("group,above,upto,seasons_ago\n{rows}"));
        let found: Vec<_> = found
            .iter()
            .map(|(name, seen)| (name.as_str(), seen.as_slice()))
            .collect();
        assert_eq!(found, groups);
        assert_eq!(told, problems);
    }

    #[test]
    fn rows_go_to_their_groups() {
        let (maple, oak) = ([seen(200.0, 240.5), seen(210.0, None)], [seen(None, 230.0)]);
        check(
            "maple,200,240.5\noak,,230\nmaple,210,\n",
            &[("maple", &maple), ("oak", &oak)],
            &[],
        );
    }

    #[test]
    fn seasons_and_a_spreadsheets_ways() {
        let (found, told) = read("Group;above;upto;seasons ago\r\nx;\"12,5\";12,5;2\r\n");
        assert_eq!(
            found,
            [("x".to_owned(), vec![seen(12.5, 12.5).seasons_ago(2.0)])]
        );
        assert!(told.is_empty());
    }

    #[test]
    fn what_cannot_be_is_named_and_the_rest_used() {
        const EMPTY: &str = "this row is left out, the rest is used. Write one, or leave the cell empty where the end is open.";
        const BOUNDS: &str = "this row is left out, the rest is used. Write the last amount without it under above, the first with it under upto.";
        check(
            "a,250,240\na,0,240\na,many,\na,,-3\na,,\n,200,\na,200,,-1\na,200,250,1,2,3\na,200,250\n",
            &[("a", &[seen(200.0, 250.0)])],
            &[
                &format!(
                    "seen.csv, row 2: it cannot be above 250 and yet no more than 240; {BOUNDS}"
                ),
                &format!("seen.csv, row 3, column above: '0' is not a number above 0; {EMPTY}"),
                &format!("seen.csv, row 4, column above: 'many' is not a number above 0; {EMPTY}"),
                &format!("seen.csv, row 5, column upto: '-3' is not a number above 0; {EMPTY}"),
                &format!("seen.csv, row 6: it says neither above nor up to what; {BOUNDS}"),
                "seen.csv, row 7, column group: the group is missing; this row is left out, the rest is used. Name it.",
                "seen.csv, row 8, column seasons_ago: '-1' is not a number of seasons; this row is left out, the rest is used. Write 0 for this season, 1 for the last.",
                "seen.csv, row 9: it has 6 cells under 4 column names; this row is left out, the rest is used. Put a text that has a comma in it between quotation marks.",
            ],
        );
    }

    #[test]
    fn a_file_without_its_columns_is_no_use() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("seen.csv");
        std::fs::write(&path, "group,above\na,1\n").unwrap();
        let told = read_sightings(&path).unwrap_err().to_string();
        assert!(told.contains("the column upto is missing"), "{told}");
    }
}
