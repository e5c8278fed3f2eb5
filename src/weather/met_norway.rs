//! MET Norway: a forecast for any place, nine to ten days ahead.
//!
//! The service asks for good manners and this source has them: it says who asks, sends four decimals, does not ask
//! again before a document expires, and sends back its date so that an unchanged one need not be sent twice. A
//! document made more than a day ago is not used. It hands on days, all of them forecast; it knows nothing of what is
//! stored.

mod answer;
mod days;

use super::hours::Gathered;
use super::http::{Document, Getter, Got, HttpError, Line, authority, shown};
use super::place::coordinate;
use super::voice::{Bad, Voice};
use super::{Ask, Fetched, Pending, Source};
use crate::fingerprint;
use crate::nursery::Site;
use crate::problem::Problem;
use answer::Answer;
use chrono::{DateTime, TimeDelta, Utc};
use reqwest::Url;

/// The complete document: the short one lacks the extremes of six hours.
const URL: &str = "https://api.met.no/weatherapi/locationforecast/2.0/complete";
/// An Expires further ahead is a mistake, not a wish.
const LONGEST_WISH: TimeDelta = TimeDelta::days(1);
/// After a 429 that does not say how long.
const TOO_OFTEN: TimeDelta = TimeDelta::hours(1);
/// Not everybody is to ask in the moment in which a document expires: each site keeps a delay of its own below this.
const SPREAD_SECONDS: u64 = 300;

/// What the config says about this source.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Settings {
    /// Another address of the same service.
    pub url: Option<String>,
    /// An e-mail address or web page for the User-Agent, where the service can reach who asks.
    pub contact: String,
}

/// MET Norway for one site.
#[derive(Debug)]
pub struct MetNorway {
    site: Site,
    url: Url,
    getter: Getter,
    voice: Voice,
    delay: TimeDelta,
}

impl MetNorway {
    /// Prepares the source; connects to nothing. Refuses an address that is none, and a contact at which nobody could
    /// be reached: the service refuses programs that do not say who asks.
    pub fn new(site: &Site, settings: Settings, line: impl Into<Line>) -> Result<Self, Problem> {
        let Settings { url, contact } = settings;
        let mut voice = Voice::new(site, "met-norway");
        let mut url = voice.address(url.as_deref(), URL)?;
        if !reaches_somebody(&contact) {
            return Err(voice.unfit(
                "the service answers only who says how to be reached, and contact has no e-mail address or web page",
                "set from under [post], or contact here, in plain letters",
            ));
        }
        let getter = Getter::new(&url, &contact, None, line)
            .map_err(|e| voice.unfit(e.to_string(), e.remedy()))?
            .yielding();
        let (latitude, longitude) = (coordinate(site.latitude), coordinate(site.longitude));
        let delay = delay(&[&contact, &latitude, &longitude]);
        url.query_pairs_mut()
            .append_pair("lat", &latitude)
            .append_pair("lon", &longitude);
        if let Some(metres) = site.elevation {
            let metres = metres.round() as i64;
            url.query_pairs_mut()
                .append_pair("altitude", &metres.to_string());
        }
        Ok(Self {
            site: site.clone(),
            url,
            getter,
            voice,
            delay,
        })
    }

    async fn ask(&self, ask: Ask) -> Fetched {
        let since = ask.memo.as_deref().and_then(|memo| self.recalled(memo));
        match self.getter.document(&self.url, since).await {
            Ok(Got::Document(document)) => {
                let heard = self.read(&document, &ask);
                Fetched {
                    not_before: self.wished(document.expires, ask.now),
                    ..heard
                }
            }
            Ok(Got::Unchanged { expires }) if since.is_some() => Fetched {
                answered: true,
                not_before: self.wished(expires, ask.now),
                ..kept(&ask)
            },
            Ok(Got::Unchanged { .. }) => {
                let bad = Bad::shape("it says unchanged to a first question");
                nothing(self.voice.useless(bad), &ask)
            }
            Err(error) => self.unheard(&error, &ask),
        }
    }

    fn unheard(&self, error: &HttpError, ask: &Ask) -> Fetched {
        let mut problem = self.voice.unheard(error);
        let rest = error.rest(ask.now);
        let rest = match error {
            HttpError::Status { status: 403, .. } => {
                problem.remedy =
                    "look at contact in the config: an address at which you read what they write; it is asked again after a day"
                        .into();
                rest
            }
            HttpError::Status { status: 429, .. } => Some(rest.unwrap_or(TOO_OFTEN) + self.delay),
            _ => rest,
        };
        Fetched {
            memo: ask.memo.clone(),
            ..Fetched::unheard(problem, error, ask.now).resting(rest, ask.now)
        }
    }

