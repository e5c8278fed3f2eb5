//! Looking ahead: when an amount of heat is reached, how surely, and what field records teach of the amount itself.
//!
//! `futures` continues a site's known days by the forecast and then by each year before; `need` learns a requirement
//! from what was seen between two visits; `spread` turns it into a fixed grid of amounts; `arrival` pairs the two into
//! the distribution of a date. `normal` has the little of the normal law that this takes. No random numbers: the same
//! input gives the same dates. Knows nothing of batches, steps, records or working days.

mod arrival;
mod futures;
mod need;
mod normal;
mod spread;

pub use arrival::{Band, Chance, Dates, arrival, arrival_of};
pub use futures::{Futures, Known};
pub use need::{Learned, Prior, Sighting, learn};
pub use spread::{Doubt, Requirement};
