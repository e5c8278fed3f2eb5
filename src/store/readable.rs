//! Reading rows: one with a value that cannot be read is left out and told, and the rest goes on.
//!
//! Such a value is no damage of the file, which may well be sound: a fault of this program's own looks the same, and no
//! backup would mend it. What no letter has told is noted until one does: much is read between rounds, or on days off.

use super::{Memory, StoreError, soundness};
use crate::excerpt::one_line;
use crate::problem::Problem;
use chrono::{DateTime, NaiveDate, Utc};
use rusqlite::{Error, Params, Row, Statement, types::Type, types::ValueRef};

/// So many values say which row it is.
const NAMED_BY: usize = 3;
/// So many rows of a table are named; of more it is said that there are more.
const NAMED: usize = 5;
/// The name under which is noted what is still to be told.
const NOTED: &str = "could not be read";
/// What is done where the value stands for the whole row.
const ROW: &str = "the row is left out, and all the rest goes on";

impl Memory<'_> {
    /// What stands in the rows of a table, without those that cannot be read.
    pub(super) fn rows<T>(
        &self,
        table: &str,
        read: &mut Statement<'_>,
        params: impl Params,
        of: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, StoreError> {
        let mut found = Vec::new();
        self.each(table, read, params, of, |value| {
            found.push(value);
            true
        })?;
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
        let mut found = None;
        self.each(table, read, params, of, |value| {
            found = Some(value);
            false
        })?;
        Ok(found)
    }

    /// Hands them over one by one, as long as more are wanted.
    fn each<T>(
        &self,
        table: &str,
        read: &mut Statement<'_>,
        params: impl Params,
        mut of: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
        mut take: impl FnMut(T) -> bool,
    ) -> Result<(), StoreError> {
        let mut rows = read.query(params)?;
        while let Some(row) = rows.next()? {
            match of(row) {
                Ok(value) => {
                    if !take(value) {
                        break;
                    }
                }
                Err(error) if soundness::is_unreadable(&error) => {
                    self.leave_out(unreadable(table, row, &error, ROW));
                }
                Err(error) => return Err(error.into()),
            }
        }
        Ok(())
    }

    /// A value without which the rest of its row is of use: none where it cannot be read, and that is told.
    pub(super) fn spared<T>(
        &self,
        table: &str,
        row: &Row<'_>,
        read: rusqlite::Result<T>,
    ) -> rusqlite::Result<Option<T>> {
        match read {
            Err(error) if soundness::is_unreadable(&error) => {
                let done = "the row is used without it";
                self.leave_out(unreadable(table, row, &error, done));
                Ok(None)
            }
            read => read.map(Some),
        }
    }

    pub(super) fn leave_out(&self, problem: Problem) {
        let mut met = self.left_out.borrow_mut();
        let of_table = met.iter().filter(|p| p.place == problem.place).count();
        if of_table > NAMED || met.contains(&problem) {
            return;
        }
        met.push(if of_table < NAMED {
            problem
        } else {
            let what = "more of its rows cannot be read";
            Problem::new(problem.place, what, ROW, problem.remedy)
        });
    }

    /// What could not be read so far, and what no letter has told of it.
    pub fn left_out(&self) -> Result<Vec<Problem>, StoreError> {
        let mut all = self.noted()?;
        for problem in self.left_out.borrow().iter() {
            if !all.contains(problem) {
                all.push(problem.clone());
            }
        }
        Ok(all)
    }

    /// At the end of a transaction: notes what no letter has told yet, so that the next round does.
    pub(super) fn note_left_out(&self) -> Result<(), StoreError> {
        if !self.left_out.borrow().is_empty() {
            // What a row says may stand in a file: read again, it is written down anew.
            self.forget_readings()?;
        }
        let noted = self.noted()?;
        let mut untold = Vec::new();
        for problem in self.left_out()? {
            if !self.is_told(&problem)? {
                untold.push(problem);
            }
        }
        for problem in untold.iter().filter(|problem| !noted.contains(problem)) {
            tracing::error!("{problem}");
        }
        if untold == noted {
            return Ok(());
        }
        self.remember(NOTED, &written(&untold))
    }

    fn is_told(&self, problem: &Problem) -> Result<bool, StoreError> {
        let mut read = self
            .transaction
            .prepare_cached("SELECT 1 FROM notice WHERE kind = 'trouble' AND anchor = ?1")?;
        Ok(read.exists([&problem.key])?)
    }

    fn noted(&self) -> Result<Vec<Problem>, StoreError> {
        Ok(self.fact_as(NOTED, as_written)?.unwrap_or_default())
    }
}

/// The text of a column, where it stands.
pub(super) fn text<'r>(row: &'r Row<'_>, at: usize) -> rusqlite::Result<&'r str> {
    let value = row.get_ref(at)?;
    let no_text = |error| Error::FromSqlConversionFailure(at, value.data_type(), Box::new(error));
    value.as_str().map_err(no_text)
}

fn written(problems: &[Problem]) -> String {
    if problems.is_empty() {
        return String::new();
    }
    let parts = |p: &Problem| [&p.place, &p.what, &p.done, &p.remedy, &p.key].map(Clone::clone);
    let all: serde_json::Value = problems.iter().map(|p| parts(p).to_vec()).collect();
    all.to_string()
}

