//! Days, the ledger and the outbox.

use super::*;
use crate::care::Level;
use crate::notices::{About, Kind, Notice};

/// What is held of 1 July after these arrivals.
#[track_caller]
fn check_day(arrivals: &[(f64, Origin)], mean: f64, origin: Origin) {
    let mut store = Store::in_memory().unwrap();
    for (at, &(mean, origin)) in (0..).zip(arrivals) {
        with(&mut store, |memory| {
            memory.absorb_days("home", "file", &[warm(1, mean, origin)], hour(at))
        });
    }
    let found = with(&mut store, |memory| memory.days("home", &["file"], day(1)));
    assert_eq!(found[0].days, [warm(1, mean, origin)]);
}

use Origin::{Forecast, Measured, Modelled};

#[test]
fn a_later_answer_replaces_an_earlier_one() {
    check_day(&[(20.0, Forecast), (21.0, Forecast)], 21.0, Forecast);
    check_day(&[(20.0, Forecast), (21.0, Modelled)], 21.0, Modelled);
    check_day(&[(20.0, Measured), (21.0, Measured)], 21.0, Measured);
}

#[test]
fn a_forecast_never_replaces_what_came_to_pass() {
    check_day(&[(20.0, Measured), (25.0, Forecast)], 20.0, Measured);
    check_day(&[(20.0, Modelled), (25.0, Forecast)], 20.0, Modelled);
}

#[test]
fn sources_are_kept_apart_and_given_in_the_order_of_trust() {
    let mut store = Store::in_memory().unwrap();
    with(&mut store, |memory| {
        memory.absorb_days(
            "home",
            "open-meteo",
            &[warm(2, 22.0, Modelled), warm(1, 21.0, Modelled)],
            hour(6),
        )?;
        memory.absorb_days("home", "file", &[warm(1, 20.0, Measured)], hour(7))?;
        memory.absorb_days("hill", "file", &[warm(1, 10.0, Measured)], hour(8))
    });
    let found = with(&mut store, |memory| {
        memory.days("home", &["file", "open-meteo"], day(1))
    });
    let names: Vec<&str> = found.iter().map(|s| s.source.as_str()).collect();
    assert_eq!(names, ["file", "open-meteo"]);
    assert_eq!(found[0].days, [warm(1, 20.0, Measured)]);
    assert_eq!(
        found[1].days,
        [warm(1, 21.0, Modelled), warm(2, 22.0, Modelled)]
    );
    let later = with(&mut store, |memory| {
        memory.days("home", &["open-meteo"], day(2))
    });
    assert_eq!(later[0].days, [warm(2, 22.0, Modelled)]);
}

#[test]
fn what_is_not_a_number_is_not_kept() {
    let mut store = Store::in_memory().unwrap();
    let broken = RawDay {
        max: f64::NAN,
        ..warm(1, 20.0, Measured)
    };
    with(&mut store, |memory| {
        memory.absorb_days("home", "file", &[broken, warm(2, 20.0, Measured)], hour(6))
    });
    let found = with(&mut store, |memory| memory.days("home", &["file"], day(1)));
    assert_eq!(found[0].days, [warm(2, 20.0, Measured)]);
}

/// As text, 2026-07-10 stands before 2026-7-2, and 2026-7-9 beside 2026-07-09.
#[test]
fn days_whose_dates_were_written_by_another_hand_come_in_order_and_once() {
    let mut store = Store::in_memory().unwrap();
    let days = [2, 3, 9, 10].map(|n| warm(n, 20.0, Measured));
    with(&mut store, |memory| {
        memory.absorb_days("home", "file", &days, hour(6))
    });
    let by_hand = "UPDATE day SET date = '2026-7-2' WHERE date = '2026-07-02';
        INSERT INTO day SELECT site, source, '2026-7-9', min, max, gust, rain, origin, fetched_at FROM day
        WHERE date = '2026-07-09'";
    store.connection.execute_batch(by_hand).unwrap();
    let found = with(&mut store, |memory| memory.days("home", &["file"], day(1)));
    assert_eq!(found[0].days, days);
}

