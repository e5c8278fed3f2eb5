//! Letters by the hook: to an address that takes, refuses and stalls, and to a program in a whole round.

use crate::program::{CONFIG, FIRST, Nursery};
use chrono::{DateTime, TimeDelta, Utc};
use graftwarden::clock::ManualClock;
use graftwarden::post::{Carrier, Hook, HookSettings, HookTo, Outcome, Parcel};
use graftwarden::roots::Roots;
use hmac::{Hmac, Mac};
use reqwest::Url;
use serde_json::{Value, json};
use sha2::Sha256;
use std::sync::Arc;
use std::time::Duration;
use wiremock::matchers::any;
use wiremock::{Mock, MockServer, ResponseTemplate};

const BODY: &str = "{\"version\":1,\"subject\":\"Block C: head back now, 18 °C\"}";

fn now() -> DateTime<Utc> {
    "2026-08-13T04:10:00Z".parse().unwrap()
}

fn parcel() -> Parcel {
    Parcel {
        recipient: "crew@alderfold.example".into(),
        message_id: "1@alderfold.example".into(),
        subject: "Block C: head back now".into(),
        bytes: BODY.into(),
    }
}

fn hook(url: &str, secret: Option<&str>, limit: Duration) -> Hook {
    let settings = HookSettings {
        roots: Roots::default(),
        to: HookTo::Address(Url::parse(url).unwrap()),
        secret: secret.map(Into::into),
        limit,
        contact: "letters@alderfold.example".into(),
    };
    Hook::new(settings, Arc::new(ManualClock::at(now()))).unwrap()
}

async fn server(answer: ResponseTemplate) -> MockServer {
    let server = MockServer::start().await;
    Mock::given(any()).respond_with(answer).mount(&server).await;
    server
}

/// What becomes of a letter by that answer, with the address of the server taken out of what is said.
async fn outcome(answer: ResponseTemplate) -> Outcome {
    let server = server(answer).await;
    let url = format!("{}/letters/hazel-4711?to=crew", server.uri());
    let plain = |why: String| why.replace(&server.uri(), "http://server");
    match hook(&url, None, Duration::from_secs(60))
        .carry(&parcel())
        .await
    {
        Outcome::Delivered => Outcome::Delivered,
        Outcome::Later { why } => Outcome::Later { why: plain(why) },
        Outcome::Away { why, rest } => Outcome::Away {
            why: plain(why),
            rest,
        },
        Outcome::Refused { why } => Outcome::Refused { why: plain(why) },
    }
}

fn away(why: &str, rest: Option<TimeDelta>) -> Outcome {
    let why = why.into();
    Outcome::Away { why, rest }
}

#[tokio::test]
async fn an_address_is_handed_the_exact_bytes_and_who_sends_them() {
    let server = server(ResponseTemplate::new(202)).await;
    let hook = hook(
        &format!("{}/x?to=crew", server.uri()),
        None,
        Duration::from_secs(60),
    );
    assert_eq!(hook.carry(&parcel()).await, Outcome::Delivered);
    let requests = server.received_requests().await.unwrap();
    assert_eq!(requests.len(), 1);
    let request = &requests[0];
    assert_eq!(request.method.as_str(), "POST");
    assert_eq!(request.url.path(), "/x");
    assert_eq!(request.url.query(), Some("to=crew"));
    assert_eq!(request.body, BODY.as_bytes());
    assert_eq!(request.headers["content-type"], "application/json");
    let who = request.headers["user-agent"].to_str().unwrap();
    assert!(who.ends_with("(letters@alderfold.example)"), "{who}");
    assert!(!request.headers.contains_key("graftwarden-signature"));
}

