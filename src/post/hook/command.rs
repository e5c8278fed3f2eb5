//! A program of the farm's own: the letter on its standard input, what became of it by its exit code (sysexits).
//!
//! It is started as it stands, without a shell. One that takes too long is killed with everything it has started.

use super::Signature;
use crate::excerpt::excerpt;
use crate::post::Outcome;
use rustix::process::{Pid, Signal, kill_process_group};
use std::io;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{ExitStatus, Stdio};
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::process::{Child, ChildStderr, ChildStdin, Command};
use tokio::time::timeout;

/// `EX_DATAERR`: it will never take this letter.
const NEVER: i32 = 65;
/// So much of what it says is kept; the rest is read and forgotten, so that it never waits for a reader.
const SAID: usize = 4096;
/// For what it said last, where something that it has started keeps the line open.
const LAST_WORDS: Duration = Duration::from_secs(1);
/// What the service manager tells this program alone.
const OURS: [&str; 3] = ["NOTIFY_SOCKET", "WATCHDOG_PID", "WATCHDOG_USEC"];

/// A program and how long it is waited for.
#[derive(Clone)]
pub(super) struct Program {
    argv: Vec<String>,
    limit: Duration,
}

/// Whether the program of a command can be started, as far as can be seen: a bare name is looked for only when it is.
pub fn is_runnable(argv: &[String]) -> bool {
    use std::os::unix::fs::PermissionsExt;
    let Some(program) = argv.first() else {
        return false;
    };
    let file = |path: &Path| {
        std::fs::metadata(path).is_ok_and(|m| m.is_file() && m.permissions().mode() & 0o111 != 0)
    };
    !program.contains('/') || file(Path::new(program))
}

impl Program {
    pub fn new(argv: Vec<String>, limit: Duration) -> Self {
        Self { argv, limit }
    }

    /// Hands it one letter.
    pub async fn hand(&self, body: &[u8], signature: Option<&Signature>) -> Outcome {
        let name = self.argv.first().map_or("", String::as_str);
        let mut child = match self.start(name, signature) {
            Ok(child) => child,
            Err(error) => {
                let why = format!("{name} could not be started: {error}");
                return Outcome::Away { why, rest: None };
            }
        };
        let group = child.id();
        match timeout(self.limit, converse(&mut child, body)).await {
            Ok(Ok((status, said))) => judge(name, status, &said),
            Ok(Err(error)) => Outcome::Later {
                why: format!("{name} could not be waited for: {error}"),
            },
            Err(_) => {
                end(&mut child, group).await;
                let seconds = self.limit.as_secs_f64();
                let why = format!("{name} had not ended after {seconds} s and was stopped");
                Outcome::Away { why, rest: None }
            }
        }
    }

    fn start(&self, name: &str, signature: Option<&Signature>) -> io::Result<Child> {
        let mut command = Command::new(name);
        command
            .args(self.argv.iter().skip(1))
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            // A group of its own, which ends with it.
            .process_group(0)
            .kill_on_drop(true);
        for ours in OURS {
            command.env_remove(ours);
        }
        if let Some(signature) = signature {
            command
                .env("GRAFTWARDEN_TIMESTAMP", &signature.timestamp)
                .env("GRAFTWARDEN_SIGNATURE", &signature.value);
        }
        command.spawn()
    }
}

/// Writes, listens and waits at once, since either side may wait for the other.
async fn converse(child: &mut Child, body: &[u8]) -> io::Result<(ExitStatus, Vec<u8>)> {
    let (stdin, stderr) = (child.stdin.take(), child.stderr.take());
    let mut said = Vec::new();
    let status = {
        let talk = async { tokio::join!(tell(stdin, body), listen(stderr, &mut said)) };
        tokio::pin!(talk);
        tokio::select! {
            _ = &mut talk => child.wait().await?,
            status = child.wait() => {
                // Its last words are still on the line.
                let _ = timeout(LAST_WORDS, &mut talk).await;
                status?
            }
        }
    };
    Ok((status, said))
}

/// A program that does not read to the end is judged by its exit code like any other.
async fn tell(pipe: Option<ChildStdin>, body: &[u8]) {
    if let Some(mut pipe) = pipe {
        let _ = pipe.write_all(body).await;
    }
}

async fn listen(pipe: Option<ChildStderr>, said: &mut Vec<u8>) {
    let Some(mut pipe) = pipe else { return };
    let mut part = [0; 1024];
    while let Ok(read @ 1..) = pipe.read(&mut part).await {
        let room = SAID.saturating_sub(said.len());
        said.extend_from_slice(&part[..read.min(room)]);
    }
}

/// Kills it and what it has started.
async fn end(child: &mut Child, group: Option<u32>) {
    let group = group.and_then(|id| i32::try_from(id).ok());
    if let Some(group) = group.and_then(Pid::from_raw) {
        // An error says that nothing of it is left.
        let _ = kill_process_group(group, Signal::KILL);
    }
    let _ = child.kill().await;
}

