//! Rows dated after today: one sentence a file, however many there are.

use super::cell::BadCell;
use super::table::TableRow;
use crate::problem::Problem;
use chrono::NaiveDate;

/// The rows of one file that wait for their day.
#[derive(Debug, Default)]
pub struct Waiting {
    first: Option<Problem>,
    place: String,
    file: String,
    count: u32,
    earliest: NaiveDate,
    latest: NaiveDate,
}

impl Waiting {
    /// Takes a row with which nothing is wrong but its day; gives it back where more is wrong.
    pub fn takes(&mut self, row: &TableRow, bad: &[BadCell]) -> bool {
        let [
            BadCell {
                waits_until: Some(day),
                ..
            },
        ] = bad
        else {
            return false;
        };
        if self.count == 0 {
            self.first = Some(row.problem(&bad[0]));
            row.file().clone_into(&mut self.file);
            self.place = format!("{}, row {}", row.file(), row.line);
            (self.earliest, self.latest) = (*day, *day);
        }
        self.count += 1;
        self.earliest = self.earliest.min(*day);
        self.latest = self.latest.max(*day);
        true
    }

    /// What there is to say; known again by the file and the last day, since the number shrinks by itself.
    pub fn problem(self) -> Option<Problem> {
        if self.count < 2 {
            return self.first;
        }
        let (place, count) = (self.place, self.count - 1);
        let what = format!(
            "this row and {count} more are dated after today, from {} to {}",
            self.earliest, self.latest
        );
        let done =
            "each waits until its day, the last good version of it stays in force if there was one";
        let key = format!("{}, days to come up to {}", self.file, self.latest);
        Some(Problem::new(place, what, done, "correct the dates that are slips").keyed(key))
    }
}