#[tokio::test]
async fn a_receiver_can_check_the_signature() {
    let server = server(ResponseTemplate::new(200)).await;
    let hook = hook(&server.uri(), Some("hazel-4711"), Duration::from_secs(60));
    assert_eq!(hook.carry(&parcel()).await, Outcome::Delivered);
    let requests = server.received_requests().await.unwrap();
    let header = |name: &str| requests[0].headers[name].to_str().unwrap().to_owned();
    let timestamp = header("graftwarden-timestamp");
    // 13 August 2026, 04:10 in Greenwich.
    assert_eq!(timestamp, "1786594200");
    // As a receiver does it.
    let signature = header("graftwarden-signature");
    let digits = signature.strip_prefix("sha256=").unwrap();
    let code: Vec<u8> = (0..digits.len())
        .step_by(2)
        .map(|i| u8::from_str_radix(&digits[i..i + 2], 16).unwrap())
        .collect();
    let checked = |secret: &[u8], body: &[u8]| {
        let mut mac = Hmac::<Sha256>::new_from_slice(secret).unwrap();
        mac.update(format!("{timestamp}.").as_bytes());
        mac.update(body);
        mac.verify_slice(&code).is_ok()
    };
    assert!(checked(b"hazel-4711", &requests[0].body));
    assert!(!checked(b"hazel-4712", &requests[0].body));
    assert!(!checked(b"hazel-4711", b"{}"));
}

