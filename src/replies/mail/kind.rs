//! Whether a person wrote a mail: RFC 3834 for what programs send, RFC 3464 for letters that came back.

use super::{MailKind, addresses, answered, bare_id, clean, small};
use mail_parser::{HeaderName, HeaderValue, Message, MimeHeaders, PartType};

/// Senders that are no persons, before the @.
const MACHINES: &[&str] = &[
    "mailer-daemon",
    "postmaster",
    "noreply",
    "no-reply",
    "donotreply",
    "do-not-reply",
    "bounce",
    "bounces",
];
/// How subjects of absence notes begin.
const ABSENT: &[&str] = &[
    "automatic reply",
    "auto reply",
    "auto-reply",
    "autoreply",
    "out of office",
    "away from",
    "automatische antwort",
    "abwesenheit",
    "réponse automatique",
    "absence",
    "automatisch antwoord",
    "afwezig",
    "respuesta automática",
    "risposta automatica",
];
/// What a server said is kept to so many characters.
const MOST_SAID: usize = 300;

pub fn kind(message: &Message<'_>) -> MailKind {
    if let Some(bounce) = report(message) {
        return bounce;
    }
    let sender = sender(message);
    if let Some(bounce) = told_freely(message, &sender) {
        return bounce;
    }
    if is_automatic(message, &sender) {
        MailKind::Automatic
    } else {
        MailKind::Person
    }
}

/// What a mail server says in words of its own: as a daemon, with nobody to answer to. One that warns goes on trying.
fn told_freely(message: &Message<'_>, sender: &str) -> Option<MailKind> {
    let daemon = ["mailer-daemon@", "postmaster@"]
        .iter()
        .any(|name| sender.starts_with(name));
    let subject = message.subject().unwrap_or_default();
    let small_subject = subject.to_lowercase();
    let tries_on = ["delay", "warning", "still being retried"]
        .iter()
        .any(|word| small_subject.contains(word));
    let returned = returned_id(message);
    let nobody = text_of(message, "Return-Path") == Some("<>");
    if !daemon || tries_on || (returned.is_none() && !nobody) {
        return None;
    }
    let recipient = text_of(message, "X-Failed-Recipients")
        .and_then(|all| all.split(',').next())
        .map(small)
        .filter(|address| address.contains('@'));
    Some(MailKind::Bounce {
        recipient,
        said: kept(subject),
        letter: returned.or_else(|| answered(message).into_iter().next()),
    })
}

/// What a server said, on one line and not too long.
fn kept(said: &str) -> String {
    let said = clean(said);
    let words: Vec<&str> = said.split_whitespace().collect();
    words.join(" ").chars().take(MOST_SAID).collect()
}

fn sender(message: &Message<'_>) -> String {
    message
        .from()
        .and_then(|from| addresses(from).next())
        .unwrap_or_default()
}

fn text_of<'m>(message: &'m Message<'_>, name: &'static str) -> Option<&'m str> {
    message.header_raw(name).map(str::trim)
}

fn is_automatic(message: &Message<'_>, sender: &str) -> bool {
    let says = |name: &'static str| text_of(message, name).map(str::to_lowercase);
    let submitted = says("Auto-Submitted").is_some_and(|word| !word.starts_with("no"));
    let bulk = says("Precedence").is_some_and(|word| {
        ["bulk", "junk", "list", "auto_reply"]
            .iter()
            .any(|kind| word.starts_with(kind))
    });
    let marked = [
        "X-Autoreply",
        "X-Autorespond",
        "X-Auto-Response-Suppress",
        "List-Id",
        "List-Unsubscribe",
    ]
    .into_iter()
    .any(|name| text_of(message, name).is_some());
    let no_way_back = says("Return-Path").is_some_and(|path| path == "<>");
    let machine = sender
        .split_once('@')
        .is_some_and(|(name, _)| MACHINES.contains(&name));
    let subject = message.subject().unwrap_or_default().trim().to_lowercase();
    let absent = ABSENT.iter().any(|begin| subject.starts_with(begin));
    submitted || bulk || marked || no_way_back || machine || absent
}

/// A delivery report. One that only says "delayed" is no bounce: the server goes on trying.
fn report(message: &Message<'_>) -> Option<MailKind> {
    let outer = message.content_type()?;
    let is_report = outer.ctype().eq_ignore_ascii_case("multipart")
        && outer
            .subtype()
            .is_some_and(|kind| kind.eq_ignore_ascii_case("report"));
    let status = message.parts.iter().find(|part| {
        part.content_type().is_some_and(|kind| {
            kind.ctype().eq_ignore_ascii_case("message")
                && kind.subtype().is_some_and(|sub| {
                    sub.eq_ignore_ascii_case("delivery-status")
                        || sub.eq_ignore_ascii_case("global-delivery-status")
                })
        })
    });
    let (true, Some(status)) = (is_report, status) else {
        return None;
    };
    let text = String::from_utf8_lossy(status.contents()).replace("\r\n", "\n");
    let text = text.replace("\n ", " ").replace("\n\t", " ");
    // A group of fields for each recipient; the first of them that got nothing counts.
    let in_group = |group: &str, name: &str| {
        group.lines().find_map(|line| {
            let (key, value) = line.split_once(':')?;
            key.trim()
                .eq_ignore_ascii_case(name)
                .then(|| value.trim().to_owned())
        })
    };
    let failed = |group: &&str| {
        in_group(group, "Action").is_some_and(|action| action.eq_ignore_ascii_case("failed"))
    };
    let Some(group) = text.split("\n\n").find(failed) else {
        return Some(MailKind::Automatic);
    };
    let field = |name: &str| in_group(group, name);
    // "rfc822; anna@alderfold.example"
    let after = |value: String| {
        value
            .split_once(';')
            .map_or(value.clone(), |(_, rest)| rest.trim().to_owned())
    };
    let recipient = field("Original-Recipient")
        .or_else(|| field("Final-Recipient"))
        .map(after);
    let said = field("Diagnostic-Code")
        .map(after)
        .or_else(|| field("Status"))
        .unwrap_or_default();
    Some(MailKind::Bounce {
        recipient: recipient
            .map(|address| small(&address))
            .filter(|address| address.contains('@')),
        said: kept(&said),
        letter: returned_id(message),
    })
}

/// The Message-ID of the letter that lies in a report, whole or by its headers only.
fn returned_id(message: &Message<'_>) -> Option<String> {
    message
        .parts
        .iter()
        .skip(1)
        .find_map(|part| match &part.body {
            PartType::Message(letter) => letter.message_id().map(bare_id),
            PartType::Text(_) | PartType::Binary(_) => {
                let kind = part.content_type()?;
                let headers = kind
                    .subtype()
                    .is_some_and(|sub| sub.eq_ignore_ascii_case("rfc822-headers"));
                let text =
                    headers.then(|| String::from_utf8_lossy(part.contents()).into_owned())?;
                let inner = mail_parser::MessageParser::default().parse_headers(text.as_bytes())?;
                match inner.header(HeaderName::MessageId)? {
                    HeaderValue::Text(id) => Some(bare_id(id)),
                    _ => None,
                }
            }
            _ => None,
        })
}
