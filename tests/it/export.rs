//! `state export` and `state import`: the memory carried out as tables and in again, and folders that are not what they say.

use crate::program::{FIRST, Nursery, Ran, temperatures};
use graftwarden::lock::Lock;
use insta::assert_snapshot;
use std::collections::BTreeMap;
use std::os::unix::fs::{PermissionsExt, symlink};

/// A nursery that has told something, has noted what was said to it, and has told what follows.
fn told() -> Nursery {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    let note = "note A1 lines --on 2024-07-16 --count 8/10 --by =Jory";
    nursery.run(note).well();
    nursery.round(FIRST).well();
    nursery
}

/// The files of an export; in `about.txt` the moment is `[now]`.
fn files(nursery: &Nursery, folder: &str) -> BTreeMap<String, Vec<u8>> {
    let inside = std::fs::read_dir(nursery.path(folder)).unwrap();
    let file = |entry: std::io::Result<std::fs::DirEntry>| {
        let entry = entry.unwrap();
        let name = entry.file_name().into_string().unwrap();
        let mut bytes = std::fs::read(entry.path()).unwrap();
        if name == "about.txt" {
            bytes = without_time(&String::from_utf8(bytes).unwrap()).into_bytes();
        }
        (name, bytes)
    };
    inside.map(file).collect()
}

fn without_time(about: &str) -> String {
    let line = |line: &str| match line.strip_prefix("written: ") {
        Some(time) => {
            assert!(chrono::DateTime::parse_from_rfc3339(time).is_ok(), "{time}");
            "written: [now]\n".to_owned()
        }
        None => format!("{line}\n"),
    };
    about.lines().map(line).collect()
}

