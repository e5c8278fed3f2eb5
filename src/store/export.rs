//! The memory written out as plain tables, for whoever wants to look at it or to carry it elsewhere, and taken in again
//! (`import`).
//!
//! One file is one table, in CSV or as JSON lines; `about.txt` says which schema it was and is written last, so that a
//! folder without it is known to be cut off. The program's own file of accepted records goes along as it is.

mod cell;
mod import;
mod rows;
mod table;

use super::{Store, StoreError, moment, schema};
use crate::problem::Problem;
use cell::{to_cell, to_json};
use chrono::{DateTime, Utc};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, Row};
use serde_json::{Map, Value as Json};
use std::fmt::Write as _;
use std::fs::{self, DirBuilder, File, OpenOptions, Permissions};
use std::io::{self, BufWriter, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt, PermissionsExt};
use std::path::Path;
use table::Table;

/// What says of the folder what it is.
const ABOUT: &str = "about.txt";

/// `accepted.csv` as it stood; under a name that no spreadsheet opens by itself, since its texts are as people wrote them.
const ACCEPTED: &str = "accepted.copy";

/// What whoever opens the folder has to know.
const NOTE: &str = "
`graftwarden state import` takes this folder in again.
Names, addresses, letters and the letters' tokens are in it: keep it as safe as the memory itself. No password is in it.
accepted.copy, where there is one, is accepted.csv as it stood. Letters are in hexadecimal digits.
In CSV an empty cell is nothing, and a ' alone is an empty text. A text that begins with = + - @ ' a tab or a line's end
has a ' in front, so that no spreadsheet takes it for a formula; import takes that away.
Look at it with a spreadsheet, but do not save with one: it changes dates and cuts long cells. Who puts rows in or takes
rows out changes their number above, too.
";

/// How the tables are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Comma-separated, the names of the columns in the first row.
    Csv,
    /// A JSON object a line.
    Json,
}

/// What went out or came in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Carried {
    /// How many tables.
    pub tables: u32,
    /// How many rows they have together.
    pub rows: u64,
    /// Whether a file of accepted records was there before and was left as it is.
    pub accepted_stays: bool,
}

/// Why nothing went out or came in.
#[derive(Debug, thiserror::Error)]
pub enum CarryError {
    /// The memory.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A folder or a file in it.
    #[error("{0}")]
    Told(Problem),
}

impl From<rusqlite::Error> for CarryError {
    fn from(error: rusqlite::Error) -> Self {
        Self::Store(error.into())
    }
}

impl Form {
    fn ending(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Json => "jsonl",
        }
    }

    fn named(ending: &str) -> Option<Self> {
        [Self::Csv, Self::Json]
            .into_iter()
            .find(|form| form.ending() == ending)
    }
}

impl Store {
    /// Writes everything into a folder that is new or empty, with the file of accepted records where there is one.
    pub fn export(
        &self,
        folder: &Path,
        form: Form,
        accepted: &Path,
        now: DateTime<Utc>,
    ) -> Result<Carried, CarryError> {
        write_out(&self.connection, folder, form, accepted, now)
    }
}

/// What hinders the writing.
#[derive(Debug)]
enum Hindered {
    Memory(rusqlite::Error),
    Disk(io::Error),
}

impl From<rusqlite::Error> for Hindered {
    fn from(error: rusqlite::Error) -> Self {
        Self::Memory(error)
    }
}

impl From<io::Error> for Hindered {
    fn from(error: io::Error) -> Self {
        Self::Disk(error)
    }
}

