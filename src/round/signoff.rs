//! After a round: whether it was a good one, and telling outside that the house is alive.
//!
//! A good round is one that nothing hindered: temperatures are known where there is work, the register could be read, and
//! letters get out. Nothing here delays or fails a round: it is over, and what goes wrong is remembered for the next.

use crate::assemble::House;
use crate::condition::{Condition, GOOD_ROUND, openmetrics};
use crate::config::{AliveTo, alive_address, read_secret};
use crate::problem::Problem;
use crate::store::{Memory, StoreError};
use crate::weather::http::{Getter, Line, Patience};
use crate::whole_file;
use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use secrecy::ExposeSecret;
use std::time::Duration;

/// The address is called once, and has so long to answer.
const PATIENCE: Patience = Patience {
    connect: Duration::from_secs(5),
    whole: Duration::from_secs(10),
    retries: 0,
    pause: Duration::ZERO,
    longest_pause: Duration::ZERO,
};
/// A line that is down for an evening is not told.
const TOLD_AFTER: TimeDelta = TimeDelta::hours(24);
/// Since when the address does not answer, and what happened, with a line end between them; empty where it does.
const SILENT: &str = "alive not answered";
/// Why the file of figures could not be written; empty where it could.
const UNWRITTEN: &str = "figures not written";

/// Reads how the house stands after a round, and tells outside.
pub async fn sign_off(house: &House) -> Result<Condition, StoreError> {
    let now = house.clock.now();
    let condition = house.with_store(|memory| {
        let found = Condition::read(memory, &house.config, now)?;
        if !found.hindrances.is_empty() {
            return Ok(found);
        }
        memory.remember(GOOD_ROUND, &moment(now))?;
        Condition::read(memory, &house.config, now)
    })?;
    if let Some(file) = &house.config.alive.metrics {
        let written = whole_file::write_public(file, openmetrics(&condition).as_bytes());
        let why = written.err().map(|error| error.to_string());
        if let Some(why) = &why {
            tracing::error!(
                "{}: the figures could not be written: {why}",
                file.display()
            );
        }
        house.with_store(|memory| note(memory, UNWRITTEN, &why.unwrap_or_default()))?;
    }
    if let Some(to) = &house.config.alive.to
        && condition.hindrances.is_empty()
    {
        let called = call(to, house).await;
        house.health.progress();
        house.with_store(|memory| remember_call(memory, called.err(), now))?;
    }
    Ok(condition)
}

fn moment(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

fn note(memory: &Memory<'_>, name: &str, now: &str) -> Result<(), StoreError> {
    match memory.fact(name)?.unwrap_or_default() {
        before if before == now => Ok(()),
        _ => memory.remember(name, now),
    }
}

/// Calls the address; the error names no more of it than its host.
async fn call(to: &AliveTo, house: &House) -> Result<(), String> {
    let url = match to {
        AliveTo::Url(url) => url.clone(),
        AliveTo::File(path) => {
            let (url, problem) = read_secret(path);
            url.ok_or_else(|| problem.map_or_else(String::new, |problem| problem.to_string()))?
        }
    };
    let url = alive_address(url.expose_secret())?;
    let from = house.config.post.from.as_ref();
    let contact = from.map_or("", |from| from.email.as_str());
    let line = Line {
        patience: PATIENCE,
        ..house.line.clone()
    };
    let getter = Getter::for_posting(&url, contact, line).map_err(|e| e.to_string())?;
    getter.call(&url).await.map_err(|e| e.to_string())
}

fn remember_call(
    memory: &Memory<'_>,
    failed: Option<String>,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    let since = silent(memory)?.map(|(since, _)| since);
    match failed {
        None => note(memory, SILENT, ""),
        Some(why) => {
            tracing::warn!("the sign of life was not taken: {why}");
            let since = since.unwrap_or(now);
            memory.remember(SILENT, &format!("{}\n{why}", moment(since)))
        }
    }
}

fn silent(memory: &Memory<'_>) -> Result<Option<(DateTime<Utc>, String)>, StoreError> {
    memory.fact_as(SILENT, |told| {
        let (since, why) = told.split_once('\n')?;
        Some((since.parse().ok()?, why.to_owned()))
    })
}

/// What is to be told of it by letter, once each time it begins.
pub(super) fn trouble(
    memory: &Memory<'_>,
    house: &crate::config::AliveConfig,
    now: DateTime<Utc>,
) -> Result<Vec<Problem>, StoreError> {
    let mut problems = Vec::new();
    if let Some((since, why)) = silent(memory)?
        && house.to.is_some()
        && now - since >= TOLD_AFTER
    {
        let place = "[alive]";
        problems.push(
            Problem::new(
                place,
                format!("the sign of life has not been taken for a day: {why}"),
                "rounds and letters go on; whoever waits for it may think that this program is dead",
                "look at the address and at the server's network connection",
            )
            .keyed(format!("{place} since {}", moment(since))),
        );
    }
    let unwritten = memory.fact(UNWRITTEN)?.filter(|why| !why.is_empty());
    if let (Some(why), Some(file)) = (unwritten, &house.metrics) {
        problems.push(Problem::new(
            file.display().to_string(),
            format!("the figures could not be written: {why}"),
            "what lies there is of an earlier round",
            "see that the folder is there, that this program may write into it, and that there is room",
        ));
    }
    Ok(problems)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::AliveConfig;
    use crate::store::Store;

    #[test]
    fn silence_is_told_after_a_day_and_once_each_time() {
        let at = |hours| {
            let start: DateTime<Utc> = "2026-07-03T04:10:00Z".parse().unwrap();
            start + TimeDelta::hours(hours)
        };
        let config = AliveConfig {
            to: Some(AliveTo::Url("https://alive.alderfold.example/hazel".into())),
            metrics: None,
        };
        let mut store = Store::in_memory().unwrap();
        let mut after = |hours, failed: Option<&str>| {
            let told = store.settle::<_, StoreError>(|memory| {
                remember_call(memory, failed.map(str::to_owned), at(hours))?;
                trouble(memory, &config, at(hours))
            });
            let keys = told.unwrap().into_iter().map(|problem| problem.key);
            keys.collect::<Vec<_>>().join("\n")
        };
        let why = Some("https://alive.alderfold.example/ answered 500");
        assert_eq!(after(0, why), "");
        assert_eq!(after(23, why), "");
        assert_eq!(after(24, why), "[alive] since 2026-07-03T04:10:00Z");
        assert_eq!(after(48, why), "[alive] since 2026-07-03T04:10:00Z");
        assert_eq!(after(72, None), "");
        assert_eq!(after(96, why), "");
        assert_eq!(after(120, why), "[alive] since 2026-07-07T04:10:00Z");
    }
}
