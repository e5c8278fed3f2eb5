//! A mailbox with a server that gives, refuses, stalls and breaks off.

use crate::imap_server::{ImapServer, Mode};
use graftwarden::post::Security;
use graftwarden::replies::{Imap, ImapSettings, MOST, Mailbag, Mailbox};
use graftwarden::roots::Roots;
use std::time::Duration;

/// Long enough for this machine, short enough to wait for.
const SHORT: Duration = Duration::from_millis(300);

fn imap(port: u16, limit: Duration) -> Imap {
    let settings = ImapSettings {
        roots: Roots::default(),
        host: "127.0.0.1".into(),
        port,
        security: Security::None,
        user: "answers".into(),
        password: "hazel \"4711\"".into(),
        folder: "INBOX".into(),
    };
    Imap::new(settings, limit).unwrap()
}

fn mail(n: usize) -> String {
    format!(
        "From: Jory <jory@alderfold.example>\r\nMessage-ID: <{n}@phone.example>\r\n\r\nC-{n} lines\r\n"
    )
}

fn ids(bag: &Mailbag) -> Vec<&str> {
    bag.mails.iter().map(|m| m.mail.id.as_str()).collect()
}

/// What is said of a first look in that mode; there are three mails.
async fn failed(mode: Mode) -> String {
    let server = ImapServer::start(&[mode]);
    (1..=3).for_each(|n| server.put(&mail(n)));
    let said = imap(server.port(), SHORT).look().await.unwrap_err();
    assert_eq!(server.seen(), [false; 3]);
    let said = said.to_string();
    assert!(!said.contains("hazel"), "{said}");
    said.replace(&server.port().to_string(), "PORT")
}

#[tokio::test]
async fn unread_mails_are_read_without_a_mark_and_marked_when_done() {
    let server = ImapServer::start(&[]);
    (1..=3).for_each(|n| server.put(&mail(n)));
    let imap = imap(server.port(), Imap::LIMIT);
    let bag = imap.look().await.unwrap();
    assert_eq!(
        ids(&bag),
        ["1@phone.example", "2@phone.example", "3@phone.example"]
    );
    assert_eq!(bag.mails[1].mail.words.trim(), "C-2 lines");
    assert_eq!(server.seen(), [false; 3]);
    let done = vec![bag.mails[0].handle.clone(), bag.mails[2].handle.clone()];
    imap.put_aside(done).await.unwrap();
    assert_eq!(server.seen(), [true, false, true]);
    assert_eq!(ids(&imap.look().await.unwrap()), ["2@phone.example"]);
    let commands = server.commands();
    assert_eq!(commands[0], "LOGIN \"answers\" \"hazel \\\"4711\\\"\"");
    assert!(
        !commands.iter().any(|c| c.contains("BODY[")),
        "{commands:?}"
    );
    let sessions = commands.iter().filter(|c| c.starts_with("LOGIN")).count();
    let ended = commands.iter().filter(|c| *c == "LOGOUT").count();
    assert_eq!((sessions, ended), (3, 3));
}

#[tokio::test]
async fn of_a_hundred_mails_the_oldest_forty_come_first() {
    let server = ImapServer::start(&[]);
    (1..=100).for_each(|n| server.put(&mail(n)));
    let imap = imap(server.port(), Imap::LIMIT);
    let mut read = Vec::new();
    for looked in [MOST, MOST, 20, 0] {
        let bag = imap.look().await.unwrap();
        assert_eq!(bag.mails.len(), looked);
        read.extend(ids(&bag).into_iter().map(str::to_owned));
        let done = bag.mails.into_iter().map(|m| m.handle).collect();
        imap.put_aside(done).await.unwrap();
    }
    let all: Vec<String> = (1..=100).map(|n| format!("{n}@phone.example")).collect();
    assert_eq!(read, all);
}

#[tokio::test]
async fn of_a_mail_that_is_too_large_only_the_head_is_asked_for() {
    let server = ImapServer::start(&[]);
    server.put_as(&mail(1), Some(30_000_000));
    let bag = imap(server.port(), Imap::LIMIT).look().await.unwrap();
    assert_eq!(bag.mails[0].too_large, Some(30_000_000));
    assert_eq!(bag.mails[0].mail.words, "");
    let commands = server.commands();
    assert!(
        commands.contains(&"UID FETCH 1 (BODY.PEEK[HEADER])".into()),
        "{commands:?}"
    );
    assert!(!commands.contains(&"UID FETCH 1 (BODY.PEEK[])".into()));
}

