//! Killed while it mails, refused, put off: every notice stands in the ledger once, every letter arrives, and only a
//! letter whose answer was lost may come twice, then as the same.

use crate::program::{CONFIG, FIRST, Nursery, temperatures};
use crate::smtp_server::{Mail, Mode, SmtpServer, Stage};
use std::collections::BTreeMap;
use std::os::unix::process::ExitStatusExt;
use std::process::Stdio;

const MAREN: &str = "maren@alderfold.example";
const JORY: &str = "jory@alderfold.example";

/// How often each letter came, by recipient. Letters with one Message-ID must be the same.
#[track_caller]
fn arrived(mails: &[Mail]) -> BTreeMap<&str, usize> {
    let mut by_id: BTreeMap<&[u8], &Mail> = BTreeMap::new();
    let mut times = BTreeMap::new();
    for mail in mails {
        let id = mail
            .bytes
            .split(|&byte| byte == b'\n')
            .find(|line| line.starts_with(b"Message-ID: <"));
        let first = by_id.entry(id.unwrap()).or_insert(mail);
        assert_eq!(*first, mail);
        *times.entry(mail.to.as_str()).or_default() += 1;
    }
    assert_eq!(by_id.len(), times.len(), "one letter a person");
    times
}

fn outbox(nursery: &Nursery, carrier: &str) -> Vec<String> {
    nursery.memory(&format!(
        "SELECT recipient, state, tries FROM outbox JOIN letter ON letter.id = letter WHERE carrier = '{carrier}' ORDER BY letter"
    ))
}

fn keys(nursery: &Nursery) -> Vec<String> {
    nursery.memory("SELECT key FROM notice ORDER BY key")
}

/// A round is killed when its first session has come that far, and walked again. How often the first letter came.
#[track_caller]
fn killed(mode: Mode, stage: Stage) -> usize {
    let undisturbed = SmtpServer::start(&[]);
    let calm = Nursery::mailed(undisturbed.port());
    calm.round(FIRST).well();

    let server = SmtpServer::start(&[mode]);
    let nursery = Nursery::mailed(server.port());
    let mut command = nursery.command(&format!("round --at {FIRST}"));
    let mut child = command.stdout(Stdio::null()).spawn().unwrap();
    server.wait_for(stage);
    child.kill().unwrap();
    assert_eq!(child.wait().unwrap().signal(), Some(9));

    assert_eq!(nursery.round(FIRST).well(), "0 notices, 0 letters\n");
    assert_eq!(keys(&nursery), keys(&calm));
    assert_eq!(keys(&nursery).len(), 1);
    assert_eq!(nursery.letters().len(), 2);
    let states = nursery.memory("SELECT DISTINCT state FROM outbox");
    assert_eq!(states, ["sent"]);
    let mails = server.mails();
    let times = arrived(&mails);
    assert_eq!(times[JORY], 1);
    times[MAREN]
}

#[test]
fn killed_before_the_greeting() {
    assert_eq!(killed(Mode::SilentAtConnect, Stage::Connected), 1);
}

#[test]
fn killed_after_the_recipient() {
    assert_eq!(killed(Mode::SilentAtRecipient, Stage::Recipient), 1);
}

#[test]
fn killed_after_the_letter_that_was_not_taken() {
    assert_eq!(killed(Mode::SilentAfterDot, Stage::Dot), 1);
}

#[test]
fn killed_after_the_letter_that_was_taken_but_not_answered() {
    assert_eq!(killed(Mode::SilentOnceTaken, Stage::Taken), 2);
}

