//! Planning: the work of the fortnight, a day for grafting asked about, how late in the year it can be done.
//!
//! Worked by hand. Between 5 and 30 °C a day of 10 to 30 °C gives 15 °C·d, one standard day. In all six years before the
//! first frost came on 10 October: 21 days before it is 19 September, and 28 days of 15 °C·d up to then begin on 23
//! August, so that 22 August is the last safe day.

use crate::program::Nursery;
use chrono::{Datelike, NaiveDate};
use insta::assert_snapshot;

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// Six years of days of 10 to 30 °C, but for winters of 0 to 4 from 10 October to the end of April.
fn past() -> String {
    let first = day("2018-01-01");
    let days = first.iter_days().take_while(|date| date.year() < 2024);
    let rows = days.map(|date| {
        let summer =
            ("04-30".to_owned().."10-10".to_owned()).contains(&date.format("%m-%d").to_string());
        let (min, max) = if summer { (10, 30) } else { (0, 4) };
        format!("{date},{min},{max}\n")
    });
    "date,tmin_c,tmax_c\n".to_owned() + &rows.collect::<String>()
}

/// The small nursery with years before, in its first summer so far as it is known on the morning of 16 July 2024.
fn nursery() -> Nursery {
    Nursery::small().with("past.csv", &past()).but(
        "graftwarden.toml",
        "id = \"home\"",
        "id = \"home\"\npast_years = \"past.csv\"",
    )
}

