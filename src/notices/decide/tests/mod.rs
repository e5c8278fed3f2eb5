//! What is told over days: seasons played round by round, each day at 06:10, and the lines of the ledger that come of
//! it: "15: opens callus-check 14" is told in the round on day 15 of a window that opened on day 14.

mod last_graft;
mod looks;
mod risk;
mod spells;
mod weather;
mod withdrawn;
mod work;

use super::*;
use crate::care::tests::season::{Season, maple, weekdays};
use chrono::Weekday;
use proptest::prelude::*;
use std::collections::HashSet;
use std::ops::Range;

/// The ledger of a season as it is played.
#[derive(Default)]
struct Played {
    ledger: Ledger,
    keys: HashSet<String>,
    lines: Vec<String>,
}

impl Played {
    /// Plays the rounds of some days.
    fn rounds(mut self, season: &Season, days: Range<i64>) -> Self {
        for n in days {
            self.round(season, n, &[]);
        }
        self
    }

    fn round(&mut self, season: &Season, n: i64, problems: &[Problem]) {
        let told = news(season, n, &self.ledger, problems);
        for notice in told {
            assert!(
                self.keys.insert(notice.key()),
                "told twice: {}",
                notice.key()
            );
            self.lines.push(format!("{n}: {}", line(season, &notice)));
            enter(&mut self.ledger, &notice, season.day(n));
        }
    }

    /// What was told, words on the eve left aside: they are the same again and have tests of their own.
    #[track_caller]
    fn check(&self, expected: &[&str]) {
        let is_eve = |line: &&String| line.contains(": heads-up ");
        let lines: Vec<&String> = self.lines.iter().filter(|line| !is_eve(line)).collect();
        assert_eq!(lines, expected);
    }

    /// Only the lines of one kind.
    #[track_caller]
    fn check_of(&self, kind: &str, expected: &[&str]) {
        let lines = self
            .lines
            .iter()
            .filter(|line| line.contains(&format!(": {kind} ")));
        assert_eq!(lines.collect::<Vec<_>>(), expected);
    }
}

pub(crate) fn news(season: &Season, n: i64, ledger: &Ledger, problems: &[Problem]) -> Vec<Notice> {
    news_for(season, n, ledger, problems, &[], Diary::default())
}

/// With people to be told of everything at once, and what the program knows of its own past.
pub(crate) fn news_for(
    season: &Season,
    n: i64,
    ledger: &Ledger,
    problems: &[Problem],
    people: &[Person],
    diary: Diary<'_>,
) -> Vec<Notice> {
    let today = season.day(n);
    let grounds = [season.ground(today)];
    let (cares, _) = season.cares(&grounds[0]);
    let now = today.and_hms_opt(6, 10, 0).unwrap().and_utc();
    let workdays = &season.workdays;
    let past = [season.past.clone()];
    decide(
        &View {
            now,
            today,
            workdays,
            grounds: &grounds,
            cares: &cares,
            problems,
            outlook: &Outlook::new(&grounds, &past, &cares),
            people,
            diary,
        },
        ledger,
    )
}

pub(crate) fn enter(ledger: &mut Ledger, notice: &Notice, told_on: NaiveDate) {
    let told = Told {
        kind: notice.kind,
        step: notice.step.as_deref().unwrap_or_default().into(),
        anchor: notice.anchor.as_str().into(),
        n: notice.n,
        on: notice.on,
        until: notice.until,
        level: notice.level,
        told_on,
    };
    ledger.enter(notice.about.subject(), told);
}

fn line(season: &Season, notice: &Notice) -> String {
    let day = |date: NaiveDate| (date - season.day(0)).num_days();
    let mut words = vec![notice.kind.name().to_owned()];
    words.extend(
        notice
            .about
            .batch()
            .filter(|name| *name != "C-14")
            .map(str::to_owned),
    );
    words.extend(notice.step.clone());
    words.extend(notice.level.map(|level| level.name().to_owned()));
    words.push(day(notice.on).to_string());
    words.extend((notice.n > 1).then(|| format!("n{}", notice.n)));
    words.extend((notice.urgent && notice.level.is_none()).then(|| "urgent".to_owned()));
    words.extend(Some(notice.say.clone()).filter(|say| !say.is_empty()));
    words.join(" ")
}

#[track_caller]
fn check(season: &Season, days: Range<i64>, expected: &[&str]) {
    Played::default().rounds(season, days).check(expected);
}

/// Grafted on Friday 3 July 2026: day 15 is a Saturday, day 17 a Monday.
fn on_weekdays() -> Season {
    Season::new("maple field T-graft", "2026-07-03")
        .weather("120x20")
        .but(|s| s.workdays = weekdays())
}

#[test]
fn missing_temperatures_are_told_after_36_hours_once_for_each_gap() {
    // Known to the end of day 10; day 12 at 06:10 is 30 hours later, day 13 is 54.
    let silent = maple().without_forecast().weather("11x20");
    let back = maple().without_forecast().weather("11x20 3x? 3x20");
    Played::default()
        .rounds(&silent, 11..16)
        .rounds(&back, 16..22)
        .check_of(
            "no-temperatures",
            &["13: no-temperatures 11", "19: no-temperatures 17"],
        );
}

