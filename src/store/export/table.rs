//! The tables of a memory as it says itself, whatever its schema: names, columns, and how rows are read and written.

use super::Form;
use super::cell::{Column, Kind};
use rusqlite::{Connection, Result};

const READ_AGAIN: &str = "WHERE key NOT LIKE 'reading of %'";

/// Columns whose text is a date, in any table.
const DATES: [&str; 11] = [
    "date",
    "grafted_on",
    "on_day",
    "until_day",
    "told_on",
    "p10",
    "p50",
    "p90",
    "first",
    "last",
    "upto",
];

/// Columns whose text is a moment, in any table.
const MOMENTS: [&str; 11] = [
    "fetched_at",
    "not_before",
    "failing_since",
    "answered_at",
    "round_at",
    "dated",
    "next_try_at",
    "settled_at",
    "since",
    "until",
    "came_at",
];

/// One table.
#[derive(Clone, Debug)]
pub struct Table {
    /// Its name.
    pub name: String,
    /// In the order of the schema.
    pub columns: Vec<Column>,
    /// What its rows are known by, in that order.
    key: Vec<String>,
}

impl Table {
    /// Every table, those first that others refer to.
    pub fn all(connection: &Connection) -> Result<Vec<Self>> {
        // They were made in that order, since no table can refer to one that is not there yet.
        let mut read = connection.prepare(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY rowid",
        )?;
        let names = read.query_map([], |row| row.get(0))?;
        names.map(|name| Self::named(connection, name?)).collect()
    }

    fn named(connection: &Connection, name: String) -> Result<Self> {
        let mut read = connection.prepare(
            "SELECT name, type, \"notnull\" OR pk > 0, pk FROM pragma_table_info(?1) ORDER BY cid",
        )?;
        let mut rows = read.query([&name])?;
        let (mut columns, mut key) = (Vec::new(), Vec::new());
        while let Some(row) = rows.next()? {
            let (column, kind): (String, String) = (row.get(0)?, row.get(1)?);
            let place: u32 = row.get(3)?;
            if place > 0 {
                key.push((place, column.clone()));
            }
            columns.push(Column {
                kind: kind_of(&column, &kind),
                may_be_unknown: !row.get::<_, bool>(2)?,
                name: column,
            });
        }
        key.sort();
        Ok(Self {
            name,
            columns,
            key: key.into_iter().map(|(_, column)| column).collect(),
        })
    }

    /// The name of its file.
    pub fn file(&self, form: Form) -> String {
        format!("{}.{}", self.name, form.ending())
    }

    /// What the number of its rows stands behind.
    pub fn rows_line(&self) -> String {
        format!("rows of {}: ", self.name)
    }

    /// Reads every row, always in the same order; but of the growers' files not which reading was written down: they are
    /// read again where rows may have been mended by hand.
    pub fn select(&self) -> String {
        let columns = quoted(self.columns.iter().map(|column| &column.name));
        let key = quoted(&self.key);
        let rows = match self.name.as_str() {
            "fact" => READ_AGAIN,
            _ => "",
        };
        format!(
            "SELECT {columns} FROM \"{}\" {rows} ORDER BY {key}",
            self.name
        )
    }

    /// Writes a row.
    pub fn insert(&self) -> String {
        let columns = quoted(self.columns.iter().map(|column| &column.name));
        let places = vec!["?"; self.columns.len()].join(", ");
        format!(
            "INSERT INTO \"{}\" ({columns}) VALUES ({places})",
            self.name
        )
    }
}

fn kind_of(column: &str, kind: &str) -> Kind {
    match kind {
        "INTEGER" => Kind::Whole,
        "REAL" => Kind::Number,
        "BLOB" => Kind::Bytes,
        _ if DATES.contains(&column) => Kind::Date,
        _ if MOMENTS.contains(&column) => Kind::Moment,
        _ => Kind::Text,
    }
}

fn quoted<'n>(names: impl IntoIterator<Item = &'n String>) -> String {
    let names: Vec<String> = names
        .into_iter()
        .map(|name| format!("\"{name}\""))
        .collect();
    names.join(", ")
}