fn judge(name: &str, status: ExitStatus, said: &[u8]) -> Outcome {
    let line = said.split(|&byte| byte == b'\n').find(|l| !l.is_empty());
    let words = line.map_or_else(String::new, |line| format!(": {}", excerpt(line)));
    match status.code() {
        Some(0) => Outcome::Delivered,
        Some(NEVER) => Outcome::Refused {
            why: format!("{name} will not take it (exit code 65){words}"),
        },
        Some(code) => Outcome::Later {
            why: format!("{name} ended with exit code {code}{words}"),
        },
        None => {
            let signal = status.signal().unwrap_or_default();
            Outcome::Later {
                why: format!("{name} was stopped by signal {signal}{words}"),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;
    use std::time::Instant;
    use tempfile::TempDir;

    /// Long enough for this machine.
    const LONG: Duration = Duration::from_secs(60);

    /// A folder with a script of these lines, run in it by the shell, which is a program like any other.
    fn program(lines: &str, limit: Duration) -> (Program, TempDir) {
        let folder = tempfile::tempdir().unwrap();
        let script = folder.path().join("send-text");
        fs::write(
            &script,
            format!("cd '{}'\n{lines}\n", folder.path().display()),
        )
        .unwrap();
        let argv = ["/bin/sh".to_owned(), script.display().to_string()];
        (Program::new(argv.to_vec(), limit), folder)
    }

    #[track_caller]
    fn check(lines: &str, expected: &Outcome) {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build();
        let (program, _folder) = program(lines, LONG);
        let outcome = runtime.unwrap().block_on(program.hand(b"{}", None));
        assert_eq!(outcome, *expected);
    }

    fn later(why: &str) -> Outcome {
        Outcome::Later { why: why.into() }
    }

    #[test]
    fn the_exit_code_says_what_became_of_it() {
        check("cat >letter", &Outcome::Delivered);
        check("exit 75", &later("/bin/sh ended with exit code 75"));
        check(
            "echo the gateway is down >&2; echo again >&2; exit 1",
            &later("/bin/sh ended with exit code 1: the gateway is down"),
        );
        check(
            "echo 'no such number\t' >&2; exit 65",
            &Outcome::Refused {
                why: "/bin/sh will not take it (exit code 65): no such number".into(),
            },
        );
        check("kill -9 $$", &later("/bin/sh was stopped by signal 9"));
    }

    #[tokio::test]
    async fn the_letter_comes_whole_and_signed() {
        let lines = "cat >letter\nprintf '%s %s' \"$GRAFTWARDEN_TIMESTAMP\" \"$GRAFTWARDEN_SIGNATURE\" >signature";
        let (program, folder) = program(lines, LONG);
        // More than a pipe holds.
        let body = vec![b'x'; 300_000];
        let signature = Signature {
            timestamp: "1786600000".into(),
            value: "sha256=ccb7".into(),
        };
        let outcome = program.hand(&body, Some(&signature)).await;
        assert_eq!(outcome, Outcome::Delivered);
        assert_eq!(fs::read(folder.path().join("letter")).unwrap(), body);
        let signed = fs::read_to_string(folder.path().join("signature")).unwrap();
        assert_eq!(signed, "1786600000 sha256=ccb7");
    }

    #[tokio::test]
    async fn who_does_not_read_and_says_much_is_no_trouble() {
        let (program, _folder) = program("head -c 300000 /dev/zero >&2", LONG);
        let outcome = program.hand(&vec![b'x'; 300_000], None).await;
        assert_eq!(outcome, Outcome::Delivered);
    }

    #[tokio::test]
    async fn what_it_leaves_running_is_not_waited_for() {
        let (program, folder) = program("tail -f /dev/null & echo $! >left", LONG);
        assert_eq!(program.hand(b"{}", None).await, Outcome::Delivered);
        let left = fs::read_to_string(folder.path().join("left")).unwrap();
        assert!(is_alive(&left));
        let killed = Command::new("kill").arg(left.trim()).status().await;
        assert!(killed.unwrap().success());
    }

    /// Whether a process is there and not just dead and unburied.
    fn is_alive(id: &str) -> bool {
        let stat = fs::read_to_string(format!("/proc/{}/stat", id.trim()));
        stat.is_ok_and(|stat| !stat.contains(") Z "))
    }

    #[tokio::test]
    async fn what_never_ends_is_killed_with_all_that_it_started() {
        let limit = Duration::from_secs(1);
        let (program, folder) = program("tail -f /dev/null & echo $! >started; wait", limit);
        let why = "/bin/sh had not ended after 1 s and was stopped".into();
        let outcome = program.hand(b"{}", None).await;
        assert_eq!(outcome, Outcome::Away { why, rest: None });
        let started = fs::read_to_string(folder.path().join("started")).unwrap();
        let begun = Instant::now();
        while is_alive(&started) {
            assert!(begun.elapsed() < LONG, "{started} goes on");
            std::thread::yield_now();
        }
    }

    #[tokio::test(start_paused = true)]
    async fn a_program_gets_the_time_that_the_config_says() {
        let (program, _folder) = program("exec tail -f /dev/null", Duration::from_secs(300));
        let why = "/bin/sh had not ended after 300 s and was stopped".into();
        let outcome = program.hand(b"{}", None).await;
        assert_eq!(outcome, Outcome::Away { why, rest: None });
    }

    #[tokio::test]
    async fn a_program_that_is_not_there_is_named() {
        let argv = vec!["/no/such/send-text".to_owned(), "--key=hazel".to_owned()];
        assert!(!is_runnable(&argv) && is_runnable(&["/bin/sh".to_owned()]));
        let Outcome::Away { why, .. } = Program::new(argv, LONG).hand(b"{}", None).await else {
            panic!("it was started");
        };
        assert_eq!(
            why,
            "/no/such/send-text could not be started: No such file or directory (os error 2)"
        );
    }
}
