//! How the house stands, in the text format of `OpenMetrics` 1.0.0: for programs that collect figures.

use super::Condition;
use std::fmt::{Display, Write};

/// A family of figures: name, type, unit or none, and what it is.
type Family = (&'static str, &'static str, &'static str, &'static str);

const WELL: Family = ("graftwarden_well", "gauge", "", "1 where nothing is amiss.");
const LAST_ROUND: Family = (
    "graftwarden_last_round_timestamp_seconds",
    "gauge",
    "seconds",
    "When the last round was walked.",
);
const LAST_GOOD_ROUND: Family = (
    "graftwarden_last_good_round_timestamp_seconds",
    "gauge",
    "seconds",
    "When the last round was walked in which nothing hindered the work.",
);
const LAST_BACKUP: Family = (
    "graftwarden_last_backup_timestamp_seconds",
    "gauge",
    "seconds",
    "When the program's memory was last copied.",
);
const MEASURED: Family = (
    "graftwarden_last_measured_day_age_seconds",
    "gauge",
    "seconds",
    "How long ago the last day ended that was measured or modelled, by site.",
);
const WAITING: Family = (
    "graftwarden_letters_waiting",
    "gauge",
    "",
    "Letters that some carrier has not taken yet.",
);
const OLDEST: Family = (
    "graftwarden_oldest_letter_waiting_seconds",
    "gauge",
    "seconds",
    "How long the oldest of them has waited; 0 where none does.",
);
const REFUSED: Family = (
    "graftwarden_letters_refused",
    "gauge",
    "",
    "Letters that some carrier will never take.",
);
const NOTICES: Family = (
    "graftwarden_notices",
    "counter",
    "",
    "Notices told, by kind.",
);
const FAILING: Family = (
    "graftwarden_source_failing_seconds",
    "gauge",
    "seconds",
    "How long a service has not answered; 0 where it does.",
);

/// The whole file, `# EOF` at its end.
pub fn openmetrics(condition: &Condition) -> String {
    let mut text = String::new();
    let now = condition.now;
    family(&mut text, &WELL, [(&[][..], u8::from(condition.is_well()))]);
    for (of, at) in [
        (&LAST_ROUND, condition.last_round),
        (&LAST_GOOD_ROUND, condition.last_good_round),
        (&LAST_BACKUP, condition.last_backup),
    ] {
        family(&mut text, of, at.map(|at| (&[][..], at.timestamp())));
    }
    let ages = condition
        .sites
        .iter()
        .filter_map(|site| Some(([("site", site.id.as_str())], site.age?.num_seconds())));
    family(&mut text, &MEASURED, ages);
    let outbox = &condition.outbox;
    family(&mut text, &WAITING, [(&[][..], outbox.waiting)]);
    let oldest = outbox
        .oldest
        .map_or(0, |at| (now - at).num_seconds().max(0));
    family(&mut text, &OLDEST, [(&[][..], oldest)]);
    family(&mut text, &REFUSED, [(&[][..], outbox.refused)]);
    let told = condition.notices.iter();
    family(
        &mut text,
        &NOTICES,
        told.map(|(kind, n)| ([("kind", kind.as_str())], *n)),
    );
    let failing = condition.sources.iter().map(|of| {
        let since = of.failing_since;
        (
            [("site", of.site.as_str()), ("source", of.source.as_str())],
            since.map_or(0, |at| (now - at).num_seconds().max(0)),
        )
    });
    family(&mut text, &FAILING, failing);
    text.push_str("# EOF\n");
    text
}

/// A family with its samples; nothing of it where it has none.
fn family<'l, L: AsRef<[(&'l str, &'l str)]>>(
    text: &mut String,
    (name, kind, unit, help): &Family,
    samples: impl IntoIterator<Item = (L, impl Display)>,
) {
    let mut samples = samples.into_iter().peekable();
    if samples.peek().is_none() {
        return;
    }
    let mut line = |line: std::fmt::Arguments<'_>| {
        // Writing into a text cannot fail.
        let _ = text.write_fmt(line);
        text.push('\n');
    };
    line(format_args!("# HELP {name} {help}"));
    line(format_args!("# TYPE {name} {kind}"));
    if !unit.is_empty() {
        line(format_args!("# UNIT {name} {unit}"));
    }
    let suffix = if *kind == "counter" { "_total" } else { "" };
    for (labels, value) in samples {
        let labels: Vec<String> = labels
            .as_ref()
            .iter()
            .map(|(label, value)| format!("{label}=\"{}\"", escaped(value)))
            .collect();
        if labels.is_empty() {
            line(format_args!("{name}{suffix} {value}"));
        } else {
            line(format_args!(
                "{name}{suffix}{{{}}} {value}",
                labels.join(",")
            ));
        }
    }
}

