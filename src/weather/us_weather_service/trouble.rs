//! What went wrong on the way to a site's days, told beside whatever came through.
//!
//! Knows how the service refuses; knows no document.

use crate::days::RawDay;
use crate::problem::Problem;
use crate::weather::http::{HttpError, shown};
use crate::weather::{Ask, Fetched};
use chrono::{DateTime, TimeDelta, Utc};
use reqwest::Url;

/// What to do where there is nothing to do.
pub const AGAIN: &str = "it is asked again at the next round; nothing to do unless it lasts";
/// What becomes of the days when an answer is of no use.
const KEPT: &str = "the days already known stay in use";
/// Whom the service shuts out, it shuts out for long; asking on makes it longer.
const SHUT_OUT: TimeDelta = TimeDelta::hours(24);

/// The trouble of one fetch, and whether all of it may pass by itself.
pub struct Troubles {
    label: String,
    problems: Vec<Problem>,
    now: DateTime<Utc>,
    lasting: bool,
    shut_out: bool,
    unreachable: bool,
    rest: Option<TimeDelta>,
}

impl Troubles {
    /// None yet; `label` names site and source.
    pub fn of(label: String, now: DateTime<Utc>) -> Self {
        Self {
            label,
            now,
            problems: Vec::new(),
            lasting: false,
            shut_out: false,
            unreachable: false,
            rest: None,
        }
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.problems.is_empty()
    }

    /// Whether the service wants to hear nothing more from here for now.
    pub fn is_shut_out(&self) -> bool {
        self.shut_out
    }

    /// No usable answer came; `missing` is what to do about a 404.
    pub fn unheard(&mut self, error: &HttpError, missing: &str) {
        self.rest = self.rest.max(error.rest(self.now));
        self.unreachable |= matches!(error, HttpError::Connect { .. });
        let remedy = match error {
            HttpError::Status { status: 404, .. } => missing,
            HttpError::Status {
                status: 401 | 403, ..
            } => {
                self.shut_out = true;
                self.rest = Some(SHUT_OUT);
                "look whether the contact in the config is one at which you can be reached; the service is left alone for a day"
            }
            HttpError::Status { status: 429, .. } => {
                self.shut_out = true;
                error.remedy()
            }
            _ => error.remedy(),
        };
        let problem = Problem::new(&self.label, error.to_string(), KEPT, remedy);
        self.add(error.kind(), problem);
        self.lasting |= !error.may_pass();
    }

    /// An answer came and is not used; that may pass.
    pub fn useless(&mut self, url: &Url, kind: &str, what: impl Into<String>, remedy: &str) {
        let problem = Problem::new(self.at(url), what, KEPT, remedy);
        self.add(kind, problem);
    }

    /// An answer came and is not used; that will not pass by itself.
    pub fn lasting(&mut self, url: &Url, kind: &str, what: impl Into<String>, remedy: &str) {
        self.useless(url, kind, what, remedy);
        self.lasting = true;
    }

    /// An answer came and is used but for this.
    pub fn remark(&mut self, url: &Url, kind: &str, what: impl Into<String>) {
        let done = "counted as unknown, the rest is used";
        let problem = Problem::new(self.at(url), what, done, AGAIN);
        self.add(kind, problem);
    }

    /// Dates whose reports do not make a day.
    pub fn gaps(&mut self, what: String) {
        let done = "these days do not count as measured";
        let remedy = "if it lasts, name another station in the config";
        let problem = Problem::new(&self.label, what, done, remedy);
        self.add("reports", problem);
    }

    /// Whatever came through in spite of it, with the trouble.
    pub fn beside(self, days: Vec<RawDay>, memo: Option<String>, ask: &Ask) -> Fetched {
        Fetched {
            answered: !days.is_empty(),
            days,
            problems: self.problems,
            passing: !self.lasting,
            memo,
            not_before: self.rest.map(|rest| ask.now + rest),
            closed: self.rest.is_some() || self.unreachable,
        }
    }

    fn at(&self, url: &Url) -> String {
        format!("{} ({})", self.label, shown(url))
    }

    /// Under a key that is the same each time this kind of thing happens.
    fn add(&mut self, kind: &str, problem: Problem) {
        let key = format!("{}: {kind}", self.label);
        self.problems.push(problem.keyed(key));
    }
}
