//! The one HTTP getter: limits, retries, politeness.
//!
//! It asks for JSON and either hands on what was asked for or an error that names the URL, what came instead, and
//! whether it may pass by itself. It knows no service and no weather. A key travels in a header only and stands in
//! no message.

mod address;
mod answer;
mod error;
mod post;
mod refusal;
mod rest;

pub use address::{authority, is_loopback, is_private, is_this_machine, shown};
pub use answer::{Document, Got, Line, Patience, SecretHeader};
pub use error::HttpError;

use crate::clock::{APART, Clock, Heard, SystemClock};
use crate::excerpt::excerpt;
use backon::{ExponentialBuilder, Retryable};
use chrono::{DateTime, Utc};
use refusal::reason;
use reqwest::header::{
    CONTENT_TYPE, DATE, EXPIRES, HeaderMap, HeaderName, HeaderValue, IF_MODIFIED_SINCE,
    LAST_MODIFIED, RETRY_AFTER,
};
use reqwest::redirect::{Action, Attempt, Policy};
use reqwest::{Client, Response, StatusCode, Url};
use secrecy::{ExposeSecret, SecretString};
use serde::de::DeserializeOwned;
use std::sync::Arc;
use std::time::Duration;

/// No answer that is of use is larger than this.
const BODY_CAP: usize = 2 * 1024 * 1024;
/// Redirects followed within the same host.
const REDIRECTS: usize = 3;

/// A polite client for one base address.
#[derive(Debug)]
pub struct Getter {
    client: Client,
    patience: Patience,
    key: Option<SecretString>,
    yields: bool,
    /// Where it is noted what the server says of the time; in the own network clocks hang on one another.
    heard: Option<Arc<Heard>>,
}

impl Getter {
    /// A getter for answers under `base`. `contact` (an address or a web page) goes into the User-Agent; `key` goes
    /// into the header `X-Api-Key`.
    pub fn new(
        base: &Url,
        contact: &str,
        key: Option<SecretString>,
        line: impl Into<Line>,
    ) -> Result<Self, HttpError> {
        let header = key.map(|value| SecretHeader {
            name: "x-api-key".into(),
            value,
        });
        Self::with_header(base, contact, header, line)
    }

    /// The same with any other header for what is secret.
    pub fn with_header(
        base: &Url,
        contact: &str,
        header: Option<SecretHeader>,
        line: impl Into<Line>,
    ) -> Result<Self, HttpError> {
        Self::build(
            base,
            contact,
            header,
            line.into(),
            Policy::custom(within_the_host),
        )
    }

    fn build(
        base: &Url,
        contact: &str,
        header: Option<SecretHeader>,
        line: Line,
        redirects: Policy,
    ) -> Result<Self, HttpError> {
        let Line {
            patience,
            names,
            roots,
            heard,
        } = line;
        let setup = |why: String| HttpError::Setup {
            url: shown(base),
            why,
        };
        let mut headers = HeaderMap::new();
        if let Some(header) = &header {
            let name = HeaderName::from_bytes(header.name.as_bytes())
                .map_err(|_| setup(format!("'{}' is no name for a header", header.name)))?;
            let mut value = HeaderValue::from_str(header.value.expose_secret())
                .map_err(|_| setup("the key has characters that no key can have".into()))?;
            value.set_sensitive(true);
            headers.insert(name, value);
        }
        let mut tls = roots.client().map_err(|e| setup(e.to_string()))?;
        tls.alpn_protocols = vec![b"http/1.1".to_vec()];
        let mut builder = Client::builder()
            .tls_backend_preconfigured(tls)
            .user_agent(user_agent(contact))
            .default_headers(headers)
            .connect_timeout(patience.connect)
            .timeout(patience.whole)
            .redirect(redirects)
            .gzip(true);
        // What is in the own network is no business of a proxy's.
        if is_private(base) {
            builder = builder.no_proxy();
        }
        if let Some(names) = names {
            builder = builder.dns_resolver(names);
        }
        let client = builder.build().map_err(|e| setup(refusal::innermost(&e)))?;
        Ok(Self {
            client,
            patience,
            key: header.map(|header| header.value),
            yields: false,
            heard: (!is_private(base)).then_some(heard),
        })
    }

    /// The same getter, for a service that shuts out who asks on when told that it was too often (429): that answer is
    /// final for the fetch.
    #[must_use]
    pub fn yielding(self) -> Self {
        Self {
            yields: true,
            ..self
        }
    }

