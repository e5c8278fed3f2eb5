//! `days --try`: everything it says about three shapes of file, and what it says of files that cannot be used.

use std::fmt::Write;
use std::path::Path;
use std::process::Command;

struct Said {
    out: String,
    error: String,
    code: Option<i32>,
}

/// Runs the program in a folder with this file.
fn tried(name: &str, content: impl AsRef<[u8]>, arguments: &[&str]) -> Said {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join(name), content).unwrap();
    run_in(folder.path(), name, arguments)
}

fn run_in(folder: &Path, name: &str, arguments: &[&str]) -> Said {
    let output = Command::new(env!("CARGO_BIN_EXE_graftwarden"))
        .current_dir(folder)
        .args(["days", "--try", name])
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    let said = Said {
        out: text(output.stdout),
        error: text(output.stderr),
        code: output.status.code(),
    };
    if !arguments.contains(&"--json") {
        let wide: Vec<&str> = said
            .out
            .lines()
            .filter(|l| l.chars().count() > 100)
            .collect();
        assert_eq!(wide, [""; 0], "wider than 100 columns");
    }
    said
}

const LOG: &str = "time;Barometer;Temp;High Temp;Low Temp;\r\n\
    02/08/2022   03:30;1015,0;18,9;19,2;18,8;\r\n02/08/2022   15:30;1014,2;28,9;29,2;28,8;\r\n\
    18/08/2022   03:30;1013,0;17,0;17,4;16,6;\r\n18/08/2022   15:30;1012,9;27,1;27,5;26,0;\r\n\
    19/08/2022   03:30;1012,9;16,1;16,5;16,0;\r\n";

