//! The service: every scheduled round, one after the other, until stopped.
//!
//! A round is due when its slot lies after the last one done and not after now; after a gap the missed slots are made
//! up by one round, never by a pile. Sleeps are short and end with a look at the wall clock, since timers stop while a
//! machine is suspended. What waits in the outbox is tried again between rounds, when its time has come, and every few
//! minutes answers are looked for: where there are some, a round is walked that asks no service.

use crate::assemble::House;
use crate::clock::{Clock, SystemClock};
use crate::config::Config;
use crate::round::{
    Answers, Outcome, Whom, gather, is_to_be_asked_again, long_failing, round_of, send,
};
use crate::schedule::{Slot, politely};
use crate::store::{Store, StoreError};
use chrono::{DateTime, TimeDelta, Timelike, Utc};
use sd_notify::NotifyState;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::signal::unix::{Signal, SignalKind, signal};

/// Never sleep longer than this before looking at the wall clock again.
const LONGEST_SLEEP: Duration = Duration::from_secs(60);
/// How long a round may go on after the service was asked to stop; what is left is done at the next start.
const GRACE: Duration = Duration::from_secs(3);
/// The wall clock may be set back by this much without another look at what is due.
const SET_BACK: TimeDelta = TimeDelta::hours(2);

/// A round that asks public services is walked fewer than so many minutes after its slot.
const MOST_DELAY: u32 = 10;

/// The name under which the last slot is remembered.
const LAST_SLOT: &str = "last slot";

/// What the service was told from outside.
enum Word {
    Stop,
    Reload,
}

struct Ear {
    terminate: Signal,
    interrupt: Signal,
    hang_up: Signal,
}

impl Ear {
    fn new() -> std::io::Result<Self> {
        Ok(Self {
            terminate: signal(SignalKind::terminate())?,
            interrupt: signal(SignalKind::interrupt())?,
            hang_up: signal(SignalKind::hangup())?,
        })
    }

    async fn hear(&mut self) -> Word {
        tokio::select! {
            _ = self.terminate.recv() => Word::Stop,
            _ = self.interrupt.recv() => Word::Stop,
            _ = self.hang_up.recv() => Word::Reload,
        }
    }
}

/// Looks for answers between the rounds.
struct Postman {
    next: Instant,
    /// How often running the mailbox could not be read.
    failures: u32,
    /// That it cannot be read has led to a round already.
    told: bool,
}

/// Answers are looked for so often ...
const POLL: Duration = Duration::from_secs(2 * 60);
/// ... and later and later where the mailbox cannot be read, up to this.
const LONGEST_POLL: Duration = Duration::from_secs(30 * 60);

impl Postman {
    fn new(house: &House) -> Self {
        Self {
            next: house.clock.monotonic(),
            failures: 0,
            told: false,
        }
    }

    fn is_due(&self, house: &House) -> bool {
        house.mailbox.is_some() && house.clock.monotonic() >= self.next
    }

    /// Looks, and says when to look again.
    async fn look(&mut self, house: &House) -> Answers {
        let answers = gather(house).await;
        if answers.failed.is_some() {
            self.failures = self.failures.saturating_add(1);
        } else {
            (self.failures, self.told) = (0, false);
        }
        self.next = house.clock.monotonic() + gap(self.failures);
        answers
    }

    /// Whether a round is to be walked for what was found. Where there were many, there may be more.
    fn has_news(&mut self, house: &House, answers: &Answers) -> Result<bool, StoreError> {
        if answers.failed.is_none() {
            return Ok(!answers.mails.is_empty());
        }
        let long = house.with_store(|memory| long_failing(memory, house.clock.now()))?;
        let news = long.is_some() && !self.told;
        self.told |= news;
        Ok(news)
    }
}

/// Until the next look, after so many failures running.
fn gap(failures: u32) -> Duration {
    (POLL * 2_u32.pow(failures.min(5))).min(LONGEST_POLL)
}

/// Why the service ended by itself.
#[derive(Debug, thiserror::Error)]
pub enum WatchError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The signals of the system.
    #[error("cannot listen to signals: {0}")]
    Signals(#[from] std::io::Error),
}