fn escaped(value: &str) -> String {
    value
        .replace('\\', "\\\\")
        .replace('\n', "\\n")
        .replace('"', "\\\"")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::{SiteCondition, SourceCondition};
    use crate::store::Outbox;
    use chrono::TimeDelta;

    #[test]
    fn a_whole_file() {
        let now = "2026-07-03T04:10:00Z".parse().unwrap();
        let condition = Condition {
            now,
            zone: chrono_tz::UTC,
            last_round: Some(now),
            last_good_round: None,
            last_backup: Some(now - TimeDelta::hours(24)),
            next_round: None,
            sites: vec![SiteCondition {
                id: "the \"old\" hill\\wood".into(),
                open: true,
                last_measured: now.date_naive().pred_opt(),
                age: Some(TimeDelta::minutes(370)),
            }],
            sources: vec![SourceCondition {
                site: "hill".into(),
                source: "open-meteo".into(),
                answered_at: None,
                failing_since: Some(now - TimeDelta::hours(2)),
            }],
            outbox: Outbox {
                waiting: 2,
                oldest: Some(now - TimeDelta::minutes(1)),
                stuck: None,
                refused: 1,
            },
            notices: [("late".to_owned(), 3), ("opens".to_owned(), 12)].into(),
            hindrances: Vec::new(),
            amiss: vec!["something".into()],
        };
        insta::assert_snapshot!(openmetrics(&condition), @r#"
        # HELP graftwarden_well 1 where nothing is amiss.
        # TYPE graftwarden_well gauge
        graftwarden_well 0
        # HELP graftwarden_last_round_timestamp_seconds When the last round was walked.
        # TYPE graftwarden_last_round_timestamp_seconds gauge
        # UNIT graftwarden_last_round_timestamp_seconds seconds
        graftwarden_last_round_timestamp_seconds 1783051800
        # HELP graftwarden_last_backup_timestamp_seconds When the program's memory was last copied.
        # TYPE graftwarden_last_backup_timestamp_seconds gauge
        # UNIT graftwarden_last_backup_timestamp_seconds seconds
        graftwarden_last_backup_timestamp_seconds 1782965400
        # HELP graftwarden_last_measured_day_age_seconds How long ago the last day ended that was measured or modelled, by site.
        # TYPE graftwarden_last_measured_day_age_seconds gauge
        # UNIT graftwarden_last_measured_day_age_seconds seconds
        graftwarden_last_measured_day_age_seconds{site="the \"old\" hill\\wood"} 22200
        # HELP graftwarden_letters_waiting Letters that some carrier has not taken yet.
        # TYPE graftwarden_letters_waiting gauge
        graftwarden_letters_waiting 2
        # HELP graftwarden_oldest_letter_waiting_seconds How long the oldest of them has waited; 0 where none does.
        # TYPE graftwarden_oldest_letter_waiting_seconds gauge
        # UNIT graftwarden_oldest_letter_waiting_seconds seconds
        graftwarden_oldest_letter_waiting_seconds 60
        # HELP graftwarden_letters_refused Letters that some carrier will never take.
        # TYPE graftwarden_letters_refused gauge
        graftwarden_letters_refused 1
        # HELP graftwarden_notices Notices told, by kind.
        # TYPE graftwarden_notices counter
        graftwarden_notices_total{kind="late"} 3
        graftwarden_notices_total{kind="opens"} 12
        # HELP graftwarden_source_failing_seconds How long a service has not answered; 0 where it does.
        # TYPE graftwarden_source_failing_seconds gauge
        # UNIT graftwarden_source_failing_seconds seconds
        graftwarden_source_failing_seconds{site="hill",source="open-meteo"} 7200
        # EOF
        "#);
    }
}
