//! Takes in again what was written out: into a file of its own that becomes the memory when everything is in it, so that
//! trouble at any row leaves nothing.
//!
//! What is read comes from outside, whoever wrote it: plain files only, of bounded rows, each value judged by its column.

use super::cell::beginning;
use super::rows::{Bad, Rows, ends_with_a_line};
use super::table::Table;
use super::{ABOUT, ACCEPTED, Carried, CarryError, Form};
use crate::lock::Lock;
use crate::problem::Problem;
use crate::store::{Store, recovery, schema};
use rusqlite::{Connection, Transaction, params_from_iter};
use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

/// `about.txt` is a page.
const LONGEST_ABOUT: u64 = 64 << 10;

impl Store {
    /// Takes a folder in as the memory of a state folder that has none. Whoever calls this holds the folder's lock.
    pub fn import(
        folder: &Path,
        state: &Path,
        accepted: &Path,
        _held: &Lock,
    ) -> Result<Carried, CarryError> {
        let path = Self::file_in(state);
        has_none(&path)?;
        let unwritten = |error: io::Error| {
            refused(
                state.display(),
                format!("cannot be written: {error}"),
                "see that there is room and that this user may write there",
            )
        };
        let folder = Folder::open(folder)?;
        let part = state.join(".graftwarden.db.part");
        clear(&part).map_err(unwritten)?;
        let taken = folder.fill(&part).and_then(|mut carried| {
            has_none(&path)?;
            File::open(&part)
                .and_then(|file| file.sync_all())
                .map_err(unwritten)?;
            carried.accepted_stays = folder.give_accepted(accepted)?;
            fs::rename(&part, &path)
                .and_then(|()| recovery::begins_with_another(state))
                .and_then(|()| File::open(state)?.sync_all())
                .map_err(unwritten)?;
            Ok(carried)
        });
        if taken.is_err() {
            clear(&part).map_err(unwritten)?;
        }
        taken
    }
}

/// What to do where the folder is not what it should be.
const AS_WRITTEN: &str = "import a folder as `graftwarden state export` wrote it";

fn refused(place: impl fmt::Display, what: impl Into<String>, remedy: &str) -> CarryError {
    CarryError::Told(Problem::new(
        place.to_string(),
        what,
        "nothing was taken in",
        remedy,
    ))
}

/// A log that was left of another memory would be read into this one.
fn has_none(path: &Path) -> Result<(), CarryError> {
    let beside = ["db-wal", "db-journal"].map(|ending| path.with_extension(ending));
    let there = [path.to_owned()].into_iter().chain(beside);
    match there
        .into_iter()
        .find(|file| file.symlink_metadata().is_ok())
    {
        None => Ok(()),
        Some(file) => Err(refused(
            file.display(),
            "there is a memory already, and it is not written over",
            "move graftwarden.db* in that folder aside, or name another state folder in the config, and import again",
        )),
    }
}

/// What an earlier try left.
fn clear(part: &Path) -> io::Result<()> {
    let beside = part.with_file_name(".graftwarden.db.part-journal");
    for file in [part, &beside] {
        match fs::remove_file(file) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
    }
    Ok(())
}

/// A folder that says what it is.
struct Folder<'f> {
    path: &'f Path,
    about: String,
    schema: i64,
    form: Form,
}

impl<'f> Folder<'f> {
    fn open(path: &'f Path) -> Result<Self, CarryError> {
        let place = path.join(ABOUT);
        let mut about = String::new();
        plain(&place, "it is written last, so this folder may be cut off")?
            .take(LONGEST_ABOUT)
            .read_to_string(&mut about)
            .map_err(|error| unread(&place, &error))?;
        let mut folder = Self {
            path,
            about,
            schema: 0,
            form: Form::Csv,
        };
        let newer = |what: &str, said: &str| {
            let what = format!(
                "'{}' is no {what} that this graftwarden knows",
                beginning(said)
            );
            refused(
                place.display(),
                what,
                "import it with the version that wrote it, or a newer one",
            )
        };
        let (schema, form) = (folder.said("schema: ")?, folder.said("form: ")?);
        let known = 1..=schema::NEWEST;
        let number = schema.parse().ok().filter(|schema| known.contains(schema));
        let (number, form) = (
            number.ok_or_else(|| newer("schema", schema))?,
            Form::named(form).ok_or_else(|| newer("form", form))?,
        );
        (folder.schema, folder.form) = (number, form);
        Ok(folder)
    }

    /// What stands behind these words.
    fn said(&self, words: &str) -> Result<&str, CarryError> {
        let found = self.about.lines().find_map(|line| line.strip_prefix(words));
        found.map(str::trim).ok_or_else(|| {
            let what = format!("has no line that begins with '{}'", words.trim());
            refused(self.path.join(ABOUT).display(), what, AS_WRITTEN)
        })
    }

    /// Makes a memory of the folder's schema, puts every row into it in one transaction, and brings it to today's.
    fn fill(&self, part: &Path) -> Result<Carried, CarryError> {
        // Made before the database opens it: it is for its owner only.
        OpenOptions::new()
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(part)
            .map_err(|error| {
                refused(part.display(), error.to_string(), "see that there is room")
            })?;
        let mut memory = Connection::open(part)?;
        memory.pragma_update(None, "foreign_keys", true)?;
        schema::migrate_to(&mut memory, self.schema)?;
        let tables = Table::all(&memory)?;
        self.knows_all(&tables)?;
        let mut carried = Carried::default();
        let transaction = memory.transaction()?;
        for table in &tables {
            carried.tables += 1;
            carried.rows += self.take(table, &transaction)?;
        }
        transaction.commit()?;
        schema::migrate(&mut memory)?;
        Ok(carried)
    }

