//! Letters through a mail server that takes, refuses, stalls and breaks off.

use crate::smtp_server::{Mode, SmtpServer, Stage};
use graftwarden::post::{Carrier, Outcome, Parcel, Security, Smtp, SmtpSettings};
use graftwarden::roots::Roots;
use std::net::{Ipv4Addr, TcpListener};
use std::time::{Duration, Instant};

const ANNA: &str = "anna@alderfold.example";

/// Long enough for this machine, short enough to wait for.
const SHORT: Duration = Duration::from_millis(300);

fn carrier(port: u16, security: Security, limit: Duration) -> Smtp {
    let settings = SmtpSettings {
        roots: Roots::default(),
        host: "127.0.0.1".into(),
        port,
        security,
        login: None,
        from: "Alder Fold <warden@alderfold.example>".into(),
    };
    Smtp::new(settings, limit).unwrap()
}

fn letter(recipient: &str) -> Parcel {
    Parcel {
        recipient: recipient.into(),
        message_id: "<n1@alderfold.example>".into(),
        subject: "Block C: head back now".into(),
        bytes: b"Message-ID: <n1@alderfold.example>\r\nSubject: Block C: head back now\r\n\r\n\
                 .by Friday\r\n..\r\nwarm\r\n"
            .to_vec(),
    }
}

/// The outcome of one letter in one session.
async fn carried(mode: Mode, limit: Duration) -> (Outcome, SmtpServer) {
    let server = SmtpServer::start(&[mode]);
    let smtp = carrier(server.port(), Security::None, limit);
    (smtp.carry(&letter(ANNA)).await, server)
}

#[track_caller]
fn later(outcome: &Outcome, told: &str) {
    let Outcome::Later { why } = outcome else {
        panic!("{outcome:?}");
    };
    assert!(why.contains(told), "{why}");
}

/// Nothing else need be tried with it now.
#[track_caller]
fn away(outcome: &Outcome, told: &str) {
    let Outcome::Away { why, rest: None } = outcome else {
        panic!("{outcome:?}");
    };
    assert!(why.contains(told), "{why}");
}

#[track_caller]
fn refused(outcome: &Outcome, told: &str) {
    let Outcome::Refused { why } = outcome else {
        panic!("{outcome:?}");
    };
    assert!(why.contains(told), "{why}");
}

#[tokio::test]
async fn a_letter_arrives_byte_by_byte_as_it_was() {
    let (outcome, server) = carried(Mode::Accept, Smtp::LIMIT).await;
    assert_eq!(outcome, Outcome::Delivered);
    let mails = server.mails();
    assert_eq!(mails.len(), 1);
    assert_eq!(mails[0].from, "warden@alderfold.example");
    assert_eq!(mails[0].to, ANNA);
    assert_eq!(mails[0].bytes, letter(ANNA).bytes);
}

#[tokio::test]
async fn each_letter_has_a_connection_of_its_own() {
    let server = SmtpServer::start(&[]);
    let smtp = carrier(server.port(), Security::None, Smtp::LIMIT);
    for recipient in [ANNA, "ben@alderfold.example"] {
        assert_eq!(smtp.carry(&letter(recipient)).await, Outcome::Delivered);
    }
    assert_eq!(server.sessions(), 2);
    assert_eq!(server.mails().len(), 2);
}

#[tokio::test]
async fn a_no_for_now_is_later() {
    let (outcome, server) = carried(Mode::RecipientLater, Smtp::LIMIT).await;
    later(&outcome, "told sender and recipient, said 450 mailbox busy");
    assert!(server.mails().is_empty());
    let (outcome, _server) = carried(Mode::BusyAtGreeting, Smtp::LIMIT).await;
    away(&outcome, "while connecting, said 451 too busy, try later");
}

#[tokio::test]
async fn a_no_for_good_is_refused() {
    let (outcome, server) = carried(Mode::NoSuchRecipient, Smtp::LIMIT).await;
    refused(
        &outcome,
        "letter to anna@alderfold.example: mail server 127.0.0.1:",
    );
    refused(&outcome, "said 550 no such person");
    assert!(server.mails().is_empty());
    let (outcome, _server) = carried(Mode::MessageRefused, Smtp::LIMIT).await;
    refused(&outcome, "handed the letter, said 554 not wanted");
}

#[tokio::test]
async fn one_refused_recipient_does_not_stop_another() {
    let server = SmtpServer::start(&[]);
    server.for_recipient(ANNA, Mode::NoSuchRecipient);
    let smtp = carrier(server.port(), Security::None, Smtp::LIMIT);
    refused(&smtp.carry(&letter(ANNA)).await, "550");
    let other = smtp.carry(&letter("ben@alderfold.example")).await;
    assert_eq!(other, Outcome::Delivered);
}

