//! How many letters of heat a season brings a person, on a warm site and on a cool one, with the real temperatures of both
//! and the next seven days foretold as they came.
//!
//! A cohort is what was grafted in the same week at one site. A letter of heat is one that tells of a spell, grown hotter or
//! over; it counts for each cohort that it names, and many letters count for several.

use crate::program::Nursery;
use chrono::{Datelike, Days, NaiveDate, Weekday};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// One season at one site.
pub struct Season {
    pub site: &'static str,
    series: &'static str,
    zone: &'static str,
    latitude: f64,
    /// The mean heat of a day from 15 July to 31 August in that series, in °C·d.
    standard_day: f64,
    pub year: i32,
}

const PEOPLE: [&str; 2] = ["maren@alderfold.example", "jory@alderfold.example"];
/// So many weeks of grafting, from the first Monday of July on.
const WEEKS: u64 = 6;
/// At most so many letters of heat a cohort and person, in the mean of a season.
const AT_MOST: f64 = 2.0;

pub fn warm(year: i32) -> Season {
    Season {
        site: "warm",
        series: "clemson_1991_2020.csv",
        zone: "America/New_York",
        latitude: 34.7,
        standard_day: 20.6,
        year,
    }
}

pub fn cool(year: i32) -> Season {
    Season {
        site: "cool",
        series: "seattle.csv",
        zone: "America/Los_Angeles",
        latitude: 47.6,
        standard_day: 15.2,
        year,
    }
}

impl Season {
    /// The days of the series, as they are written there, with their year.
    fn rows(&self) -> Vec<(i32, String)> {
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/checks/data");
        let text = std::fs::read_to_string(data.join(self.series)).unwrap();
        let row = |line: &str| (line[..4].parse().unwrap(), format!("{line}\n"));
        text.lines().skip(1).map(row).collect()
    }

    /// Monday and Wednesday of each week of grafting.
    fn grafted(&self) -> Vec<(u64, NaiveDate)> {
        let july = NaiveDate::from_ymd_opt(self.year, 7, 1).unwrap();
        let monday = july
            .iter_days()
            .find(|day| day.weekday() == Weekday::Mon)
            .unwrap();
        (0..WEEKS)
            .flat_map(|week| {
                [
                    (week, monday + Days::new(week * 7)),
                    (week, monday + Days::new(week * 7 + 2)),
                ]
            })
            .collect()
    }

    /// The nursery, its grafts looked after or left alone.
    fn nursery(&self, looked_after: bool) -> Nursery {
        let header = "date,tmin_c,tmax_c\n".to_owned();
        let rows = self.rows();
        let of = |is: &dyn Fn(i32) -> bool| -> String {
            let rows = rows.iter().filter(|(year, _)| is(*year));
            rows.map(|(_, row)| row.as_str()).collect()
        };
        let batches: String = self
            .grafted()
            .iter()
            .enumerate()
            .map(|(n, (week, day))| {
                format!("W{week}-{n},A,maple field T-graft,Ember Lace,100,{day}\n")
            })
            .collect();
        // Looked after as warmth asks for it: lines seen on day 15, headed back on day 17, the tape off on day 23.
        let records: String = self
            .grafted()
            .iter()
            .enumerate()
            .filter(|_| looked_after)
            .flat_map(|(n, (week, day))| {
                [(15, "lines"), (17, "headed-back"), (23, "tape-off")].map(|(after, what)| {
                    format!("{},W{week}-{n},{what},\n", *day + Days::new(after))
                })
            })
            .collect();
        let config = format!(
            r#"version = 1

[nursery]
name = "Alder Fold Nursery"
zone = "{zone}"

[[site]]
id = "{site}"
latitude = {latitude}
longitude = -100
standard_day = {standard_day}
past_years = "past.csv"

[[site.weather]]
source = "file"
path = "temps.csv"

[[people]]
name = "Maren Holt"
email = "{maren}"
gets = ["work", "urgent"]

[[people]]
name = "Jory Penhale"
email = "{jory}"
gets = ["urgent"]

[post]
from = "Alder Fold Nursery <letters@alderfold.example>"
folder = "letters"
log = false
"#,
            zone = self.zone,
            site = self.site,
            latitude = self.latitude,
            standard_day = self.standard_day,
            maren = PEOPLE[0],
            jory = PEOPLE[1],
        );
        Nursery::bare()
            .with("graftwarden.toml", &config)
            .with(
                "batches.csv",
                &("batch,block,plan,scion,grafts,grafted_on\n".to_owned() + &batches),
            )
            .with(
                "records.csv",
                &("date,batch,what,count\n".to_owned() + &records),
            )
            .with(
                "past.csv",
                &(header.clone() + &of(&|year| year < self.year)),
            )
            .with("temps.csv", &(header + &of(&|year| year == self.year)))
    }