    /// Gets and parses a JSON document, trying again where that may help.
    pub async fn json<T: DeserializeOwned>(&self, url: &Url) -> Result<T, HttpError> {
        self.patiently(|| async move {
            match self.once(url, None).await? {
                Got::Document(document) => self.parse(url, &document),
                Got::Unchanged { .. } => {
                    Err(self.garbled(url, "it says unchanged to a first question", &[]))
                }
            }
        })
        .await
    }

    /// Gets a document of any kind. With `since`, the Last-Modified of an earlier answer word for word, the service may
    /// say that nothing has changed.
    pub async fn document(&self, url: &Url, since: Option<&str>) -> Result<Got, HttpError> {
        self.patiently(|| self.once(url, since)).await
    }

    /// Parses a document as JSON. A 200 is no success yet: a proxy may have sent a page, or the service half of it.
    pub fn parse<T: DeserializeOwned>(
        &self,
        url: &Url,
        document: &Document,
    ) -> Result<T, HttpError> {
        if !document.json {
            return Err(self.garbled(url, "its content type is not JSON", &document.body));
        }
        serde_json::from_slice(&document.body)
            .map_err(|e| self.garbled(url, &e.to_string(), &document.body))
    }

    async fn patiently<T, F: Future<Output = Result<T, HttpError>>>(
        &self,
        ask: impl FnMut() -> F,
    ) -> Result<T, HttpError> {
        let pauses = ExponentialBuilder::new()
            .with_jitter()
            .with_factor(4.0)
            .with_min_delay(self.patience.pause)
            .with_max_times(self.patience.retries);
        // What passes within the fetch is no trouble, and what does not is told by its end.
        ask.retry(pauses)
            .when(|error: &HttpError| {
                error.is_transient() && !(self.yields && error.kind() == "allowance")
            })
            .adjust(|error, pause| pause.and_then(|pause| self.pause(error, pause)))
            .notify(|error, pause| {
                tracing::debug!(pause_s = pause.as_secs_f64(), "{error}; trying again");
            })
            .await
    }

    /// Before the next try: at least as long as the service asked for; none where that is too long for one fetch.
    fn pause(&self, error: &HttpError, pause: Duration) -> Option<Duration> {
        match error.rest(SystemClock.now()) {
            None => Some(pause),
            Some(rest) => {
                let rest = rest.to_std().unwrap_or_default();
                (rest <= self.patience.longest_pause).then(|| pause.max(rest))
            }
        }
    }

    async fn once(&self, url: &Url, since: Option<&str>) -> Result<Got, HttpError> {
        tracing::debug!(url = self.conceal(&shown(url)), "asking");
        let mut request = self.client.get(url.clone());
        if let Some(since) = since {
            request = request.header(IF_MODIFIED_SINCE, since);
        }
        let response = request.send().await.map_err(|e| self.failed(url, &e))?;
        let status = response.status();
        let header = |name| {
            response
                .headers()
                .get(name)
                .and_then(|value| value.to_str().ok())
        };
        let instant = |name| {
            header(name)
                .and_then(|text| DateTime::parse_from_rfc2822(text).ok())
                .map(|at| at.to_utc())
        };
        let (date, expires) = (instant(DATE), instant(EXPIRES));
        self.same_day(url, date)?;
        if status == StatusCode::NOT_MODIFIED {
            return Ok(Got::Unchanged { expires });
        }
        let retry_after = header(RETRY_AFTER)
            .and_then(|text| rest::asked_for(text, date.unwrap_or_else(|| SystemClock.now())));
        let (json, last_modified) = (is_json(&response), header(LAST_MODIFIED).map(str::to_owned));
        let body = self.body(url, response).await?;
        match status {
            StatusCode::OK | StatusCode::NON_AUTHORITATIVE_INFORMATION => {
                Ok(Got::Document(Document {
                    body,
                    json,
                    last_modified,
                    expires,
                    deprecated: status == StatusCode::NON_AUTHORITATIVE_INFORMATION,
                }))
            }
            _ => Err(HttpError::Status {
                url: self.conceal(&shown(url)),
                status: status.as_u16(),
                said: self.quote(&reason(&body)),
                retry_after,
            }),
        }
    }

