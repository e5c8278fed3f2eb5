//! Heat against numbers from outside: published examples, and integrals over real series by another route.
//!
//! The files and their sources are told in tests/data/README.md. Every section counts its rows, so that none can pass
//! by checking nothing.

use chrono::NaiveDate;
use graftwarden::heat::{Extremes, Totals, Trust, Warm, ask, of_day, rate};
use graftwarden::nursery::{Cutoff, Method, Model};
use graftwarden::units::{Celsius, DegreeDays};
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

pub type Row = HashMap<String, String>;

pub fn checks() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/checks")
}

pub fn rows(file: &str) -> Vec<Row> {
    csv::Reader::from_path(checks().join(file))
        .unwrap()
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap()
}

pub fn number(row: &Row, column: &str) -> f64 {
    row[column]
        .parse()
        .unwrap_or_else(|_| panic!("{column} of {row:?}"))
}

fn number_or_none(row: &Row, column: &str) -> Option<f64> {
    (!row[column].is_empty()).then(|| number(row, column))
}

pub fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub fn daily(dataset: &str) -> ask::Series {
    rows(&format!("data/{dataset}.csv"))
        .iter()
        .map(|row| {
            let (min, max) = (number(row, "tmin_c"), number(row, "tmax_c"));
            (date(&row["date"]), Extremes { min, max })
        })
        .collect()
}

/// The days of a series as a run without gaps in its dates.
pub fn run(series: &ask::Series) -> (NaiveDate, Vec<Option<Warm>>) {
    let (&first, _) = series.first_key_value().unwrap();
    let (&last, _) = series.last_key_value().unwrap();
    let trust = Trust::Known;
    let days = first
        .iter_days()
        .take_while(|day| *day <= last)
        .map(|day| {
            let &Extremes { min, max } = series.get(&day)?;
            Some(Warm { min, max, trust })
        })
        .collect();
    (first, days)
}

/// Ours for the method names of the files; those not listed are somebody else's.
fn method(name: &str) -> Option<Method> {
    Some(match name {
        "simple_average" | "mw_method1" => Method::Average,
        "clamped_average" | "average_clamped" | "mw_method2" => Method::ClampedAverage,
        "single_sine" => Method::SingleSine,
        "single_triangle" => Method::SingleTriangle,
        "double_sine" => Method::DoubleSine,
        "double_triangle" => Method::DoubleTriangle,
        "gdh_asymcur_hour" | "gdh_asymcur_day_sine" | "gdh_hourly" | "gdh_single_sine" => {
            Method::GrowingDegreeHours
        }
        "yan_hunt_rel" | "beta_tmin_rel" | "beta_hourly" | "beta_single_sine" => Method::Beta,
        _ => return None,
    })
}

pub fn degree_day_model(row: &Row) -> Model {
    Model::new(
        method(&row["method"]).unwrap(),
        Cutoff::named(&row["cutoff"]).unwrap(),
        number(row, "base_c"),
        None,
        number_or_none(row, "upper_c"),
    )
    .unwrap()
}

fn response_model(row: &Row) -> Model {
    Model::new(
        method(&row["method"]).unwrap(),
        Cutoff::None,
        number(row, "t1_c"),
        Some(number(row, "t2_c")),
        Some(number(row, "t3_c")),
    )
    .unwrap()
}

/// How many rows of each kind a test has met.
#[derive(Default)]
pub struct Met(BTreeMap<String, u32>);

impl Met {
    pub fn one(&mut self, kind: &str) {
        *self.0.entry(kind.to_owned()).or_default() += 1;
    }

    #[track_caller]
    pub fn check(&self, expected: &[(&str, u32)]) {
        let met: Vec<_> = self.0.iter().map(|(k, &n)| (k.as_str(), n)).collect();
        assert_eq!(met, expected);
    }
}

#[track_caller]
fn check(row: &Row, found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{found} is not {expected}: {row:?}"
    );
}

