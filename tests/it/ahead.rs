//! When windows will open: from the days known and the years before.
//!
//! Worked by hand. Between 5 and 30 °C a day of 10 to 30 °C gives 15 °C·d by the single sine, one of 10 to 25 °C 12.5 and
//! one of 10 to 20 °C 10: its mean less 5. A1, grafted on 1 July, has five days of 15 °C·d at the end of 6 July, 75 of the
//! 210 °C·d of its 14 standard days. The 135 that are left take 9 days as in 2023 (15 July), 11 as in 2021 (17 July) and
//! 14 as in 2022 (20 July). With so few years the need is made unsure by 0.1 · 135/210 / √3 of itself: of the 45 dates that
//! three years and fifteen amounts give, the 5th, 23rd and 41st are still these three.

use crate::program::{BATCHES, Nursery, temperatures};
use chrono::NaiveDate;
use insta::assert_snapshot;

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn rows(from: &str, to: &str, max: u32) -> String {
    let days = day(from).iter_days().take_while(|date| *date <= day(to));
    days.map(|date| format!("{date},10,{max}\n")).collect()
}

fn nursery() -> Nursery {
    let header = "date,tmin_c,tmax_c\n";
    let only_a1: String = BATCHES
        .lines()
        .take(2)
        .map(|line| format!("{line}\n"))
        .collect();
    let past = [("2021", 25), ("2022", 20), ("2023", 30)]
        .map(|(year, max)| rows(&format!("{year}-07-01"), &format!("{year}-12-31"), max));
    Nursery::small()
        .with("batches.csv", &only_a1)
        .with(
            "temps.csv",
            &(header.to_owned() + &rows("2024-06-25", "2024-07-06", 30)),
        )
        .with("past.csv", &(header.to_owned() + &past.concat()))
}

fn when(nursery: &Nursery, day: &str) -> String {
    let due = nursery.run(&format!("due --on {day}")).well();
    let line = due.lines().find(|line| line.starts_with("A1")).unwrap();
    line.split("lines").nth(1).unwrap().trim().to_owned()
}

#[test]
fn years_before_say_when_and_how_surely() {
    let nursery = nursery().but(
        "graftwarden.toml",
        "id = \"home\"",
        "id = \"home\"\npast_years = \"past.csv\"",
    );
    assert_eq!(
        when(&nursery, "2024-07-06"),
        "about Wed 17 Jul (Mon 15 - Sat 20)"
    );
    let json = nursery.run("due --on 2024-07-06 --json").well();
    assert!(
        json.contains(r#""opens_about":{"p10":"2024-07-15","p50":"2024-07-17","p90":"2024-07-20","rough":false}"#),
        "{json}"
    );
}

#[test]
fn without_years_before_it_is_called_rough() {
    assert_eq!(when(&nursery(), "2024-07-06"), "roughly Mon 15 Jul");
}

#[test]
fn a_year_with_a_hole_is_left_out() {
    let nursery = nursery()
        .but(
            "graftwarden.toml",
            "id = \"home\"",
            "id = \"home\"\npast_years = \"past.csv\"",
        )
        .but("past.csv", "2022-09-09,10,20\n", "");
    // Of 2021 and 2023, the need unsure by 0.1 · 135/210 / √2: the 3rd, 15th and 27th of 30 dates.
    assert_eq!(
        when(&nursery, "2024-07-06"),
        "about Tue 16 Jul (Mon 15 - Thu 18)"
    );
}

/// Of A1 no lines showed on day 12 and lines on day 15, of A2 none on day 10; a day gives one standard day. That must
/// teach what the same looks do when they are written down as plain figures.
#[test]
fn the_field_records_teach_what_the_same_figures_do() {
    let header = "date,tmin_c,tmax_c\n";
    let nursery = Nursery::small()
        .learning("show")
        .with("temps.csv", &(header.to_owned() + &rows("2024-06-25", "2024-07-31", 30)))
        .with(
            "records.csv",
            "date,batch,what,count\n2024-07-13,A1,no-lines,\n2024-07-16,A1,lines,4/10\n2024-07-13,A2,no-lines,\n",
        )
        .with(
            "seen.csv",
            "group,above,upto,seasons_ago\n\
             \"maple field T-graft, Ember Lace\",12,15,2\n\"maple field T-graft, Fox Cinder\",10,,2\n",
        );
    let figures = nursery.run("tune --intervals seen.csv --json").well();
    let figures: Vec<&str> = figures.lines().collect();
    assert_eq!(figures.len(), 2);
    let taught = nursery.run("tune --on 2026-07-13 --json").well();
    // What all scions together teach comes first; more is said of each group than of the plain figures.
    let taught: Vec<&str> = taught.lines().skip(1).collect();
    assert_eq!(taught.len(), 2);
    for (taught, figures) in taught.iter().zip(figures) {
        let same = figures.strip_suffix('}').unwrap();
        assert!(taught.starts_with(same), "{taught} {figures}");
    }
}

#[test]
fn what_became_of_a_season() {
    let nursery = Nursery::small().with("temps.csv", &temperatures("2024-08-20"));
    nursery.append(
        "records.csv",
        "2024-07-19,A2,lines,8/10,,\n2024-07-25,A2,dead,12,,\n2025-05-10,A2,take,96,,\n",
    );
    assert_snapshot!(nursery.run("due --season"), @r"
    The season of 2024

    Living: 496 of 520 grafts, 95 % (93 - 97). Not counted yet: 2 batches. What is not written down of these as lost or dead counts as living.

    The range after a share holds the true one 95 times out of 100; where two ranges overlap, the difference may be chance.

    By scion:
      Ember Lace: 310 of 310, all (99 - 100 %)
      Grey Heron: 90 of 90, all (96 - 100 %)
      Fox Cinder: 96 of 120, 80 % (72 - 86)

    By block:
      B: 90 of 90, all (96 - 100 %)
      A: 406 of 430, 94 % (92 - 96)

    From grafting to lines written down:
      Fox Cinder: 16 days, 16 standard days (1 batch)

    Not counted yet:
      A1, B1
    ");
    assert_snapshot!(nursery.run("due --season 2024 --json"), @r#"{"season":2024,"batches":3,"counted":1,"taken":496,"of":520,"low95":0.932244,"high95":0.968792,"groups":[{"by":"scion","name":"Ember Lace","taken":310,"of":310,"low95":0.987759,"high95":1.0},{"by":"scion","name":"Grey Heron","taken":90,"of":90,"low95":0.959063,"high95":1.0},{"by":"scion","name":"Fox Cinder","taken":96,"of":120,"low95":0.719632,"high95":0.861756},{"by":"block","name":"B","taken":90,"of":90,"low95":0.959063,"high95":1.0},{"by":"block","name":"A","taken":406,"of":430,"low95":0.918296,"high95":0.96221}],"to_lines":[{"scion":"Fox Cinder","batches":1,"days":16.0,"standard_days":16.106667}],"dates_held":null}"#);
    assert_snapshot!(nursery.run("due --season 2019"), @r"
    -- error --
    no batch was grafted in the season of 2019
    -- exit 65 --
    ");
}
