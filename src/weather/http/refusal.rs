//! What a refusal says: in a document, in an error of the connection, in a certificate.
//!
//! Pure; knows no service and no key.

use crate::excerpt::excerpt;
use rustls::CertificateError;
use std::error::Error as StdError;
use std::io;

/// What a refusal says: the reason in its JSON under one of the usual names, else all of it.
pub fn reason(body: &[u8]) -> String {
    let said = serde_json::from_slice::<serde_json::Value>(body)
        .ok()
        .and_then(|json| {
            ["reason", "detail", "errorMessage", "message"]
                .iter()
                .find_map(|name| words(json.get(name)?))
        });
    said.unwrap_or_else(|| String::from_utf8_lossy(body).into_owned())
}

/// A reason is a text, or a list of complaints, each with its text and the way to the parameter it is about.
fn words(reason: &serde_json::Value) -> Option<String> {
    let complaint = |complaint: &serde_json::Value| {
        let text = complaint.get("msg")?.as_str()?;
        let about = complaint.get("loc").and_then(|way| way.as_array()?.last());
        Some(match about.and_then(|name| name.as_str()) {
            Some(name) => format!("{name}: {text}"),
            None => text.to_owned(),
        })
    };
    match reason {
        serde_json::Value::String(text) => Some(text.clone()),
        serde_json::Value::Array(list) if !list.is_empty() => {
            let told: Option<Vec<_>> = list.iter().map(complaint).collect();
            Some(told?.join("; "))
        }
        _ => None,
    }
}

/// The cause at the bottom is the one that says something; the URL is named by ourselves.
pub fn innermost(error: &reqwest::Error) -> String {
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

/// What is wrong with the certificate of a server, where that is why no connection came about.
pub fn certificate(error: &reqwest::Error) -> Option<String> {
    let mut cause: Option<&(dyn StdError + 'static)> = error.source();
    while let Some(now) = cause {
        if let Some(fault) = now.downcast_ref::<rustls::Error>() {
            return match fault {
                rustls::Error::InvalidCertificate(fault) => Some(worded(fault)),
                _ => None,
            };
        }
        // An error of input and output passes over what it is made of when it is asked for its source.
        let within = now.downcast_ref::<io::Error>().and_then(io::Error::get_ref);
        cause = match within {
            Some(within) => Some(within),
            None => now.source(),
        };
    }
    None
}

fn worded(fault: &CertificateError) -> String {
    match fault {
        CertificateError::UnknownIssuer => "nobody whom this machine knows stands behind it".into(),
        CertificateError::Expired | CertificateError::ExpiredContext { .. } => {
            "it has run out".into()
        }
        CertificateError::NotValidYet | CertificateError::NotValidYetContext { .. } => {
            "it is not valid yet".into()
        }
        CertificateError::NotValidForName | CertificateError::NotValidForNameContext { .. } => {
            "it is made out to another name".into()
        }
        other => excerpt(other.to_string().as_bytes()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reason_is_found_whatever_the_order_and_name() {
        assert_eq!(
            reason(br#"{"reason":"out of range","error":true}"#),
            "out of range"
        );
        assert_eq!(reason(br#"{"detail":"nothing near"}"#), "nothing near");
        assert_eq!(reason(b"<h1>502</h1>"), "<h1>502</h1>");
    }

    #[test]
    fn a_list_of_reasons_is_read_out() {
        let listed = br#"{"detail":[{"loc":["query","lat"],"msg":"too far north","type":"x"},{"msg":"too late"}]}"#;
        assert_eq!(reason(listed), "lat: too far north; too late");
        // What is in another shape is shown as it is.
        for other in [r#"{"detail":[]}"#, r#"{"detail":[7]}"#, r#"{"detail":{}}"#] {
            assert_eq!(reason(other.as_bytes()), other);
        }
    }

    #[test]
    fn what_is_wrong_with_a_certificate_is_said_in_words() {
        for (fault, said) in [
            (
                CertificateError::UnknownIssuer,
                "nobody whom this machine knows stands behind it",
            ),
            (CertificateError::Expired, "it has run out"),
            (CertificateError::NotValidYet, "it is not valid yet"),
            (
                CertificateError::NotValidForName,
                "it is made out to another name",
            ),
        ] {
            assert_eq!(worded(&fault), said);
        }
    }
}
