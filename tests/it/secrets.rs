//! Secrets in all the places that secrets have, each of them refused by a server that says it back: nothing that is
//! printed, logged, mailed or kept shows one.

use crate::imap_server::{self, ImapServer};
use crate::program::Nursery;
use crate::seen::{of_today, server};
use crate::smtp_server::{self, SmtpServer};
use graftwarden::config::Config;
use serde_json::Value;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Command, Stdio};
use wiremock::{MockServer, ResponseTemplate};

/// Mail, mailbox (with what a command has to quote), weather service, station, hook, sign of life.
const SECRETS: [&str; 6] = [
    "birch-1111",
    "larch \"5555\" \\",
    "oakey-6666",
    "alder-3333",
    "hazel-2222",
    "maple-4444",
];

/// By what they are known, in whatever way they are written. The last two are what the mail server is told, in base64.
const KNOWN_BY: [&str; 8] = [
    "birch-1",
    "larch",
    "oakey-6",
    "alder-3",
    "hazel-2",
    "maple-4",
    "AGxldHRlcnMAYmlyY2gtMTExMQ",
    "YmlyY2gtMTExMQ",
];

/// A nursery and its servers, none of which lets anybody in.
struct Shut {
    nursery: Nursery,
    _mail: SmtpServer,
    _mailbox: ImapServer,
    _others: Vec<MockServer>,
}

async fn shut() -> Shut {
    let [mail, mailbox, key, header, hook, alive] = SECRETS;
    let says = |code: u16, body: String| ResponseTemplate::new(code).set_body_string(body);
    let no_key = format!("{{\"error\":true,\"reason\":\"no such key: {key}\"}}");
    let service = server(says(400, no_key)).await;
    let station = server(says(401, format!("no: Bearer {header}"))).await;
    let hooked = server(says(401, format!("no: {hook}"))).await;
    let called = server(says(401, format!("no: /{alive}"))).await;
    let smtp = SmtpServer::start(&[smtp_server::Mode::SaysLoginBack; 60]);
    let imap = ImapServer::start(&[imap_server::Mode::SaysLoginBack; 60]);
    let more = format!(
        "[post.smtp]\nhost = \"127.0.0.1\"\nport = {}\nsecurity = \"none\"\nuser = \"letters\"\npassword_file = \"mail.secret\"\n\
         [answers]\naddress = \"answers@alderfold.example\"\n\
         [answers.imap]\nhost = \"127.0.0.1\"\nport = {}\nsecurity = \"none\"\nuser = \"answers\"\npassword_file = \"mailbox.secret\"\n\
         [post.hook]\nurl = \"{}/\"\nsecret_file = \"hook.secret\"\n\
         [alive]\nurl_file = \"alive.secret\"\nmetrics = \"figures.txt\"\n\
         [pages]\nfolder = \"pages\"\n",
        smtp.port(),
        imap.port(),
        hooked.uri()
    );
    let sources = format!(
        "[[site.weather]]\nsource = \"url\"\nurl = \"{}/days\"\nformat = \"csv\"\nheader_file = \"header.secret\"\n\n\
         [[site.weather]]\nsource = \"open-meteo\"\nurl = \"{}/v1\"\nkey_file = \"key.secret\"\n\n[[people]]",
        station.uri(),
        service.uri()
    );
    let nursery = of_today(&more).but("graftwarden.toml", "[[people]]", &sources);
    nursery.write("mail.secret", format!("{mail}\n"));
    nursery.write("mailbox.secret", format!("{mailbox}\n"));
    nursery.write("key.secret", format!("{key}\n"));
    nursery.write("header.secret", format!("Authorization: Bearer {header}\n"));
    nursery.write("hook.secret", format!("{hook}\n"));
    nursery.write("alive.secret", format!("{}/{alive}\n", called.uri()));
    Shut {
        nursery,
        _mail: smtp,
        _mailbox: imap,
        _others: vec![service, station, hooked, called],
    }
}

/// The log of the service up to its first round, and until it has ended.
fn log_of_watch(nursery: &Nursery) -> String {
    let mut command = nursery.command("--log-json watch");
    let service = command.stdout(Stdio::null()).stderr(Stdio::piped());
    let mut child = service.spawn().unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap());
    let (mut log, mut line) = (String::new(), String::new());
    while lines.read_line(&mut line).unwrap() > 0 {
        log += &line;
        let said: Value = serde_json::from_str(&line).unwrap();
        line.clear();
        if said["fields"]["message"] == "round done" {
            let asked = Command::new("kill").arg(child.id().to_string()).status();
            assert!(asked.unwrap().success());
        }
    }
    lines.read_to_string(&mut log).unwrap();
    assert!(child.wait().unwrap().success(), "{log}");
    log
}

/// What every file under a folder holds, one after the other.
fn held(folder: &Path, all: &mut Vec<u8>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            held(&path, all);
        } else {
            all.extend(std::fs::read(path).unwrap());
        }
    }
}

#[track_caller]
fn shows_none(what: &str, bytes: &[u8]) {
    for known in KNOWN_BY {
        let mut parts = bytes.windows(known.len());
        if let Some(at) = parts.position(|part| part == known.as_bytes()) {
            let around = &bytes[at.saturating_sub(200)..bytes.len().min(at + 100)];
            panic!("{known} is in {what}: {}", String::from_utf8_lossy(around));
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn no_secret_is_printed_logged_mailed_or_kept() {
    let shut = shut().await;
    let nursery = &shut.nursery;
    let log = log_of_watch(nursery);
    shows_none("the log", log.as_bytes());
    let mut printed = String::new();
    for words in [
        "check",
        "round",
        "check --online",
        "check --running",
        "check --running --json",
        "due",
        "days --site home",
        "days --site home --json",
        "note A1 looked",
        "round",
        "state export out",
        "state export out-json --json",
    ] {
        let ran = nursery.run(words).to_string();
        shows_none(words, ran.as_bytes());
        printed += &ran;
    }
    let config = Config::load(&nursery.path("graftwarden.toml")).unwrap();
    shows_none("the config", format!("{config:?}").as_bytes());
    for folder in ["state", "letters", "pages", "out", "out-json"] {
        let mut all = Vec::new();
        held(&nursery.path(folder), &mut all);
        assert!(!all.is_empty(), "{folder}");
        shows_none(folder, &all);
    }
    let figures = std::fs::read(nursery.path("figures.txt")).unwrap();
    shows_none("figures.txt", &figures);
    // Each server has said it back, and that was told without it.
    for said in [
        "535 not right: AUTH PLAIN (the password)",
        "said no: not right: LOGIN",
        "no such key: [key]",
        "answered 401: no: [key]",
        "answered 401: no: [hidden]",
    ] {
        let told = printed.contains(said) || log.contains(said);
        assert!(told, "{said}: {printed}\n{log}");
    }
    let alive = nursery.memory("SELECT value FROM fact WHERE key = 'alive not answered'");
    assert!(alive[0].contains("no: [hidden]"), "{alive:?}");
}
