//! Receipts at night: whoever has just written is awake; and receipts go by mail, not by the hook.

use super::*;

/// Jory wants no letters from eight in the evening to half past six; a folder wakes nobody, a hook does.
fn quiet() -> Nursery {
    let nursery = told().but(
        "graftwarden.toml",
        "email = \"jory@alderfold.example\"",
        "email = \"jory@alderfold.example\"\nquiet = \"20:00-06:30\"",
    );
    nursery.append("graftwarden.toml", "\n[post.hook]\ncommand = [\"true\"]\n");
    nursery
}

/// The state of each of Jory's receipts in the outbox.
#[track_caller]
fn check(date: &str, state: &str) {
    let nursery = quiet();
    let letter = last_to(&nursery, JORY);
    Mail {
        to: letter.answer_at(),
        date,
        ..Mail::default()
    }
    .comes(&nursery, "1");
    nursery.round("2024-07-16T22:10:00+02:00").well();
    let found = nursery.memory(
        "SELECT state FROM outbox JOIN letter ON id = letter WHERE carrier = 'hook' AND subject LIKE 'Written down%'",
    );
    assert_eq!(found, [state], "{date}");
}

#[test]
fn a_receipt_goes_at_once_to_whoever_has_just_written() {
    check("Tue, 16 Jul 2024 22:02:00 +0200", "sent");
    // A clock that is ahead says nothing; the mail came just now.
    check("Tue, 16 Jul 2024 23:50:00 +0200", "sent");
}

#[test]
fn a_receipt_of_what_was_written_in_the_afternoon_waits_for_the_morning() {
    check("Tue, 16 Jul 2024 16:00:00 +0200", "waiting");
}

#[test]
fn the_hook_has_no_receipts_where_mail_goes_out() {
    for (mail, receipts) in [
        (
            "\n[post.smtp]\nhost = \"127.0.0.1\"\nport = 1\nsecurity = \"none\"\n",
            0,
        ),
        ("", 1),
    ] {
        let nursery = farm();
        nursery.append(
            "graftwarden.toml",
            &format!("{mail}\n[post.hook]\ncommand = [\"true\"]\n"),
        );
        nursery.round(FIRST);
        Mail {
            to: last_to(&nursery, JORY).answer_at(),
            ..Mail::default()
        }
        .comes(&nursery, "1");
        nursery.round(SOON);
        let by_hook = |like: &str| {
            let found = nursery.memory(&format!(
                "SELECT count(*) FROM outbox JOIN letter ON id = letter WHERE carrier = 'hook' AND recipient = '{JORY}' AND subject {like} 'Written down%'"
            ));
            found[0].parse::<usize>().unwrap()
        };
        assert_eq!(by_hook("LIKE"), receipts);
        assert!(by_hook("NOT LIKE") > 0);
    }
}
