//! The quality of days through whole rounds of the real program: what is rejected, doubted or told, by which threshold.

use crate::program::{CONFIG, FIRST, Nursery, temperatures};
use crate::weather_server::WeatherServer;
use insta::assert_snapshot;
use serde_json::Value;

/// The small nursery with these temperatures and thresholds of the site, after a round.
fn walked(temperatures: &str, quality: &str) -> Nursery {
    let nursery = site(quality).with("temps.csv", temperatures);
    nursery.round(FIRST);
    nursery
}

fn site(quality: &str) -> Nursery {
    let keys = format!("longitude = 4.4\nquality = {{ {quality} }}\n");
    Nursery::small().but("graftwarden.toml", "longitude = 4.4\n", &keys)
}

/// The small nursery's temperatures with days of July replaced, from `first` on; without, minima are about 14 and maxima
/// about 26 °C.
fn july(first: u32, pairs: &[&str]) -> String {
    let sound = temperatures("2024-07-15");
    let row = |line: &str| {
        let day = line
            .strip_prefix("2024-07-")?
            .get(..2)?
            .parse::<u32>()
            .ok()?;
        let pair = pairs.get(day.checked_sub(first)? as usize)?;
        Some(format!("2024-07-{day:02},{pair}\n"))
    };
    sound
        .lines()
        .map(|line| row(line).unwrap_or_else(|| format!("{line}\n")))
        .collect()
}

/// What is said of a day: that it is doubted, or why its raw values are rejected.
fn said(nursery: &Nursery, date: &str) -> String {
    let words = format!("days --site home --from {date} --to {date} --json");
    let day: Value = serde_json::from_str(nursery.run(&words).out.trim()).unwrap();
    let raw = &day["raw"][0];
    match (raw["used"].as_bool(), day["doubt"].as_str()) {
        (Some(true), None) => "sound".into(),
        (Some(true), Some(doubt)) => format!("doubted: {doubt}"),
        (Some(false), _) => format!("rejected: {}", raw["reason"].as_str().unwrap()),
        (None, _) => "not there".into(),
    }
}

/// The same 5 July by the usual thresholds and by one of the site's own.
#[track_caller]
fn check(pairs: &[&str], usual: &str, quality: &str, own: &str) {
    let temperatures = july(5, pairs);
    assert_eq!(said(&walked(&temperatures, ""), "2024-07-05"), usual);
    assert_eq!(said(&walked(&temperatures, quality), "2024-07-05"), own);
}

#[test]
fn a_day_is_rejected_by_the_sites_own_limits() {
    check(
        &["2,20"],
        "sound",
        "coldest = 5",
        "rejected: 2 to 20 °C cannot be",
    );
    check(
        &["14,40"],
        "sound",
        "warmest = 38",
        "rejected: 14 to 40 °C cannot be",
    );
    check(
        &["2,57"],
        "rejected: 2 to 57 °C cannot be",
        "warmest = 60",
        "doubted: a range of 55.0 °C is unusual",
    );
}

#[test]
fn a_day_is_doubted_by_the_sites_own_limits() {
    check(
        &["20,21"],
        "sound",
        "least_range = 2",
        "doubted: a range of 1.0 °C is unusual",
    );
    check(
        &["8,30"],
        "sound",
        "most_range = 20",
        "doubted: a range of 22.0 °C is unusual",
    );
    check(
        &["5,20"],
        "sound",
        "jump = 8",
        "doubted: more than 8 °C from the day before",
    );
}

#[test]
fn equal_days_are_doubted_and_rejected_by_the_sites_own_limits() {
    check(
        &["15,25"; 4],
        "sound",
        "equal_doubted = 4",
        "doubted: the same on 4 days running",
    );
    check(
        &["15,25"; 5],
        "doubted: the same on 5 days running",
        "equal_rejected = 5",
        "rejected: the same 15 and 25 °C on 5 days running: the instrument is stuck",
    );
}

#[test]
fn what_looks_like_fahrenheit_is_the_sites_own() {
    check(
        &["20,41", "21,42", "20,41"],
        "sound",
        "like_fahrenheit = 40",
        "rejected: reads like °F where °C is expected",
    );
}