#[test]
fn temperatures_are_not_missed_where_no_batch_is_open() {
    let season = maple()
        .without_forecast()
        .weather("11x20")
        .records("5 closed");
    check(&season, 1..30, &[]);
}

#[test]
fn a_site_that_never_had_temperatures_says_so_once() {
    let season = maple().without_forecast().weather("");
    check(&season, 1..5, &["1: no-temperatures 1"]);
}

#[test]
fn each_trouble_is_told_once_and_on_working_days() {
    let problem = |what: &str| Problem::new("batches.csv", what, "", "");
    let (one, other) = (problem("one"), problem("other"));
    let mut played = Played::default();
    let season = on_weekdays();
    // Days 1 and 2 are a Saturday and a Sunday.
    played.round(&season, 1, std::slice::from_ref(&one));
    played.round(&season, 3, &[one.clone(), one.clone()]);
    played.round(&season, 4, &[other, one]);
    played.check(&[
        "3: trouble 3 batches.csv: one.",
        "4: trouble 4 batches.csv: other.",
    ]);
}

#[test]
fn the_figures_are_those_at_the_end_of_the_day_that_met_the_rule() {
    let found = news(&maple(), 17, &Ledger::default(), &[]);
    let opens = &found[0];
    assert_eq!(
        (opens.heat, opens.days),
        (Some(crate::units::DegreeDays(210.0)), Some(14))
    );
    assert_eq!(opens.standard_days, Some(crate::units::StandardDays(14.0)));
    let unknown = news(
        &maple().weather("5x20 3x? 40x20"),
        20,
        &Ledger::default(),
        &[],
    );
    assert_eq!((unknown[0].heat, unknown[0].days), (None, Some(17)));
}

/// A day of any weather: mean, and now and then a gust, rain or a cold night.
fn any_day() -> impl Strategy<Value = String> {
    (8..36_i32, 0..100_i32, 0..20_i32).prop_map(|(mean, gust, rain)| {
        let min = if gust % 7 == 0 { mean - 15 } else { mean };
        format!("{min}/{mean}g{gust}r{rain}")
    })
}

fn any_records() -> impl Strategy<Value = String> {
    let words = vec![
        "lines",
        "no-lines",
        "headed-back 40",
        "headed-back",
        "tape-off",
        "looked",
        "dead 5",
        "regrafted 3",
        "retract lines",
        "over-callused",
        "tape-eased",
        "tied-in",
    ];
    let record = (1..60_i64, prop::sample::select(words));
    prop::collection::vec(record, 0..6).prop_map(|records| {
        let records: Vec<String> = records
            .iter()
            .map(|(n, what)| format!("{n} {what}"))
            .collect();
        records.join(", ")
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn what_was_told_is_not_told_again_in_the_same_round(
        days in prop::collection::vec(any_day(), 60), records in any_records(), n in 10..60_i64,
    ) {
        let season = maple().weather(&days.join(" ")).records(&records);
        let mut ledger = Ledger::default();
        for notice in news(&season, n, &ledger, &[]) {
            enter(&mut ledger, &notice, season.day(n));
        }
        prop_assert_eq!(news(&season, n, &ledger, &[]), Vec::new());
    }

    /// However the forecast changes from day to day, no key comes twice (`Played::round` fails on one), and nothing is
    /// taken back that was not told and stands.
    #[test]
    fn under_any_forecasts_nothing_is_told_twice(
        days in prop::collection::vec(any_day(), 45), others in prop::collection::vec(any_day(), 45), records in any_records(),
        horizon in 0..8_u64, turns in prop::collection::vec(any::<bool>(), 45),
    ) {
        let mut played = Played::default();
        let come = maple().weather(&days.join(" ")).records(&records).but(|s| s.horizon = horizon);
        let otherwise = maple().weather(&others.join(" "));
        for n in 8..40_i64 {
            let mut season = come.clone();
            if turns[n as usize] {
                let today = season.day(n);
                season.days.retain(|d| d.date < today);
                season.days.extend(otherwise.days.iter().filter(|d| d.date >= today));
            }
            played.round(&season, n, &[]);
        }
        for (at, line) in played.lines.iter().enumerate() {
            let words: Vec<&str> = line.split(' ').collect();
            if words[1] == "risk-over" {
                let subject: Vec<&str> = words[2..].iter().copied().take_while(|w| w.parse::<i64>().is_err()).collect();
                let subject = subject.join(" ");
                let kind = if subject.ends_with("over-callusing") { "over-callus-risk " } else { "" };
                let told = played.lines[..at].iter().filter(|l| l.contains(&format!(": {kind}{subject} ")));
                let back = played.lines[..at].iter().filter(|l| l.contains(&format!(": risk-over {subject} ")));
                prop_assert!(told.count() > back.count(), "{:#?}", played.lines);
            }
        }
    }
}