fn spell(level: Level) -> Notice {
    Notice {
        until: Some(day(12)),
        level: Some(level),
        ..Notice::plain(
            Kind::HeatSpike,
            About::Site("home".into()),
            "2026-07-10",
            1,
            day(11),
        )
    }
}

#[test]
fn a_notice_is_entered_once_by_its_key() {
    let mut store = Store::in_memory().unwrap();
    let enter = |store: &mut Store, notice: &Notice| {
        with(store, |memory| memory.enter(notice, day(9), hour(6)))
    };
    let first = enter(&mut store, &spell(Level::Hot));
    assert!(first.is_some());
    assert_eq!(enter(&mut store, &spell(Level::Hot)), None);
    let hotter = enter(&mut store, &spell(Level::VeryHot));
    assert!(hotter.is_some() && hotter != first);
}

#[test]
fn the_ledger_gives_back_what_was_told_in_order() {
    let mut store = Store::in_memory().unwrap();
    let ledger = with(&mut store, |memory| {
        memory.enter(&spell(Level::VeryHot), day(9), hour(6))?;
        memory.enter(&spell(Level::Injury), day(10), hour(6))?;
        memory.ledger()
    });
    let told = ledger.of(Kind::HeatSpike, "home");
    let levels: Vec<_> = told.iter().map(|t| (t.level.unwrap(), t.told_on)).collect();
    assert_eq!(levels, [(Level::VeryHot, day(9)), (Level::Injury, day(10))]);
    assert_eq!((told[0].anchor.as_str(), told[0].n), ("2026-07-10", 1));
    assert_eq!(
        (told[0].on, told[0].until, told[0].step.as_str()),
        (day(11), Some(day(12)), "")
    );
    assert!(ledger.of(Kind::HeatSpike, "hill").is_empty());
}

pub(super) fn letter(message_id: &str) -> NewLetter {
    NewLetter {
        message_id: message_id.into(),
        recipient: "maren@alderfold.example".into(),
        subject: "Block C: head back now".into(),
        dated: DateTime::parse_from_rfc3339("2026-07-20T06:10:00+02:00").unwrap(),
        bytes: b"Subject: x\r\n\r\n\xc3\xa4\r\n".to_vec(),
        own: vec![("hook", b"{}".to_vec())],
        notices: Vec::new(),
        urgent: false,
        thread: Vec::new(),
        asked: Vec::new(),
    }
}

/// What waits at that hour, as "letter by carrier, tries".
#[track_caller]
fn check_waiting(store: &mut Store, at: u32, expected: &[&str]) -> Vec<OutboxRow> {
    let waiting = with(store, |memory| memory.waiting(hour(at)));
    let found: Vec<String> = waiting
        .iter()
        .map(|r| format!("{} by {}, {}", r.message_id, r.carrier, r.tries))
        .collect();
    assert_eq!(found, expected);
    waiting
}

#[test]
fn a_letter_waits_for_each_carrier_with_its_exact_bytes() {
    let mut store = Store::in_memory().unwrap();
    with(&mut store, |memory| {
        memory.post(&letter("1@x"), &["smtp", "folder"], hour(6))?;
        memory.post(&letter("2@x"), &["smtp"], hour(7))
    });
    check_waiting(&mut store, 6, &["1@x by folder, 0", "1@x by smtp, 0"]);
    let rows = check_waiting(
        &mut store,
        7,
        &["1@x by folder, 0", "1@x by smtp, 0", "2@x by smtp, 0"],
    );
    let sent = letter("1@x");
    let bytes = with(&mut store, |memory| memory.bytes(&rows[0]));
    assert_eq!(bytes, Some(sent.bytes));
    assert_eq!(
        (&rows[0].recipient, &rows[0].subject),
        (&sent.recipient, &sent.subject)
    );
    let depth = with(&mut store, |memory| memory.depth());
    assert_eq!(depth, 3);
}

