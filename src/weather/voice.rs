//! How a source words its trouble: which site, which service, which address, what becomes of the days.
//!
//! It keeps the keys under which a problem is told once the same from round to round. Knows no service and no document.

use super::http::{HttpError, shown};
use crate::nursery::Site;
use crate::problem::Problem;
use reqwest::Url;

/// What becomes of the days when an answer is of no use.
const KEPT: &str = "the days already known stay in use";

/// What is wrong with an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bad {
    /// A short word for it, the same each time.
    pub kind: &'static str,
    /// What was wrong.
    pub what: String,
    /// What to do.
    pub remedy: &'static str,
}

impl Bad {
    /// The service answered in a way that the grower can hardly mend.
    pub fn shape(what: impl Into<String>) -> Self {
        Self {
            kind: "shape",
            what: what.into(),
            remedy: "it is asked again at the next round; if it lasts, look at the url in the config",
        }
    }
}

/// One source of one site, when it has something to complain of.
#[derive(Clone, Debug)]
pub struct Voice {
    place: String,
    url: String,
}

impl Voice {
    /// The voice of the source of that name.
    pub fn new(site: &Site, source: &str) -> Self {
        Self {
            place: format!("site {}, {source}", site.id),
            url: String::new(),
        }
    }

    /// The address to ask: that of the config, or else the service's own, which is also the example to write one by.
    pub fn address(&mut self, url: Option<&str>, usual: &str) -> Result<Url, Problem> {
        let url = Url::parse(url.unwrap_or(usual))
            .ok()
            .filter(|url| matches!(url.scheme(), "http" | "https") && url.has_host())
            .ok_or_else(|| {
                self.unfit(
                    "its url is not a web address",
                    &format!("write it like {usual}"),
                )
            })?;
        self.url = shown(&url);
        Ok(url)
    }

    /// The source cannot be used at all.
    pub fn unfit(&self, what: impl Into<String>, remedy: &str) -> Problem {
        Problem::new(self.place.clone(), what, "this source is not used", remedy)
    }

    /// No usable answer came.
    pub fn unheard(&self, error: &HttpError) -> Problem {
        let what = error.to_string();
        Problem::new(self.place.clone(), what, KEPT, error.remedy()).keyed(self.key(error.kind()))
    }

    /// An answer came and is not used.
    pub fn useless(&self, bad: Bad) -> Problem {
        let place = format!("{} ({})", self.place, self.url);
        Problem::new(place, bad.what, KEPT, bad.remedy).keyed(self.key(bad.kind))
    }

    /// An answer came and is used but for this, which counts as unknown.
    pub fn remark(&self, bad: Bad) -> Problem {
        let key = format!("{}: {}", self.key(bad.kind), bad.what);
        let mut problem = self.useless(bad).keyed(key);
        problem.done = "counted as unknown, the rest is used".into();
        problem
    }

    fn key(&self, kind: &str) -> String {
        format!("{}: {kind}", self.place)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono_tz::Tz;

    fn voice() -> Voice {
        let site = Site {
            id: "hill".into(),
            latitude: 50.0,
            longitude: 9.0,
            elevation: None,
            zone: Tz::UTC,
            standard_day: None,
        };
        let mut voice = Voice::new(&site, "some-service");
        voice
            .address(Some("https://weather.example/v1?token=abc"), "")
            .unwrap();
        voice
    }

    #[test]
    fn a_key_holds_what_stays_the_same() {
        let status = |said: &str| {
            let error = HttpError::Status {
                url: "https://weather.example/v1".into(),
                status: 500,
                said: said.into(),
                retry_after: None,
            };
            voice().unheard(&error).key
        };
        assert_eq!(status("one"), "site hill, some-service: out of order");
        assert_eq!(status("one"), status("two"));
        let useless = voice().useless(Bad::shape("it has 3 hours"));
        assert_eq!(useless.key, "site hill, some-service: shape");
        // Two remarks of one kind are two things to tell.
        let remark = voice().remark(Bad::shape("it has 3 hours"));
        assert_eq!(remark.key, "site hill, some-service: shape: it has 3 hours");
    }

    #[test]
    fn the_address_is_named_without_its_secrets() {
        assert_eq!(
            voice().useless(Bad::shape("it is empty")).to_string(),
            "site hill, some-service (https://weather.example/v1?token=hidden): it is empty; the days already known stay \
             in use. It is asked again at the next round; if it lasts, look at the url in the config."
        );
    }

    #[test]
    fn what_is_no_address_is_told_with_one_that_is() {
        let told = |url| {
            voice()
                .address(Some(url), "https://weather.example/v1")
                .unwrap_err()
                .to_string()
        };
        for url in [
            "weather",
            "ftp://weather.example/v1",
            "mailto:x@y.example",
            "",
        ] {
            assert_eq!(
                told(url),
                "site hill, some-service: its url is not a web address; this source is not used. Write it like \
                 https://weather.example/v1."
            );
        }
    }
}