fn as_written(text: &str) -> Option<Vec<Problem>> {
    let all: Vec<[String; 5]> = serde_json::from_str(text).ok()?;
    let problem = |[place, what, done, remedy, key]: [String; 5]| {
        Problem::new(place, what, done, remedy).keyed(key)
    };
    Some(all.into_iter().map(problem).collect())
}

/// What the text in a column says; one that says nothing known cannot be read.
pub(super) fn said<T>(
    row: &Row<'_>,
    at: usize,
    of: impl Fn(&str) -> Option<T>,
) -> rusqlite::Result<T> {
    of(text(row, at)?).ok_or_else(|| unknown(at, Type::Text))
}

/// A value that nothing of this program could have written.
pub(super) fn unknown(at: usize, kind: Type) -> Error {
    Error::FromSqlConversionFailure(at, kind, "says nothing known".into())
}

/// The date in a column.
pub(super) fn date_at(row: &Row<'_>, at: usize) -> rusqlite::Result<NaiveDate> {
    said(row, at, date_of)
}

/// The moment in a column.
pub(super) fn moment_at(row: &Row<'_>, at: usize) -> rusqlite::Result<DateTime<Utc>> {
    said(row, at, moment_of)
}

/// A date. As this program writes it, 2026-08-17, it is read digit by digit: that takes a tenth of the time of the general
/// way, and a round of many batches reads millions.
fn date_of(text: &str) -> Option<NaiveDate> {
    plain_date(text.as_bytes()).or_else(|| text.parse().ok())
}

/// A moment; the same of 2026-08-17T04:10:00Z.
fn moment_of(text: &str) -> Option<DateTime<Utc>> {
    plain_moment(text.as_bytes()).or_else(|| text.parse().ok())
}

fn plain_date(text: &[u8]) -> Option<NaiveDate> {
    if text.len() != 10 || (text[4], text[7]) != (b'-', b'-') {
        return None;
    }
    let year = number(&text[..4])?.cast_signed();
    NaiveDate::from_ymd_opt(year, number(&text[5..7])?, number(&text[8..])?)
}

fn plain_moment(text: &[u8]) -> Option<DateTime<Utc>> {
    let (date, time) = text.split_at_checked(10)?;
    if time.len() != 10 || (time[0], time[3], time[6], time[9]) != (b'T', b':', b':', b'Z') {
        return None;
    }
    let (hour, minute, second) = (&time[1..3], &time[4..6], &time[7..9]);
    let date = plain_date(date)?;
    let moment = date.and_hms_opt(number(hour)?, number(minute)?, number(second)?)?;
    Some(moment.and_utc())
}

fn number(digits: &[u8]) -> Option<u32> {
    let add = |n: u32, digit: &u8| {
        digit
            .is_ascii_digit()
            .then(|| n * 10 + u32::from(digit - b'0'))
    };
    digits.iter().try_fold(0, add)
}

/// The moment in a column that may have none.
pub(super) fn moment_if_any(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<DateTime<Utc>>> {
    if_any(row, at, moment_at)
}

/// What stands in a column that may be empty.
pub(super) fn if_any<T>(
    row: &Row<'_>,
    at: usize,
    of: impl FnOnce(&Row<'_>, usize) -> rusqlite::Result<T>,
) -> rusqlite::Result<Option<T>> {
    match row.get_ref(at)? {
        ValueRef::Null => Ok(None),
        _ => of(row, at).map(Some),
    }
}

fn unreadable(table: &str, row: &Row<'_>, error: &Error, done: &str) -> Problem {
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
        done,
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Written by the program or not, it is read as the library reads it.
        #[test]
        fn what_is_read_digit_by_digit_is_what_the_library_reads(
            seconds in -62_200_000_000_i64..260_000_000_000,
            text in "[0-9+-]{1,6}-[0-9]{2}-[0-9]{2}(T[0-2][0-9]:[0-6][0-9]:[0-6][0-9](Z|[.]5Z|[+]02:00)?)?",
        ) {
            let moment = DateTime::from_timestamp(seconds, 0).unwrap();
            let (date, written) = (moment.date_naive(), super::super::moment(moment));
            prop_assert_eq!(date_of(&date.to_string()), Some(date));
            prop_assert_eq!(moment_of(&written), Some(moment));
            for text in [&text, &date.to_string(), &written] {
                prop_assert_eq!(date_of(text), text.parse().ok());
                prop_assert_eq!(moment_of(text), text.parse().ok());
            }
        }
    }

    #[test]
    fn what_the_program_writes_needs_no_general_way() {
        let date = NaiveDate::from_ymd_opt(2028, 2, 29).unwrap();
        assert_eq!(plain_date(b"2028-02-29"), Some(date));
        assert_eq!(plain_date(b"2027-02-29"), None);
        let moment = date.and_hms_opt(4, 10, 9).unwrap().and_utc();
        assert_eq!(plain_moment(b"2028-02-29T04:10:09Z"), Some(moment));
        assert_eq!(plain_moment(b"2028-02-29T04:10:09+"), None);
    }
}
