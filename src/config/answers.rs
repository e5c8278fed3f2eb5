//! `[answers]`: where answers by mail come in, and from whom they are believed. Passwords stay in their files.

use super::files::secret_path;
use super::mail_server::{self, Words};
use super::post::address;
use super::raw::Section;
use super::report::Complaint;
use super::{AnswersConfig, ImapConfig, MailboxConfig, PostConfig, Trust};
use std::path::Path;

/// The section is wrong; what is wrong has been complained about.
pub(super) struct Wrong;

/// Reads the section; none for a config without answers.
pub(super) fn read(
    section: Option<Section<'_>>,
    post: Option<&PostConfig>,
    folder: &Path,
) -> Result<Option<AnswersConfig>, Wrong> {
    let Some(s) = section else { return Ok(None) };
    let address = s.parsed("address", address);
    let remedy = "write address = \"answers@\" and the farm's own domain";
    let address = s.need("address", address, remedy);
    let plus = s.flag("plus").unwrap_or(true);
    let trust = s.choice("trust", &["letter", "sender"], |word| match word {
        "letter" => Some(Trust::Letter),
        "sender" => Some(Trust::Sender),
        _ => None,
    });
    let (has_maildir, has_imap) = (s.has("maildir"), s.has("imap"));
    let maildir = s.text("maildir").map(|path| folder.join(path));
    let imap = s.section("imap").and_then(|imap| read_imap(imap, folder));
    match (has_maildir, has_imap) {
        (true, true) => s.findings().error(
            s.place("imap"),
            Complaint::new(
                "answers come from one mailbox, and here are two",
                "keep maildir or [answers.imap], and take the other out",
            ),
        ),
        (false, false) => s.error(
            "[answers] does not say where the answers lie",
            "add maildir = \"/var/lib/graftwarden/answers\", or [answers.imap] for a mailbox elsewhere",
        ),
        _ => {}
    }
    if post.is_some_and(|post| post.smtp.is_none() && post.folder.is_none()) {
        s.findings().warning(
            s.span(),
            Complaint::new(
                "answers are taken, but no letter and no receipt leaves",
                "add [post.smtp]",
            ),
        );
    }
    s.finish();
    let way = maildir
        .map(MailboxConfig::Maildir)
        .or(imap.map(MailboxConfig::Imap));
    match (address, way) {
        (Some(address), Some(mailbox)) => Ok(Some(AnswersConfig {
            address,
            plus,
            trust: trust.unwrap_or_default(),
            mailbox,
        })),
        _ => Err(Wrong),
    }
}

const SERVER: Words = Words {
    example: "imap.alderfold.example",
    missing: "write the name of the server with the mailbox",
    in_the_clear: "security = \"none\" would send the password in the clear; it is for a mailbox on this machine only",
    ports: [993, 143, 143],
};

fn read_imap(s: Section<'_>, folder: &Path) -> Option<ImapConfig> {
    let (host, port, security) = mail_server::read(&s, &SERVER);
    let user = s.need("user", s.line("user"), "write the name to log in with");
    let password = s
        .text("password_file")
        .map(|file| secret_path(folder, &file));
    let remedy = "name a file that holds the password and nothing else";
    let password = s.need("password_file", password, remedy);
    let inbox = s.line("folder").unwrap_or_else(|| "INBOX".to_owned());
    s.finish();
    Some(ImapConfig {
        host: host?,
        port,
        security,
        user: user?,
        password_file: password?,
        folder: inbox,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::tests::{SMALL, check_refused, check_warned, load};
    use crate::post::Security;

    const POST: &str = "[post]\nfrom = \"letters@alderfold.example\"\nfolder = \"letters\"\n";

    fn answers(lines: &str) -> String {
        format!("{SMALL}{POST}[answers]\n{lines}")
    }

    #[test]
    fn two_lines_do() {
        let text = answers("address = \"answers@alderfold.example\"\nmaildir = \"mail\"");
        let config = load(&text).unwrap().answers.unwrap();
        assert_eq!((config.plus, config.trust), (true, Trust::Letter));
        let MailboxConfig::Maildir(path) = config.mailbox else {
            panic!("{config:?}");
        };
        assert!(path.ends_with("mail"), "{}", path.display());
        assert!(load(SMALL).unwrap().answers.is_none());
    }

    #[test]
    fn a_mailbox_elsewhere_is_read_over_tls() {
        let text = answers(
            "address = \"answers@alderfold.example\"\nplus = false\ntrust = \"sender\"\n[answers.imap]\nhost = \"imap.alderfold.example\"\nuser = \"answers\"\npassword_file = \"secret\"",
        );
        let config = load(&text).unwrap().answers.unwrap();
        assert_eq!((config.plus, config.trust), (false, Trust::Sender));
        let MailboxConfig::Imap(imap) = config.mailbox else {
            panic!("{config:?}");
        };
        assert_eq!((imap.port, imap.security), (993, Security::Tls));
        assert_eq!(
            (imap.user.as_str(), imap.folder.as_str()),
            ("answers", "INBOX")
        );
    }

    /// The lines of the example that stand for the other way.
    #[test]
    fn the_mailbox_elsewhere_of_the_example_is_one() {
        let text = include_str!("../../config/graftwarden.toml");
        let (_, section) = text.split_once("[answers]\n").unwrap();
        let lines = section.lines().filter(|line| !line.starts_with("maildir"));
        let lines: Vec<&str> = lines
            .map(|line| line.strip_prefix("#   ").unwrap_or(line))
            .collect();
        let config = load(&answers(&lines.join("\n"))).unwrap();
        assert_eq!(config.warnings, []);
        let MailboxConfig::Imap(imap) = config.answers.unwrap().mailbox else {
            panic!("it is elsewhere");
        };
        assert_eq!((imap.port, imap.security), (993, Security::Tls));
        assert_eq!(imap.host, "imap.alderfold.example");
    }

    #[test]
    fn everything_that_is_wrong_is_said_at_once() {
        check_refused(
            &answers("address = \"answers\"\ntrust = \"anybody\""),
            &[
                "'answers' is not a mail address",
                "'anybody' is not a word for `trust`",
                "does not say where the answers lie",
            ],
        );
        check_refused(
            &answers(
                "maildir = \"mail\"\n[answers.imap]\nhost = \"imap.alderfold.example\"\nsecurity = \"none\"\nfoldr = \"x\"",
            ),
            &[
                "[answers] has no address",
                "here are two",
                "password in the clear",
                "[imap] has no user",
                "[imap] has no password_file",
                "perhaps `folder` is meant",
            ],
        );
    }

    #[test]
    fn answers_without_letters_are_worth_a_word() {
        let text = format!(
            "{SMALL}[answers]\naddress = \"answers@alderfold.example\"\nmaildir = \"mail\""
        );
        check_warned(&text, &["no receipt leaves"]);
    }
}