#[test]
fn what_is_due_ends_with_the_work_to_come() {
    let due = nursery().run("due --on 2024-07-15").well();
    assert_snapshot!(due, @r"
    Alder Fold Nursery, Monday 15 July 2024

    Block A
    batch  warmth  to do                  left  since       until
    A1     14.1 d  look for callus lines   310  Mon 15 Jul  about Mon 22 Jul

    Nothing due yet on 2 batches:
    batch  where    warmth  next                   when
    A2     block A  12.1 d  look for callus lines  about Wed 17 Jul
    B1     block B   5.0 d  look for callus lines  about Wed 24 Jul

    Last safe day for grafting at home: Thu 22 Aug, 38 days left (maple field T-graft; in 80 of 100 years no frost before Thu 10 Oct)

    Work of the next 14 days, a graft counted once a day (of two figures: half the time no more than the first, nine times in ten than the second)
    day         grafts  crew hours
    Mon 15 Jul     310         1.0
    Thu 18 Jul     120         0.4
    Mon 22 Jul     430         5.4
    Tue 23 Jul     310         7.8
    Thu 25 Jul     210         3.3
    ");
    let json = nursery().run("due --on 2024-07-15 --json").well();
    assert_snapshot!(json.lines().last().unwrap(), @r#"{"workload":[{"date":"2024-07-15","working":true,"grafts_p50":310,"grafts_p90":310,"hours_p50":1.033333,"hours_p90":1.033333},{"date":"2024-07-16","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-17","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-18","working":true,"grafts_p50":120,"grafts_p90":120,"hours_p50":0.4,"hours_p90":0.4},{"date":"2024-07-19","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-20","working":false,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-21","working":false,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-22","working":true,"grafts_p50":430,"grafts_p90":430,"hours_p50":5.375,"hours_p90":5.375},{"date":"2024-07-23","working":true,"grafts_p50":310,"grafts_p90":310,"hours_p50":7.75,"hours_p90":7.75},{"date":"2024-07-24","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-25","working":true,"grafts_p50":210,"grafts_p90":210,"hours_p50":3.3,"hours_p90":3.3},{"date":"2024-07-26","working":true,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-27","working":false,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0},{"date":"2024-07-28","working":false,"grafts_p50":0,"grafts_p90":0,"hours_p50":0.0,"hours_p90":0.0}]}"#);
    assert_eq!(
        json.matches(r#""last_safe_graft_on":"2024-08-22""#).count(),
        3
    );
}

#[test]
fn what_is_to_be_grafted_anew_has_its_days_left() {
    let nursery = nursery().with(
        "records.csv",
        "date,batch,what,count\n2024-07-15,A1,dead,12\n2024-07-15,B1,lines,\n",
    );
    let due = nursery.run("due --on 2024-07-15").well();
    let last = due
        .split("\n\n")
        .find(|part| part.starts_with("To be grafted anew"));
    assert_snapshot!(last.unwrap(), @r"
    To be grafted anew at home:
      A1, block A: 12 grafts, re-graft by Thu 22 Aug, 38 days left
    ");
    let json = nursery.run("due --on 2024-07-15 --json").well();
    assert!(
        json.contains(
            r#"{"step":"re-graft","state":"open","opens_on":"2024-07-15","closes_on":"2024-08-22""#
        ),
        "{json}"
    );
}

#[test]
fn near_the_frost_one_third_only() {
    let nursery = nursery().with(
        "records.csv",
        "date,batch,what,count\n2024-07-15,A1,lines,\n",
    );
    let said = |on: &str| nursery.run(&format!("due --on {on}")).well();
    // 10 October less 42 days is 29 August.
    assert!(!said("2024-08-28").contains("one third"));
    let near = said("2024-08-29");
    let line = near.lines().find(|line| line.contains("one third"));
    assert_snapshot!(line.unwrap(), @"Head back at home, first frost about Thu 10 Oct: The first frost is near: head back by one third only, evenly, and the rest once the stock is dormant. Only trees that show lines on both sides; where none are written down, look first.");
}

#[test]
fn a_day_is_asked_about() {
    let asked = |words: &[&str]| {
        nursery().run_words(&[&["due", "--on", "2024-07-15", "--if-grafted"], words].concat())
    };
    assert_snapshot!(asked(&["2024-07-16"]), @r"
    maple field T-graft, 100 grafts at home, if grafted on

                 look for callus lines  head back    tape off and tie in  over-callusing  fullest day
    Tue 16 Jul   Tue 30 Jul             Sat 3 Aug*   Tue 6 Aug            Fri 9 Aug             2.5 h
    Wed 17 Jul   Wed 31 Jul             Sun 4 Aug*   Wed 7 Aug            Sat 10 Aug*           2.6 h
    Thu 18 Jul   Thu 1 Aug              Mon 5 Aug    Thu 8 Aug            Sun 11 Aug*           2.5 h
    Fri 19 Jul   Fri 2 Aug              Tue 6 Aug    Fri 9 Aug            Mon 12 Aug            2.5 h
    Sat 20 Jul*  Sat 3 Aug*             Wed 7 Aug    Sat 10 Aug*          Tue 13 Aug            2.5 h
    Sun 21 Jul*  Sun 4 Aug*             Thu 8 Aug    Sun 11 Aug*          Wed 14 Aug            2.5 h
    Mon 22 Jul   Mon 5 Aug              Fri 9 Aug    Mon 12 Aug           Thu 15 Aug            2.5 h
    Tue 23 Jul   Tue 6 Aug              Sat 10 Aug*  Tue 13 Aug           Fri 16 Aug            2.5 h
    Wed 24 Jul   Wed 7 Aug              Sun 11 Aug*  Wed 14 Aug           Sat 17 Aug*           2.5 h
    Thu 25 Jul   Thu 8 Aug              Mon 12 Aug   Thu 15 Aug           Sun 18 Aug*           2.5 h
    Fri 26 Jul   Fri 9 Aug              Tue 13 Aug   Fri 16 Aug           Mon 19 Aug            2.5 h
    Sat 27 Jul*  Sat 10 Aug*            Wed 14 Aug   Sat 17 Aug*          Tue 20 Aug            2.5 h
    Sun 28 Jul*  Sun 11 Aug*            Thu 15 Aug   Sun 18 Aug*          Wed 21 Aug            2.5 h
    Mon 29 Jul   Mon 12 Aug             Fri 16 Aug   Mon 19 Aug           Thu 22 Aug            2.5 h

    * a day off. (1-5) = between these days of the month eight times out of ten. Fullest day: crew hours
    of these grafts and, no more in nine cases of ten, of all else that is due on it.

    Tue 16 - Mon 29 Jul: no forecast reaches it

    The last safe day is Thursday 22 August 2024. In 80 of 100 years the first frost came on Thu 10 Oct or later (by 6 years before); before it a graft needs 28 standard days to grow together and 21 days to harden.

    The best day for grafting is Fri 19 Jul. Tue 16 Jul is not as good: the day to head back would be Sat 3 Aug, a day off.
    ");
    assert_snapshot!(asked(&["2024-08-20,maple field t-graft,200"]), @r"
    maple field T-graft, 200 grafts at home, if grafted on

                 look for callus lines  head back    tape off and tie in  over-callusing  fullest day
    Tue 20 Aug   Tue 3 Sep              Sat 7 Sep*   Tue 10 Sep           Fri 13 Sep            5.0 h
    Wed 21 Aug   Wed 4 Sep              Sun 8 Sep*   Wed 11 Sep           Sat 14 Sep*           5.0 h
    Thu 22 Aug   Thu 5 Sep              Mon 9 Sep    Thu 12 Sep           Sun 15 Sep*           5.0 h
    Fri 23 Aug   Fri 6 Sep              Tue 10 Sep   Fri 13 Sep           Mon 16 Sep            5.0 h
    Sat 24 Aug*  Sat 7 Sep*             Wed 11 Sep   Sat 14 Sep*          Tue 17 Sep            5.0 h
    Sun 25 Aug*  Sun 8 Sep*             Thu 12 Sep   Sun 15 Sep*          Wed 18 Sep            5.0 h
    Mon 26 Aug   Mon 9 Sep              Fri 13 Sep   Mon 16 Sep           Thu 19 Sep            5.0 h
    Tue 27 Aug   Tue 10 Sep             Sat 14 Sep*  Tue 17 Sep           Fri 20 Sep            5.0 h
    Wed 28 Aug   Wed 11 Sep             Sun 15 Sep*  Wed 18 Sep           Sat 21 Sep*           5.0 h
    Thu 29 Aug   Thu 12 Sep             Mon 16 Sep   Thu 19 Sep           Sun 22 Sep*           5.0 h
    Fri 30 Aug   Fri 13 Sep             Tue 17 Sep   Fri 20 Sep           Mon 23 Sep            5.0 h
    Sat 31 Aug*  Sat 14 Sep*            Wed 18 Sep   Sat 21 Sep*          Tue 24 Sep            5.0 h
    Sun 1 Sep*   Sun 15 Sep*            Thu 19 Sep   Sun 22 Sep*          Wed 25 Sep            5.0 h
    Mon 2 Sep    Mon 16 Sep             Fri 20 Sep   Mon 23 Sep           Thu 26 Sep            5.0 h

    * a day off. (1-5) = between these days of the month eight times out of ten. Fullest day: crew hours
    of these grafts and, no more in nine cases of ten, of all else that is due on it.

    Tue 20 - Thu 22 Aug: no forecast reaches it
    Fri 23 Aug - Mon 2 Sep: after the last safe day, Thu 22 Aug; no forecast reaches it

    The last safe day is Thursday 22 August 2024. In 80 of 100 years the first frost came on Thu 10 Oct or later (by 6 years before); before it a graft needs 28 standard days to grow together and 21 days to harden.

    Tue 20 Aug is the best of 14 days for grafting, though not a good one: no forecast reaches it; the day to head back would be Sat 7 Sep, a day off.
    ");
    let json = asked(&["2024-08-23,50", "--json"]).well();
    let lines: Vec<&str> = json.lines().collect();
    assert_eq!(lines.len(), 15);
    assert_snapshot!(lines[0], @r#"{"grafted_on":"2024-08-23","site":"home","plan":"maple field T-graft","grafts":50,"suits":false,"against":["after the last safe day, Thu 22 Aug"],"not_known":["no forecast reaches it"],"rain_7_days_mm_if_dry":null,"rough":false,"steps":[{"step":"callus-check","p10":"2024-09-06","p50":"2024-09-06","p90":"2024-09-06","day_off":false,"hours":0.166667,"hours_beside_p90":0.0},{"step":"head-back","p10":"2024-09-10","p50":"2024-09-10","p90":"2024-09-10","day_off":false,"hours":0.625,"hours_beside_p90":0.0},{"step":"tape-off","p10":"2024-09-13","p50":"2024-09-13","p90":"2024-09-13","day_off":false,"hours":1.25,"hours_beside_p90":0.0},{"step":"over-callusing","p10":"2024-09-16","p50":"2024-09-16","p90":"2024-09-16","day_off":false,"hours":0.0,"hours_beside_p90":0.0}]}"#);
    assert_snapshot!(lines[14], @r#"{"last_safe_day":"2024-08-22","first_frost":"2024-10-10","advice":"Do not graft: it is after the last safe day, Thu 22 Aug."}"#);
}

#[test]
fn a_day_that_cannot_be_asked_about() {
    let nursery = nursery();
    let asked = |question: &str| {
        let ran = nursery.run_words(&["due", "--on", "2024-07-15", "--if-grafted", question]);
        assert_eq!((ran.code, ran.out.as_str()), (64, ""), "{ran}");
        ran.err.lines().next().unwrap_or_default().to_owned()
    };
    assert_snapshot!(asked("2024-07-14"), @r"2024-07-14 is past; ask about a day from 2024-07-15 on");
    assert_snapshot!(asked("2026-07-14"), @r"2026-07-14 is more than a year ahead; ask about a nearer day");
    assert_snapshot!(asked("next week"), @r"error: invalid value 'next week' for '--if-grafted <D[,PLAN][,COUNT]>': 'next week' is not a date; write it like 2026-08-18");
    assert_snapshot!(asked("2024-07-16,maple field graft"), @r"there is no care plan 'maple field graft'; perhaps 'maple field T-graft' is meant");
    assert_snapshot!(asked("2024-07-16,0"), @r"error: invalid value '2024-07-16,0' for '--if-grafted <D[,PLAN][,COUNT]>': 0 grafts need nothing; write how many are to be made");
    assert_snapshot!(asked("2024-07-16,-5"), @r"error: invalid value '2024-07-16,-5' for '--if-grafted <D[,PLAN][,COUNT]>': '-5' is not a number of grafts; write it like 200");
    assert_snapshot!(asked("2024-07-16,9999999"), @r"error: invalid value '2024-07-16,9999999' for '--if-grafted <D[,PLAN][,COUNT]>': '9999999' is not a number of grafts; write it like 200");
    assert_snapshot!(asked("2024-07-16,5,5"), @r#"error: invalid value '2024-07-16,5,5' for '--if-grafted <D[,PLAN][,COUNT]>': '2024-07-16,5,5' is not a day, a plan and a number; write it like "2026-08-17,maple field T-graft,200", plan and number if needed"#);
    assert_snapshot!(asked("2024-07-16,,5"), @r#"error: invalid value '2024-07-16,,5' for '--if-grafted <D[,PLAN][,COUNT]>': '2024-07-16,,5' is not a day, a plan and a number; write it like "2026-08-17,maple field T-graft,200", plan and number if needed"#);
}

#[test]
fn a_site_must_be_said_where_there_are_several() {
    let hill = "[[site]]\nid = \"hill\"\nlatitude = 50.4\nlongitude = 5.6\n\n[[site.weather]]\nsource = \"file\"\npath = \"hill.csv\"\n\n[[people]]";
    let nursery = nursery()
        .with("hill.csv", "date,tmin_c,tmax_c\n")
        .but("graftwarden.toml", "[[people]]", hill)
        .but("batches.csv", "batch,block", "site,batch,block")
        .but("batches.csv", "\nA", "\nhome,A")
        .but("batches.csv", "\nB", "\nhome,B");
    let asked = |words: &[&str]| {
        nursery.run_words(&[&["due", "--on", "2024-07-15", "--if-grafted"], words].concat())
    };
    assert_snapshot!(asked(&["2024-07-16"]), @r"
    -- error --
    hill.csv: there is no row with a date in it below the header; nothing was read from it, what was read before stays in force. See that the file is whole, and set date_format where its dates are not written year first.
    there are several sites with a weather of their own; say which one with --site: home, hill
    -- exit 64 --
    ");
    assert_snapshot!(asked(&["2024-07-16", "--site", "hom"]), @r"
    -- error --
    hill.csv: there is no row with a date in it below the header; nothing was read from it, what was read before stays in force. See that the file is whole, and set date_format where its dates are not written year first.
    there is no site 'hom'; perhaps 'home' is meant
    -- exit 64 --
    ");
    assert_eq!(asked(&["2024-07-16", "--site", "home"]).code, 0);
    assert_snapshot!(asked(&["2024-07-16,apple chip bud", "--site", "hill"]), @r"
    -- error --
    hill.csv: there is no row with a date in it below the header; nothing was read from it, what was read before stays in force. See that the file is whole, and set date_format where its dates are not written year first.
    nothing is known of the temperatures at hill, so no date can be given; check its sources with `graftwarden check`
    -- exit 69 --
    ");
    assert_snapshot!(asked(&["2024-07-16", "--site", "hill"]), @r#"
    -- error --
    hill.csv: there is no row with a date in it below the header; nothing was read from it, what was read before stays in force. See that the file is whole, and set date_format where its dates are not written year first.
    say by which care plan, as in --if-grafted "2024-07-16,maple field T-graft": maple field T-graft, side-veneer under glass, apple chip bud, walnut field graft, grape bench graft
    -- exit 64 --
    "#);
}

#[test]
fn without_years_before_it_is_rough_and_without_working_days_there_is_no_advice() {
    let young = Nursery::small();
    let asked = "due --on 2024-07-15 --if-grafted 2024-07-16";
    let said = young.run(asked).well();
    let (_, said) = said.split_once("\n\n* ").unwrap();
    assert_snapshot!(said, @r"
    a day off. (1-5) = between these days of the month eight times out of ten. Fullest day: crew hours
    of these grafts and, no more in nine cases of ten, of all else that is due on it.
    The dates are rough: no year before is known, so the days to come are taken to be as warm as the last 14.

    Tue 16 - Mon 29 Jul: the last safe day is not known; no forecast reaches it

    The last safe day for grafting is not known, since fewer than five whole years before are known.

    The best day for grafting is Fri 19 Jul. Tue 16 Jul is not as good: the day to head back would be Sat 3 Aug, a day off.
    ");
    let idle = young.but(
        "graftwarden.toml",
        "zone = \"Europe/Brussels\"",
        "zone = \"Europe/Brussels\"\nworking_days = [\"Mon\"]\ndays_off = [\"2024-01-01..2026-12-31\"]",
    );
    let said = idle.run(asked).well();
    assert_snapshot!(said.lines().last().unwrap(), @r"None of the 14 days is a working day.");
    let due = idle.run("due --on 2024-07-15").well();
    assert_snapshot!(due.lines().last().unwrap(), @r"None of the next 14 days is a working day, so no work is put on any of them.");
}

#[test]
fn check_proposes_a_standard_day_and_says_how_late_can_be_grafted() {
    let notes = |nursery: &Nursery| {
        let said = nursery.run("check").well();
        let about = ["usual day", "last safe day", "last day for grafting"];
        let lines = said
            .lines()
            .filter(|line| about.iter().any(|word| line.contains(word)));
        lines.map(str::to_owned).collect::<Vec<_>>()
    };
    let known = notes(&nursery());
    assert_eq!(known.len(), 2, "{known:?}");
    // All days of 15 July to 31 August are of 15 °C·d; 48 days in each of six years.
    assert_snapshot!(known[0], @r"note  site home: a usual day of the grafting season gives 15.0 °C·d by maple field T-graft (mean of 288 days of years before), a standard day of the plan 15.0; to count in days of this site write standard_day = 15.0 under [[site]]");
    assert!(
        known[1].contains("-08-22 by maple field T-graft"),
        "{known:?}"
    );
    let set = nursery().but(
        "graftwarden.toml",
        "id = \"home\"",
        "id = \"home\"\nstandard_day = 14",
    );
    assert_eq!(notes(&set).len(), 1);
    let unknown = notes(&Nursery::small());
    assert_snapshot!(unknown.join("\n"), @r"note  site home: the last safe day for grafting is not known, since fewer than five whole years before are known (maple field T-graft)");
}
