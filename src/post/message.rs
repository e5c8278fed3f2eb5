//! A letter as the bytes of an RFC 5322 message.
//!
//! Headers are built by the mail library, which encodes what is not plain and cannot be made to start another header;
//! control characters are taken out before. The same letter gives the same bytes.

use crate::excerpt::one_line;
use crate::fingerprint;
use chrono::{DateTime, FixedOffset};
use lettre::message::header::{ContentTransferEncoding, ContentType, HeaderName, HeaderValue};
use lettre::message::{Mailbox, SinglePart};

/// A letter ready to be put into an envelope.
#[derive(Clone, Copy, Debug)]
pub struct Draft<'a> {
    /// The sender's name and address.
    pub from: (&'a str, &'a str),
    /// The recipient's name and address.
    pub to: (&'a str, &'a str),
    /// The subject line.
    pub subject: &'a str,
    /// The text.
    pub text: &'a str,
    /// The Date header.
    pub dated: DateTime<FixedOffset>,
    /// See [`message_id`].
    pub message_id: &'a str,
}

/// Why a letter could not be put into an envelope.
#[derive(Debug, thiserror::Error)]
pub enum DraftError {
    /// An address that mail cannot use.
    #[error("'{address}' is not an e-mail address: {source}; mend it in the config")]
    Address {
        /// The address as written.
        address: String,
        /// What is wrong with it.
        source: lettre::address::AddressError,
    },
    /// Something the mail library did not accept.
    #[error("the letter could not be written: {0}")]
    Message(#[from] lettre::error::Error),
}

/// A plain address, as the mail library takes it; none where it does not.
pub fn address(text: &str) -> Option<String> {
    let address = text.parse::<lettre::Address>().ok()?;
    Some(address.to_string())
}

/// A Message-ID, without angle brackets, that nobody can guess and that the same letter always gets: made from the
/// store's secret, the recipient and the keys of the notices it carries.
pub fn message_id(secret: &str, recipient: &str, keys: &[String], from: &str) -> String {
    // Each part with its length before it, so that no two lists of parts run together.
    let parts = [secret, recipient]
        .into_iter()
        .chain(keys.iter().map(String::as_str));
    let parts: Vec<String> = parts.map(|part| format!("{}:{part}", part.len())).collect();
    let mut id = fingerprint::of(parts.concat());
    id.truncate(32);
    let domain = from
        .rsplit_once('@')
        .map_or("graftwarden.invalid", |(_, domain)| domain);
    format!("{id}@{domain}")
}

/// The whole message, lines ending in CRLF.
pub fn write(draft: &Draft<'_>) -> Result<Vec<u8>, DraftError> {
    let text = lettre::message::Body::new_with_encoding(
        draft.text.replace('\n', "\r\n"),
        ContentTransferEncoding::QuotedPrintable,
    )
    .unwrap_or_else(lettre::message::Body::new);
    let mut message = lettre::Message::builder()
        .message_id(Some(format!("<{}>", draft.message_id)))
        .from(mailbox(draft.from)?)
        .to(mailbox(draft.to)?)
        .subject(plain(draft.subject))
        .raw_header(HeaderValue::new(
            HeaderName::new_from_ascii_str("Auto-Submitted"),
            "auto-generated".into(),
        ))
        .date(draft.dated.into())
        .singlepart(
            SinglePart::builder()
                .header(ContentType::TEXT_PLAIN)
                .body(text),
        )?;
    // The library writes the date in UTC; people read it in their own time.
    message.headers_mut().insert_raw(HeaderValue::new(
        HeaderName::new_from_ascii_str("Date"),
        draft.dated.to_rfc2822(),
    ));
    Ok(message.formatted())
}

fn mailbox((name, address): (&str, &str)) -> Result<Mailbox, DraftError> {
    let email = address.parse().map_err(|source| DraftError::Address {
        address: address.to_owned(),
        source,
    })?;
    let name = plain(name);
    Ok(Mailbox::new((!name.is_empty()).then_some(name), email))
}

/// One line, which cannot end a header, and without what a mail reader would decode into something else (RFC 2047).
fn plain(text: &str) -> String {
    one_line(text).replace("=?", "= ?")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn draft<'a>(subject: &'a str, text: &'a str) -> Draft<'a> {
        Draft {
            from: ("Graftwarden", "letters@alderfold.example"),
            to: ("Anna Birch", "anna@alderfold.example"),
            subject,
            text,
            dated: DateTime::parse_from_rfc3339("2026-08-13T06:10:00+02:00").unwrap(),
            message_id: "0123@alderfold.example",
        }
    }

    #[test]
    fn a_whole_letter() {
        let bytes = write(&draft("Block C: head back now", "By Tuesday.\n18 °C\n")).unwrap();
        insta::assert_snapshot!(String::from_utf8(bytes).unwrap().replace("\r\n", "\n"), @r#"
        Message-ID: <0123@alderfold.example>
        From: Graftwarden <letters@alderfold.example>
        To: "Anna Birch" <anna@alderfold.example>
        Subject: Block C: head back now
        Auto-Submitted: auto-generated
        Date: Thu, 13 Aug 2026 06:10:00 +0200
        MIME-Version: 1.0
        Content-Type: text/plain; charset=utf-8
        Content-Transfer-Encoding: quoted-printable

        By Tuesday.
        18 =C2=B0C
        "#);
    }

    #[test]
    fn a_name_cannot_start_another_header() {
        let bytes = write(&draft("Block C\r\nBcc: eve@example.net\r\n\r\nbody", "x")).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        let head = text.split("\r\n\r\n").next().unwrap();
        assert!(!head.lines().any(|line| line.starts_with("Bcc")), "{head}");
    }

    #[test]
    fn a_name_cannot_be_decoded_into_another_header() {
        let bytes = write(&draft("Row =?utf-8?q?=0D=0ABcc:_x?= \u{2028}C", "x")).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        let subject = text.lines().find(|line| line.starts_with("Subject:"));
        assert_eq!(subject, Some("Subject: Row = ?utf-8?q?=0D=0ABcc:_x?= C"));
    }

    #[test]
    fn the_message_id_hangs_on_secret_recipient_and_keys() {
        let keys = ["a".to_owned(), "b".to_owned()];
        let id = message_id(
            "secret",
            "anna@alderfold.example",
            &keys,
            "letters@alderfold.example",
        );
        assert_eq!(
            id,
            message_id(
                "secret",
                "anna@alderfold.example",
                &keys,
                "letters@alderfold.example"
            )
        );
        assert!(id.ends_with("@alderfold.example"));
        assert_ne!(
            id,
            message_id(
                "other",
                "anna@alderfold.example",
                &keys,
                "letters@alderfold.example"
            )
        );
        assert_ne!(
            id,
            message_id(
                "secret",
                "ben@alderfold.example",
                &keys,
                "letters@alderfold.example"
            )
        );
        let joined = ["ab".to_owned()];
        assert_ne!(
            id,
            message_id(
                "secret",
                "anna@alderfold.example",
                &joined,
                "letters@alderfold.example"
            )
        );
    }
}