/// The number after one of these words in the source column.
fn in_source(row: &Row, words: &[&str]) -> Option<f64> {
    let rest = words
        .iter()
        .find_map(|word| row["source"].split_once(word))?
        .1;
    let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.');
    Some(rest[..end.unwrap_or(rest.len())].parse().unwrap())
}

/// What we make of a row of days.csv, in its own unit; nothing where the method is not ours.
fn heat_of_row(row: &Row) -> Option<f64> {
    let method = method(&row["method"])?;
    let celsius = |t: f64| match row["units"].as_str() {
        "F" => Celsius::from_fahrenheit(t).0,
        _ => t,
    };
    // The rows of the responses say "beta" there.
    let cutoff = Cutoff::named(&row["cutoff"]).unwrap_or_default();
    let optimum = in_source(row, &["optimum=", "Topt="]);
    assert_eq!(optimum.is_some(), method.is_response(), "{row:?}");
    let next_min = in_source(row, &["tmin_next="]);
    assert_eq!(next_min.is_some(), method.is_double(), "{row:?}");
    let model = Model::new(
        method,
        cutoff,
        celsius(number(row, "base")),
        optimum,
        number_or_none(row, "upper").map(celsius),
    )
    .unwrap();
    let (min, max) = (celsius(number(row, "tmin")), celsius(number(row, "tmax")));
    if method.is_response() && !row["method"].ends_with("day_sine") {
        assert_eq!(row["tmin"], row["tmax"], "a rate at one temperature");
        return Some(rate(&model, min));
    }
    let heat = of_day(&model, Extremes { min, max }, next_min);
    Some(match row["units"].as_str() {
        "F" => heat * 1.8,
        _ => heat,
    })
}

#[test]
fn single_days() {
    let (mut checked, mut left_out) = (Met::default(), Met::default());
    for row in rows("days.csv") {
        let Some(found) = heat_of_row(&row) else {
            left_out.one(&row["method"]);
            continue;
        };
        let tolerance = number(&row, "tolerance");
        check(&row, found, number(&row, "expected"), tolerance);
        checked.one(&row["method"]);
    }
    checked.check(&[
        ("average_clamped", 4),
        ("beta_tmin_rel", 8),
        ("double_sine", 6),
        ("double_triangle", 6),
        ("gdh_asymcur_day_sine", 2),
        ("gdh_asymcur_hour", 9),
        ("mw_method1", 2),
        ("mw_method2", 2),
        ("simple_average", 8),
        ("single_sine", 39),
        ("single_triangle", 30),
        ("yan_hunt_rel", 5),
    ]);
    // Four cases by which readings pass the base is another method; the heat index is no heat of a day.
    left_out.check(&[("heat_index", 14), ("ukmo_4case", 6)]);
}

#[test]
fn heat_sums_over_real_series() {
    let mut checked = Met::default();
    for dataset in ["seattle", "clemson_1991_2020"] {
        let mut rows = rows("heat_sums.csv");
        rows.retain(|row| row["dataset"] == dataset);
        let questions: Vec<_> = rows
            .iter()
            .map(|row| ask::Question {
                from: date(&row["start"]),
                to: date(&row["end"]),
                need: None,
                model: degree_day_model(row),
            })
            .collect();
        let answers = ask::answers(&daily(dataset), &questions);
        for (row, answer) in rows.iter().zip(answers) {
            assert_eq!(answer.missing, 0, "{row:?}");
            let heat = answer.heat.unwrap();
            // The expected sums are printed to 4 decimals.
            check(row, heat, number(row, "expected_cday"), 0.5e-4 + 1e-8);
            checked.one(&format!("{dataset} {}", row["method"]));
        }
    }
    checked.check(&[
        ("clemson_1991_2020 clamped_average", 38),
        ("clemson_1991_2020 double_sine", 42),
        ("clemson_1991_2020 double_triangle", 42),
        ("clemson_1991_2020 simple_average", 38),
        ("clemson_1991_2020 single_sine", 38),
        ("clemson_1991_2020 single_triangle", 38),
        ("seattle clamped_average", 32),
        ("seattle double_sine", 32),
        ("seattle double_triangle", 32),
        ("seattle simple_average", 32),
        ("seattle single_sine", 32),
        ("seattle single_triangle", 32),
    ]);
}

