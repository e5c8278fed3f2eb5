//! Days: what came in for each calendar date at a site, and what is used of it.
//!
//! Raw rows are kept as they came; judging and filling are derived from them anew each time. Knows nothing of heat,
//! sources' formats or the store.

mod day;
mod fill;
mod quality;
mod series;

pub use day::{Day, Origin, RawDay};
pub use quality::{Verdict, judge};
pub use series::{Series, SourceDays};
