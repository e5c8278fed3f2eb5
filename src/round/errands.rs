//! Asking the sources: those of one host one after the other, hosts side by side.
//!
//! Whoever asked to be left alone is left alone, across rounds and restarts, and so is everything behind the same host.
//! Nor is anything more asked of a host to which no connection came about: each try takes minutes where the network is down.
//! An answer that contradicts what the source itself said before is not used. Writes nothing but the log.

use super::incoming::Given;
use crate::assemble::House;
use crate::days::{RawDay, contradiction};
use crate::health::Health;
use crate::problem::Problem;
use crate::store::SourceMemory;
use crate::weather::{Ask, Fetched, Source};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use std::collections::BTreeMap;
use std::sync::Arc;
use tokio::task::JoinSet;

/// Nothing asks to be left alone for longer; what is remembered as longer was written while the clock was wrong.
const LONGEST_REST: TimeDelta = TimeDelta::hours(26);

/// So many days must be known of a service before an answer can contradict them ...
const KNOWN_LEAST: usize = 3;
/// ... and so many once it has failed: the days that it speaks of twice grow fewer until it is right again.
const AGREED_AGAIN: usize = 1;

/// Whom a round asks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Whom {
    /// Every source.
    #[default]
    Everybody,
    /// Files, and the services that did not answer when they were last asked.
    WhoFailed,
    /// Files: the round is walked before the services are asked.
    AtHand,
    /// None: the round takes answers.
    Nobody,
}

/// One question to one source.
struct Errand {
    place: usize,
    site: String,
    name: String,
    source: Arc<dyn Source>,
    ask: Ask,
    before: SourceMemory,
    known: Vec<RawDay>,
    jump: f64,
}

/// Asks every source for the days since the date that `from` gives for a site's today. In the order of the config.
pub async fn run(
    house: &House,
    now: DateTime<Utc>,
    whom: Whom,
    from: impl Fn(NaiveDate) -> NaiveDate,
) -> Vec<Given> {
    if whom == Whom::Nobody {
        return Vec::new();
    }
    let mut running = JoinSet::new();
    for (host, errands) in errands(house, now, whom, from) {
        running.spawn(run_in_turn(errands, host.is_some(), house.health.clone()));
    }
    let mut given: Vec<(usize, Given)> = running.join_all().await.into_iter().flatten().collect();
    given.sort_by_key(|(place, _)| *place);
    given.into_iter().map(|(_, given)| given).collect()
}

/// What is to be asked, by host.
fn errands(
    house: &House,
    now: DateTime<Utc>,
    whom: Whom,
    from: impl Fn(NaiveDate) -> NaiveDate,
) -> BTreeMap<Option<String>, Vec<Errand>> {
    let mut hosts: BTreeMap<Option<String>, Vec<Errand>> = BTreeMap::new();
    for (site, sources) in &house.sources {
        let from = from(now.with_timezone(&site.zone).date_naive());
        let config = house.config.sites.iter().find(|s| s.site.id == site.id);
        let jump = config.map_or(f64::INFINITY, |s| s.thresholds.jump);
        for (name, source) in sources {
            let host = source.host();
            if whom == Whom::AtHand && host.is_some() {
                continue;
            }
            let remembered = house.with_store(|memory| {
                if host.is_none() {
                    return Ok(Default::default());
                }
                let mut days = memory.days(&site.id, &[name], from)?;
                let known = days.pop().map_or_else(Vec::new, |known| known.days);
                Ok((memory.source(&site.id, name)?, known))
            });
            let (before, known): (SourceMemory, Vec<RawDay>) = remembered.unwrap_or_default();
            if whom == Whom::WhoFailed && host.is_some() && before.failing_since.is_none() {
                continue;
            }
            if let Some(until) = before.not_before.filter(|&until| is_rest(until, now)) {
                tracing::debug!(site = %site.id, source = %name, %until, "left alone until then");
                continue;
            }
            let errand = Errand {
                place: hosts.values().map(Vec::len).sum(),
                site: site.id.clone(),
                name: name.clone(),
                source: source.clone(),
                ask: Ask {
                    now,
                    from,
                    memo: before.memo.clone(),
                },
                before,
                known,
                jump,
            };
            hosts.entry(host).or_default().push(errand);
        }
    }
    hosts
}

fn is_rest(until: DateTime<Utc>, now: DateTime<Utc>) -> bool {
    until > now && until - now <= LONGEST_REST
}

async fn run_in_turn(
    errands: Vec<Errand>,
    remote: bool,
    health: Arc<Health>,
) -> Vec<(usize, Given)> {
    let mut given = Vec::with_capacity(errands.len());
    let mut closed = None;
    for errand in errands {
        let fetched = if let Some(not_before) = closed {
            Fetched {
                passing: true,
                not_before,
                closed: true,
                ..Fetched::default()
            }
        } else {
            let heard = errand.source.fetch(errand.ask.clone()).await;
            health.progress();
            errand.weighed(heard, remote)
        };
        closed = fetched.closed.then_some(fetched.not_before);
        errand.log(&fetched, remote);
        given.push((
            errand.place,
            Given {
                site: errand.site,
                source: errand.name,
                remote,
                fetched,
            },
        ));
    }
    given
}

impl Errand {
    /// A service does not take back by 20 °C what it said of the same days before: then it is the answer that is wrong.
    fn weighed(&self, fetched: Fetched, remote: bool) -> Fetched {
        if !remote || self.source.is_set_by_the_grower() {
            return fetched;
        }
        let least = if self.before.failing_since.is_some() {
            AGREED_AGAIN
        } else {
            KNOWN_LEAST
        };
        let contradiction = contradiction(&self.known, &fetched.days, least, self.jump);
        let Some((known, given)) = contradiction else {
            return fetched;
        };
        let problem = Problem::new(
            format!("site {}, {}", self.site, self.name),
            format!(
                "most days that were known are told otherwise now: {} had {} to {} °C and now {} to {} °C, as if in another unit or place",
                known.date, known.min, known.max, given.min, given.max
            ),
            "nothing of this answer is used, the days already known stay in use",
            "it is asked again at the next round; if it lasts, look at the url in the config",
        );
        Fetched {
            days: Vec::new(),
            problems: vec![problem],
            passing: true,
            answered: false,
            ..fetched
        }
    }

    fn log(&self, fetched: &Fetched, remote: bool) {
        for problem in &fetched.problems {
            tracing::warn!(site = %self.site, source = %self.name, "{problem}");
        }
        if let Some(since) = self
            .before
            .failing_since
            .filter(|_| remote && fetched.answered)
        {
            tracing::info!(site = %self.site, source = %self.name, %since, "answers again");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rest_longer_than_any_is_none() {
        let now: DateTime<Utc> = "2026-07-03T06:00:00Z".parse().unwrap();
        assert!(is_rest(now + TimeDelta::hours(25), now));
        assert!(!is_rest(now, now));
        assert!(!is_rest(now + TimeDelta::days(300), now));
    }
}
