use super::*;
use crate::nursery::Gets;
use chrono::NaiveDate;

pub(super) const SMALL: &str = r#"
[nursery]
name = "Alder Fold"
zone = "Europe/Brussels"

[[site]]
id = "hill"
latitude = 50.85
longitude = 4.35
[[site.weather]]
source = "file"
path = "hill.csv"

[[people]]
name = "Maren"
email = "maren@alderfold.example"
"#;

/// Loads a text as `graftwarden.toml`, with other files beside it.
fn load_with(text: impl AsRef<[u8]>, beside: &[(&str, &str)]) -> Result<Config, String> {
    let folder = tempfile::tempdir().unwrap();
    for (name, content) in beside {
        std::fs::write(folder.path().join(name), content).unwrap();
    }
    let path = folder.path().join("graftwarden.toml");
    std::fs::write(&path, text).unwrap();
    let shorten = |trouble: ConfigTrouble| {
        let folder = format!("{}/", folder.path().display());
        trouble.to_string().replace(&folder, "")
    };
    Config::load(&path).map_err(shorten)
}

pub(super) fn load(text: &str) -> Result<Config, String> {
    load_with(text, &[])
}

/// The small config with one text in it put in place of another.
pub(super) fn with(old: &str, new: &str) -> String {
    assert!(SMALL.contains(old), "{old}");
    SMALL.replacen(old, new, 1)
}

/// Loading fails, and every one of these stands in what is said.
#[track_caller]
pub(super) fn check_refused(text: &str, words: &[&str]) {
    let said = load(text).unwrap_err();
    for word in words {
        assert!(said.contains(word), "'{word}' is not in:\n{said}");
    }
}

/// Loading succeeds with exactly these warnings (the beginning of each).
#[track_caller]
pub(super) fn check_warned(text: &str, words: &[&str]) {
    let config = load(text).unwrap();
    let said: Vec<&str> = config.warnings.iter().map(|p| p.what.as_str()).collect();
    assert_eq!(said.len(), words.len(), "{said:?}");
    for (said, word) in said.iter().zip(words) {
        assert!(said.contains(word), "'{word}' is not in '{said}'");
    }
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

#[test]
fn the_example_loads_without_a_warning() {
    let path = Path::new(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/config/graftwarden.toml"
    ));
    let config = Config::load(path).unwrap();
    assert_eq!(config.warnings, []);
    assert_eq!(config.name, "Alder Fold Nursery");
    assert!(config.batches.ends_with("config/batches.csv"));
    assert!(!config.workdays.works(day("2026-08-31")));
    assert!(!config.workdays.works(day("2027-01-01")));
    assert!(config.workdays.works(day("2027-01-04")));
    assert!(config.pages.unwrap().ends_with("config/pages"));
    let smtp = config.post.smtp.unwrap();
    assert_eq!((smtp.port, smtp.security), (465, Security::Tls));
    let hook = config.post.hook.unwrap();
    let argv = ["/usr/local/bin/send-text", "--quietly"].map(str::to_owned);
    assert_eq!(hook.to, HookTo::Command(argv.to_vec()));
    assert_eq!((hook.timeout.as_secs(), hook.urgent_only), (30, true));
    let WeatherConfig::OpenMeteo(service) = &config.sites[0].weather[1] else {
        panic!("the second source is the service");
    };
    assert_eq!(
        service.contact.as_deref(),
        Some("letters@alderfold.example")
    );
    assert_eq!((service.past_days, service.forecast_days), (10, 10));
}

/// Every line of the example that is left out can be put in: no key in it is misspelt.
#[test]
fn every_key_that_the_example_only_mentions_is_a_key() {
    let text = include_str!("../../config/graftwarden.toml");
    let mut put_in = 0;
    let whole: Vec<&str> = text
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(rest) if rest.split_once(" = ").is_some_and(|(key, _)| is_key(key)) => {
                put_in += 1;
                rest
            }
            _ => line,
        })
        .collect();
    assert_eq!(put_in, 45);
    let plan = include_str!("../../config/plans/apple-chip-bud.toml");
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("plans")).unwrap();
    std::fs::write(folder.path().join("plans/our-maples.toml"), plan).unwrap();
    let path = folder.path().join("graftwarden.toml");
    std::fs::write(&path, whole.join("\n")).unwrap();
    let config = Config::load(&path).unwrap();
    assert_eq!(config.sites[0].site.standard_day.map(|d| d.0), Some(12.5));
    assert_eq!(config.warnings.len(), 2, "{:?}", config.warnings);
}

