//! The commands on a small nursery, whole outputs: `check`, `round`, `due`, `days`, `rehearse`.

use crate::program::{FIRST, Nursery, temperatures};
use insta::assert_snapshot;

#[test]
fn check_of_a_sound_nursery() {
    let nursery = Nursery::small();
    assert_snapshot!(nursery.run("check"), @r"
    ok    graftwarden.toml: 1 site, 1 person
    ok    site home: temperatures from file
    ok    letters go by folder
    note  state: the folder for the program's memory is not there yet; the first round makes it
    note  3 batches and 0 field records in force
    note  site home: temperatures known to 2024-07-15
    note  site home: the last safe day for grafting is not known, since fewer than five whole years before are known (maple field T-graft)

    All is well.
    ");
    nursery.round(FIRST).well();
    assert_snapshot!(nursery.run("check"), @r"
    ok    graftwarden.toml: 1 site, 1 person
    ok    site home: temperatures from file
    ok    letters go by folder
    ok    state: the program's memory can be read
    note  state: last backup of the memory: 2024-07-16 06:10 CEST
    ok    state: can be written, and no other graftwarden is at work on it
    note  3 batches and 0 field records in force
    note  site home: temperatures known to 2024-07-15
    note  site home: the last safe day for grafting is not known, since fewer than five whole years before are known (maple field T-graft)

    All is well.
    ");
}

#[test]
fn check_looks_for_the_mailbox_with_answers() {
    let answers = |lines: &str| {
        let nursery = Nursery::small();
        nursery.append(
            "graftwarden.toml",
            &format!("\n[answers]\naddress = \"answers@alderfold.example\"\n{lines}"),
        );
        nursery
    };
    let about = |ran: &str| -> String {
        let lines = ran.lines().filter(|line| {
            line.contains("answer") || line.contains("mail") || line.contains("secret")
        });
        lines.map(|line| format!("{line}\n")).collect()
    };
    let nursery = answers("maildir = \"mail\"\ntrust = \"sender\"");
    let missing = nursery.run("check");
    assert_eq!(missing.code, 65, "{missing}");
    assert_snapshot!(about(&missing.out), @r"mend  mailbox mail: it has no folders new and cur, so it is not a maildir; no answer is read. Name the folder into which your mail server puts the mails for answers; most make it with the first mail, so send one. Or make it, as the user who runs graftwarden: mkdir -p 'mail/new' 'mail/cur' 'mail/tmp'.");
    assert_snapshot!(about(&nursery.run("check --online").out), @r"mend  mailbox mail: it has no folders new and cur, so it is not a maildir; no answer is read. Name the folder into which your mail server puts the mails for answers; most make it with the first mail, so send one. Or make it, as the user who runs graftwarden: mkdir -p 'mail/new' 'mail/cur' 'mail/tmp'.");
    for folder in ["mail/new", "mail/cur"] {
        std::fs::create_dir_all(nursery.path(folder)).unwrap();
    }
    nursery.write("mail/new/1", "");
    assert_snapshot!(about(&nursery.run("check --online").well()), @r#"
    ok    answers to answers@alderfold.example are read from mail
    note  a mail is taken by its sender's address alone, which anybody can write; trust = "letter" asks back first
    yes   mailbox mail: 1 mail waits to be read
    "#);
    let nursery = answers(
        "[answers.imap]\nhost = \"127.0.0.1\"\nuser = \"answers\"\npassword_file = \"secret\"",
    );
    assert_snapshot!(about(&nursery.run("check").out), @r"mend  secret: there is no such file. Check the path; paths in a config count from its folder.");
}

#[test]
fn check_names_blocks_that_somebody_waits_for_and_no_batch_stands_in() {
    let nursery = Nursery::small()
        .but("batches.csv", "B1,B,", "B1,North,")
        .but(
            "graftwarden.toml",
            "gets = [",
            "blocks = [\"a\", \"Nord\", \"Quarry\"]\ngets = [",
        );
    let about = |ran: String| -> String {
        let lines = ran.lines().filter(|line| line.contains("block"));
        lines.map(|line| format!("{line}\n")).collect()
    };
    assert_snapshot!(about(nursery.run("check").out), @r#"
    note  graftwarden.toml, line 17, column 1: "work" of site "home" reaches somebody only for blocks Nord, Quarry, a. Add the word to somebody's gets, or a person.
    note  graftwarden.toml, line 17, column 1: "urgent" of site "home" reaches somebody only for blocks Nord, Quarry, a. Add the word to somebody's gets, or a person.
    note  graftwarden.toml, line 17, column 1: "trouble" of site "home" reaches somebody only for blocks Nord, Quarry, a. Add the word to somebody's gets, or a person.
    note  [[people]] Maren Holt: no batch in the register stands in block Nord, so there are no letters of it; is North meant?
    note  [[people]] Maren Holt: no batch in the register stands in block Quarry, so there are no letters of it
    "#);
}

#[test]
fn check_names_all_that_must_be_mended() {
    let nursery = Nursery::small()
        .but("batches.csv", "Fox Cinder,120", "Fox Cinder,many")
        .but("temps.csv", "2024-07-08,14.5", "2024-07-08,41.5")
        .with(
            "records.csv",
            "date,batch,what\n2024-07-14,A9,lines\n2024-07-14,A1,lnes\n",
        );
    assert_snapshot!(nursery.run("check"), @r"
    ok    graftwarden.toml: 1 site, 1 person
    ok    site home: temperatures from file
    ok    letters go by folder
    note  state: the folder for the program's memory is not there yet; the first round makes it
    mend  batches.csv, row 3, column grafts: 'many' is not a number of grafts; this row is not used, the last good version of it stays in force if there was one. Write a whole number above 0, in digits only.
    mend  records.csv, row 3, column what: 'lnes' is not a word of the field records; this row is not used, the last good version of it stays in force if there was one. Perhaps 'lines' is meant.
    mend  site home, file, 2024-07-08: minimum 41.5 °C is above maximum 26.5 °C; the day is not used. Look at the instrument or mend the value.
    mend  field record of batch A9: lines on 2024-07-14: there is no batch A9 in the register; it is kept, and counts once there is one. Mend the record, or add the batch to the register.
    note  2 batches and 1 field record in force
    note  site home: temperatures known to 2024-07-15
    note  site home: the last safe day for grafting is not known, since fewer than five whole years before are known (maple field T-graft)

    4 things to mend.
    -- exit 65 --
    ");
}

#[test]
fn check_says_what_a_service_asks_for() {
    let nursery = Nursery::small().but(
        "graftwarden.toml",
        "source = \"file\"\npath = \"temps.csv\"",
        "source = \"open-meteo\"",
    );
    assert_snapshot!(nursery.run("check"), @r"
    ok    graftwarden.toml: 1 site, 1 person
    ok    site home: temperatures from open-meteo
    note  Open-Meteo without a key is free for non-commercial use only: a nursery that sells trees needs a subscription and its key (key_file), or another source; data CC BY 4.0.
    note  letters will say: Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0; heat computed from it.
    ok    letters go by folder
    note  state: the folder for the program's memory is not there yet; the first round makes it
    note  3 batches and 0 field records in force
    note  site home: no temperatures known yet
    note  site home: the last safe day for grafting is not known, since fewer than five whole years before are known (maple field T-graft)

    All is well.
    ");
}

#[test]
fn check_changes_nothing() {
    let nursery = Nursery::small();
    nursery.run("check").well();
    assert!(!nursery.path("state").exists());
    assert!(!nursery.path("letters").exists());
}

#[test]
fn a_round_tells_what_is_new_once() {
    let nursery = Nursery::small();
    assert_snapshot!(nursery.round(FIRST), @r"
    to Maren Holt: Block A: look for callus lines now (1 batch, 310 grafts)
    1 notice, 1 letter
    ");
    assert_snapshot!(nursery.round(FIRST), @r"0 notices, 0 letters");
    assert_eq!(nursery.letters().len(), 1);
}

#[test]
fn the_letter_of_a_round() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    let letters = nursery.letters();
    let [letter] = letters.as_slice() else {
        panic!("{letters:#?}");
    };
    // The Message-ID hangs on a secret that is drawn by chance.
    let (id, rest) = letter.split_once('\n').unwrap();
    assert!(
        id.starts_with("Message-ID: <") && id.ends_with("@alderfold.example>"),
        "{id}"
    );
    assert_snapshot!(rest, @r#"
    From: "Alder Fold Nursery" <letters@alderfold.example>
    To: "Maren Holt" <maren@alderfold.example>
    Subject: Block A: look for callus lines now (1 batch, 310 grafts)
    Auto-Submitted: auto-generated
    Date: Tue, 16 Jul 2024 06:10:00 +0200
    MIME-Version: 1.0

    Alder Fold Nursery, Tuesday 16 July 2024

    LOOK FOR CALLUS LINES NOW
      Block A: 1 batch, 310 grafts, by roughly Sun 21 Jul

    Look at 10 trees or 5 in 100, whichever is more, across the rows,
    strongest stocks first. Look at both sides of the cut. Write down
    lines (or how many show: lines 3/10) or no-lines.

    Opened by warmth: 14.1 standard days since grafting, reached on
    Mon 15 Jul.

      A1  310 grafts  by roughly Sun 21 Jul
          Ember Lace: 14.1 standard days, 211 °C·d

    Done? Write it in the field records (lines, no-lines), or as here:
    graftwarden note A1 lines --count 3/10

    -- 
    Temperatures at home: measured by the logger on 14 days, known to
    Mon 15 Jul.
    Heat for maple field T-graft: single sine above 5 °C, horizontal
    cutoff at 30 °C. One standard day is 15.0 °C·d by the plan.
    Dates are what warmth suggests; the eye decides.
    "#);
}

#[test]
fn rounds_only_go_forward() {
    let nursery = Nursery::small();
    nursery.round(FIRST).well();
    assert_snapshot!(nursery.round("2024-07-16T06:09:59+02:00"), @r"
    -- error --
    --at 2024-07-16T06:09:59+02:00 lies before the last round at 2024-07-16T06:10:00+02:00; rounds only go forward
    -- exit 64 --
    ");
    assert_eq!(nursery.round("2024-07-16T06:10:01+02:00").code, 0);
}

#[test]
fn work_waits_for_a_working_day() {
    let nursery = Nursery::small().with("temps.csv", &temperatures("2024-07-19"));
    let saturday = nursery.round("2024-07-20T06:10:00+02:00");
    assert_eq!(saturday.well(), "0 notices, 0 letters\n");
    nursery.write("temps.csv", temperatures("2024-07-21"));
    assert_snapshot!(nursery.round("2024-07-22T06:10:00+02:00"), @r"
    to Maren Holt: Block A: risk of over-callusing by about Thu 25 Jul (1 batch, 310 grafts), and 1 more thing
    5 notices, 1 letter
    ");
}

#[test]
fn due_block_by_block() {
    let nursery = Nursery::small().with("temps.csv", &temperatures("2024-07-22"));
    nursery.append(
        "records.csv",
        "2024-07-19,A2,lines,8/10,,\n2024-07-22,A2,headed-back,50,,\n",
    );
    assert_snapshot!(nursery.run("due --on 2024-07-22"), @r"
    Alder Fold Nursery, Monday 22 July 2024

    Block A
    batch  warmth  to do                                      left  since       until
    A1     21.1 d  look for callus lines                       310  Mon 15 Jul  Mon 22 Jul          last days
    A1     21.1 d  look first, then head back                  310  Fri 19 Jul  Mon 22 Jul          last days
    A1     21.1 d  look first, then tape off and tie in        310  Mon 22 Jul  roughly Mon 29 Jul
    A2     19.1 d  head back                             70 of 120  Fri 19 Jul  roughly Wed 24 Jul

    Nothing due yet on 1 batch:
    batch  where    warmth  next                   when
    B1     block B  12.1 d  look for callus lines  roughly Wed 24 Jul

    Work of the next 14 days, a graft counted once a day (of two figures: half the time no more than the first, nine times in ten than the second)
    day         grafts  crew hours
    Mon 22 Jul     380        13.5
    Thu 25 Jul     210         3.3
    Mon 29 Jul      90         1.1
    Thu 1 Aug       90         2.2
    ");
    assert!(!nursery.path("state").exists(), "due changes nothing");
}

#[test]
fn nothing_is_due() {
    assert_snapshot!(Nursery::small().run("due --on 2024-07-10"), @r"
    Alder Fold Nursery, Wednesday 10 July 2024

    Nothing is due.

    Nothing due yet on 3 batches:
    batch  where    warmth  next                   when
    A1     block A   9.1 d  look for callus lines  roughly Mon 15 Jul
    A2     block A   7.0 d  look for callus lines  roughly Wed 17 Jul
    B1     block B   0.0 d  look for callus lines  roughly Wed 24 Jul

    Work of the next 14 days, a graft counted once a day (of two figures: half the time no more than the first, nine times in ten than the second)
    day         grafts  crew hours
    Tue 16 Jul     310         1.0
    Thu 18 Jul     120         0.4
    Mon 22 Jul     430         5.4
    Tue 23 Jul     310         7.8
    ");
}

#[test]
fn due_as_json() {
    let nursery = Nursery::small().with("temps.csv", &temperatures("2024-07-22"));
    nursery.append(
        "records.csv",
        "2024-07-19,A2,lines,8/10,,\n2024-07-22,A2,headed-back,50,,\n",
    );
    assert_snapshot!(nursery.run("due --on 2024-07-22 --json"), @r#"
    {"batch":"A1","site":"home","block":"A","plan":"maple field T-graft","grafted_on":"2024-07-01","grafts":310,"days":21,"heat_cday":317.1,"standard_days":21.14,"filled_share":0.0,"open":true,"last_safe_graft_on":null,"lines_about":{"p10":"2024-07-23","p50":"2024-07-24","p90":"2024-07-24","rough":true},"tuned":null,"steps":[{"step":"callus-check","state":"closing","opens_on":"2024-07-15","closes_on":"2024-07-22","by":"heat","done":0,"of":310,"opens_about":null,"closes_about":null},{"step":"head-back","state":"closing","opens_on":"2024-07-19","closes_on":"2024-07-22","by":"heat","done":0,"of":310,"opens_about":null,"closes_about":null},{"step":"look-again","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":310,"opens_about":{"p10":"2024-07-27","p50":"2024-07-27","p90":"2024-07-28","rough":true},"closes_about":null},{"step":"tape-off","state":"open","opens_on":"2024-07-22","closes_on":null,"by":"heat","done":0,"of":310,"opens_about":null,"closes_about":{"p10":"2024-07-28","p50":"2024-07-29","p90":"2024-07-30","rough":true}},{"step":"re-graft","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":310,"opens_about":{"p10":"2024-07-25","p50":"2024-07-25","p90":"2024-07-26","rough":true},"closes_about":null},{"step":"ties-and-suckers","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":310,"opens_about":{"p10":"2024-08-19","p50":"2024-08-19","p90":"2024-08-19","rough":true},"closes_about":null},{"step":"autumn-look","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":310,"opens_about":null,"closes_about":null},{"step":"take","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":310,"opens_about":{"p10":null,"p50":null,"p90":null,"rough":true},"closes_about":{"p10":null,"p50":null,"p90":null,"rough":true}},{"step":"stump","state":"ahead","opens_on":"2025-11-01","closes_on":"2025-12-31","by":"calendar","done":0,"of":310,"opens_about":{"p10":"2025-11-01","p50":"2025-11-01","p90":"2025-11-01","rough":true},"closes_about":{"p10":"2025-12-31","p50":"2025-12-31","p90":"2025-12-31","rough":true}},{"step":"dock","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":310,"opens_about":null,"closes_about":null},{"step":"over-callusing","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":null,"of":null,"closes_about":{"p10":"2024-07-25","p50":"2024-07-25","p90":"2024-07-26","rough":true}}]}
    {"batch":"A2","site":"home","block":"A","plan":"maple field T-graft","grafted_on":"2024-07-03","grafts":120,"days":19,"heat_cday":286.9,"standard_days":19.126667,"filled_share":0.0,"open":true,"last_safe_graft_on":null,"lines_about":null,"tuned":null,"steps":[{"step":"callus-check","state":"done","opens_on":"2024-07-17","closes_on":null,"by":"heat","done":120,"of":120,"opens_about":null,"closes_about":null},{"step":"head-back","state":"open","opens_on":"2024-07-19","closes_on":null,"by":"record","done":50,"of":120,"opens_about":null,"closes_about":{"p10":"2024-07-24","p50":"2024-07-24","p90":"2024-07-25","rough":true}},{"step":"look-again","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":120,"opens_about":{"p10":"2024-07-27","p50":"2024-07-27","p90":"2024-07-28","rough":true},"closes_about":null},{"step":"tape-off","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":120,"opens_about":{"p10":"2024-07-24","p50":"2024-07-24","p90":"2024-07-25","rough":true},"closes_about":{"p10":"2024-07-30","p50":"2024-07-31","p90":"2024-08-01","rough":true}},{"step":"re-graft","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":120,"opens_about":null,"closes_about":null},{"step":"ties-and-suckers","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":120,"opens_about":{"p10":"2024-08-21","p50":"2024-08-21","p90":"2024-08-22","rough":true},"closes_about":null},{"step":"autumn-look","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":120,"opens_about":null,"closes_about":null},{"step":"take","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":120,"opens_about":{"p10":null,"p50":null,"p90":null,"rough":true},"closes_about":{"p10":null,"p50":null,"p90":null,"rough":true}},{"step":"stump","state":"ahead","opens_on":"2025-11-01","closes_on":"2025-12-31","by":"calendar","done":0,"of":120,"opens_about":{"p10":"2025-11-01","p50":"2025-11-01","p90":"2025-11-01","rough":true},"closes_about":{"p10":"2025-12-31","p50":"2025-12-31","p90":"2025-12-31","rough":true}},{"step":"dock","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":120,"opens_about":null,"closes_about":null},{"step":"over-callusing","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":null,"of":null,"closes_about":{"p10":"2024-07-27","p50":"2024-07-27","p90":"2024-07-28","rough":true}}]}
    {"batch":"B1","site":"home","block":"B","plan":"maple field T-graft","grafted_on":"2024-07-10","grafts":90,"days":12,"heat_cday":181.2,"standard_days":12.08,"filled_share":0.0,"open":true,"last_safe_graft_on":null,"lines_about":{"p10":"2024-07-24","p50":"2024-07-27","p90":"2024-07-31","rough":true},"tuned":null,"steps":[{"step":"callus-check","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":90,"opens_about":{"p10":"2024-07-24","p50":"2024-07-24","p90":"2024-07-25","rough":true},"closes_about":{"p10":"2024-07-30","p50":"2024-07-31","p90":"2024-08-02","rough":true}},{"step":"head-back","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":90,"opens_about":{"p10":"2024-07-25","p50":"2024-07-27","p90":"2024-07-29","rough":true},"closes_about":{"p10":"2024-07-30","p50":"2024-07-31","p90":"2024-08-02","rough":true}},{"step":"look-again","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":90,"opens_about":{"p10":"2024-07-30","p50":"2024-08-02","p90":"2024-08-03","rough":true},"closes_about":null},{"step":"tape-off","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":90,"opens_about":{"p10":"2024-07-30","p50":"2024-07-31","p90":"2024-08-02","rough":true},"closes_about":{"p10":"2024-08-05","p50":"2024-08-07","p90":"2024-08-09","rough":true}},{"step":"re-graft","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":90,"opens_about":{"p10":"2024-08-02","p50":"2024-08-03","p90":"2024-08-05","rough":true},"closes_about":null},{"step":"ties-and-suckers","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":90,"opens_about":{"p10":"2024-08-27","p50":"2024-08-28","p90":"2024-08-30","rough":true},"closes_about":null},{"step":"autumn-look","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":90,"opens_about":null,"closes_about":null},{"step":"take","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":90,"opens_about":{"p10":null,"p50":null,"p90":null,"rough":true},"closes_about":{"p10":null,"p50":null,"p90":null,"rough":true}},{"step":"stump","state":"ahead","opens_on":"2025-11-01","closes_on":"2025-12-31","by":"calendar","done":0,"of":90,"opens_about":{"p10":"2025-11-01","p50":"2025-11-01","p90":"2025-11-01","rough":true},"closes_about":{"p10":"2025-12-31","p50":"2025-12-31","p90":"2025-12-31","rough":true}},{"step":"dock","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":0,"of":90,"opens_about":null,"closes_about":null},{"step":"over-callusing","state":"ahead","opens_on":null,"closes_on":null,"by":null,"done":null,"of":null,"closes_about":{"p10":"2024-08-02","p50":"2024-08-03","p90":"2024-08-05","rough":true}}]}
    {"workload":[{"date":"2024-07-22","working":true,"grafts_p50":380,"grafts_p90":380,"hours_p50":13.533333,"hours_p90":13.533333},{"date":"2024-07-23","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-24","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-25","working":true,"grafts_p50":210,"grafts_p90":210,"hours_p50":3.3,"hours_p90":3.3},{"date":"2024-07-26","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-27","working":false,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-28","working":false,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-29","working":true,"grafts_p50":90,"grafts_p90":90,"hours_p50":1.125,"hours_p90":1.125},{"date":"2024-07-30","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-31","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-08-01","working":true,"grafts_p50":90,"grafts_p90":90,"hours_p50":2.25,"hours_p90":2.25},{"date":"2024-08-02","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-08-03","working":false,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-08-04","working":false,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0}]}
    "#);
}

#[test]
fn due_in_fahrenheit_countries_still_counts_standard_days() {
    let us = Nursery::small().but("graftwarden.toml", "[nursery]", "[nursery]\nunits = \"us\"");
    let metric = Nursery::small();
    let due = |nursery: &Nursery| nursery.run("due --on 2024-07-15").well();
    assert_eq!(due(&us), due(&metric));
}

#[test]
fn the_days_and_where_they_come_from() {
    let nursery = Nursery::small()
        .but("temps.csv", "2024-07-12,", "2024-07-12,x")
        .but("temps.csv", "2024-07-09,13.7,25.7", "2024-07-09,25.7,13.7");
    let words = "days --site home --from 2024-07-07 --to 2024-07-17";
    assert_snapshot!(nursery.run(words), @r"
    date            min °C  max °C  origin    source  fetched  remark
    2024-07-07 Sun    14.1    26.1  measured  file    now
    2024-07-08 Mon    14.5    26.5  measured  file    now
    2024-07-09 Tue    14.3    26.3  filled                     between 8 Jul and 10 Jul
                      25.7    13.7  rejected  file    now      minimum 25.7 °C is above maximum 13.7 °C
    2024-07-10 Wed    14.1    26.1  measured  file    now
    2024-07-11 Thu    14.5    26.5  measured  file    now
    2024-07-12 Fri    14.3    26.3  filled                     between 11 Jul and 13 Jul
    2024-07-13 Sat    14.1    26.1  measured  file    now
    2024-07-14 Sun    14.5    26.5  measured  file    now
    2024-07-15 Mon    13.7    25.7  measured  file    now
    2024-07-16 Tue       -       -  unknown
    2024-07-17 Wed       -       -  unknown
    -- error --
    temps.csv, row 19, column tmin_c: 'x13.7' is not a temperature; this row is not used. Correct it, or leave the cell empty where nothing was measured.
    site home, file, 2024-07-09: minimum 25.7 °C is above maximum 13.7 °C; the day is not used. Look at the instrument or mend the value.
    ");
    nursery.round(FIRST);
    assert_snapshot!(nursery.run(words), @r"
    date            min °C  max °C  origin    source  fetched       remark
    2024-07-07 Sun    14.1    26.1  measured  file    16 Jul 06:10
    2024-07-08 Mon    14.5    26.5  measured  file    16 Jul 06:10
    2024-07-09 Tue    14.3    26.3  filled                          between 8 Jul and 10 Jul
                      25.7    13.7  rejected  file    16 Jul 06:10  minimum 25.7 °C is above maximum
                                                                    13.7 °C
    2024-07-10 Wed    14.1    26.1  measured  file    16 Jul 06:10
    2024-07-11 Thu    14.5    26.5  measured  file    16 Jul 06:10
    2024-07-12 Fri    14.3    26.3  filled                          between 11 Jul and 13 Jul
    2024-07-13 Sat    14.1    26.1  measured  file    16 Jul 06:10
    2024-07-14 Sun    14.5    26.5  measured  file    16 Jul 06:10
    2024-07-15 Mon    13.7    25.7  measured  file    16 Jul 06:10
    2024-07-16 Tue       -       -  unknown
    2024-07-17 Wed       -       -  unknown
    -- error --
    temps.csv, row 19, column tmin_c: 'x13.7' is not a temperature; this row is not used. Correct it, or leave the cell empty where nothing was measured.
    site home, file, 2024-07-09: minimum 25.7 °C is above maximum 13.7 °C; the day is not used. Look at the instrument or mend the value.
    ");
    assert_snapshot!(nursery.run("days --site home --from 2024-07-08 --to 2024-07-09 --json"), @r#"
    {"date":"2024-07-08","tmin_c":14.5,"tmax_c":26.5,"gust_kmh":null,"rain_mm":null,"origin":"measured","source":"file","fetched_at":"2024-07-16T04:10:00Z","doubt":null,"filled":null,"shift":null,"raw":[{"source":"file","tmin_c":14.5,"tmax_c":26.5,"origin":"measured","fetched_at":"2024-07-16T04:10:00Z","used":true,"reason":null}]}
    {"date":"2024-07-09","tmin_c":14.3,"tmax_c":26.3,"gust_kmh":null,"rain_mm":null,"origin":"filled","source":null,"fetched_at":null,"doubt":null,"filled":"between 8 Jul and 10 Jul","shift":null,"raw":[{"source":"file","tmin_c":25.7,"tmax_c":13.7,"origin":"measured","fetched_at":"2024-07-16T04:10:00Z","used":false,"reason":"minimum 25.7 °C is above maximum 13.7 °C"}]}
    -- error --
    temps.csv, row 19, column tmin_c: 'x13.7' is not a temperature; this row is not used. Correct it, or leave the cell empty where nothing was measured.
    site home, file, 2024-07-09: minimum 25.7 °C is above maximum 13.7 °C; the day is not used. Look at the instrument or mend the value.
    "#);
}

#[test]
fn days_in_fahrenheit() {
    let us = Nursery::small().but("graftwarden.toml", "[nursery]", "[nursery]\nunits = \"us\"");
    assert_snapshot!(us.run("days --site home --from 2024-07-14 --to 2024-07-15"), @r"
    date            min °F  max °F  origin    source  fetched  remark
    2024-07-14 Sun    58.1    79.7  measured  file    now
    2024-07-15 Mon    56.7    78.3  measured  file    now
    ");
}

#[test]
fn days_that_cannot_be_shown() {
    let nursery = Nursery::small();
    assert_snapshot!(nursery.run("days --site hom"), @r"
    -- error --
    there is no site hom in the config; did you mean home?
    -- exit 64 --
    ");
    assert_snapshot!(nursery.run("days --site home --from 2024-07-15 --to 2024-07-14"), @r"
    -- error --
    the last day 2024-07-14 lies before the first day 2024-07-15
    -- exit 64 --
    ");
}

#[test]
fn a_rehearsal_in_words() {
    let nursery = Nursery::small().with("temps.csv", &temperatures("2024-07-26"));
    nursery.append(
        "records.csv",
        "2024-07-19,A1,lines,8/10,,\n2024-07-19,A1,headed-back,,,\n",
    );
    assert_snapshot!(nursery.run("rehearse --letters letters"), @r"
    Alder Fold Nursery: the season from 2024-07-01 to 2024-07-27, round by round

    Mon 8 Jul 2024, 06:10
      the weekly letter: Maren Holt
        to Maren Holt: All is well: 2 batches, 430 grafts, nothing is due

    Mon 15 Jul 2024, 06:10
      the weekly letter: Maren Holt
        to Maren Holt: All is well: 3 batches, 520 grafts, nothing is due

    Tue 16 Jul 2024, 06:10
      block A: look for callus lines, open since Mon 15 Jul: A1
        to Maren Holt: Block A: look for callus lines now (1 batch, 310 grafts)

    Thu 18 Jul 2024, 06:10
      block A: look for callus lines, open since Wed 17 Jul: A2
        to Maren Holt: Block A: look for callus lines now (1 batch, 120 grafts)

    Fri 19 Jul 2024, 06:10
      looking ahead over days off: Maren Holt
        to Maren Holt: Before Mon 22 Jul: 2 windows may open

    Mon 22 Jul 2024, 06:10
      catching up after days off: Maren Holt
      block A: head back, open since Sun 21 Jul: A2
        to Maren Holt: Since Fri 19 Jul: 2 things to do today, about 1.9 h of crew time

    Tue 23 Jul 2024, 06:10
      block A: tape off and tie in, open since Mon 22 Jul: A1
        to Maren Holt: Block A: tape off and tie in now (1 batch, 310 grafts)

    Wed 24 Jul 2024, 06:10
      block A: URGENT, risk of over-callusing by about Sat 27 Jul: A2
      block A: look for callus lines, last working day before it closes on about Wed 24 Jul: A2
      block A: head back, last working day before it closes on about Wed 24 Jul: A2
        to Maren Holt: Block A: risk of over-callusing by about Sat 27 Jul (1 batch, 120 grafts), and 1…

    Thu 25 Jul 2024, 06:10
      block A: look again, open since Wed 24 Jul: A1
      block A: tape off and tie in, open since Wed 24 Jul: A2
      block B: look for callus lines, open since Wed 24 Jul: B1
      block A: look for callus lines is late, closed Wed 24 Jul: A2
      block A: head back is late, closed Wed 24 Jul: A2
        to Maren Holt: Block A: no look is written down, look first (1 batch, 120 grafts), and 2 more t…

    Fri 26 Jul 2024, 06:10
      looking ahead over days off: Maren Holt
        to Maren Holt: Before Mon 29 Jul: 1 batch may come to its limit and 1 window may open

    10 letters in letters

    batch  step                   opened on   told on     done on     days in hand
    A1     look for callus lines  Mon 15 Jul  Tue 16 Jul  Fri 19 Jul             3
    A1     head back              Fri 19 Jul  -           Fri 19 Jul             3
    A1     tape off and tie in    Mon 22 Jul  Tue 23 Jul  not done               -
    A2     look for callus lines  Wed 17 Jul  Thu 18 Jul  not done          3 late
    A2     head back              Sun 21 Jul  Mon 22 Jul  not done          3 late
    A2     tape off and tie in    Wed 24 Jul  Thu 25 Jul  not done               -
    B1     look for callus lines  Wed 24 Jul  Thu 25 Jul  not done               -

    Days in hand: from the day it was done (or today, where it was not) to the last day in time.
    ");
    assert_eq!(nursery.letters().len(), 10);
    assert!(
        !nursery.path("state").exists(),
        "a rehearsal leaves the memory alone"
    );
}

#[test]
fn a_rehearsal_as_json() {
    let nursery = Nursery::small().with("temps.csv", &temperatures("2024-07-18"));
    assert_snapshot!(nursery.run("rehearse --letters letters --json"), @r#"
    {"round_at":"2024-07-08T06:10:00+02:00","kind":"weekly","site":null,"block":null,"batch":null,"step":null,"on":"2024-07-08","level":null,"heat_cday":null,"standard_days":null,"days":null,"by":null,"urgent":false,"batches":[],"says":"","to":["maren@alderfold.example"],"letter":["<ee0f222a503b2ede3e2221dffe03b011@alderfold.example>"]}
    {"round_at":"2024-07-15T06:10:00+02:00","kind":"weekly","site":null,"block":null,"batch":null,"step":null,"on":"2024-07-15","level":null,"heat_cday":null,"standard_days":null,"days":null,"by":null,"urgent":false,"batches":[],"says":"","to":["maren@alderfold.example"],"letter":["<953c9f72c2f2411550256b088bcd4d9d@alderfold.example>"]}
    {"round_at":"2024-07-16T06:10:00+02:00","kind":"opens","site":"home","block":"A","batch":"A1","step":"callus-check","on":"2024-07-15","level":null,"heat_cday":211.4,"standard_days":14.093333,"days":14,"by":"heat","urgent":false,"batches":[],"says":"","to":["maren@alderfold.example"],"letter":["<fc774c89f1188b922b7b6181ad64d2c7@alderfold.example>"]}
    {"round_at":"2024-07-18T06:10:00+02:00","kind":"opens","site":"home","block":"A","batch":"A2","step":"callus-check","on":"2024-07-17","level":null,"heat_cday":211.8,"standard_days":14.12,"days":14,"by":"heat","urgent":false,"batches":[],"says":"","to":["maren@alderfold.example"],"letter":["<632a2610aa848e16250cb483718135e1@alderfold.example>"]}
    {"round_at":"2024-07-19T06:10:00+02:00","kind":"look-ahead","site":null,"block":null,"batch":null,"step":null,"on":"2024-07-19","level":null,"heat_cday":null,"standard_days":null,"days":null,"by":null,"urgent":false,"batches":[],"says":"","to":["maren@alderfold.example"],"letter":["<e678d47e999869f7d55c8cdfa2ae35b8@alderfold.example>"]}
    "#);
}

#[test]
fn there_is_no_season_to_play() {
    assert_snapshot!(Nursery::small().with("batches.csv", "batch,block,plan,grafts,grafted_on\n").run("rehearse"), @r"
    -- error --
    there is no season to play: the register has no batch, or no temperature file covers one. Run `graftwarden check`.
    -- exit 65 --
    ");
    assert_snapshot!(Nursery::small().run("rehearse --from 2024-08-01 --to 2024-07-01"), @r"
    -- error --
    the last day 2024-07-01 lies before the first day 2024-08-01
    -- exit 64 --
    ");
}

#[test]
fn days_are_those_of_the_only_site() {
    let nursery = Nursery::small();
    let named = nursery.run("days --site home --from 2024-07-04 --to 2024-07-06");
    let only = nursery.run("days --from 2024-07-04 --to 2024-07-06").well();
    assert!(only.contains("2024-07-05"), "{only}");
    assert_eq!(only, named.well());
    assert_snapshot!(Nursery::demo().run("days"), @r"
    -- error --
    there are several sites: say which with --site (home, hill)
    -- exit 64 --
    ");
    assert_snapshot!(nursery.run("days --site hom"), @r"
    -- error --
    there is no site hom in the config; did you mean home?
    -- exit 64 --
    ");
}

#[test]
fn check_names_blocks_that_are_in_no_register() {
    let blocks = "gets = [\"work\", \"urgent\", \"trouble\"]\nblocks = [\"a\", \"North\"]";
    let gets = "gets = [\"work\", \"urgent\", \"trouble\"]";
    let nursery = Nursery::small().but("graftwarden.toml", gets, blocks).but(
        "batches.csv",
        "B1,B,",
        "B1,Nord,",
    );
    let said = nursery.run("check").to_string();
    let lines: Vec<&str> = said
        .lines()
        .filter(|line| line.contains("stands in block"))
        .collect();
    assert_eq!(
        lines,
        [
            "note  [[people]] Maren Holt: no batch in the register stands in block North, so there are no letters of it; is Nord meant?"
        ]
    );
}
