//! Days: what came in for each calendar date at a site, and what is used of it.
//!
//! Raw rows are kept as they came; judging (`quality`), choosing (`chain`) and filling (`fill`) are derived from them anew
//! each time. Knows nothing of heat, sources' formats or the store.

mod chain;
mod day;
mod fill;
mod frost;
mod past;
mod quality;
mod series;
mod usual;

pub use day::{Day, Origin, Rank, RawDay, Remark, Shift};
pub use frost::{Frost, in_80_of_100};
pub use past::{PastDay, PastYears, same_date};
pub use quality::{Thresholds, Verdict, contradiction, fahrenheit, judge};
pub use series::{Rejected, Rules, Series, SourceDays};
pub use usual::Usual;
