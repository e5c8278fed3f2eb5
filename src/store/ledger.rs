//! The ledger of notices in the store.

use super::readable::{date_at, if_any, said, text};
use super::{Memory, StoreError, moment};
use crate::care::Level;
use crate::notices::{Kind, Ledger, Notice, Told};
use crate::texts::Texts;
use chrono::{DateTime, NaiveDate, Utc};
use std::sync::Arc;

/// The ledger up to a notice, by number: it only ever grows.
#[derive(Debug, Default)]
pub(super) struct ReadLedger {
    upto: i64,
    ledger: Arc<Ledger>,
    texts: Texts,
}

impl Memory<'_> {
    /// Everything that was told.
    pub fn ledger(&self) -> Result<Arc<Ledger>, StoreError> {
        match &self.already_read {
            Some(already) => self.read_on(&mut already.borrow_mut().ledger),
            None => self.read_on(&mut ReadLedger::default()),
        }
    }

    fn read_on(&self, known: &mut ReadLedger) -> Result<Arc<Ledger>, StoreError> {
        let mut read = self.transaction.prepare_cached(
            "SELECT kind, subject, step, anchor, n, on_day, until_day, level, told_on, id FROM notice WHERE id > ?1 ORDER BY id",
        )?;
        self.rows("notice", &mut read, [known.upto], |row| {
            known.upto = row.get(9)?;
            let told = Told {
                kind: said(row, 0, Kind::named)?,
                step: known.texts.one(text(row, 2)?),
                anchor: known.texts.one(text(row, 3)?),
                n: row.get(4)?,
                on: date_at(row, 5)?,
                until: if_any(row, 6, date_at)?,
                level: if_any(row, 7, |row, at| said(row, at, Level::named))?,
                told_on: date_at(row, 8)?,
            };
            Arc::make_mut(&mut known.ledger).enter(text(row, 1)?, told);
            Ok(())
        })?;
        Ok(Arc::clone(&known.ledger))
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
