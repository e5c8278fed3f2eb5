//! Exit codes, after sysexits.

use crate::store::StoreError;
use std::fmt;
use std::io::Write;
use std::process::ExitCode;

/// Why a command ends without having done its work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// The words on the command line (64).
    Usage,
    /// What was in a file (65).
    Data,
    /// Something that should be there is not (69).
    Unavailable,
    /// Another time it may work (75).
    TryLater,
    /// The config (78).
    Config,
}

impl Exit {
    /// The exit code.
    pub fn code(self) -> ExitCode {
        ExitCode::from(match self {
            Self::Usage => 64,
            Self::Data => 65,
            Self::Unavailable => 69,
            Self::TryLater => 75,
            Self::Config => 78,
        })
    }

    /// An error with this exit code.
    pub fn because(self, why: impl fmt::Display) -> anyhow::Error {
        anyhow::Error::new(Ended {
            exit: self,
            why: why.to_string(),
        })
    }
}

/// An error with its exit code.
#[derive(Debug, thiserror::Error)]
#[error("{why}")]
struct Ended {
    exit: Exit,
    why: String,
}

/// The command line asked for something that cannot be.
pub fn usage(why: impl fmt::Display) -> anyhow::Error {
    Exit::Usage.because(why)
}

/// The config cannot be used.
pub fn config_trouble(why: &str) -> anyhow::Error {
    Exit::Config.because(why)
}

/// Says what went wrong and gives the exit code; nothing where only the pipe was closed.
pub fn report(error: &anyhow::Error) -> ExitCode {
    let closed = |cause: &(dyn std::error::Error + 'static)| {
        cause
            .downcast_ref::<std::io::Error>()
            .is_some_and(|e| e.kind() == std::io::ErrorKind::BrokenPipe)
    };
    if error.chain().any(closed) {
        return ExitCode::SUCCESS;
    }
    let _ = writeln!(std::io::stderr(), "{}", format!("{error:#}").trim_end());
    exit_of(error).code()
}

pub(super) fn exit_of(error: &anyhow::Error) -> Exit {
    let is_busy = |cause: &(dyn std::error::Error + 'static)| {
        matches!(cause.downcast_ref(), Some(StoreError::Busy))
    };
    match error.downcast_ref::<Ended>() {
        Some(ended) => ended.exit,
        None if error.chain().any(is_busy) => Exit::TryLater,
        None => Exit::Unavailable,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_memory_in_use_may_be_free_another_time() {
        let exit = |error: StoreError| exit_of(&anyhow::Error::from(error).context("no note"));
        assert_eq!(exit(StoreError::Busy), Exit::TryLater);
        assert_eq!(exit(StoreError::Disk("full".into())), Exit::Unavailable);
    }
}