pub(super) fn write_out(
    memory: &Connection,
    folder: &Path,
    form: Form,
    accepted: &Path,
    now: DateTime<Utc>,
) -> Result<Carried, CarryError> {
    begin(folder)?;
    let write = || -> Result<Carried, Hindered> {
        let mut carried = Carried::default();
        let mut said = head(schema::version(memory)?, form, now);
        for table in Table::all(memory)? {
            let mut file = BufWriter::new(create(&folder.join(table.file(form)))?);
            let rows = write_table(memory, &table, &mut file, form)?;
            finish(file)?;
            let _ = writeln!(said, "{}{rows}", table.rows_line());
            carried.tables += 1;
            carried.rows += rows;
        }
        copy_accepted(accepted, folder)?;
        said += NOTE;
        let mut about = BufWriter::new(create(&folder.join(ABOUT))?);
        about.write_all(said.as_bytes())?;
        finish(about)?;
        File::open(folder)?.sync_all()?;
        Ok(carried)
    };
    write().map_err(|hindered| match hindered {
        Hindered::Memory(error) => error.into(),
        Hindered::Disk(error) => CarryError::Told(Problem::new(
            folder.display().to_string(),
            format!("cannot be written: {error}"),
            "what is in it is not the whole memory",
            "delete it, and see that there is room and that this user may write there",
        )),
    })
}

/// Letters lie in it: it is for its owner only.
fn begin(folder: &Path) -> Result<(), CarryError> {
    let refused = |what: String, remedy: &str| {
        let place = folder.display().to_string();
        CarryError::Told(Problem::new(place, what, "nothing was written", remedy))
    };
    let made = DirBuilder::new().mode(0o700).create(folder);
    let empty = match made {
        Ok(()) => Ok(true),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => fs::read_dir(folder)
            .and_then(|mut inside| {
                let empty = inside.next().is_none();
                if empty {
                    fs::set_permissions(folder, Permissions::from_mode(0o700))?;
                }
                Ok(empty)
            }),
        Err(error) => Err(error),
    };
    match empty {
        Ok(true) => Ok(()),
        Ok(false) => Err(refused(
            "there is something in it".into(),
            "name a folder that is new or empty",
        )),
        Err(error) => Err(refused(
            format!("cannot be made or used: {error}"),
            "name a new folder where this user may write",
        )),
    }
}

fn create(path: &Path) -> io::Result<File> {
    OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(path)
}

fn finish(file: BufWriter<File>) -> io::Result<()> {
    file.into_inner()
        .map_err(io::IntoInnerError::into_error)?
        .sync_all()
}

/// How many rows there were.
fn write_table(
    memory: &Connection,
    table: &Table,
    file: &mut impl Write,
    form: Form,
) -> Result<u64, Hindered> {
    let names: Vec<&str> = table.columns.iter().map(|c| c.name.as_str()).collect();
    if form == Form::Csv {
        write_cells(file, &names)?;
    }
    let mut read = memory.prepare(&table.select())?;
    let mut rows = read.query([])?;
    let mut count = 0;
    while let Some(row) = rows.next()? {
        match form {
            Form::Csv => write_cells(file, &all(row, &names, to_cell)?)?,
            Form::Json => {
                let keys = names.iter().map(|&name| name.to_owned());
                let object: Map<String, Json> = keys.zip(all(row, &names, to_json)?).collect();
                writeln!(file, "{}", Json::from(object))?;
            }
        }
        count += 1;
    }
    Ok(count)
}

fn write_cells(file: &mut impl Write, cells: &[impl AsRef<[u8]>]) -> io::Result<()> {
    Ok(csv::Writer::from_writer(file).write_record(cells)?)
}

/// The values of a row.
fn all<T>(
    row: &Row<'_>,
    names: &[&str],
    written: impl Fn(ValueRef<'_>) -> Option<T>,
) -> Result<Vec<T>, Hindered> {
    let value = |(at, name): (usize, &&str)| {
        written(row.get_ref(at)?)
            .ok_or_else(|| io::Error::other(format!("a text in {name} is no UTF-8")).into())
    };
    names.iter().enumerate().map(value).collect()
}

fn copy_accepted(accepted: &Path, folder: &Path) -> io::Result<()> {
    let mut from = match File::open(accepted) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        from => from?,
    };
    let mut file = BufWriter::new(create(&folder.join(ACCEPTED))?);
    io::copy(&mut from, &mut file)?;
    finish(file)
}

fn head(schema: i64, form: Form, now: DateTime<Utc>) -> String {
    let (form, now) = (form.ending(), moment(now));
    format!(
        "graftwarden's memory, one file for each of its tables\n\nschema: {schema}\nform: {form}\nwritten: {now}\n"
    )
}
