//! One file for each shape in which loggers and stations write. The days are worked out by eye.

use super::tests::{check, check_laid_out, read_text};
use super::*;
use crate::weather::layout::Columns;
use chrono::FixedOffset;

fn day_first(format: &str) -> Layout {
    Layout {
        date_format: Some(format.into()),
        ..Layout::default()
    }
}

/// 1. Semicolons, decimal commas, day first, blanks in the header, extremes of each interval.
#[test]
fn a_reading_log_with_interval_extremes() {
    let text = "time;Barometer;Temp;High  Temp ;Low Temp;Hum;\n\
        02/08/2022   03:30;1015,0;18,9;19,2;18,8;70;\n\
        02/08/2022   15:30;1014,2;28,9;29,2;28,8;41;\n\
        03/08/2022   03:30;1013,0;17,0;17,4;16,6;75;\n\
        03/08/2022   15:30;1012,9;27,1;27,5;26,0;44;\n\
        04/08/2022   03:30;1012,9;16,1;16,5;16,0;80;\n";
    check_laid_out(
        text,
        &day_first("%d/%m/%Y"),
        &["2022-08-02 18.8 29.2", "2022-08-03 16.6 27.5"],
    );
    let file = read_text(text, &day_first("%d/%m/%Y"));
    assert_eq!((file.delimiter, file.decimal), (';', Some(',')));
    assert_eq!(file.columns.max.as_deref(), Some("High  Temp"));
}

/// 2. Date and time apart: with points, with two-digit years, with a twelve-hour clock and a column of zones.
#[test]
fn date_and_time_in_columns_of_their_own() {
    check_laid_out(
        "Date;Time;Temperature (C);Humidity (%)\n\
        02.09.2024;06:31:55;11.50;88\n02.09.2024;15:31:55;21.50;40\n\
        03.09.2024;06:31:55;12.00;88\n03.09.2024;15:31:55;22.25;40\n",
        &day_first("%d.%m.%Y"),
        &["2024-09-02 11.5 21.5", "2024-09-03 12.0 22.2"],
    );
    check_laid_out(
        "date,time,temp\n29/11/24,06:00,1\n29/11/24,18:00,5\n30/11/24,06:00,2\n30/11/24,18:00,6\n",
        &day_first("%d/%m/%y"),
        &["2024-11-29 1.0 5.0", "2024-11-30 2.0 6.0"],
    );
    // In Brussels these are 01:00 and 13:00 of the same day, and 01:00 and 13:00 of the next.
    check(
        "Date,Time,Zone,Temp\n2023-02-13,12:00 AM,UTC,1.5\n2023-02-13,12:00 PM,UTC,9.5\n\
        2023-02-14,12:00 AM,UTC,2.5\n2023-02-14,12:00 PM,UTC,8.5\n",
        &["2023-02-13 1.5 9.5", "2023-02-14 2.5 8.5"],
    );
}

/// 3. Four header lines; the time is the end of the interval, on winter time all year.
#[test]
fn a_logger_with_four_header_lines() {
    let text = "\"TOB\",\"north\",\"LG8\",\"8117\",\"OS.3\",\"prog.x\",\"40116\",\"Hourly\"\r\n\
        \"TIMESTAMP\",\"RECORD\",\"AirTC_Avg\",\"RH\"\r\n\"TS\",\"RN\",\"Deg C\",\"%\"\r\n\
        \"\",\"\",\"Avg\",\"Smp\"\r\n\
        \"2026-07-01 05:00:00\",1,8.25,80\r\n\"2026-07-01 12:00:00\",2,\"NAN\",80\r\n\
        \"2026-07-01 16:00:00\",3,22.5,50\r\n\"2026-07-02 00:00:00\",4,7.5,85\r\n\
        \"2026-07-02 05:00:00\",5,9,85\r\n\"2026-07-02 12:00:00\",6,7999,85\r\n\
        \"2026-07-02 16:00:00\",7,23.5,85\r\n\"2026-07-02 22:00:00\",8,13,85\r\n\
        \"2026-07-02 22:30:00\",9,12,85\r\n\"2026-07-03 05:00:00\",10,1,85\r\n";
    // Midnight ends the first day, which is then the day with 7.5 in it.
    let mut layout = Layout {
        interval_end: true,
        ..Layout::default()
    };
    check_laid_out(
        text,
        &layout,
        &["2026-07-01 7.5 22.5", "2026-07-02 9.0 23.5"],
    );
    // Its clock is on winter time: 23:00 there is midnight on the site's clocks, and ends the day just the same.
    layout.clock = FixedOffset::east_opt(3600);
    let late = text.replace("07-02 00:00:00", "07-01 23:00:00");
    check_laid_out(
        &late,
        &layout,
        &["2026-07-01 7.5 22.5", "2026-07-02 9.0 23.5"],
    );
    check_laid_out(
        text,
        &Layout::default(),
        &[
            "2026-07-02 7.5 23.5",
            "- if its times mark the end of each interval, as loggers' often do, set interval_end = true: midnight then belongs to the day before",
        ],
    );
    assert_eq!(read_text(text, &layout).unit_by, NamedBy::File);
}

