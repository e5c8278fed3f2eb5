//! `rehearse`: a past season, day by day.

use super::exit::{Exit, usage};
use super::table::{self, Set, cut};
use super::{ConfigFile, date, figure, runtime, shown};
use crate::assemble::{Foresight, House};
use crate::care::{State, StepCare};
use crate::letters::{count_of, day_short};
use crate::notices::{Kind, Notice};
use crate::rehearsal::{Played, house, play, season};
use crate::round::Telling;
use crate::survey::{Survey, When, survey};
use anyhow::Context as _;
use chrono::NaiveDate;
use clap::{Args, ValueEnum};
use serde_json::json;
use std::collections::HashMap;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Plays a past season from the register, the field records and the temperature files, with an empty memory: what would
/// have been told, to whom, on which morning. Nothing is mailed; every letter is written as an .eml file.
#[derive(Debug, Args)]
pub struct Rehearse {
    #[command(flatten)]
    config: ConfigFile,
    /// The first day [default: that of the first grafting]
    #[arg(long, value_parser = date)]
    from: Option<NaiveDate>,
    /// The last day [default: the day after the last temperature]
    #[arg(long, value_parser = date)]
    to: Option<NaiveDate>,
    /// Where the letters go [default: a folder of the system's temporary ones]
    #[arg(long, value_name = "DIR")]
    letters: Option<PathBuf>,
    /// What is known of the days to come: nothing, or the next 7 days as they will be
    #[arg(long, value_enum, default_value = "none")]
    forecast: Forecast,
    /// One JSON object a notice instead of words
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Forecast {
    None,
    Perfect,
}

/// Batch and step, and the day on which they were first told.
type FirstTold = HashMap<(String, String), NaiveDate>;

impl Rehearse {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        let config = self.config.load()?;
        let span = match (self.from, self.to, season(&config)) {
            (Some(from), Some(to), _) => (from, to),
            (from, to, Some((first, last))) => (from.unwrap_or(first), to.unwrap_or(last)),
            _ => return Err(Exit::Data.because("there is no season to play: the register has no batch, or no temperature file covers one. Run `graftwarden check`.")),
        };
        if span.0 > span.1 {
            return Err(usage(format!(
                "the last day {} lies before the first day {}",
                span.1, span.0
            )));
        }
        let letters = match &self.letters {
            Some(letters) => letters.clone(),
            None => own_folder()?,
        };
        let foresight = match self.forecast {
            Forecast::None => Foresight::None,
            Forecast::Perfect => Foresight::Perfect,
        };
        let (house, clock) = house(config, &letters, foresight)?;
        if !self.json {
            writeln!(
                out,
                "{}: the season from {} to {}, round by round",
                house.config.name, span.0, span.1
            )?;
        }
        let mut first_told = FirstTold::new();
        let mut letters_written = 0;
        let mut failed = None;
        runtime()?.block_on(play(&house, &clock, span, |played| {
            letters_written += played.outcome.letters.len();
            remember(&mut first_told, &house, &played);
            let written = if self.json {
                write_json(out, &house, &played)
            } else {
                write_round(out, &house, &played)
            };
            failed = written.err();
            failed.is_none()
        }))?;
        if let Some(error) = failed {
            return Err(error);
        }
        if !self.json {
            writeln!(
                out,
                "\n{} in {}\n",
                count_of(letters_written as u32, "letter"),
                shown(&letters)
            )?;
            write_table(out, &house, span.1, &first_told)?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// A folder outside the project, emptied of the letters of an earlier rehearsal.
fn own_folder() -> anyhow::Result<PathBuf> {
    let folder = std::env::temp_dir().join("graftwarden-rehearsal");
    std::fs::create_dir_all(&folder)
        .with_context(|| format!("cannot make the folder {}", shown(&folder)))?;
    let earlier = std::fs::read_dir(&folder)
        .with_context(|| format!("cannot read the folder {}", shown(&folder)))?;
    for file in earlier
        .flatten()
        .filter(|f| f.path().extension().is_some_and(|e| e == "eml"))
    {
        std::fs::remove_file(file.path())
            .with_context(|| format!("cannot remove {}", shown(&file.path())))?;
    }
    Ok(folder)
}

fn remember(first_told: &mut FirstTold, house: &House, played: &Played) {
    let told_on = played
        .slot
        .at
        .with_timezone(&house.config.zone)
        .date_naive();
    for notice in played.outcome.tellings.iter().map(|t| &t.notice) {
        if let (Kind::Opens | Kind::Late | Kind::OverCallusRisk, Some(batch), Some(step)) =
            (notice.kind, notice.about.batch(), &notice.step)
        {
            first_told
                .entry((batch.to_owned(), step.clone()))
                .or_insert(told_on);
        }
    }
}

fn write_json(out: &mut dyn Write, house: &House, played: &Played) -> anyhow::Result<()> {
    let round_at = played
        .slot
        .at
        .with_timezone(&house.config.zone)
        .to_rfc3339();
    for Telling { notice, letters } in &played.outcome.tellings {
        let (to, letter): (Vec<&String>, Vec<&String>) =
            letters.iter().map(|(to, id)| (to, id)).unzip();
        let object = json!({
            "round_at": round_at,
            "kind": notice.kind.name(),
            "site": notice.about.site(),
            "block": notice.about.block(),
            "batch": notice.about.batch(),
            "step": notice.step,
            "on": notice.on,
            "level": notice.level.map(crate::care::Level::name),
            "heat_cday": notice.heat.map(|h| figure(h.0)),
            "standard_days": notice.standard_days.map(|s| figure(s.0)),
            "days": notice.days,
            "by": notice.by.map(crate::care::By::name),
            "urgent": notice.urgent,
            "batches": notice.batches,
            "says": notice.say,
            "to": to,
            "letter": letter,
        });
        writeln!(out, "{object}")?;
    }
    Ok(())
}

/// One round: its date, then a line for each thing told, then who got a letter.
fn write_round(out: &mut dyn Write, house: &House, played: &Played) -> anyhow::Result<()> {
    if played.outcome.tellings.is_empty() {
        return Ok(());
    }
    let at = played.slot.at.with_timezone(&house.config.zone);
    writeln!(out, "\n{}", at.format("%a %-d %b %Y, %H:%M"))?;
    let mut waiting: Vec<&Notice> = played.outcome.tellings.iter().map(|t| &t.notice).collect();
    while let Some(&first) = waiting.first() {
        let alike = |n: &&Notice| same_line(house, n, first);
        let (together, rest): (Vec<&Notice>, Vec<&Notice>) = waiting.into_iter().partition(alike);
        for line in lines(&together, house) {
            writeln!(out, "  {line}")?;
        }
        waiting = rest;
    }
    for letter in &played.outcome.letters {
        writeln!(
            out,
            "    to {}: {}",
            letter.name,
            cut(&letter.subject, 100 - 9 - letter.name.chars().count())
        )?;
    }
    if played.outcome.letters.is_empty() {
        writeln!(out, "    to nobody: no person in the config takes this")?;
    }
    Ok(())
}

fn same_line(house: &House, a: &Notice, b: &Notice) -> bool {
    a.kind == b.kind
        && a.step == b.step
        && a.about.site() == b.about.site()
        && a.about.block() == b.about.block()
        && a.urgent == b.urgent
        && (a.n > 1) == (b.n > 1)
        && title_of(house, a) == title_of(house, b)
        && (a.about.batch().is_some() || (a.digest.is_some() && a.anchor == b.anchor))
        || std::ptr::eq(a, b)
}

/// What was told in one line or, with many batches, several.
fn lines(notices: &[&Notice], house: &House) -> Vec<String> {
    let first = notices[0];
    let place = match (first.about.site(), first.about.block()) {
        (Some(site), Some(block)) if house.config.sites.len() > 1 => {
            format!("{site}, block {block}: ")
        }
        (_, Some(block)) => format!("block {block}: "),
        (Some(site), None) => format!("{site}: "),
        (None, None) => String::new(),
    };
    let names: Vec<String> = notices
        .iter()
        .filter_map(|n| n.about.batch().map(str::to_owned))
        .collect();
    let step = title_of(house, first);
    let on = day_short(first.on);
    let text = match first.kind {
        Kind::Opens if first.n > 1 => {
            format!("{place}{step}, open again since {on}: {}", names.join(", "))
        }
        Kind::Opens => format!("{place}{step}, open since {on}: {}", names.join(", ")),
        Kind::Sisters => format!(
            "{place}{step} at sisters, for lines show since {on}: {}",
            names.join(", ")
        ),
        Kind::Sentinel => format!("{place}{step} early, to learn: {}", names.join(", ")),
        Kind::Late => format!("{place}{step} is late, closed {on}: {}", names.join(", ")),
        Kind::NoLongerDue => format!("{place}{step} is no longer due: {}", names.join(", ")),
        Kind::OverCallused => {
            format!(
                "{place}URGENT, over-callused, seen {on}: {}",
                names.join(", ")
            )
        }
        Kind::OverCallusRisk => {
            let about = if first.until.is_some() { "about " } else { "" };
            // What was told before has moved.
            let now = if first.n > 1 { ", now" } else { "" };
            format!(
                "{place}URGENT, risk of over-callusing{now} by {about}{on}: {}",
                names.join(", ")
            )
        }
        Kind::HeatSpike => {
            let level = first.level.map_or("", crate::care::Level::name);
            format!("{place}URGENT, {level}, {}", stretch(first))
        }
        Kind::LastGraft => format!(
            "{place}the last safe day for {} is {}",
            first
                .anchor
                .split_once(" by ")
                .map_or("grafting", |(_, plan)| plan),
            first.until.map_or_else(String::new, day_short)
        ),
        Kind::Wind => format!("{place}URGENT, strong wind, {}", stretch(first)),
        Kind::Frost => format!("{place}frost, {}", stretch(first)),
        Kind::Rain => format!("{place}rain on new grafts, {}", stretch(first)),
        Kind::SpellOver => format!("{place}the hot spell is over, {}", stretch(first)),
        Kind::ColdStall => format!("{place}cold, windows move out, {}", stretch(first)),
        Kind::RiskOver if names.is_empty() => format!(
            "{place}{} is not to come any more, {}",
            first.step.as_deref().unwrap_or_default(),
            stretch(first)
        ),
        Kind::RiskOver => format!(
            "{place}risk of over-callusing by {on} does not press any more: {}",
            names.join(", ")
        ),
        Kind::NoTemperatures => format!(
            "{place}no temperatures since {}",
            first.until.map_or_else(|| "ever".into(), day_short)
        ),
        Kind::Trouble => format!("trouble: {}", first.say),
        Kind::LastCall => format!(
            "{place}{step}, last working day before it closes on {}{on}: {}",
            if first.until.is_some() { "about " } else { "" },
            names.join(", ")
        ),
        Kind::HeadsUp => format!("{place}{step} from tomorrow: {}", names.join(", ")),
        Kind::CatchUp => format!("catching up after days off: {}", people(notices, house)),
        Kind::LookAhead => format!("looking ahead over days off: {}", people(notices, house)),
        Kind::Reminder => format!("still not written down: {}", people(notices, house)),
        Kind::Weekly => format!("the weekly letter: {}", people(notices, house)),
        Kind::Season => format!("the season of {}: {}", first.anchor, people(notices, house)),
    };
    table::fold(&text, 96, "    ")
}

/// The people whom these notices concern, by name.
fn people(notices: &[&Notice], house: &House) -> String {
    let people = house.config.people.iter();
    let concerned = people.filter(|p| notices.iter().any(|n| n.about.subject() == p.email));
    let names: Vec<&str> = concerned.map(|p| p.name.as_str()).collect();
    names.join(", ")
}

/// The days of a stretch as they were told, and the batches it concerns.
fn stretch(notice: &Notice) -> String {
    let first = notice.anchor.split(' ').next().unwrap_or_default();
    let first = first
        .parse()
        .map_or_else(|_| notice.anchor.clone(), day_short);
    let last = notice.until.map_or_else(String::new, day_short);
    format!("{first} to {last}: {}", notice.batches.join(", "))
}

/// What the step is called in the plan of the batch: plans share ids, but not titles. What a notice of a batch hangs on
/// names the plan: "2026-08-03 by apple chip bud", with a turn behind it or not.
fn title_of<'a>(house: &'a House, notice: &'a Notice) -> &'a str {
    let Some(id) = notice.step.as_deref() else {
        return "";
    };
    let hangs_on = notice
        .anchor
        .split_once(" by ")
        .map_or("", |(_, plan)| plan);
    let its = |name: &str| {
        let behind = hangs_on.strip_prefix(name);
        behind.is_some_and(|turn| turn.is_empty() || turn.starts_with(", "))
    };
    let plan = house.config.plans.iter().find(|plan| its(&plan.name));
    plan.and_then(|plan| plan.step(id))
        .map_or(id, |step| step.title.as_str())
}

/// Every step that opened or was done: when, and how many days were in hand when it was.
fn write_table(
    out: &mut dyn Write,
    house: &House,
    today: NaiveDate,
    first_told: &FirstTold,
) -> anyhow::Result<()> {
    let now = house.clock.now();
    let rows = house.with_store(|memory| {
        survey(memory, &house.config, When::Now(now), |survey| {
            rows(&survey, today, first_told)
        })
    })?;
    let columns = [
        ("batch", Set::Left),
        ("step", Set::Left),
        ("opened on", Set::Left),
        ("told on", Set::Left),
        ("done on", Set::Left),
        ("days in hand", Set::Right),
    ];
    table::write(out, &columns, &rows)?;
    writeln!(
        out,
        "\nDays in hand: from the day it was done (or today, where it was not) to the last day in time."
    )?;
    Ok(())
}

/// "3", "98 late".
fn in_hand(days: i64) -> String {
    if days < 0 {
        format!("{} late", -days)
    } else {
        days.to_string()
    }
}

fn rows(survey: &Survey<'_>, today: NaiveDate, first_told: &FirstTold) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    for care in &survey.cares {
        let shown = |s: &&StepCare<'_>| {
            s.step.opens.repeat.is_none() && (s.state != State::Ahead || s.progress.done > 0)
        };
        for step in care.steps.iter().filter(shown) {
            let day = |date: Option<NaiveDate>| date.map_or_else(|| "-".into(), day_short);
            let done = match (step.state, step.progress.done_on) {
                (State::Done, Some(date)) => day_short(date),
                (State::PassedOver, _) => "passed over".into(),
                _ if step.progress.done > 0 => {
                    format!("{} of {}", step.progress.done, step.progress.of)
                }
                _ => "not done".into(),
            };
            let until = step.progress.done_on.unwrap_or(today);
            let hand = step
                .closes_on
                .filter(|_| step.state != State::PassedOver)
                .map(|close| (close - until).num_days());
            let told = first_told
                .get(&(care.batch.name.clone(), step.step.id.clone()))
                .copied();
            rows.push(vec![
                care.batch.name.clone(),
                step.step.title.clone(),
                day(step.opened.map(|o| o.on)),
                day(told),
                done,
                hand.map_or_else(|| "-".into(), in_hand),
            ]);
        }
    }
    rows
}
