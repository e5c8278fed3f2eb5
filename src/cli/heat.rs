//! `heat`: the heat of a temperature file, and when a need will be met.

mod arrival;
mod many;

use super::exit::{Exit, usage};
use super::{date, shown};
use crate::days::{Origin, RawDay, Thresholds, Verdict, judge};
use crate::heat::Extremes;
use crate::heat::ask::{Answer, Question, Series, answer};
use crate::letters::count_of;
use crate::nursery::{Cutoff, Method, Model};
use crate::problem::Problem;
use crate::weather::csv_file;
use crate::weather::layout::{Columns, Layout, Unit};
use chrono::NaiveDate;
use clap::{Args, ValueEnum};
use serde_json::json;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Heat of a temperature file from one day to another, both included, and the day on which a need was met.
#[derive(Debug, Args)]
pub struct Heat {
    /// The temperatures: a CSV file with date, `tmin_c` and `tmax_c` (or `tmin_f`, `tmax_f`, or columns named below)
    #[arg(long, value_name = "FILE")]
    temps: PathBuf,
    /// The column with the date
    #[arg(long, value_name = "NAME")]
    date_column: Option<String>,
    /// The column with the minimum
    #[arg(long, value_name = "NAME")]
    min_column: Option<String>,
    /// The column with the maximum
    #[arg(long, value_name = "NAME")]
    max_column: Option<String>,
    /// The unit of the temperatures in the file, where its columns do not say it
    #[arg(long, value_enum)]
    unit: Option<FileUnit>,
    /// average, clamped-average, single-triangle, double-triangle, single-sine, double-sine, growing-degree-hours or beta
    #[arg(long, default_value = "single-sine", value_parser = method)]
    method: Method,
    /// none, horizontal, intermediate or vertical
    #[arg(long, default_value = "none", value_parser = cutoff)]
    cutoff: Cutoff,
    /// Base temperature in °C
    #[arg(long, default_value_t = 5.0, allow_negative_numbers = true)]
    base: f64,
    /// Optimum temperature in °C, for growing-degree-hours and beta
    #[arg(long, allow_negative_numbers = true)]
    optimum: Option<f64>,
    /// Upper temperature in °C
    #[arg(long, allow_negative_numbers = true)]
    upper: Option<f64>,
    /// The first day that counts [default: the first of the file]
    #[arg(long, value_parser = date)]
    from: Option<NaiveDate>,
    /// The last day that counts [default: the last of the file]
    #[arg(long, value_parser = date)]
    to: Option<NaiveDate>,
    /// The heat whose day is wanted, in °C·d (or the unit of the method)
    #[arg(long)]
    need: Option<f64>,
    /// One JSON object instead of words
    #[arg(long)]
    json: bool,
    /// Many questions at once: a CSV file with any of from, to, need, method, cutoff, base, upper
    #[arg(long, value_name = "ASKS.csv", requires = "out")]
    asks: Option<PathBuf>,
    /// Where their answers go: the same rows with `heat_cday` and `reached_on`
    #[arg(long, value_name = "OUT.csv", requires = "asks")]
    out: Option<PathBuf>,
    #[command(flatten)]
    ahead: arrival::Ahead,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
#[value(rename_all = "UPPER")]
enum FileUnit {
    C,
    F,
}

fn method(name: &str) -> Result<Method, String> {
    Method::named(name).ok_or_else(|| {
        format!(
            "there is no such method; write one of {}",
            Method::ALL.map(Method::name).join(", ")
        )
    })
}

fn cutoff(name: &str) -> Result<Cutoff, String> {
    Cutoff::named(name).ok_or_else(|| {
        format!(
            "there is no such cutoff; write one of {}",
            Cutoff::ALL.map(Cutoff::name).join(", ")
        )
    })
}

/// What was asked, before the file's ends are known.
struct Asked {
    from: Option<NaiveDate>,
    to: Option<NaiveDate>,
    need: Option<f64>,
    model: Model,
}

impl Heat {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        let model = Model::new(
            self.method,
            self.cutoff,
            self.base,
            self.optimum,
            self.upper,
        );
        let (series, complaints) = self.read(&self.temps)?;
        for complaint in &complaints {
            eprintln!("{complaint}");
        }
        if self.ahead.arrival {
            return self.arrive(&model.map_err(usage)?, &series, !complaints.is_empty(), out);
        }
        if let (Some(asks), Some(target)) = (&self.asks, &self.out) {
            return self.answer_all(&series, asks, target);
        }
        let asked = Asked {
            from: self.from,
            to: self.to,
            need: self.need,
            model: model.map_err(usage)?,
        };
        let question = asked.question(&series).map_err(usage)?;
        let answer = answer(&series, &question);
        if self.json {
            writeln!(out, "{}", as_json(&question, &answer))?;
        } else {
            let gap = question
                .from
                .iter_days()
                .take_while(|day| *day <= question.to)
                .find(|day| !series.contains_key(day));
            write_words(out, &question, &answer, gap)?;
        }
        let spoilt = answer.heat.is_none() && !complaints.is_empty();
        Ok(if spoilt {
            Exit::Data.code()
        } else {
            ExitCode::SUCCESS
        })
    }

