//! `check --online`: a plain yes or no for each thing that must work, and how to mend it.
//!
//! Services are asked, the mail server is asked whether it would take letters to each person (none is sent), the mailbox is
//! opened, the clock is held against what servers say; room on the disk and who may read what are looked at.

use super::{Report, missing_maildir};
use crate::assemble::{mailbox, roots, smtp, source};
use crate::clock::{self, Clock, Known, Said, SystemClock};
use crate::condition::shown;
use crate::config::{AliveTo, Config, MailboxConfig, WeatherConfig, read_secret};
use crate::letters::count_of;
use crate::store::{Store, StoreError};
use crate::weather::Ask;
use crate::weather::http::{Line, Patience};
use chrono::{DateTime, Days, Utc};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

/// Less room than this is too little: a year's memory and its copies (judgement).
const ROOM: u64 = 200 << 20;

impl Report<'_> {
    fn yes(&mut self, what: &str) -> anyhow::Result<()> {
        writeln!(self.out, "yes   {what}")?;
        Ok(())
    }

    fn no(&mut self, what: &str, problem: impl std::fmt::Display) -> anyhow::Result<()> {
        self.trouble += 1;
        writeln!(self.out, "no    {what}: {problem}")?;
        Ok(())
    }
}

/// Looks at them all.
pub(super) async fn check(config: &Config, report: &mut Report<'_>) -> anyhow::Result<()> {
    let line = Line {
        roots: roots(config).0,
        ..Patience::USUAL.into()
    };
    writeln!(report.out, "\nDoes it work?")?;
    sources(config, &line, report).await?;
    mail(config, report).await?;
    // A maildir that is not there was told above.
    if let Some(Ok(mailbox)) = mailbox(config)
        && missing_maildir(config).is_none()
    {
        match mailbox.try_out().await {
            Ok(found) => report.yes(&found)?,
            Err(problem) => report.no("answers", problem)?,
        }
    }
    time(config, &line, report)?;
    room(&config.state, report)?;
    state_is_private(&config.state, report)?;
    secrets(config, report)
}

async fn sources(config: &Config, line: &Line, report: &mut Report<'_>) -> anyhow::Result<()> {
    let now = SystemClock.now();
    for site in &config.sites {
        let today = now.with_timezone(&site.site.zone).date_naive();
        let remote = |w: &&WeatherConfig| !matches!(w, WeatherConfig::File(_));
        for weather in site.weather.iter().filter(remote) {
            // Why there is none was said above.
            let Ok(source) = source(&site.site, weather, line) else {
                continue;
            };
            let what = format!("temperatures of {} from {}", site.site.id, source.name());
            let ask = Ask {
                memo: None,
                now,
                from: today - Days::new(10),
            };
            let fetched = source.fetch(ask).await;
            if fetched.answered {
                let days = count_of(fetched.days.len() as u32, "day");
                report.yes(&format!("{what}: {days}"))?;
            }
            for problem in &fetched.problems {
                report.no(&what, problem)?;
            }
        }
    }
    Ok(())
}

async fn mail(config: &Config, report: &mut Report<'_>) -> anyhow::Result<()> {
    let Some(Ok(server)) = smtp(config) else {
        return Ok(());
    };
    let people: Vec<&str> = config.people.iter().map(|p| p.email.as_str()).collect();
    let answers = match server.try_out(&people).await {
        Ok(answers) => answers,
        Err(why) => {
            let remedy = "Look at [post.smtp] in the config, and whether the server runs";
            return report.no(
                "mail",
                format_args!("{why}; no letter is mailed. {remedy}."),
            );
        }
    };
    report.yes("mail: the server greets us and takes our login")?;
    for (person, answer) in config.people.iter().zip(answers) {
        let what = format!("mail to {}", person.email);
        match answer {
            Ok(()) => report.yes(&format!("{what}: it would be taken"))?,
            Err(why) => report.no(
                &what,
                format_args!(
                    "{why}. Look at the address, and whether the server lets us send there."
                ),
            )?,
        }
    }
    Ok(())
}