fn is_key(text: &str) -> bool {
    text.chars().all(|c| c.is_ascii_lowercase() || c == '_')
}

#[test]
fn fifteen_lines_do() {
    let config = load(SMALL).unwrap();
    assert_eq!(config.people[0].gets, Gets::ALL);
    assert_eq!(config.units, Units::Metric);
    assert!(config.records.ends_with("records.csv"));
    assert!(config.workdays.works(day("2026-07-10")) && !config.workdays.works(day("2026-07-11")));
    let from = "2026-07-10T12:00:00Z".parse().unwrap();
    let next = config.schedule.next_after(from, config.zone).unwrap();
    assert_eq!(next.key(), "2026-07-11T06:10");
    assert_eq!(config.plans.len(), 5);
}

#[test]
fn all_problems_are_shown_at_once_each_with_its_place() {
    let text = r#"
[nursery]
nmae = "Alder Fold"
zone = "Europe/Brusels"
units = 7
days_off = ["2026-08-32", 2026-08-31, "2026-09-02..2026-09-01"]

[[site]]
id = "hill"
latitude = 95.0
longitude = 4.35
"#;
    insta::assert_snapshot!(load(text).unwrap_err(), @r#"
error: [nursery] has no name
 --> graftwarden.toml:2:1
  |
2 | [nursery]
  | ^^^^^^^^^
  |
  = help: write name = "the name of your nursery"

error: [nursery] has no key `nmae`
 --> graftwarden.toml:3:1
  |
3 | nmae = "Alder Fold"
  | ^^^^
  |
  = help: perhaps `name` is meant

error: 'Europe/Brusels' is not a time zone
 --> graftwarden.toml:4:8
  |
4 | zone = "Europe/Brusels"
  |        ^^^^^^^^^^^^^^^^
  |
  = help: perhaps "Europe/Brussels" is meant

error: `units` cannot be the number 7
 --> graftwarden.toml:5:9
  |
5 | units = 7
  |         ^
  |
  = help: write "metric" or "us"

error: '2026-08-32' is not a date or a span of dates
 --> graftwarden.toml:6:13
  |
6 | days_off = ["2026-08-32", 2026-08-31, "2026-09-02..2026-09-01"]
  |             ^^^^^^^^^^^^
  |
  = help: write "2026-08-31" or "2026-12-24..2027-01-02"

error: '2026-09-02..2026-09-01' ends before it begins
 --> graftwarden.toml:6:39
  |
6 | days_off = ["2026-08-32", 2026-08-31, "2026-09-02..2026-09-01"]
  |                                       ^^^^^^^^^^^^^^^^^^^^^^^^
  |
  = help: write the earlier date first

error: this site has no source of temperatures
 --> graftwarden.toml:8:1
  |
8 | [[site]]
  | ^^^^^^^^
  |
  = help: add a [[site.weather]] with source = "file" or source = "open-meteo"

error: `latitude` cannot be the number 95.0
  --> graftwarden.toml:10:12
   |
10 | latitude = 95.0
   |            ^^^^
   |
   = help: write a number from -90 to 90

warning: graftwarden.toml: nobody gets "work"
 |
 = help: add the word to somebody's gets, or a person

warning: graftwarden.toml: nobody gets "urgent"
 |
 = help: add the word to somebody's gets, or a person

warning: graftwarden.toml: nobody gets "trouble"
 |
 = help: add the word to somebody's gets, or a person
    "#);
}

#[test]
fn unknown_keys_are_offered_the_nearest_known_one() {
    let text = with("zone =", "zome = 1\nstaet = \"x\"\nzone =");
    check_refused(
        &text,
        &["no key `zome`", "`zone`", "no key `staet`", "`state`"],
    );
    check_refused(
        &format!("colour = 1\n{SMALL}"),
        &["no key `colour`", "known here: "],
    );
}

#[test]
fn wrong_brackets_and_names_of_two_lines_are_refused() {
    check_refused(
        &with("[[site]]", "[site]"),
        &["`site` cannot be a table", "[[site]] in double brackets"],
    );
    check_refused(
        &with("[nursery]", "[[nursery]]"),
        &["`nursery` cannot be a list", "[nursery] in single brackets"],
    );
    check_refused(
        &with("\"Maren\"", "\"Maren\\nBcc: x\""),
        &["`name` has a line end"],
    );
}

#[test]
fn every_fault_of_grammar_is_shown() {
    check_refused(
        "[nursery]\nname = \n[[site]\n",
        &["graftwarden.toml:2:", "graftwarden.toml:3:"],
    );
    check_refused(
        "[nursery]\nname = \"x",
        &["graftwarden.toml:2:", "this is not TOML"],
    );
}

#[test]
fn files_that_are_no_config_get_one_sentence() {
    check_refused("", &["the file is empty"]);
    check_refused(" \n", &["the file is empty"]);
    let said = load_with(b"[nursery]\nname = \"\xe9\"\n", &[]).unwrap_err();
    assert!(said.contains("line 2 is not UTF-8"), "{said}");
    let folder = tempfile::tempdir().unwrap();
    let said = |path: &Path| Config::load(path).unwrap_err().to_string();
    assert!(said(folder.path()).contains("a folder, not a file"));
    assert!(said(&folder.path().join("none.toml")).contains("no such file"));
}

#[test]
fn a_mark_and_line_ends_of_other_systems_do_not_matter() {
    let text = format!("\u{feff}{}", SMALL.replace('\n', "\r\n"));
    assert_eq!(load(&text).unwrap().name, "Alder Fold");
}

#[test]
fn a_newer_format_is_refused_with_one_sentence() {
    let said = load(&format!("version = 2\nnew = 1\n{SMALL}")).unwrap_err();
    assert!(
        said.contains("version 2; this graftwarden reads up to version 1"),
        "{said}"
    );
    assert!(!said.contains("`new`"), "{said}");
    assert!(load(&format!("version = 1\n{SMALL}")).is_ok());
}

#[test]
fn rounds_must_come_and_come_once() {
    check_refused(
        &format!("{SMALL}[rounds]\nat = [\"0 10 6 31 2 *\", \"0 30 6 13 * Fri\"]"),
        &["never comes", "both the day"],
    );
    check_refused(&format!("{SMALL}[rounds]\nat = []"), &["no round"]);
    check_warned(
        &format!("{SMALL}[rounds]\nat = [\"30 2 * * *\"]"),
        &["clock change"],
    );
}

#[test]
fn pages_are_wanted_or_not() {
    assert_eq!(load(SMALL).unwrap().pages, None);
    check_refused(&format!("{SMALL}[pages]"), &["[pages] has no folder"]);
    let wrong = format!("{SMALL}[pages]\nfolder = true\ndue = 1");
    check_refused(&wrong, &["`folder` cannot be true", "no key `due`"]);
}

#[test]
fn plans_of_ones_own_stand_beside_the_built_in_ones_or_take_their_place() {
    let maple = include_str!("../../config/plans/maple-field-t-graft.toml");
    let mine = maple.replace("maple field T-graft", "our maples");
    let text = format!("plans = [\"a.toml\", \"b.toml\"]\n{SMALL}");
    let config = load_with(&text, &[("a.toml", &mine), ("b.toml", maple)]).unwrap();
    assert_eq!(config.plans.len(), 6);
    assert!(
        config.warnings[0]
            .what
            .contains("takes the place of the built-in plan")
    );
    let said = load_with(&text, &[("a.toml", &mine), ("b.toml", &mine)]).unwrap_err();
    assert!(
        said.contains("two of your plans are named \"our maples\""),
        "{said}"
    );
    let bad = maple.replace("brings = [\"docked\"]", "brigns = [\"docked\"]");
    let said = load_with(&text, &[("a.toml", &bad)]).unwrap_err();
    assert!(
        said.contains("a.toml:") && said.contains("perhaps `brings`"),
        "{said}"
    );
    assert!(said.contains("no such file"), "{said}");
}