    /// The sound days of a file, and what was wrong with the rest.
    fn read(&self, path: &Path) -> anyhow::Result<(Series, Vec<String>)> {
        let layout = Layout {
            columns: Columns {
                date: self.date_column.clone(),
                min: self.min_column.clone(),
                max: self.max_column.clone(),
                ..Columns::default()
            },
            unit: self.unit.map(|unit| match unit {
                FileUnit::C => Unit::C,
                FileUnit::F => Unit::F,
            }),
            ..Layout::default()
        };
        let mut file = csv_file::read(path, &layout, None);
        file.problems.iter_mut().for_each(as_asked);
        if !file.usable {
            let whys: Vec<String> = file
                .problems
                .iter()
                .map(|p| format!("{}: {}; {}", p.place, p.what, p.remedy))
                .collect();
            return Err(Exit::Data.because(whys.join("\n")));
        }
        let mut complaints: Vec<String> = file.problems.iter().map(ToString::to_string).collect();
        if file.days.is_empty() {
            complaints.push(format!(
                "{}: there is no day with temperatures in it.",
                shown(path)
            ));
            return Err(Exit::Data.because(complaints.join("\n")));
        }
        let raw: Vec<RawDay> = file
            .days
            .iter()
            .map(|day| day.raw(Origin::Measured))
            .collect();
        let mut series = Series::new();
        for (day, verdict) in raw.iter().zip(judge(&raw, &Thresholds::default())) {
            if let Verdict::Rejected(reason) = verdict {
                complaints.push(format!(
                    "{}, {}: {reason}; the day counts as missing. Mend the value.",
                    shown(path),
                    day.date
                ));
            } else {
                series.insert(
                    day.date,
                    Extremes {
                        min: day.min,
                        max: day.max,
                    },
                );
            }
        }
        Ok((series, complaints))
    }
}

/// What problems of a file say of the config, and what a question about a file has for it.
const ASKED: &[(&str, &str)] = &[
    (
        "name the columns in the config, for example columns = { date = \"...\", min = \"...\", max = \"...\" }, or by number: \"#3\"",
        "name them with --date-column, --min-column and --max-column, or by number, as in --min-column '#3'",
    ),
    (
        "name two columns of one unit in the config",
        "name two columns of one unit with --min-column and --max-column",
    ),
    (
        "name the one that is meant by its number in the config",
        "name the one that is meant by its number, with --date-column, --min-column or --max-column",
    ),
    (
        "name a column for each in the config",
        "name a column for each with --min-column and --max-column",
    ),
    (
        "name other columns in the config",
        "name others with --min-column and --max-column",
    ),
    ("correct its path in the config", "correct the path"),
    ("correct the unit in the config", "correct --unit"),
    ("the config says", "--unit says"),
    (
        ", and set date_format where its dates are not written year first",
        ", and its dates written year first, as in 2026-08-18",
    ),
    (" in the config", ""),
];

