//! Being looked at from outside: the sign of life, the file of figures, `check --running`, and what a round by hand ends
//! with.

use crate::program::{CONFIG, FIRST, Nursery, today};
use crate::smtp_server::{Mode, SmtpServer};
use chrono::{DateTime, Days, Utc};
use graftwarden::lock::Lock;
use insta::assert_snapshot;
use serde_json::{Value, json};
use std::net::TcpListener;
use std::os::unix::fs::PermissionsExt;
use wiremock::matchers::any;
use wiremock::{Mock, MockServer, ResponseTemplate};

const NO_BATCHES: &str = "batch,block,plan,scion,grafts,grafted_on\n";

/// Whatever day of the week is today, it is worked on.
const EVERY_DAY: &str =
    "working_days = [\"Mon\", \"Tue\", \"Wed\", \"Thu\", \"Fri\", \"Sat\", \"Sun\"]\nzone = ";

/// The small nursery as it would stand today, with one batch grafted a week ago and days up to yesterday.
pub fn of_today(lines: &str) -> Nursery {
    let day = |back: u64| today() - Days::new(back);
    let days: String = (1..30)
        .rev()
        .map(|back| format!("{},14.1,26.1\n", day(back)))
        .collect();
    let batch = format!("A1,A,maple field T-graft,Ember Lace,310,{}\n", day(7));
    Nursery::small()
        .with("graftwarden.toml", &(CONFIG.to_owned() + lines))
        .but("graftwarden.toml", "zone = ", EVERY_DAY)
        .with("batches.csv", &(NO_BATCHES.to_owned() + &batch))
        .with("temps.csv", &format!("date,tmin_c,tmax_c\n{days}"))
}

/// A port on which nobody listens.
fn closed_port() -> u16 {
    TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap()
        .port()
}

/// A server that says this to whoever asks.
pub async fn server(answer: ResponseTemplate) -> MockServer {
    let server = MockServer::start().await;
    Mock::given(any()).respond_with(answer).mount(&server).await;
    server
}

fn running(nursery: &Nursery) -> Value {
    serde_json::from_str(&nursery.run("check --running --json").out).unwrap()
}

#[tokio::test]
async fn the_address_is_called_after_a_good_round_and_after_no_other() {
    let server = server(ResponseTemplate::new(204)).await;
    let alive = format!("\n[alive]\nurl = \"{}/hazel-4711\"\n", server.uri());
    let nursery = of_today(&alive);
    nursery.run("round").well();
    let called = server.received_requests().await.unwrap();
    assert_eq!(called.len(), 1);
    assert_eq!(called[0].url.path(), "/hazel-4711");
    assert_eq!(running(&nursery)["amiss"], json!(["no graftwarden runs"]));
    // Without days where a batch waits for them it is not a good one.
    let nursery = of_today(&alive).with("temps.csv", "date,tmin_c,tmax_c\n");
    nursery.run("round");
    assert_eq!(server.received_requests().await.unwrap().len(), 1);
    assert_eq!(
        running(&nursery)["amiss"],
        json!(["site home: no temperatures at all", "no graftwarden runs"])
    );
    assert_eq!(running(&nursery)["last_good_round"], Value::Null);
    // Nor is a moment that is only played.
    let nursery = Nursery::small().with("graftwarden.toml", &(CONFIG.to_owned() + &alive));
    nursery.round(FIRST).well();
    assert_eq!(server.received_requests().await.unwrap().len(), 1);
}

#[tokio::test]
async fn an_address_that_does_not_take_it_fails_no_round_and_is_not_shown() {
    let server =
        server(ResponseTemplate::new(404).set_body_string("no such thing: /hazel-4711")).await;
    let nursery = of_today(&format!(
        "\n[alive]\nurl = \"{}/hazel-4711\"\n",
        server.uri()
    ));
    nursery.run("round").well();
    let kept = nursery.memory("SELECT value FROM fact WHERE key = 'alive not answered'");
    assert!(kept[0].contains("answered 404: no such thing"), "{kept:?}");
    assert!(!kept[0].contains("hazel"), "{kept:?}");
    assert_ne!(running(&nursery)["last_good_round"], Value::Null);
}

#[test]
fn the_figures_are_a_whole_file_after_each_round() {
    let nursery = of_today("\n[alive]\nmetrics = \"figures.txt\"\n");
    nursery.run("round").well();
    let text = nursery.read("figures.txt");
    let figures: Vec<&str> = text
        .lines()
        .filter(|line| !line.starts_with('#') && !line.contains("_seconds"))
        .collect();
    assert_eq!(
        figures,
        [
            "graftwarden_well 1",
            "graftwarden_letters_waiting 0",
            "graftwarden_letters_refused 0",
        ]
    );
    assert!(text.contains("graftwarden_last_measured_day_age_seconds{site=\"home\"} "));
    assert!(text.ends_with("\n# EOF\n"));
}