#[tokio::test]
async fn the_answer_says_what_became_of_it() {
    let says = |status: u16, said: &str| ResponseTemplate::new(status).set_body_string(said);
    for status in [200, 201, 202, 204, 299] {
        assert_eq!(outcome(says(status, "")).await, Outcome::Delivered);
    }
    for (status, said) in [
        (408, "too slow"),
        (429, "too many"),
        (500, "oh"),
        (503, "back soon"),
    ] {
        let why = format!("http://server/ answered {status}: {said}");
        assert_eq!(outcome(says(status, said)).await, away(&why, None));
    }
    for status in [400, 401, 403, 404, 410, 413, 422] {
        let why = format!("http://server/ answered {status}: no such number");
        let refused = outcome(says(status, r#"{"message": "no such number"}"#)).await;
        assert_eq!(refused, Outcome::Refused { why });
    }
}

#[tokio::test]
async fn who_says_when_is_asked_then() {
    let busy = ResponseTemplate::new(429)
        .insert_header("retry-after", "120")
        .set_body_string("slowly");
    let expected = away(
        "http://server/ answered 429: slowly",
        Some(TimeDelta::seconds(120)),
    );
    assert_eq!(outcome(busy).await, expected);
}

#[tokio::test]
async fn a_page_elsewhere_has_not_taken_it() {
    let login = server(ResponseTemplate::new(200)).await;
    let moved = ResponseTemplate::new(302).insert_header("location", login.uri());
    let expected = away("http://server/ answered 302: nothing", None);
    assert_eq!(outcome(moved).await, expected);
    assert_eq!(login.received_requests().await.unwrap().len(), 0);
}

#[tokio::test]
async fn what_is_secret_in_the_address_is_not_told_again() {
    let quoted =
        ResponseTemplate::new(404).set_body_string("Cannot POST /letters/hazel-4711 with to=crew");
    let why = "http://server/ answered 404: Cannot POST [hidden] with [hidden]".into();
    assert_eq!(outcome(quoted).await, Outcome::Refused { why });
}

#[tokio::test]
async fn an_endless_answer_is_not_read_to_its_end() {
    let long = "no ".repeat(3_000_000);
    let Outcome::Refused { why } = outcome(ResponseTemplate::new(400).set_body_string(long)).await
    else {
        panic!("it was taken");
    };
    assert!(
        why.starts_with("http://server/ answered 400: no no no"),
        "{why}"
    );
    assert!(why.len() < 300, "{why}");
}

#[tokio::test]
async fn who_gives_no_answer_is_away() {
    let slow = ResponseTemplate::new(200).set_delay(Duration::from_secs(600));
    let server = server(slow).await;
    let hook = hook(&server.uri(), None, Duration::from_millis(300));
    let why = format!("{}/ gave no whole answer within 0.3 s", server.uri());
    assert_eq!(hook.carry(&parcel()).await, away(&why, None));
}

/// The small nursery with a second person, and a program that keeps what it is handed, a line each.
fn nursery(lines: &str) -> Nursery {
    let program = "cat >>handed\necho >>handed\necho \"$GRAFTWARDEN_SIGNATURE\" >>signed\n";
    let hook = format!("\n[post.hook]\ncommand = [\"/bin/sh\", \"send-text\"]\n{lines}");
    Nursery::small()
        .with("send-text", program)
        .with("graftwarden.toml", &(CONFIG.to_owned() + &hook))
}

fn handed(nursery: &Nursery) -> Vec<Value> {
    let text = nursery.read("handed");
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

#[test]
fn a_round_hands_its_letters_to_a_program() {
    let nursery = nursery("");
    nursery.round(FIRST).well();
    let handed = handed(&nursery);
    assert_eq!(handed.len(), 1);
    let told = &handed[0];
    assert_eq!(told["version"], json!(1));
    assert_eq!(told["nursery"], json!("Alder Fold Nursery"));
    let maren = json!({ "name": "Maren Holt", "email": "maren@alderfold.example" });
    assert_eq!(told["person"], maren);
    let subject = "Block A: look for callus lines now (1 batch, 310 grafts)";
    assert_eq!(told["subject"], json!(subject));
    assert!(told["short"].as_str().unwrap().starts_with(subject));
    assert!(told["short"].as_str().unwrap().chars().count() <= 160);
    assert_eq!(told["urgent"], json!(false));
    assert_eq!(told["dated"], json!("2024-07-16T06:10:00+02:00"));
    let letter = nursery.letters().remove(0);
    let id = told["message_id"].as_str().unwrap();
    assert!(letter.contains(&format!("Message-ID: <{id}>")), "{letter}");
    let text = told["text"].as_str().unwrap();
    assert!(
        text.starts_with("Alder Fold Nursery, Tuesday 16 July 2024\n"),
        "{text}"
    );
    assert_eq!(nursery.read("signed"), "\n");
    nursery.round(FIRST).well();
    assert_eq!(self::handed(&nursery).len(), 1);
}

#[test]
fn a_retry_hands_over_the_same_and_signs_anew() {
    let nursery = nursery("secret_file = \"key\"\n").with("key", "hazel-4711\n");
    nursery.write("send-text", "cat >first\nexit 75\n");
    nursery.round(FIRST).waits();
    let program = "cat >again\necho \"$GRAFTWARDEN_SIGNATURE\" >signed\n";
    nursery.write("send-text", program);
    nursery.round("2024-07-16T06:11:00+02:00").well();
    assert_eq!(nursery.read("first"), nursery.read("again"));
    let signed = nursery.read("signed");
    let digits = signed.trim_end().strip_prefix("sha256=").unwrap();
    assert_eq!(digits.len(), 64);
    let states = nursery.memory("SELECT state, tries FROM outbox WHERE carrier = 'hook'");
    assert_eq!(states, ["sent | 2"]);
}

#[test]
fn only_what_is_urgent_costs_a_text_message() {
    let nursery = nursery("urgent_only = true\n");
    nursery.round(FIRST).well();
    assert_eq!(nursery.letters().len(), 1);
    let rows = nursery.memory("SELECT carrier FROM outbox ORDER BY carrier");
    assert_eq!(rows, ["folder"]);
}

#[test]
fn check_looks_for_the_program_and_hands_it_nothing() {
    let well = nursery("");
    let said = well.run("check").to_string();
    assert!(said.contains("ok    letters go by folder, hook"), "{said}");
    let missing = nursery("").but("graftwarden.toml", "/bin/sh", "bin/send-text");
    let said = missing.run("check").to_string();
    assert!(
        said.contains("bin/send-text: there is no such program, or it may not be run"),
        "{said}"
    );
    let unsigned = nursery("secret_file = \"key\"\n");
    let said = unsigned.run("check").to_string();
    assert!(said.contains("key: there is no such file"), "{said}");
    for nursery in [well, missing, unsigned] {
        assert!(!nursery.path("handed").exists());
    }
}

#[test]
fn a_letter_that_is_refused_is_told_as_trouble_of_the_hook() {
    let nursery = nursery("");
    nursery.write(
        "send-text",
        "echo 'no number for this person' >&2\nexit 65\n",
    );
    nursery.round(FIRST);
    let states = nursery.memory("SELECT state FROM outbox WHERE carrier = 'hook'");
    assert_eq!(states, ["refused"]);
    nursery.round("2024-07-16T07:10:00+02:00");
    let trouble = nursery.letters().pop().unwrap().replace("=\n", "");
    let trouble = trouble.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        trouble.contains("letter to maren@alderfold.example by the hook: /bin/sh will not take it (exit code 65): no number for this person"),
        "{trouble}"
    );
}