/// Says of a problem what is to be done about it on the command line.
fn as_asked(problem: &mut Problem) {
    for (config, here) in ASKED {
        problem.what = problem.what.replace(config, here);
        problem.remedy = problem.remedy.replace(config, here);
    }
    if problem.remedy.starts_with("set date_format") {
        problem.remedy = "write its dates year first, as in 2026-08-18".into();
    }
}

impl Asked {
    fn question(self, series: &Series) -> Result<Question, String> {
        let ends = || {
            series
                .keys()
                .next()
                .copied()
                .zip(series.keys().next_back().copied())
        };
        let (first, last) = ends().ok_or("the file has no day with temperatures")?;
        let (from, to) = (self.from.unwrap_or(first), self.to.unwrap_or(last));
        if from > to {
            return Err(format!(
                "the last day {to} lies before the first day {from}; write them the other way round"
            ));
        }
        if self
            .need
            .is_some_and(|need| !(need.is_finite() && need > 0.0))
        {
            return Err("the need must be a number above 0".into());
        }
        Ok(Question {
            from,
            to,
            need: self.need,
            model: self.model,
        })
    }
}

fn as_json(question: &Question, answer: &Answer) -> serde_json::Value {
    json!({
        "method": question.model.method.name(),
        "cutoff": question.model.cutoff.name(),
        "base_c": question.model.base,
        "upper_c": question.model.upper,
        "from": question.from,
        "to": question.to,
        "days": answer.days,
        "missing": answer.missing,
        "unit": question.model.method.unit(),
        "heat_cday": answer.heat,
        "reached_on": answer.reached_on,
    })
}

/// The model in one line.
fn write_model(out: &mut dyn Write, model: &Model) -> anyhow::Result<()> {
    let upper = model
        .upper
        .map_or_else(String::new, |upper| match model.cutoff {
            Cutoff::None => format!(", upper {upper} °C"),
            cutoff => format!(", {} above {upper} °C", cutoff.name()),
        });
    let optimum = model
        .optimum
        .map_or_else(String::new, |optimum| format!(", optimum {optimum} °C"));
    writeln!(
        out,
        "{}, base {} °C{optimum}{upper}",
        model.method.name(),
        model.base
    )?;
    Ok(())
}

/// The sign of the unit of a sum.
fn unit_sign(method: Method) -> &'static str {
    match method {
        Method::GrowingDegreeHours => "°C·h",
        Method::Beta => "optimum-days",
        _ => "°C·d",
    }
}

fn write_words(
    out: &mut dyn Write,
    question: &Question,
    answer: &Answer,
    gap: Option<NaiveDate>,
) -> anyhow::Result<()> {
    let unit = unit_sign(question.model.method);
    write_model(out, &question.model)?;
    writeln!(
        out,
        "{} to {}, {}, {} missing",
        question.from,
        question.to,
        count_of(answer.days, "day"),
        answer.missing
    )?;
    match (answer.heat, gap) {
        (Some(heat), _) => writeln!(out, "heat: {heat:.4} {unit}")?,
        (None, gap) => writeln!(
            out,
            "heat: unknown, since a day without temperatures is not a day without heat; the first is {}",
            gap.unwrap_or(question.from)
        )?,
    }
    if let Some(need) = question.need {
        match answer.reached_on {
            Some(day) => writeln!(out, "{need} {unit} reached on {day}")?,
            None => writeln!(
                out,
                "{need} {unit} not reached before the end or the first missing day"
            )?,
        }
    }
    if let Some(day) = answer.single_on {
        writeln!(
            out,
            "{day} was reckoned by the single curve: the next day's minimum is not known"
        )?;
    }
    Ok(())
}