#[tokio::test]
async fn a_silent_server_does_not_hold_up_the_round() {
    let begun = Instant::now();
    let (outcome, _server) = carried(Mode::SilentAtConnect, SHORT).await;
    away(&outcome, "while connecting, gave no answer within 0.3 s");
    assert!(begun.elapsed() >= SHORT, "{:?}", begun.elapsed());
}

#[tokio::test]
async fn a_letter_without_an_answer_goes_out_again_as_the_same() {
    let server = SmtpServer::start(&[Mode::SilentAfterDot, Mode::DropAfterDot]);
    let smtp = carrier(server.port(), Security::None, SHORT);
    let parcel = letter(ANNA);
    let doubt = "; the letter may have arrived and goes out again under the same Message-ID";

    let silent = smtp.carry(&parcel).await;
    away(&silent, "handed the letter, gave no answer within 0.3 s");
    away(&silent, doubt);
    assert!(server.mails().is_empty());

    later(&smtp.carry(&parcel).await, doubt);
    assert_eq!(smtp.carry(&parcel).await, Outcome::Delivered);
    let mails = server.mails();
    assert_eq!(mails.len(), 2);
    assert_eq!(mails[0], mails[1]);
}

#[tokio::test]
async fn a_server_that_never_says_goodbye_has_still_taken_the_letter() {
    let (outcome, server) = carried(Mode::SilentAtQuit, Smtp::LIMIT).await;
    assert_eq!(outcome, Outcome::Delivered);
    assert_eq!(server.mails().len(), 1);
}

#[tokio::test]
async fn a_slow_server_is_waited_for_and_a_too_slow_one_is_not() {
    let pause = Duration::from_millis(20);
    let (outcome, _server) = carried(Mode::Slow(pause), Smtp::LIMIT).await;
    assert_eq!(outcome, Outcome::Delivered);
    let (outcome, server) = carried(Mode::Slow(Duration::from_millis(200)), SHORT).await;
    away(&outcome, "gave no answer within 0.3 s");
    assert!(server.mails().is_empty());
}

#[tokio::test]
async fn nobody_listening_is_away() {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let port = listener.local_addr().unwrap().port();
    drop(listener);
    let smtp = carrier(port, Security::None, Smtp::LIMIT);
    away(
        &smtp.carry(&letter(ANNA)).await,
        "while connecting, failed (",
    );
}

#[tokio::test]
async fn a_wrong_password_never_costs_a_letter_and_is_not_shown() {
    let server = SmtpServer::start(&[Mode::WrongPassword]);
    let settings = SmtpSettings {
        roots: Roots::default(),
        host: "127.0.0.1".into(),
        port: server.port(),
        security: Security::None,
        login: Some(("warden".into(), "hazel-4711".into())),
        from: "warden@alderfold.example".into(),
    };
    assert!(!format!("{settings:?}").contains("hazel"));
    let smtp = Smtp::new(settings, Smtp::LIMIT).unwrap();

    let outcome = smtp.carry(&letter(ANNA)).await;
    away(&outcome, "at the login, said 535 wrong user or password");
    assert!(!format!("{outcome:?}").contains("hazel"));

    assert_eq!(smtp.carry(&letter(ANNA)).await, Outcome::Delivered);
    assert_eq!(smtp.try_out(&[]).await, Ok(Vec::new()));
    // base64 of NUL warden NUL hazel-4711 (RFC 4616).
    let login = "AUTH PLAIN AHdhcmRlbgBoYXplbC00NzEx";
    assert_eq!(server.logins(), [login, login, login]);
    assert_eq!(server.mails().len(), 1);
}

#[tokio::test]
async fn nothing_is_sent_openly_where_privacy_was_asked_for() {
    let server = SmtpServer::start(&[]);
    let starttls = carrier(server.port(), Security::StartTls, Smtp::LIMIT);
    away(
        &starttls.carry(&letter(ANNA)).await,
        "while connecting, failed (",
    );
    let tls = carrier(server.port(), Security::Tls, SHORT);
    away(&tls.carry(&letter(ANNA)).await, "while connecting");
    assert!(server.mails().is_empty());
}

#[tokio::test]
async fn what_is_no_address_is_refused_without_asking() {
    let server = SmtpServer::start(&[]);
    let smtp = carrier(server.port(), Security::None, Smtp::LIMIT);
    let injected = "anna@alderfold.example>\r\nRCPT TO:<eve@elsewhere.example";
    refused(&smtp.carry(&letter(injected)).await, "is not an address");
    assert_eq!(server.sessions(), 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn the_server_tells_how_far_it_has_come() {
    let server = SmtpServer::start(&[Mode::SilentAfterDot]);
    let smtp = carrier(server.port(), Security::None, Smtp::LIMIT);
    let sending = tokio::spawn(async move { smtp.carry(&letter(ANNA)).await });
    server.wait_for(Stage::Dot);
    sending.abort();
    assert!(sending.await.unwrap_err().is_cancelled());
    server.script(&[Mode::Accept]);
    assert!(server.mails().is_empty());
}