#[test]
fn what_is_in_the_memory_is_written_out() {
    let nursery = told();
    assert_snapshot!(nursery.run("state export out"), @r"
    17 tables with 56 rows written to out
    Names, addresses, letters and their tokens are in it: keep it as safe as the memory itself. No password is in it.
    ");
    assert_snapshot!(without_time(&nursery.read("out/about.txt")), @r"
    graftwarden's memory, one file for each of its tables

    schema: 4
    form: csv
    written: [now]
    rows of fact: 11
    rows of day: 21
    rows of source: 0
    rows of past: 0
    rows of batch: 3
    rows of record: 1
    rows of notice: 2
    rows of letter: 2
    rows of letter_notice: 2
    rows of outbox: 2
    rows of round_on: 1
    rows of down: 0
    rows of foretold: 0
    rows of calendar: 9
    rows of answer: 0
    rows of answer_record: 0
    rows of asked: 2

    `graftwarden state import` takes this folder in again.
    Names, addresses, letters and the letters' tokens are in it: keep it as safe as the memory itself. No password is in it.
    accepted.copy, where there is one, is accepted.csv as it stood. Letters are in hexadecimal digits.
    In CSV an empty cell is nothing, and a ' alone is an empty text. A text that begins with = + - @ ' a tab or a line's end
    has a ' in front, so that no spreadsheet takes it for a formula; import takes that away.
    Look at it with a spreadsheet, but do not save with one: it changes dates and cuts long cells. Who puts rows in or takes
    rows out changes their number above, too.
    ");
    assert_snapshot!(nursery.read("out/notice.csv"), @r"
    id,key,kind,subject,step,anchor,n,on_day,until_day,level,told_on,round_at
    1,opens|A1|callus-check|2024-07-01 by maple field T-graft||1,opens,A1,callus-check,2024-07-01 by maple field T-graft,1,2024-07-15,,,2024-07-16,2024-07-16T04:10:00Z
    2,opens|A1|head-back|2024-07-01 by maple field T-graft||1,opens,A1,head-back,2024-07-01 by maple field T-graft,1,2024-07-16,,,2024-07-16,2024-07-16T04:10:00Z
    ");
    assert_snapshot!(nursery.read("out/batch.csv"), @r"
    name,file,gone,site,block,plan,scion,understock,vigour,grafts,grafted_on,done_by,remarks
    A1,batches.csv,0,home,A,maple field T-graft,Ember Lace,',usual,310,2024-07-01,','
    A2,batches.csv,0,home,A,maple field T-graft,Fox Cinder,',usual,120,2024-07-03,','
    B1,batches.csv,0,home,B,maple field T-graft,Grey Heron,',usual,90,2024-07-10,','
    ");
    // Whose name begins like a formula stands behind a '.
    let record = nursery.read("out/record.csv");
    let told: Vec<&str> = record
        .lines()
        .map(|line| {
            line.split_once("accepted.csv")
                .map_or(line, |(_, rest)| rest)
        })
        .collect();
    assert_eq!(
        told,
        [
            "seq,identity,file,gone,date,batch,block,what,count,of,done_by,remarks",
            ",0,2024-07-16,A1,,lines,8.0,10.0,'=Jory,'"
        ]
    );
    assert_eq!(
        nursery.read("out/accepted.copy"),
        nursery.read("state/accepted.csv")
    );
    let mode = |name: &str| {
        std::fs::metadata(nursery.path(name))
            .unwrap()
            .permissions()
            .mode()
            & 0o777
    };
    assert_eq!(
        (mode("out"), mode("out/letter.csv"), mode("out/about.txt")),
        (0o700, 0o600, 0o600)
    );
    assert_snapshot!(nursery.run("state export out"), @r"
    -- error --
    out: there is something in it; nothing was written. Name a folder that is new or empty.
    -- exit 65 --
    ");
    assert_snapshot!(nursery.run("state export records.csv/out"), @r"
    -- error --
    records.csv/out: cannot be made or used: Not a directory (os error 20); nothing was written. Name a new folder where this user may write.
    -- exit 65 --
    ");
}

#[test]
fn as_json_each_row_is_an_object() {
    let nursery = told();
    nursery.run("state export out --json").well();
    assert_snapshot!(nursery.read("out/batch.jsonl"), @r#"
    {"name":"A1","file":"batches.csv","gone":0,"site":"home","block":"A","plan":"maple field T-graft","scion":"Ember Lace","understock":"","vigour":"usual","grafts":310,"grafted_on":"2024-07-01","done_by":"","remarks":""}
    {"name":"A2","file":"batches.csv","gone":0,"site":"home","block":"A","plan":"maple field T-graft","scion":"Fox Cinder","understock":"","vigour":"usual","grafts":120,"grafted_on":"2024-07-03","done_by":"","remarks":""}
    {"name":"B1","file":"batches.csv","gone":0,"site":"home","block":"B","plan":"maple field T-graft","scion":"Grey Heron","understock":"","vigour":"usual","grafts":90,"grafted_on":"2024-07-10","done_by":"","remarks":""}
    "#);
    let record: serde_json::Value =
        serde_json::from_str(&nursery.read("out/record.jsonl")).unwrap();
    assert_eq!(
        (&record["done_by"], &record["remarks"], &record["block"]),
        (&"=Jory".into(), &"".into(), &serde_json::Value::Null)
    );
    assert_eq!(record["count"], serde_json::json!(8.0));
}

#[test]
fn there_must_be_a_memory_to_be_written_out() {
    let nursery = Nursery::small();
    assert_snapshot!(nursery.run("state export out"), @r"
    -- error --
    state/graftwarden.db: there is no memory yet, so there is nothing to export
    -- exit 69 --
    ");
    assert!(!nursery.path("out").exists() && !nursery.path("state").exists());
}

/// Carried out in one form and in again, it is the same memory: it knows what was told.
#[track_caller]
fn comes_back(form: &str) {
    let (nursery, calm) = (told(), told());
    nursery.run(&format!("state export out{form}")).well();
    std::fs::rename(nursery.path("state"), nursery.path("before")).unwrap();
    let said = nursery.run("state import out").well();
    assert!(
        said.ends_with(" taken into state/graftwarden.db\n"),
        "{said}"
    );
    let mode = std::fs::metadata(nursery.path("state/graftwarden.db"))
        .unwrap()
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o600);
    nursery.run(&format!("state export again{form}")).well();
    assert_eq!(files(&nursery, "again"), files(&nursery, "out"));
    assert_eq!(
        nursery.read("state/accepted.csv"),
        nursery.read("before/accepted.csv")
    );
    let all = "SELECT id, key, kind, told_on, round_at FROM notice";
    let ledger = nursery.memory(all);
    assert_eq!(ledger.len(), 2);
    assert_eq!(nursery.round(FIRST).well(), "0 notices, 0 letters\n");
    assert_eq!(nursery.memory(all), ledger);
    // And it goes on as the one that was never carried.
    for nursery in [&nursery, &calm] {
        nursery.write("temps.csv", temperatures("2024-07-17"));
    }
    let next = "2024-07-18T06:10:00+02:00";
    let said = nursery.round(next).well();
    assert_eq!(said, calm.round(next).well());
    assert!(said.contains("2 things to do today"), "{said}");
}

#[test]
fn carried_as_csv_it_comes_back() {
    comes_back("");
}

#[test]
fn carried_as_json_it_comes_back() {
    comes_back(" --json");
}

#[test]
fn a_memory_is_not_written_over() {
    let nursery = told();
    nursery.run("state export out").well();
    let before = std::fs::read(nursery.path("state/graftwarden.db")).unwrap();
    assert_snapshot!(nursery.run("state import out"), @r"
    -- error --
    state/graftwarden.db: there is a memory already, and it is not written over; nothing was taken in. Move graftwarden.db* in that folder aside, or name another state folder in the config, and import again.
    -- exit 65 --
    ");
    assert_eq!(
        std::fs::read(nursery.path("state/graftwarden.db")).unwrap(),
        before
    );
    // What was left of a log would be read into what comes in.
    std::fs::rename(
        nursery.path("state/graftwarden.db"),
        nursery.path("state/aside"),
    )
    .unwrap();
    nursery.write("state/graftwarden.db-wal", "left");
    let left = nursery.run("state import out");
    assert_eq!(left.code, 65, "{left}");
    assert!(
        left.err
            .starts_with("state/graftwarden.db-wal: there is a memory already"),
        "{left}"
    );
    std::fs::remove_file(nursery.path("state/graftwarden.db-wal")).unwrap();
    let lock = Lock::take(&nursery.path("state")).unwrap();
    assert_snapshot!(nursery.run("state import out"), @r"
    -- error --
    another graftwarden is at work on state; stop it first, or wait for its round to end
    -- exit 75 --
    ");
    drop(lock);
    // The file of accepted records may hold more than the export.
    nursery.append("state/accepted.csv", "by hand\n");
    assert_snapshot!(nursery.run("state import out"), @r"
    17 tables with 56 rows taken into state/graftwarden.db
    state/accepted.csv was there already and is left as it is
    ");
    assert!(nursery.read("state/accepted.csv").ends_with("by hand\n"));
}

#[test]
fn a_folder_with_something_in_it_is_refused_and_left_as_it_is() {
    let nursery = told();
    let folder = nursery.path("out");
    std::fs::create_dir(&folder).unwrap();
    let mode = |mode| std::fs::Permissions::from_mode(mode);
    std::fs::set_permissions(&folder, mode(0o755)).unwrap();
    nursery.write("out/mine.txt", "mine");
    let said = nursery.run("state export out");
    assert!(said.err.contains("there is something in it"), "{said}");
    let found = || std::fs::metadata(&folder).unwrap().permissions().mode() & 0o777;
    assert_eq!(found(), 0o755);
    std::fs::remove_file(folder.join("mine.txt")).unwrap();
    nursery.run("state export out").well();
    assert_eq!(found(), 0o700);
}

#[test]
fn what_was_left_of_another_memory_does_not_touch_the_one_that_comes_in() {
    let nursery = told();
    nursery.run("state export out").well();
    std::fs::rename(
        nursery.path("state/graftwarden.db"),
        nursery.path("state/graftwarden.db.put-back"),
    )
    .unwrap();
    // Whoever only looked left an empty log.
    let _ = std::fs::remove_file(nursery.path("state/graftwarden.db-wal"));
    nursery.write("state/damage-met", "met once\nmet twice\n");
    nursery.run("state import out").well();
    assert!(!nursery.path("state/graftwarden.db.put-back").exists());
    assert!(!nursery.path("state/damage-met").exists());
    assert_eq!(nursery.round(FIRST).well(), "0 notices, 0 letters\n");
}

/// What is said of a folder to which that was done. Nothing is left of the try.
#[track_caller]
fn refused(form: &str, harm: impl Fn(&Nursery)) -> String {
    let nursery = told();
    nursery.run(&format!("state export out{form}")).well();
    std::fs::rename(nursery.path("state"), nursery.path("before")).unwrap();
    harm(&nursery);
    let ran: Ran = nursery.run("state import out");
    assert_eq!((ran.code, ran.out.as_str()), (65, ""), "{ran}");
    let left: Vec<_> = std::fs::read_dir(nursery.path("state"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(left, ["lock"]);
    ran.err
}

fn csv(harm: impl Fn(&Nursery)) -> String {
    refused("", harm)
}

#[test]
fn a_folder_that_is_not_whole_is_refused() {
    let gone = |name: &str| csv(|n| std::fs::remove_file(n.path(name)).unwrap());
    assert_snapshot!(gone("out/about.txt"), @"out/about.txt: is missing; it is written last, so this folder may be cut off; nothing was taken in. Import a folder as `graftwarden state export` wrote it.");
    assert_snapshot!(gone("out/day.csv"), @"out/day.csv: is missing; each table has its file; nothing was taken in. Import a folder as `graftwarden state export` wrote it.");
    assert_snapshot!(csv(|n| std::fs::remove_dir_all(n.path("out")).unwrap()), @"out/about.txt: is missing; it is written last, so this folder may be cut off; nothing was taken in. Import a folder as `graftwarden state export` wrote it.");
    // Cut off within a row, and between two.
    assert_snapshot!(csv(|n| n.write("out/batch.csv", n.read("out/batch.csv").trim_end())), @"out/batch.csv: ends within a row; nothing was taken in. Export anew.");
    assert_snapshot!(csv(|n| {
        let text = n.read("out/day.csv");
        let (kept, _) = text.trim_end().rsplit_once('\n').unwrap();
        n.write("out/day.csv", format!("{kept}\n"));
    }), @"out/day.csv: has 20 rows, and about.txt says 21; nothing was taken in. Export anew if it was cut off; if rows were put in or taken out, write their number into that file.");
    assert_snapshot!(refused(" --json", |n| n.write("out/batch.jsonl", &n.read("out/batch.jsonl")[..100])), @"out/batch.jsonl: ends within a row; nothing was taken in. Export anew.");
}

#[test]
fn tables_of_another_shape_are_refused() {
    assert_snapshot!(csv(|n| n.change("out/round_on.csv", "date\n2024-07-16", "date,by\n2024-07-16,me")), @"out/round_on.csv, row 1: the columns are 'date,by' and should be 'date'; nothing was taken in. Put it right as it was written, or export anew.");
    assert_snapshot!(csv(|n| n.append("out/round_on.csv", "2024-07-17,me\n")), @"out/round_on.csv, row 3: has 2 cells instead of 1; nothing was taken in. Put it right as it was written, or export anew.");
    assert_snapshot!(csv(|n| n.write("out/weeds.csv", "name\n")), @"out/weeds.csv: is no table of schema 4; nothing was taken in. Take it out of the folder if it is yours, or export anew.");
    assert_snapshot!(csv(|n| n.change("out/about.txt", "schema: 4", "schema: 99")), @"out/about.txt: '99' is no schema that this graftwarden knows; nothing was taken in. Import it with the version that wrote it, or a newer one.");
    assert_snapshot!(csv(|n| n.change("out/about.txt", "form: csv", "form: stone")), @"out/about.txt: 'stone' is no form that this graftwarden knows; nothing was taken in. Import it with the version that wrote it, or a newer one.");
    let json = |from: &'static str, to: &'static str| {
        refused(" --json", move |n| n.change("out/round_on.jsonl", from, to))
    };
    assert_snapshot!(json("{", "{\"by\":\"me\","), @"out/round_on.jsonl, row 1: 'by' is no column; nothing was taken in. Put it right as it was written, or export anew.");
    assert_snapshot!(json("\"date\"", "\"day\""), @"out/round_on.jsonl, row 1: 'day' is no column; nothing was taken in. Put it right as it was written, or export anew.");
    assert_snapshot!(json("\"2024-07-16\"", "20240716"), @"out/round_on.jsonl, row 1, column date: '20240716' is no date like 2026-08-18; nothing was taken in. Put it right as it was written, or export anew.");
    assert_snapshot!(json("{", ""), @"out/round_on.jsonl, row 1: is no JSON object, by character 6; nothing was taken in. Put it right as it was written, or export anew.");
}

#[test]
fn each_value_is_judged_by_its_column() {
    let batch =
        |from: &'static str, to: &'static str| csv(move |n| n.change("out/batch.csv", from, to));
    assert_snapshot!(batch(",310,", ",many,"), @"out/batch.csv, row 2, column grafts: 'many' is no whole number; nothing was taken in. Put it right as it was written, or export anew.");
    assert_snapshot!(batch("2024-07-03", "03/07/2024"), @"out/batch.csv, row 3, column grafted_on: '03/07/2024' is no date like 2026-08-18; nothing was taken in. Put it right as it was written, or export anew.");
    assert_snapshot!(batch(",310,", ",,"), @"out/batch.csv, row 2, column grafts: nothing stands where a whole number must; nothing was taken in. Put it right as it was written, or export anew.");
    assert_snapshot!(batch("A2,", "A1,"), @"out/batch.csv, row 3: is there twice, by what it is known by; nothing was taken in. Put it right as it was written, or export anew.");
    let long = "7".repeat(1_000_000);
    assert_snapshot!(csv(|n| n.change("out/batch.csv", ",310,", &format!(",{long},"))), @"out/batch.csv, row 2, column grafts: '7777777777777777777777777777777777777777...' is no whole number; nothing was taken in. Put it right as it was written, or export anew.");
    let commas = ",".repeat(2_000_000);
    let cells = format!("key,value\n{commas}\n");
    assert_eq!(
        csv(|n| n.write("out/fact.csv", &cells)),
        "out/fact.csv, row 2: has far too many cells; nothing was taken in. Put it right as it was written, or export anew.\n"
    );
    let object = format!("{{\"key\":[{}0]}}\n", "0,".repeat(2_000_000));
    assert_eq!(
        refused(" --json", |n| n.write("out/fact.jsonl", &object)),
        "out/fact.jsonl, row 1: has far too many cells; nothing was taken in. Put it right as it was written, or export anew.\n"
    );
    assert_snapshot!(csv(|n| n.write("out/fact.csv", b"key,value\nlast round,\xff\xfe\n")), @"out/fact.csv, row 2: is no text in UTF-8; nothing was taken in. Put it right as it was written, or export anew.");
    assert_snapshot!(csv(|n| n.change("out/letter_notice.csv", "1,1", "1,7")), @"out/letter_notice.csv, row 2: refers to a row of another table that is not there; nothing was taken in. Put it right as it was written, or export anew.");
}

#[test]
fn what_a_link_leads_to_is_not_looked_at() {
    for name in ["about.txt", "fact.csv", "accepted.copy"] {
        let said = csv(|n| {
            let file = n.path("out").join(name);
            std::fs::rename(&file, n.path("elsewhere")).unwrap();
            symlink(n.path("elsewhere"), file).unwrap();
        });
        assert_eq!(
            said,
            format!(
                "out/{name}: is no plain file; nothing was taken in. Import a folder as `graftwarden state export` wrote it.\n"
            )
        );
    }
}
