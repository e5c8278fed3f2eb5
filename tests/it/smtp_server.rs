//! A mail server within the test, on a free port of this machine, that does as it is told.
//!
//! Each session follows the next mode of the script, and accepts when the script is at its end; a mode may also be
//! tied to a recipient. What it took is kept: envelope and bytes.

use std::collections::{HashMap, VecDeque};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, Shutdown, TcpListener, TcpStream};
use std::sync::{Arc, Condvar, Mutex, MutexGuard};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// What a session does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Takes the mail.
    Accept,
    /// 451 instead of a greeting.
    BusyAtGreeting,
    /// 535 to any login.
    WrongPassword,
    /// 535 to any login, which is said back.
    SaysLoginBack,
    /// 450 to the recipient.
    RecipientLater,
    /// 550 to the recipient.
    NoSuchRecipient,
    /// 554 to the message, which is not taken.
    MessageRefused,
    /// Says nothing from the start.
    SilentAtConnect,
    /// Says nothing to the recipient.
    SilentAtRecipient,
    /// Reads the message and says nothing; not taken.
    SilentAfterDot,
    /// Takes the mail and never says so.
    SilentOnceTaken,
    /// Takes the mail, then closes without an answer.
    DropAfterDot,
    /// Takes the mail but never answers QUIT.
    SilentAtQuit,
    /// Takes the mail, with a pause before each answer.
    Slow(Duration),
}

/// How far some session has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    Connected,
    Recipient,
    /// The final dot was read; no answer has been given yet.
    Dot,
    /// The mail is among those taken.
    Taken,
}

/// One mail taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mail {
    pub from: String,
    pub to: String,
    /// The message without dot-stuffing; ends with the line end before the final dot.
    pub bytes: Vec<u8>,
}

#[derive(Default)]
struct Told {
    script: VecDeque<Mode>,
    recipients: HashMap<String, Mode>,
    mails: Vec<Mail>,
    logins: Vec<String>,
    stages: Vec<Stage>,
    closing: bool,
}

#[derive(Default)]
struct Shared {
    told: Mutex<Told>,
    news: Condvar,
}

pub struct SmtpServer {
    port: u16,
    shared: Arc<Shared>,
    listening: Option<JoinHandle<()>>,
}

impl SmtpServer {
    /// A server whose first sessions follow the given modes.
    pub fn start(script: &[Mode]) -> Self {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
        let port = listener.local_addr().unwrap().port();
        let shared = Arc::new(Shared::default());
        shared.lock().script.extend(script);
        let theirs = Arc::clone(&shared);
        let listening = thread::spawn(move || {
            for stream in listener.incoming() {
                let mut told = theirs.lock();
                if told.closing {
                    return;
                }
                let mode = told.script.pop_front().unwrap_or(Mode::Accept);
                drop(told);
                let theirs = Arc::clone(&theirs);
                // A client that goes away is an error here and the end of the session.
                thread::spawn(move || drop(session(&stream.unwrap(), mode, &theirs)));
            }
        });
        Self {
            port,
            shared,
            listening: Some(listening),
        }
    }

    pub fn port(&self) -> u16 {
        self.port
    }

    /// Further sessions follow these modes.
    pub fn script(&self, modes: &[Mode]) {
        self.shared.lock().script.extend(modes);
    }

    /// Every mail to this address follows this mode from RCPT on, whatever the script says.
    pub fn for_recipient(&self, address: &str, mode: Mode) {
        self.shared.lock().recipients.insert(address.into(), mode);
    }

    /// The mails taken so far.
    pub fn mails(&self) -> Vec<Mail> {
        self.shared.lock().mails.clone()
    }

    /// What followed each AUTH.
    pub fn logins(&self) -> Vec<String> {
        self.shared.lock().logins.clone()
    }

    /// How many sessions there were.
    pub fn sessions(&self) -> usize {
        let told = self.shared.lock();
        told.stages
            .iter()
            .filter(|&&s| s == Stage::Connected)
            .count()
    }

    /// Blocks until some session has come that far; fails after ten seconds.
    #[track_caller]
    pub fn wait_for(&self, stage: Stage) {
        let come = self.wait(|told| told.stages.contains(&stage));
        assert!(come, "no session came as far as {stage:?}");
    }

    /// Blocks until so many mails were taken; fails after ten seconds.
    #[track_caller]
    pub fn wait_for_mails(&self, count: usize) {
        let come = self.wait(|told| told.mails.len() >= count);
        assert!(come, "only {} mails came", self.mails().len());
    }

    fn wait(&self, until: impl Fn(&Told) -> bool) -> bool {
        let told = self.shared.lock();
        let limit = Duration::from_secs(10);
        let waited = self
            .shared
            .news
            .wait_timeout_while(told, limit, |told| !until(told));
        !waited.unwrap().1.timed_out()
    }
}