    /// What is in no table would be lost without a word.
    fn knows_all(&self, tables: &[Table]) -> Result<(), CarryError> {
        let known: Vec<String> = tables.iter().map(|table| table.file(self.form)).collect();
        let inside = fs::read_dir(self.path);
        let inside = inside.map_err(|error| unread(self.path, &error))?;
        for name in inside.flatten().map(|entry| entry.file_name()) {
            let name = name.to_string_lossy().into_owned();
            let ending = Path::new(&name).extension().unwrap_or_default();
            let is_one = Form::named(&ending.to_string_lossy()).is_some();
            if is_one && !known.contains(&name) {
                return Err(refused(
                    self.path.join(&name).display(),
                    format!("is no table of schema {}", self.schema),
                    "take it out of the folder if it is yours, or export anew",
                ));
            }
        }
        Ok(())
    }

    fn take(&self, table: &Table, into: &Transaction<'_>) -> Result<u64, CarryError> {
        let path = self.path.join(table.file(self.form));
        let mut file = plain(&path, "each table has its file")?;
        if !ends_with_a_line(&mut file).map_err(|error| unread(&path, &error))? {
            return Err(refused(path.display(), "ends within a row", "export anew"));
        }
        let mut rows = Rows::begin(self.form, file);
        let mut write = into.prepare(&table.insert())?;
        let wrong = |row: u64, bad: Bad| {
            let column = bad.column.map(|column| format!(", column {column}"));
            let place = format!(
                "{}, row {row}{}",
                path.display(),
                column.unwrap_or_default()
            );
            refused(
                place,
                bad.what,
                "put it right as it was written, or export anew",
            )
        };
        let mut count = 0;
        rows.head(&table.columns).map_err(|bad| wrong(1, bad))?;
        loop {
            let values = rows.next(&table.columns);
            let Some(values) = values.map_err(|bad| wrong(rows.row, bad))? else {
                break;
            };
            write
                .execute(params_from_iter(values))
                .map_err(|error| wrong(rows.row, Bad::row(clash(&error))))?;
            count += 1;
        }
        let expected = self.said(&table.rows_line())?;
        if expected != count.to_string() {
            return Err(refused(
                path.display(),
                format!("has {count} rows, and {ABOUT} says {}", beginning(expected)),
                "export anew if it was cut off; if rows were put in or taken out, write their number into that file",
            ));
        }
        Ok(count)
    }

    /// Puts the file of accepted records into its place; whether there was one, which stays.
    fn give_accepted(&self, accepted: &Path) -> Result<bool, CarryError> {
        let copy = self.path.join(ACCEPTED);
        if accepted.symlink_metadata().is_ok() {
            return Ok(true);
        }
        if copy.symlink_metadata().is_err() {
            return Ok(false);
        }
        let part = accepted.with_file_name(".accepted.csv.part");
        let put = |mut from: File| -> io::Result<()> {
            let _ = fs::remove_file(&part);
            let mut options = OpenOptions::new();
            let mut into = options
                .write(true)
                .create_new(true)
                .mode(0o600)
                .open(&part)?;
            io::copy(&mut from, &mut into)?;
            into.sync_all()?;
            fs::rename(&part, accepted)
        };
        put(plain(&copy, "")?).map_err(|error| {
            let what = format!("cannot be written: {error}");
            refused(accepted.display(), what, "see that there is room")
        })?;
        Ok(false)
    }
}

/// Opens a plain file; what a link leads to is not looked at.
fn plain(path: &Path, why: &str) -> Result<File, CarryError> {
    let file = match path.symlink_metadata() {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            return Err(refused(
                path.display(),
                format!("is missing; {why}"),
                AS_WRITTEN,
            ));
        }
        file => file.map_err(|error| unread(path, &error))?,
    };
    if !file.is_file() {
        return Err(refused(path.display(), "is no plain file", AS_WRITTEN));
    }
    File::open(path).map_err(|error| unread(path, &error))
}

fn unread(place: &Path, error: &io::Error) -> CarryError {
    refused(
        place.display(),
        format!("cannot be read: {error}"),
        "see that it is there whole and that this user may read it",
    )
}

/// What the database has against a row.
fn clash(error: &rusqlite::Error) -> String {
    use rusqlite::ffi::{SQLITE_CONSTRAINT_FOREIGNKEY, SQLITE_FULL};
    let code = error.sqlite_error().map(|error| error.extended_code);
    match (code, error.sqlite_error_code()) {
        (Some(SQLITE_CONSTRAINT_FOREIGNKEY), _) => {
            "refers to a row of another table that is not there".into()
        }
        (_, Some(rusqlite::ErrorCode::ConstraintViolation)) => {
            "is there twice, by what it is known by".into()
        }
        (Some(SQLITE_FULL), _) => "finds no room on the disk".into(),
        _ => format!("cannot be kept: {error}"),
    }
}
