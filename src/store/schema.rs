//! The file: its schema and its migrations.
//!
//! Dates are ISO text and moments are RFC 3339 text in UTC, so that the file can be read with any `sqlite3` shell.
//! `user_version` counts schemas; a newer file than this program knows is refused.

use super::StoreError;
use rusqlite::Connection;

/// Each entry takes the file from the version of its index to the next.
const MIGRATIONS: &[&str] = &[V1, V2, V3, V4];

const V1: &str = "
CREATE TABLE fact (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;

-- What came in for each date, as it came.
CREATE TABLE day (
  site TEXT NOT NULL, source TEXT NOT NULL, date TEXT NOT NULL,
  min REAL NOT NULL, max REAL NOT NULL, gust REAL, rain REAL,
  origin TEXT NOT NULL, fetched_at TEXT NOT NULL,
  PRIMARY KEY (site, source, date)
) STRICT, WITHOUT ROWID;

-- What a source asked for when it was last asked, and since when it fails.
CREATE TABLE source (
  site TEXT NOT NULL, source TEXT NOT NULL,
  memo TEXT, not_before TEXT, failing_since TEXT, answered_at TEXT,
  PRIMARY KEY (site, source)
) STRICT, WITHOUT ROWID;

-- A year before, one row: minimum and maximum of each day in hundredths of °C, little-endian 16 bit, -32768 unknown.
CREATE TABLE past (
  site TEXT NOT NULL, year INTEGER NOT NULL, source TEXT NOT NULL, days BLOB NOT NULL,
  PRIMARY KEY (site, year)
) STRICT, WITHOUT ROWID;

-- The last good version of every row of the register.
CREATE TABLE batch (
  name TEXT PRIMARY KEY, file TEXT NOT NULL, gone INTEGER NOT NULL DEFAULT 0,
  site TEXT NOT NULL, block TEXT NOT NULL, plan TEXT NOT NULL, scion TEXT NOT NULL, understock TEXT NOT NULL,
  vigour TEXT NOT NULL, grafts INTEGER NOT NULL, grafted_on TEXT NOT NULL, done_by TEXT NOT NULL, remarks TEXT NOT NULL
) STRICT;

-- The last good version of every field record; seq keeps the order in which they were written down.
CREATE TABLE record (
  seq INTEGER PRIMARY KEY, identity TEXT NOT NULL UNIQUE, file TEXT NOT NULL, gone INTEGER NOT NULL DEFAULT 0,
  date TEXT NOT NULL, batch TEXT, block TEXT, what TEXT NOT NULL, count REAL, of REAL, done_by TEXT NOT NULL, remarks TEXT NOT NULL
) STRICT;

-- The ledger: what was told. Decided once, by key.
CREATE TABLE notice (
  id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, kind TEXT NOT NULL, subject TEXT NOT NULL,
  step TEXT NOT NULL, anchor TEXT NOT NULL, n INTEGER NOT NULL, on_day TEXT NOT NULL, until_day TEXT, level TEXT,
  told_on TEXT NOT NULL, round_at TEXT NOT NULL
) STRICT;

-- Letters hold the exact bytes that go out; a retry sends the same.
CREATE TABLE letter (
  id INTEGER PRIMARY KEY, message_id TEXT NOT NULL UNIQUE, round_at TEXT NOT NULL,
  recipient TEXT NOT NULL, subject TEXT NOT NULL, dated TEXT NOT NULL, bytes BLOB NOT NULL
) STRICT;
CREATE TABLE letter_notice (
  letter INTEGER NOT NULL REFERENCES letter, notice INTEGER NOT NULL REFERENCES notice,
  PRIMARY KEY (letter, notice)
) STRICT, WITHOUT ROWID;

-- One letter by one carrier. state: waiting, sent, refused.
CREATE TABLE outbox (
  letter INTEGER NOT NULL REFERENCES letter, carrier TEXT NOT NULL,
  state TEXT NOT NULL, tries INTEGER NOT NULL DEFAULT 0, next_try_at TEXT NOT NULL, answer TEXT NOT NULL DEFAULT '', settled_at TEXT,
  PRIMARY KEY (letter, carrier)
) STRICT, WITHOUT ROWID;
CREATE INDEX outbox_waiting ON outbox (next_try_at) WHERE state = 'waiting';
";

const V2: &str = "
-- The nursery's dates on which a round was walked, and spans in which scheduled rounds were missed.
CREATE TABLE round_on (date TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
INSERT INTO round_on SELECT substr(value, 1, 10) FROM fact WHERE key = 'last round';
CREATE TABLE down (since TEXT PRIMARY KEY, until TEXT NOT NULL) STRICT, WITHOUT ROWID;

-- Dates that letters gave for openings, so that it can be said how well they held.
CREATE TABLE foretold (
  batch TEXT NOT NULL, step TEXT NOT NULL, grafted_on TEXT NOT NULL, told_on TEXT NOT NULL, p10 TEXT, p50 TEXT, p90 TEXT,
  PRIMARY KEY (batch, step, grafted_on, told_on)
) STRICT, WITHOUT ROWID;
";

const V3: &str = "
-- Urgent letters may break a person's quiet hours.
ALTER TABLE letter ADD COLUMN urgent INTEGER NOT NULL DEFAULT 0;
-- The Message-IDs of the letters it goes on from, the oldest first, with spaces between them.
ALTER TABLE letter ADD COLUMN thread TEXT NOT NULL DEFAULT '';
CREATE INDEX letter_to ON letter (recipient, round_at);
-- What a carrier takes that is not handed the letter itself; null where it is.
ALTER TABLE outbox ADD COLUMN bytes BLOB;
-- What `done` means, said in answer to a letter: this step of these batches.
CREATE TABLE asked (
  letter INTEGER NOT NULL REFERENCES letter, batch TEXT NOT NULL, step TEXT NOT NULL,
  PRIMARY KEY (letter, batch)
) STRICT, WITHOUT ROWID;
-- What a person's calendar was told: a change goes out under the next number (RFC 5545, 3.8.7.4). upto: the last day
-- on which an entry was ever said to be.
CREATE TABLE calendar (
  recipient TEXT NOT NULL, uid TEXT NOT NULL, sequence INTEGER NOT NULL,
  title TEXT NOT NULL, first TEXT NOT NULL, last TEXT NOT NULL, detail TEXT NOT NULL,
  cancelled INTEGER NOT NULL DEFAULT 0, upto TEXT NOT NULL,
  PRIMARY KEY (recipient, uid)
) STRICT, WITHOUT ROWID;
-- Mails that came in, each once. state: taken, held (waits for its sender's word), passed-over (not from people of ours),
-- automatic, bounce (sender is who cannot be reached, words what the mail system said).
CREATE TABLE answer (
  id INTEGER PRIMARY KEY, mail TEXT NOT NULL UNIQUE, came_at TEXT NOT NULL, sender TEXT NOT NULL,
  letter INTEGER REFERENCES letter, state TEXT NOT NULL, words TEXT NOT NULL, dated TEXT NOT NULL, receipt TEXT UNIQUE
) STRICT;
CREATE INDEX answer_of_sender ON answer (sender, came_at);
-- The records that an answer wrote, so that `undo` can take them back; undone where it did.
CREATE TABLE answer_record (
  answer INTEGER NOT NULL REFERENCES answer, record TEXT NOT NULL, undone INTEGER NOT NULL DEFAULT 0,
  PRIMARY KEY (answer, record)
) STRICT, WITHOUT ROWID;
";

const V4: &str = "
-- A letter may ask for several steps: place is that of the step in the letter, from 1. What an older program wrote down is
-- the first; the others are those that the letter told.
CREATE TABLE asked_steps (
  letter INTEGER NOT NULL REFERENCES letter, place INTEGER NOT NULL, step TEXT NOT NULL, batch TEXT NOT NULL,
  PRIMARY KEY (letter, place, step, batch)
) STRICT, WITHOUT ROWID;
INSERT INTO asked_steps SELECT letter, 1, step, batch FROM asked;
INSERT OR IGNORE INTO asked_steps
  SELECT letter_notice.letter, 2, notice.step, notice.subject
  FROM letter_notice JOIN notice ON notice.id = letter_notice.notice
  WHERE notice.kind IN ('opens', 'last-call', 'sisters', 'sentinel', 'late') AND notice.step <> ''
  AND letter_notice.letter IN (SELECT letter FROM asked)
  AND NOT EXISTS (SELECT 1 FROM asked WHERE asked.letter = letter_notice.letter AND asked.step = notice.step);
DROP TABLE asked;
ALTER TABLE asked_steps RENAME TO asked;
";

/// The newest schema this program knows.
pub const NEWEST: i64 = MIGRATIONS.len() as i64;

/// The version of an open file; 0 of one without tables.
pub fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Refuses what a newer program wrote.
pub fn known(found: i64) -> Result<(), StoreError> {
    if found > NEWEST {
        return Err(StoreError::Newer {
            found,
            known: NEWEST,
        });
    }
    Ok(())
}

/// Brings the file to the newest schema, in one transaction a step.
pub fn migrate(connection: &mut Connection) -> Result<(), StoreError> {
    migrate_to(connection, NEWEST)
}

/// The same, to a schema that may be an older one: for what was written by an older program.
pub fn migrate_to(connection: &mut Connection, schema: i64) -> Result<(), StoreError> {
    let found = version(connection)?;
    known(found)?;
    climb(connection, found, schema)
}

/// From the version that was found, though another program may have gone some of the way since.
fn climb(connection: &mut Connection, found: i64, schema: i64) -> Result<(), StoreError> {
    let steps = (1..).zip(MIGRATIONS);
    for (next, sql) in steps.filter(|(next, _)| (found + 1..=schema).contains(next)) {
        let transaction =
            connection.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
        let there = version(&transaction)?;
        known(there)?;
        if there >= next {
            continue;
        }
        transaction.execute_batch(sql)?;
        transaction.pragma_update(None, "user_version", next)?;
        transaction.commit()?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_another_program_has_done_meanwhile_is_not_done_again() {
        let mut file = Connection::open_in_memory().unwrap();
        for (found, goal) in [(0, 2), (0, 3), (1, NEWEST), (0, NEWEST)] {
            climb(&mut file, found, goal).unwrap();
            assert_eq!(version(&file).unwrap(), goal);
        }
        file.pragma_update(None, "user_version", NEWEST + 1)
            .unwrap();
        let said = climb(&mut file, 0, NEWEST).unwrap_err();
        assert!(matches!(said, StoreError::Newer { .. }), "{said}");
    }
}
