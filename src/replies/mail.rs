//! One mail: who wrote it, which letter it answers, and what the person wrote.
//!
//! Bytes in, values out. Nothing in a mail is believed here: a From is only what stands there. Whatever comes, broken or
//! hostile, gives a [`Mail`]; what cannot be made out is empty.

mod kind;
mod page;
mod written;

use crate::excerpt::without_invisible;
use crate::fingerprint;
use chrono::{DateTime, Utc};
use mail_parser::{Address, HeaderName, HeaderValue, Message, MessageParser, PartType};

/// A mail that came in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mail {
    /// Message-ID without brackets; where it has none, a fingerprint of the bytes.
    pub id: String,
    /// The bare address in From, in small letters; none where there is none or several.
    pub from: Option<String>,
    /// Every address it was sent to (To, Cc, Delivered-To, X-Original-To), in small letters.
    pub to: Vec<String>,
    /// Ids in In-Reply-To and References, newest first, without brackets.
    pub answers_to: Vec<String>,
    /// The subject line; may be empty.
    pub subject: String,
    /// Its Date header.
    pub dated: Option<DateTime<Utc>>,
    /// Whether a person wrote it.
    pub kind: MailKind,
    /// What the person wrote: quoted text and signature left out, as text also where the mail was HTML only.
    pub words: String,
}

/// Who or what wrote a mail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MailKind {
    /// A person, as far as it can be told.
    Person,
    /// A program: an absence note, a list, a receipt.
    Automatic,
    /// A person, as far as it can be told, but what they wrote cannot be made out.
    Broken,
    /// A mail server, of a letter that it could not deliver.
    Bounce {
        /// To whom the letter was to go.
        recipient: Option<String>,
        /// What the server said.
        said: String,
        /// The Message-ID of the letter, without brackets.
        letter: Option<String>,
    },
}

/// No more of what was written is read, in bytes: an answer is a few lines.
const MOST_TEXT: usize = 64 << 10;
/// No more of a page is read, in bytes: some mail programs put long styles before a short answer.
const MOST_PAGE: usize = 1 << 20;
/// What may be spent on a mail, see [`bounded`].
const MOST_COST: usize = 100_000;
/// Addresses and ids beyond so many are left out.
const MOST_NAMES: usize = 200;

/// Reads one mail.
///
/// ```
/// use graftwarden::replies::{MailKind, read_mail};
/// let mail = read_mail(b"From: Maren <Maren@alderfold.example>\r\nTo: a@alderfold.example\r\n\r\nC-14 lines\r\n> quoted\r\n");
/// assert_eq!(mail.from.as_deref(), Some("maren@alderfold.example"));
/// assert_eq!((mail.kind, mail.words.as_str()), (MailKind::Person, "C-14 lines"));
/// ```
///
/// A mail over which the library that takes mails apart stumbles is [`MailKind::Broken`], with what its headers say.
pub fn read_mail(bytes: &[u8]) -> Mail {
    let nameless = || format!("{}@no-message-id", fingerprint::of(bytes));
    let parser = MessageParser::default;
    let whole = || match parser().parse(bounded(bytes)) {
        Some(message) => told(&message, nameless()),
        None => nobodys(nameless(), MailKind::Automatic),
    };
    let head = || {
        let message = parser().parse_headers(bounded(bytes))?;
        let mail = told(&message, nameless());
        let kind = match mail.kind {
            MailKind::Person => MailKind::Broken,
            kind => kind,
        };
        Some(Mail {
            kind,
            words: String::new(),
            ..mail
        })
    };
    guarded(whole)
        .or_else(|| guarded(head).flatten())
        .unwrap_or_else(|| nobodys(nameless(), MailKind::Broken))
}

/// What comes of it, unless something within it that should never be is met: none then. One mail must not end a round.
fn guarded<T>(read: impl FnOnce() -> T) -> Option<T> {
    // Nothing that was begun is looked at afterwards.
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(read)).ok()
}

/// What a message says.
fn told(message: &Message<'_>, nameless: String) -> Mail {
    let id = message
        .message_id()
        .map(bare_id)
        .filter(|id| !id.is_empty());
    Mail {
        id: id.unwrap_or(nameless),
        from: sender(message),
        to: recipients(message),
        answers_to: answered(message),
        subject: clean(message.subject().unwrap_or_default())
            .trim()
            .to_owned(),
        dated: message
            .date()
            .and_then(|date| DateTime::from_timestamp(date.to_timestamp(), 0)),
        kind: kind::kind(message),
        words: words(message),
    }
}

/// A mail of which nothing can be made out.
fn nobodys(id: String, kind: MailKind) -> Mail {
    Mail {
        id,
        from: None,
        to: Vec::new(),
        answers_to: Vec::new(),
        subject: String::new(),
        dated: None,
        kind,
        words: String::new(),
    }
}

