//! The one HTTP getter: limits, retries, politeness.
//!
//! It asks for JSON and either hands on what was asked for or an error that names the URL, what came instead, and
//! whether it may pass by itself. It knows no service and no weather. A key travels in a header only and stands in
//! no message.

mod address;
mod error;

pub use address::{is_loopback, shown};
pub use error::HttpError;

use crate::excerpt::excerpt;
use backon::{ExponentialBuilder, Retryable};
use reqwest::header::{CONTENT_TYPE, HeaderMap, HeaderName, HeaderValue};
use reqwest::redirect::{Action, Attempt, Policy};
use reqwest::{Client, Response, StatusCode, Url};
use secrecy::{ExposeSecret, SecretString};
use serde::de::DeserializeOwned;
use std::error::Error as StdError;
use std::sync::Once;
use std::time::Duration;

/// No answer that is of use is larger than this.
const BODY_CAP: usize = 2 * 1024 * 1024;
/// Redirects followed within the same host.
const REDIRECTS: usize = 3;

/// Makes ring the one TLS provider of this process; may be called any number of times.
pub fn install_tls() {
    static ONCE: Once = Once::new();
    // An error says that there is a provider already, which is what is wanted.
    ONCE.call_once(|| drop(rustls::crypto::ring::default_provider().install_default()));
}

/// How long to wait and how often to try again within one fetch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// For a connection.
    pub connect: Duration,
    /// For one whole answer, connection included.
    pub whole: Duration,
    /// Tries after the first one.
    pub retries: usize,
    /// Before the first retry; four times as long before each further one, and up to twice that by chance.
    pub pause: Duration,
}

impl Patience {
    /// 10 s, 60 s, and three more tries after about 2, 8 and 32 s.
    pub const USUAL: Self = Self {
        connect: Duration::from_secs(10),
        whole: Duration::from_secs(60),
        retries: 3,
        pause: Duration::from_secs(2),
    };
}

/// A polite client for one base address.
#[derive(Debug)]
pub struct Getter {
    client: Client,
    patience: Patience,
    key: Option<SecretString>,
}

impl Getter {
    /// A getter for answers under `base`. `contact` (an address or a web page) goes into the User-Agent; `key` goes
    /// into the header `X-Api-Key`.
    pub fn new(
        base: &Url,
        contact: &str,
        key: Option<SecretString>,
        patience: Patience,
    ) -> Result<Self, HttpError> {
        install_tls();
        let setup = |why: String| HttpError::Setup {
            url: shown(base),
            why,
        };
        let mut headers = HeaderMap::new();
        if let Some(key) = &key {
            let mut value = HeaderValue::from_str(key.expose_secret())
                .map_err(|_| setup("the key has characters that no key can have".into()))?;
            value.set_sensitive(true);
            headers.insert(HeaderName::from_static("x-api-key"), value);
        }
        let mut builder = Client::builder()
            .user_agent(user_agent(contact))
            .default_headers(headers)
            .connect_timeout(patience.connect)
            .timeout(patience.whole)
            .redirect(Policy::custom(within_the_host))
            .gzip(true);
        if is_loopback(base) {
            builder = builder.no_proxy();
        }
        let client = builder.build().map_err(|e| setup(innermost(&e)))?;
        Ok(Self {
            client,
            patience,
            key,
        })
    }

    /// Gets and parses a JSON document, trying again where that may help.
    pub async fn json<T: DeserializeOwned>(&self, url: &Url) -> Result<T, HttpError> {
        let pauses = ExponentialBuilder::new()
            .with_jitter()
            .with_factor(4.0)
            .with_min_delay(self.patience.pause)
            .with_max_times(self.patience.retries);
        (|| self.once(url))
            .retry(pauses)
            .when(HttpError::is_transient)
            .notify(|error, pause| {
                tracing::warn!(pause_s = pause.as_secs_f64(), "{error}; trying again");
            })
            .await
    }

    async fn once<T: DeserializeOwned>(&self, url: &Url) -> Result<T, HttpError> {
        tracing::debug!(url = self.conceal(&shown(url)), "asking");
        let response = self
            .client
            .get(url.clone())
            .send()
            .await
            .map_err(|e| self.failed(url, &e))?;
        let status = response.status();
        let json = is_json(&response);
        let body = self.body(url, response).await?;
        if status == StatusCode::OK {
            self.parse(url, json, &body)
        } else {
            Err(HttpError::Status {
                url: self.conceal(&shown(url)),
                status: status.as_u16(),
                said: self.quote(&reason(&body)),
            })
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

    /// A 200 is no success yet: a proxy may have sent a page, or the service half a document.
    fn parse<T: DeserializeOwned>(
        &self,
        url: &Url,
        json: bool,
        body: &[u8],
    ) -> Result<T, HttpError> {
        let garbled = |why: String| HttpError::Garbled {
            url: self.conceal(&shown(url)),
            why: self.conceal(&why),
            said: self.quote(&String::from_utf8_lossy(body)),
        };
        if !json {
            return Err(garbled("its content type is not JSON".into()));
        }
        serde_json::from_slice(body).map_err(|e| garbled(e.to_string()))
    }

    fn failed(&self, url: &Url, error: &reqwest::Error) -> HttpError {
        let url = self.conceal(&shown(url));
        let why = self.conceal(&innermost(error));
        if error.is_redirect() {
            HttpError::Elsewhere { url, why }
        } else if error.is_timeout() {
            let limit = if error.is_connect() {
                self.patience.connect
            } else {
                self.patience.whole
            };
            HttpError::Slow {
                url,
                seconds: limit.as_secs_f64(),
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
                text.replace(key.expose_secret(), "[key]")
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

/// What a refusal says: the reason in its JSON under one of the usual names, else all of it.
fn reason(body: &[u8]) -> String {
    let said = serde_json::from_slice::<serde_json::Value>(body)
        .ok()
        .and_then(|json| {
            ["reason", "detail", "errorMessage", "message"]
                .iter()
                .find_map(|name| json.get(name)?.as_str().map(str::to_owned))
        });
    said.unwrap_or_else(|| String::from_utf8_lossy(body).into_owned())
}

/// The cause at the bottom is the one that says something; the URL is named by ourselves.
fn innermost(error: &reqwest::Error) -> String {
    let mut cause: &dyn StdError = error;
    while let Some(deeper) = cause.source() {
        cause = deeper;
    }
    if std::ptr::addr_eq(cause, error) {
        // Nothing below: reqwest's own text, which would carry the URL.
        return "no further cause given".into();
    }
    excerpt(cause.to_string().as_bytes())
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

    #[test]
    fn the_reason_is_found_whatever_the_order_and_name() {
        assert_eq!(
            reason(br#"{"reason":"out of range","error":true}"#),
            "out of range"
        );
        assert_eq!(reason(br#"{"detail":"nothing near"}"#), "nothing near");
        assert_eq!(reason(b"<h1>502</h1>"), "<h1>502</h1>");
    }
}
