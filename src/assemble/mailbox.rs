//! The mailbox with answers, put together from the config and the password beside it.

use super::{no_secret, roots};
use crate::config::{Config, MailboxConfig, read_secret};
use crate::problem::Problem;
use crate::replies::{Imap, ImapSettings, Mailbox, Maildir};
use std::sync::Arc;

/// The mailbox with answers, where the config has one.
pub fn mailbox(config: &Config) -> Option<Result<Arc<dyn Mailbox>, Problem>> {
    let asked = match &config.answers.as_ref()?.mailbox {
        MailboxConfig::Maildir(path) => return Some(Ok(Arc::new(Maildir::new(path)))),
        MailboxConfig::Imap(asked) => asked,
    };
    let password = match read_secret(&asked.password_file) {
        (Some(password), _) => password,
        (None, problem) => {
            return Some(Err(
                problem.unwrap_or_else(|| no_secret(&asked.password_file))
            ));
        }
    };
    let settings = ImapSettings {
        host: asked.host.clone(),
        port: asked.port,
        security: asked.security,
        user: asked.user.clone(),
        password,
        folder: asked.folder.clone(),
        roots: roots(config).0,
    };
    let imap = Imap::new(settings, Imap::LIMIT);
    Some(imap.map(|imap| Arc::new(imap) as Arc<dyn Mailbox>))
}
