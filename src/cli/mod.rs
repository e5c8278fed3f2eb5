//! The command line: one file a command. The only place that knows the argument parser and the exit codes.
//!
//! Tables and `--json` go to standard output, everything else to standard error. A closed pipe is silence.

mod check;
mod days;
mod due;
mod exit;
mod heat;
mod look;
mod note;
mod rehearse;
mod round;
mod state;
mod table;
mod tune;
mod watch;

use crate::config::{Config, FORMAT};
use crate::lock::{Lock, LockError};
use crate::store::Store;
use anyhow::Context as _;
use clap::{Args, CommandFactory, Parser, Subcommand};
use exit::{Exit, config_trouble};
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::LazyLock;

/// Follows the warmth of every batch of field grafts and tells the grower what is due.
#[derive(Debug, Parser)]
#[command(name = "graftwarden", version = version(), propagate_version = true, arg_required_else_help = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
    /// Log lines as JSON
    #[arg(long, global = true)]
    log_json: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Run unattended: every scheduled round, until stopped
    Watch(watch::Watch),
    /// Walk one round now
    Round(round::RoundOnce),
    /// Play a past season from the register and temperature files
    Rehearse(rehearse::Rehearse),
    /// Show what is due, block by block
    Due(due::Due),
    /// Write down something seen or done in the field
    Note(note::Note),
    /// Show the days of a site and where they come from
    Days(days::DaysOf),
    /// Reckon the heat of a temperature file
    Heat(heat::Heat),
    /// Learn requirements from what was seen
    Tune(tune::Tune),
    /// Check the config, the register, the sources and the mail
    Check(check::Check),
    /// Carry the program's memory elsewhere, as plain tables
    State(state::State),
}

/// Where the config is.
#[derive(Debug, Args)]
struct ConfigFile {
    /// The config [default: ./graftwarden.toml, then /etc/graftwarden/graftwarden.toml]
    #[arg(long, value_name = "FILE")]
    config: Option<PathBuf>,
}

impl ConfigFile {
    fn path(&self) -> PathBuf {
        if let Some(path) = &self.config {
            return path.clone();
        }
        let here = PathBuf::from("graftwarden.toml");
        let system = PathBuf::from("/etc/graftwarden/graftwarden.toml");
        if here.exists() || !system.exists() {
            here
        } else {
            system
        }
    }

    /// Loads the config, or ends the command with every problem it has.
    fn load(&self) -> anyhow::Result<Config> {
        Config::load(&self.path())
            .map_err(|trouble| config_trouble(&trouble.render(std::io::stderr().is_terminal())))
    }
}

/// A zone's rules change by law, and they are compiled in: which ones has to be known.
fn version() -> &'static str {
    static VERSION: LazyLock<String> = LazyLock::new(|| {
        let zones = chrono_tz::IANA_TZDB_VERSION;
        format!(
            "{} (config format {FORMAT}, time zones {zones})",
            env!("CARGO_PKG_VERSION")
        )
    });
    &VERSION
}

/// The command line as the argument parser knows it: `deploy/papers.rs` writes manual pages and completions from it.
#[doc(hidden)]
pub fn command() -> clap::Command {
    Arguments::command()
}

/// Parses the arguments, runs the command and gives its exit code.
pub fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            let code = if error.use_stderr() {
                Exit::Usage.code()
            } else {
                ExitCode::SUCCESS
            };
            let _ = error.print();
            return code;
        }
    };
    log_to_stderr(&arguments);
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let result = run(arguments.command, &mut out).and_then(|code| {
        out.flush()
            .map(|()| code)
            .context("cannot write to standard output")
    });
    match result {
        Ok(code) => code,
        Err(error) => exit::report(&error),
    }
}

fn run(command: Command, out: &mut dyn Write) -> anyhow::Result<ExitCode> {
    match command {
        Command::Watch(watch) => watch.run(),
        Command::Round(round) => round.run(out),
        Command::Rehearse(rehearse) => rehearse.run(out),
        Command::Due(due) => due.run(out),
        Command::Note(note) => note.run(out),
        Command::Days(days) => days.run(out),
        Command::Heat(heat) => heat.run(out),
        Command::Tune(tune) => tune.run(out),
        Command::Check(check) => check.run(out),
        Command::State(state) => state.run(out),
    }
}

/// The service logs everything worth a line; commands only what is wrong.
fn log_to_stderr(arguments: &Arguments) {
    let service = matches!(arguments.command, Command::Watch(_));
    let level = if service {
        tracing::Level::INFO
    } else {
        tracing::Level::ERROR
    };
    let log = tracing_subscriber::fmt()
        .with_writer(std::io::stderr)
        .with_max_level(level)
        .with_target(false)
        .with_ansi(std::io::stderr().is_terminal());
    // The journal writes the time itself.
    if arguments.log_json {
        log.json().init();
    } else if std::env::var_os("JOURNAL_STREAM").is_some() {
        log.without_time().init();
    } else {
        log.init();
    }
}

/// Takes the lock of the state folder, which is made where there is none.
fn lock(config: &Config) -> anyhow::Result<Lock> {
    Store::make_folder(&config.state)?;
    Lock::take(&config.state).map_err(no_lock)
}

fn no_lock(error: LockError) -> anyhow::Error {
    match error {
        LockError::Held { .. } => Exit::TryLater.because(error),
        LockError::Unusable { .. } => error.into(),
    }
}

/// A runtime for commands that fetch and send.
fn runtime() -> anyhow::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("cannot start")
}

/// A date written as on the command line.
fn date(text: &str) -> Result<chrono::NaiveDate, String> {
    text.parse()
        .map_err(|_| format!("'{text}' is not a date; write it like 2026-08-18"))
}

/// To six decimals: what lies beyond is noise of the adding up.
fn figure(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

fn shown(path: &Path) -> String {
    path.display().to_string()
}