#[test]
fn figures_that_cannot_be_written_stop_nothing_and_are_told() {
    let nursery = of_today("\n[alive]\nmetrics = \"batches.csv/figures\"\n");
    let first = nursery.run("round");
    assert_eq!(first.code, 0);
    assert!(
        first
            .err
            .contains("batches.csv/figures: the figures could not be written"),
        "{first}"
    );
    let told = nursery.run("round").out;
    assert!(told.contains("1 notice, 1 letter"), "{told}");
}

#[test]
fn nothing_was_walked_yet() {
    let nursery = of_today("");
    let ran = nursery.run("check --running");
    assert_eq!(ran.code, 69);
    assert!(ran.out.contains("mend  no round was walked yet\n"), "{ran}");
    assert!(!nursery.path("state").exists());
}

#[test]
fn who_runs_is_seen_and_the_json_has_all() {
    let nursery = of_today("");
    nursery.run("round").well();
    let _lock = Lock::take(&nursery.path("state")).unwrap();
    let ran = nursery.run("check --running --json");
    assert_eq!(ran.code, 0, "{ran}");
    let found: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(found["well"], json!(true));
    assert_eq!(found["running"], json!(true));
    assert_eq!(found["letters_waiting"], json!(0));
    let at = |name: &str| -> DateTime<Utc> { found[name].as_str().unwrap().parse().unwrap() };
    // A round is a good one once it is over, on a busy machine some seconds after.
    let between = at("last_good_round") - at("last_round");
    assert!((0..60).contains(&between.num_seconds()), "{between}");
    let site = &found["sites"][0];
    assert_eq!(site["site"], json!("home"));
    assert_eq!(site["open"], json!(true));
    let yesterday = (today() - Days::new(1)).to_string();
    assert_eq!(site["last_measured_day"], json!(yesterday));
}

#[test]
fn a_round_by_hand_says_what_waits_and_why() {
    let port = closed_port();
    let nursery = Nursery::mailed(port);
    let ran = nursery.round(FIRST);
    assert_eq!(ran.code, 75, "{ran}");
    let last = ran.out.lines().last().unwrap().to_owned();
    let expect = format!(
        "1 notice, 2 letters; 2 wait to be tried again: mail server 127.0.0.1:{port}, while connecting, failed ("
    );
    assert!(last.starts_with(&expect), "{last}");
}

#[test]
fn letters_held_for_quiet_hours_are_no_trouble() {
    let nursery = Nursery::mailed(closed_port()).but(
        "graftwarden.toml",
        "gets = [",
        "quiet = \"00:00-23:59\"\ngets = [",
    );
    nursery.change(
        "graftwarden.toml",
        "email = \"jory@alderfold.example\"\n",
        "email = \"jory@alderfold.example\"\nquiet = \"00:00-23:59\"\n",
    );
    let ran = nursery.round(FIRST);
    assert_snapshot!(ran.well(), @r"
    to Maren Holt: Block A: look for callus lines now (1 batch, 310 grafts)
    to Jory Penhale: Block A: look for callus lines now (1 batch, 310 grafts)
    1 notice, 2 letters; 2 held until quiet hours end
    ");
}

/// What cannot get out by mail goes by the hook, also where that takes only what is urgent.
#[test]
fn two_days_without_mail_are_told_by_the_hook() {
    let hook = "\n[post.hook]\ncommand = [\"/bin/sh\", \"send-text\"]\nurgent_only = true\n";
    let nursery = Nursery::mailed(closed_port()).with("send-text", "cat >>handed\necho >>handed\n");
    nursery.append("graftwarden.toml", hook);
    for moment in [FIRST, "2024-07-17T06:10:00+02:00"] {
        nursery.round(moment);
        assert!(!nursery.path("handed").exists());
    }
    nursery.write("temps.csv", crate::program::temperatures("2024-07-17"));
    nursery.round("2024-07-18T06:10:01+02:00");
    let handed = nursery.read("handed");
    let told = handed.replace("\\n", " ");
    assert!(
        told.contains("mail: no letter has got out for two days: mail server 127.0.0.1"),
        "{told}"
    );
    nursery.round("2024-07-19T06:10:01+02:00");
    assert_eq!(nursery.read("handed"), handed);
}

/// Nobody asked for the weekly letter, and nothing happens for weeks.
#[test]
fn somebody_hears_of_it_once_a_week_in_any_case() {
    let nursery = Nursery::small()
        .with("batches.csv", NO_BATCHES)
        .with("temps.csv", "date,tmin_c,tmax_c\n2024-01-01,1,5\n");
    let mut heard = Vec::new();
    // From Tuesday 2 January 2024 on.
    for day in 2..=24 {
        let ran = nursery.round(&format!("2024-01-{day:02}T06:10:00+01:00"));
        heard.extend(
            ran.out
                .lines()
                .filter(|line| line.starts_with("to "))
                .map(|line| format!("{day}: {line}")),
        );
    }
    assert_eq!(
        heard,
        [
            "8: to Maren Holt: All is well: no batch is open, nothing is due",
            "15: to Maren Holt: All is well: no batch is open, nothing is due",
            "22: to Maren Holt: All is well: no batch is open, nothing is due",
        ]
    );
}

#[test]
fn a_clock_that_leapt_needs_a_word() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    let refused = nursery.run("round");
    assert_eq!(refused.code, 75);
    assert!(
        refused.err.starts_with("this machine's clock says ")
            && refused.err.ends_with(
                " days after it was last known to be right (2024-07-16 04:10 GMT), and nothing shows that so much time has passed; no round is walked and nothing is sent. To mend it, set this machine's clock; if it is right, run `graftwarden round --clock-is-right`\n"
            ),
        "{refused}"
    );
    let lock = Lock::take(&nursery.path("state")).unwrap();
    assert_eq!(
        nursery.run("round --clock-is-right").well(),
        "the running service is told; it goes on within a minute\n"
    );
    drop(lock);
    assert_eq!(nursery.run("round").code, 0);
}

