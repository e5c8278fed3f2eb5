//! A mailbox server within the test, on a free port of this machine, that does as it is told.
//!
//! Speaks as much of RFC 3501 as the program asks for. Each session follows the next mode of the script, and behaves
//! when the script is at its end. What it was asked is kept.

use std::collections::VecDeque;
use std::io::{BufRead, BufReader, Write};
use std::net::{Ipv4Addr, Shutdown, TcpListener, TcpStream};
use std::sync::{Arc, Mutex, MutexGuard};
use std::thread::{self, JoinHandle};

/// What a session does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Gives what is there.
    Behave,
    /// Says nothing from the start.
    SilentAtConnect,
    /// NO to any login.
    WrongPassword,
    /// NO to any login, which is said back.
    SaysLoginBack,
    /// Says nothing to the login.
    SilentAtLogin,
    /// NO to any folder.
    NoSuchFolder,
    /// Closes in the midst of the list of new mails.
    CutInSearch,
    /// Closes in the midst of the second mail.
    CutInSecondMail,
    /// NO to any mark.
    MarksRefused,
}

/// One mail in the mailbox.
#[derive(Clone, Debug)]
struct Kept {
    bytes: Vec<u8>,
    /// Said of it instead of its own size.
    size: Option<usize>,
    seen: bool,
}

#[derive(Default)]
struct Told {
    script: VecDeque<Mode>,
    mails: Vec<Kept>,
    commands: Vec<String>,
    closing: bool,
}

pub struct ImapServer {
    port: u16,
    told: Arc<Mutex<Told>>,
    listening: Option<JoinHandle<()>>,
}

impl ImapServer {
    /// A server whose first sessions follow the given modes.
    pub fn start(script: &[Mode]) -> Self {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
        let port = listener.local_addr().unwrap().port();
        let told = Arc::new(Mutex::new(Told::default()));
        lock(&told).script.extend(script);
        let theirs = Arc::clone(&told);
        let listening = thread::spawn(move || {
            for stream in listener.incoming() {
                let mut told = lock(&theirs);
                if told.closing {
                    return;
                }
                let mode = told.script.pop_front().unwrap_or(Mode::Behave);
                drop(told);
                let theirs = Arc::clone(&theirs);
                // A client that goes away is an error here and the end of the session.
                thread::spawn(move || drop(session(&stream.unwrap(), mode, &theirs)));
            }
        });
        Self {
            port,
            told,
            listening: Some(listening),
        }
    }

    pub fn port(&self) -> u16 {
        self.port
    }

    /// Puts a mail into the mailbox.
    pub fn put(&self, mail: &str) {
        self.put_as(mail, None);
    }

    /// Puts a mail into the mailbox that is said to have another size.
    pub fn put_as(&self, mail: &str, size: Option<usize>) {
        lock(&self.told).mails.push(Kept {
            bytes: mail.as_bytes().to_vec(),
            size,
            seen: false,
        });
    }

    /// Whether each mail is marked as read.
    pub fn seen(&self) -> Vec<bool> {
        lock(&self.told)
            .mails
            .iter()
            .map(|mail| mail.seen)
            .collect()
    }

    /// What it was asked, without the tags.
    pub fn commands(&self) -> Vec<String> {
        lock(&self.told).commands.clone()
    }
}

impl Drop for ImapServer {
    fn drop(&mut self) {
        lock(&self.told).closing = true;
        drop(TcpStream::connect((Ipv4Addr::LOCALHOST, self.port)));
        if let Some(listening) = self.listening.take() {
            drop(listening.join());
        }
    }
}

fn lock(told: &Mutex<Told>) -> MutexGuard<'_, Told> {
    told.lock()
        .unwrap_or_else(std::sync::PoisonError::into_inner)
}

/// Waits until the other side has enough.
fn silence(lines: &mut impl BufRead) {
    let mut rest = String::new();
    while lines.read_line(&mut rest).is_ok_and(|read| read > 0) {}
}

