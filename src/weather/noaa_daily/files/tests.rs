use super::*;
use std::fmt::Write;
use std::fs;

/// The days of a file as `date minimum maximum`, what was left out, and what was told.
type Heard = (Vec<String>, Vec<String>, Vec<String>);

/// What a file of this content says.
fn heard(content: impl AsRef<[u8]>, station: Option<&str>) -> Result<Heard, String> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("station");
    fs::write(&path, content).unwrap();
    let wanted = Wanted {
        station: station.map(str::to_owned),
        from: "2026-02-02".parse().unwrap(),
        until: "2026-03-02".parse().unwrap(),
    };
    let file = read(&path, &wanted).map_err(|problem| problem.what)?;
    let found = file.readings.days();
    let days = found
        .days
        .iter()
        .map(|d| format!("{} {} {}", d.date, d.min, d.max))
        .collect();
    let told = file
        .problems
        .into_iter()
        .map(|problem| problem.what)
        .collect();
    Ok((days, found.dropped, told))
}

#[track_caller]
fn check(content: &str, days: &[&str], dropped: &[&str], told: &[&str]) {
    let (found, left_out, problems) = heard(content, None).unwrap();
    assert_eq!(found, days);
    assert_eq!(left_out, dropped);
    assert_eq!(problems, told);
}

#[track_caller]
fn refused(content: &str, why: &str) {
    assert_eq!(heard(content, None).unwrap_err(), why);
}

/// A line of February 2026 with these days' values and flags, all others missing. Blanks at its end are cut.
fn line(element: &str, days: &[(usize, i32, &str)]) -> String {
    let mut line = format!("USC00990011202602{element}");
    for day in 1..=31 {
        let found = days.iter().find(|(that, _, _)| *that == day);
        let (value, flags) = found.map_or((-9999, "   "), |(_, value, flags)| (*value, *flags));
        write!(line, "{value:5}{flags}").unwrap();
    }
    line.trim_end().to_owned() + "\n"
}

#[test]
fn fixed_width_lines() {
    let content = line(
        "TMAX",
        &[
            (1, 100, "  7"),
            (2, 122, "  7"),
            (3, -6, "  7"),
            (28, 50, "  7"),
        ],
    ) + &line(
        "TMIN",
        &[
            (2, 11, "  7"),
            (3, -111, " I7"),
            (28, -50, "  7"),
            (30, 33, "  7"),
        ],
    ) + &line("SNOW", &[(2, 999, "  7")]);
    check(
        &content,
        &["2026-02-02 1.1 12.2", "2026-02-28 -5 5"],
        &[
            "TMIN of 2026-02-03: it failed a check of NOAA's (flag I: not consistent with the day's other values)",
        ],
        &[],
    );
}

#[test]
fn a_short_line_ends_in_missing_days() {
    check(
        "USC00990011202602TMAX-9999     122  7\nUSC00990011202602TMIN-9999      11  7\n",
        &["2026-02-02 1.1 12.2"],
        &[],
        &[],
    );
}

const ROWS: &str = "USC00990011,20260201,TMAX,100,,,7,0700\nUSC00990011,20260203,TMIN,-6,,,7,0700\n\
    USC00990011,20260203,TMAX,122,,,7,0700\nUSC00990011,20260203,PRCP,25,,,7,\n\
    USC00990011,20260204,TMAX,130,,X,7,0700\nUSC00990011,20260204,TMIN,20,,,7\nUSC00990011,20260302,TMIN,20,,,7,\n";

#[test]
fn rows_with_and_without_a_header() {
    let left_out =
        "TMAX of 2026-02-04: it failed a check of NOAA's (flag X: outside what is possible)";
    check(ROWS, &["2026-02-03 -0.6 12.2"], &[left_out], &[]);
    let header = "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\r\n";
    let with_header = header.to_owned() + &ROWS.replace('\n', "\r\n");
    check(&with_header, &["2026-02-03 -0.6 12.2"], &[left_out], &[]);
}

#[test]
fn a_bad_line_costs_itself_only() {
    let content = ROWS.to_owned()
        + "USC00990011,20260230,TMAX,1,,,7,\nUSC00990011,20260205,TMAX,warm,,,7,\nUSC00990011,20260205,TM";
    let (days, _, told) = heard(&content, None).unwrap();
    assert_eq!(days, ["2026-02-03 -0.6 12.2"]);
    assert_eq!(
        told,
        ["line 8 could not be read: '20260230' is not a date like 20260701, and 2 more like it"]
    );
    let broken = line("TMAX", &[(2, 122, "  7")]).replace("  122", " 12.2") + "USC0099001120\n";
    let (_, _, told) = heard(&broken, None).unwrap();
    assert_eq!(
        told,
        ["line 1 could not be read: '12.2' is not a whole number, and 1 more like it"]
    );
}

#[test]
fn of_several_stations_one_must_be_named() {
    let both =
        ROWS.to_owned() + "USC00990012,20260203,TMAX,150,,,7,\nUSC00990012,20260203,TMIN,50,,,7,\n";
    refused(
        &both,
        "it has more than one station, USC00990011 and USC00990012",
    );
    assert_eq!(
        heard(&both, Some("USC00990012")).unwrap().0,
        ["2026-02-03 5 15"]
    );
}

#[test]
fn a_station_that_is_not_in_the_file_is_said() {
    let why = heard(ROWS, Some("USC00990012")).unwrap_err();
    assert_eq!(why, "it has no line of station USC00990012");
    assert_eq!(heard(ROWS, Some("USC00990011")).unwrap().0.len(), 1);
}

#[test]
fn what_is_no_such_file_is_refused() {
    refused("", "the file is empty");
    refused("\n\n", "there is nothing in it");
    refused(
        "\"STATION\",\"DATE\",\"LATITUDE\",\"TMAX\"\n",
        "its first line is none of a GHCN-Daily file: \"STATION\",\"DATE\",\"LATITUDE\",\"TMAX\"",
    );
    refused(
        "<html><head><title>503 Service Unavailable</title>",
        "its first line is none of a GHCN-Daily file: <html><head><title>503 Service Unavailable</title>",
    );
    assert_eq!(
        heard([0x1f, 0x8b, 8, 0], None).unwrap_err(),
        "it is packed (gzip)"
    );
    let folder = tempfile::tempdir().unwrap();
    let wanted = Wanted {
        station: None,
        from: NaiveDate::MIN,
        until: NaiveDate::MAX,
    };
    assert_eq!(
        read(folder.path(), &wanted).unwrap_err().what,
        "this is a folder, not a file"
    );
}
