//! The memory is damaged while the service is at work on it.

use super::{Farm, PATIENCE, Service, far, mild_weather};
use crate::program::Nursery;
use std::fs::File;
use std::os::unix::fs::FileExt;
use std::time::Duration;

/// Every page but the first is written over, once the service has to read them again.
fn spoil(nursery: &Nursery) {
    let file = nursery.path("state/graftwarden.db");
    let other = rusqlite::Connection::open(&file).unwrap();
    other
        .execute("INSERT INTO fact VALUES ('of another', '')", [])
        .unwrap();
    let left: i64 = other
        .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))
        .unwrap();
    assert_eq!(left, 0, "the log is brought in");
    let file = File::options().write(true).open(file).unwrap();
    let pages = file.metadata().unwrap().len() / 4096;
    for page in 1..pages {
        file.write_all_at(&[0xa5; 4096], page * 4096).unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_memory_that_is_damaged_under_it_ends_the_service_and_the_next_start_mends_it() {
    let farm = Farm::new(&far(), mild_weather().await);
    let mut service = Service::start(&farm.nursery, Duration::from_secs(10));
    service.logs("round done");
    farm.mail.wait_for_mails(1);
    spoil(&farm.nursery);
    service.signal("HUP");
    service.logs("the database found: database disk image is malformed");
    while service.log.recv_timeout(PATIENCE).is_ok() {}
    // Which systemd starts again.
    assert_eq!(service.child.wait().unwrap().code(), Some(69));
    let met = farm.nursery.read("state/damage-met");
    assert_eq!(met, "met its structure is broken\n");

    let mut service = Service::start(&farm.nursery, Duration::from_secs(10));
    service.logs("its structure is broken); it was put back");
    service.tells("STATUS=waiting for the next round");
    service.stops();
    // What was told before the damage is not told again, and what happened is.
    let round = farm.nursery.run("round");
    assert_eq!(round.code, 0, "{round}");
    let mails = farm.mail.mails();
    assert_eq!(mails.len(), 2);
    let letter = String::from_utf8_lossy(&mails[1].bytes).into_owned();
    assert!(letter.contains("memory"), "{letter}");
    let told = farm
        .nursery
        .memory("SELECT kind FROM notice ORDER BY id DESC LIMIT 1");
    assert_eq!(told, ["trouble"]);
    assert!(!farm.nursery.path("state/damage-met").exists());
}

/// What is written into a file that was deleted is lost, and nothing says so but its place.
#[tokio::test(flavor = "multi_thread")]
async fn a_memory_that_is_deleted_under_it_ends_the_service_and_the_next_start_puts_it_back() {
    let farm = Farm::new(&far(), mild_weather().await);
    let mut service = Service::start(&farm.nursery, Duration::from_secs(10));
    service.logs("round done");
    farm.mail.wait_for_mails(1);
    for file in ["graftwarden.db", "graftwarden.db-wal", "graftwarden.db-shm"] {
        std::fs::remove_file(farm.nursery.path("state").join(file)).unwrap();
    }
    service.signal("HUP");
    let said: Vec<String> =
        std::iter::from_fn(|| service.log.recv_timeout(PATIENCE).ok()).collect();
    let why = "its file was deleted or replaced while it was in use";
    assert!(said.iter().any(|line| line.contains(why)), "{said:#?}");
    assert_eq!(service.child.wait().unwrap().code(), Some(69));

    let mut service = Service::start(&farm.nursery, Duration::from_secs(10));
    service.logs("gone, though there are backups of it; it was put back");
    service.tells("STATUS=waiting for the next round");
    service.stops();
    let round = farm.nursery.run("round");
    assert_eq!(round.code, 0, "{round}");
    let told = farm
        .nursery
        .memory("SELECT substr(anchor, 1, 15) FROM notice ORDER BY id DESC LIMIT 1");
    assert_eq!(told, ["memory put back"]);
}
