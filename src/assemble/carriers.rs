//! Puts the ways out together. One that cannot be is a problem; the others work.

use super::{no_secret, roots};
use crate::clock::SystemClock;
use crate::config::{Config, read_secret};
use crate::post::{Carrier, Folder, Hook, HookSettings, Log, Smtp, SmtpSettings};
use crate::problem::Problem;
use std::sync::Arc;

/// Every way out that the config has.
pub fn carriers(config: &Config) -> (Vec<Box<dyn Carrier>>, Vec<Problem>) {
    let mut carriers: Vec<Box<dyn Carrier>> = Vec::new();
    let mut problems = Vec::new();
    if config.post.log {
        carriers.push(Box::new(Log));
    }
    if let Some(folder) = &config.post.folder {
        carriers.push(Box::new(Folder::new(folder)));
    }
    match smtp(config) {
        Some(Ok(smtp)) => carriers.push(Box::new(smtp)),
        Some(Err(problem)) => problems.push(problem),
        None => {}
    }
    match hook(config) {
        Some(Ok(hook)) => carriers.push(Box::new(hook)),
        Some(Err(problem)) => problems.push(problem),
        None => {}
    }
    (carriers, problems)
}

/// A program or an address of the farm's own, where the config has one. Signed is the machine's own time, whatever
/// moment a round plays.
fn hook(config: &Config) -> Option<Result<Hook, Problem>> {
    let asked = config.post.hook.as_ref()?;
    let secret = match &asked.secret_file {
        Some(path) => match read_secret(path) {
            (Some(secret), _) => Some(secret),
            (None, problem) => return Some(Err(problem.unwrap_or_else(|| no_secret(path)))),
        },
        None => None,
    };
    let settings = HookSettings {
        to: asked.to.clone(),
        secret,
        limit: asked.timeout,
        contact: from_address(config),
        roots: roots(config).0,
    };
    Some(Hook::new(settings, Arc::new(SystemClock)))
}

fn from_address(config: &Config) -> String {
    let from = config.post.from.as_ref();
    from.map_or_else(String::new, |from| from.email.clone())
}

/// The mail server, where the config has one.
pub fn smtp(config: &Config) -> Option<Result<Smtp, Problem>> {
    let asked = config.post.smtp.as_ref()?;
    let login = match &asked.login {
        Some((user, path)) => match read_secret(path) {
            (Some(password), _) => Some((user.clone(), password)),
            (None, problem) => return Some(Err(problem.unwrap_or_else(|| no_secret(path)))),
        },
        None => None,
    };
    let settings = SmtpSettings {
        host: asked.host.clone(),
        port: asked.port,
        security: asked.security,
        login,
        from: from_address(config),
        roots: roots(config).0,
    };
    Some(Smtp::new(settings, Smtp::LIMIT))
}
