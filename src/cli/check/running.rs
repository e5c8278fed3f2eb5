//! `check --running`: how the house stands, from its memory alone. Asks nobody and changes nothing.

use super::Report;
use crate::cli::exit::Exit;
use crate::clock::{Clock, SystemClock};
use crate::condition::Condition;
use crate::config::Config;
use crate::letters::count_of;
use crate::lock::Lock;
use crate::store::{Store, StoreError};
use serde_json::{Value, json};
use std::io::Write;
use std::process::ExitCode;

/// Says how the house stands; the exit code says whether all is well.
pub fn run(config: &Config, as_json: bool, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
    let now = SystemClock.now();
    let mut copy = Store::copy_of(&config.state)?;
    let mut found: Condition =
        copy.settle::<_, StoreError>(|memory| Condition::read(memory, config, now))?;
    let running = Lock::is_held(&config.state);
    if running == Some(false) {
        found.amiss.push("no graftwarden runs".into());
    }
    if as_json {
        writeln!(out, "{}", json_of(&found, running))?;
    } else {
        write(&found, out)?;
    }
    Ok(if found.is_well() {
        ExitCode::SUCCESS
    } else {
        Exit::Unavailable.code()
    })
}

fn write(found: &Condition, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut report = Report { out, trouble: 0 };
    let shown = |at| found.shown(at);
    for (what, at) in [
        ("last round", found.last_round),
        ("last good round", found.last_good_round),
        ("last backup of the memory", found.last_backup),
        ("next round", found.next_round),
    ] {
        report.know(format_args!(
            "{what}: {}",
            at.map_or_else(|| "none".to_owned(), &shown)
        ))?;
    }
    for site in &found.sites {
        let known = site.last_measured.map_or_else(
            || "no temperatures known".to_owned(),
            |day| format!("temperatures known to {day}"),
        );
        let idle = if site.open {
            ""
        } else {
            ", no batch waits for them"
        };
        report.know(format_args!("site {}: {known}{idle}", site.id))?;
    }
    for source in found.sources.iter().filter(|s| s.failing_since.is_some()) {
        let since = source.failing_since.map_or_else(String::new, &shown);
        report.know(format_args!(
            "site {}: {} does not answer since {since}",
            source.site, source.source
        ))?;
    }
    let outbox = &found.outbox;
    let oldest = outbox.oldest.map_or_else(String::new, |at| {
        format!(", the oldest since {}", shown(at))
    });
    report.know(format_args!(
        "{} waiting{oldest}; {} refused for good",
        count_of(outbox.waiting, "letter"),
        outbox.refused
    ))?;
    if !found.notices.is_empty() {
        let told: Vec<String> = found
            .notices
            .iter()
            .map(|(kind, n)| format!("{n} {kind}"))
            .collect();
        report.know(format_args!("told so far: {}", told.join(", ")))?;
    }
    for what in found.hindrances.iter().chain(&found.amiss) {
        report.trouble += 1;
        writeln!(report.out, "mend  {what}")?;
    }
    report.end()
}

