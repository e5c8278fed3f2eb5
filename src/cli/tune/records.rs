//! `tune` from the field records: what each group has taught, and what that moves for the batches that wait for lines.

use super::Tune;
use crate::care::{
    BatchCare, Group, LEAST_BATCHES, Learn, Outlook, State, Tuned, look_for_lines, prior,
};
use crate::cli::exit::{Exit, config_trouble};
use crate::cli::look::Look;
use crate::cli::table::{self, Set};
use crate::clock::{Clock, SystemClock};
use crate::config::Config;
use crate::letters::{day_short, list, tuned};
use crate::notices::{Kind, Ledger};
use crate::nursery::Plan;
use crate::outlook::Requirement;
use crate::problem::Problem;
use crate::survey::{Survey, When, survey};
use chrono::NaiveDate;
use serde_json::json;
use std::collections::BTreeSet;
use std::io::Write;

/// What one group has taught.
struct Taught {
    name: String,
    plan: String,
    scion: Option<String>,
    /// Batches looked at, and those of them with lines.
    batches: usize,
    with_lines: usize,
    /// Batches of which an early look was asked.
    asked_early: usize,
    usual: Requirement,
    need: Requirement,
}

/// A batch that waits for lines: when its first look opens by the plan, and by what was learned.
struct Moves {
    batch: String,
    plan: String,
    scion: String,
    without: Option<NaiveDate>,
    with: Option<NaiveDate>,
    tuned: Option<Tuned>,
}

impl Tune {
    /// What the field records say, by care plan and scion; how many batches were left out.
    pub(super) fn of_records(&self, out: &mut dyn Write) -> anyhow::Result<usize> {
        let config = self.config.load()?;
        if config.learn == Learn::Off {
            return Err(config_trouble(
                "learn = \"off\" in the config: nothing is learned from the field records. Write learn = \"show\" to see it.",
            ));
        }
        let now = SystemClock.now();
        let today = self
            .on
            .unwrap_or_else(|| now.with_timezone(&config.zone).date_naive());
        let when = self.on.map_or(When::Now(now), |day| When::On(day, now));
        let mut look = Look::new(&config)?;
        look.complain();
        let surveyed = |learn: Learn| Config {
            learn,
            ..config.clone()
        };
        let (shown, used) = (surveyed(Learn::Show), surveyed(Learn::Use));
        let (taught, without, problems) = look.read(|memory| {
            let ledger = memory.ledger()?;
            survey(memory, &shown, when, |survey| {
                let taught = self.taught(&survey, &config.plans, &ledger, today);
                let contradictions = contradictions(&survey, today);
                (taught, first_looks(&survey), contradictions)
            })
        })?;
        let with = look.read(|memory| survey(memory, &used, when, |s| first_looks(&s)))?;
        for problem in &problems {
            eprintln!("{problem}");
        }
        let taught = taught?;
        if taught.is_empty() {
            return Err(Exit::Unavailable.because(
                "there is nothing to learn from yet: no batch has a field record of lines or no-lines. Write down what each look shows, as in: graftwarden note C-14 lines --count 3/10",
            ));
        }
        let moves: Vec<Moves> = without
            .into_iter()
            .map(|plain| {
                let moved = with.iter().find(|moved| moved.batch == plain.batch);
                Moves {
                    with: moved.and_then(|moved| moved.with),
                    tuned: moved.and_then(|moved| moved.tuned.clone()),
                    ..plain
                }
            })
            .collect();
        if self.json {
            for group in &taught {
                writeln!(out, "{}", as_json(group, &moves))?;
            }
        } else {
            write(out, &taught, &moves, config.learn)?;
        }
        Ok(problems.len())
    }

