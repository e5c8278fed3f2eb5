//! The register and the field records in the store: the last good version of every row.
//!
//! A row that says what it said before is not written again. Which reading of a file was written down last is known, so
//! that a file which has not changed need not be read.

use super::readable::{date_at, said, text, unknown};
use super::{Memory, StoreError};
use crate::nursery::{Batch, Count, Record, Target, Vigour, What};
use crate::texts::Texts;
use chrono::NaiveDate;
use rusqlite::{Row, types::Type};
use std::collections::HashSet;
use std::sync::Arc;

/// Takes identity and value of a row.
pub type Take<'a, T> = dyn FnMut(&str, &T) + 'a;

/// The rows of one file as they were read.
pub struct FileRead<'a, T> {
    /// The name of the file, by which its rows are known.
    pub file: &'a str,
    /// The identities that stand in the file, of rows too that could not be read.
    pub identities: &'a HashSet<String>,
    /// Hands on every good row, in the order of the file.
    pub rows: &'a dyn Fn(&mut Take<'_, T>),
}

/// What became of a file's rows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Absorbed {
    /// How many rows were new or said something else.
    pub written: usize,
    /// Identities that were in the file before and are not any more. They stay in force.
    pub vanished: Vec<String>,
    /// So many rows vanished at once that the file was not believed; nothing of it was used.
    pub refused: bool,
}

/// A reading of a file of which every row stands in the store, and about which there was nothing to tell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// Tells it from every reading that could say something else.
    pub print: String,
    /// The day on which it was read: rows of later days would have had to wait.
    pub on: NaiveDate,
    /// The earliest date of its rows.
    pub first: Option<NaiveDate>,
}

/// A file that loses more than this share of its rows at once is not believed.
const BELIEVED_LOSS: f64 = 0.10;