#[test]
fn a_doubtful_day_is_shown_as_one() {
    let nursery = walked(&july(5, &["5,40"]), "");
    assert_snapshot!(nursery.run("days --site home --from 2024-07-04 --to 2024-07-06").well(), @r"
    date            min °C  max °C  origin    source  fetched       remark
    2024-07-04 Thu    14.1    26.1  measured  file    16 Jul 06:10
    2024-07-05 Fri     5.0    40.0  measured  file    16 Jul 06:10  doubtful: a range of 35.0 °C is
                                                                    unusual
    2024-07-06 Sat    13.7    25.7  measured  file    16 Jul 06:10
    ");
}

/// From 12 July on the logger writes °F: 57 to 79 °F are 14 to 26 °C. Set back, it is believed again.
#[test]
fn fahrenheit_stops_the_source_is_told_once_and_is_over_when_it_falls_back() {
    let nursery = Nursery::small().with(
        "temps.csv",
        &july(12, &["57,79", "58,80", "57,78", "56,78"]),
    );
    nursery.round(FIRST);
    assert_snapshot!(told(&nursery), @r#"
    site home, file: maxima up to 80 from 2024-07-12 on read like °F
    where °C is expected; nothing of this source is used from that day
    on. Set unit = "F" for it in the config, or set the logger back to
    °C.
    "#);
    assert_snapshot!(nursery.run("days --site home --from 2024-07-11 --to 2024-07-15"), @r#"
    date            min °C  max °C  origin    source  fetched       remark
    2024-07-11 Thu    14.5    26.5  measured  file    16 Jul 06:10
    2024-07-12 Fri       -       -  unknown
                      57.0    79.0  rejected  file    16 Jul 06:10  reads like °F where °C is expected
    2024-07-13 Sat       -       -  unknown
                      58.0    80.0  rejected  file    16 Jul 06:10  reads like °F where °C is expected
    2024-07-14 Sun       -       -  unknown
                      57.0    78.0  rejected  file    16 Jul 06:10  reads like °F where °C is expected
    2024-07-15 Mon       -       -  unknown
                      56.0    78.0  rejected  file    16 Jul 06:10  reads like °F where °C is expected
    -- error --
    site home, file: maxima up to 80 from 2024-07-12 on read like °F where °C is expected; nothing of this source is used from that day on. Set unit = "F" for it in the config, or set the logger back to °C.
    "#);
    let back = "2024-07-16,14.5,26.5\n2024-07-17,14.1,26.1\n";
    nursery.append("temps.csv", back);
    nursery.round("2024-07-18T06:10:00+02:00");
    assert_eq!(
        nursery.memory("SELECT count(*) FROM notice WHERE kind = 'trouble'"),
        ["1"]
    );
    assert_eq!(
        said(&nursery, "2024-07-15"),
        "rejected: reads like °F where °C is expected"
    );
    assert_eq!(said(&nursery, "2024-07-16"), "sound");
}

/// What letters say of trouble.
fn told(nursery: &Nursery) -> String {
    let letters = nursery.letters().join("\n");
    let trouble = |part: &&str| part.contains("site home") || part.contains("temps.csv");
    let parts: Vec<&str> = letters.split("\n\n").filter(trouble).collect();
    parts.join("\n\n")
}

/// The model says 33 °C all day, the file 20.1 °C in the mean.
#[tokio::test(flavor = "multi_thread")]
async fn two_sources_far_apart_are_told_once_by_the_sites_own_limits() {
    let now = "2024-07-16T04:10:00Z".parse().unwrap();
    let weather = WeatherServer::start(now, |_| Some(33.0)).await;
    let service = format!(
        "[[site.weather]]\nsource = \"open-meteo\"\nurl = \"{}\"\n\n[[people]]",
        weather.url()
    );
    let config = CONFIG.replacen("[[people]]", &service, 1);
    let trouble =
        |nursery: &Nursery| nursery.memory("SELECT count(*) FROM notice WHERE kind = 'trouble'");
    let usual = Nursery::small().with("graftwarden.toml", &config);
    usual.round(FIRST);
    assert_snapshot!(told(&usual), @r"
    site home: file and open-meteo are more than 8 °C apart on 3 days
    running up to 2024-07-15; file is used. Look whether the
    instrument stands in the sun or has moved.
    ");
    usual.round("2024-07-16T18:10:00+02:00");
    assert_eq!(trouble(&usual), ["1"]);
    let own = config.replace(
        "longitude = 4.4\n",
        "longitude = 4.4\nquality = { apart = 15 }\n",
    );
    let own = Nursery::small().with("graftwarden.toml", &own);
    own.round(FIRST);
    assert_eq!(trouble(&own), ["0"]);
}

#[test]
fn a_column_in_which_nothing_was_measured_is_told() {
    let rows: String = (1..=15)
        .map(|day| format!("2024-07-{day:02},M,26.1\n"))
        .collect();
    let nursery = Nursery::small().with("temps.csv", &format!("date,tmin_c,tmax_c\n{rows}"));
    nursery.round(FIRST);
    assert_snapshot!(told(&nursery), @r"
    temps.csv: no row has both a minimum in column tmin_c and a
    maximum in column tmax_c; no day comes from it. See that the
    instrument is connected, and name other columns in the config if
    these are the wrong ones.
    ");
    assert_snapshot!(nursery.run("days --try temps.csv"), @r#"
    -- error --
    temps.csv: no row has both a minimum in column tmin_c and a maximum in column tmax_c; no day comes from it. See that the instrument is connected, and name other columns in the config if these are the wrong ones.
    temps.csv: no date in it is a whole day. Try a file with a few whole days, or set min_readings lower.
    Try it again with --set and the line to set, as in --set 'unit = "F"'.
    -- exit 65 --
    "#);
    let readings: String = (0..24)
        .map(|hour| format!("2024-07-01 {hour:02}:00,---\n"))
        .collect();
    nursery.write("temps.csv", format!("time,temp_c\n{readings}"));
    assert_snapshot!(nursery.run("days --try temps.csv"), @r#"
    -- error --
    temps.csv: no row has a temperature in column temp_c; no day comes from it. See that the instrument is connected, and name other columns in the config if these are the wrong ones.
    temps.csv: no date in it is a whole day. Try a file with a few whole days, or set min_readings lower.
    Try it again with --set and the line to set, as in --set 'unit = "F"'.
    -- exit 65 --
    "#);
}

#[test]
fn marks_for_what_was_not_measured_are_no_trouble() {
    for mark in ["", "M", "---", "NaN", "-999.9"] {
        let nursery = Nursery::small().with("temps.csv", &july(5, &[&format!("{mark},{mark}")]));
        nursery.round(FIRST);
        assert_eq!(told(&nursery), "", "{mark}");
        assert_eq!(said(&nursery, "2024-07-05"), "not there", "{mark}");
    }
    let traces = Nursery::small().with(
        "temps.csv",
        "date,tmin_c,tmax_c,rain_mm\n2024-07-01,10,20,T\n2024-07-02,11,21,0.2\n",
    );
    let out = traces
        .run("days --site home --from 2024-07-01 --to 2024-07-02 --json")
        .well();
    assert!(
        out.contains("\"rain_mm\":null") && out.contains("\"rain_mm\":0.2"),
        "{out}"
    );
}
