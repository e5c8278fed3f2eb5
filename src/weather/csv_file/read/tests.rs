use super::super::file::{LeftOut, Why};
use super::*;
use crate::sheet::size;
use proptest::prelude::*;

pub(super) fn read_text(text: impl AsRef<[u8]>, layout: &Layout) -> TemperatureFile {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("temps.csv");
    std::fs::write(&path, text).unwrap();
    let mut file = read(&path, layout, Some(chrono_tz::Europe::Brussels));
    let shown = path.display().to_string();
    for problem in &mut file.problems {
        problem.place = problem.place.replace(&shown, "temps.csv");
    }
    file
}

/// The days as `date min max`, then remarks and problems.
#[track_caller]
pub(super) fn check_laid_out(text: impl AsRef<[u8]>, layout: &Layout, expect: &[&str]) {
    let file = read_text(text, layout);
    let mut found: Vec<String> = file
        .days
        .iter()
        .map(|day| format!("{} {:.1} {:.1}", day.date, day.min, day.max))
        .collect();
    found.extend(file.remarks.iter().map(|remark| format!("- {remark}")));
    found.extend(file.problems.iter().map(ToString::to_string));
    assert_eq!(found, expect);
}

#[track_caller]
pub(super) fn check(text: impl AsRef<[u8]>, expect: &[&str]) {
    check_laid_out(text, &Layout::default(), expect);
}

