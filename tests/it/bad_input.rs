//! Bad input, and what it gets: one clear sentence with place and remedy, the right exit code, and all else goes on.
//!
//! Each case spoils one thing in the small nursery. `check` must name it and end with 65; a round of the same morning
//! must name it too and still write the letter about A1, the trouble in it.

use crate::program::{BATCHES, CONFIG, FIRST, Nursery, Ran, temperatures, today};
use crate::smtp_server::{Mode, SmtpServer};
use insta::assert_snapshot;
use std::fs;

/// What a round has to say, after seeing that `check` and the letter say the same. The one's today is not the other's.
#[track_caller]
fn told(nursery: &Nursery) -> String {
    let days = [today().to_string(), "2024-07-16".to_owned()];
    let undated = |text: String| {
        let dated =
            |text: String, day| text.replace(&format!("today is {day}"), "today is [today]");
        days.iter().fold(text, dated)
    };
    let check = nursery.run("check");
    assert_eq!((check.code, check.err.as_str()), (65, ""), "{check}");
    let round = nursery.round(FIRST);
    assert_eq!(round.code, 0, "{round}");
    assert!(
        round
            .out
            .starts_with("to Maren Holt: Block A: look for callus lines now (1 batch, 310 grafts)"),
        "{round}"
    );
    let letter = nursery.letters()[0]
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    let (check, letter, said) = (undated(check.out), undated(letter), undated(round.err));
    for problem in said.lines() {
        assert!(
            check.contains(&format!("mend  {problem}\n")),
            "{problem}\n{check}"
        );
        assert!(letter.contains(problem), "{problem}\n{letter}");
    }
    said
}

fn batches(from: &str, to: &str) -> Nursery {
    Nursery::small().but("batches.csv", from, to)
}

#[test]
fn grafts_that_are_no_number_of_grafts() {
    assert_snapshot!(told(&batches("Cinder,120", "Cinder,0")), @r"batches.csv, row 3, column grafts: 0 grafts are no batch; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, in digits only.");
    assert_snapshot!(told(&batches("Cinder,120", "Cinder,-3")), @r"batches.csv, row 3, column grafts: '-3' is not a number of grafts; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, in digits only.");
    assert_snapshot!(told(&batches("Cinder,120", "Cinder,many")), @r"batches.csv, row 3, column grafts: 'many' is not a number of grafts; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, in digits only.");
}

#[test]
fn a_site_or_plan_that_nobody_knows() {
    let nursery = Nursery::small().with(
        "batches.csv",
        &BATCHES
            .replace("batch,block", "batch,site,block")
            .replace("A1,A", "A1,home,A")
            .replace("A2,A", "A2,home,A")
            .replace("B1,B", "B1,hom,B"),
    );
    assert_snapshot!(told(&nursery), @r"batches.csv, row 4, column site: 'hom' is not a known site; this row is not used, the last good version of it stays in force if there was one. Perhaps 'home' is meant.");
    assert_snapshot!(told(&batches("B1,B,maple field T-graft", "B1,B,maple T-graft")), @r"batches.csv, row 4, column plan: 'maple T-graft' is not a known plan; this row is not used, the last good version of it stays in force if there was one. Perhaps 'maple field T-graft' is meant.");
}

#[test]
fn a_graft_date_to_come() {
    let tomorrow = today().succ_opt().unwrap().to_string();
    let said = told(&batches("2024-07-03", &tomorrow)).replace(&tomorrow, "[tomorrow]");
    assert_snapshot!(said, @r"batches.csv, row 3, column grafted_on: [tomorrow] is in the future (today is [today]); the row waits until then, the last good version of it stays in force if there was one. Correct the date if it is a slip.");
}

#[test]
fn two_batches_of_one_name() {
    assert_snapshot!(told(&batches("A2,", "A1,")), @r"batches.csv, row 3, column batch: 'A1' is the name of a batch further up; the first is used and this one is not. Give each batch a name of its own.");
}