/// 4. Many lines before the header, a legend and blank lines among them.
#[test]
fn a_preamble_is_passed_over() {
    let preamble: Vec<String> = (1..=24)
        .map(|n| format!("Remark {n}: values, as of 2026\n"))
        .collect();
    let preamble = preamble.concat();
    let text = format!(
        "{preamble}\nDay,AirT_Max,AirT_Min\nTS,Deg F,Deg F\n2026-08-01,68,50\n2026-08-02,77,59\n"
    );
    check(&text, &["2026-08-01 10.0 20.0", "2026-08-02 15.0 25.0"]);
    assert_eq!(read_text(&text, &Layout::default()).header_row, Some(26));
    let layout = Layout {
        columns: Columns {
            min: Some("Sensor 3 low".into()),
            max: Some("Sensor 3 high".into()),
            ..Columns::default()
        },
        ..Layout::default()
    };
    check_laid_out(
        "Station north\n\nTIMESTAMP,Sensor 3 high,Sensor 3 low\n\"2026-08-01 00:00:00\",20,8\n",
        &layout,
        &[
            "2026-08-01 8.0 20.0",
            "- if its times mark the end of each interval, as loggers' often do, set interval_end = true: midnight then belongs to the day before",
        ],
    );
}

/// 5. A service's daily summary: flags beside the values, empty where nothing was measured.
#[test]
fn a_daily_summary_with_flags() {
    check(
        "\"Date/Time\",\"Year\",\"Month\",\"Day\",\"Max Temp (°C)\",\"Max Temp Flag\",\"Min Temp (°C)\",\"Min Temp Flag\",\"Spd of Max Gust (km/h)\"\n\
        \"2026-08-01\",\"2026\",\"08\",\"01\",\"24.1\",\"\",\"9.3\",\"E\",\"<31\"\n\
        \"2026-08-02\",\"2026\",\"08\",\"02\",\"\",\"M\",\"8.8\",\"\",\"35\"\n\
        \"2026-08-03\",\"2026\",\"08\",\"03\",\"25.0\",\"\",\"10.0\",\"\",\"\"\n",
        &["2026-08-01 9.3 24.1", "2026-08-03 10.0 25.0"],
    );
}

/// 6. Two header rows, in which each sensor has the same names.
#[test]
fn grouped_names_are_told_apart_by_number() {
    let text = ",,Frame A,,Frame B,\nDate,Time,Temp,RH,Temp,RH\n,,°F,%,°F,%\n\
        2026-08-01,06:00,46.4,80,50,80\n2026-08-01,18:00,68,80,77,80\n\
        2026-08-02,06:00,48.2,80,53.6,80\n2026-08-02,18:00,70,80,75.2,80\n";
    check(
        text,
        &[
            "temps.csv: 2 columns are named 'Temp'; nothing was read from it, what was read before stays in force. Name the one that is meant by its number in the config: \"#3\" is the first of them.",
        ],
    );
    let layout = Layout {
        columns: Columns {
            temp: Some("#5".into()),
            ..Columns::default()
        },
        ..Layout::default()
    };
    check_laid_out(
        text,
        &layout,
        &["2026-08-01 10.0 25.0", "2026-08-02 12.0 24.0"],
    );
}

