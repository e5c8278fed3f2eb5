//! Each column of a memory with some of a season in it is spoilt in turn, in its last row: the round ends well, says what it
//! could not read, says nothing twice, and what is due is told all the same. What the tables themselves refuse is written
//! with their rules taken off meanwhile: that is damage, which the next start finds.

use crate::program::{CONFIG, Nursery, temperatures};
use chrono::{DateTime, Utc};
use graftwarden::assemble::House;
use graftwarden::clock::ManualClock;
use graftwarden::config::Config;
use graftwarden::post::{Carrier, Outcome, Parcel, Pending};
use graftwarden::round::{self, round};
use graftwarden::store::Store;
use graftwarden::weather::http::Patience;
use rusqlite::Connection;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::sync::{Arc, LazyLock, Mutex};
use std::time::Duration;

/// Two people, answers by mail, a service that is not there, and a year before.
fn nursery() -> Nursery {
    let weather = "path = \"temps.csv\"\n\n[[site.weather]]\nsource = \"open-meteo\"\nurl = \"http://127.0.0.1:9\"\n";
    let jory = "[[people]]\nname = \"Jory Penhale\"\nemail = \"jory@alderfold.example\"\n\n[post]";
    let config = CONFIG
        .replace("path = \"temps.csv\"\n", weather)
        .replace(
            "longitude = 4.4\n",
            "longitude = 4.4\npast_years = \"past.csv\"\n",
        )
        .replace("[\"work\"", "[\"weekly\", \"work\"")
        .replace("[post]", jory)
        + "\n[answers]\naddress = \"answers@alderfold.example\"\nmaildir = \"mail\"\n";
    let nursery = Nursery::small()
        .with("graftwarden.toml", &config)
        .with(
            "past.csv",
            &temperatures("2024-07-30").replace("2024", "2023"),
        )
        .with(
            "records.csv",
            "date,batch,what,count,by,remarks\n2024-07-11,A2,lost,20,Jory,hare\n",
        );
    for folder in ["mail/new", "mail/cur", "mail/tmp"] {
        fs::create_dir_all(nursery.path(folder)).unwrap();
    }
    nursery
}

type Taken = Arc<Mutex<Vec<(&'static str, String)>>>;

/// Says the same to each letter, and writes down which it took.
struct Post {
    name: &'static str,
    takes: bool,
    taken: Taken,
}

impl Carrier for Post {
    fn name(&self) -> &'static str {
        self.name
    }

    fn carry<'a>(&'a self, parcel: &'a Parcel) -> Pending<'a, Outcome> {
        Box::pin(async move {
            if !self.takes {
                let why = "no answer".into();
                return Outcome::Away { why, rest: None };
            }
            let taken = (self.name, parcel.message_id.clone());
            self.taken.lock().unwrap().push(taken);
            Outcome::Delivered
        })
    }
}

/// Walks a round in that folder, with a mail server that is there or not.
fn walk(folder: &Path, at: &str, mail: bool, taken: &Taken) -> round::Outcome {
    let config = Config::load(&folder.join("graftwarden.toml")).unwrap();
    let store = Store::open(&folder.join("state")).unwrap();
    let clock = Arc::new(ManualClock::at(at.parse::<DateTime<Utc>>().unwrap()));
    let once = Patience {
        connect: Duration::from_secs(5),
        whole: Duration::from_secs(5),
        retries: 0,
        pause: Duration::ZERO,
        longest_pause: Duration::ZERO,
    };
    let (mut house, problems) = House::live_by(config, clock, store, once);
    assert_eq!(problems, []);
    house.carriers.clear();
    for (name, takes) in [("folder", true), ("smtp", mail)] {
        let taken = Arc::clone(taken);
        house.carriers.push(Box::new(Post { name, takes, taken }));
    }
    let mut runtime = tokio::runtime::Builder::new_current_thread();
    let runtime = runtime.enable_all().build().unwrap();
    runtime.block_on(async {
        let outcome = round(&house).await.unwrap();
        round::sign_off(&house).await.unwrap();
        outcome
    })
}