/// Runs until asked to stop.
pub async fn watch(path: PathBuf, config: Config, store: Store) -> Result<(), WatchError> {
    let mut ear = Ear::new()?;
    let clock: Arc<dyn Clock> = Arc::new(SystemClock);
    let (mut house, problems) = House::live(config, clock.clone(), store);
    for problem in problems {
        tracing::error!("{problem}");
    }
    let feeding = feed_watchdog(&house);
    tell(&[
        NotifyState::Ready,
        NotifyState::Status("waiting for the next round"),
    ]);
    tracing::info!(version = env!("CARGO_PKG_VERSION"), config = %path.display(), "graftwarden watches {}", house.config.name);
    let mut postman = Postman::new(&house);
    loop {
        house.health.progress();
        let word = match work(&house, &mut ear, &mut postman).await? {
            Some(word) => word,
            None => match tokio::time::timeout(sleep_of(&house)?, ear.hear()).await {
                Ok(word) => word,
                Err(_) => continue,
            },
        };
        match word {
            Word::Stop => break,
            Word::Reload => {
                house = reload(house, &path);
                postman = Postman::new(&house);
            }
        }
    }
    tell(&[NotifyState::Stopping, NotifyState::Status("stopped")]);
    tracing::info!("graftwarden stops; what waits in the outbox goes out at the next start");
    if let Some(feeding) = feeding {
        feeding.abort();
    }
    Ok(())
}

/// Does what is due. A word from outside interrupts it: a round gets a few moments to end, and nothing is lost where it
/// does not, since it is either settled or will be done again.
async fn work(
    house: &House,
    ear: &mut Ear,
    postman: &mut Postman,
) -> Result<Option<Word>, StoreError> {
    let slot = slot_due(house)?;
    let again = is_to_be_asked_again(house, house.clock.now(), own_minutes(house)?)?;
    let whom = match slot {
        Some(_) => Whom::Everybody,
        None if again => Whom::WhoFailed,
        None => Whom::Nobody,
    };
    let mut answers = Answers::default();
    if whom != Whom::Nobody || postman.is_due(house) {
        let looking = async { Ok(postman.look(house).await) };
        match interruptible(looking, ear).await? {
            (Some(found), None) => answers = found,
            (_, word) => return Ok(word),
        }
    }
    if whom == Whom::Nobody && !postman.has_news(house, &answers)? {
        return interruptible(send(house), ear).await.map(|(_, word)| word);
    }
    tell(&[NotifyState::Status("at work on a round")]);
    let started = house.clock.monotonic();
    let (outcome, word) = interruptible(round_of(house, whom, answers), ear).await?;
    if let Some(outcome) = outcome {
        if let Some(slot) = slot {
            house.with_store(|memory| memory.remember(LAST_SLOT, &slot.to_rfc3339()))?;
        }
        report(house, &outcome, started.elapsed());
    }
    tell(&[NotifyState::Status("waiting for the next round")]);
    Ok(word)
}

async fn interruptible<T>(
    work: impl Future<Output = Result<T, StoreError>>,
    ear: &mut Ear,
) -> Result<(Option<T>, Option<Word>), StoreError> {
    tokio::pin!(work);
    tokio::select! {
        done = &mut work => Ok((Some(done?), None)),
        word = ear.hear() => match tokio::time::timeout(GRACE, &mut work).await {
            Ok(done) => Ok((Some(done?), Some(word))),
            Err(_) => Ok((None, Some(word))),
        },
    }
}

/// The newest slot that is due and not done; the moment itself where there never was a round.
fn slot_due(house: &House) -> Result<Option<DateTime<Utc>>, StoreError> {
    let now = house.clock.now();
    let (slot, last_round) =
        house.with_store(|memory| Ok((memory.fact(LAST_SLOT)?, memory.last_round()?)))?;
    let Some(last) = slot
        .and_then(|text| text.parse::<DateTime<Utc>>().ok())
        .or(last_round)
    else {
        return Ok(Some(now));
    };
    if last > now + SET_BACK {
        tracing::warn!(%last, %now, "the clock was set back; rounds go on from now");
        house.with_store(|memory| memory.remember(LAST_SLOT, &now.to_rfc3339()))?;
        return Ok(None);
    }
    let delay = delay(house)?;
    let come = |slot: &Slot| delay.is_none_or(|minutes| is_polite(slot.at, now, minutes));
    let mut due: Vec<Slot> = house
        .config
        .schedule
        .scheduled_between(last, now, house.config.zone);
    due.retain(come);
    if due.len() > 1 {
        tracing::info!(
            missed = due.len() - 1,
            "rounds were missed; one round makes up for them"
        );
    }
    Ok(due.last().map(|slot| slot.at))
}

/// How many minutes after its slot a round is walked that asks services which others ask too; none where it does not.
fn delay(house: &House) -> Result<Option<u32>, StoreError> {
    if !house.asks_out() {
        return Ok(None);
    }
    own_minutes(house).map(Some)
}

