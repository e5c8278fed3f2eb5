//! The real program, run in a nursery of its own: a temporary folder with the files that a test gives it.
//!
//! Every run stands in that folder, so that paths in its output are the short ones of the config. What it left to be
//! compared is everything: both outputs and the exit code.

use std::fmt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;

/// One site, one person, one source: a file. Letters go into a folder. Nothing is learned, so that no early looks are
/// asked for; [`Nursery::learning`] changes that.
pub const CONFIG: &str = r#"version = 1

[nursery]
name = "Alder Fold Nursery"
zone = "Europe/Brussels"
learn = "off"

[[site]]
id = "home"
latitude = 50.8
longitude = 4.4

[[site.weather]]
source = "file"
path = "temps.csv"

[[people]]
name = "Maren Holt"
email = "maren@alderfold.example"
gets = ["work", "urgent", "trouble"]

[post]
from = "Alder Fold Nursery <letters@alderfold.example>"
folder = "letters"
log = false
"#;

pub const BATCHES: &str = "\
batch,block,plan,scion,grafts,grafted_on
A1,A,maple field T-graft,Ember Lace,310,2024-07-01
A2,A,maple field T-graft,Fox Cinder,120,2024-07-03
B1,B,maple field T-graft,Grey Heron,90,2024-07-10
";

pub const RECORDS: &str = "date,batch,what,count,by,remarks\n";

/// The morning after A1's callus check opens: see [`temperatures`]. A Tuesday.
pub const FIRST: &str = "2024-07-16T06:10:00+02:00";

/// Days from 25 June to `last`, 20.1 °C in the mean: minima of 14.1, 14.5 and 13.7 °C in turn, maxima 12 °C above.
/// Between 5 and 30 °C a day gives its mean less 5, so 15.1, 15.5 and 14.7 °C·d in turn. A1, grafted on 1 July, has 13 of
/// them by 14 July, at most 13 * 15.1 + 0.4 = 196.7 °C·d, and 14 by 15 July, at least 14 * 15.1 - 0.4 = 211.0 °C·d: its
/// 14 standard days of 15 °C·d, 210 °C·d, are met on 15 July; in the same way 18 are on day 18 and 21 on day 21.
pub fn temperatures(last: &str) -> String {
    let day = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
    let (first, last) = (day("2024-06-25"), day(last));
    let days = first.iter_days().take_while(|date| *date <= last);
    let row = |(date, warmer): (chrono::NaiveDate, f64)| {
        format!("{date},{:.1},{:.1}\n", 14.1 + warmer, 26.1 + warmer)
    };
    let rows: String = days
        .zip([0.0, 0.4, -0.4].into_iter().cycle())
        .map(row)
        .collect();
    format!("date,tmin_c,tmax_c\n{rows}")
}

/// A folder with files in it.
pub struct Nursery {
    folder: TempDir,
}

impl Nursery {
    /// Nothing in it.
    pub fn bare() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    /// The small nursery of this module: three batches in two blocks on the morning of 16 July 2024.
    pub fn small() -> Self {
        Self::bare()
            .with("graftwarden.toml", CONFIG)
            .with("batches.csv", BATCHES)
            .with("records.csv", RECORDS)
            .with("temps.csv", &temperatures("2024-07-15"))
    }

    /// The small nursery with a second person, and with letters by a mail server on that port too.
    pub fn mailed(port: u16) -> Self {
        let jory =
            "[[people]]\nname = \"Jory Penhale\"\nemail = \"jory@alderfold.example\"\n\n[post]";
        let smtp =
            format!("\n[post.smtp]\nhost = \"127.0.0.1\"\nport = {port}\nsecurity = \"none\"\n");
        Self::small().with(
            "graftwarden.toml",
            &(CONFIG.replace("[post]", jory) + &smtp),
        )
    }

    /// The same, learning in that way.
    pub fn learning(self, how: &str) -> Self {
        self.but("graftwarden.toml", "\"off\"", &format!("{how:?}"))
    }

    /// A copy of the invented season.
    pub fn demo() -> Self {
        let nursery = Self::bare();
        for file in std::fs::read_dir(demo()).unwrap() {
            let file = file.unwrap().path();
            if file.is_file() {
                let name = file.file_name().unwrap();
                std::fs::copy(&file, nursery.folder.path().join(name)).unwrap();
            }
        }
        nursery
    }

    /// With this file.
    pub fn with(self, name: &str, text: &str) -> Self {
        self.write(name, text);
        self
    }