/// The beginning of a mail that is not too dear to take apart: at most 1,000 parts with a kind of their own, 10,000
/// boundaries, 100,000 headers. A mail within a mail is held within it, and letting go of too many takes the whole stack.
fn bounded(bytes: &[u8]) -> &[u8] {
    const KIND: &[u8] = b"content-type";
    let mut cost = 0;
    for (at, pair) in bytes.windows(2).enumerate() {
        cost += match pair {
            b"--" => 10,
            [b':', _] => {
                let before = bytes[..at].trim_ascii_end();
                let name = &before[before.len().saturating_sub(KIND.len())..];
                if name.eq_ignore_ascii_case(KIND) {
                    100
                } else {
                    1
                }
            }
            _ => 0,
        };
        if cost > MOST_COST {
            return &bytes[..at];
        }
    }
    bytes
}

/// Without line ends and other control characters, which an encoded header may hold, and without what is not seen but
/// turns around what stands beside it.
fn clean(text: &str) -> String {
    without_invisible(text).replace(char::is_control, " ")
}

/// The one address in From; two would leave open who is meant.
fn sender(message: &Message<'_>) -> Option<String> {
    let mut all = message
        .header_values(HeaderName::From)
        .filter_map(HeaderValue::as_address)
        .flat_map(addresses);
    let first = all.next()?;
    all.next().is_none().then_some(first)
}

fn recipients(message: &Message<'_>) -> Vec<String> {
    let mut found: Vec<String> = [HeaderName::To, HeaderName::Cc]
        .into_iter()
        .flat_map(|name| message.header_values(name))
        .filter_map(HeaderValue::as_address)
        .flat_map(addresses)
        .collect();
    for name in ["Delivered-To", "X-Original-To", "Envelope-To"] {
        let values = message.header_values(HeaderName::Other(name.into()));
        found.extend(values.filter_map(|value| value.as_text()).map(small));
    }
    found.truncate(MOST_NAMES);
    found
}

fn addresses<'m>(address: &'m Address<'_>) -> impl Iterator<Item = String> + 'm {
    address.iter().filter_map(|one| one.address()).map(small)
}

fn small(address: &str) -> String {
    let address = clean(address.trim().trim_matches(['<', '>']));
    address.to_lowercase()
}

/// The letters that this mail says it answers, the newest first.
fn answered(message: &Message<'_>) -> Vec<String> {
    let ids = |value: &HeaderValue<'_>| -> Vec<String> {
        match value {
            HeaderValue::Text(text) => text.split_whitespace().map(bare_id).collect(),
            HeaderValue::TextList(list) => list.iter().map(|id| bare_id(id)).collect(),
            _ => Vec::new(),
        }
    };
    let mut found = ids(message.in_reply_to());
    for id in ids(message.references()).into_iter().rev() {
        if !found.contains(&id) && found.len() < MOST_NAMES {
            found.push(id);
        }
    }
    found
}

fn bare_id(id: &str) -> String {
    clean(id.trim().trim_matches(['<', '>']))
}

/// What the person wrote, as lines of text. Some phones send an empty text beside the page that says it.
fn words(message: &Message<'_>) -> String {
    if let Some(sign) = reaction(message) {
        return clean(cut(sign, MOST_TEXT).trim());
    }
    let text = texts(message.text_bodies());
    let text = if text.trim().is_empty() {
        texts(message.html_bodies())
    } else {
        text
    };
    written::by_hand(cut(&text, MOST_TEXT))
}

/// The sign by which a phone answers with one tap (RFC 9078); what else stands in such a mail was written by its program.
fn reaction<'m>(message: &'m Message<'_>) -> Option<&'m str> {
    use mail_parser::MimeHeaders;
    message.parts.iter().find_map(|part| {
        let disposition = part.content_disposition()?;
        let PartType::Text(text) = &part.body else {
            return None;
        };
        let is = disposition.ctype().eq_ignore_ascii_case("reaction");
        is.then_some(text.as_ref())
    })
}

fn texts<'m>(parts: impl Iterator<Item = &'m mail_parser::MessagePart<'m>>) -> String {
    let texts = parts.take(8).filter_map(|part| match &part.body {
        PartType::Text(text) => Some(written::unflowed(cut(text, MOST_TEXT), is_flowed(part))),
        PartType::Html(html) => Some(page::text(cut(html, MOST_PAGE))),
        _ => None,
    });
    texts.collect::<Vec<_>>().join("\n")
}

fn is_flowed(part: &mail_parser::MessagePart<'_>) -> bool {
    use mail_parser::MimeHeaders;
    let kind = part.content_type();
    kind.and_then(|kind| kind.attribute("format"))
        .is_some_and(|format| format.eq_ignore_ascii_case("flowed"))
}

/// The beginning of a text, at most so many bytes. A line that would be broken is left out: half of 180 is 18.
fn cut(text: &str, most: usize) -> &str {
    if text.len() <= most {
        return text;
    }
    let mut end = most;
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let kept = &text[..end];
    kept.rfind('\n').map_or(kept, |line| &kept[..line])
}

#[cfg(test)]
mod tests;
