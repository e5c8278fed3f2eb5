//! Days: what came in for each calendar date at a site, and what is used of it.
//!
//! Raw rows are kept as they came; judging and filling are derived from them anew each time. Knows nothing of heat,
//! sources or the store.

mod day;

pub use day::{Origin, RawDay};