impl Memory<'_> {
    /// Writes down the rows of the register.
    pub fn absorb_batches(&self, read: &FileRead<'_, Batch>) -> Result<Absorbed, StoreError> {
        let held = self.identities(
            "batch",
            "SELECT name, gone FROM batch WHERE file = ?1",
            read.file,
        )?;
        let gone = "UPDATE batch SET gone = 1 WHERE name = ?1";
        self.absorb(held, gone, read, |_, batch| {
            self.write_batch(read.file, batch)
        })
    }

    /// Writes down the rows of a file of field records.
    pub fn absorb_records(&self, read: &FileRead<'_, Record>) -> Result<Absorbed, StoreError> {
        let held = self.identities(
            "record",
            "SELECT identity, gone FROM record WHERE file = ?1",
            read.file,
        )?;
        let gone = "UPDATE record SET gone = 1 WHERE identity = ?1";
        self.absorb(held, gone, read, |identity, record| {
            self.write_record(identity, read.file, record)
        })
    }

    /// `write` says whether it changed anything.
    fn absorb<T>(
        &self,
        held: Vec<(String, bool)>,
        gone: &str,
        read: &FileRead<'_, T>,
        write: impl Fn(&str, &T) -> Result<bool, StoreError>,
    ) -> Result<Absorbed, StoreError> {
        let (vanished, refused) = vanished(held, read.identities);
        let mut written = Ok(0);
        if !refused {
            (read.rows)(&mut |identity, value| {
                if let Ok(rows) = &mut written {
                    match write(identity, value) {
                        Ok(changed) => *rows += usize::from(changed),
                        Err(error) => written = Err(error),
                    }
                }
            });
            self.mark_gone(gone, &vanished)?;
        }
        Ok(Absorbed {
            written: written?,
            vanished,
            refused,
        })
    }

    fn write_batch(&self, file: &str, b: &Batch) -> Result<bool, StoreError> {
        let changed = self
            .transaction
            .prepare_cached(
                "INSERT INTO batch (name, file, gone, site, block, plan, scion, understock, vigour, grafts, grafted_on, done_by, remarks)
                 VALUES (?1, ?2, 0, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)
                 ON CONFLICT (name) DO UPDATE SET file = excluded.file, gone = 0, site = excluded.site, block = excluded.block,
                   plan = excluded.plan, scion = excluded.scion, understock = excluded.understock, vigour = excluded.vigour,
                   grafts = excluded.grafts, grafted_on = excluded.grafted_on, done_by = excluded.done_by, remarks = excluded.remarks
                 WHERE (file, gone, site, block, plan, scion, understock, vigour, grafts, grafted_on, done_by, remarks)
                   IS NOT (excluded.file, 0, excluded.site, excluded.block, excluded.plan, excluded.scion, excluded.understock,
                     excluded.vigour, excluded.grafts, excluded.grafted_on, excluded.done_by, excluded.remarks)",
            )?
            .execute((
                &b.name,
                file,
                b.site.as_str(),
                b.block.as_str(),
                b.plan.as_str(),
                b.scion.as_str(),
                b.understock.as_str(),
                b.vigour.name(),
                b.grafts,
                b.grafted_on,
                b.by.as_str(),
                &b.remarks,
            ))?;
        if changed > 0 {
            self.forget_read(|already| &mut already.batches);
        }
        Ok(changed > 0)
    }

    /// Writes down one field record; false where it stands there already.
    pub fn write_record(
        &self,
        identity: &str,
        file: &str,
        record: &Record,
    ) -> Result<bool, StoreError> {
        let (batch, block) = match &record.target {
            Target::Batch(name) => (Some(name), None),
            Target::Block(name) => (None, Some(name)),
        };
        let (count, of) = match record.count {
            None => (None, None),
            Some(Count::Of(n)) => (Some(n), None),
            Some(Count::Share(n, of)) => (Some(f64::from(n)), Some(f64::from(of))),
        };
        let changed = self
            .transaction
            .prepare_cached(
                "INSERT INTO record (identity, file, gone, date, batch, block, what, count, of, done_by, remarks)
                 VALUES (?1, ?2, 0, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)
                 ON CONFLICT (identity) DO UPDATE SET file = excluded.file, gone = 0, date = excluded.date, batch = excluded.batch,
                   block = excluded.block, what = excluded.what, count = excluded.count, of = excluded.of,
                   done_by = excluded.done_by, remarks = excluded.remarks
                 WHERE (file, gone, date, batch, block, what, count, of, done_by, remarks)
                   IS NOT (excluded.file, 0, excluded.date, excluded.batch, excluded.block, excluded.what, excluded.count, excluded.of,
                     excluded.done_by, excluded.remarks)",
            )?
            .execute((identity, file, record.date, batch, block, record.what.name(), count, of, &record.by, &record.remarks))?;
        if changed > 0 {
            self.forget_read(|already| &mut already.records);
        }
        Ok(changed > 0)
    }

    /// The reading of a file that was written down last; none where it had something to tell, or where what it wrote was
    /// changed since.
    pub fn reading(&self, of: &str) -> Result<Option<Reading>, StoreError> {
        let text = self.fact(&reading_of(of))?.unwrap_or_default();
        let mut words = text.split(' ');
        let (Some(print), Some(on)) = (words.next(), words.next()) else {
            return Ok(None);
        };
        Ok(on.parse().ok().map(|on| Reading {
            print: print.to_owned(),
            on,
            first: words.next().and_then(|first| first.parse().ok()),
        }))
    }

    /// Remembers the reading of a file that was written down; none where it is to be read again.
    pub fn remember_reading(&self, of: &str, reading: Option<&Reading>) -> Result<(), StoreError> {
        let Some(Reading { print, on, first }) = reading else {
            return self.forget_fact(&reading_of(of));
        };
        let first = first.map(|first| format!(" {first}")).unwrap_or_default();
        self.remember(&reading_of(of), &format!("{print} {on}{first}"))
    }

    /// Has every file read again, since what they wrote down does not stand any more.
    pub(super) fn forget_readings(&self) -> Result<(), StoreError> {
        self.transaction
            .execute("DELETE FROM fact WHERE key LIKE 'reading of %'", [])?;
        Ok(())
    }

    /// Every batch in force, by name.
    pub fn batches(&self) -> Result<Arc<[Arc<Batch>]>, StoreError> {
        let sql = "SELECT name, site, block, plan, scion, understock, vigour, grafts, grafted_on, done_by, remarks FROM batch ORDER BY site, block, name";
        self.read_once(
            |already| &mut already.batches,
            || {
                let mut read = self.transaction.prepare_cached(sql)?;
                let mut texts = Texts::default();
                let batch = |row: &Row<'_>| batch_of(row, &mut texts).map(Arc::new);
                Ok(self.rows("batch", &mut read, [], batch)?.into())
            },
        )
    }

    /// Every field record in force, in the order in which they were written down.
    pub fn records(&self) -> Result<Arc<[Record]>, StoreError> {
        let sql =
            "SELECT date, batch, block, what, count, of, done_by, remarks FROM record ORDER BY seq";
        self.read_once(
            |already| &mut already.records,
            || {
                let mut read = self.transaction.prepare_cached(sql)?;
                Ok(self.rows("record", &mut read, [], record_of)?.into())
            },
        )
    }

    fn identities(
        &self,
        table: &str,
        sql: &str,
        file: &str,
    ) -> Result<Vec<(String, bool)>, StoreError> {
        let mut read = self.transaction.prepare_cached(sql)?;
        self.rows(table, &mut read, [file], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
    }

    fn mark_gone(&self, sql: &str, identities: &[String]) -> Result<(), StoreError> {
        let mut write = self.transaction.prepare_cached(sql)?;
        for identity in identities {
            write.execute([identity])?;
        }
        Ok(())
    }
}

