//! Memories that older programs wrote (tests/data/stores), opened by this one: what was told is not told again, letters
//! that wait go out as they were written, and records are in force.

use crate::program::{BATCHES, CONFIG, Nursery, temperatures};
use crate::smtp_server::SmtpServer;
use graftwarden::store::Store;
use rusqlite::{Connection, OpenFlags};
use std::path::PathBuf;

/// Told before by each of them.
const TOLD: [&str; 2] = [
    "opens|A1|callus-check|2024-07-01 by maple field T-graft||1",
    "opens|A1|head-back|2024-07-01 by maple field T-graft||1",
];

/// The file of a schema.
fn kept(schema: u32) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/stores/v{schema}.db"))
}

/// What the old program had written, read without any code of ours.
fn letters(schema: u32) -> Vec<(String, Vec<u8>)> {
    let file = Connection::open_with_flags(kept(schema), OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
    let found: u32 = file
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .unwrap();
    assert_eq!(found, schema);
    let mut read = file
        .prepare("SELECT recipient, letter.bytes FROM letter JOIN outbox ON letter = id WHERE carrier = 'smtp' AND state = 'waiting' ORDER BY id")
        .unwrap();
    let rows = read.query_map([], |row| Ok((row.get(0)?, row.get(1)?)));
    rows.unwrap().map(Result::unwrap).collect()
}

/// The nursery in which the old program was at work, as its README says, with today's program and a mail server that is
/// there again.
fn nursery(schema: u32, port: u16) -> Nursery {
    let smtp = format!("\n[post.smtp]\nhost = \"127.0.0.1\"\nport = {port}\nsecurity = \"none\"\n");
    let nursery = Nursery::bare()
        .with("graftwarden.toml", &(CONFIG.to_owned() + &smtp))
        .with("batches.csv", BATCHES)
        .with("temps.csv", &temperatures("2024-07-16"))
        .with(
            "records.csv",
            "date,batch,what,count,by,remarks\n2024-07-15,A2,lost,20,Jory,hare\n",
        );
    Store::make_folder(&nursery.path("state")).unwrap();
    std::fs::copy(kept(schema), Store::file_in(&nursery.path("state"))).unwrap();
    let accepted = kept(schema).with_extension("accepted.csv");
    std::fs::copy(accepted, nursery.path("state/accepted.csv")).unwrap();
    nursery
}

#[track_caller]
fn goes_on(schema: u32) {
    let server = SmtpServer::start(&[]);
    let waiting = letters(schema);
    assert_eq!(waiting.len(), 2);
    let nursery = nursery(schema, server.port());
    let keys = || nursery.memory("SELECT key FROM notice WHERE kind = 'opens' ORDER BY id");
    assert_eq!(keys(), TOLD);
    let said = nursery.round("2024-07-17T18:00:00+02:00").well();
    assert_eq!(said, "0 notices, 0 letters\n");
    let mut came: Vec<(String, Vec<u8>)> = server
        .mails()
        .into_iter()
        .map(|mail| (mail.to, mail.bytes))
        .collect();
    // What has been due for longest goes first: the second.
    came.reverse();
    assert!(came == waiting, "the letters are not those that waited");
    // A2 has had its 14 standard days on the 17th; 20 of its 120 grafts were lost.
    nursery.write("temps.csv", temperatures("2024-07-17"));
    let said = nursery.round("2024-07-18T06:10:00+02:00").well();
    assert_eq!(
        said,
        "to Maren Holt: Block A: look for callus lines now (1 batch, 100 grafts)\n1 notice, 1 letter\n"
    );
    let next = "opens|A2|callus-check|2024-07-03 by maple field T-graft||1";
    assert_eq!(keys(), [TOLD[0], TOLD[1], next]);
    assert_eq!(server.mails().len(), 3);
    // What the old program read of records.csv and noted in accepted.csv counts once.
    let records = nursery.memory(
        "SELECT file || ': ' || batch || ' ' || what || iif(gone, ' gone', '') FROM record ORDER BY file",
    );
    assert_eq!(records, ["accepted.csv: A1 lines", "records.csv: A2 lost"]);
}

#[test]
fn a_memory_of_the_first_schema_goes_on() {
    goes_on(1);
}

#[test]
fn a_memory_of_the_second_schema_goes_on() {
    goes_on(2);
}

#[test]
fn a_memory_of_the_third_schema_goes_on() {
    goes_on(3);
}
