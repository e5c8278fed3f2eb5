//! `heat --arrival`: when a need will be met, by the days known, a forecast, and each year of the file before.

use super::{Heat, unit_sign, write_model};
use crate::cli::date;
use crate::cli::exit::{Exit, usage};
use crate::days::PastYears;
use crate::heat::ask::{Question, Series, answer};
use crate::heat::{Trust, Warm};
use crate::nursery::Model;
use crate::outlook::{Band, Dates, Futures, Known, Requirement, arrival};
use chrono::NaiveDate;
use clap::Args;
use serde_json::json;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// From the first day that counts to the horizon, so many days at most: five years.
const LONGEST: i64 = 1827;

/// Looking ahead.
#[derive(Debug, Args)]
pub struct Ahead {
    /// When the need will be met, as seen from --today: by the days of the file up to then, the forecast, and what each
    /// year of the file before brought on the same dates
    #[arg(long, requires_all = ["from", "need", "today", "horizon"], conflicts_with_all = ["to", "asks"])]
    pub arrival: bool,
    /// The last day that is known; later days of the file are not looked at
    #[arg(long, value_name = "DATE", value_parser = date, requires = "arrival")]
    today: Option<NaiveDate>,
    /// The last day to look at
    #[arg(long, value_name = "DATE", value_parser = date, requires = "arrival")]
    horizon: Option<NaiveDate>,
    /// Days foretold after --today: a file with the same columns as --temps
    #[arg(long, value_name = "FILE", requires = "arrival")]
    forecast: Option<PathBuf>,
    /// How unsure the need is: standard deviation of its natural logarithm (0.1 = about a tenth of it); 0 = certain
    #[arg(long, value_name = "SD", default_value_t = 0.0, requires = "arrival")]
    need_sd: f64,
}

/// What is asked, once it is known to make sense.
struct Asked<'a> {
    model: &'a Model,
    from: NaiveDate,
    today: NaiveDate,
    horizon: NaiveDate,
    requirement: Requirement,
}

/// What came of it.
struct Found {
    /// Heat so far; none where a day is missing.
    so_far: Option<f64>,
    missing: u32,
    futures: Futures,
    band: Band,
}

impl Heat {
    pub(super) fn arrive(
        &self,
        model: &Model,
        series: &Series,
        complained: bool,
        out: &mut dyn Write,
    ) -> anyhow::Result<ExitCode> {
        let asked = self.asked_ahead(model).map_err(usage)?;
        let forecast = match &self.ahead.forecast {
            Some(path) => {
                let (forecast, complaints) = self.read(path)?;
                for complaint in &complaints {
                    eprintln!("{complaint}");
                }
                forecast
            }
            None => Series::new(),
        };
        let found = asked.find(series, &forecast);
        if found.futures.is_blank() {
            return Err(Exit::Data.because(format!(
                "{}: no temperatures up to {} and none of the same dates in years before, so nothing can be said; give a file that has some",
                super::shown(&self.temps),
                asked.today
            )));
        }
        if self.json {
            writeln!(out, "{}", as_json(&asked, &found))?;
        } else {
            write_words(out, &asked, &found)?;
        }
        let spoilt = found.so_far.is_none() && complained;
        Ok(if spoilt {
            Exit::Data.code()
        } else {
            ExitCode::SUCCESS
        })
    }

    fn asked_ahead<'a>(&self, model: &'a Model) -> Result<Asked<'a>, String> {
        let missing = || "--arrival needs --from, --need, --today and --horizon".to_owned();
        let from = self.from.ok_or_else(missing)?;
        let need = self.need.ok_or_else(missing)?;
        let today = self.ahead.today.ok_or_else(missing)?;
        let horizon = self.ahead.horizon.ok_or_else(missing)?;
        if !(need.is_finite() && need > 0.0) {
            return Err("the need must be a number above 0".into());
        }
        let sd = self.ahead.need_sd;
        if !(0.0..=3.0).contains(&sd) {
            return Err("--need-sd must lie between 0 and 3".into());
        }
        if horizon < today || horizon < from {
            return Err(format!(
                "the horizon {horizon} lies before {}; name a later day",
                today.max(from)
            ));
        }
        let far = (horizon - from.min(today)).num_days();
        if far > LONGEST || from.pred_opt().is_none() {
            return Err(format!(
                "from {} to {horizon} is more than five years; name days nearer to each other",
                from.min(today)
            ));
        }
        Ok(Asked {
            model,
            from,
            today,
            horizon,
            requirement: Requirement { need, sd },
        })
    }
}