#[tokio::test]
async fn a_refused_login_is_said_with_what_to_check() {
    assert_eq!(
        failed(Mode::WrongPassword).await,
        "mailbox at 127.0.0.1:PORT: at the login, the server said no: wrong user or password; no answer is read. Check user and password_file under [answers.imap]; many providers want a password of its own for each program."
    );
}

#[tokio::test]
async fn a_folder_that_is_not_there_is_named() {
    assert_eq!(
        failed(Mode::NoSuchFolder).await,
        "mailbox at 127.0.0.1:PORT: asked for the folder 'INBOX', the server said no: no such folder; no answer is read. Check folder under [answers.imap]."
    );
}

#[tokio::test]
async fn a_silent_server_holds_up_nothing() {
    for (mode, stage) in [
        (Mode::SilentAtConnect, "while connecting"),
        (Mode::SilentAtLogin, "at the login"),
    ] {
        let said = failed(mode).await;
        let expect = format!("{stage}, the server gave no answer within 0.3 s");
        assert!(said.contains(&expect), "{said}");
    }
}

#[tokio::test]
async fn a_line_that_breaks_in_a_list_is_no_empty_list() {
    let said = failed(Mode::CutInSearch).await;
    assert!(said.contains("asked for new mails, the server"), "{said}");
}

#[tokio::test]
async fn what_was_read_before_the_line_broke_is_taken() {
    let server = ImapServer::start(&[Mode::CutInSecondMail]);
    (1..=3).for_each(|n| server.put(&mail(n)));
    let imap = imap(server.port(), Imap::LIMIT);
    assert_eq!(ids(&imap.look().await.unwrap()), ["1@phone.example"]);
    assert_eq!(imap.look().await.unwrap().mails.len(), 3);
}

#[tokio::test]
async fn marks_that_are_refused_are_said() {
    let server = ImapServer::start(&[Mode::Behave, Mode::MarksRefused]);
    server.put(&mail(1));
    let imap = imap(server.port(), Imap::LIMIT);
    let bag = imap.look().await.unwrap();
    let said = imap
        .put_aside(vec![bag.mails[0].handle.clone()])
        .await
        .unwrap_err();
    assert!(
        said.what.contains(
            "asked to mark mails as read, the server said no: the folder is for reading only"
        ),
        "{said}"
    );
}

#[tokio::test]
async fn mails_that_were_numbered_anew_are_not_marked_by_their_old_numbers() {
    let server = ImapServer::start(&[]);
    server.put(&mail(1));
    let imap = imap(server.port(), Imap::LIMIT);
    imap.put_aside(vec!["6:1".into()]).await.unwrap();
    assert_eq!(server.seen(), [false]);
}

#[tokio::test]
async fn nothing_is_read_openly_where_privacy_was_asked_for() {
    let server = ImapServer::start(&[]);
    for security in [Security::Tls, Security::StartTls] {
        let settings = ImapSettings {
            roots: Roots::default(),
            host: "127.0.0.1".into(),
            port: server.port(),
            security,
            user: "answers".into(),
            password: "hazel-4711".into(),
            folder: "INBOX".into(),
        };
        let said = Imap::new(settings, SHORT)
            .unwrap()
            .look()
            .await
            .unwrap_err();
        assert!(said.what.contains("while connecting"), "{said}");
    }
    let commands = server.commands();
    assert!(
        !commands.iter().any(|c| c.contains("LOGIN")),
        "{commands:?}"
    );
}

#[tokio::test]
async fn the_check_says_what_waits() {
    let server = ImapServer::start(&[]);
    server.put(&mail(1));
    let said = imap(server.port(), Imap::LIMIT).try_out().await.unwrap();
    assert_eq!(
        said,
        format!(
            "mailbox at 127.0.0.1:{}: 1 mail waits to be read",
            server.port()
        )
    );
    assert_eq!(server.seen(), [false]);
}