fn json_of(found: &Condition, running: Option<bool>) -> Value {
    let at = |at: Option<chrono::DateTime<chrono::Utc>>| {
        at.map(|at| at.to_rfc3339_opts(chrono::SecondsFormat::Secs, true))
    };
    let sites = found.sites.iter().map(|site| {
        json!({
            "site": site.id,
            "open": site.open,
            "last_measured_day": site.last_measured,
            "age_seconds": site.age.map(|age| age.num_seconds()),
        })
    });
    let sources = found.sources.iter().map(|source| {
        json!({
            "site": source.site,
            "source": source.source,
            "answered_at": at(source.answered_at),
            "failing_since": at(source.failing_since),
        })
    });
    json!({
        "well": found.is_well(),
        "amiss": found.hindrances.iter().chain(&found.amiss).collect::<Vec<_>>(),
        "running": running,
        "last_round": at(found.last_round),
        "last_good_round": at(found.last_good_round),
        "last_backup": at(found.last_backup),
        "next_round": at(found.next_round),
        "sites": sites.collect::<Vec<_>>(),
        "sources": sources.collect::<Vec<_>>(),
        "letters_waiting": found.outbox.waiting,
        "oldest_letter_waiting_since": at(found.outbox.oldest),
        "letters_refused": found.outbox.refused,
        "notices": found.notices,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::{SiteCondition, SourceCondition};
    use crate::store::Outbox;
    use chrono::{DateTime, TimeDelta, Utc};

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    fn condition() -> Condition {
        let now = at("2026-07-03T09:00:00Z");
        Condition {
            now,
            zone: chrono_tz::Europe::Brussels,
            last_round: Some(at("2026-07-03T04:10:00Z")),
            last_good_round: Some(at("2026-07-02T04:10:00Z")),
            last_backup: Some(at("2026-07-03T04:11:00Z")),
            next_round: Some(at("2026-07-04T04:10:00Z")),
            sites: vec![
                SiteCondition {
                    id: "hill".into(),
                    open: true,
                    last_measured: now.date_naive().pred_opt(),
                    age: Some(TimeDelta::hours(11)),
                },
                SiteCondition {
                    id: "vale".into(),
                    open: false,
                    last_measured: None,
                    age: None,
                },
            ],
            sources: vec![SourceCondition {
                site: "hill".into(),
                source: "open-meteo".into(),
                answered_at: Some(at("2026-07-01T04:10:00Z")),
                failing_since: Some(at("2026-07-02T04:10:00Z")),
            }],
            outbox: Outbox {
                waiting: 2,
                oldest: Some(at("2026-07-02T04:10:00Z")),
                stuck: Some(at("2026-07-02T04:10:00Z")),
                refused: 1,
            },
            notices: [("late".to_owned(), 3), ("opens".to_owned(), 12)].into(),
            hindrances: vec![
                "letters do not get out: 2 letters waiting, the oldest since 2026-07-02 06:10 CEST"
                    .into(),
            ],
            amiss: vec!["no graftwarden runs".into()],
        }
    }

    #[test]
    fn as_text() {
        let mut out = Vec::new();
        write(&condition(), &mut out).unwrap();
        insta::assert_snapshot!(String::from_utf8(out).unwrap(), @r"
        note  last round: 2026-07-03 06:10 CEST
        note  last good round: 2026-07-02 06:10 CEST
        note  last backup of the memory: 2026-07-03 06:11 CEST
        note  next round: 2026-07-04 06:10 CEST
        note  site hill: temperatures known to 2026-07-02
        note  site vale: no temperatures known, no batch waits for them
        note  site hill: open-meteo does not answer since 2026-07-02 06:10 CEST
        note  2 letters waiting, the oldest since 2026-07-02 06:10 CEST; 1 refused for good
        note  told so far: 3 late, 12 opens
        mend  letters do not get out: 2 letters waiting, the oldest since 2026-07-02 06:10 CEST
        mend  no graftwarden runs

        2 things to mend.
        ");
    }

    #[test]
    fn as_json() {
        insta::assert_snapshot!(json_of(&condition(), Some(false)), @r#"{"well":false,"amiss":["letters do not get out: 2 letters waiting, the oldest since 2026-07-02 06:10 CEST","no graftwarden runs"],"running":false,"last_round":"2026-07-03T04:10:00Z","last_good_round":"2026-07-02T04:10:00Z","last_backup":"2026-07-03T04:11:00Z","next_round":"2026-07-04T04:10:00Z","sites":[{"site":"hill","open":true,"last_measured_day":"2026-07-02","age_seconds":39600},{"site":"vale","open":false,"last_measured_day":null,"age_seconds":null}],"sources":[{"site":"hill","source":"open-meteo","answered_at":"2026-07-01T04:10:00Z","failing_since":"2026-07-02T04:10:00Z"}],"letters_waiting":2,"oldest_letter_waiting_since":"2026-07-02T04:10:00Z","letters_refused":1,"notices":{"late":3,"opens":12}}"#);
    }
}