/// Readings every six hours of one day.
fn readings(date: &str, temperatures: [f64; 4]) -> String {
    let hours = ["00:00", "06:00", "12:00", "18:00"];
    let rows = hours.iter().zip(temperatures);
    rows.map(|(hour, t)| format!("{date} {hour},{t}"))
        .chain([String::new()])
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn daily_rows_are_days_in_order() {
    check(
        "date,tmin_c,tmax_c\n2026-08-02,9,21.5\n2026-08-01,8.5,20\n",
        &["2026-08-01 8.5 20.0", "2026-08-02 9.0 21.5"],
    );
}

#[test]
fn fahrenheit_becomes_celsius() {
    check(
        "date,tmin_f,tmax_f\n2026-08-01,50,86\n",
        &["2026-08-01 10.0 30.0"],
    );
    check(
        "date,min,max\n,Deg F,Deg F\n2026-08-01,50,86\n",
        &["2026-08-01 10.0 30.0"],
    );
    let layout = Layout {
        unit: Some(Unit::F),
        ..Layout::default()
    };
    check_laid_out(
        "date,min,max\n2026-08-01,50,86\n",
        &layout,
        &["2026-08-01 10.0 30.0"],
    );
    check_laid_out(
        "date,tmin_c,tmax_c\n2026-08-01,50,86\n",
        &layout,
        &[
            "2026-08-01 10.0 30.0",
            "temps.csv: the config says °F and the header says °C; the temperatures are taken to be in °F. Correct the unit in the config if it is wrong.",
        ],
    );
}

#[test]
fn a_semicolon_file_has_decimal_commas() {
    check(
        b"date;Temp min (\xB0C);Temp max (\xB0C)\r\n2026-08-01;8,5;20,25\r\n",
        &["2026-08-01 8.5 20.2"],
    );
}

#[test]
fn what_was_not_measured_is_not_there() {
    check(
        "date,tmin,tmax\n2026-08-01,,20\n2026-08-02,--,NaN\n2026-08-03,-9999,20\n2026-08-04,1,2\n2026-08-05,3\n",
        &["2026-08-04 1.0 2.0"],
    );
}

#[test]
fn a_cell_that_is_no_number_is_named() {
    check(
        "date,tmin,tmax\n2026-08-01,warm,20\n2026-08-02,9,21\n2026-08-32,9,21\n",
        &[
            "2026-08-02 9.0 21.0",
            "temps.csv, row 2, column tmin: 'warm' is not a temperature; this row is not used. Correct it, or leave the cell empty where nothing was measured.",
            "temps.csv, row 4, column date: '2026-08-32' is not a date; this row is not used. Correct it, or leave the cell empty where nothing was measured.",
        ],
    );
}

#[test]
fn many_bad_cells_are_counted() {
    let rows: Vec<String> = (0..25).map(|n| format!("2026-08-01,x{n},1")).collect();
    let rows = rows.join("\n");
    let file = read_text(format!("date,tmin,tmax\n{rows}"), &Layout::default());
    assert_eq!(file.problems.len(), 21);
    assert_eq!(file.problems[20].what, "5 more cells could not be read");
}

#[test]
fn decimal_commas_between_commas_are_not_guessed_at() {
    check(
        "date,tmin,tmax\n2026-08-01,8,5,20,5\n2026-08-02,9,21,\n",
        &[
            "2026-08-02 9.0 21.0",
            "temps.csv, row 2: it has 5 cells under 3 column names; this row is not used. Where numbers have a decimal comma, let the file be written with ; between the cells.",
        ],
    );
}

#[test]
fn a_date_twice_must_say_the_same() {
    check(
        "date,tmin,tmax\n2026-08-01,9,21\n2026-08-02,8,20\n2026-08-01,9,21\n2026-08-02,8.5,20\n",
        &[
            "2026-08-01 9.0 21.0",
            "temps.csv, rows 3 and 5: 2026-08-02 stands there with 8.0 to 20.0 °C and with 8.5 to 20.0 °C; the day is left out. Keep the row that is right.",
        ],
    );
}

#[test]
fn nothing_is_judged_here() {
    check(
        "date,tmin,tmax\n2026-08-01,30,10\n2026-08-02,-80,70\n",
        &["2026-08-01 30.0 10.0", "2026-08-02 -80.0 70.0"],
    );
}

#[test]
fn readings_are_grouped_by_their_date() {
    let text = format!(
        "time,temp\n{}{}2026-08-03 00:00,1\n",
        readings("2026-08-01", [8.0, 7.5, 20.0, 15.0]),
        readings("2026-08-02", [9.0, 8.5, 21.0, 16.0])
    );
    check(&text, &["2026-08-01 7.5 20.0", "2026-08-02 8.5 21.0"]);
    let file = read_text(&text, &Layout::default());
    assert_eq!(file.readings_per_day, Some(4));
    let left_out = LeftOut {
        date: "2026-08-03".parse().unwrap(),
        why: Why::Few { had: 1 },
    };
    assert_eq!(file.left_out, [left_out]);
}

#[test]
fn readings_of_intervals_give_their_extremes() {
    check(
        "time;Temp;High Temp;Low Temp\n2026-08-01 06:00;8;9;7\n2026-08-01 18:00;20;22;19\n2026-08-02 06:00;9;10;8\n2026-08-02 18:00;21;23;20\n",
        &["2026-08-01 7.0 22.0", "2026-08-02 8.0 23.0"],
    );
}

#[test]
fn daily_rows_stamped_with_midnight_are_daily_rows() {
    check(
        "date,tmin,tmax\n2026-08-01 00:00:00,8,20\n2026-08-02 00:00:00,9,21\n2026-08-02 00:00:00,9,22\n",
        &[
            "2026-08-01 8.0 20.0",
            "- if its times mark the end of each interval, as loggers' often do, set interval_end = true: midnight then belongs to the day before",
            "temps.csv, rows 3 and 4: 2026-08-02 stands there with 9.0 to 21.0 °C and with 9.0 to 22.0 °C; the day is left out. Keep the row that is right.",
        ],
    );
}

#[test]
fn gusts_and_rain_are_of_the_whole_day() {
    let file = read_text(
        "time,temp,gust_kmh,rain_mm\n2026-08-01 06:00,8,30,1.5\n2026-08-01 18:00,20,50,2\n",
        &Layout::default(),
    );
    assert_eq!(
        (file.days[0].gust, file.days[0].rain),
        (Some(50.0), Some(3.5))
    );
    let file = read_text(
        "date,tmin,tmax,gust_kmh,rain_mm\n2026-08-01,8,20,30,1.5\n2026-08-01,8,20,30,1.5\n",
        &Layout::default(),
    );
    assert_eq!(
        (file.days[0].gust, file.days[0].rain),
        (Some(30.0), Some(1.5))
    );
}

#[test]
fn one_temperature_a_day_is_not_enough() {
    check(
        "date,temp\n2026-08-01,8\n2026-08-02,9\n",
        &[
            "temps.csv: it has one temperature a day, and a day needs its minimum and its maximum; nothing was read from it, what was read before stays in force. Name a column for each in the config, or write readings through the day.",
        ],
    );
}

#[test]
fn two_faced_dates_need_a_format() {
    let text = "date;min;max\n02/08/2022;8,5;20\n03/08/2022;9;21\n";
    check(
        text,
        &[
            "temps.csv: the dates are written as '02/08/2022', with the day first or the month first; nothing was read from it, what was read before stays in force. Set date_format = \"%d/%m/%Y\" where the day stands first, \"%m/%d/%Y\" where the month does.",
        ],
    );
    let layout = |format: &str| Layout {
        date_format: Some(format.into()),
        ..Layout::default()
    };
    check_laid_out(
        text,
        &layout("%d/%m/%Y"),
        &["2022-08-02 8.5 20.0", "2022-08-03 9.0 21.0"],
    );
    check_laid_out(
        text,
        &layout("%d/%Q"),
        &[
            "temps.csv: date_format '%d/%Q' is not understood; nothing was read from it, what was read before stays in force. Write it with %Y, %m, %d, %H and %M, as %d/%m/%Y for 18/08/2026.",
        ],
    );
}

#[test]
fn a_file_of_no_use_says_why() {
    let unusable = |text: &str| {
        let file = read_text(text, &Layout::default());
        assert!(!file.usable);
        file.problems[0].what.clone()
    };
    assert_eq!(unusable(""), "the file is empty");
    assert_eq!(unusable("\n\n"), "there is nothing but blank rows in it");
    assert_eq!(
        unusable("date,tmin,tmax\n"),
        "there is no row with a date in it below the header"
    );
    assert_eq!(size(CAP), "1 GiB");
}

/// Every way of reading that the config can ask for.
fn any_layout() -> impl Strategy<Value = Layout> {
    const FORMATS: [&str; 6] = [
        "%d/%m/%Y",
        "%m/%d/%y %I:%M %p",
        "%d. %b%Y",
        "%Y-%j",
        "excel",
        "unix",
    ];
    let unit = prop::option::of(prop::sample::select(&Unit::ALL[..]));
    let format = prop::option::of(prop::sample::select(&FORMATS[..]));
    let decimal = prop::option::of(prop::sample::select(&['.', ','][..]));
    let clock = prop::option::of(-14 * 3600..14 * 3600);
    (unit, format, decimal, clock, any::<bool>(), 1..100_u32).prop_map(
        |(unit, format, decimal, clock, interval_end, percent)| Layout {
            unit,
            date_format: format.map(str::to_owned),
            decimal,
            clock: clock.and_then(chrono::FixedOffset::east_opt),
            interval_end,
            min_readings: Some(percent),
            ..Layout::default()
        },
    )
}

proptest! {
    #[test]
    fn whatever_is_in_the_file_is_borne(
        bytes in prop::collection::vec(any::<u8>(), 0..400),
        rows in "([0-9]{1,5}[-/.,: T]{0,2}|[,;\n+Z°C-]|AM|Jan){0,120}",
        layout in any_layout(),
    ) {
        let mut daily = b"date,tmin,tmax,gust_kmh,rain_mm\n2026-08-01,".to_vec();
        daily.extend(&bytes);
        let mut timed = b"time,temp\n2026-08-01 06:00,".to_vec();
        timed.extend(&bytes);
        let likely = format!("date,time,tmin,tmax,gust_kmh,rain_mm\n{rows}").into_bytes();
        for text in [bytes, daily, timed, likely] {
            let file = read_text(text, &layout);
            prop_assert!(file.usable || file.days.is_empty());
            prop_assert!(file.days.is_sorted_by(|a, b| a.date < b.date));
            for day in file.days {
                prop_assert!(day.min.is_finite() && day.max.is_finite());
                prop_assert!(day.gust.is_none_or(f64::is_finite) && day.rain.is_none_or(f64::is_finite));
            }
        }
    }

    #[test]
    fn any_figures_are_borne(min in any::<f64>(), max in any::<f64>(), rain in any::<f64>()) {
        let text = format!("date,tmin_f,tmax_f,rain_mm\n2026-08-01,{min},{max},{rain}\n2026-08-01,{min},{max},{rain}\n");
        for day in read_text(text, &Layout::default()).days {
            prop_assert!(day.min.is_finite() && day.max.is_finite());
            prop_assert!(day.rain.is_none_or(f64::is_finite));
        }
    }
}