#[test]
fn a_carrier_of_its_own_kind_is_handed_its_own_bytes() {
    let mut store = Store::in_memory().unwrap();
    with(&mut store, |memory| {
        memory.post(&letter("1@x"), &["smtp", "hook"], hour(6))
    });
    let rows = check_waiting(&mut store, 6, &["1@x by hook, 0", "1@x by smtp, 0"]);
    let bytes = [0, 1].map(|at| with(&mut store, |memory| memory.bytes(&rows[at])));
    assert_eq!(bytes, [b"{}".to_vec(), letter("1@x").bytes].map(Some));
}

#[test]
fn what_has_been_due_for_longest_is_tried_first() {
    let mut store = Store::in_memory().unwrap();
    with(&mut store, |memory| {
        memory.post(&letter("1@x"), &["smtp"], hour(6))?;
        memory.post(&letter("2@x"), &["smtp"], hour(7))?;
        memory.post(&letter("3@x"), &["smtp"], hour(7))
    });
    let rows = check_waiting(&mut store, 6, &["1@x by smtp, 0"]);
    with(&mut store, |memory| memory.again(&rows[0], hour(8), "busy"));
    let order = ["2@x by smtp, 0", "3@x by smtp, 0", "1@x by smtp, 1"];
    check_waiting(&mut store, 8, &order);
}

#[test]
fn what_was_sent_or_refused_waits_no_more_and_the_rest_is_tried_again_in_its_time() {
    let mut store = Store::in_memory().unwrap();
    with(&mut store, |memory| {
        memory.post(&letter("1@x"), &["folder", "log", "smtp"], hour(6))
    });
    let rows = check_waiting(
        &mut store,
        6,
        &["1@x by folder, 0", "1@x by log, 0", "1@x by smtp, 0"],
    );
    with(&mut store, |memory| {
        memory.sent(&rows[0], hour(6))?;
        memory.refused(&rows[1], hour(6), "no such folder")?;
        memory.again(&rows[2], hour(8), "busy")
    });
    check_waiting(&mut store, 7, &[]);
    assert_eq!(with(&mut store, |memory| memory.next_try()), Some(hour(8)));
    let rows = check_waiting(&mut store, 8, &["1@x by smtp, 1"]);
    let undelivered = with(&mut store, |memory| memory.undelivered(hour(5)));
    let expected = [
        "maren@alderfold.example",
        "Block C: head back now",
        "log",
        "no such folder",
    ]
    .map(str::to_owned);
    assert_eq!(
        undelivered
            .iter()
            .map(|(a, b, c, d)| [a, b, c, d].map(Clone::clone))
            .collect::<Vec<_>>(),
        [expected]
    );
    let later = with(&mut store, |memory| memory.undelivered(hour(6)));
    assert_eq!(later, []);
    with(&mut store, |memory| memory.sent(&rows[0], hour(8)));
    check_waiting(&mut store, 23, &[]);
    assert_eq!(
        with(&mut store, |memory| Ok((
            memory.next_try()?,
            memory.depth()?
        ))),
        (None, 0)
    );
}

#[test]
fn the_same_letter_cannot_be_posted_twice() {
    let mut store = Store::in_memory().unwrap();
    with(&mut store, |memory| {
        memory.post(&letter("1@x"), &["smtp"], hour(6))
    });
    let again: Result<(), StoreError> =
        store.settle(|memory| memory.post(&letter("1@x"), &["smtp"], hour(7)));
    assert!(again.is_err());
    check_waiting(&mut store, 8, &["1@x by smtp, 0"]);
}