impl Asked<'_> {
    fn find(&self, series: &Series, forecast: &Series) -> Found {
        let (first, days) = self.run(series, forecast);
        let known = Known {
            first,
            days: &days,
            past: &PastYears::default(), // the run itself has them
            through: self.today,
            from: self.from,
        };
        let futures = Futures::new(self.model, known, self.horizon);
        let anchor = self.from.pred_opt().unwrap_or(self.from);
        let dates = arrival(&futures, &Dates::certain(anchor), self.requirement);
        let so_far = Question {
            from: self.from,
            to: self.today,
            need: None,
            model: *self.model,
        };
        let so_far = answer(&seen_from(series, self.today), &so_far);
        Found {
            so_far: so_far.heat,
            missing: so_far.missing,
            futures,
            band: dates.band(),
        }
    }

    /// The days up to today, and what is foretold of the rest.
    fn run(&self, series: &Series, forecast: &Series) -> (NaiveDate, Vec<Option<Warm>>) {
        let dates = || series.keys().chain(forecast.keys()).copied();
        let first = dates().min().unwrap_or(self.today);
        let last = dates().max().unwrap_or(self.today);
        let warm = |date: NaiveDate| {
            let known = series.get(&date).filter(|_| date <= self.today);
            let (day, trust) = known
                .map(|day| (day, Trust::Known))
                .or_else(|| forecast.get(&date).map(|day| (day, Trust::Forecast)))?;
            Some(Warm {
                min: day.min,
                max: day.max,
                trust,
            })
        };
        let days = first.iter_days().take_while(|&date| date <= last);
        (first, days.map(warm).collect())
    }
}

/// A series without what came after that day.
fn seen_from(series: &Series, today: NaiveDate) -> Series {
    series
        .range(..=today)
        .map(|(&date, &day)| (date, day))
        .collect()
}

fn as_json(asked: &Asked<'_>, found: &Found) -> serde_json::Value {
    json!({
        "method": asked.model.method.name(),
        "cutoff": asked.model.cutoff.name(),
        "base_c": asked.model.base,
        "upper_c": asked.model.upper,
        "from": asked.from,
        "today": asked.today,
        "horizon": asked.horizon,
        "need": asked.requirement.need,
        "need_sd": asked.requirement.sd,
        "unit": asked.model.method.unit(),
        "heat_cday": found.so_far,
        "missing": found.missing,
        "members": found.futures.members(),
        "left_out": found.futures.left_out(),
        "rough": found.futures.is_rough(),
        "p10": found.band.p10,
        "p50": found.band.p50,
        "p90": found.band.p90,
    })
}

fn write_words(out: &mut dyn Write, asked: &Asked<'_>, found: &Found) -> anyhow::Result<()> {
    let unit = unit_sign(asked.model.method);
    write_model(out, asked.model)?;
    let (from, today, horizon) = (asked.from, asked.today, asked.horizon);
    match (found.so_far, found.missing) {
        (Some(heat), _) => writeln!(out, "{from} to {today}: {heat:.1} {unit} so far")?,
        (None, 1) => writeln!(
            out,
            "{from} to {today}: one day is missing, others stand in for it"
        )?,
        (None, missing) => writeln!(
            out,
            "{from} to {today}: {missing} days are missing, others stand in for them"
        )?,
    }
    let Requirement { need, sd } = asked.requirement;
    let unsure = match asked.requirement.band80() {
        (low, high) if sd > 0.0 => format!(" ({low:.0} to {high:.0})"),
        _ => String::new(),
    };
    let day = |date: Option<NaiveDate>| {
        date.map_or_else(
            || format!("after {horizon}"),
            |date| date.format("%a %-d %b %Y").to_string(),
        )
    };
    let Band { p10, p50, p90 } = found.band;
    let when = if p10.is_none() {
        format!("not reached by {horizon}")
    } else {
        let about = if p50.is_some() { "about " } else { "" };
        format!("reached {about}{} ({} - {})", day(p50), day(p10), day(p90))
    };
    writeln!(out, "{need} {unit}{unsure} {when}")?;
    writeln!(out, "{}", by_what(&found.futures))?;
    Ok(())
}

fn by_what(futures: &Futures) -> String {
    let left_out = match futures.left_out() {
        0 => String::new(),
        n => format!(", {n} left out for missing days"),
    };
    match futures.members() {
        0 if futures.is_rough() => {
            format!(
                "rough: no year before to go by{left_out}; the days to come as the last 14 on the mean"
            )
        }
        0 => "by the days known and foretold alone".into(),
        1 => format!("by 1 year before{left_out}"),
        n => format!("by {n} years before{left_out}"),
    }
}