    /// Every group that was looked at, and every such plan that has more than that one scion.
    fn taught(
        &self,
        survey: &Survey<'_>,
        plans: &[Plan],
        ledger: &Ledger,
        today: NaiveDate,
    ) -> anyhow::Result<Vec<Taught>> {
        let mut groups: BTreeSet<Group<'_>> = BTreeSet::new();
        for plan in plans {
            let of_plan = Group {
                plan: &plan.name,
                scion: None,
            };
            let scions: BTreeSet<&str> = survey
                .lessons
                .in_group(of_plan)
                .map(|lesson| lesson.scion.as_str())
                .collect();
            let of_another = |care: &BatchCare<'_>| {
                care.batch.plan == plan.name && !scions.contains(care.batch.scion.as_str())
            };
            if scions.len() > 1 || scions.contains("") || survey.cares.iter().any(of_another) {
                groups.insert(of_plan);
            }
            groups.extend(
                scions
                    .into_iter()
                    .filter(|s| !s.is_empty())
                    .map(|scion| Group {
                        plan: &plan.name,
                        scion: Some(scion),
                    }),
            );
        }
        let mut taught = Vec::new();
        for group in groups {
            let plan = plans.iter().find(|plan| plan.name == group.plan);
            let Some(usual) = plan.and_then(prior) else {
                continue;
            };
            let prior = self.prior(usual)?;
            let (batches, with_lines) = survey.lessons.count(group, today);
            let season = this_season(survey, group, today);
            let learned = survey.lessons.learned(group, &prior, (today, season), None);
            let Some((need, _)) = learned else { continue };
            let asked = |name: &str| !ledger.of(Kind::Sentinel, name).is_empty();
            taught.push(Taught {
                name: match group.scion {
                    Some(scion) => format!("{}, {scion}", group.plan),
                    None => format!("{}, every scion", group.plan),
                },
                plan: group.plan.to_owned(),
                scion: group.scion.map(str::to_owned),
                batches,
                with_lines,
                asked_early: survey
                    .lessons
                    .in_group(group)
                    .filter(|lesson| asked(&lesson.batch))
                    .count(),
                usual: prior.requirement(),
                need,
            });
        }
        Ok(taught)
    }
}

/// The season of today where a group stands.
fn this_season(survey: &Survey<'_>, group: Group<'_>, today: NaiveDate) -> i32 {
    let here = |care: &&BatchCare<'_>| care.batch.plan == group.plan;
    let seasons = survey
        .cares
        .iter()
        .filter(here)
        .map(|care| care.site.hemisphere().season(today));
    seasons.max().unwrap_or_default()
}

fn contradictions(survey: &Survey<'_>, today: NaiveDate) -> Vec<Problem> {
    let lessons = survey.cares.iter().filter_map(crate::care::Lesson::of);
    lessons
        .filter_map(|lesson| lesson.known_on(today)?.err())
        .collect()
}

/// The batches whose first look has not opened or is not answered: when it opens, by the forecast or about.
fn first_looks(survey: &Survey<'_>) -> Vec<Moves> {
    let outlook = Outlook::new(survey.grounds, survey.past, &survey.cares);
    let waits = |care: &BatchCare<'_>| {
        let look = care.step(&look_for_lines(care.plan)?.id)?;
        if !care.is_open() || look.state.is_past() || look.state == State::Late {
            return None;
        }
        let foreseen = || outlook.of(care, look)?.band.p50;
        let opens = look.opened.map(|o| o.on).or_else(foreseen);
        Some(Moves {
            batch: care.batch.name.clone(),
            plan: care.batch.plan.to_string(),
            scion: care.batch.scion.to_string(),
            without: opens,
            with: opens,
            tuned: care.lines.tuned.as_deref().cloned(),
        })
    };
    survey.cares.iter().filter_map(waits).collect()
}

impl Moves {
    fn is_of(&self, group: &Taught) -> bool {
        self.plan == group.plan
            && group
                .scion
                .as_ref()
                .is_none_or(|scion| *scion == self.scion)
    }

