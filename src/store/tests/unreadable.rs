//! Values that cannot be read: one is left out and told, and what no letter has told yet is noted until one does.

use super::kept::letter;
use super::*;
use crate::notices::{About, Kind, Notice};

/// A store into which that was written past the program.
fn spoilt(sql: &str, before: impl FnOnce(&Memory<'_>) -> Result<(), StoreError>) -> Store {
    let mut store = Store::in_memory().unwrap();
    with(&mut store, before);
    store.connection.execute_batch(sql).unwrap();
    store
}

/// What is to be told, without what is done about it.
fn told(store: &mut Store) -> Vec<String> {
    let left_out = with(store, |memory| memory.left_out());
    left_out.into_iter().map(|problem| problem.what).collect()
}

#[test]
fn a_moment_that_is_none_is_no_moment_and_is_told() {
    let sql = "INSERT INTO fact VALUES ('last round', 'not a date'), ('mailbox fails since', '')";
    let mut store = spoilt(sql, |_| Ok(()));
    let found = with(&mut store, |memory| {
        Ok((
            memory.last_round()?,
            memory.moment_of("mailbox fails since")?,
        ))
    });
    assert_eq!(found, (None, None));
    let said = "value 'not a date' cannot be read, in the row with key 'last round'";
    assert_eq!(told(&mut store), [said]);
}

#[test]
fn the_newest_that_can_be_read_stands_in_for_one_that_cannot() {
    use crate::days::Origin::Measured;
    let sql = "UPDATE day SET date = 'not a date' WHERE date = '2026-07-02'";
    let mut store = spoilt(sql, |memory| {
        let days = [warm(1, 20.0, Measured), warm(2, 20.0, Measured)];
        memory.absorb_days("home", "file", &days, hour(6))
    });
    let last = with(&mut store, |memory| memory.last_measured("home"));
    assert_eq!(last, Some(day(1)));
    let said = "date 'not a date' cannot be read, in the row with origin 'measured', source 'file'";
    assert_eq!(told(&mut store), [said]);
}

#[test]
fn what_was_noted_is_told_until_a_letter_has_told_it() {
    let sql = "INSERT INTO fact VALUES ('clock confirmed', CAST(x'ff' AS TEXT))";
    let mut store = spoilt(sql, |_| Ok(()));
    with(&mut store, |memory| memory.clock_right_at());
    // It is mended meanwhile.
    with(&mut store, |memory| memory.remember("clock confirmed", ""));
    let said = "value '\u{fffd}' cannot be read, in the row with key 'clock confirmed'";
    assert_eq!(told(&mut store), [said]);
    assert_eq!(told(&mut store), [said]);
    with(&mut store, |memory| {
        let key = memory.left_out()?.remove(0).key;
        let notice = Notice::plain(Kind::Trouble, About::Nursery, key, 1, day(20));
        memory.enter(&notice, day(20), hour(6))
    });
    assert_eq!(told(&mut store), [""; 0]);
}

#[test]
fn of_a_table_with_many_such_rows_five_are_named() {
    let rows: Vec<String> = (0..9).map(|n| format!("('x{n}')")).collect();
    let sql = format!("INSERT INTO round_on VALUES {}", rows.join(", "));
    let mut store = spoilt(&sql, |memory| memory.round_done(hour(6), day(19)));
    let rounds = with(&mut store, |memory| memory.rounds_before(day(20)));
    assert_eq!(rounds, [day(19)]);
    let expected = [8, 7, 6, 5, 4].map(|n| format!("date 'x{n}' cannot be read"));
    let told = told(&mut store);
    assert_eq!(told[..5], expected);
    assert_eq!(told[5], "more of its rows cannot be read");
    assert_eq!(told.len(), 6);
}

#[test]
fn a_secret_that_is_lost_is_drawn_anew_and_told_each_time() {
    for sql in [
        "UPDATE fact SET value = CAST(x'ff' AS TEXT) WHERE key = 'secret'",
        "DELETE FROM fact WHERE key = 'secret'",
    ] {
        let mut store = spoilt("", |memory| memory.post(&letter("1@x"), &["smtp"], hour(6)));
        let first = store.settle::<_, StoreError>(|memory| memory.secret());
        // There was a letter before there was a secret.
        assert_eq!(told(&mut store).len(), 1);
        store.connection.execute_batch(sql).unwrap();
        let secret = with(&mut store, |memory| memory.secret());
        assert_ne!(secret, first.unwrap());
        assert_eq!(with(&mut store, |memory| memory.secret()), secret);
        let keys = with(&mut store, |memory| memory.left_out());
        let keys: Vec<String> = keys.into_iter().map(|problem| problem.key).collect();
        assert!(keys.len() == 2 && keys[0] != keys[1], "{keys:?}");
        assert!(
            keys.iter().all(|key| key.starts_with("secret lost ")),
            "{keys:?}"
        );
    }
}

#[test]
fn a_letter_whose_moment_or_count_of_tries_cannot_be_read_goes_out() {
    for (sql, many) in [
        ("UPDATE outbox SET next_try_at = 'not a date'", 0),
        ("UPDATE outbox SET tries = -1", 1),
    ] {
        let post = |memory: &Memory<'_>| memory.post(&letter("1@x"), &["smtp"], hour(6));
        let mut store = spoilt(sql, post);
        let waiting = with(&mut store, |memory| memory.waiting(hour(7)));
        assert_eq!(waiting.len(), 1, "{sql}");
        assert_eq!(waiting[0].tries, 0);
        assert_eq!(told(&mut store).len(), many, "{sql}");
    }
}

#[test]
fn words_and_figures_that_nothing_of_ours_writes_cannot_be_read() {
    let written = |memory: &Memory<'_>| {
        memory.absorb_batches(&FileRead {
            file: "batches.csv",
            identities: &["C-14".to_owned()].into(),
            rows: &|take| take("C-14", &batch("C-14", 310)),
        })?;
        let seen = record(3, What::Lines, Some(Count::Share(3, 10)));
        memory.write_record("r1", "records.csv", &seen)?;
        memory.absorb_year("home", 2025, "file", &[])
    };
    for (sql, said) in [
        (
            "UPDATE batch SET vigour = 'huge'",
            "vigour 'huge' cannot be read",
        ),
        (
            "UPDATE record SET what = 'danced'",
            "what 'danced' cannot be read",
        ),
        ("UPDATE record SET count = -3", "count -3 cannot be read"),
        ("UPDATE record SET of = 9e999", "of inf cannot be read"),
        ("UPDATE record SET batch = NULL", " cannot be read"),
        ("UPDATE past SET days = x'00'", " cannot be read"),
    ] {
        let mut store = spoilt(sql, written);
        let found = with(&mut store, |memory| {
            let years = memory.past_years("home")?;
            Ok((memory.batches()?.len(), memory.records()?.len(), years))
        });
        let told = told(&mut store);
        assert_eq!(told.len(), 1, "{sql}: {told:?}");
        assert!(told[0].contains(said), "{sql}: {told:?}");
        let whole = found.0 + found.1;
        let of_days = sql.contains("days");
        assert_eq!(whole, if of_days { 2 } else { 1 }, "{sql}");
    }
}
