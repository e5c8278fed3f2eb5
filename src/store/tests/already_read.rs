//! A memory that keeps what it read gives the same as one that reads everything each time.

use super::*;
use crate::care::Level;
use crate::days::SourceDays;
use crate::notices::{About, Kind, Notice, Told};
use proptest::prelude::*;
use std::sync::Arc;

/// One thing that is written to a memory.
#[derive(Clone, Debug)]
enum Deed {
    Days(&'static str, Vec<RawDay>, u32),
    Batch(&'static str, u32),
    Record(&'static str, u32),
    ForgetRecords(&'static str),
    Tell(Level, u32),
    ClockIsRight(u32),
}

use Deed::{ClockIsRight, Days, ForgetRecords, Tell};

fn deed() -> impl Strategy<Value = Deed> {
    let origin = vec![Origin::Measured, Origin::Modelled, Origin::Forecast];
    let one = (1..20u32, 0..4u32, prop::sample::select(origin))
        .prop_map(|(n, mean, origin)| warm(n, mean.into(), origin));
    let given = prop::collection::vec(one, 0..6);
    let source = prop::sample::select(&["file", "open-meteo"][..]);
    prop_oneof![
        3 => (source, given, 0..24u32).prop_map(|(source, days, at)| Days(source, days, at)),
        1 => (prop::sample::select(&["A", "B"][..]), 1..3u32).prop_map(|(name, n)| Deed::Batch(name, n)),
        1 => (prop::sample::select(&["1-0", "1-1", "2-0"][..]), 1..4u32).prop_map(|(id, n)| Deed::Record(id, n)),
        1 => prop::sample::select(&["1", "2", "3"][..]).prop_map(ForgetRecords),
        1 => (prop::sample::select(&[Level::Hot, Level::VeryHot][..]), 1..3u32).prop_map(|(level, n)| Tell(level, n)),
        1 => (0..24u32).prop_map(ClockIsRight),
    ]
}

fn write(memory: &Memory<'_>, deed: &Deed) -> Result<(), StoreError> {
    match deed {
        Days(source, days, at) => memory.absorb_days("home", source, days, hour(*at))?,
        Deed::Batch(name, grafts) => {
            memory.absorb_batches(&FileRead {
                file: "batches.csv",
                identities: &["A", "B"].map(str::to_owned).into(),
                rows: &|take| take(name, &batch(name, *grafts)),
            })?;
        }
        Deed::Record(id, n) => {
            memory.write_record(id, "accepted.csv", &record(*n, What::Lines, None))?;
        }
        ForgetRecords(beginning) => memory.forget_records(beginning)?,
        Tell(level, n) => {
            let mut notice =
                Notice::plain(Kind::HeatSpike, About::Site("home".into()), "", *n, day(3));
            notice.level = Some(*level);
            memory.enter(&notice, day(9), hour(6))?;
        }
        ClockIsRight(at) => memory.clock_is_right(hour(*at), day(20))?,
    }
    Ok(())
}

/// What a round reads: days from a date on, batches, records, and what was told.
type Read = (Vec<SourceDays>, Arc<[Arc<Batch>]>, Arc<[Record]>, Vec<Told>);

fn read(memory: &Memory<'_>, from: u32) -> Result<Read, StoreError> {
    Ok((
        memory.days("home", &["file", "open-meteo"], day(from))?,
        memory.batches()?,
        memory.records()?,
        memory.ledger()?.of(Kind::HeatSpike, "home").to_vec(),
    ))
}

/// What is written in one transaction, whether that fails in the end, and from which day on days are read.
type Step = (Vec<Deed>, bool, u32);

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let deeds = prop::collection::vec(deed(), 0..4);
    prop::collection::vec((deeds, any::<bool>(), 1..25u32), 1..12)
}

proptest! {
    #[test]
    fn what_was_read_before_is_as_it_stands(steps in steps()) {
        let mut stores = [Store::in_memory().unwrap(), Store::in_memory().unwrap()];
        stores[1].already_read = None;
        for (deeds, fails, from) in steps {
            let [found, expected] = stores.each_mut().map(|store| {
                let done = store.settle(|memory| {
                    read(memory, from)?;
                    for deed in &deeds {
                        write(memory, deed)?;
                    }
                    let within = read(memory, from)?;
                    if fails { Err(StoreError::Busy) } else { Ok(within) }
                });
                assert_eq!(done.is_err(), fails);
                (done.ok(), with(store, |memory| read(memory, from)))
            });
            prop_assert_eq!(found, expected);
        }
    }
}