#[test]
fn days_on_which_an_amount_is_reached() {
    let mut checked = Met::default();
    for dataset in ["seattle", "clemson_1991_2020"] {
        let series = daily(dataset);
        let (first, days) = run(&series);
        let (&last, _) = series.last_key_value().unwrap();
        let mut rows = rows("crossings.csv");
        rows.retain(|row| row["dataset"] == dataset);
        let questions: Vec<_> = rows
            .iter()
            .map(|row| ask::Question {
                from: date(&row["start"]),
                to: last,
                need: Some(number(row, "requirement_cday")),
                model: degree_day_model(row),
            })
            .collect();
        let answers = ask::answers(&series, &questions);
        for ((row, question), answer) in rows.iter().zip(&questions).zip(answers) {
            let expected = date(&row["crossing_date"]);
            assert_eq!(answer.reached_on, Some(expected), "{row:?}");
            let totals = Totals::new(&question.model, first, &days);
            let anchor = question.from.pred_opt().unwrap();
            let need = DegreeDays(number(row, "requirement_cday"));
            assert_eq!(totals.reached(anchor, need), Some(expected), "{row:?}");
            let before = totals.since(anchor, expected.pred_opt().unwrap()).unwrap();
            check(row, before.0, number(row, "sum_before_cday"), 0.5e-4 + 1e-8);
            let at = totals.since(anchor, expected).unwrap();
            check(row, at.0, number(row, "sum_at_cday"), 0.5e-4 + 1e-8);
            checked.one(&row["method"]);
        }
    }
    checked.check(&[
        ("clamped_average", 20),
        ("double_sine", 19),
        ("double_triangle", 20),
        ("simple_average", 19),
        ("single_sine", 58),
        ("single_triangle", 19),
    ]);
}

#[test]
fn rates_over_the_sine_of_each_day() {
    let mut checked = Met::default();
    for row in rows("rates.csv") {
        if !row["method"].ends_with("_single_sine") {
            continue;
        }
        let question = ask::Question {
            from: date(&row["start"]),
            to: date(&row["end"]),
            need: None,
            model: response_model(&row),
        };
        let answer = ask::answer(&daily(&row["dataset"]), &question);
        assert_eq!((answer.days * 24).to_string(), row["hours"]);
        let last_decimal = if question.model.method == Method::Beta {
            1e-6
        } else {
            1e-4
        };
        check(
            &row,
            answer.heat.unwrap(),
            number(&row, "expected"),
            0.51 * last_decimal,
        );
        checked.one(&row["method"]);
    }
    checked.check(&[("beta_single_sine", 4), ("gdh_single_sine", 2)]);
}

#[test]
fn rates_hour_by_hour() {
    let hours = rows("data/nyc_hourly_ewr.csv");
    let (mut checked, mut left_out) = (Met::default(), Met::default());
    for row in rows("rates.csv") {
        if !row["method"].ends_with("_hourly") {
            continue;
        }
        // The hourly normals of Seattle are not among the data.
        if row["dataset"] != "nyc_hourly_ewr" {
            left_out.one(&row["dataset"]);
            continue;
        }
        let model = response_model(&row);
        let span = row["start"].as_str()..=row["end"].as_str();
        let rates: Vec<f64> = hours
            .iter()
            .filter(|hour| span.contains(&hour["datetime"].as_str()))
            .map(|hour| rate(&model, number(hour, "temp_c")))
            .collect();
        assert_eq!(rates.len().to_string(), row["hours"], "{row:?}");
        let sum: f64 = rates.iter().sum();
        let (found, last_decimal) = match model.method {
            Method::Beta => (sum / 24.0, 1e-6),
            _ => (sum, 1e-4),
        };
        check(&row, found, number(&row, "expected"), 0.51 * last_decimal);
        checked.one(&row["method"]);
    }
    checked.check(&[("beta_hourly", 4), ("gdh_hourly", 2)]);
    left_out.check(&[("seattle_hourly_normals", 3)]);
}
