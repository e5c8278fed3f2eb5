//! The store: its file, and what it keeps, refuses and gives back.

mod along;
mod already_read;
mod carried;
mod file;
mod in_place;
mod kept;
mod mending;
mod outgrown;
mod register;
mod unreadable;

use super::*;
use crate::days::{Origin, RawDay};
use crate::nursery::{Batch, Count, Record, Target, Vigour, What};
use chrono::NaiveDate;

fn day(n: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 7, n).unwrap()
}

fn hour(n: u32) -> DateTime<Utc> {
    day(20).and_hms_opt(n, 0, 0).unwrap().and_utc()
}

/// Works in a store and cannot fail.
fn with<T>(store: &mut Store, work: impl FnOnce(&Memory<'_>) -> Result<T, StoreError>) -> T {
    store.settle(work).unwrap()
}

fn batch(name: &str, grafts: u32) -> Batch {
    Batch {
        name: name.into(),
        site: "home".into(),
        block: "C".into(),
        plan: "maple field T-graft".into(),
        scion: "Osakazuki".into(),
        understock: "palmatum".into(),
        vigour: Vigour::Strong,
        grafts,
        grafted_on: day(1),
        by: "Jory".into(),
        remarks: "row 3".into(),
    }
}

fn record(n: u32, what: What, count: Option<Count>) -> Record {
    Record {
        date: day(n),
        target: Target::Batch("C-14".into()),
        what,
        count,
        by: "Maren".into(),
        remarks: String::new(),
    }
}

fn warm(n: u32, mean: f64, origin: Origin) -> RawDay {
    RawDay {
        date: day(n),
        min: mean - 8.0,
        max: mean + 8.0,
        gust: Some(30.0),
        rain: None,
        origin,
    }
}