fn memory(folder: &Path) -> Connection {
    Connection::open(Store::file_in(&folder.join("state"))).unwrap()
}

fn texts(memory: &Connection, sql: &str) -> Vec<String> {
    let mut read = memory.prepare(sql).unwrap();
    let rows = read.query_map([], |row| row.get(0)).unwrap();
    rows.map(Result::unwrap).collect()
}

fn mail(folder: &Path, name: &str, to: &str, words: &str) {
    let text = format!(
        "From: Maren <maren@alderfold.example>\r\nTo: <{to}>\r\nMessage-ID: <{name}@phone.example>\r\nDate: Tue, 16 Jul 2024 07:02:00 +0200\r\nSubject: today\r\nContent-Type: text/plain\r\n\r\n{words}\r\n"
    );
    fs::write(folder.join("mail/new").join(name), text).unwrap();
}

/// A memory on the morning of 18 July, when A2 is to be looked at: see `temperatures`.
struct Season {
    nursery: Nursery,
    /// What carriers took.
    taken: BTreeSet<(&'static str, String)>,
    /// The keys of what was told.
    told: BTreeSet<String>,
    /// The tokens of the receipts, by the name of the mail that is to answer each.
    receipts: BTreeMap<&'static str, String>,
}

static SEASON: LazyLock<Season> = LazyLock::new(|| {
    let nursery = nursery();
    let taken = Taken::default();
    let go = |last: &str, at: &str| {
        nursery.write("temps.csv", temperatures(last));
        walk(&nursery.path(""), at, false, &taken);
    };
    go("2024-07-11", "2024-07-12T04:10:00Z");
    go("2024-07-15", "2024-07-16T04:10:00Z");
    let last = "SELECT substr(message_id, 1, 32) FROM letter WHERE recipient LIKE 'maren%' ORDER BY id DESC";
    let token = texts(&memory(&nursery.path("")), last).swap_remove(0);
    mail(
        &nursery.path(""),
        "one",
        &format!("answers+{token}@alderfold.example"),
        "A1 looked",
    );
    mail(
        &nursery.path(""),
        "two",
        "answers@alderfold.example",
        "B1 looked",
    );
    go("2024-07-15", "2024-07-16T05:10:00Z");
    go("2024-07-16", "2024-07-17T04:10:00Z");
    nursery.write("temps.csv", temperatures("2024-07-17"));
    let told = texts(&memory(&nursery.path("")), "SELECT key FROM notice");
    let taken = taken.lock().unwrap().drain(..).collect();
    let receipts = "SELECT substr(receipt, 1, 32) FROM answer ORDER BY id";
    let receipts = texts(&memory(&nursery.path("")), receipts);
    assert_eq!(receipts.len(), 2);
    Season {
        nursery,
        taken,
        told: told.into_iter().collect(),
        receipts: ["three", "four"].into_iter().zip(receipts).collect(),
    }
});

/// One value of the memory.
#[derive(Clone, Debug)]
struct Place {
    table: String,
    column: String,
    kind: String,
    /// By what its row is found.
    row: String,
}

/// The last value of each column, and all facts.
fn places() -> Vec<Place> {
    // What is opened has files beside it that come and go, while another test copies the season.
    let folder = copy();
    let memory = memory(folder.path());
    let tables = texts(
        &memory,
        "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name",
    );
    let mut places = Vec::new();
    for table in tables {
        let of = |sql: &str| texts(&memory, &format!("{sql} FROM pragma_table_info('{table}')"));
        let key = texts(
            &memory,
            &format!("SELECT name FROM pragma_table_info('{table}') WHERE pk > 0 ORDER BY pk"),
        );
        let by: Vec<String> = key.iter().map(|name| format!("{name} DESC")).collect();
        let (key_of, by) = (key.join(", "), by.join(", "));
        let mut rows = vec![format!(
            "({key_of}) = (SELECT {key_of} FROM {table} ORDER BY {by} LIMIT 1)"
        )];
        if table == "fact" {
            let keys = texts(&memory, "SELECT key FROM fact ORDER BY key");
            rows = keys.iter().map(|key| format!("key = '{key}'")).collect();
        }
        let any: i64 = memory
            .query_row(&format!("SELECT count(*) FROM {table}"), [], |row| {
                row.get(0)
            })
            .unwrap();
        assert!(any > 0, "the season has nothing in {table}");
        for (column, kind) in of("SELECT name").into_iter().zip(of("SELECT type")) {
            // The number of a row is kept by the database itself.
            if kind == "INTEGER" && key == [column.as_str()] {
                continue;
            }
            places.extend(rows.iter().map(|row| Place {
                table: table.clone(),
                column: column.clone(),
                kind: kind.clone(),
                row: row.clone(),
            }));
        }
    }
    places
}

/// Puts that in the place, with the rules of the table taken off meanwhile.
fn spoil(folder: &Path, place: &Place, value: &str) {
    let Place {
        table, column, row, ..
    } = place;
    let rules = |from: &str, to: &str| {
        let memory = memory(folder);
        memory.execute_batch("PRAGMA writable_schema = ON").unwrap();
        let sql = "UPDATE sqlite_schema SET sql = replace(sql, ?1, ?2) WHERE type = 'table'";
        memory.execute(sql, [from, to]).unwrap();
    };
    rules(") STRICT", ") /* STRICT */");
    rules("/* STRICT */,", "/* STRICT, */");
    memory(folder)
        .execute_batch(&format!("PRAGMA foreign_keys = OFF; UPDATE OR REPLACE {table} SET {column} = {value} WHERE {row}"))
        .unwrap();
    rules("/* STRICT, */", "/* STRICT */,");
    rules(") /* STRICT */", ") STRICT");
}

/// A copy of the season.
fn copy() -> tempfile::TempDir {
    let to = tempfile::tempdir().unwrap();
    let mut folders = vec![std::path::PathBuf::new()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(SEASON.nursery.path("").join(&folder)).unwrap() {
            let entry = entry.unwrap();
            let name = folder.join(entry.file_name());
            if entry.file_type().unwrap().is_dir() {
                fs::create_dir(to.path().join(&name)).unwrap();
                folders.push(name);
            } else {
                fs::copy(entry.path(), to.path().join(name)).unwrap();
            }
        }
    }
    to
}

/// Walks a day with that value in that place. Whether nothing is said of it although it stays; what it is for is told in
/// any case, and once.
fn is_silent(place: &Place, value: &str) -> bool {
    let folder = copy();
    let folder = folder.path();
    spoil(folder, place, value);
    for (name, words) in [("three", "undo"), ("four", "yes")] {
        let to = format!("answers+{}@alderfold.example", SEASON.receipts[name]);
        mail(folder, name, &to, words);
    }
    let taken = Taken::default();
    let mut told = Vec::new();
    for at in ["2024-07-18T04:10:00Z", "2024-07-18T16:10:00Z"] {
        let outcome = walk(folder, at, true, &taken);
        let keys = outcome
            .tellings
            .into_iter()
            .map(|telling| telling.notice.key());
        told.extend(keys);
    }
    let what = format!("{value} in {place:?}");
    let due = "opens|A2|callus-check|2024-07-03 by maple field T-graft||1";
    assert!(told.iter().any(|key| key == due), "{what}: {told:#?}");
    for key in &told {
        assert!(!SEASON.told.contains(key), "{what}: {key} again");
    }
    let taken = taken.lock().unwrap();
    for (n, one) in taken.iter().enumerate() {
        let before = SEASON.taken.contains(one) || taken[..n].contains(one);
        assert!(!before, "{what}: {one:?} again");
    }
    let Place { table, column, .. } = place;
    let stays = format!("SELECT 1 FROM {table} WHERE {column} IS {value}");
    let stays = memory(folder).prepare(&stays).unwrap().exists([]).unwrap();
    let said =
        |key: &String| key.contains("the program's memory, table ") || key.contains("secret lost");
    stays && !told.iter().any(said)
}

/// Names by which rows are found: under another name one is no longer there, and what it was comes in anew.
const NAMES: &[&str] = &[
    "answer.receipt",
    "answer_record.record",
    "calendar.recipient",
    "day.site",
    "day.source",
    "fact.key",
    "past.site",
    "past.source",
    "source.site",
    "source.source",
];

/// Not read on such a day: dates that were given, before the season's letter; what a letter went on from, before one goes on
/// from it; and what is written for whoever looks at the tables.
const NOT_READ: &[&str] = &[
    "foretold.batch",
    "foretold.grafted_on",
    "foretold.p10",
    "foretold.p50",
    "foretold.p90",
    "foretold.step",
    "foretold.told_on",
    "letter.dated",
    "letter.thread",
    "notice.key",
    "notice.round_at",
];

/// Any text may stand there, or any whole number. (Any bytes may be a letter's, too; those here are let go of.)
const ANYTHING: &[&str] = &[
    "answer.letter",
    "answer.mail",
    "answer.sender",
    "answer.words",
    "answer_record.answer",
    "answer_record.undone",
    "asked.batch",
    "asked.letter",
    "asked.place",
    "asked.step",
    "batch.name",
    "calendar.uid",
    "fact.value where key = 'secret'",
    "letter.message_id",
    "letter.recipient",
    "letter.subject",
    "letter.urgent",
    "letter_notice.letter",
    "letter_notice.notice",
    "notice.anchor",
    "notice.step",
    "notice.subject",
    "outbox.carrier",
    "outbox.letter",
    "past.year",
    "record.identity",
    "source.memo",
];

/// Of these columns alone nothing is said, where such a value stands in each column of that kind.
#[track_caller]
fn check(values: &[(&str, &str)], expected: &[&[&str]]) {
    let mut silent = BTreeSet::new();
    for place in places() {
        let Place { table, column, .. } = &place;
        let mut values = values.iter().filter(|(kind, _)| *kind == place.kind);
        if values.any(|(_, value)| is_silent(&place, value)) {
            silent.insert(match format!("{table}.{column}").as_str() {
                of @ "fact.value" => format!("{of} where {}", place.row),
                of => of.to_owned(),
            });
        }
    }
    let expected = expected.concat().into_iter().map(str::to_owned).collect();
    let other: Vec<_> = silent.symmetric_difference(&expected).collect();
    assert!(
        other.is_empty(),
        "silent or not, unlike the others: {other:#?}"
    );
}

#[test]
fn a_text_that_is_none_is_left_out_and_told() {
    check(&[("TEXT", "CAST(x'ff' AS TEXT)")], &[NAMES, NOT_READ]);
}

#[test]
fn a_value_that_says_nothing_known_is_left_out_and_told() {
    let values = [
        ("TEXT", "'not a date'"),
        ("INTEGER", "-7"),
        ("REAL", "9e999"),
        ("BLOB", "x'ff'"),
    ];
    check(&values, &[NAMES, NOT_READ, ANYTHING]);
}

#[test]
fn a_value_of_a_kind_that_its_table_refuses_is_damage() {
    let now = "2024-07-18T04:10:00Z".parse().unwrap();
    for place in places() {
        let value = if place.kind == "BLOB" {
            "'text'"
        } else {
            "x'ff'"
        };
        let folder = copy();
        spoil(folder.path(), &place, value);
        let mut store = Store::open_mended(&folder.path().join("state"), now).unwrap();
        let found = store.settle(|memory| memory.put_back()).unwrap();
        let how = found.unwrap_or_else(|| panic!("{value} in {place:?}")).how;
        assert_eq!(how, "damaged (its structure is broken)");
    }
}