#[test]
fn a_credential_of_the_service_manager_goes_before_the_file() {
    let nursery = of_today("[post.hook]\ncommand = [\"/bin/true\"]\nsecret_file = \"key\"\n");
    let without = nursery.run("check");
    assert!(
        without.out.contains("key: there is no such file"),
        "{without}"
    );
    std::fs::create_dir(nursery.path("credentials")).unwrap();
    nursery.write("credentials/key", "hazel\n");
    let mut check = nursery.command("check");
    check.env("CREDENTIALS_DIRECTORY", nursery.path("credentials"));
    let with = String::from_utf8(check.output().unwrap().stdout).unwrap();
    assert!(!with.contains("key: there is no such file"), "{with}");
}

/// The end of `check --online`, with what hangs on the machine taken out.
fn verdicts(nursery: &Nursery, port: u16) -> String {
    let ran = nursery.run("check --online");
    let (_, end) = ran.out.split_once("Does it work?\n").unwrap();
    let lines = end.lines().map(|line| match line.split_once("clock: ") {
        Some((yes, _)) => format!("{yes}clock: [now]\n"),
        None => format!("{line}\n"),
    });
    let text: String = lines.collect();
    format!(
        "{}-- exit {} --",
        text.replace(&port.to_string(), "[port]"),
        ran.code
    )
}

#[test]
fn each_thing_that_must_work_has_a_plain_yes_or_no() {
    let server = SmtpServer::start(&[]);
    let nursery = Nursery::mailed(server.port()).with("password", "hazel\n");
    nursery.append(
        "graftwarden.toml",
        "user = \"letters\"\npassword_file = \"password\"\n",
    );
    std::fs::create_dir(nursery.path("state")).unwrap();
    for (file, mode) in [("password", 0o600), ("state", 0o700)] {
        let mode = std::fs::Permissions::from_mode(mode);
        std::fs::set_permissions(nursery.path(file), mode).unwrap();
    }
    assert_snapshot!(verdicts(&nursery, server.port()), @r"
    yes   mail: the server greets us and takes our login
    yes   mail to maren@alderfold.example: it would be taken
    yes   mail to jory@alderfold.example: it would be taken
    yes   clock: [now]
    yes   room on the disk
    yes   the program's memory is for its owner only
    yes   secrets: 1 file, for their owner only

    All is well.
    -- exit 0 --
    ");
    assert!(server.mails().is_empty());
    server.for_recipient("jory@alderfold.example", Mode::NoSuchRecipient);
    for (file, mode) in [("password", 0o644), ("state", 0o755)] {
        let mode = std::fs::Permissions::from_mode(mode);
        std::fs::set_permissions(nursery.path(file), mode).unwrap();
    }
    assert_snapshot!(verdicts(&nursery, server.port()), @r"
    yes   mail: the server greets us and takes our login
    yes   mail to maren@alderfold.example: it would be taken
    no    mail to jory@alderfold.example: mail server 127.0.0.1:[port], told sender and recipient, said 550 no such person here. Look at the address, and whether the server lets us send there.
    yes   clock: [now]
    yes   room on the disk
    no    the program's memory: others on this machine may look into state. Run chmod 700 state.
    no    secrets: password: others on this machine may read this secret; it is used all the same. Run chmod 600 password.

    3 things to mend.
    -- exit 65 --
    ");
}