    fn read(&self, document: &Document, ask: &Ask) -> Fetched {
        let answer = match self.getter.parse::<Answer>(&self.url, document) {
            Ok(answer) => answer,
            Err(error) => return nothing(self.voice.unheard(&error), ask),
        };
        let (steps, remarks) = match answer.steps(&self.site, ask.now) {
            Ok(used) => used,
            Err(bad) => return nothing(self.voice.useless(bad), ask),
        };
        let Gathered { mut days, mut gaps } = days::gather(&steps, self.site.zone);
        days.retain(|day| day.date >= ask.from);
        gaps.retain(|gap| *gap >= ask.from);
        if days.is_empty() {
            let bad = Bad::shape("the answer has no day whose temperatures are known throughout");
            return nothing(self.voice.useless(bad), ask);
        }
        let mut problems: Vec<_> = remarks
            .into_iter()
            .map(|bad| self.voice.remark(bad))
            .collect();
        if !gaps.is_empty() {
            let dates: Vec<_> = gaps.iter().map(ToString::to_string).collect();
            problems.push(self.voice.remark(Bad {
                kind: "gaps",
                what: format!("hours without a temperature on {}", dates.join(", ")),
                remedy: "they are asked for again at the next round",
            }));
        }
        if document.deprecated {
            let mut problem = self.voice.useless(Bad {
                kind: "deprecated",
                what: "the service says that this version of it will end".into(),
                remedy: "look for a newer version of this program before it does",
            });
            problem.done = "its answer is used".into();
            problems.push(problem);
        }
        Fetched {
            days,
            problems,
            passing: !document.deprecated,
            answered: true,
            memo: document.last_modified.as_deref().map(|at| self.memo(at)),
            ..Fetched::default()
        }
    }

    /// The date of a document holds for the place it was asked for: after the config has moved a site, nothing is
    /// unchanged.
    fn memo(&self, last_modified: &str) -> String {
        format!("{} {last_modified}", self.asked())
    }

    fn recalled<'a>(&self, memo: &'a str) -> Option<&'a str> {
        memo.strip_prefix(&self.asked())?.strip_prefix(' ')
    }

    /// What the days depend on, without secrets, for it is stored; no space is in it.
    fn asked(&self) -> String {
        format!("{}#{}", shown(&self.url), self.site.zone)
    }

    fn wished(&self, expires: Option<DateTime<Utc>>, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
        let expires = expires.filter(|at| *at > now)?;
        Some(expires.min(now + LONGEST_WISH) + self.delay)
    }
}

impl Source for MetNorway {
    fn name(&self) -> &'static str {
        "met-norway"
    }

    fn host(&self) -> Option<String> {
        Some(authority(&self.url))
    }

    fn attribution(&self) -> &'static str {
        "Based on data from MET Norway (https://api.met.no/), CC BY 4.0."
    }

    fn terms(&self) -> &'static str {
        "MET Norway: free for any use, commercial use too, to programs that say who asks; forecasts only, and no promise \
         that the service runs; data CC BY 4.0."
    }

    fn fetch(&self, ask: Ask) -> Pending<'_, Fetched> {
        Box::pin(self.ask(ask))
    }
}

/// Whether the contact, as far as a header can hold it, is an e-mail address or a web page.
fn reaches_somebody(contact: &str) -> bool {
    contact.split_whitespace().any(|word| {
        let sent: String = word.chars().filter(char::is_ascii_graphic).collect();
        let (_, host) = sent
            .split_once('@')
            .or_else(|| sent.split_once("://"))
            .unwrap_or(("", &sent));
        host.split('.').filter(|part| !part.is_empty()).count() >= 2
    })
}

/// A delay that is the same each time for the same installation and site, and another for the next.
fn delay(of: &[&str]) -> TimeDelta {
    let print = fingerprint::of(of.join("\n"));
    // The fingerprint is hexadecimal and longer than this.
    let number = u64::from_str_radix(&print[..8], 16).unwrap_or_default();
    TimeDelta::seconds((number % SPREAD_SECONDS) as i64)
}

/// What is stored and remembered stays as it is.
fn kept(ask: &Ask) -> Fetched {
    Fetched {
        passing: true,
        memo: ask.memo.clone(),
        ..Fetched::default()
    }
}

fn nothing(problem: Problem, ask: &Ask) -> Fetched {
    Fetched {
        problems: vec![problem],
        ..kept(ask)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_contact_is_an_address_or_a_page() {
        for good in [
            "office@alderfold.example",
            "Alder Fold <office@alderfold.example>",
            "https://alderfold.example/contact",
            "alderfold.example",
        ] {
            assert!(reaches_somebody(good), "{good}");
        }
        for bad in [
            "",
            "  ",
            "Alder Fold",
            "the office.",
            "@",
            "äöü@ß.ü",
            "https://",
        ] {
            assert!(!reaches_somebody(bad), "{bad}");
        }
    }

    #[test]
    fn delays_are_stable_and_differ() {
        // The first test vector of FIPS 180-4 begins with ba7816bf: 3128432319, of which 219 remain over 300.
        assert_eq!(delay(&["abc"]), TimeDelta::seconds(219));
        let sites: std::collections::BTreeSet<_> = (0..40)
            .map(|n| delay(&["office@alderfold.example", &n.to_string()]))
            .collect();
        assert!(sites.len() > 20, "{sites:?}");
        assert!(sites.iter().all(|d| *d < TimeDelta::minutes(5)));
    }
}