    /// What the season tells, round by round; with the next days foretold as they came, or with a logger only.
    pub fn told(&self, looked_after: bool, foretold: bool) -> Vec<Value> {
        let words = format!(
            "rehearse --from {year}-07-01 --to {year}-{}{} --letters letters --json",
            if looked_after { "10-15" } else { "09-20" },
            if foretold { " --forecast perfect" } else { "" },
            year = self.year
        );
        let ran = self.nursery(looked_after).run(&words);
        assert_eq!(ran.code, 0, "{ran}");
        ran.out
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }

    /// By the temperatures that came, the day on which each batch that nobody looked after came to its limit.
    pub fn limits(&self) -> BTreeMap<String, NaiveDate> {
        let ran = self
            .nursery(false)
            .run(&format!("due --on {}-09-20 --json", self.year));
        assert_eq!(ran.code, 0, "{ran}");
        limits_in(&ran.out)
    }
}

/// Batch and limit of what `due --json` says.
pub fn limits_in(due: &str) -> BTreeMap<String, NaiveDate> {
    let rows = due.lines().map(|line| serde_json::from_str(line).unwrap());
    let limit = |row: Value| {
        let steps = row["steps"].as_array()?.iter();
        let limit = steps.clone().find(|s| s["step"] == "over-callusing")?;
        let day = limit["closes_on"].as_str()?.parse().unwrap();
        Some((row["batch"].as_str()?.to_owned(), day))
    };
    rows.filter_map(limit).collect()
}

/// The letters of heat of each person and week of grafting.
type Letters = BTreeMap<(&'static str, u64), BTreeSet<String>>;

fn letters_of_heat(told: &[Value]) -> Letters {
    let mut letters = Letters::new();
    for person in PEOPLE {
        for week in 0..WEEKS {
            letters.insert((person, week), BTreeSet::new());
        }
    }
    for notice in told {
        if !["heat-spike", "spell-over"].contains(&notice["kind"].as_str().unwrap()) {
            continue;
        }
        let texts = |key: &str| -> Vec<String> {
            let list = notice[key].as_array().unwrap();
            list.iter()
                .map(|text| text.as_str().unwrap().to_owned())
                .collect()
        };
        let weeks = texts("batches")
            .into_iter()
            .map(|batch| batch[1..2].parse().unwrap());
        let weeks: BTreeSet<u64> = weeks.collect();
        for (to, letter) in texts("to").iter().zip(texts("letter")) {
            let person = PEOPLE.into_iter().find(|person| person == to).unwrap();
            for &week in &weeks {
                letters
                    .get_mut(&(person, week))
                    .unwrap()
                    .insert(letter.clone());
            }
        }
    }
    letters
}

/// Prints the season's row for each person, and gives how many letters a cohort got in the mean.
fn count(season: &Season) -> Vec<(&'static str, f64)> {
    let told = season.told(true, true);
    let letters = letters_of_heat(&told);
    let of = |person: &'static str| {
        let counts: Vec<usize> = (0..WEEKS)
            .map(|week| letters[&(person, week)].len())
            .collect();
        let all: BTreeSet<&String> = (0..WEEKS)
            .flat_map(|week| &letters[&(person, week)])
            .collect();
        let mean = counts.iter().sum::<usize>() as f64 / WEEKS as f64;
        let name = person.split('@').next().unwrap();
        let counts: String = counts.iter().map(|n| format!("{n:4}")).collect();
        println!(
            "{:5} {} {name:6}{counts}   {:6} {mean:10.1}",
            season.site,
            season.year,
            all.len()
        );
        (person, mean)
    };
    PEOPLE.map(of).to_vec()
}

#[test]
fn a_season_brings_at_most_about_two_letters_of_heat_a_cohort() {
    println!("site  year person    letters of heat by week of grafting   in all  a cohort");
    // Of the warm site's last years the hottest, the coolest and an ordinary one; of the cool one the only year that has
    // three before it.
    let seasons = [warm(2011), warm(2013), warm(2016), warm(2019), cool(2015)];
    let mut heard = 0.0;
    for season in &seasons {
        for (person, mean) in count(season) {
            assert!(
                mean <= AT_MOST,
                "{} {}: {person} gets {mean}",
                season.site,
                season.year
            );
            heard += mean;
        }
    }
    assert!(heard > 0.0, "the warm site has spells");
}