/// The clock, as a round would judge it.
fn time(config: &Config, line: &Line, report: &mut Report<'_>) -> anyhow::Result<()> {
    let now = SystemClock.now();
    let right_at = Store::copy_of(&config.state)
        .and_then(|mut copy| copy.settle::<_, StoreError>(|memory| memory.clock_right_at()));
    let said = line.heard.said(now);
    let known = Known {
        right_at: right_at.ok().flatten(),
        said,
        has_servers: said.is_some(),
    };
    let doubt = clock::doubt(now, &known).map(|doubt| doubt.to_string());
    let shown = |at: DateTime<Utc>| shown(at, config.zone);
    match (doubt, said) {
        (Some(doubt), _) => report.no(
            "clock",
            format_args!("{doubt}. To mend it, {}.", clock::REMEDY),
        ),
        (None, Some(Said::Agrees)) => {
            report.yes(&format!("clock: {}, and a server agrees", shown(now)))
        }
        (None, Some(Said::Otherwise(theirs))) => report.no(
            "clock",
            format_args!(
                "it says {}, a server says {}. Set this machine's clock.",
                shown(now),
                shown(theirs)
            ),
        ),
        (None, None) => report.yes(&format!(
            "clock: {}; no server was asked that could confirm it",
            shown(now)
        )),
    }
}

fn room(state: &Path, report: &mut Report<'_>) -> anyhow::Result<()> {
    let there = state.ancestors().find(|path| path.exists());
    // A relative path that is not there lies in the present folder.
    let there = there.unwrap_or(Path::new("."));
    let place = state.display();
    match rustix::fs::statvfs(there) {
        Ok(disk) => {
            let free = disk.f_bavail.saturating_mul(disk.f_frsize);
            if free >= ROOM {
                return report.yes("room on the disk");
            }
            report.no(
                "room on the disk",
                format_args!("{} MB are left where {place} lies. Make room: nothing can be written down once it is full.", free >> 20),
            )
        }
        Err(why) => report.no(
            "room on the disk",
            format_args!("it cannot be seen at {place}: {why}"),
        ),
    }
}

/// Letters, addresses and what makes letters ours lie in the state folder.
fn state_is_private(state: &Path, report: &mut Report<'_>) -> anyhow::Result<()> {
    let Ok(found) = std::fs::metadata(state) else {
        return Ok(());
    };
    let others = found.permissions().mode() & 0o077;
    if others == 0 {
        return report.yes("the program's memory is for its owner only");
    }
    report.no(
        "the program's memory",
        format_args!(
            "others on this machine may look into {0}. Run chmod 700 {0}.",
            state.display()
        ),
    )
}

fn secrets(config: &Config, report: &mut Report<'_>) -> anyhow::Result<()> {
    let files = secret_files(config);
    let mut sound = 0;
    for file in &files {
        match read_secret(file) {
            (Some(_), None) => sound += 1,
            (_, Some(problem)) => report.no("secrets", problem)?,
            (None, None) => {}
        }
    }
    if sound == files.len() && sound > 0 {
        report.yes(&format!(
            "secrets: {}, for their owner only",
            count_of(sound as u32, "file")
        ))?;
    }
    Ok(())
}

/// Every file that holds a secret.
fn secret_files(config: &Config) -> Vec<PathBuf> {
    let weather = config.sites.iter().flat_map(|site| &site.weather);
    let mut files: Vec<PathBuf> = weather
        .filter_map(|weather| match weather {
            WeatherConfig::OpenMeteo(asked) => asked.key_file.clone(),
            WeatherConfig::Url(asked) => asked.header_file.clone(),
            _ => None,
        })
        .collect();
    let smtp = config
        .post
        .smtp
        .as_ref()
        .and_then(|smtp| smtp.login.as_ref());
    files.extend(smtp.map(|(_, file)| file.clone()));
    let hook = config.post.hook.as_ref();
    files.extend(hook.and_then(|hook| hook.secret_file.clone()));
    if let Some(MailboxConfig::Imap(imap)) = config.answers.as_ref().map(|a| &a.mailbox) {
        files.push(imap.password_file.clone());
    }
    if let Some(AliveTo::File(file)) = &config.alive.to {
        files.push(file.clone());
    }
    files.sort();
    files.dedup();
    files
}