    /// With a file changed: `from` must stand in it.
    #[track_caller]
    pub fn but(self, name: &str, from: &str, to: &str) -> Self {
        self.change(name, from, to);
        self
    }

    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), text).unwrap();
    }

    #[track_caller]
    pub fn change(&self, name: &str, from: &str, to: &str) {
        let text = self.read(name);
        assert!(text.contains(from), "{name} has no {from:?}");
        self.write(name, text.replace(from, to));
    }

    pub fn append(&self, name: &str, text: &str) {
        self.write(name, self.read(name) + text);
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }

    /// The texts of the letters in the folder, by name of file.
    pub fn letters(&self) -> Vec<String> {
        let mut files: Vec<PathBuf> = match std::fs::read_dir(self.path("letters")) {
            Ok(files) => files.map(|file| file.unwrap().path()).collect(),
            Err(_) => Vec::new(),
        };
        files.sort();
        let text = |file: &PathBuf| unfolded(&std::fs::read_to_string(file).unwrap());
        files.iter().map(text).collect()
    }

    /// The program, about to be run here with these words.
    pub fn command(&self, words: &str) -> Command {
        program(self.folder.path(), words.split_whitespace())
    }

    pub fn run(&self, words: &str) -> Ran {
        self.ran(&mut self.command(words))
    }

    /// Like `run`, for words with blanks in them.
    pub fn run_words(&self, words: &[&str]) -> Ran {
        self.ran(&mut program(self.folder.path(), words.iter().copied()))
    }

    fn ran(&self, command: &mut Command) -> Ran {
        let here = self.folder.path().display().to_string();
        Ran::new(&command.output().unwrap(), &here)
    }

    /// A round at that moment.
    pub fn round(&self, at: &str) -> Ran {
        self.run(&format!("round --at {at}"))
    }

    /// Rows of the program's memory, each as its values between bars.
    pub fn memory(&self, sql: &str) -> Vec<String> {
        let file = graftwarden::store::Store::file_in(&self.path("state"));
        let memory = rusqlite::Connection::open(file).unwrap();
        let mut asked = memory.prepare(sql).unwrap();
        let width = asked.column_count();
        let value = |row: &rusqlite::Row<'_>, i| match row.get_ref(i).unwrap() {
            rusqlite::types::ValueRef::Integer(n) => n.to_string(),
            other => String::from_utf8_lossy(other.as_bytes().unwrap()).into_owned(),
        };
        let rows = asked.query_map([], |row| {
            let values: Vec<String> = (0..width).map(|i| value(row, i)).collect();
            Ok(values.join(" | "))
        });
        rows.unwrap().map(Result::unwrap).collect()
    }
}

/// The folder of the invented season.
pub fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data")
}

/// The program in a folder, with nothing of the service manager around it.
pub fn program<'w>(folder: &Path, words: impl Iterator<Item = &'w str>) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_graftwarden"));
    command.current_dir(folder).args(words).stdin(Stdio::null());
    for name in [
        "NOTIFY_SOCKET",
        "WATCHDOG_USEC",
        "WATCHDOG_PID",
        "JOURNAL_STREAM",
        "CREDENTIALS_DIRECTORY",
    ] {
        command.env_remove(name);
    }
    command
}

/// A letter as it is read: its text, quoted-printable undone, line ends as on paper. What goes along with the text is
/// left out, and so are the lines of the head that are only about that.
pub fn unfolded(letter: &str) -> String {
    let (head, body) = letter.split_once("\r\n\r\n").unwrap_or((letter, ""));
    if let Some((head, _)) = head.split_once("Content-Type: multipart/") {
        let text = mail_parser::MessageParser::default().parse(letter).unwrap();
        let text = text.body_text(0).unwrap();
        return format!("{head}\n{text}").replace("\r\n", "\n");
    }
    let body = if head.contains("quoted-printable") {
        plain(body)
    } else {
        body.to_owned()
    };
    format!("{head}\n\n{body}").replace("\r\n", "\n")
}

/// Quoted-printable undone (RFC 2045, 6.7).
fn plain(body: &str) -> String {
    let body = body.replace("=\r\n", "");
    let mut bytes = Vec::new();
    let mut rest = body.as_bytes();
    while let [first, tail @ ..] = rest {
        let hex = tail.get(..2).and_then(|hex| std::str::from_utf8(hex).ok());
        match hex.and_then(|hex| u8::from_str_radix(hex, 16).ok()) {
            Some(byte) if *first == b'=' => {
                bytes.push(byte);
                rest = &tail[2..];
            }
            _ => {
                bytes.push(*first);
                rest = tail;
            }
        }
    }
    String::from_utf8(bytes).unwrap()
}

/// Today, where the nurseries are.
pub fn today() -> chrono::NaiveDate {
    chrono::Utc::now()
        .with_timezone(&chrono_tz::Europe::Brussels)
        .date_naive()
}

/// A log line with `[time]` for the moment at its beginning; any other line as it is.
fn without_time(line: &str) -> String {
    match line.split_once(' ') {
        Some((time, rest))
            if time.ends_with('Z') && chrono::DateTime::parse_from_rfc3339(time).is_ok() =>
        {
            format!("[time] {rest}")
        }
        _ => line.to_owned(),
    }
}

/// What a run left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Ran {
    /// The temporary folder is named `[here]`, and log lines begin with `[time]`.
    pub fn new(output: &Output, here: &str) -> Self {
        let text = |bytes: &[u8]| {
            let text = String::from_utf8(bytes.to_vec()).unwrap();
            let lines = text.split_inclusive('\n').map(without_time);
            lines.collect::<String>().replace(here, "[here]")
        };
        Self {
            code: output.status.code().unwrap_or(-1),
            out: text(&output.stdout),
            err: text(&output.stderr),
        }
    }

    /// It went well and had nothing to complain about; what it wrote.
    #[track_caller]
    pub fn well(self) -> String {
        assert_eq!((self.code, self.err.as_str()), (0, ""), "{self}");
        self.out
    }
}

impl Ran {
    /// It went as well, but letters wait; what it wrote.
    #[track_caller]
    pub fn waits(self) -> String {
        assert_eq!((self.code, self.err.as_str()), (75, ""), "{self}");
        self.out
    }
}

impl fmt::Display for Ran {
    /// Standard output, then standard error and the exit code where there is something to see.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.out)?;
        if !self.err.is_empty() {
            write!(f, "-- error --\n{}", self.err)?;
        }
        if self.code != 0 {
            writeln!(f, "-- exit {} --", self.code)?;
        }
        Ok(())
    }
}
