//! `heat --asks`: many questions on one file at once.

use super::{Asked, Heat, cutoff, method};
use crate::cli::exit::Exit;
use crate::cli::{date, shown};
use crate::heat::ask::{Series, answers};
use crate::nursery::Model;
use anyhow::Context as _;
use std::path::Path;
use std::process::ExitCode;

impl Heat {
    pub(super) fn answer_all(
        &self,
        series: &Series,
        asks: &Path,
        target: &Path,
    ) -> anyhow::Result<ExitCode> {
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
