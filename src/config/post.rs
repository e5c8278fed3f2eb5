//! `[post]`: who letters come from and how they leave. Passwords stay in their files.

use super::raw::Section;
use super::report::Complaint;
use super::{Mailbox, PostConfig, Security, SmtpConfig};
use crate::post::message;
use crate::weather::http::is_this_machine;
use std::path::Path;

/// Reads the section, and the sender even where the rest is wrong.
pub(super) fn read(
    section: Option<Section<'_>>,
    folder: &Path,
) -> (Option<PostConfig>, Option<Mailbox>) {
    let Some(s) = section else {
        let log_only = PostConfig {
            from: None,
            folder: None,
            log: true,
            smtp: None,
        };
        return (Some(log_only), None);
    };
    let from = s.parsed("from", mailbox);
    let letters = s.text("folder").map(|path| folder.join(path));
    let log = s.flag("log").unwrap_or(true);
    let has_smtp = s.has("smtp");
    let smtp = s.section("smtp").and_then(|smtp| read_smtp(smtp, folder));
    if has_smtp || letters.is_some() {
        let remedy = "write from = \"Alder Fold Nursery <letters@alderfold.example>\"";
        s.need("from", from.as_ref(), remedy);
    } else {
        let (what, remedy) = if log {
            (
                "letters go to the log only",
                "add [post.smtp], or folder = \"letters\"",
            )
        } else {
            (
                "no letter leaves at all",
                "add [post.smtp], or folder = \"letters\", or log = true",
            )
        };
        s.findings().warning(s.span(), Complaint::new(what, remedy));
    }
    s.finish();
    let whole = (!has_smtp || smtp.is_some()).then(|| PostConfig {
        from: from.clone(),
        folder: letters,
        log,
        smtp,
    });
    (whole, from)
}

fn read_smtp(s: Section<'_>, folder: &Path) -> Option<SmtpConfig> {
    let host = s.parsed("host", |text| {
        if text.contains(|c: char| c.is_whitespace() || c.is_control() || "/@".contains(c)) {
            let what = format!("'{text}' is not the name of a mail server");
            return Err(Complaint::new(
                what,
                "write the name alone, as in \"mail.alderfold.example\"",
            ));
        }
        Ok(text.to_owned())
    });
    let host = s.need("host", host, "write the name of your mail server");
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
    let usual = match security {
        Security::Tls => 465,
        Security::StartTls => 587,
        Security::None => 25,
    };
    let port = s.whole("port", 1..=u32::from(u16::MAX));
    let port = port.and_then(|p| u16::try_from(p).ok()).unwrap_or(usual);
    if security == Security::None && host.as_deref().is_some_and(|h| !is_this_machine(h)) {
        let complaint = Complaint::new(
            "security = \"none\" would send letters and password in the clear; it is for a mail server on this machine only",
            "write \"tls\" or \"starttls\"",
        );
        s.findings().error(s.place("security"), complaint);
    }
    let login = match (s.text("user"), s.text("password_file")) {
        (Some(user), Some(file)) => Some((user, folder.join(file))),
        (None, None) => None,
        _ => {
            s.error(
                "user and password_file come together",
                "write both, or neither",
            );
            None
        }
    };
    s.finish();
    Some(SmtpConfig {
        host: host?,
        port,
        security,
        login,
    })
}

/// A plain address, checked as the mail library will check it.
pub(super) fn address(text: &str) -> Result<String, Complaint> {
    message::address(text).ok_or_else(|| {
        Complaint::new(
            format!("'{text}' is not a mail address"),
            "write it as in somebody@alderfold.example",
        )
    })
}

/// `Name <address>` or a plain address.
fn mailbox(text: &str) -> Result<Mailbox, Complaint> {
    let (name, email) = match text.rsplit_once('<') {
        Some((name, rest)) => {
            let closed = rest.trim_end().strip_suffix('>');
            (name.trim().trim_matches('"'), closed.unwrap_or(rest))
        }
        None => ("", text),
    };
    if name.contains(|c: char| c.is_control() || "<>\"".contains(c)) {
        return Err(Complaint::new(
            format!("'{}' cannot stand as a sender's name", name.escape_debug()),
            "write it as in Alder Fold Nursery <letters@alderfold.example>",
        ));
    }
    Ok(Mailbox {
        name: name.to_owned(),
        email: address(email.trim())?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::tests::{SMALL, check_refused, check_warned, load};

    #[track_caller]
    fn check(text: &str, name: &str, email: &str) {
        let expect = Mailbox {
            name: name.into(),
            email: email.into(),
        };
        assert_eq!(mailbox(text).ok(), Some(expect), "{text}");
    }

    #[test]
    fn senders_are_names_and_addresses() {
        check("a@alderfold.example", "", "a@alderfold.example");
        check(
            "Alder Fold <a@alderfold.example>",
            "Alder Fold",
            "a@alderfold.example",
        );
        check(
            "\"Fold, Älder\" <a@alderfold.example>",
            "Fold, Älder",
            "a@alderfold.example",
        );
    }

    #[test]
    fn what_could_smuggle_a_header_is_refused() {
        for bad in [
            "a@alderfold.example, junk",
            "X\nBcc: y <a@alderfold.example>",
            "Alder Fold",
            "A <b> <a@alderfold.example>",
        ] {
            assert!(mailbox(bad).is_err(), "{bad}");
        }
        assert!(address("a@alderfold.example\r\nBcc: b@alderfold.example").is_err());
    }

    #[test]
    fn post_needs_a_sender_and_a_private_line() {
        let post = |lines: &str| format!("{SMALL}[post]\n{lines}");
        check_refused(&post("folder = \"letters\""), &["[post] has no from"]);
        check_refused(
            &post(
                "from = \"a@alderfold.example\"\n[post.smtp]\nhost = \"mail.alderfold.example\"\nsecurity = \"none\"\nuser = \"x\"",
            ),
            &["in the clear", "user and password_file come together"],
        );
        check_warned(&post("log = false"), &["no letter leaves"]);
        let local = post(
            "from = \"a@alderfold.example\"\n[post.smtp]\nhost = \"127.0.0.1\"\nsecurity = \"none\"",
        );
        let smtp = load(&local).unwrap().post.smtp.unwrap();
        assert_eq!(
            (smtp.port, smtp.security, smtp.login),
            (25, Security::None, None)
        );
    }
}