#[test]
fn a_register_that_is_none() {
    let without = |change: &dyn Fn(&std::path::Path)| {
        let nursery = Nursery::small();
        fs::remove_file(nursery.path("batches.csv")).unwrap();
        change(&nursery.path("batches.csv"));
        let check = nursery.run("check");
        assert_eq!(check.code, 65, "{check}");
        nursery.round(FIRST).to_string()
    };
    assert_snapshot!(without(&|_| ()), @r"
    to Maren Holt: Trouble: batches.csv: there is no such file
    1 notice, 1 letter
    -- error --
    batches.csv: there is no such file; the whole file is not used, what was read from it before stays in force. Put it there, or correct its path in the config.
    ");
    assert_snapshot!(without(&|file| fs::write(file, "").unwrap()), @r"
    to Maren Holt: Trouble: batches.csv: the file is empty
    1 notice, 1 letter
    -- error --
    batches.csv: the file is empty; the whole file is not used, what was read from it before stays in force. Save it again; its first row must name the columns.
    ");
    assert_snapshot!(without(&|file| fs::create_dir(file).unwrap()), @r"
    to Maren Holt: Trouble: batches.csv: this is a folder, not a file
    1 notice, 1 letter
    -- error --
    batches.csv: this is a folder, not a file; the whole file is not used, what was read from it before stays in force. Name a file inside it in the config.
    ");
    assert_snapshot!(without(&|file| fs::File::create(file).unwrap().set_len(600 << 20).unwrap()), @r"
    to Maren Holt: Trouble: batches.csv: the file has 600 MiB, and no more than 512 MiB are read
    1 notice, 1 letter
    -- error --
    batches.csv: the file has 600 MiB, and no more than 512 MiB are read; the whole file is not used, what was read from it before stays in force. Move what is no longer needed into another file.
    ");
}

#[test]
fn a_register_that_is_gone_stays_in_force() {
    let nursery = Nursery::small();
    nursery.round("2024-07-15T06:10:00+02:00").well();
    fs::remove_file(nursery.path("batches.csv")).unwrap();
    assert_snapshot!(told(&nursery), @r"batches.csv: there is no such file; the whole file is not used, what was read from it before stays in force. Put it there, or correct its path in the config.");
}

/// Two sites by one logger.
#[test]
fn what_is_wrong_with_a_file_of_two_sites_is_said_once() {
    let hill = "[[site]]\nid = \"hill\"\nlatitude = 50.9\nlongitude = 4.4\n[[site.weather]]\nsource = \"file\"\npath = \"temps.csv\"\n";
    let batches =
        "batch,site,block,plan,grafts,grafted_on\nA1,hill,A,maple field T-graft,310,2024-07-01\n";
    let spoilt = temperatures("2024-07-15").replace("2024-07-05,14.5,26.5", "2024-07-05,14.5,hot");
    let nursery = temps(&spoilt)
        .with("graftwarden.toml", &format!("{CONFIG}{hill}"))
        .with("batches.csv", batches);
    assert_snapshot!(nursery.round(FIRST).err, @r"temps.csv, row 12, column tmax_c: 'hot' is not a temperature; this row is not used. Correct it, or leave the cell empty where nothing was measured.");
    let check = nursery.run("check").out;
    assert!(check.ends_with("\n1 thing to mend.\n"), "{check}");
}

fn temps(text: &str) -> Nursery {
    Nursery::small().with("temps.csv", text)
}

#[test]
fn temperatures_that_are_none() {
    let sound = temperatures("2024-07-15");
    let with = |row: &str| temps(&sound.replace("2024-07-05,14.5,26.5", row));
    assert_snapshot!(told(&with("2024-07-05,26.5,14.5")), @r"site home, file, 2024-07-05: minimum 26.5 °C is above maximum 14.5 °C; the day is not used. Look at the instrument or mend the value.");
    assert_snapshot!(told(&with("2024-07-05,14.5,265")), @r"site home, file, 2024-07-05: 14.5 to 265 °C cannot be; the day is not used. Look at the instrument or mend the value.");
    assert_snapshot!(told(&with("2024-07-05,14.5,hot")), @r"temps.csv, row 12, column tmax_c: 'hot' is not a temperature; this row is not used. Correct it, or leave the cell empty where nothing was measured.");
    assert_snapshot!(told(&with("5 July,14.5,26.5")), @r"temps.csv, row 12, column date: '5 July' is not a date; this row is not used. Correct it, or leave the cell empty where nothing was measured.");
    assert_snapshot!(told(&with("2024-07-05,14.5,26.5\n2024-07-05,15.5,25.5")), @r"temps.csv, rows 12 and 13: 2024-07-05 stands there with 14.5 to 26.5 °C and with 15.5 to 25.5 °C; the day is left out. Keep the row that is right.");
}

#[test]
fn a_reading_of_nan_is_a_day_without_temperatures_and_is_filled() {
    let nursery = temps(&temperatures("2024-07-15").replace("2024-07-05,14.5", "2024-07-05,NaN"));
    nursery.round(FIRST).well();
    assert_snapshot!(nursery.run("days --site home --from 2024-07-04 --to 2024-07-06"), @r"
    date            min °C  max °C  origin    source  fetched       remark
    2024-07-04 Thu    14.1    26.1  measured  file    16 Jul 06:10
    2024-07-05 Fri    13.9    25.9  filled                          between 4 Jul and 6 Jul
    2024-07-06 Sat    13.7    25.7  measured  file    16 Jul 06:10
    ");
}

#[test]
fn dates_in_another_order_are_no_trouble() {
    let sound = temperatures("2024-07-15");
    let (header, rows) = sound.split_once('\n').unwrap();
    let mut rows: Vec<&str> = rows.lines().collect();
    rows.reverse();
    let turned = temps(&format!("{header}\n{}\n", rows.join("\n")));
    assert_eq!(turned.round(FIRST), Nursery::small().round(FIRST));
    assert_eq!(
        turned.run("due --on 2024-07-15"),
        Nursery::small().run("due --on 2024-07-15")
    );
}

/// A round whose temperatures are of no use; the batches are there, but nothing is known of them.
#[track_caller]
fn without_temperatures(nursery: &Nursery) -> Ran {
    let check = nursery.run("check");
    assert_eq!(check.code, 65, "{check}");
    nursery.round(FIRST)
}

#[test]
fn a_temperature_file_that_is_none() {
    assert_snapshot!(without_temperatures(&temps("")), @r"
    to Maren Holt: No temperatures from home, and 1 more thing
    2 notices, 1 letter
    -- error --
    temps.csv: the file is empty; nothing was read from it, what was read before stays in force. Save it again; its first row must name the columns.
    ");
    let nursery = Nursery::small();
    fs::remove_file(nursery.path("temps.csv")).unwrap();
    assert_snapshot!(without_temperatures(&nursery), @r"
    to Maren Holt: No temperatures from home, and 1 more thing
    2 notices, 1 letter
    -- error --
    temps.csv: there is no such file; nothing was read from it, what was read before stays in force. Put it there, or correct its path in the config.
    ");
    let nursery = Nursery::small();
    fs::remove_file(nursery.path("temps.csv")).unwrap();
    fs::create_dir(nursery.path("temps.csv")).unwrap();
    assert_snapshot!(without_temperatures(&nursery), @r"
    to Maren Holt: No temperatures from home, and 1 more thing
    2 notices, 1 letter
    -- error --
    temps.csv: this is a folder, not a file; nothing was read from it, what was read before stays in force. Name a file inside it in the config.
    ");
    let nursery = Nursery::small();
    fs::File::create(nursery.path("temps.csv"))
        .unwrap()
        .set_len(3 << 30)
        .unwrap();
    assert_snapshot!(without_temperatures(&nursery), @r"
    to Maren Holt: No temperatures from home, and 1 more thing
    2 notices, 1 letter
    -- error --
    temps.csv: the file has 3 GiB, and no more than 1 GiB are read; nothing was read from it, what was read before stays in force. Move what is no longer needed into another file.
    ");
}

#[test]
fn fahrenheit_where_celsius_is_expected() {
    let sound = temperatures("2024-07-15");
    let fahrenheit = sound.lines().map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        match cells.as_slice() {
            [date, min, max] if *date != "date" => {
                let f = |text: &str| text.parse::<f64>().unwrap() * 1.8 + 32.0;
                format!("{date},{:.1},{:.1}\n", f(min), f(max))
            }
            _ => format!("{line}\n"),
        }
    });
    let text: String = fahrenheit.collect();
    assert_snapshot!(without_temperatures(&temps(&text)), @r#"
    to Maren Holt: No temperatures from home, and 1 more thing
    2 notices, 1 letter
    -- error --
    site home, file: maxima up to 80 from 2024-06-25 on read like °F where °C is expected; nothing of this source is used from that day on. Set unit = "F" for it in the config, or set the logger back to °C.
    "#);
    // With the unit in the config it is as good as the other.
    let unit = temps(&text.replace("_c", "")).but(
        "graftwarden.toml",
        "path = \"temps.csv\"",
        "path = \"temps.csv\"\nunit = \"F\"",
    );
    assert_eq!(unit.round(FIRST), Nursery::small().round(FIRST));
}

#[test]
fn the_other_site_goes_on() {
    let nursery = Nursery::small()
        .with("graftwarden.toml", &CONFIG.replace("[[people]]", "[[site]]\nid = \"hill\"\nlatitude = 50\nlongitude = 5\n\n[[site.weather]]\nsource = \"file\"\npath = \"hill.csv\"\n\n[[people]]"))
        .with("batches.csv", &BATCHES.replace("batch,block", "batch,site,block").replace("A1,A", "A1,home,A").replace("A2,A", "A2,home,A").replace("B1,B", "B1,hill,B"))
        .with("hill.csv", "");
    let round = nursery.round(FIRST);
    assert_snapshot!(round, @r"
    to Maren Holt: Block A at home: look for callus lines now (1 batch, 310 grafts), and 2 more things
    3 notices, 1 letter
    -- error --
    hill.csv: the file is empty; nothing was read from it, what was read before stays in force. Save it again; its first row must name the columns.
    ");
}

fn records(rows: &str) -> Nursery {
    let nursery = Nursery::small();
    nursery.append("records.csv", rows);
    nursery
}

#[test]
fn records_that_cannot_be_meant() {
    assert_snapshot!(told(&records("2024-06-30,A1,lines,,,\n")), @r"field record of A1: lines on 2024-06-30: is dated before the grafting on 2024-07-01; it is not used. Mend its date, or grafted_on in the register.");
    assert_snapshot!(told(&records("2024-07-15,A3,lines,,,\n")), @r"field record of batch A3: lines on 2024-07-15: there is no batch A3 in the register; it is kept, and counts once there is one. Mend the record, or add the batch to the register.");
    assert_snapshot!(told(&records("2024-07-15,block:D,looked,,,\n")), @r"field record of block D: looked on 2024-07-15: there is no block D in the register; it is kept, and counts once there is one. Mend the record, or add the block to the register.");
    assert_snapshot!(told(&records("2024-07-15,A1,cut,,,\n")), @r"records.csv, row 2, column what: 'cut' is not a word of the field records; this row is not used, the last good version of it stays in force if there was one. Write one of lines, no-lines, over-callused, headed-back, headed-back-again, tape-off, tape-eased, tied-in, suckers-rubbed, looked, take, lost, dead, regrafted, stumped, head-length, docked, closed, retract.");
    assert_snapshot!(told(&records("2024-07-15,A1,lost,some,,\n")), @r"records.csv, row 2, column count: 'some' is not a count for lost; this row is not used, the last good version of it stays in force if there was one. Write how many, a whole number above 0.");
    assert_snapshot!(told(&records("15/7/2024,A1,looked,,,\n")), @r"records.csv, row 2, column date: '15/7/2024' may have the day first or the month first; this row is not used, the last good version of it stays in force if there was one. Write the year first, as 2026-08-18 for 18 August 2026.");
    assert_snapshot!(told(&records("2024-07-15,A2,headed-back,121,,\n")), @r"field records of A2: headed-back adds up to 121, more than its 120 grafts; the figures stay as written. Check the counts, or grafts in the register.");
}

#[test]
fn a_record_file_that_is_none() {
    let without = |change: &dyn Fn(&std::path::Path)| {
        let nursery = Nursery::small();
        fs::remove_file(nursery.path("records.csv")).unwrap();
        change(&nursery.path("records.csv"));
        nursery
    };
    assert_eq!(
        without(&|_| ()).round(FIRST),
        Nursery::small().round(FIRST),
        "there may be none"
    );
    assert_snapshot!(told(&without(&|file| fs::write(file, "").unwrap())), @r"records.csv: the file is empty; the whole file is not used, what was read from it before stays in force. Save it again; its first row must name the columns.");
    assert_snapshot!(told(&without(&|file| fs::create_dir(file).unwrap())), @r"records.csv: this is a folder, not a file; the whole file is not used, what was read from it before stays in force. Name a file inside it in the config.");
    assert_snapshot!(told(&without(&|file| fs::File::create(file).unwrap().set_len(600 << 20).unwrap())), @r"records.csv: the file has 600 MiB, and no more than 512 MiB are read; the whole file is not used, what was read from it before stays in force. Move what is no longer needed into another file.");
}

#[test]
fn a_state_folder_that_cannot_be() {
    let nursery = Nursery::small().but(
        "graftwarden.toml",
        "zone =",
        "state = \"temps.csv/state\"\nzone =",
    );
    assert_snapshot!(nursery.round(FIRST), @r"
    -- error --
    cannot use the store temps.csv/state/graftwarden.db: Not a directory (os error 20); check that the folder exists and that this user may use it
    -- exit 69 --
    ");
    assert_snapshot!(nursery.run("watch"), @r"
    -- error --
    cannot use the store temps.csv/state/graftwarden.db: Not a directory (os error 20); check that the folder exists and that this user may use it
    -- exit 69 --
    ");
    assert_snapshot!(nursery.run("note A1 lines --on 2024-07-15"), @r"
    -- error --
    cannot use the store temps.csv/state/graftwarden.db: Not a directory (os error 20); check that the folder exists and that this user may use it
    -- exit 69 --
    ");
    assert_snapshot!(nursery.run("check"), @r"
    ok    graftwarden.toml: 1 site, 1 person
    ok    site home: temperatures from file
    ok    letters go by folder
    mend  temps.csv/state: the folder for the program's memory cannot be made, since temps.csv is a file. Name another folder as state in the config.
    note  3 batches and 0 field records in force
    note  site home: temperatures known to 2024-07-15
    note  site home: the last safe day for grafting is not known, since fewer than five whole years before are known (maple field T-graft)

    1 thing to mend.
    -- exit 65 --
    ");
}

#[test]
fn a_memory_that_is_none() {
    let nursery = Nursery::small();
    fs::create_dir(nursery.path("state")).unwrap();
    nursery.write(
        "state/graftwarden.db",
        "this is no database, but a text that is long enough to be looked at as one",
    );
    assert_snapshot!(nursery.round(FIRST), @r#"
    to Maren Holt: Block A: look for callus lines now (1 batch, 310 grafts), and 1 more thing
    2 notices, 1 letter
    -- error --
    [time] ERROR the database found: file is not a database
    [time] ERROR the program's memory was damaged (what stands in it is something else); it was put back kept="graftwarden.db.damaged-20240716T041000Z"
    the program's memory, state/graftwarden.db: it was damaged (what stands in it is something else); what was there is kept as graftwarden.db.damaged-20240716T041000Z in state, and since there was no good backup an empty memory was begun. Nothing that was written down is lost: the register, the records, and what notes and answers were confirmed (accepted.csv) are read again. All that still stands is told once more. See whether the disk is well: such damage comes of a disk, or of a power cut.
    "#);
}

#[test]
fn a_mail_server_that_says_no() {
    let server = SmtpServer::start(&[]);
    server.for_recipient("maren@alderfold.example", Mode::NoSuchRecipient);
    let nursery = Nursery::mailed(server.port());
    let at = format!("127.0.0.1:{}", server.port());
    let shown = |ran: Ran| ran.to_string().replace(&at, "[server]");
    let first = nursery.round(FIRST);
    assert_eq!(first.code, 0, "{first}");
    let to: Vec<String> = server.mails().into_iter().map(|mail| mail.to).collect();
    assert_eq!(to, ["jory@alderfold.example"]);
    assert_eq!(nursery.letters().len(), 2, "both lie in the folder");
    nursery.write("temps.csv", temperatures("2024-07-16"));
    assert_snapshot!(shown(nursery.round("2024-07-17T06:10:00+02:00")), @r"
    to Maren Holt: Trouble: mail to maren@alderfold.example: mail server [server], told sender and recipient, said 550 no such person here
    to Jory Penhale: Trouble: mail to maren@alderfold.example: mail server [server], told sender and recipient, said 550 no such person here
    1 notice, 2 letters
    -- error --
    [time] ERROR the letter was refused: letter to maren@alderfold.example: mail server [server], told sender and recipient, said 550 no such person here recipient=maren@alderfold.example carrier=smtp
    mail to maren@alderfold.example: mail server [server], told sender and recipient, said 550 no such person here; the letter 'Block A: look for callus lines now (1 batch, 310 grafts)' is not tried again. Check the address and the mail server, and tell them by another way.
    ");
    nursery.write("temps.csv", temperatures("2024-07-17"));
    assert_snapshot!(shown(nursery.round("2024-07-18T06:10:00+02:00")), @r"
    to Maren Holt: Block A: look for callus lines now (1 batch, 120 grafts)
    to Jory Penhale: Block A: look for callus lines now (1 batch, 120 grafts)
    1 notice, 2 letters
    -- error --
    [time] ERROR the letter was refused: letter to maren@alderfold.example: mail server [server], told sender and recipient, said 550 no such person here recipient=maren@alderfold.example carrier=smtp
    mail to maren@alderfold.example: mail server [server], told sender and recipient, said 550 no such person here; the letter 'Block A: look for callus lines now (1 batch, 310 grafts)' is not tried again. Check the address and the mail server, and tell them by another way.
    ");
}

/// The program's own file: what was read of a row before stays in force, and one thing is told of it.
#[test]
fn a_damaged_row_of_what_was_confirmed_is_told_once() {
    for (whole, damaged) in [(",looked,", ",lo#ked,"), ("A1,", "A1"), ("n", "\"n\"x\"")] {
        let nursery = Nursery::small();
        nursery.round(FIRST).well();
        nursery.run("note A1 looked --on 2024-07-16").well();
        nursery.run("note A2 looked --on 2024-07-16").well();
        nursery.round("2024-07-16T07:10:00+02:00");
        let text = nursery.read("state/accepted.csv");
        let at = text.find('\n').unwrap() + 1;
        let (head, rows) = text.split_at(at);
        let rows = if whole == "n" {
            rows.replacen(|c: char| c.is_ascii_hexdigit(), "\"", 1)
        } else {
            rows.replacen(whole, damaged, 1)
        };
        nursery.write("state/accepted.csv", format!("{head}{rows}"));
        let round = nursery.round("2024-07-16T07:20:00+02:00");
        let problems = round.err.lines().count();
        assert_eq!(problems, 1, "{damaged}: {round}");
        assert!(
            round.err.contains("what it said then stays in force"),
            "{round}"
        );
        assert_eq!(
            nursery.memory("SELECT batch FROM record ORDER BY batch"),
            ["A1", "A2"]
        );
    }
}