    /// After a power cut a server's clock may be years off; days must not be counted by it.
    fn same_day(&self, url: &Url, theirs: Option<DateTime<Utc>>) -> Result<(), HttpError> {
        let (Some(theirs), ours) = (theirs, SystemClock.now()) else {
            return Ok(());
        };
        if let Some(heard) = &self.heard {
            heard.note(theirs, ours);
        }
        if (theirs - ours).abs() <= APART {
            return Ok(());
        }
        Err(HttpError::Clock {
            url: self.conceal(&shown(url)),
            theirs: theirs.format("%Y-%m-%d %H:%M").to_string(),
            ours: ours.format("%Y-%m-%d %H:%M").to_string(),
        })
    }

    fn garbled(&self, url: &Url, why: &str, body: &[u8]) -> HttpError {
        HttpError::Garbled {
            url: self.conceal(&shown(url)),
            why: self.conceal(why),
            said: self.quote(&String::from_utf8_lossy(body)),
        }
    }

    async fn body(&self, url: &Url, mut response: Response) -> Result<Vec<u8>, HttpError> {
        let mut body = Vec::new();
        while let Some(chunk) = response.chunk().await.map_err(|e| self.failed(url, &e))? {
            if body.len() + chunk.len() > BODY_CAP {
                return Err(HttpError::TooLarge {
                    url: self.conceal(&shown(url)),
                    cap: BODY_CAP,
                });
            }
            body.extend_from_slice(&chunk);
        }
        Ok(body)
    }

    fn failed(&self, url: &Url, error: &reqwest::Error) -> HttpError {
        let url = self.conceal(&shown(url));
        let why = self.conceal(&refusal::innermost(error));
        if let Some(why) = refusal::certificate(error) {
            HttpError::Untrusted { url, why }
        } else if error.is_redirect() {
            HttpError::Elsewhere { url, why }
        } else if error.is_timeout() && error.is_connect() {
            let seconds = self.patience.connect.as_secs_f64();
            let why = format!("no connection within {seconds} s");
            HttpError::Connect { url, why }
        } else if error.is_timeout() {
            HttpError::Slow {
                url,
                seconds: self.patience.whole.as_secs_f64(),
            }
        } else if error.is_connect() {
            HttpError::Connect { url, why }
        } else {
            HttpError::Broken { url, why }
        }
    }

    /// What was said, for a message. The key goes first: a cut through it would leave its beginning.
    fn quote(&self, said: &str) -> String {
        excerpt(self.conceal(said).as_bytes())
    }

    /// A service may quote the key back at us.
    fn conceal(&self, text: &str) -> String {
        match &self.key {
            Some(key) if !key.expose_secret().is_empty() => {
                let key = key.expose_secret();
                // Of `Bearer abc` only the last word is the secret, and may be quoted alone.
                let word = key.rsplit(' ').next().filter(|word| word.len() > 3);
                text.replace(key, "[key]")
                    .replace(word.unwrap_or(key), "[key]")
            }
            _ => text.into(),
        }
    }
}

/// `graftwarden/<version> (<contact>)`, the contact stripped of what a header cannot hold.
fn user_agent(contact: &str) -> String {
    let contact: String = contact
        .chars()
        .filter(|c| c.is_ascii_graphic() || *c == ' ')
        .collect();
    let program = concat!("graftwarden/", env!("CARGO_PKG_VERSION"));
    match contact.trim() {
        "" => program.into(),
        contact => format!("{program} ({contact})"),
    }
}

/// Redirects are followed only within the host, because the key goes along.
fn within_the_host(attempt: Attempt) -> Action {
    let (to, from) = (attempt.url(), attempt.previous().first());
    let said = if attempt.previous().len() > REDIRECTS {
        format!("more than {REDIRECTS} redirects")
    } else if from.is_some_and(|from| from.host_str() != to.host_str()) {
        format!("redirected to another host, {}", shown(to))
    } else if from.is_some_and(|from| from.scheme() == "https" && to.scheme() != "https") {
        "redirected from https to an open connection".into()
    } else {
        return attempt.follow();
    };
    attempt.error(said)
}

/// A missing content type is no reason to refuse what can be parsed.
fn is_json(response: &Response) -> bool {
    response
        .headers()
        .get(CONTENT_TYPE)
        .is_none_or(|kind| kind.to_str().is_ok_and(|kind| kind.contains("json")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_user_agent_names_program_and_contact() {
        let version = env!("CARGO_PKG_VERSION");
        assert_eq!(
            user_agent("office@alderfold.example\r\nX: y"),
            format!("graftwarden/{version} (office@alderfold.exampleX: y)")
        );
        assert_eq!(user_agent(" "), format!("graftwarden/{version}"));
    }
}
