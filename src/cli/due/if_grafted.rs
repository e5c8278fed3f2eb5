//! `due --if-grafted`: which of the next fourteen days is good for grafting, and what would follow from each.

use crate::care::{
    Against, BatchCare, DayAsked, DayLoad, FORTNIGHT, Ground, IfGrafted, Outlook, StepAsked,
    workload,
};
use crate::cli::exit::{Exit, usage};
use crate::cli::figure;
use crate::cli::table::{self, Set};
use crate::config::Config;
use crate::days::PastYears;
use crate::letters::grafting::{advice, against, dry, how_sure, no_last_graft, unsure};
use crate::letters::{count_of, day_short, span};
use crate::nursery::Plan;
use crate::register::instead;
use crate::survey::Survey;
use chrono::{Datelike, Days, NaiveDate};
use serde_json::json;
use std::io::Write;
use std::str::FromStr;

/// Grafts are asked about by the hundred unless it is said how many.
const USUALLY: u32 = 100;
/// Nobody plans grafting further ahead than a year.
const FARTHEST: Days = Days::new(366);
/// Work that is there anyway is looked at so far ahead: a graft is out of its tape by then.
const BESIDE: usize = 120;

/// `D[,plan][,count]` as it was typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    first: NaiveDate,
    plan: Option<String>,
    grafts: u32,
}

impl FromStr for Question {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let mut parts = text.split(',').map(str::trim);
        let first = crate::cli::date(parts.next().unwrap_or_default())?;
        let (mut plan, mut grafts) = (None, None);
        for part in parts {
            let is_number =
                part.starts_with(['-', '+']) || part.chars().all(|c| c.is_ascii_digit());
            match (is_number && !part.is_empty(), &plan, grafts) {
                (true, _, None) => grafts = Some(count(part)?),
                (false, None, None) if !part.is_empty() => plan = Some(part.to_owned()),
                _ => {
                    return Err(format!(
                        "'{text}' is not a day, a plan and a number; write it like \"2026-08-17,maple field T-graft,200\", plan and number if needed"
                    ));
                }
            }
        }
        Ok(Self {
            first,
            plan,
            grafts: grafts.unwrap_or(USUALLY),
        })
    }
}

fn count(text: &str) -> Result<u32, String> {
    match text.parse() {
        Ok(0) => Err("0 grafts need nothing; write how many are to be made".into()),
        Ok(n) if n <= 1_000_000 => Ok(n),
        _ => Err(format!(
            "'{text}' is not a number of grafts; write it like 200"
        )),
    }
}

/// Where the question is asked, with everything needed to answer it.
struct Asked<'a> {
    config: &'a Config,
    question: &'a Question,
    ground: &'a Ground<'a>,
    plan: &'a Plan,
    days: Vec<DayAsked<'a>>,
}

/// Answers the question.
pub fn answer(
    out: &mut dyn Write,
    config: &Config,
    survey: &Survey<'_>,
    question: &Question,
    site: Option<&str>,
    in_json: bool,
) -> anyhow::Result<()> {
    let (ground, past) = place(survey, site)?;
    let today = ground.moment.today;
    if question.first < today {
        return Err(usage(format!(
            "{} is past; ask about a day from {today} on",
            question.first
        )));
    }
    if today
        .checked_add_days(FARTHEST)
        .is_none_or(|last| question.first > last)
    {
        return Err(usage(format!(
            "{} is more than a year ahead; ask about a nearer day",
            question.first
        )));
    }
    let plan = plan(config, survey, ground, question)?;
    let beside = beside(survey, config, today);
    let asked = IfGrafted {
        ground,
        past,
        plan,
        workdays: &config.workdays,
        grafts: question.grafts,
        beside: &beside,
    };
    let days = asked.days(question.first, FORTNIGHT);
    if days.is_empty() {
        return Err(Exit::Unavailable.because(format!(
            "nothing is known of the temperatures at {}, so no date can be given; check its sources with `graftwarden check`",
            ground.site.id
        )));
    }
    let asked = Asked {
        config,
        question,
        ground,
        plan,
        days,
    };
    if in_json {
        asked.write_json(out)
    } else {
        asked.write(out)
    }
}

fn beside(survey: &Survey<'_>, config: &Config, today: NaiveDate) -> Vec<DayLoad> {
    let outlook = Outlook::new(survey.grounds, survey.past, &survey.cares);
    workload(&survey.cares, &outlook, &config.workdays, today, BESIDE)
}