#[test]
fn a_reading_log_whose_dates_decide_themselves() {
    let said = tried("gate.csv", LOG, &[]);
    insta::assert_snapshot!(said.out, @r#"
    gate.csv can be used: 2 whole days from 2022-08-02 to 2022-08-18, 2 readings a day.

    text          UTF-8, cells parted by semicolons, decimal comma
    names         in row 1
    date          time
    minimum       Low Temp
    maximum       High Temp
    unit          °C, taken for granted: nothing in the file names it
    dates         %d/%m/%Y: the day stands first, because row 4 has '18/08/2022' and there is no month
                  18. Make sure of it: no more than that is known
    clock         the site's own, or the offset that stands with a time
    missing       15 dates between the first and the last day
    left out      2022-08-19 (1 of 2 readings)

    date        min °C  max °C
    2022-08-02    18.8    29.2
    2022-08-18    16.6    27.5

    To use it, paste this below its [[site]] (paths count from the folder of the config):

    [[site.weather]]
    source = "file"
    path = "gate.csv"
    unit = "C"
    date_format = "%d/%m/%Y"
    delimiter = ";"
    columns = { date = "time", min = "Low Temp", max = "High Temp" }
    "#);
    assert_eq!((said.error.as_str(), said.code), ("", Some(0)));
}

const LOGGER: &str = "\"TOB\",\"north\",\"LG8\",\"8117\"\n\"TIMESTAMP\",\"RECORD\",\"AirTC_Max\",\"AirTC_Min\"\n\
    \"TS\",\"RN\",\"Deg C\",\"Deg C\"\n\"\",\"\",\"Max\",\"Min\"\n\
    \"2026-07-02 00:00:00\",1,22.5,8.25\n\"2026-07-03 00:00:00\",2,23.5,\"NAN\"\n\"2026-07-04 00:00:00\",3,24,9.5\n";

#[test]
fn a_logger_whose_midnights_end_the_day() {
    let said = tried("north.dat", LOGGER, &["--set", "interval_end = true"]);
    insta::assert_snapshot!(said.out, @r#"
    north.dat can be used: 2 whole days from 2026-07-01 to 2026-07-03, a row a day.

    text          UTF-8, cells parted by commas, decimal point
    names         in row 2
    date          TIMESTAMP
    minimum       AirTC_Min
    maximum       AirTC_Max
    unit          °C, as the file says
    dates         year first
    clock         the site's own, or the offset that stands with a time; a time is the end of its
                  interval, midnight belongs to the day before
    missing       1 date between the first and the last day

    date        min °C  max °C
    2026-07-01     8.2    22.5
    2026-07-03     9.5    24.0

    To use it, paste this below its [[site]] (paths count from the folder of the config):

    [[site.weather]]
    source = "file"
    path = "north.dat"
    unit = "C"
    interval_end = true
    columns = { date = "TIMESTAMP", min = "AirTC_Min", max = "AirTC_Max" }
    "#);
    assert_eq!((said.error.as_str(), said.code), ("", Some(0)));
}

/// Nine days of readings each hour in Windows-1252, some rows lost, some twice, the last one half written.
fn hourly() -> Vec<u8> {
    let mut text = "Alder Fold, frame 2\n\nDate\tTime\tTemp (°C)\n".to_owned();
    for day in 1..=9 {
        for hour in 0..24 {
            if day != 4 || hour < 9 {
                let t = 10 + day + hour / 2;
                writeln!(text, "2026-07-0{day}\t{hour:02}:00\t{t}.5").unwrap();
            }
        }
    }
    text.push_str("2026-07-01\t00:00\t11.5\nMean:\t\t20.1\n2026-07-10\t00:0");
    text.chars().map(|c| c as u8).collect()
}

#[test]
fn readings_with_gaps_and_leftovers() {
    let said = tried("frame 2.txt", hourly(), &[]);
    insta::assert_snapshot!(said.out, @r#"
    frame 2.txt can be used: 8 whole days from 2026-07-01 to 2026-07-09, 24 readings a day.

    text          Windows-1252, cells parted by tabs, decimal point
    names         in row 3
    date          Date
    time          Time
    temperature   Temp (°C)
    unit          °C, as the file says
    dates         year first
    clock         the site's own, or the offset that stands with a time
    missing       1 date between the first and the last day
    left out      2026-07-04 (9 of 24 readings)

    - Row 207, the last one, is only half written: it is left until it is whole.
    - Row 206 has no date and sums up: it is passed over.
    - 1 row is of a minute that was there before (exports that overlap, or the hour that autumn
      repeats): each minute counts once.

    date        min °C  max °C
    2026-07-01    11.5    22.5
    2026-07-02    12.5    23.5
    2026-07-03    13.5    24.5
    ...
    2026-07-07    17.5    28.5
    2026-07-08    18.5    29.5
    2026-07-09    19.5    30.5

    To use it, paste this below its [[site]] (paths count from the folder of the config):

    [[site.weather]]
    source = "file"
    path = "frame 2.txt"
    unit = "C"
    delimiter = "\t"
    columns = { date = "Date", time = "Time", temp = "Temp (°C)" }
    "#);
    assert_eq!((said.error.as_str(), said.code), ("", Some(0)));
}

#[test]
fn the_same_as_json() {
    let said = tried("frame 2.txt", hourly(), &["--json"]);
    let object: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    insta::assert_snapshot!(serde_json::to_string_pretty(&object).unwrap(), @r#"
    {
      "file": "frame 2.txt",
      "usable": true,
      "files": 1,
      "encoding": "Windows-1252",
      "delimiter": "\t",
      "decimal": ".",
      "header_row": 3,
      "columns": {
        "date": "Date",
        "time": "Time",
        "temp": "Temp (°C)"
      },
      "unit": "C",
      "unit_by": "file",
      "date_format": null,
      "date_format_because": null,
      "clock": null,
      "interval_end": false,
      "first": "2026-07-01",
      "last": "2026-07-09",
      "days": 8,
      "missing": 1,
      "readings_a_day": 24,
      "left_out": [
        {
          "date": "2026-07-04",
          "why": "few",
          "readings": 9
        }
      ],
      "remarks": [
        "row 207, the last one, is only half written: it is left until it is whole",
        "row 206 has no date and sums up: it is passed over",
        "1 row is of a minute that was there before (exports that overlap, or the hour that autumn repeats): each minute counts once"
      ],
      "problems": [],
      "config": [
        "[[site.weather]]",
        "source = \"file\"",
        "path = \"frame 2.txt\"",
        "unit = \"C\"",
        "delimiter = \"\\t\"",
        "columns = { date = \"Date\", time = \"Time\", temp = \"Temp (°C)\" }"
      ]
    }
    "#);
    assert_eq!((said.error.as_str(), said.code), ("", Some(0)));
}

#[test]
fn a_pattern_means_all_its_files() {
    let folder = tempfile::tempdir().unwrap();
    for month in [7, 8] {
        let rows = format!("date,tmin_c,tmax_c\n2026-0{month}-01,8,20\n");
        std::fs::write(folder.path().join(format!("hill-{month}.csv")), rows).unwrap();
    }
    let said = run_in(folder.path(), "hill-*.csv", &[]);
    let begins = "hill-*.csv can be used: 2 whole days from 2026-07-01 to 2026-08-01, a row a day.\n\nfiles         2; the newest says most\n";
    assert!(said.out.starts_with(begins), "{}", said.out);
}

/// Nothing is printed but why the file cannot be used, and what to set.
#[track_caller]
fn check_unusable(content: &str, arguments: &[&str], code: i32, expect: &str) {
    let said = tried("hill.csv", content, arguments);
    assert_eq!(said.error, expect);
    assert_eq!((said.out.as_str(), said.code), ("", Some(code)));
}

#[test]
fn a_file_that_cannot_be_used_says_what_to_set() {
    let help = "Try it again with --set and the line to set, as in --set 'unit = \"F\"'.\n";
    check_unusable(
        "date;min;max\n02/08/2022;8,5;20\n",
        &[],
        65,
        &format!(
            "hill.csv: the dates are written as '02/08/2022', with the day first or the month first; nothing was read from it, what was read before stays in force. Set date_format = \"%d/%m/%Y\" where the day stands first, \"%m/%d/%Y\" where the month does.\n{help}"
        ),
    );
    check_unusable(
        "date,sensor 1\n2026-08-01,8\n",
        &[],
        65,
        &format!(
            "hill.csv: no column for the temperatures is recognised; the header reads \"date, sensor 1\"; nothing was read from it, what was read before stays in force. Name the columns in the config, for example columns = {{ date = \"...\", min = \"...\", max = \"...\" }}, or by number: \"#3\".\n{help}"
        ),
    );
}

#[test]
fn lines_that_make_no_sense_are_shown() {
    let said = tried("hill.csv", LOG, &["--set", "date_fromat = \"%d/%m/%Y\""]);
    assert_eq!(said.code, Some(78));
    assert!(
        said.error.contains("perhaps `date_format` is meant"),
        "{}",
        said.error
    );
    let said = tried("hill.csv", LOG, &["--site", "hill"]);
    assert_eq!(said.code, Some(64));
}

#[test]
fn json_of_a_file_that_cannot_be_used_ends_with_65() {
    let said = tried("hill.csv", "nothing\n", &["--json"]);
    let object: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!((&object["usable"], said.code), (&false.into(), Some(65)));
    assert_eq!(object["problems"].as_array().map(Vec::len), Some(1));
}

/// Days that cannot have been would count as missing: they are none here either.
#[test]
fn impossible_days_are_not_called_usable() {
    let said = tried(
        "gate.csv",
        "date,tmin_c,tmax_c\n2026-08-01,25,15\n2026-08-02,12,22\n2026-08-03,10,95\n",
        &[],
    );
    insta::assert_snapshot!(said.out, @r#"
    gate.csv can be used: one whole day, 2026-08-02, a row a day.

    text          UTF-8, cells parted by commas
    names         in row 1
    date          date
    minimum       tmin_c
    maximum       tmax_c
    unit          °C, as the file says
    dates         year first
    clock         the site's own, or the offset that stands with a time

    - gate.csv, 2026-08-01: minimum 25 °C is above maximum 15 °C; the day counts as missing. Mend the
      value.
    - gate.csv, 2026-08-03: 10 to 95 °C cannot be; the day counts as missing. Mend the value.

    date        min °C  max °C
    2026-08-02    12.0    22.0

    To use it, paste this below its [[site]] (paths count from the folder of the config):

    [[site.weather]]
    source = "file"
    path = "gate.csv"
    unit = "C"
    columns = { date = "date", min = "tmin_c", max = "tmax_c" }
    "#);
    let said = tried("gate.csv", "date,tmin_c,tmax_c\n2026-08-01,25,15\n", &[]);
    assert_eq!(said.code, Some(65));
    insta::assert_snapshot!(said.error, @r#"
    gate.csv, 2026-08-01: minimum 25 °C is above maximum 15 °C; the day counts as missing. Mend the value.
    Try it again with --set and the line to set, as in --set 'unit = "F"'.
    "#);
}

#[test]
fn gusts_and_rain_without_a_unit_are_said_not_to_be_read() {
    let said = tried(
        "gate.csv",
        "date,tmin_c,tmax_c,Gust,Rain (in)\n2026-08-01,12,22,40,0.1\n",
        &[],
    );
    insta::assert_snapshot!(said.out, @r#"
    gate.csv can be used: one whole day, 2026-08-01, a row a day.

    text          UTF-8, cells parted by commas
    names         in row 1
    date          date
    minimum       tmin_c
    maximum       tmax_c
    unit          °C, as the file says
    dates         year first
    clock         the site's own, or the offset that stands with a time

    - gate.csv: column 'Gust' is not read, since its heading does not say that it is in km/h; no gust is
      taken from it, the temperatures are. If it is in km/h, head it 'gust_kmh', or name it in the
      config: columns = { gust = "Gust" }.
    - gate.csv: column 'Rain (in)' is not read, since its heading does not say that it is in mm; no rain
      is taken from it, the temperatures are. If it is in mm, head it 'rain_mm', or name it in the
      config: columns = { rain = "Rain (in)" }.

    date        min °C  max °C
    2026-08-01    12.0    22.0

    To use it, paste this below its [[site]] (paths count from the folder of the config):

    [[site.weather]]
    source = "file"
    path = "gate.csv"
    unit = "C"
    columns = { date = "date", min = "tmin_c", max = "tmax_c" }
    "#);
}
