use super::*;
use chrono::FixedOffset;

/// The date and the time of day, at a site in Brussels.
#[track_caller]
fn check_laid_out(layout: &Layout, [date, time, zone]: [&str; 3], expect: &str) {
    let form = DateForm::new(layout, Some(chrono_tz::Europe::Brussels)).unwrap();
    let found = match form.read(date, time, zone) {
        Ok(Moment { date, second }) => {
            let time = second.map(|s| format!(" {:02}:{:02}", s / 3600, s / 60 % 60));
            format!("{date}{}", time.unwrap_or_default())
        }
        Err(bad) => format!("{bad:?}"),
    };
    assert_eq!(found, expect);
}

#[track_caller]
fn check(date: &str, time: &str, expect: &str) {
    check_laid_out(&Layout::default(), [date, time, ""], expect);
}

#[track_caller]
fn check_format(format: &str, date: &str, time: &str, expect: &str) {
    let layout = Layout {
        date_format: Some(format.into()),
        ..Layout::default()
    };
    check_laid_out(&layout, [date, time, ""], expect);
}

#[test]
fn dates_are_year_first_unless_said() {
    check("2026-08-18", "", "2026-08-18");
    check("20260818", "", "2026-08-18");
    check("2026/08/18", "", "2026-08-18");
    check("2026.08.18", "", "2026-08-18");
    for text in [
        "",
        "02/08/2022",
        "2026-08",
        "2026-13-01",
        "2026-08-18x",
        "2026-08-18 noon",
        "2026-08-18 25:00",
        "Average",
        "é026-08-18",
    ] {
        check(text, "", "Date");
    }
    check("2026-08-18", "noon", "Time");
}

#[test]
fn a_time_is_local_as_written() {
    check("2026-08-18 23:45", "", "2026-08-18 23:45");
    check("2026-08-18T23:45:00", "", "2026-08-18 23:45");
    check("2026-08-18, 23:45", "", "2026-08-18 23:45");
    check("2026-08-18", "11:45 PM", "2026-08-18 23:45");
    check("2026-08-18", "12:15 AM", "2026-08-18 00:15");
    check("2026-08-18 24:00", "", "2026-08-18 24:00");
    check("2026-08-18 23:45 CEST", "", "2026-08-18 23:45");
    check("2026-08-18 00:00:00", "13:45", "2026-08-18 13:45");
}

#[test]
fn an_offset_is_taken_to_the_zone() {
    check("2026-08-18T21:59:00Z", "", "2026-08-18 23:59");
    check("2026-08-18T22:00:00Z", "", "2026-08-19 00:00");
    check("2026-08-18T22:00:00.000+02:00", "", "2026-08-18 22:00");
    check("2026-08-18", "23:30-0500", "2026-08-19 06:30");
    check("2026-08-18", "22:30 UTC", "2026-08-19 00:30");
    check("2026-12-31T23:00Z", "", "2027-01-01 00:00");
    let row = ["2023-02-13", "11:30 PM", "UTC"];
    check_laid_out(&Layout::default(), row, "2023-02-14 00:30");
    let row = ["2023-02-13", "11:30 PM", "local"];
    check_laid_out(&Layout::default(), row, "2023-02-13 23:30");
}

/// A logger left on winter time: in summer the site's clocks are an hour ahead of it.
#[test]
fn a_fixed_clock_is_taken_to_the_zone() {
    let layout = Layout {
        clock: FixedOffset::east_opt(3600),
        ..Layout::default()
    };
    check_laid_out(&layout, ["2026-08-18 23:00", "", ""], "2026-08-19 00:00");
    check_laid_out(&layout, ["2026-08-18 22:59", "", ""], "2026-08-18 23:59");
    check_laid_out(&layout, ["2026-12-18 23:00", "", ""], "2026-12-18 23:00");
    check_laid_out(&layout, ["2026-08-18 23:00Z", "", ""], "2026-08-19 01:00");
    check_laid_out(&layout, ["2026-08-18", "", ""], "2026-08-18");
    check_laid_out(&layout, ["0000-01-01 00:00", "", ""], "Date");
}

#[test]
fn the_end_of_an_interval_belongs_to_the_day_before() {
    let mut layout = Layout {
        interval_end: true,
        ..Layout::default()
    };
    check_laid_out(&layout, ["2026-08-18 00:00:00", "", ""], "2026-08-17 23:59");
    check_laid_out(&layout, ["2026-08-17 24:00", "", ""], "2026-08-17 23:59");
    check_laid_out(&layout, ["2026-08-18 00:10", "", ""], "2026-08-18 00:09");
    check_laid_out(&layout, ["2026-08-18", "", ""], "2026-08-18");
    layout.clock = FixedOffset::east_opt(3600);
    check_laid_out(&layout, ["2026-08-18 23:00", "", ""], "2026-08-18 23:59");
    check_laid_out(&layout, ["2026-12-18 24:00", "", ""], "2026-12-18 23:59");
}

#[test]
fn a_format_is_followed() {
    check_format("%d/%m/%Y", "02/08/2022   15:30", "", "2022-08-02 15:30");
    check_format("%d.%m.%Y", "02.09.2024", "09:31:55", "2024-09-02 09:31");
    check_format("%d/%m/%y", "29/11/24", "", "2024-11-29");
    check_format("%d/%m/%Y %H:%M", "02/08/2022 24:00", "", "2022-08-02 24:00");
    check_format(
        "%d/%m/%Y %H:%M %z",
        "02/08/2022 23:30 +0000",
        "",
        "2022-08-03 01:30",
    );
    check_format("%d/%m/%Y", "31/02/2022", "", "Date");
    check_format("%d/%m/%Y", "2022-08-02", "", "Date");
    let odd = Layout {
        date_format: Some("%Q".into()),
        ..Layout::default()
    };
    assert!(DateForm::new(&odd, None).is_none());
}

/// 46252 is the number that spreadsheets show for 18 August 2026: 45658 for 1 January 2025 (their documentation), and
/// 365 + 229 days more.
#[test]
fn spreadsheets_count_days() {
    check_format("excel", "46252", "", "2026-08-18");
    check_format("excel", "46252.5", "", "2026-08-18 12:00");
    check_format("excel", "46252,0069444444", "", "2026-08-18 00:10");
    check_format("excel", "46252", "0.75", "2026-08-18 18:00");
    check_format("excel", "46252", "18:10", "2026-08-18 18:10");
    check_format("excel", "7", "", "Date");
    check("46252", "", "Date");
}

/// 1 000 000 000 was 9 September 2001, 01:46:40 in Greenwich.
#[test]
fn seconds_since_1970_are_of_greenwich() {
    check_format("unix", "1000000000", "", "2001-09-09 03:46");
    check_format("unix", "1000000000123", "", "2001-09-09 03:46");
    check_format("unix", "x", "", "Date");
    check("1000000000", "", "Date");
}
