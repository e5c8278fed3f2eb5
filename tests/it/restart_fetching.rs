//! Killed while it asks for temperatures or for answers: in the end the ledger, the letters, the days, the records and the
//! answers are those of a round that nothing disturbed.

use crate::dead_line::{Dead, DeadLine};
use crate::imap_server::ImapServer;
use crate::program::{CONFIG, FIRST, Nursery};
use crate::weather_server::WeatherServer;
use chrono::{DateTime, Timelike, Utc};
use std::os::unix::process::ExitStatusExt;
use std::process::Stdio;

const BATCHES: &str = "\
batch,site,block,plan,scion,grafts,grafted_on
A1,home,A,maple field T-graft,Ember Lace,310,2024-07-01
B1,hill,B,maple field T-graft,Grey Heron,90,2024-07-10
";

/// 20.1 °C in the mean, each day a little unlike the one before: A1's look for callus lines opens on 15 July.
fn mild(at: DateTime<Utc>) -> f64 {
    let hour = f64::from(at.hour());
    let unlike = (at.timestamp() / 86400 % 3 - 1) as f64 * 0.4;
    20.1 + unlike - 6.0 * (hour * std::f64::consts::TAU / 24.0).cos()
}

fn mail(n: usize, words: &str) -> String {
    format!(
        "From: Maren <maren@alderfold.example>\r\nTo: answers@alderfold.example\r\nMessage-ID: <m{n}@phone.example>\r\n\
         Date: Tue, 16 Jul 2024 05:0{n}:00 +0200\r\nSubject: today\r\n\r\n{words}\r\n"
    )
}

/// Two sites by one service, and a mailbox with two answers.
fn nursery(weather: u16, mailbox: u16) -> Nursery {
    let source = format!(
        "[[site.weather]]\nsource = \"open-meteo\"\nurl = \"http://127.0.0.1:{weather}/v1/forecast\"\npast_days = 40\n"
    );
    let file = "[[site.weather]]\nsource = \"file\"\npath = \"temps.csv\"\n";
    let hill =
        format!("{source}\n[[site]]\nid = \"hill\"\nlatitude = 50.9\nlongitude = 4.5\n\n{source}");
    let answers = format!(
        "\n[answers]\naddress = \"answers@alderfold.example\"\ntrust = \"sender\"\n\n\
         [answers.imap]\nhost = \"127.0.0.1\"\nport = {mailbox}\nsecurity = \"none\"\nuser = \"answers\"\npassword_file = \"password\"\n"
    );
    Nursery::bare()
        .with(
            "graftwarden.toml",
            &(CONFIG.replace(file, &hill) + &answers),
        )
        .with("batches.csv", BATCHES)
        .with("records.csv", "date,batch,what\n2024-07-12,B1,looked\n")
        .with("password", "hazel\n")
}

/// All that a round leaves, but for what is drawn by chance.
fn left(nursery: &Nursery) -> Vec<Vec<String>> {
    let tables = [
        "SELECT key, told_on FROM notice ORDER BY key",
        "SELECT site, source, date, min || ' to ' || max, origin FROM day ORDER BY site, date",
        "SELECT recipient, subject, carrier, state, tries FROM outbox JOIN letter ON letter.id = letter ORDER BY subject, carrier",
        "SELECT identity, date, batch, what, coalesce(CAST(count AS TEXT), '') FROM record ORDER BY identity",
        "SELECT mail, sender, state, words FROM answer ORDER BY mail",
        "SELECT mail, record, undone FROM answer_record JOIN answer ON answer.id = answer ORDER BY mail, record",
    ];
    tables.map(|sql| nursery.memory(sql)).into()
}

struct Servers {
    weather: WeatherServer,
    mailbox: ImapServer,
}

impl Servers {
    async fn start() -> Self {
        let now = DateTime::parse_from_rfc3339(FIRST).unwrap().to_utc();
        let mailbox = ImapServer::start(&[]);
        mailbox.put(&mail(1, "A1 lines"));
        mailbox.put(&mail(2, "B1 lost 5"));
        Self {
            weather: WeatherServer::start(now, |at| Some(mild(at))).await,
            mailbox,
        }
    }
}