/// 7. What spreadsheets and programs do to a file: marks, encodings, ends of lines, summaries, half a line.
#[test]
fn every_dress_of_the_same_file() {
    let days = ["2026-08-01 8.5 20.0", "2026-08-02 9.0 21.5"];
    let text =
        "sep=;\r\nDate;Min (°C);Max (°C);\r\n2026-08-02;9,0;21,5;\r\n2026-08-01;8,5;20,0;\r\n";
    let utf16 = |bytes: fn(u16) -> [u8; 2]| {
        let text = format!("\u{feff}{text}");
        text.encode_utf16().flat_map(bytes).collect::<Vec<u8>>()
    };
    let windows: Vec<u8> = text.chars().map(|c| c as u8).collect();
    for (bytes, encoding) in [
        (text.as_bytes().to_vec(), "UTF-8"),
        (format!("\u{feff}{text}").into_bytes(), "UTF-8 with a mark"),
        (windows, "Windows-1252"),
        (utf16(u16::to_le_bytes), "UTF-16"),
        (utf16(u16::to_be_bytes), "UTF-16"),
        (text.replace("\r\n", "\r").into_bytes(), "UTF-8"),
        (
            text.replace(';', "\t")
                .replace("sep=\t\r\n", "")
                .into_bytes(),
            "UTF-8",
        ),
    ] {
        check(&bytes, &days);
        let file = read_text(&bytes, &Layout::default());
        assert_eq!((file.encoding, file.unit_by), (encoding, NamedBy::File));
    }
}

/// 8. Every way to say nothing, and to write a number.
#[test]
fn cells_say_nothing_in_many_ways() {
    let nothing = [
        "", "-", "--", "---", "----", "NaN", "NAN", "NA", "N/A", "null", "M", "-9999", "-9999.0",
        "-999.9", "-99", "32767", "-32768", "255", "#NAME?", "+9999",
    ];
    let rows: Vec<String> = nothing
        .iter()
        .zip(1..)
        .map(|(cell, day)| format!("2026-08-{day:02};{cell};20\n"))
        .collect();
    check(
        format!(
            "date;min;max\n{}2026-08-30;\u{2212}1,5 °C;21.5 °C\n",
            rows.concat()
        ),
        &["2026-08-30 -1.5 21.5"],
    );
    let layout = Layout {
        missing: vec!["77.7".into(), "aus".into()],
        ..Layout::default()
    };
    check_laid_out(
        "date,min,max\n2026-08-01,77.70,20\n2026-08-02,Aus,20\n2026-08-03,1,20\n",
        &layout,
        &["2026-08-03 1.0 20.0"],
    );
}

/// 9. Dates that must be said: a spreadsheet's numbers, seconds, and which of day and month stands first.
#[test]
fn dates_are_never_guessed_at() {
    check(
        "date;min;max\n02/08/2022;8,5;20\n18/08/2022;9;21\n",
        &[
            "temps.csv: the dates are written as '02/08/2022'; the day stands first, because row 3 has '18/08/2022' and there is no month 18; nothing was read from it, what was read before stays in force. Set date_format = \"%d/%m/%Y\" if that is so: dates are never guessed at.",
        ],
    );
    let days = ["2026-08-18 8.0 20.0"];
    check_laid_out("date,min,max\n46252,8,20\n", &day_first("excel"), &days);
    check(
        "date,min,max\n46252,8,20\n",
        &[
            "temps.csv: where the dates should be there is '46252', which may be one of a spreadsheet's days; nothing was read from it, what was read before stays in force. Set date_format = \"excel\" if it is.",
        ],
    );
    // 18 August 2026, 04:00 and 16:00 in Greenwich: 20 683 days of 86 400 s since 1970, and a part of one.
    check_laid_out(
        "time,temp\n1787025600,8\n1787068800,20\n",
        &day_first("unix"),
        &days,
    );
    check(
        "time,temp\n1787025600,8\n1787068800,20\n",
        &[
            "temps.csv: where the dates should be there is '1787025600', which may be one of seconds since 1970; nothing was read from it, what was read before stays in force. Set date_format = \"unix\" if it is.",
        ],
    );
    check_laid_out(
        "date,min,max\n18. Aug. 2026,8,20\n",
        &day_first("%d. %b%Y"),
        &days,
    );
}

/// 10. In the hour that autumn repeats, later readings are as good as the first.
#[test]
fn a_repeated_hour_is_one_day() {
    check(
        "time,temp\n2026-10-25 01:00,9\n2026-10-25 02:00,8\n2026-10-25 02:00,5\n2026-10-25 03:00,7\n2026-10-26 01:00,1\n2026-10-26 02:00,2\n2026-10-26 03:00,3\n",
        &[
            "2026-10-25 5.0 9.0",
            "2026-10-26 1.0 3.0",
            "- 1 row is of a minute that was there before (exports that overlap, or the hour that autumn repeats): each minute counts once",
        ],
    );
}
