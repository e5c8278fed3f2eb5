//! The service: every scheduled round, one after the other, until stopped.
//!
//! A round is due when its slot lies after the last one done and not after now; after a gap the missed slots are made
//! up by one round, never by a pile. Sleeps are short and end with a look at the wall clock, since timers stop while a
//! machine is suspended. What waits in the outbox is tried again between rounds, when its time has come, and every few
//! minutes answers are looked for: where there are some, a round is walked that asks no service. By a clock that cannot be
//! right nothing is done at all.

mod postman;
mod refusal;
mod slots;

use crate::assemble::House;
use crate::clock::{Clock, SystemClock};
use crate::condition::CONFIG_REFUSED;
use crate::config::Config;
use crate::round::{
    Answers, Outcome, Whom, clock_doubt, is_to_be_asked_again, round_of, send, sign_off,
};
use crate::store::{Store, StoreError};
use postman::Postman;
use refusal::Refusal;
use sd_notify::NotifyState;
use slots::{own_minutes, sleep_of};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::signal::unix::{Signal, SignalKind, signal};

/// Never sleep longer than this before looking at the wall clock again.
const LONGEST_SLEEP: Duration = Duration::from_secs(60);
/// How long a round may go on after the service was asked to stop; what is left is done at the next start.
const GRACE: Duration = Duration::from_secs(3);

/// What the service manager shows while nothing is to be done and nothing hinders.
const WAITING: &str = "waiting for the next round";

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
    refuse(&house, "");
    let feeding = feed_watchdog(&house);
    tell(&[NotifyState::Ready, NotifyState::Status(WAITING)]);
    tracing::info!(version = env!("CARGO_PKG_VERSION"), config = %path.display(), "graftwarden watches {}", house.config.name);
    let mut postman = Postman::new(&house);
    let mut refusal = Refusal::default();
    let mut begins = true;
    loop {
        house.health.progress();
        let (word, sleep) = if let Some(doubt) = clock_doubt(&house)? {
            let asking = interruptible(refusal.go_on(&house, &doubt), &mut ear);
            (asking.await?.1, LONGEST_SLEEP.min(beat()))
        } else {
            refusal.end();
            let begins = std::mem::take(&mut begins);
            let word = work(&house, &mut ear, &mut postman, begins).await?;
            (word, sleep_of(&house)?)
        };
        let word = match word {
            Some(word) => word,
            None => match tokio::time::timeout(sleep, ear.hear()).await {
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
///
/// After a power cut the way out often comes back last, and to find that out takes minutes. Where the service `begins` with a
/// round, what cannot wait is told by what is at hand before anybody else is asked.
async fn work(
    house: &House,
    ear: &mut Ear,
    postman: &mut Postman,
    begins: bool,
) -> Result<Option<Word>, StoreError> {
    let (slot, again) = house.with_store(|memory| {
        let minutes = own_minutes(memory)?;
        let again = is_to_be_asked_again(house, memory, minutes)?;
        Ok((slots::due(house, memory, minutes)?, again))
    })?;
    if begins && slot.is_some() && house.asks_services() {
        let at_hand = round_of(house, Whom::AtHand, Answers::default());
        if let (_, Some(word)) = interruptible(at_hand, ear).await? {
            return Ok(Some(word));
        }
    }
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
    show("at work on a round");
    let started = house.clock.monotonic();
    let mut stands = Vec::new();
    let (outcome, mut word) = interruptible(round_of(house, whom, answers), ear).await?;
    if let Some(outcome) = outcome {
        if let Some(slot) = slot {
            slots::done(house, &slot)?;
            report(house, &outcome, started.elapsed());
            let after = interruptible(sign_off(house), ear).await?;
            let hindrances = after
                .0
                .map_or_else(Vec::new, |condition| condition.hindrances);
            for hindrance in &hindrances {
                tracing::warn!("the round was not a good one: {hindrance}");
            }
            stands = hindrances;
            word = word.or(after.1);
        } else {
            report(house, &outcome, started.elapsed());
        }
    }
    show(&status(&stands));
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

/// The new config, or the old one where the new one cannot be used.
fn reload(house: House, path: &Path) -> House {
    let config = match Config::load(path) {
        Ok(config) if config.state == house.config.state => config,
        Ok(_) => {
            let what = "the new config names another state folder";
            tracing::error!("{what}; the old config stays in force until the service is restarted");
            refuse(&house, what);
            return house;
        }
        Err(trouble) => {
            tracing::error!(
                "the new config cannot be used, the old one stays in force:\n{trouble}"
            );
            let first = trouble.to_string();
            let first = first.lines().next().unwrap_or_default().to_owned();
            refuse(
                &house,
                &format!("the changed config cannot be used: {first}"),
            );
            return house;
        }
    };
    refuse(&house, "");
    let (new, problems) = House::with_store_of(&house, config);
    for problem in problems {
        tracing::error!("{problem}");
    }
    tracing::info!("the config was read again");
    new
}

/// Remembers why a changed config was refused, so that the next round tells it; nothing where it was not.
fn refuse(house: &House, why: &str) {
    let kept = house.with_store(|memory| memory.remember(CONFIG_REFUSED, why));
    if let Err(error) = kept {
        tracing::error!("{error}");
    }
    if !why.is_empty() {
        show(why);
    }
}

/// What the service manager shows.
fn status(hindrances: &[String]) -> String {
    if hindrances.is_empty() {
        return WAITING.to_owned();
    }
    hindrances.join("; ")
}

/// One line a round.
fn report(house: &House, outcome: &Outcome, took: Duration) {
    let waiting = house
        .with_store(|memory| memory.depth())
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

/// The watchdog wants to hear of progress more often than it starves.
fn beat() -> Duration {
    sd_notify::watchdog_enabled().map_or(LONGEST_SLEEP, |watchdog| watchdog / 4)
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

/// What the service manager shows from now on.
fn show(status: &str) {
    tell(&[NotifyState::Status(status)]);
}

/// Tells the service manager; without one it goes nowhere.
fn tell(state: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(state) {
        tracing::warn!("cannot reach the service manager: {error}");
    }
}

#[cfg(test)]
mod tests;
