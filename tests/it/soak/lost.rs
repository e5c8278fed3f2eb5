//! The memory that is damaged or deleted, and what the newest backup does not know of what stood in it.

use super::farm::{Farm, rows_of};
use super::faults::Fault;
use chrono::{DateTime, Utc};
use graftwarden::store::{Store, backup};
use rusqlite::{Connection, OpenFlags};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// A person who was told something in a letter.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Told {
    pub recipient: String,
    /// The key of the notice, and what it is about.
    pub key: String,
    pub about: (String, String),
    /// The letter.
    pub id: String,
    pub round_at: DateTime<Utc>,
}

impl Told {
    /// All that stands in a memory, or in a copy of it.
    pub fn in_file(file: &Path) -> BTreeSet<Self> {
        let sql =
            "SELECT recipient, key, notice.subject, step, message_id, notice.round_at FROM letter
                   JOIN letter_notice ON letter = letter.id JOIN notice ON notice = notice.id";
        let rows = rows_of(file, sql).into_iter();
        let told = rows.map(|row| {
            let [recipient, key, subject, step, id, at]: [String; 6] = row.try_into().unwrap();
            Self {
                recipient,
                key,
                about: (subject, step),
                id,
                round_at: at.parse().unwrap(),
            }
        });
        told.collect()
    }
}

/// What was lost with a memory: all of it since the newest backup.
pub struct Lost {
    pub at: DateTime<Utc>,
    pub told: BTreeSet<Told>,
    /// The letters that were written, and those of which it was known that they went out.
    pub letters: BTreeSet<String>,
    pub sent: BTreeSet<String>,
    /// How many letters had been handed over by then.
    pub handed: usize,
}

/// The memory is harmed in that way; none where it is still to be mended, or was never copied.
pub fn harm(
    farm: &mut Farm,
    how: Fault,
    at: DateTime<Utc>,
    chance: &mut fastrand::Rng,
) -> Option<Lost> {
    farm.stop();
    let state = farm.path("state");
    let (file, newest) = (Store::file_in(&state), backup::days(&state).unwrap());
    let newest = backup::file_of(&state, *newest.first()?);
    if !is_sound(&file) {
        return None;
    }
    let since = |sql: &str| -> BTreeSet<Vec<String>> {
        let [here, there] = [&file, &newest].map(|file| BTreeSet::from_iter(rows_of(file, sql)));
        &here - &there
    };
    let ids = |sql| since(sql).into_iter().map(|mut row| row.remove(0));
    let taken = since(
        "SELECT mail, record FROM answer JOIN answer_record ON answer = answer.id WHERE state = 'taken'",
    );
    let lost = Lost {
        at,
        told: &Told::in_file(&file) - &Told::in_file(&newest),
        letters: ids("SELECT message_id FROM letter").collect(),
        sent: ids("SELECT message_id FROM outbox JOIN letter ON letter = letter.id WHERE carrier = 'smtp' AND state = 'sent'").collect(),
        handed: farm.mailed().letters.len(),
    };
    // That a mail came is forgotten, and what it wrote down is not: one that waited for a yes has to be written again.
    for mail in ids("SELECT mail FROM answer") {
        farm.mails.remove(&mail);
    }
    for row in taken {
        farm.mails.remove(&row[0]);
        farm.notes.insert(row[1].clone());
    }
    write_over(&file, how, chance);
    Some(lost)
}

fn write_over(file: &Path, how: Fault, chance: &mut fastrand::Rng) {
    if how == Fault::MemoryGone {
        return fs::remove_file(file).unwrap();
    }
    let mut bytes = fs::read(file).unwrap();
    // The end of it, or a page, in which nothing stands is no loss.
    while is_sound(file) {
        if how == Fault::MemoryTruncated {
            bytes.truncate(chance.usize(0..bytes.len()));
            fs::write(file, &bytes).unwrap();
            continue;
        }
        let page = chance.usize(0..bytes.len() / 4096);
        bytes[page * 4096..][..4096].fill(0xa5);
        fs::write(file, &bytes).unwrap();
    }
}

/// Whether there is a file, and the database finds nothing in it.
fn is_sound(file: &Path) -> bool {
    let found =
        Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY).and_then(|file| {
            file.query_row("PRAGMA quick_check(1)", [], |row| row.get::<_, String>(0))
        });
    found.is_ok_and(|found| found == "ok") && fs::metadata(file).unwrap().len() > 0
}