    /// "Thu 6 Aug instead of Sat 8 Aug, 2 days sooner".
    fn words(&self) -> String {
        let (Some(with), Some(without)) = (self.with, self.without) else {
            return "not in sight".into();
        };
        let days = (with - without).num_days();
        let by = match days.abs() {
            1 => "1 day".to_owned(),
            days => format!("{days} days"),
        };
        match days {
            0 => format!("{}, as by the plan", day_short(with)),
            1.. => format!(
                "{} instead of {}, {by} later",
                day_short(with),
                day_short(without)
            ),
            _ => format!(
                "{} instead of {}, {by} sooner",
                day_short(with),
                day_short(without)
            ),
        }
    }
}

fn as_json(group: &Taught, moves: &[Moves]) -> serde_json::Value {
    let (low, high) = group.need.band80();
    let moves = moves.iter().filter(|moves| moves.is_of(group));
    let moves = moves.filter(|moves| moves.tuned.is_some()).map(|moves| {
        json!({
            "batch": moves.batch,
            "opens_on": moves.without,
            "tuned_opens_on": moves.with,
        })
    });
    json!({
        "group": group.name,
        "n": group.batches,
        "need": group.need.need,
        "sd": group.need.sd,
        "low80": low,
        "high80": high,
        "with_lines": group.with_lines,
        "asked_early": group.asked_early,
        "usual": group.usual.need,
        "usual_sd": group.usual.sd,
        "tunes": group.with_lines >= LEAST_BATCHES,
        "moves": moves.collect::<Vec<_>>(),
    })
}

fn write(
    out: &mut dyn Write,
    taught: &[Taught],
    moves: &[Moves],
    learn: Learn,
) -> anyhow::Result<()> {
    writeln!(out, "Standard days from grafting until callus lines\n")?;
    let columns = [
        ("group", Set::Left),
        ("batches", Set::Right),
        ("with lines", Set::Right),
        ("asked early", Set::Right),
        ("by the plan", Set::Right),
        ("learned", Set::Right),
        ("sd", Set::Right),
        ("80 of 100 between", Set::Right),
    ];
    let rows: Vec<Vec<String>> = taught
        .iter()
        .map(|group| {
            let (low, high) = group.need.band80();
            vec![
                table::cut(&group.name, 50),
                group.batches.to_string(),
                group.with_lines.to_string(),
                group.asked_early.to_string(),
                format!("{:.2}", group.usual.need),
                format!("{:.2}", group.need.need),
                format!("{:.3}", group.need.sd),
                format!("{low:.1} and {high:.1}"),
            ]
        })
        .collect();
    table::write(out, &columns, &rows)?;
    writeln!(out)?;
    write_moves(out, moves, learn)
}

fn write_moves(out: &mut dyn Write, moves: &[Moves], learn: Learn) -> anyhow::Result<()> {
    let (moved, as_planned): (Vec<&Moves>, Vec<&Moves>) =
        moves.iter().partition(|moves| moves.tuned.is_some());
    if moves.is_empty() {
        writeln!(out, "No batch waits for callus lines.")?;
        return Ok(());
    }
    if !as_planned.is_empty() {
        let names: Vec<String> = as_planned.iter().map(|m| m.batch.clone()).collect();
        writeln!(
            out,
            "By the plan, for fewer than {LEAST_BATCHES} batches with lines are known: {}.",
            list(&names)
        )?;
    }
    if moved.is_empty() {
        return Ok(());
    }
    let lead = if learn == Learn::Use {
        "So the first look at callus lines opens"
    } else {
        "With learn = \"use\" in the config the first look at callus lines would open"
    };
    writeln!(out, "{lead}:")?;
    let rows: Vec<Vec<String>> = moved
        .iter()
        .map(|moves| {
            vec![
                table::cut(&moves.batch, 16),
                moves.words(),
                moves.tuned.as_ref().map_or_else(String::new, tuned),
            ]
        })
        .collect();
    let columns = [("batch", Set::Left), ("opens", Set::Left), ("", Set::Left)];
    table::write(out, &columns, &rows)?;
    Ok(())
}