#[test]
fn a_no_for_now_is_tried_again_when_its_time_has_come() {
    let server = SmtpServer::start(&[]);
    server.for_recipient(MAREN, Mode::RecipientLater);
    let nursery = Nursery::mailed(server.port());
    nursery.round(FIRST).waits();
    let tried = |times: u32| {
        [
            format!("{MAREN} | waiting | {times}"),
            format!("{JORY} | sent | 1"),
        ]
    };
    assert_eq!(outbox(&nursery, "smtp"), tried(1));
    // After a minute, and then after five more.
    for (at, times) in [
        ("06:10:59", 1),
        ("06:11:00", 2),
        ("06:15:59", 2),
        ("06:16:00", 3),
    ] {
        let at = format!("2024-07-16T{at}+02:00");
        let said = nursery.round(&at).waits();
        assert!(said.starts_with("0 notices, 0 letters; 1 waits"), "{said}");
        assert_eq!(outbox(&nursery, "smtp"), tried(times), "{at}");
    }
    server.for_recipient(MAREN, Mode::Accept);
    nursery.round("2024-07-16T06:31:00+02:00").well();
    assert_eq!(
        outbox(&nursery, "smtp"),
        [format!("{MAREN} | sent | 4"), format!("{JORY} | sent | 1")]
    );
    assert_eq!(
        arrived(&server.mails()),
        BTreeMap::from([(JORY, 1), (MAREN, 1)])
    );
    assert_eq!(server.sessions(), 5);
}

#[test]
fn a_busy_server_is_tried_again_too() {
    let server = SmtpServer::start(&[Mode::BusyAtGreeting]);
    let nursery = Nursery::mailed(server.port());
    nursery.round(FIRST).waits();
    assert_eq!(server.mails(), []);
    // Who found it busy stands behind the others by a second.
    nursery.round("2024-07-16T06:11:01+02:00").well();
    assert_eq!(
        arrived(&server.mails()),
        BTreeMap::from([(JORY, 1), (MAREN, 1)])
    );
}

#[test]
fn a_no_for_good_is_not_tried_again_and_is_told_once() {
    let server = SmtpServer::start(&[]);
    server.for_recipient(MAREN, Mode::NoSuchRecipient);
    let nursery = Nursery::mailed(server.port());
    nursery.round(FIRST);
    let of_first = || outbox(&nursery, "smtp")[0].clone();
    assert_eq!(of_first(), format!("{MAREN} | refused | 1"));
    for at in ["07:00", "08:00", "09:00"] {
        nursery.round(&format!("2024-07-16T{at}:00+02:00"));
        assert_eq!(of_first(), format!("{MAREN} | refused | 1"));
    }
    nursery.write("temps.csv", temperatures("2024-07-16"));
    nursery.round("2024-07-17T06:10:00+02:00");
    let told = nursery.memory("SELECT kind, round_at FROM notice ORDER BY id");
    assert_eq!(
        told,
        [
            "opens | 2024-07-16T04:10:00Z",
            "trouble | 2024-07-16T05:00:00Z"
        ]
    );
    let to_jory = server.mails();
    assert_eq!(to_jory.len(), 2);
    assert!(to_jory.iter().all(|mail| mail.to == JORY));
    let trouble = crate::program::unfolded(std::str::from_utf8(&to_jory[1].bytes).unwrap());
    assert!(
        trouble.contains("Subject: Trouble: mail to maren@alderfold.example: mail server"),
        "{trouble}"
    );
}

#[test]
fn one_bad_address_among_twenty_holds_up_nobody() {
    let server = SmtpServer::start(&[]);
    let person = |n: u32| {
        format!("[[people]]\nname = \"Hand {n}\"\nemail = \"hand{n:02}@alderfold.example\"\n\n")
    };
    let people: String = (1..=19).map(person).collect();
    let smtp = format!(
        "\n[post.smtp]\nhost = \"127.0.0.1\"\nport = {}\nsecurity = \"none\"\n",
        server.port()
    );
    let config = CONFIG.replace("[post]", &(people + "[post]")) + &smtp;
    let nursery = Nursery::small().with("graftwarden.toml", &config);
    server.for_recipient("hand07@alderfold.example", Mode::NoSuchRecipient);
    assert_eq!(nursery.round(FIRST).code, 0);
    let mails = server.mails();
    let times = arrived(&mails);
    assert_eq!(times.len(), 19);
    assert!(!times.contains_key("hand07@alderfold.example"));
    assert!(times.values().all(|&times| times == 1));
    assert_eq!(nursery.letters().len(), 20, "in the folder lies hers too");
}