/// The same at each round of one installation, and hardly the same at another.
fn own_minutes(house: &House) -> Result<u32, StoreError> {
    let secret = house.with_store(|memory| memory.secret())?;
    Ok(secret.bytes().map(u32::from).sum::<u32>() % MOST_DELAY)
}

/// Whether a slot's own minute has come, and it is not the first hour in Greenwich, for a slot that is made up for.
fn is_polite(slot: DateTime<Utc>, now: DateTime<Utc>, minutes: u32) -> bool {
    let first_hour = now.hour() == 0;
    !first_hour && politely(slot, minutes) <= now
}

/// Until the next slot or the next try of the outbox, but never long.
fn sleep_of(house: &House) -> Result<Duration, StoreError> {
    let now = house.clock.now();
    let slot = house
        .config
        .schedule
        .next_after(now, house.config.zone)
        .map(|slot| slot.at);
    let retry = house.with_store(|memory| memory.next_try())?;
    let until = [slot, retry]
        .into_iter()
        .flatten()
        .min()
        .map_or(LONGEST_SLEEP, |at| (at - now).to_std().unwrap_or_default());
    let beat = sd_notify::watchdog_enabled().map_or(LONGEST_SLEEP, |watchdog| watchdog / 4);
    Ok(until
        .clamp(Duration::from_millis(200), LONGEST_SLEEP)
        .min(beat))
}

/// The new config, or the old one where the new one cannot be used.
fn reload(house: House, path: &Path) -> House {
    let config = match Config::load(path) {
        Ok(config) if config.state == house.config.state => config,
        Ok(_) => {
            tracing::error!(
                "the new config names another state folder; the old config stays in force until the service is restarted"
            );
            return house;
        }
        Err(trouble) => {
            tracing::error!(
                "the new config cannot be used, the old one stays in force:\n{trouble}"
            );
            return house;
        }
    };
    let (new, problems) = House::with_store_of(&house, config);
    for problem in problems {
        tracing::error!("{problem}");
    }
    tracing::info!("the config was read again");
    new
}

fn report(house: &House, outcome: &Outcome, took: Duration) {
    let waiting = house
        .with_store(|memory| memory.depth())
        .map(|(depth, _)| depth)
        .unwrap_or_default();
    tracing::info!(
        notices = outcome.tellings.len(),
        letters = outcome.letters.len(),
        problems = outcome.problems.len(),
        waiting,
        millis = u64::try_from(took.as_millis()).unwrap_or(u64::MAX),
        "round done"
    );
}

/// Feeds the service manager's watchdog as long as something gets done. A frozen round lets it starve.
fn feed_watchdog(house: &House) -> Option<tokio::task::JoinHandle<()>> {
    let watchdog = sd_notify::watchdog_enabled()?;
    let health = house.health.clone();
    Some(tokio::spawn(async move {
        let mut beat = tokio::time::interval(watchdog / 4);
        loop {
            beat.tick().await;
            if health.is_alive(watchdog) {
                tell(&[NotifyState::Watchdog]);
            }
        }
    }))
}

/// Tells the service manager; without one it goes nowhere.
fn tell(state: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(state) {
        tracing::warn!("cannot reach the service manager: {error}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(slot: &str, now: &str, polite: bool) {
        let at = |text: &str| text.parse().unwrap();
        for minutes in [0, 9] {
            assert_eq!(is_polite(at(slot), at(now), minutes), polite, "{minutes}");
        }
    }

    #[test]
    fn a_mailbox_that_fails_is_asked_later_and_later() {
        let minutes = |failures| gap(failures).as_secs() / 60;
        let gaps: Vec<u64> = (0..8).map(minutes).collect();
        assert_eq!(gaps, [2, 4, 8, 16, 30, 30, 30, 30]);
    }

    #[test]
    fn services_are_not_asked_in_the_first_hour_in_greenwich() {
        check("2026-07-03T04:10:00Z", "2026-07-03T04:09:00Z", false);
        check("2026-07-03T04:10:00Z", "2026-07-03T04:19:00Z", true);
        // A slot of the evening, made up for after a night without current.
        check("2026-07-02T20:00:00Z", "2026-07-03T00:00:00Z", false);
        check("2026-07-02T20:00:00Z", "2026-07-03T00:59:00Z", false);
        check("2026-07-02T20:00:00Z", "2026-07-03T01:00:00Z", true);
        check("2026-07-03T00:10:00Z", "2026-07-03T01:09:00Z", true);
    }
}