/// What a round leaves that nothing disturbs: it has told of A1, taken both answers and written their receipts.
async fn calm() -> Vec<Vec<String>> {
    let servers = Servers::start().await;
    let nursery = nursery(servers.weather.port(), servers.mailbox.port());
    nursery.round(FIRST).well();
    assert_eq!(servers.mailbox.seen(), [true, true]);
    let left = left(&nursery);
    let [notices, days, outbox, records, answers, written] = &left[..] else {
        panic!("{left:#?}");
    };
    assert!(
        notices.iter().any(|told| told.starts_with("opens|A1|")),
        "{notices:#?}"
    );
    assert!(days.len() > 80, "{days:#?}");
    assert_eq!(
        (outbox.len(), records.len(), answers.len(), written.len()),
        (3, 3, 2, 2),
        "{left:#?}"
    );
    left
}

/// A round is killed when that line has gone dead, and walked again.
async fn killed(weather: Option<Dead>, mailbox: Option<Dead>, calm: &[Vec<String>]) {
    let servers = Servers::start().await;
    let to_weather = DeadLine::to(servers.weather.port(), weather);
    let to_mailbox = DeadLine::to(servers.mailbox.port(), mailbox);
    let nursery = nursery(to_weather.port(), to_mailbox.port());
    let mut command = nursery.command(&format!("round --at {FIRST}"));
    let mut child = command
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    match weather {
        Some(_) => to_weather.wait(),
        None => to_mailbox.wait(),
    }
    child.kill().unwrap();
    assert_eq!(child.wait().unwrap().signal(), Some(9));
    nursery.round(FIRST).well();
    let case = format!("{weather:?} {mailbox:?}");
    assert_eq!(left(&nursery), calm, "{case}");
    assert_eq!(nursery.letters().len(), 3, "{case}");
    assert_eq!(servers.mailbox.seen(), [true, true], "{case}");
    assert_eq!(
        nursery.round(FIRST).well(),
        "0 notices, 0 letters\n",
        "{case}"
    );
}

/// By then the answers are fetched and nothing is settled.
#[tokio::test(flavor = "multi_thread")]
async fn killed_while_it_asks_for_temperatures() {
    let calm = calm().await;
    for dead in [
        Dead::Connected,
        Dead::Asked("GET ", 1),
        Dead::Answered("GET ", 1, 0),
        // In the midst of the document.
        Dead::Answered("GET ", 1, 5000),
        // The first site's are read whole.
        Dead::Asked("GET ", 2),
    ] {
        killed(Some(dead), None, &calm).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn killed_while_it_fetches_answers() {
    let calm = calm().await;
    for dead in [
        Dead::Connected,
        Dead::Asked("LOGIN", 1),
        Dead::Answered("LOGIN", 1, 0),
        Dead::Asked("SELECT", 1),
        Dead::Asked("UID SEARCH", 1),
        Dead::Answered("UID SEARCH", 1, 12),
        Dead::Asked("(RFC822.SIZE)", 1),
        Dead::Asked("(BODY.PEEK[])", 1),
        Dead::Answered("(BODY.PEEK[])", 1, 100),
        Dead::Answered("(BODY.PEEK[])", 2, 100),
    ] {
        killed(None, Some(dead), &calm).await;
    }
}

/// By then all is settled, and the mails are not marked yet, or nobody knows whether they are.
#[tokio::test(flavor = "multi_thread")]
async fn killed_while_it_marks_answers() {
    let calm = calm().await;
    for dead in [
        Dead::Asked("LOGIN", 2),
        Dead::Asked("SELECT", 2),
        Dead::Asked("UID STORE", 1),
        Dead::Answered("UID STORE", 1, 0),
        Dead::Answered("UID STORE", 1, 5),
    ] {
        killed(None, Some(dead), &calm).await;
    }
}
