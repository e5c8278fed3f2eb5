//! Heat of a day, running totals of it, and questions about a series of days.
//!
//! `curve` has the daily temperature curves, `response` the growth rates over them, `method` makes either into the heat
//! of one day as a model asks; none of these knows a date. `totals` adds days up and finds when an amount is reached, by `sums`;
//! `ask` answers from them. Nothing here knows batches, plans, sources or where a temperature came from.

pub mod ask;
mod curve;
#[cfg(test)]
mod laws;
mod method;
pub mod response;
mod sums;
mod totals;

pub use curve::{Curve, Extremes};
pub use method::{of_day, rate};
pub use totals::{Totals, Trust, Warm};
