//! `heat` from outside: words, `--json`, many questions at once, and what it says to a file or a question of no use.

use crate::program::{Nursery, Ran};
use insta::assert_snapshot;

/// Means of 15, 20 and 25 °C, none below 5 °C or above 30 °C: over base 5 they give 10, 15 and 20 °C·d by any curve.
const THREE: &str = "date,tmin_c,tmax_c\n2024-07-01,10,20\n2024-07-02,15,25\n2024-07-03,20,30\n";

fn heat(temps: &str, words: &str) -> Ran {
    let nursery = Nursery::bare().with("t.csv", temps);
    nursery.run(&format!("heat --temps t.csv {words}"))
}

#[test]
fn in_words() {
    let words = "--method single-sine --base 5 --upper 30 --cutoff horizontal --from 2024-07-01 --to 2024-07-03 --need 25";
    assert_snapshot!(heat(THREE, words), @r"
    single-sine, base 5 °C, horizontal above 30 °C
    2024-07-01 to 2024-07-03, 3 days, 0 missing
    heat: 45.0000 °C·d
    25 °C·d reached on 2024-07-02
    ");
}

#[test]
fn as_json() {
    let words = "--base 5 --upper 30 --cutoff horizontal --need 25 --json";
    assert_snapshot!(heat(THREE, words), @r#"{"method":"single-sine","cutoff":"horizontal","base_c":5.0,"upper_c":30.0,"from":"2024-07-01","to":"2024-07-03","days":3,"missing":0,"unit":"degree-days","heat_cday":45.0,"reached_on":"2024-07-02"}"#);
}

#[test]
fn a_need_beyond_the_end_is_not_reached() {
    assert_snapshot!(heat(THREE, "--need 45.1"), @r"
    single-sine, base 5 °C
    2024-07-01 to 2024-07-03, 3 days, 0 missing
    heat: 45.0000 °C·d
    45.1 °C·d not reached before the end or the first missing day
    ");
    assert_snapshot!(heat(THREE, "--need 45.1 --json"), @r#"{"method":"single-sine","cutoff":"none","base_c":5.0,"upper_c":null,"from":"2024-07-01","to":"2024-07-03","days":3,"missing":0,"unit":"degree-days","heat_cday":45.0,"reached_on":null}"#);
}

#[test]
fn a_missing_day_is_not_a_day_without_heat() {
    let gap = THREE.replace("2024-07-02,15,25\n", "");
    assert_snapshot!(heat(&gap, "--need 10 --json"), @r#"{"method":"single-sine","cutoff":"none","base_c":5.0,"upper_c":null,"from":"2024-07-01","to":"2024-07-03","days":3,"missing":1,"unit":"degree-days","heat_cday":null,"reached_on":"2024-07-01"}"#);
    assert_snapshot!(heat(&gap, "--need 11"), @r"
    single-sine, base 5 °C
    2024-07-01 to 2024-07-03, 3 days, 1 missing
    heat: unknown, since a day without temperatures is not a day without heat; the first is 2024-07-02
    11 °C·d not reached before the end or the first missing day
    ");
}

#[test]
fn days_beyond_the_ends_of_the_file_are_missing() {
    assert_snapshot!(heat(THREE, "--from 2024-06-30 --to 2024-07-04 --json"), @r#"{"method":"single-sine","cutoff":"none","base_c":5.0,"upper_c":null,"from":"2024-06-30","to":"2024-07-04","days":5,"missing":2,"unit":"degree-days","heat_cday":null,"reached_on":null}"#);
}

#[test]
fn fahrenheit_by_the_option_or_by_the_headings() {
    let three = "date,low,high\n2024-07-01,50,68\n2024-07-02,59,77\n2024-07-03,68,86\n";
    let named = "--min-column low --max-column high";
    let celsius = heat(THREE, "--json").well();
    assert_eq!(
        heat(three, &format!("{named} --unit F --json")).well(),
        celsius
    );
    let by_heading = three.replace("low,high", "tmin_f,tmax_f");
    assert_eq!(heat(&by_heading, "--json").well(), celsius);
    assert_snapshot!(celsius, @r#"{"method":"single-sine","cutoff":"none","base_c":5.0,"upper_c":null,"from":"2024-07-01","to":"2024-07-03","days":3,"missing":0,"unit":"degree-days","heat_cday":45.0,"reached_on":null}"#);
}

#[test]
fn the_other_methods() {
    assert_snapshot!(heat(THREE, "--method average --json"), @r#"{"method":"average","cutoff":"none","base_c":5.0,"upper_c":null,"from":"2024-07-01","to":"2024-07-03","days":3,"missing":0,"unit":"degree-days","heat_cday":45.0,"reached_on":null}"#);
    // The two rates were integrated over the sine in steps of 1/400000 of a day: 1058.8626 and 2.53706.
    assert_snapshot!(heat(THREE, "--method growing-degree-hours --base 4 --optimum 25 --upper 36"), @r"
    growing-degree-hours, base 4 °C, optimum 25 °C, upper 36 °C
    2024-07-01 to 2024-07-03, 3 days, 0 missing
    heat: 1058.8626 °C·h
    ");
    assert_snapshot!(heat(THREE, "--method beta --base 0 --optimum 25 --upper 40"), @r"
    beta, base 0 °C, optimum 25 °C, upper 40 °C
    2024-07-01 to 2024-07-03, 3 days, 0 missing
    heat: 2.5371 optimum-days
    ");
    assert_snapshot!(heat(THREE, "--method double-sine"), @r"
    double-sine, base 5 °C
    2024-07-01 to 2024-07-03, 3 days, 0 missing
    heat: 47.5000 °C·d
    2024-07-03 was reckoned by the single curve: the next day's minimum is not known
    ");
}

#[test]
fn many_questions_at_once() {
    let nursery = Nursery::bare().with("t.csv", THREE).with(
        "asks.csv",
        "from,to,need,method,base,cutoff,upper\n\
         2024-07-01,2024-07-03,25,,,,\n\
         2024-07-02,,,average,10,,\n\
         ,2024-07-04,10,single-triangle,,,\n",
    );
    assert_snapshot!(nursery.run("heat --temps t.csv --asks asks.csv --out out.csv"), @"");
    assert_snapshot!(nursery.read("out.csv"), @r"
    from,to,need,method,base,cutoff,upper,heat_cday,reached_on
    2024-07-01,2024-07-03,25,,,,,45.000000,2024-07-02
    2024-07-02,,,average,10,,,25.000000,
    ,2024-07-04,10,single-triangle,,,,,2024-07-01
    ");
}

#[test]
fn a_bad_question_leaves_the_others_answered() {
    let asks = "from,to,need,method\n\
                2024-07-03,2024-07-01,,\n\
                2024-07-01,2024-07-01,,\n\
                1 July,,,\n\
                ,,warm,\n\
                ,,,sine\n";
    let nursery = Nursery::bare().with("t.csv", THREE).with("asks.csv", asks);
    assert_snapshot!(nursery.run("heat --temps t.csv --asks asks.csv --out out.csv"), @r"
    -- error --
    asks.csv, row 2: the last day 2024-07-01 lies before the first day 2024-07-03; write them the other way round; its answer stays empty.
    asks.csv, row 4: column from: '1 July' is not a date; write it like 2026-08-18; its answer stays empty.
    asks.csv, row 5: column need: 'warm' is not a number; its answer stays empty.
    asks.csv, row 6: there is no such method; write one of average, clamped-average, single-triangle, double-triangle, single-sine, double-sine, growing-degree-hours, beta; its answer stays empty.
    -- exit 65 --
    ");
    assert_snapshot!(nursery.read("out.csv"), @r"
    from,to,need,method,heat_cday,reached_on
    2024-07-03,2024-07-01,,,,
    2024-07-01,2024-07-01,,,10.000000,
    1 July,,,,,
    ,,warm,,,
    ,,,sine,,
    ");
}

#[test]
fn a_minimum_above_the_maximum_spoils_the_day() {
    let bad = THREE.replace("15,25", "25,15");
    assert_snapshot!(heat(&bad, "--json"), @r#"
    {"method":"single-sine","cutoff":"none","base_c":5.0,"upper_c":null,"from":"2024-07-01","to":"2024-07-03","days":3,"missing":1,"unit":"degree-days","heat_cday":null,"reached_on":null}
    -- error --
    t.csv, 2024-07-02: minimum 25 °C is above maximum 15 °C; the day counts as missing. Mend the value.
    -- exit 65 --
    "#);
}

#[test]
fn an_instrument_that_says_nothing_leaves_the_day_missing() {
    let said = heat(&THREE.replace("15,25", "NaN,25"), "");
    assert_snapshot!(said, @r"
    single-sine, base 5 °C
    2024-07-01 to 2024-07-03, 3 days, 1 missing
    heat: unknown, since a day without temperatures is not a day without heat; the first is 2024-07-02
    ");
    for nothing in ["", "-", "-9999"] {
        let other = THREE.replace("15,25", &format!("{nothing},25"));
        assert_eq!(heat(&other, ""), said);
    }
}

#[test]
fn no_number_spoils_the_day() {
    assert_snapshot!(heat(&THREE.replace("15,25", "cold,25"), "--json"), @r#"
    {"method":"single-sine","cutoff":"none","base_c":5.0,"upper_c":null,"from":"2024-07-01","to":"2024-07-03","days":3,"missing":1,"unit":"degree-days","heat_cday":null,"reached_on":null}
    -- error --
    t.csv, row 3, column tmin_c: 'cold' is not a temperature; this row is not used. Correct it, or leave the cell empty where nothing was measured.
    -- exit 65 --
    "#);
}

#[test]
fn a_bad_day_outside_what_is_asked_spoils_nothing() {
    let bad = THREE.replace("15,25", "25,15");
    assert_snapshot!(heat(&bad, "--to 2024-07-01"), @r"
    single-sine, base 5 °C
    2024-07-01 to 2024-07-01, 1 day, 0 missing
    heat: 10.0000 °C·d
    -- error --
    t.csv, 2024-07-02: minimum 25 °C is above maximum 15 °C; the day counts as missing. Mend the value.
    ");
}

#[test]
fn files_of_no_use() {
    assert_snapshot!(Nursery::bare().run("heat --temps t.csv"), @r"
    -- error --
    t.csv: there is no such file; put it there, or correct the path
    -- exit 65 --
    ");
    assert_snapshot!(heat("", ""), @r"
    -- error --
    t.csv: the file is empty; save it again; its first row must name the columns
    -- exit 65 --
    ");
    assert_snapshot!(heat("date,tmin_c,tmax_c\n", ""), @r"
    -- error --
    t.csv: there is no row with a date in it below the header; see that the file is whole, and its dates written year first, as in 2026-08-18
    -- exit 65 --
    ");
    assert_snapshot!(heat("day,warm\n2024-07-01,20\n", ""), @r#"
    -- error --
    t.csv: no column for the temperatures is recognised; the header reads "day, warm"; name them with --date-column, --min-column and --max-column, or by number, as in --min-column '#3'
    -- exit 65 --
    "#);
    assert_snapshot!(Nursery::bare().run("heat --temps ."), @r"
    -- error --
    .: this is a folder, not a file; name a file inside it
    -- exit 65 --
    ");
}

#[test]
fn questions_of_no_use() {
    assert_snapshot!(heat(THREE, "--from 2024-07-03 --to 2024-07-01"), @r"
    -- error --
    the last day 2024-07-01 lies before the first day 2024-07-03; write them the other way round
    -- exit 64 --
    ");
    assert_snapshot!(heat(THREE, "--method sine"), @r"
    -- error --
    error: invalid value 'sine' for '--method <METHOD>': there is no such method; write one of average, clamped-average, single-triangle, double-triangle, single-sine, double-sine, growing-degree-hours, beta

    For more information, try '--help'.
    -- exit 64 --
    ");
    assert_snapshot!(heat(THREE, "--cutoff sharp"), @r"
    -- error --
    error: invalid value 'sharp' for '--cutoff <CUTOFF>': there is no such cutoff; write one of none, horizontal, intermediate, vertical

    For more information, try '--help'.
    -- exit 64 --
    ");
    assert_snapshot!(heat(THREE, "--from 1.7.2024"), @r"
    -- error --
    error: invalid value '1.7.2024' for '--from <FROM>': '1.7.2024' is not a date; write it like 2026-08-18

    For more information, try '--help'.
    -- exit 64 --
    ");
    assert_snapshot!(heat(THREE, "--need -3"), @r"
    -- error --
    error: unexpected argument '-3' found

    Usage: graftwarden heat [OPTIONS] --temps <FILE>

    For more information, try '--help'.
    -- exit 64 --
    ");
    assert_snapshot!(heat(THREE, "--upper 3 --cutoff vertical"), @r"
    -- error --
    upper 3 must lie above base 5
    -- exit 64 --
    ");
    assert_snapshot!(heat(THREE, "--cutoff horizontal"), @r"
    -- error --
    a horizontal cutoff needs an upper temperature
    -- exit 64 --
    ");
    assert_snapshot!(heat(THREE, "--method beta"), @r"
    -- error --
    beta needs an optimum and an upper temperature
    -- exit 64 --
    ");
    assert_snapshot!(heat(THREE, "--asks asks.csv"), @r"
    -- error --
    error: the following required arguments were not provided:
      --out <OUT.csv>

    Usage: graftwarden heat --temps <FILE> --asks <ASKS.csv> --out <OUT.csv>

    For more information, try '--help'.
    -- exit 64 --
    ");
}

/// A question about a file has nothing to do with a config.
#[test]
fn what_is_said_of_a_file_says_nothing_of_a_config() {
    for temps in [
        "day,warm\n2024-07-01,20\n",
        "date,min,min,max\n2024-07-01,1,2,3\n",
        "date,min °C,max °F\n2024-07-01,1,2\n",
        "date,tmin_c,tmax_c\n02/08/2024,10,20\n18/08/2024,10,20\n",
        "date,tmin_c,tmax_c\n02/08/2024,10,20\n03/08/2024,10,20\n",
        "date,tmin_c,tmax_c\n",
        "date,tmin_c,tmax_c,gust\n2024-07-01,,,20\n",
    ] {
        let said = heat(temps, "").to_string();
        assert!(said.contains("-- error --"), "{said}");
        assert!(
            !said.contains("config") && !said.contains("date_format"),
            "{said}"
        );
    }
    let said = heat("date,min °C,max °C\n2024-07-01,10,20\n", "--unit F").to_string();
    assert!(
        said.contains("--unit says") && !said.contains("config"),
        "{said}"
    );
    assert_eq!(
        heat("date,tmin_c,tmax_c,gust\n2024-07-01,10,20,30\n", "").err,
        ""
    );
}