/// The site asked about, or the only one.
fn place<'s>(
    survey: &Survey<'s>,
    site: Option<&str>,
) -> anyhow::Result<(&'s Ground<'s>, &'s PastYears)> {
    let mut sites = survey.grounds.iter().zip(survey.past);
    let names: Vec<&str> = survey.grounds.iter().map(|g| g.site.id.as_str()).collect();
    let found = match site {
        Some(name) => sites.find(|(g, _)| g.site.id == name),
        None if names.len() == 1 => sites.next(),
        None => {
            return Err(usage(format!(
                "there are several sites with a weather of their own; say which one with --site: {}",
                names.join(", ")
            )));
        }
    };
    found.ok_or_else(|| {
        let name = site.unwrap_or_default();
        usage(format!(
            "there is no site '{name}'; {}",
            instead(name, names)
        ))
    })
}

/// The plan asked about, or the only one that is in use at the site.
fn plan<'c>(
    config: &'c Config,
    survey: &Survey<'_>,
    ground: &Ground<'_>,
    question: &Question,
) -> anyhow::Result<&'c Plan> {
    let names = || config.plans.iter().map(|plan| plan.name.as_str());
    if let Some(name) = &question.plan {
        let same = |plan: &&Plan| plan.name.eq_ignore_ascii_case(name);
        return config.plans.iter().find(same).ok_or_else(|| {
            let offer = instead(name, names());
            usage(format!("there is no care plan '{name}'; {offer}"))
        });
    }
    let here = |care: &&BatchCare<'_>| care.batch.site == ground.site.id && care.is_open();
    let mut used: Vec<&str> = survey
        .cares
        .iter()
        .filter(here)
        .map(|c| c.batch.plan.as_str())
        .collect();
    used.sort_unstable();
    used.dedup();
    let only = match used[..] {
        [only] => config.plans.iter().find(|plan| plan.name == only),
        [] if config.plans.len() == 1 => config.plans.first(),
        _ => None,
    };
    only.ok_or_else(|| {
        let offered: Vec<&str> = if used.is_empty() {
            names().collect()
        } else {
            used
        };
        usage(format!(
            "say by which care plan, as in --if-grafted \"{},{}\": {}",
            question.first,
            offered.first().unwrap_or(&"maple field T-graft"),
            offered.join(", ")
        ))
    })
}

