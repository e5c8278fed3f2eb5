//! The ledger of notices in the store.

use super::readable::{date_at, if_any, said, text};
use super::{Memory, StoreError, moment};
use crate::care::Level;
use crate::notices::{Kind, Ledger, Notice, Told};
use crate::texts::Texts;
use chrono::{DateTime, NaiveDate, Utc};

impl Memory<'_> {
    /// Everything that was told.
    pub fn ledger(&self) -> Result<Ledger, StoreError> {
        let mut read =
            self.transaction.prepare_cached("SELECT kind, subject, step, anchor, n, on_day, until_day, level, told_on FROM notice ORDER BY id")?;
        let (mut ledger, mut texts) = (Ledger::default(), Texts::default());
        self.rows("notice", &mut read, [], |row| {
            let told = Told {
                kind: said(row, 0, Kind::named)?,
                step: texts.one(text(row, 2)?),
                anchor: texts.one(text(row, 3)?),
                n: row.get(4)?,
                on: date_at(row, 5)?,
                until: if_any(row, 6, date_at)?,
                level: if_any(row, 7, |row, at| said(row, at, Level::named))?,
                told_on: date_at(row, 8)?,
            };
            ledger.enter(text(row, 1)?, told);
            Ok(())
        })?;
        Ok(ledger)
    }

    /// Enters a notice into the ledger and gives its number; none where its key was told before.
    pub fn enter(
        &self,
        notice: &Notice,
        told_on: NaiveDate,
        round_at: DateTime<Utc>,
    ) -> Result<Option<i64>, StoreError> {
        let entered = self
            .transaction
            .prepare_cached(
                "INSERT INTO notice (key, kind, subject, step, anchor, n, on_day, until_day, level, told_on, round_at)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11) ON CONFLICT (key) DO NOTHING",
            )?
            .execute((
                notice.key(),
                notice.kind.name(),
                notice.about.subject(),
                notice.step.as_deref().unwrap_or_default(),
                &notice.anchor,
                notice.n,
                notice.on,
                notice.until,
                notice.level.map(Level::name),
                told_on,
                moment(round_at),
            ))?;
        Ok((entered == 1).then(|| self.transaction.last_insert_rowid()))
    }
}
