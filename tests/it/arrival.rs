//! When a need is met, against the published figures and through the command line.

use crate::published::{Met, checks, daily, date, degree_day_model, number, rows, run};
use graftwarden::days::PastYears;
use graftwarden::outlook::{Dates, Futures, Known, Requirement, arrival};
use std::process::{Command, Output};

#[test]
fn years_before_as_continuation() {
    let mut checked = Met::default();
    for row in rows("arrival.csv") {
        let (first, days) = run(&daily(&row["dataset"]));
        let known = Known {
            first,
            days: &days,
            past: &PastYears::default(),
            through: date(&row["today"]),
            from: date(&row["start"]),
        };
        let futures = Futures::new(&degree_day_model(&row), known, date(&row["horizon"]));
        let anchor = Dates::certain(date(&row["start"]).pred_opt().unwrap());
        let need = Requirement::certain(number(&row, "requirement_cday"));
        let band = arrival(&futures, &anchor, need).band();
        for (percent, found) in [("p10", band.p10), ("p50", band.p50), ("p90", band.p90)] {
            assert_eq!(found, Some(date(&row[percent])), "{percent} of {row:?}");
        }
        assert_eq!(futures.members().to_string(), row["members"], "{row:?}");
        assert_eq!(
            futures.left_out().to_string(),
            row["members_left_out"],
            "{row:?}"
        );
        checked.one(&row["dataset"]);
    }
    checked.check(&[("clemson_1991_2020", 4), ("seattle", 2)]);
}

/// The program on a file of the check data, or on one written for the purpose.
fn graftwarden(arguments: &str, temps: &std::path::Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_graftwarden"))
        .args(["heat", "--arrival", "--temps"])
        .arg(temps)
        .args(arguments.split_whitespace())
        .output()
        .unwrap()
}

#[track_caller]
fn check(arguments: &str, code: i32, out: &str, err: &str) {
    let done = graftwarden(arguments, &checks().join("data/seattle.csv"));
    assert_eq!(String::from_utf8(done.stdout).unwrap(), out);
    assert_eq!(String::from_utf8(done.stderr).unwrap(), err);
    assert_eq!(done.status.code(), Some(code));
}

const SPRING: &str =
    "--from 2015-02-01 --today 2015-03-20 --need 300 --base 5 --upper 25 --cutoff horizontal";

#[test]
fn in_words() {
    check(
        &format!("{SPRING} --horizon 2015-12-31"),
        0,
        "single-sine, base 5 °C, horizontal above 25 °C\n\
         2015-02-01 to 2015-03-20: 222.1 °C·d so far\n\
         300 °C·d reached about Tue 7 Apr 2015 (Sat 4 Apr 2015 - Fri 10 Apr 2015)\n\
         by 3 years before\n",
        "",
    );
}

#[test]
fn what_lies_beyond_the_horizon_is_said_so() {
    check(
        &format!("{SPRING} --horizon 2015-04-05"),
        0,
        "single-sine, base 5 °C, horizontal above 25 °C\n\
         2015-02-01 to 2015-03-20: 222.1 °C·d so far\n\
         300 °C·d reached after 2015-04-05 (Sat 4 Apr 2015 - after 2015-04-05)\n\
         by 3 years before\n",
        "",
    );
}

#[test]
fn where_no_year_gets_there_one_date_says_it() {
    check(
        &format!("{SPRING} --horizon 2015-03-20"),
        0,
        "single-sine, base 5 °C, horizontal above 25 °C\n\
         2015-02-01 to 2015-03-20: 222.1 °C·d so far\n\
         300 °C·d not reached by 2015-03-20\n\
         by the days known and foretold alone\n",
        "",
    );
}

#[test]
fn what_makes_no_sense_is_refused() {
    let refused = |more: &str, why: &str| check(&format!("{SPRING} {more}"), 64, "", why);
    refused(
        "--horizon 2015-03-01",
        "the horizon 2015-03-01 lies before 2015-03-20; name a later day\n",
    );
    refused(
        "--horizon 2115-03-01",
        "from 2015-02-01 to 2115-03-01 is more than five years; name days nearer to each other\n",
    );
    refused(
        "--horizon 2015-12-31 --need-sd nan",
        "--need-sd must lie between 0 and 3\n",
    );
}

#[test]
fn a_file_with_nothing_before_today_gives_no_date() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("later.csv");
    std::fs::write(&path, "date,tmin_c,tmax_c\n2026-07-10,12,28\n").unwrap();
    let asked = "--from 2026-07-01 --today 2026-07-05 --horizon 2026-08-30 --need 210";
    let done = graftwarden(asked, &path);
    assert_eq!(done.status.code(), Some(65));
    assert_eq!(
        String::from_utf8(done.stderr).unwrap(),
        format!(
            "{}: no temperatures up to 2026-07-05 and none of the same dates in years before, so nothing can be said; give a file that has some\n",
            path.display()
        )
    );
}

#[test]
fn a_forecast_goes_before_the_mean_of_the_last_days() {
    let folder = tempfile::tempdir().unwrap();
    let (temps, foretold) = (
        folder.path().join("temps.csv"),
        folder.path().join("foretold.csv"),
    );
    // 15 °C·d on each of four days, one day missing, 5 foretold on each of two.
    let days: String = [1, 2, 4, 5]
        .map(|day| format!("2026-07-{day:02},12,28\n"))
        .concat();
    std::fs::write(
        &temps,
        format!("date,tmin_c,tmax_c\n{days}2026-07-06,30,40\n"),
    )
    .unwrap();
    let rows = "2026-07-05,40,41\n2026-07-06,9,11\n2026-07-07,9,11\n";
    std::fs::write(&foretold, format!("date,tmin_c,tmax_c\n{rows}")).unwrap();
    let asked = format!(
        "--from 2026-07-01 --today 2026-07-05 --horizon 2026-08-30 --need 100.1 --method average --forecast {}",
        foretold.display()
    );
    let done = graftwarden(&asked, &temps);
    // 75 with the missing day at the mean, 10 foretold, then 15 a day: on the second.
    assert_eq!(
        String::from_utf8(done.stdout).unwrap(),
        "average, base 5 °C\n\
         2026-07-01 to 2026-07-05: one day is missing, others stand in for it\n\
         100.1 °C·d reached about Thu 9 Jul 2026 (Thu 9 Jul 2026 - Thu 9 Jul 2026)\n\
         rough: no year before to go by; the days to come as the last 14 on the mean\n"
    );
    assert_eq!(String::from_utf8(done.stderr).unwrap(), "");
}
