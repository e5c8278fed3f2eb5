//! Who is told what.

use super::*;
use crate::letters::addressed;
use crate::nursery::{Gets, Person};
use chrono::NaiveDate;

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub(super) fn person(name: &str, gets: &[Gets]) -> Person {
    Person {
        gets: gets.to_vec(),
        ..Person::new(name, &format!("{name}@alderfold.example"))
    }
}

fn away(mut person: Person, from: &str, to: &str) -> Person {
    person.off.push((day(from), day(to)));
    person
}

/// Who of these is told on 2026-07-16 of a window and of an urgent risk.
#[track_caller]
fn check(people: &[Person], opens: &[&str], risk: &[&str]) {
    let about = || crate::notices::About::Site("home".into());
    let mut urgent = Notice::plain(Kind::HeatSpike, about(), "a", 1, day("2026-07-16"));
    urgent.urgent = true;
    let notices = [
        Notice::plain(Kind::Opens, about(), "a", 1, day("2026-07-16")),
        urgent,
    ];
    let told = addressed(people, &notices, &ByName::default(), day("2026-07-16"));
    let names = |at: usize| -> Vec<&str> {
        people
            .iter()
            .zip(&told)
            .filter(|(_, told)| told.contains(&&notices[at]))
            .map(|(person, _)| person.name.as_str())
            .collect()
    };
    assert_eq!((names(0), names(1)), (opens.to_vec(), risk.to_vec()));
}

#[test]
fn whoever_is_on_duty_is_told() {
    let (maren, jory) = (person("maren", &Gets::ALL), person("jory", &Gets::ALL));
    let both = ["maren", "jory"];
    check(&[maren.clone(), jory.clone()], &both, &both);
    let off = away(maren, "2026-07-10", "2026-07-16");
    check(&[off, jory], &["jory"], &["jory"]);
}

#[test]
fn where_nobody_is_on_duty_everybody_is_told() {
    let maren = away(person("maren", &Gets::ALL), "2026-07-16", "2026-07-20");
    let jory = away(person("jory", &Gets::ALL), "2026-07-01", "2026-07-31");
    check(&[maren, jory], &["maren", "jory"], &["maren", "jory"]);
}

#[test]
fn whoever_does_not_take_the_news_is_not_on_duty_for_it() {
    let maren = away(
        person("maren", &[Gets::Work, Gets::Urgent]),
        "2026-07-16",
        "2026-07-16",
    );
    let jory = person("jory", &[Gets::Work]);
    check(&[maren, jory], &["jory"], &["maren"]);
}

#[test]
fn that_a_risk_is_over_is_told_to_those_who_take_the_risk() {
    #[track_caller]
    fn check(what: &str, expected: Gets) {
        let about = crate::notices::About::Site("home".into());
        let mut over = Notice::plain(Kind::RiskOver, about, "a", 1, day("2026-07-16"));
        over.step = Some(what.to_owned());
        assert_eq!(over.wanted_by(), expected, "{what}");
        assert!(!over.urgent);
    }
    check("over-callusing", Gets::Urgent);
    check("heat-spike", Gets::Urgent);
    check("wind", Gets::Urgent);
    check("frost", Gets::Work);
    check("rain", Gets::Work);
}
