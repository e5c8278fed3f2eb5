//! Handing something over instead of asking for it: one try, no redirects.
//!
//! What is posted stands for somebody's news and its address may itself be a secret: of that only the host is named.

use super::{Getter, HttpError, Line, reason, rest};
use crate::clock::{Clock, SystemClock};
use reqwest::header::RETRY_AFTER;
use reqwest::redirect::Policy;
use reqwest::{RequestBuilder, Response, Url};

/// So much of a refusal is read.
const SAID: usize = 16 * 1024;

impl Getter {
    /// A getter that posts. It follows no redirect: what is posted would arrive as a question, and its answer would look
    /// like a yes.
    pub fn for_posting(
        base: &Url,
        contact: &str,
        line: impl Into<Line>,
    ) -> Result<Self, HttpError> {
        Self::build(&host_of(base), contact, None, line.into(), Policy::none())
    }

    /// Calls an address, once, with nothing to hand over and nothing to hear but a yes: any answer from 200 to 299.
    pub async fn call(&self, url: &Url) -> Result<(), HttpError> {
        self.answered(url, self.client.get(url.clone())).await
    }

    /// Hands over a body, once. Any answer from 200 to 299 is a yes, whatever else it says.
    pub async fn post(
        &self,
        url: &Url,
        headers: &[(&str, &str)],
        body: Vec<u8>,
    ) -> Result<(), HttpError> {
        let mut request = self.client.post(url.clone()).body(body);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        self.answered(url, request).await
    }

    async fn answered(&self, url: &Url, request: RequestBuilder) -> Result<(), HttpError> {
        let named = host_of(url);
        let response = request.send().await.map_err(|e| self.failed(&named, &e))?;
        let status = response.status();
        if status.is_success() {
            return Ok(());
        }
        let asked = response.headers().get(RETRY_AFTER);
        let retry_after = asked
            .and_then(|value| value.to_str().ok())
            .and_then(|text| rest::asked_for(text, SystemClock.now()));
        let said = reason(&beginning(response).await);
        Err(HttpError::Status {
            url: named.into(),
            status: status.as_u16(),
            said: self.quote(&without(url, said)),
            retry_after,
        })
    }
}

/// The address without what may be a key in it.
fn host_of(url: &Url) -> Url {
    let mut host = url.clone();
    host.set_path("");
    host.set_query(None);
    host.set_fragment(None);
    // Only a URL without a host refuses this, and such a one has no login either.
    let _ = host.set_username("");
    let _ = host.set_password(None);
    host
}

/// A page that is not there is often quoted back.
fn without(url: &Url, said: String) -> String {
    let hidden = [Some(url.path()), url.query()].into_iter().flatten();
    hidden
        .filter(|part| part.len() > 1)
        .fold(said, |said, part| said.replace(part, "[hidden]"))
}

async fn beginning(mut response: Response) -> Vec<u8> {
    let mut body = Vec::new();
    while let Ok(Some(chunk)) = response.chunk().await {
        let room = SAID.saturating_sub(body.len());
        body.extend_from_slice(&chunk[..chunk.len().min(room)]);
        if chunk.len() >= room {
            break;
        }
    }
    body
}