fn reading_of(file: &str) -> String {
    format!("reading of {file}")
}

/// Which of the rows held are not in the file any more, and whether that is too many to be believed.
fn vanished(held: Vec<(String, bool)>, present: &HashSet<String>) -> (Vec<String>, bool) {
    let standing = held.iter().filter(|(_, gone)| !gone).count();
    let vanished: Vec<String> = held
        .into_iter()
        .filter(|(identity, gone)| !gone && !present.contains(identity))
        .map(|(identity, _)| identity)
        .collect();
    // One row is somebody's correction, in a short file too.
    let refused = vanished.len() > 1 && vanished.len() as f64 > BELIEVED_LOSS * standing as f64;
    (vanished, refused)
}

fn batch_of(row: &Row<'_>, texts: &mut Texts) -> rusqlite::Result<Batch> {
    let mut one = |at| Ok::<_, rusqlite::Error>(texts.one(text(row, at)?));
    Ok(Batch {
        name: row.get(0)?,
        site: one(1)?,
        block: one(2)?,
        plan: one(3)?,
        scion: one(4)?,
        understock: one(5)?,
        vigour: said(row, 6, Vigour::named)?,
        grafts: row.get(7)?,
        grafted_on: date_at(row, 8)?,
        by: one(9)?,
        remarks: row.get(10)?,
    })
}

/// From the columns date, batch, block, what, count, of, `done_by`, remarks.
pub(super) fn record_of(row: &Row<'_>) -> rusqlite::Result<Record> {
    let (batch, block): (Option<String>, Option<String>) = (row.get(1)?, row.get(2)?);
    let target = batch.map(Target::Batch).or(block.map(Target::Block));
    let (count, of): (Option<f64>, Option<f64>) = (row.get(4)?, row.get(5)?);
    let count = match (count, of) {
        (Some(n), Some(of)) => Some(Count::Share(whole(n, 4)?, whole(of, 5)?)),
        (Some(n), None) if n.is_finite() => Some(Count::Of(n)),
        (Some(_), None) => return Err(unknown(4, Type::Real)),
        (None, _) => None,
    };
    Ok(Record {
        date: date_at(row, 0)?,
        target: target.ok_or_else(|| unknown(1, Type::Null))?,
        what: said(row, 3, What::named)?,
        count,
        by: row.get(6)?,
        remarks: row.get(7)?,
    })
}

fn whole(n: f64, at: usize) -> rusqlite::Result<u32> {
    let is_whole = n.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(&n);
    is_whole
        .then_some(n as u32)
        .ok_or_else(|| unknown(at, Type::Real))
}
