//! Laws of rounds, on the invented season and without a process: a round again says nothing, and one that was left out
//! is made up for by the next.

use crate::program::demo;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use graftwarden::assemble::{Foresight, House};
use graftwarden::care::State;
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::notices::{Kind, Notice};
use graftwarden::rehearsal::{house, season};
use graftwarden::round::{Outcome, round};
use graftwarden::survey::{When, survey};
use proptest::prelude::*;
use std::collections::{BTreeSet, HashSet};
use std::sync::{Arc, LazyLock};
use tempfile::TempDir;
use tokio::runtime::Runtime;

/// The season, round by round.
struct Season {
    house: House,
    clock: Arc<ManualClock>,
    runtime: Runtime,
    _letters: TempDir,
}

impl Season {
    fn new() -> Self {
        let letters = tempfile::tempdir().unwrap();
        let config = Config::load(&demo().join("graftwarden.toml")).unwrap();
        let (house, clock) = house(config, letters.path(), Foresight::None).unwrap();
        Self {
            house,
            clock,
            runtime: tokio::runtime::Builder::new_current_thread()
                .enable_all()
                .build()
                .unwrap(),
            _letters: letters,
        }
    }

    /// When its rounds are due.
    fn moments(&self) -> Vec<DateTime<Utc>> {
        let config = &self.house.config;
        let (first, last) = season(config).unwrap();
        let midnight = |day: NaiveDate| day.and_hms_opt(0, 0, 0).unwrap().and_utc();
        let slots = config.schedule.scheduled_between(
            midnight(first),
            midnight(last) + TimeDelta::days(1),
            config.zone,
        );
        slots.into_iter().map(|slot| slot.at).collect()
    }

    fn round(&self, at: DateTime<Utc>) -> Outcome {
        self.clock.set(at);
        self.runtime.block_on(round(&self.house)).unwrap()
    }

    fn works(&self, at: DateTime<Utc>) -> bool {
        let day = at.with_timezone(&self.house.config.zone).date_naive();
        self.house.config.workdays.works(day)
    }

    /// What is open now, and not late: batch and step.
    fn open(&self, at: DateTime<Utc>) -> BTreeSet<(String, String)> {
        let open = self.house.with_store(|memory| {
            survey(memory, &self.house.config, When::Now(at), |survey| {
                let cares = survey.cares.iter().filter(|care| care.is_open());
                let steps =
                    cares.flat_map(|care| care.steps.iter().map(|step| (&care.batch.name, step)));
                let open =
                    steps.filter(|(_, step)| matches!(step.state, State::Open | State::Closing));
                open.map(|(batch, step)| (batch.clone(), step.step.id.clone()))
                    .collect()
            })
        });
        open.unwrap()
    }
}

fn opening(notice: &Notice) -> Option<(String, String)> {
    let batch = notice
        .about
        .batch()
        .filter(|_| notice.kind == Kind::Opens)?;
    Some((batch.to_owned(), notice.step.clone().unwrap()))
}

/// A key without the number of its repetition: after a gap a window may have been withdrawn and opened again unseen.
fn unnumbered(key: &str) -> &str {
    key.rsplit_once('|').unwrap().0
}

#[test]
fn a_round_again_at_the_same_moment_says_nothing() {
    let season = Season::new();
    let mut told = 0;
    for at in season.moments() {
        told += season.round(at).tellings.len();
        let again = season.round(at);
        assert_eq!(
            (again.tellings.len(), again.letters.len()),
            (0, 0),
            "{at}: {:?}",
            again.tellings
        );
    }
    assert!(told > 100, "{told}");
}

/// The openings told when no round is left out, without their numbers.
static ALL: LazyLock<HashSet<String>> = LazyLock::new(|| {
    let season = Season::new();
    let moments = season.moments();
    let told = moments.iter().flat_map(|&at| season.round(at).tellings);
    let opens = told.filter(|telling| telling.notice.kind == Kind::Opens);
    opens
        .map(|telling| unnumbered(&telling.notice.key()).to_owned())
        .collect()
});

/// Walks only the rounds chosen: nothing is told twice, nothing is told that would not have been told anyway, and after
/// each round on a working day nothing stands open untold.
fn with_rounds_left_out(chosen: impl Fn(usize) -> bool) -> Result<usize, TestCaseError> {
    let season = Season::new();
    let (mut keys, mut opened) = (HashSet::new(), BTreeSet::new());
    let moments = season.moments();
    for (_, &at) in moments.iter().enumerate().filter(|(n, _)| chosen(*n)) {
        for telling in season.round(at).tellings {
            let key = telling.notice.key();
            if let Some(opening) = opening(&telling.notice) {
                prop_assert!(
                    ALL.contains(unnumbered(&key)),
                    "{at}: only after a gap: {key}"
                );
                opened.insert(opening);
            }
            prop_assert!(keys.insert(key.clone()), "{at}: told twice: {key}");
        }
        if season.works(at) {
            let open = season.open(at);
            let untold: Vec<_> = open.difference(&opened).collect();
            prop_assert!(untold.is_empty(), "{at}: open and untold: {untold:?}");
        }
    }
    Ok(opened.len())
}

#[test]
fn ten_days_without_a_round_are_made_up_for() {
    // From 25 July to 3 August; from 7 August, over the hot weekend; and in the cool of September.
    for first in [19, 32, 70] {
        let opened = with_rounds_left_out(|n| !(first..first + 10).contains(&n)).unwrap();
        assert!(opened > 60, "{first}: {opened}");
    }
}

#[test]
fn one_round_at_the_end_tells_only_what_still_stands() {
    let season = Season::new();
    let last = *season.moments().last().unwrap();
    let told = season.round(last).tellings;
    let opened: BTreeSet<_> = told
        .iter()
        .filter_map(|telling| opening(&telling.notice))
        .collect();
    assert_eq!(opened, season.open(last));
    let batches: BTreeSet<&str> = told
        .iter()
        .filter_map(|telling| telling.notice.about.batch())
        .collect();
    assert!(batches.contains("B3"), "never written down: {batches:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whichever_rounds_are_left_out(chosen in prop::collection::vec(prop::bool::weighted(0.3), 140)) {
        with_rounds_left_out(|n| chosen[n])?;
    }
}
