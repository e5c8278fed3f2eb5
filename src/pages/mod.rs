//! Pages to look at and to print: what is due, block by block, and the sheet that goes out into the field.
//!
//! Values in, a whole HTML file out, which needs no server, no script and nothing from elsewhere. `standing` has the
//! words, `risks` what presses most, `frame` what all pages share, `due` and `sheet` one page each. Knows nothing of
//! where a page is kept.

mod due;
mod frame;
mod risks;
mod sheet;
pub mod standing;
#[cfg(test)]
mod tests;

pub use due::due_page;
pub use sheet::field_sheet;

use crate::care::{BatchCare, DayLoad};
use crate::letters::Context;
use crate::problem::Problem;
use chrono::NaiveDateTime;

/// What a round hands to its pages.
#[derive(Clone, Copy, Debug)]
pub struct Occasion<'a> {
    /// Every batch and site, and how things will go on.
    pub context: &'a Context<'a>,
    /// The work of the coming days.
    pub loads: &'a [DayLoad],
    /// Everything that could not be read, fetched or sent.
    pub problems: &'a [Problem],
    /// The moment of the round by the nursery's clocks.
    pub written: NaiveDateTime,
    /// When the next round is due by them.
    pub next: Option<NaiveDateTime>,
}

impl<'a> Occasion<'a> {
    /// The batches on which something is left to do, in the order in which one walks.
    fn open(&self) -> Vec<&'a BatchCare<'a>> {
        let open = self.context.cares.iter().filter(|care| care.is_open());
        open.collect()
    }
}