/// What was given again with the same values was known since it was first given.
#[test]
fn what_is_kept_of_a_span_says_when_it_was_given() {
    let mut store = Store::in_memory().unwrap();
    let given = with(&mut store, |memory| {
        let (first, again) = (warm(1, 20.0, Measured), warm(2, 21.0, Measured));
        memory.absorb_days("home", "file", &[first, again], hour(6))?;
        memory.absorb_days("home", "file", &[first, warm(2, 22.0, Measured)], hour(7))?;
        memory.absorb_days(
            "home",
            "open-meteo",
            &[warm(2, 19.0, Modelled), warm(3, 18.0, Modelled)],
            hour(8),
        )?;
        memory.kept("home", &["open-meteo", "file"], day(1), day(2))
    });
    let given: Vec<_> = given
        .into_iter()
        .map(|kept| (kept.source, kept.raw, kept.fetched_at.unwrap()))
        .collect();
    assert_eq!(
        given,
        [
            ("open-meteo".to_owned(), warm(2, 19.0, Modelled), hour(8)),
            ("file".to_owned(), warm(1, 20.0, Measured), hour(6)),
            ("file".to_owned(), warm(2, 22.0, Measured), hour(7)),
        ]
    );
}

#[test]
fn dates_with_rounds_are_remembered_once_each_and_in_order() {
    let mut store = Store::in_memory().unwrap();
    let found = with(&mut store, |memory| {
        for n in [3, 1, 2, 2] {
            memory.round_done(hour(n), day(n))?;
        }
        Ok((memory.last_round()?, memory.rounds_before(day(3))?))
    });
    assert_eq!(found, (Some(hour(2)), vec![day(1), day(2)]));
}

#[test]
fn missed_rounds_are_remembered_by_when_they_began() {
    let mut store = Store::in_memory().unwrap();
    let found = with(&mut store, |memory| {
        memory.was_down(hour(1), hour(3))?;
        memory.was_down(hour(1), hour(9))?;
        memory.was_down(hour(5), hour(6))?;
        Ok((memory.down_after(hour(0))?, memory.down_after(hour(3))?))
    });
    let (first, second) = ([hour(1), hour(3)], [hour(5), hour(6)]);
    assert_eq!(found, (vec![first, second], vec![second]));
}

#[test]
fn the_first_date_given_on_a_day_stands() {
    let told = |told_on: u32, middle: u32| crate::notices::Foretold {
        batch: "C-14".into(),
        step: "head-back".into(),
        grafted_on: day(1),
        told_on: day(told_on),
        band: crate::outlook::Band {
            p10: Some(day(18)),
            p50: Some(day(middle)),
            p90: None,
        },
    };
    let mut store = Store::in_memory().unwrap();
    let found = with(&mut store, |memory| {
        for told in [told(6, 20), told(6, 21), told(13, 19)] {
            memory.foretell(&told)?;
        }
        Ok((memory.foretold_in(2026)?, memory.foretold_in(2024)?))
    });
    assert_eq!(found, (vec![told(6, 20), told(13, 19)], Vec::new()));
}

#[test]
fn letters_that_did_not_get_out_are_known_with_what_becomes_of_them() {
    let mut store = Store::in_memory().unwrap();
    let letter = |subject: &str| NewLetter {
        message_id: subject.to_owned(),
        recipient: "jory@alderfold.example".into(),
        subject: subject.to_owned(),
        dated: hour(6).fixed_offset(),
        bytes: Vec::new(),
        own: vec![("hook", b"{}".to_vec())],
        notices: Vec::new(),
        urgent: false,
        thread: Vec::new(),
        asked: Vec::new(),
    };
    let found = with(&mut store, |memory| {
        for subject in ["waits", "refused", "sent"] {
            memory.post(&letter(subject), &["smtp"], hour(6))?;
        }
        for row in memory.waiting(hour(7))? {
            match row.subject.as_str() {
                "refused" => memory.refused(&row, hour(7), "no such mailbox")?,
                "sent" => memory.sent(&row, hour(7))?,
                _ => {}
            }
        }
        memory.unsent_after(hour(5))
    });
    let named: Vec<(&str, bool)> = found
        .iter()
        .map(|letter| (letter.subject.as_str(), letter.waiting))
        .collect();
    assert_eq!(named, [("waits", true), ("refused", false)]);
    let later = with(&mut store, |memory| memory.unsent_after(hour(6)));
    assert_eq!(later, Vec::new());
}
