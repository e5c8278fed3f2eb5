//! `heat`: the heat of a temperature file.

use super::exit::{Exit, usage};
use super::{date, shown};
use crate::days::{Origin, RawDay, Verdict, judge};
use crate::heat::Extremes;
use crate::heat::ask::{Answer, Question, Series, answer, answers};
use crate::letters::count_of;
use crate::nursery::{Cutoff, Method, Model};
use crate::weather::csv_file;
use crate::weather::layout::{Columns, Layout, Unit};
use anyhow::Context as _;
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
        let (series, complaints) = self.read()?;
        for complaint in &complaints {
            eprintln!("{complaint}");
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

    /// The sound days of the file, and what was wrong with the rest.
    fn read(&self) -> anyhow::Result<(Series, Vec<String>)> {
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
        let file = csv_file::read(&self.temps, &layout, None);
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
                shown(&self.temps)
            ));
            return Err(Exit::Data.because(complaints.join("\n")));
        }
        let raw: Vec<RawDay> = file
            .days
            .iter()
            .map(|day| RawDay {
                date: day.date,
                min: day.min,
                max: day.max,
                gust: None,
                rain: None,
                origin: Origin::Measured,
            })
            .collect();
        let mut series = Series::new();
        for (day, verdict) in raw.iter().zip(judge(&raw)) {
            if let Verdict::Rejected(reason) = verdict {
                complaints.push(format!(
                    "{}, {}: {reason}; the day counts as missing. Mend the value.",
                    shown(&self.temps),
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

    fn answer_all(&self, series: &Series, asks: &Path, target: &Path) -> anyhow::Result<ExitCode> {
        let text = std::fs::read(asks)
            .map_err(|e| Exit::Data.because(format!("{}: cannot be read ({e})", shown(asks))))?;
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_slice());
        let headers = reader
            .headers()
            .context("cannot read the questions")
            .map_err(|e| Exit::Data.because(format!("{}: {e:#}", shown(asks))))?
            .clone();
        let mut rows = Vec::new();
        let mut questions = Vec::new();
        let mut bad = false;
        for (number, row) in (2_u64..).zip(reader.records()) {
            let row = row.map_err(|e| Exit::Data.because(format!("{}: {e}", shown(asks))))?;
            match self
                .asked_in(&headers, &row)
                .and_then(|asked| asked.question(series))
            {
                Ok(question) => {
                    rows.push((row, Some(questions.len())));
                    questions.push(question);
                }
                Err(why) => {
                    eprintln!(
                        "{}, row {number}: {why}; its answer stays empty.",
                        shown(asks)
                    );
                    rows.push((row, None));
                    bad = true;
                }
            }
        }
        let answers = answers(series, &questions);
        let mut writer = csv::Writer::from_path(target).map_err(|e| {
            Exit::Unavailable.because(format!("{}: cannot be written ({e})", shown(target)))
        })?;
        writer.write_record(headers.iter().chain(["heat_cday", "reached_on"]))?;
        for (row, place) in &rows {
            let answer = place.map(|at| &answers[at]);
            let heat = answer
                .and_then(|a| a.heat)
                .map_or_else(String::new, |heat| format!("{heat:.6}"));
            let reached = answer
                .and_then(|a| a.reached_on)
                .map_or_else(String::new, |day| day.to_string());
            let cells = (0..headers.len()).map(|i| row.get(i).unwrap_or_default());
            writer.write_record(cells.chain([heat.as_str(), reached.as_str()]))?;
        }
        writer.flush()?;
        Ok(if bad {
            Exit::Data.code()
        } else {
            ExitCode::SUCCESS
        })
    }

    /// One row of questions; what it leaves empty is as on the command line.
    fn asked_in(
        &self,
        headers: &csv::StringRecord,
        row: &csv::StringRecord,
    ) -> Result<Asked, String> {
        let cell = |name: &str| {
            headers
                .iter()
                .position(|h| h.eq_ignore_ascii_case(name))
                .and_then(|i| row.get(i))
                .filter(|c| !c.is_empty())
        };
        let number = |name: &str| {
            cell(name)
                .map(|c| {
                    c.parse::<f64>()
                        .map_err(|_| format!("column {name}: '{c}' is not a number"))
                })
                .transpose()
        };
        let day = |name: &str| {
            cell(name)
                .map(date)
                .transpose()
                .map_err(|why| format!("column {name}: {why}"))
        };
        let method = cell("method").map_or(Ok(self.method), method)?;
        let cutoff = cell("cutoff").map_or(Ok(self.cutoff), cutoff)?;
        let upper = number("upper")?.or(self.upper);
        let model = Model::new(
            method,
            cutoff,
            number("base")?.unwrap_or(self.base),
            self.optimum.filter(|_| method.is_response()),
            upper,
        )?;
        Ok(Asked {
            from: day("from")?.or(self.from),
            to: day("to")?.or(self.to),
            need: number("need")?.or(self.need),
            model,
        })
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

fn write_words(
    out: &mut dyn Write,
    question: &Question,
    answer: &Answer,
    gap: Option<NaiveDate>,
) -> anyhow::Result<()> {
    let model = question.model;
    let unit = match model.method {
        Method::GrowingDegreeHours => "°C·h",
        Method::Beta => "optimum-days",
        _ => "°C·d",
    };
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