impl Asked<'_> {
    fn write(&self, out: &mut dyn Write) -> anyhow::Result<()> {
        let today = self.ground.moment.today;
        writeln!(
            out,
            "{}, {} at {}, if grafted on\n",
            self.plan.name,
            count_of(self.question.grafts, "graft"),
            self.ground.site.id
        )?;
        let titles: Vec<&str> = self.days[0].steps.iter().map(|s| s.title).collect();
        let mut columns = vec![("", Set::Left)];
        columns.extend(titles.iter().map(|title| (*title, Set::Left)));
        columns.push(("fullest day", Set::Right));
        let row = |day: &DayAsked<'_>| {
            let star = if day.fit.against.contains(&Against::DayOff) {
                "*"
            } else {
                ""
            };
            let mut row = vec![day_short(day.date) + star];
            row.extend(day.steps.iter().map(cell));
            row.push(fullest(day));
            row
        };
        let rows: Vec<Vec<String>> = self.days.iter().map(row).collect();
        table::write(out, &columns, &rows)?;
        writeln!(
            out,
            "\n* a day off. (1-5) = between these days of the month eight times out of ten. Fullest day: crew hours"
        )?;
        writeln!(
            out,
            "of these grafts and, no more in nine cases of ten, of all else that is due on it."
        )?;
        if self.days[0].rough {
            writeln!(
                out,
                "The dates are rough: no year before is known, so the days to come are taken to be as warm as the last 14."
            )?;
        }
        writeln!(out)?;
        // Days in a row of which the same is to be said share a line.
        let said: Vec<(NaiveDate, String)> = self
            .days
            .iter()
            .map(|day| (day.date, self.said(day, today)))
            .collect();
        for days in said.chunk_by(|a, b| a.1 == b.1) {
            writeln!(
                out,
                "{}: {}",
                span(days[0].0, days[days.len() - 1].0),
                days[0].1
            )?;
        }
        self.write_last(out)?;
        writeln!(out, "\n{}", advice(&self.days, self.config.units))?;
        Ok(())
    }

    /// What is to be said of one day beside its dates and that nobody works on it.
    fn said(&self, day: &DayAsked<'_>, today: NaiveDate) -> String {
        let units = self.config.units;
        let found = day
            .fit
            .against
            .iter()
            .filter(|found| **found != Against::DayOff);
        let mut said: Vec<String> = found.map(|found| against(found, units)).collect();
        if said.is_empty() && !day.is_unknown() {
            said.push("suits".into());
        }
        said.extend(day.fit.unsure.iter().map(|what| unsure(*what)));
        said.extend(day.fit.dry.map(|rain| dry(rain, day.date, today, units)));
        said.join("; ")
    }

    fn write_last(&self, out: &mut dyn Write) -> anyhow::Result<()> {
        match self.ground.last_graft(&self.plan.name) {
            Some(Ok(last)) => {
                if let Some((day, _)) = last.of_season(self.question.first) {
                    let sure = how_sure(&last, self.question.first).unwrap_or_default();
                    writeln!(
                        out,
                        "\nThe last safe day is {}. {sure}",
                        crate::letters::day(day)
                    )?;
                }
            }
            Some(Err(why)) => {
                writeln!(out, "\n{}.", crate::letters::capital(no_last_graft(why)))?;
            }
            None => {}
        }
        Ok(())
    }

    fn write_json(&self, out: &mut dyn Write) -> anyhow::Result<()> {
        let units = self.config.units;
        for day in &self.days {
            let fit = &day.fit;
            let suits = match (fit.against.is_empty(), day.is_unknown()) {
                (false, _) => Some(false),
                (true, true) => None,
                (true, false) => Some(true),
            };
            let object = json!({
                "grafted_on": day.date,
                "site": self.ground.site.id,
                "plan": self.plan.name,
                "grafts": self.question.grafts,
                "suits": suits,
                "against": fit.against.iter().map(|a| against(a, units)).collect::<Vec<_>>(),
                "not_known": fit.unsure.iter().map(|what| unsure(*what)).collect::<Vec<_>>(),
                "rain_7_days_mm_if_dry": fit.dry.map(figure),
                "rough": day.rough,
                "steps": day.steps.iter().map(step_json).collect::<Vec<_>>(),
            });
            writeln!(out, "{object}")?;
        }
        let last = self.ground.last_graft(&self.plan.name);
        let season = last.and_then(|last| last.ok()?.of_season(self.question.first));
        let object = json!({
            "last_safe_day": season.map(|(day, _)| day),
            "first_frost": season.map(|(_, frost)| frost),
            "advice": advice(&self.days, units),
        });
        writeln!(out, "{object}")?;
        Ok(())
    }
}

/// "Thu 3 Sep (1-5)", with a star on a day off.
fn cell(step: &StepAsked<'_>) -> String {
    let Some(middle) = step.band.p50 else {
        return "not in sight".into();
    };
    let star = if step.off { "*" } else { "" };
    let between = match (step.band.p10, step.band.p90) {
        (Some(early), Some(late)) if early == late => String::new(),
        (Some(early), Some(late)) => format!(" ({}-{})", early.day(), late.day()),
        (Some(early), None) => format!(" ({}-later)", early.day()),
        _ => String::new(),
    };
    format!("{}{star}{between}", day_short(middle))
}

/// The most crew hours on a day on which something of these grafts falls.
fn fullest(day: &DayAsked<'_>) -> String {
    let hours = |step: &StepAsked<'_>| step.hours + step.beside.unwrap_or(0.0);
    let worked = day
        .steps
        .iter()
        .filter(|step| step.hours > 0.0 && step.band.p50.is_some());
    let most = worked.map(hours).fold(0.0, f64::max);
    if most > 0.0 {
        format!("{most:.1} h")
    } else {
        String::new()
    }
}

fn step_json(step: &StepAsked<'_>) -> serde_json::Value {
    json!({
        "step": step.id,
        "p10": step.band.p10,
        "p50": step.band.p50,
        "p90": step.band.p90,
        "day_off": step.off,
        "hours": figure(step.hours),
        "hours_beside_p90": step.beside.map(figure),
    })
}
