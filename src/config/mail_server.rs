//! A mail server as `[post.smtp]` and `[answers.imap]` name it: host, port, and how the line to it is kept private.

use super::Security;
use super::raw::Section;
use super::report::Complaint;
use crate::weather::http::is_this_machine;

/// What is said of one kind of server.
pub(super) struct Words {
    /// A name as it may be written.
    pub example: &'static str,
    /// What to write where there is none.
    pub missing: &'static str,
    /// What is wrong with a line in the clear to another machine.
    pub in_the_clear: &'static str,
    /// The usual ports with TLS, with STARTTLS and in the clear.
    pub ports: [u16; 3],
}

/// The host, none where it is wrong or missing; the port; how the line is kept private.
pub(super) fn read(s: &Section<'_>, words: &Words) -> (Option<String>, u16, Security) {
    let host = s.parsed("host", |text| {
        if text.contains(|c: char| c.is_whitespace() || c.is_control() || "/@".contains(c)) {
            let what = format!("'{text}' is not the name of a mail server");
            let remedy = format!("write the name alone, as in \"{}\"", words.example);
            return Err(Complaint::new(what, remedy));
        }
        Ok(text.to_owned())
    });
    let host = s.need("host", host, words.missing);
    let security = s.choice(
        "security",
        &["tls", "starttls", "none"],
        |word| match word {
            "tls" => Some(Security::Tls),
            "starttls" => Some(Security::StartTls),
            "none" => Some(Security::None),
            _ => None,
        },
    );
    let security = security.unwrap_or(Security::Tls);
    if security == Security::None && host.as_deref().is_some_and(|h| !is_this_machine(h)) {
        let complaint = Complaint::new(words.in_the_clear, "write \"tls\" or \"starttls\"");
        s.findings().error(s.place("security"), complaint);
    }
    let [tls, starttls, none] = words.ports;
    let usual = match security {
        Security::Tls => tls,
        Security::StartTls => starttls,
        Security::None => none,
    };
    let port = s.whole("port", 1..=u32::from(u16::MAX));
    let port = port.and_then(|p| u16::try_from(p).ok()).unwrap_or(usual);
    (host, port, security)
}
