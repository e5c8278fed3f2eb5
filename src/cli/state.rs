//! `state`: the program's memory carried elsewhere, as plain tables.

use super::ConfigFile;
use super::exit::Exit;
use crate::clock::{Clock, SystemClock};
use crate::lock::Lock;
use crate::store::{Carried, CarryError, Form, Store};
use clap::{Args, Subcommand};
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Writes the program's memory out as plain tables, or takes such tables in.
#[derive(Debug, Args)]
pub struct State {
    #[command(subcommand)]
    way: Way,
}

#[derive(Debug, Subcommand)]
enum Way {
    /// Write the memory into a new folder, one CSV file for each table; touches nothing, also while the service runs
    Export(Export),
    /// Make the memory from such a folder, where there is none yet
    Import(Import),
}

#[derive(Debug, Args)]
struct Export {
    #[command(flatten)]
    config: ConfigFile,
    /// A folder that is new or empty
    folder: PathBuf,
    /// JSON lines instead of CSV
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Args)]
struct Import {
    #[command(flatten)]
    config: ConfigFile,
    /// A folder that `state export` wrote
    folder: PathBuf,
}

impl State {
    pub fn run(self, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
        match self.way {
            Way::Export(export) => export.run(out)?,
            Way::Import(import) => import.run(out)?,
        }
        Ok(ExitCode::SUCCESS)
    }
}

impl Export {
    fn run(self, out: &mut dyn Write) -> anyhow::Result<()> {
        let config = self.config.load()?;
        let file = Store::file_in(&config.state);
        if !file.try_exists().unwrap_or(true) {
            let none = format!(
                "{}: there is no memory yet, so there is nothing to export",
                file.display()
            );
            return Err(Exit::Unavailable.because(none));
        }
        let form = if self.json { Form::Json } else { Form::Csv };
        let store = Store::copy_of(&config.state)?;
        let carried = store
            .export(&self.folder, form, &config.accepted(), SystemClock.now())
            .map_err(ended)?;
        writeln!(
            out,
            "{} written to {}\n\
             Names, addresses, letters and their tokens are in it: keep it as safe as the memory itself. No password is in it.",
            counted(carried),
            self.folder.display()
        )?;
        Ok(())
    }
}

impl Import {
    fn run(self, out: &mut dyn Write) -> anyhow::Result<()> {
        let config = self.config.load()?;
        Store::make_folder(&config.state)?;
        let lock = Lock::take(&config.state).map_err(|held| Exit::TryLater.because(held))?;
        let accepted = config.accepted();
        let carried =
            Store::import(&self.folder, &config.state, &accepted, &lock).map_err(ended)?;
        let memory = Store::file_in(&config.state);
        writeln!(out, "{} taken into {}", counted(carried), memory.display())?;
        if carried.accepted_stays {
            let accepted = accepted.display();
            writeln!(out, "{accepted} was there already and is left as it is")?;
        }
        Ok(())
    }
}

fn counted(carried: Carried) -> String {
    format!("{} tables with {} rows", carried.tables, carried.rows)
}

fn ended(error: CarryError) -> anyhow::Error {
    match error {
        CarryError::Told(problem) => Exit::Data.because(problem),
        CarryError::Store(error) => error.into(),
    }
}
