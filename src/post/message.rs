//! A letter as the bytes of an RFC 5322 message.
//!
//! Headers are built by the mail library, which encodes what is not plain and cannot be made to start another header;
//! control characters are taken out before. The same letter gives the same bytes: even the boundaries between its parts
//! follow from its Message-ID. The parts: text or HTML with its pictures, and beside them the calendar.

use crate::excerpt::one_line;
use crate::fingerprint;
use chrono::{DateTime, FixedOffset};
use lettre::message::header::{
    ContentDisposition, ContentId, ContentTransferEncoding, ContentType, HeaderName, HeaderValue,
};
use lettre::message::{Body, Mailbox, MultiPart, MultiPartKind, SinglePart};

/// A letter ready to be put into an envelope.
#[derive(Clone, Copy, Debug)]
pub struct Draft<'a> {
    /// The sender's name and address.
    pub from: (&'a str, &'a str),
    /// The recipient's name and address.
    pub to: (&'a str, &'a str),
    /// The subject line.
    pub subject: &'a str,
    /// The text, complete in itself.
    pub text: &'a str,
    /// The same as a page; none where the letter is text only.
    pub html: Option<&'a str>,
    /// Pictures that the page shows.
    pub pictures: &'a [Picture],
    /// The dates of the letter, as iCalendar; none where it has none.
    pub calendar: Option<&'a str>,
    /// The Date header.
    pub dated: DateTime<FixedOffset>,
    /// See [`message_id`].
    pub message_id: &'a str,
    /// Where answers go; none where they go to the sender.
    pub reply_to: Option<&'a str>,
    /// The Message-IDs of the letters that this one goes on from, the oldest first; without angle brackets.
    pub thread: &'a [String],
    /// Why it is sent.
    pub cause: Cause,
}

/// A picture within a letter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// The name by which the page shows it, `cid:NAME`; the same picture has the same name.
    pub cid: String,
    /// The picture as PNG.
    pub png: Vec<u8>,
}

/// Why a letter is sent; other programs read it before they answer (RFC 3834).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// Something is to be told.
    Notice,
    /// Somebody wrote to us.
    Answer,
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
    let cause = match draft.cause {
        Cause::Notice => "auto-generated",
        Cause::Answer => "auto-replied",
    };
    let mut message = lettre::Message::builder()
        .message_id(Some(format!("<{}>", draft.message_id)))
        .from(mailbox(draft.from)?)
        .to(mailbox(draft.to)?)
        .subject(plain(draft.subject))
        .raw_header(raw("Auto-Submitted", cause.into()))
        .date(draft.dated.into());
    if let Some(address) = draft.reply_to {
        message = message.reply_to(mailbox(("", address))?);
    }
    if let Some(newest) = draft.thread.last() {
        let all: Vec<String> = draft.thread.iter().map(|id| format!("<{id}>")).collect();
        message = message
            .in_reply_to(format!("<{newest}>"))
            .references(all.join(" "));
    }
    let mut message = match whole_page(draft) {
        Some(page) => match draft.calendar {
            Some(calendar) => message.multipart(
                parts(draft, MultiPartKind::Mixed)
                    .multipart(page)
                    .singlepart(calendar_part(calendar)),
            )?,
            None => message.multipart(page)?,
        },
        None => match draft.calendar {
            Some(calendar) => message.multipart(
                parts(draft, MultiPartKind::Mixed)
                    .singlepart(words(ContentType::TEXT_PLAIN, draft.text))
                    .singlepart(calendar_part(calendar)),
            )?,
            None => message.singlepart(words(ContentType::TEXT_PLAIN, draft.text))?,
        },
    };
    // The library writes the date in UTC; people read it in their own time.
    message
        .headers_mut()
        .insert_raw(raw("Date", draft.dated.to_rfc2822()));
    Ok(message.formatted())
}

/// Text and page as two ways of saying the same; none where there is no page.
fn whole_page(draft: &Draft<'_>) -> Option<MultiPart> {
    let html = words(ContentType::TEXT_HTML, draft.html?);
    let both = parts(draft, MultiPartKind::Alternative)
        .singlepart(words(ContentType::TEXT_PLAIN, draft.text));
    if draft.pictures.is_empty() {
        return Some(both.singlepart(html));
    }
    let mut page = parts(draft, MultiPartKind::Related).singlepart(html);
    for picture in draft.pictures {
        page = page.singlepart(
            SinglePart::builder()
                .header(png())
                .header(ContentDisposition::inline())
                .header(ContentId::from(format!("<{}>", picture.cid)))
                .body(picture.png.clone()),
        );
    }
    Some(both.multipart(page))
}

/// Boundaries that no line of a letter can be, and that the same letter always gets.
fn parts(draft: &Draft<'_>, kind: MultiPartKind) -> lettre::message::MultiPartBuilder {
    let which = match kind {
        MultiPartKind::Mixed => "mixed",
        MultiPartKind::Alternative => "alternative",
        _ => "related",
    };
    let mut boundary = fingerprint::of(format!("{which} {}", draft.message_id));
    boundary.truncate(32);
    MultiPart::builder().kind(kind).boundary(boundary)
}

fn words(kind: ContentType, text: &str) -> SinglePart {
    let body = text.replace('\n', "\r\n");
    let body = Body::new_with_encoding(body, ContentTransferEncoding::QuotedPrintable)
        .unwrap_or_else(Body::new);
    SinglePart::builder().header(kind).body(body)
}

fn calendar_part(calendar: &str) -> SinglePart {
    let kind = ContentType::parse("text/calendar; charset=utf-8; method=PUBLISH")
        .unwrap_or(ContentType::TEXT_PLAIN);
    let body = Body::new_with_encoding(
        calendar.to_owned(),
        ContentTransferEncoding::QuotedPrintable,
    )
    .unwrap_or_else(Body::new);
    SinglePart::builder()
        .header(kind)
        .header(ContentDisposition::attachment("dates.ics"))
        .body(body)
}

fn png() -> ContentType {
    ContentType::parse("image/png").unwrap_or(ContentType::TEXT_PLAIN)
}

fn raw(name: &'static str, value: String) -> HeaderValue {
    HeaderValue::new(HeaderName::new_from_ascii_str(name), value)
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
            html: None,
            pictures: &[],
            calendar: None,
            reply_to: None,
            thread: &[],
            cause: Cause::Notice,
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
