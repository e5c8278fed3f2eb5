//! The words of the nursery: sites, batches, care plans, field records, people, working days.
//!
//! Plain types that hold only what is valid. They know nothing of files, weather, letters or the clock.

mod batch;
mod model;
mod person;
mod plan;
mod quiet;
mod record;
mod site;
mod workdays;

pub use batch::{Batch, Vigour};
pub use model::{Cutoff, Method, Model};
pub use person::{Gets, Person};
pub use plan::{
    Again, Anchor, Closing, Held, Limit, MonthDay, Need, Opening, Plan, Reckoning, Repeat,
    Sensitive, Step,
};
pub use quiet::Quiet;
pub use record::{Count, Record, Target, What, counts_as};
pub use site::{Hemisphere, Site};
pub use workdays::Workdays;