impl Drop for SmtpServer {
    fn drop(&mut self) {
        self.shared.lock().closing = true;
        // Wakes the listener, which then sees that it is to close.
        let woken = TcpStream::connect((Ipv4Addr::LOCALHOST, self.port)).is_ok();
        if let Some(listening) = self.listening.take().filter(|_| woken) {
            drop(listening.join());
        }
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Told> {
        self.told.lock().unwrap()
    }

    fn reached(&self, stage: Stage) {
        self.lock().stages.push(stage);
        self.news.notify_all();
    }

    fn take(&self, mail: Mail) {
        self.lock().mails.push(mail);
        self.reached(Stage::Taken);
    }
}

/// One session; returns when the client goes away, says QUIT or is dropped.
fn session(stream: &TcpStream, mode: Mode, shared: &Shared) -> std::io::Result<()> {
    shared.reached(Stage::Connected);
    let mut reader = BufReader::new(stream);
    let mut mode = mode;
    let answer = |mode: Mode, text: &str| {
        if let Mode::Slow(pause) = mode {
            thread::sleep(pause);
        }
        let mut out = stream;
        out.write_all(text.as_bytes())
    };
    match mode {
        Mode::SilentAtConnect => return until_gone(reader),
        Mode::BusyAtGreeting => {
            answer(mode, "451 too busy, try later\r\n")?;
            return until_gone(reader);
        }
        _ => answer(mode, "220 mail.alderfold.example ready\r\n")?,
    }
    let (mut from, mut to) = (String::new(), String::new());
    let mut line = String::new();
    while reader.read_line(&mut line)? > 0 {
        let command = line.trim_end().to_owned();
        line.clear();
        let verb = command.get(..4).unwrap_or_default().to_ascii_uppercase();
        match verb.as_str() {
            "EHLO" => answer(
                mode,
                "250-mail.alderfold.example\r\n250-8BITMIME\r\n250 AUTH PLAIN LOGIN\r\n",
            )?,
            "AUTH" => {
                shared.lock().logins.push(command.clone());
                match mode {
                    Mode::SaysLoginBack => {
                        answer(mode, &format!("535 not right: {command}\r\n"))?;
                    }
                    Mode::WrongPassword => answer(mode, "535 wrong user or password\r\n")?,
                    _ => answer(mode, "235 welcome\r\n")?,
                }
            }
            "MAIL" => {
                from = address(&command);
                answer(mode, "250 ok\r\n")?;
            }
            "RCPT" => {
                to = address(&command);
                if let Some(&tied) = shared.lock().recipients.get(&to) {
                    mode = tied;
                }
                shared.reached(Stage::Recipient);
                match mode {
                    Mode::SilentAtRecipient => return until_gone(reader),
                    Mode::RecipientLater => answer(mode, "450 mailbox busy\r\n")?,
                    Mode::NoSuchRecipient => answer(mode, "550-no such person\r\n550 here\r\n")?,
                    _ => answer(mode, "250 ok\r\n")?,
                }
            }
            "DATA" => {
                answer(mode, "354 go on\r\n")?;
                let bytes = message(&mut reader)?;
                shared.reached(Stage::Dot);
                let mail = Mail {
                    from: from.clone(),
                    to: to.clone(),
                    bytes,
                };
                match mode {
                    Mode::SilentAfterDot => return until_gone(reader),
                    Mode::SilentOnceTaken => {
                        shared.take(mail);
                        return until_gone(reader);
                    }
                    Mode::MessageRefused => answer(mode, "554 not wanted\r\n")?,
                    Mode::DropAfterDot => {
                        shared.take(mail);
                        return stream.shutdown(Shutdown::Both);
                    }
                    _ => {
                        shared.take(mail);
                        answer(mode, "250 taken\r\n")?;
                    }
                }
            }
            "RSET" => answer(mode, "250 ok\r\n")?,
            "QUIT" => {
                if mode == Mode::SilentAtQuit {
                    return until_gone(reader);
                }
                return answer(mode, "221 bye\r\n");
            }
            _ => answer(mode, "502 not known here\r\n")?,
        }
    }
    Ok(())
}

/// Reads and forgets until the client closes.
fn until_gone(mut reader: impl Read) -> std::io::Result<()> {
    std::io::copy(&mut reader, &mut std::io::sink()).map(drop)
}

/// What stands between `<` and `>`.
fn address(command: &str) -> String {
    let inner = command.split_once('<').map_or("", |(_, rest)| rest);
    inner.split_once('>').map_or("", |(inner, _)| inner).into()
}

/// The message up to the final dot.
fn message(reader: &mut impl BufRead) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    loop {
        let mut line = Vec::new();
        if reader.read_until(b'\n', &mut line)? == 0 {
            return Err(std::io::ErrorKind::UnexpectedEof.into());
        }
        if line == b".\r\n" {
            return Ok(bytes);
        }
        bytes.extend_from_slice(line.strip_prefix(b".").unwrap_or(&line));
    }
}
