//! Reading rows: one with a value that cannot be read is left out and told, and the rest goes on.
//!
//! Such a value is no damage of the file, which may well be sound: a fault of this program's own looks the same, and no
//! backup would mend it.

use super::{Memory, StoreError, soundness};
use crate::excerpt::one_line;
use crate::problem::Problem;
use rusqlite::{Error, Params, Row, Statement, types::ValueRef};

/// So many values say which row it is.
const NAMED_BY: usize = 3;

impl Memory<'_> {
    /// What stands in the rows of a table, without those that cannot be read.
    pub(super) fn rows<T>(
        &self,
        table: &str,
        read: &mut Statement<'_>,
        params: impl Params,
        of: impl Fn(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, StoreError> {
        let mut rows = read.query(params)?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            match of(row) {
                Ok(value) => found.push(value),
                Err(error) if soundness::is_unreadable(&error) => {
                    self.leave_out(unreadable(table, row, &error));
                    // What the row says stands in a file: read again, it is written down anew.
                    self.forget_readings()?;
                }
                Err(error) => return Err(error.into()),
            }
        }
        Ok(found)
    }

    /// The first of them.
    pub(super) fn row<T>(
        &self,
        table: &str,
        read: &mut Statement<'_>,
        params: impl Params,
        of: impl Fn(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Option<T>, StoreError> {
        Ok(self.rows(table, read, params, of)?.into_iter().next())
    }

    fn leave_out(&self, problem: Problem) {
        let mut left_out = self.left_out.borrow_mut();
        if !left_out.contains(&problem) {
            tracing::error!("{problem}");
            left_out.push(problem);
        }
    }

    /// The rows that could not be read so far.
    pub fn left_out(&self) -> Vec<Problem> {
        self.left_out.borrow().clone()
    }
}

fn unreadable(table: &str, row: &Row<'_>, error: &Error) -> Problem {
    let bad = match error {
        Error::FromSqlConversionFailure(at, ..)
        | Error::InvalidColumnType(at, ..)
        | Error::IntegralValueOutOfRange(at, _)
        | Error::Utf8Error(at, _) => *at,
        _ => usize::MAX,
    };
    let named =
        |(at, name): (usize, &str)| Some(format!("{name} {}", shown(row.get_ref(at).ok()?)?));
    let columns = || row.as_ref().column_names().enumerate();
    let what: Vec<String> = columns()
        .filter(|(at, _)| *at == bad)
        .filter_map(named)
        .collect();
    let others = columns().filter(|(at, _)| *at != bad).filter_map(named);
    let others: Vec<String> = others.take(NAMED_BY).collect();
    let of = match others.as_slice() {
        [] => String::new(),
        others => format!(", in the row with {}", others.join(", ")),
    };
    Problem::new(
        format!("the program's memory, table {table}"),
        format!("{} cannot be read{of}", what.join(", ")),
        "the row is left out, and all the rest goes on",
        "what stands in a file or is given by a service is written down anew when it is read again; if this is told again on another day, the program itself may be at fault: tell whoever looks after it",
    )
}

fn shown(value: ValueRef<'_>) -> Option<String> {
    match value {
        ValueRef::Integer(n) => Some(n.to_string()),
        ValueRef::Real(x) => Some(x.to_string()),
        ValueRef::Text(text) => {
            let text = one_line(&String::from_utf8_lossy(text));
            (!text.is_empty()).then(|| format!("'{text}'"))
        }
        ValueRef::Null | ValueRef::Blob(_) => None,
    }
}
