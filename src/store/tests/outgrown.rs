//! What the memory lets go of, and in which order letters go out.

use super::*;

fn letter(n: u32, urgent: bool) -> NewLetter {
    NewLetter {
        message_id: format!("{n}@x"),
        recipient: "maren@alderfold.example".into(),
        subject: format!("letter {n}"),
        dated: hour(6).fixed_offset(),
        bytes: format!("bytes of {n}").into_bytes(),
        own: vec![("hook", b"{}".to_vec())],
        notices: Vec::new(),
        urgent,
        thread: Vec::new(),
        asked: Vec::new(),
    }
}

/// The bytes that each letter has, and what the hook has of it.
fn bytes(store: &Store) -> Vec<(String, Option<String>)> {
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    let mut read = store
        .connection
        .prepare("SELECT letter.bytes, outbox.bytes FROM letter JOIN outbox ON letter = id WHERE carrier = 'hook' ORDER BY id")
        .unwrap();
    let rows = read.query_map([], |row| {
        Ok((text(row.get(0)?), row.get::<_, Option<_>>(1)?.map(text)))
    });
    rows.unwrap().map(Result::unwrap).collect()
}

#[test]
fn letters_that_are_out_lose_their_bytes_in_the_next_round() {
    let mut store = Store::in_memory().unwrap();
    let kept = |n: u32| (format!("bytes of {n}"), Some("{}".to_owned()));
    let count = with(&mut store, |memory| {
        // The first is out, of the second one carrier has nothing yet, the third is of this round.
        for (n, at) in [(1, 6), (2, 6), (3, 7)] {
            memory.post(&letter(n, false), &["smtp", "hook"], hour(at))?;
        }
        for row in memory.waiting(hour(7))? {
            if (row.letter, row.carrier.as_str()) != (2, "smtp") {
                memory.sent(&row, hour(7))?;
            }
        }
        memory.let_go(hour(6))
    });
    assert_eq!((count, bytes(&store)), (0, vec![kept(1), kept(2), kept(3)]));
    let count = with(&mut store, |memory| memory.let_go(hour(7)));
    let (gone, waits) = ((String::new(), None), ("bytes of 2".to_owned(), None));
    assert_eq!((count, bytes(&store)), (1, vec![gone, waits, kept(3)]));
    with(&mut store, |memory| {
        // An answer to the first is still known for what it is.
        assert_eq!(
            memory.letter_of_token("1")?.map(|letter| letter.id),
            Some(1)
        );
        assert_eq!(memory.let_go(hour(7))?, 0);
        Ok(())
    });
}

#[test]
fn what_is_urgent_goes_before_what_waits_but_holds_it_up_no_more_than_once() {
    let mut store = Store::in_memory().unwrap();
    let order = |memory: &Memory<'_>, at: u32| -> Result<Vec<String>, StoreError> {
        let rows = memory.waiting(hour(at))?;
        Ok(rows.into_iter().map(|row| row.subject).collect())
    };
    with(&mut store, |memory| {
        memory.post(&letter(1, false), &["smtp"], hour(6))?;
        memory.post(&letter(2, false), &["smtp"], hour(7))?;
        memory.post(&letter(3, true), &["smtp"], hour(8))?;
        assert_eq!(order(memory, 8)?, ["letter 3", "letter 1", "letter 2"]);
        // It was what found the server away, so it stands behind the others by a second.
        let rows = memory.waiting(hour(8))?;
        memory.again(
            &rows[0],
            hour(9) + chrono::TimeDelta::seconds(1),
            "no answer",
        )?;
        for row in &rows[1..] {
            memory.again(row, hour(9), "no answer")?;
        }
        assert_eq!(order(memory, 10)?, ["letter 1", "letter 2", "letter 3"]);
        // Of those that became due together, it goes first.
        for row in memory.waiting(hour(10))? {
            memory.again(&row, hour(11), "no answer")?;
        }
        assert_eq!(order(memory, 11)?, ["letter 3", "letter 1", "letter 2"]);
        Ok(())
    });
}
