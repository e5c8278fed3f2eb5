//! `[post]`: who letters come from and how they leave. Passwords stay in their files.

use super::files::secret_path;
use super::mail_server::{self, Words};
use super::raw::Section;
use super::report::Complaint;
use super::{HookConfig, HookTo, Mailbox, PostConfig, SmtpConfig};
use crate::post::message;
use crate::weather::http::is_loopback;
use reqwest::Url;
use std::path::Path;
use std::time::Duration;
use toml::Spanned;

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
            hook: None,
        };
        return (Some(log_only), None);
    };
    let from = s.parsed("from", mailbox);
    let letters = s.text("folder").map(|path| folder.join(path));
    let log = s.flag("log").unwrap_or(true);
    let has_smtp = s.has("smtp");
    let smtp = s.section("smtp").and_then(|smtp| read_smtp(smtp, folder));
    let has_hook = s.has("hook");
    let hook = s.section("hook").and_then(|hook| read_hook(hook, folder));
    let all_by_hook = hook.as_ref().is_some_and(|hook| !hook.urgent_only);
    if has_smtp || letters.is_some() {
        let remedy = "write from = \"Alder Fold Nursery <letters@alderfold.example>\"";
        s.need("from", from.as_ref(), remedy);
    } else if !all_by_hook {
        let (what, remedy) = if log && has_hook {
            (
                "letters that are not urgent go to the log only",
                "add [post.smtp], or folder = \"letters\"",
            )
        } else if log {
            (
                "letters go to the log only",
                "add [post.smtp], or folder = \"letters\"",
            )
        } else if has_hook {
            (
                "letters that are not urgent do not leave at all",
                "add [post.smtp], or folder = \"letters\", or log = true",
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
    let is_whole = (!has_smtp || smtp.is_some()) && (!has_hook || hook.is_some());
    let whole = is_whole.then(|| PostConfig {
        from: from.clone(),
        folder: letters,
        log,
        smtp,
        hook,
    });
    (whole, from)
}

const SERVER: Words = Words {
    example: "mail.alderfold.example",
    missing: "write the name of your mail server",
    in_the_clear: "security = \"none\" would send letters and password in the clear; it is for a mail server on this machine only",
    ports: [465, 587, 25],
};

fn read_smtp(s: Section<'_>, folder: &Path) -> Option<SmtpConfig> {
    let (host, port, security) = mail_server::read(&s, &SERVER);
    let login = match (s.text("user"), s.text("password_file")) {
        (Some(user), Some(file)) => Some((user, secret_path(folder, &file))),
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

fn read_hook(s: Section<'_>, folder: &Path) -> Option<HookConfig> {
    let (has_command, has_url) = (s.has("command"), s.has("url"));
    let command = s.texts("command").map(|argv| command_in(folder, argv));
    let url = s.parsed("url", hook_address);
    match (has_command, has_url) {
        (true, true) => s.error(
            "[post.hook] has both command and url",
            "write one of them; a command can also post to an address",
        ),
        (false, false) => s.error(
            "[post.hook] has neither command nor url",
            "write command = [\"/usr/local/bin/send-text\"] or url = \"https://...\"",
        ),
        _ => {}
    }
    if command.as_ref().is_some_and(Vec::is_empty) {
        let complaint = Complaint::new(
            "the command has no program",
            "write the program first and then each of its arguments by itself",
        );
        s.findings().error(s.place("command"), complaint);
    }
    let timeout = s.whole("timeout", 1..=300).unwrap_or(30);
    let secret_file = s.text("secret_file").map(|file| secret_path(folder, &file));
    let urgent_only = s.flag("urgent_only").unwrap_or(false);
    s.finish();
    let to = match (command, url) {
        (Some(argv), None) => HookTo::Command(argv),
        (None, Some(url)) => HookTo::Address(url),
        _ => return None,
    };
    Some(HookConfig {
        to,
        secret_file,
        timeout: Duration::from_secs(u64::from(timeout)),
        urgent_only,
    })
}

/// A program that is named by a path counts from the folder of the config; a bare name is looked for in `PATH`.
fn command_in(folder: &Path, argv: Vec<Spanned<String>>) -> Vec<String> {
    let mut argv: Vec<String> = argv.into_iter().map(Spanned::into_inner).collect();
    if let Some(program) = argv.first_mut().filter(|program| program.contains('/')) {
        *program = folder.join(&*program).to_string_lossy().into_owned();
    }
    argv
}

fn hook_address(text: &str) -> Result<Url, Complaint> {
    let refuse = |what: &str| {
        let remedy = "write a whole address, as in \"https://chat.alderfold.example/letters\"";
        Err(Complaint::new(what, remedy))
    };
    match Url::parse(text) {
        Ok(url) if url.scheme() == "https" => Ok(url),
        Ok(url) if url.scheme() == "http" && is_loopback(&url) => Ok(url),
        Ok(url) if url.scheme() == "http" => refuse(
            "this address would be handed letters in the clear: plain http goes to this machine itself only",
        ),
        _ => refuse("this is not an https address"),
    }
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
    use crate::config::Security;
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

    fn hook(lines: &str) -> String {
        format!("{SMALL}[post.hook]\n{lines}")
    }

    #[test]
    fn a_hook_is_a_command_or_an_address() {
        let whole = "command = [\"bin/send-text\", \"a b\"]\nsecret_file = \"key\"\ntimeout = 5\nurgent_only = true";
        let config = load(&hook(whole)).unwrap();
        let folder = config.path.parent().unwrap();
        let argv = [
            folder.join("bin/send-text").display().to_string(),
            "a b".into(),
        ];
        let read = HookConfig {
            to: HookTo::Command(argv.to_vec()),
            secret_file: Some(folder.join("key")),
            timeout: Duration::from_secs(5),
            urgent_only: true,
        };
        assert_eq!(config.post.hook, Some(read));

        let read = load(&hook("command = [\"send-text\"]")).unwrap().post.hook;
        let usual = HookConfig {
            to: HookTo::Command(vec!["send-text".into()]),
            secret_file: None,
            timeout: Duration::from_secs(30),
            urgent_only: false,
        };
        assert_eq!(read, Some(usual));
        for address in [
            "https://chat.alderfold.example/letters",
            "http://127.0.0.1:8080/",
        ] {
            let read = load(&hook(&format!("url = \"{address}\""))).unwrap();
            let to = HookTo::Address(Url::parse(address).unwrap());
            assert_eq!(read.post.hook.unwrap().to, to);
        }
    }

    #[test]
    fn a_hook_must_make_sense() {
        for (lines, said) in [
            ("", "has neither command nor url"),
            (
                "command = [\"a\"]\nurl = \"https://b.example/\"",
                "has both command and url",
            ),
            ("command = \"send-text --now\"", "write a list in [ ]"),
            ("command = []", "the command has no program"),
            ("url = \"http://192.168.1.20/x\"", "in the clear"),
            (
                "url = \"ftp://chat.alderfold.example/x\"",
                "not an https address",
            ),
            (
                "command = [\"a\"]\ntimeout = 0",
                "a whole number from 1 to 300",
            ),
            (
                "command = [\"a\"]\nsecret_fil = \"x\"",
                "perhaps `secret_file`",
            ),
        ] {
            check_refused(&hook(lines), &[said]);
        }
    }

    #[test]
    fn what_goes_by_the_hook_alone_is_known() {
        check_warned(&hook("command = [\"send-text\"]"), &[]);
        let urgent = "command = [\"send-text\"]\nurgent_only = true";
        check_warned(&hook(urgent), &["not urgent go to the log only"]);
        let silent = format!("{SMALL}[post]\nlog = false\n[post.hook]\n{urgent}");
        check_warned(&silent, &["not urgent do not leave at all"]);
    }
}
