//! What care makes of whole plans, written down as seasons: see `season` for the notation.

mod again;
mod ahead;
mod first_summer;
mod ground;
mod in_heat;
pub(crate) mod last_graft;
mod later_years;
mod laws;
mod learning;
mod one_look;
mod parts;
mod planning;
mod plans;
pub(crate) mod season;
mod stretch;
mod weather;
mod workload;

use season::Season;

/// A step of the first batch in a round on day `n`: see [`Season::step`].
#[track_caller]
fn check(season: &Season, n: i64, step: &str, expected: &str) {
    assert_eq!(season.step(n, step), expected);
}

/// The same on a date, with dates.
#[track_caller]
fn check_on(season: &Season, day: &str, step: &str, expected: &str) {
    assert_eq!(season.step_on(day, step), expected);
}

/// The limit: see [`Season::limit`].
#[track_caller]
fn check_limit(season: &Season, n: i64, expected: &str) {
    assert_eq!(season.limit(n), expected);
}