fn session(stream: &TcpStream, mode: Mode, told: &Mutex<Told>) -> std::io::Result<()> {
    let mut lines = BufReader::new(stream.try_clone()?);
    let mut out = stream;
    if mode == Mode::SilentAtConnect {
        silence(&mut lines);
        return Ok(());
    }
    out.write_all(b"* OK at your service\r\n")?;
    let mut fetched = 0;
    loop {
        let mut line = String::new();
        if lines.read_line(&mut line)? == 0 {
            return Ok(());
        }
        let Some((tag, command)) = line.trim_end().split_once(' ') else {
            return Ok(());
        };
        lock(told).commands.push(command.to_owned());
        let ok = format!("{tag} OK done\r\n");
        let words: Vec<&str> = command.split(' ').collect();
        match words.as_slice() {
            ["LOGIN", ..] if mode == Mode::SilentAtLogin => {
                silence(&mut lines);
                return Ok(());
            }
            ["LOGIN", ..] if refused(mode, command).is_some() => {
                let why = refused(mode, command).unwrap_or_default();
                write!(out, "{tag} NO {why}\r\n")?;
            }
            ["SELECT", ..] if mode == Mode::NoSuchFolder => {
                write!(out, "{tag} NO no such folder\r\n")?;
            }
            ["SELECT", ..] => {
                let many = lock(told).mails.len();
                write!(
                    out,
                    "* {many} EXISTS\r\n* OK [UIDVALIDITY 7] so far\r\n{ok}"
                )?;
            }
            ["UID", "SEARCH", "UNSEEN"] => {
                let found: String = (1..)
                    .zip(&lock(told).mails)
                    .filter(|(_, mail)| !mail.seen)
                    .map(|(uid, _)| format!(" {uid}"))
                    .collect();
                if mode == Mode::CutInSearch {
                    return stream.shutdown(Shutdown::Both);
                }
                write!(out, "* SEARCH{found}\r\n{ok}")?;
            }
            ["UID", "FETCH", uid, "(RFC822.SIZE)"] => {
                let mail = mail(told, uid);
                let size = mail.size.unwrap_or(mail.bytes.len());
                write!(out, "* {uid} FETCH (UID {uid} RFC822.SIZE {size})\r\n{ok}")?;
            }
            ["UID", "FETCH", uid, what] => {
                let bytes = mail(told, uid).bytes;
                fetched += 1;
                if mode == Mode::CutInSecondMail && fetched == 2 {
                    write!(
                        out,
                        "* {uid} FETCH (UID {uid} BODY[] {{{}}}\r\nFrom:",
                        bytes.len()
                    )?;
                    return stream.shutdown(Shutdown::Both);
                }
                let what = what.trim_matches(['(', ')']).replace(".PEEK", "");
                let end = bytes.windows(4).position(|w| w == b"\r\n\r\n").unwrap() + 4;
                let bytes = if what == "BODY[HEADER]" {
                    &bytes[..end]
                } else {
                    &bytes
                };
                write!(
                    out,
                    "* {uid} FETCH (UID {uid} {what} {{{}}}\r\n",
                    bytes.len()
                )?;
                out.write_all(bytes)?;
                write!(out, ")\r\n{ok}")?;
            }
            ["UID", "STORE", ..] if mode == Mode::MarksRefused => {
                write!(out, "{tag} NO the folder is for reading only\r\n")?;
            }
            ["UID", "STORE", uids, "+FLAGS.SILENT", "(\\Seen)"] => {
                for uid in uids.split(',') {
                    let uid: usize = uid.parse().unwrap();
                    lock(told).mails[uid - 1].seen = true;
                }
                out.write_all(ok.as_bytes())?;
            }
            ["LOGOUT"] => {
                write!(out, "* BYE\r\n{ok}")?;
                return Ok(());
            }
            ["LOGIN" | "NOOP", ..] => out.write_all(ok.as_bytes())?,
            _ => write!(out, "{tag} BAD unknown\r\n")?,
        }
    }
}

/// Why a login is refused, where it is.
fn refused(mode: Mode, command: &str) -> Option<String> {
    match mode {
        Mode::WrongPassword => Some("[AUTHENTICATIONFAILED] wrong user or password".into()),
        Mode::SaysLoginBack => Some(format!("not right: {command}")),
        _ => None,
    }
}

fn mail(told: &Mutex<Told>, uid: &str) -> Kept {
    let uid: usize = uid.parse().unwrap();
    lock(told).mails[uid - 1].clone()
}
