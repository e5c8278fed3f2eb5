//! Gusts and rain of a logger's file, through whole rounds to the letters.

use crate::program::{Nursery, temperatures};

/// The small nursery's days with gusts and rain beside them: 14 mm on 5 July 2024, 72 km/h on 20 July.
fn blown() -> Nursery {
    let days: String = temperatures("2024-07-31")
        .lines()
        .map(|line| {
            let (gust, rain) = match line.get(..10) {
                Some("date,tmin_") => ("gust_kmh", "rain_mm"),
                Some("2024-07-05") => ("25", "14"),
                Some("2024-07-20") => ("72", "0"),
                _ => ("20", "0"),
            };
            format!("{line},{gust},{rain}\n")
        })
        .collect();
    Nursery::small().with("temps.csv", &days)
}

/// The lines of the rehearsal that speak of wind, rain or frost, each with its morning before it.
fn told(words: &str) -> Vec<String> {
    let told = blown().run(&format!(
        "rehearse --from 2024-07-01 --to 2024-07-25 --letters letters {words}"
    ));
    let mut morning = "";
    let mut found = Vec::new();
    for line in told.out.lines() {
        if line.ends_with(", 06:10") {
            morning = line;
        }
        if ["wind,", "rain on", "frost,"]
            .iter()
            .any(|what| line.contains(what))
        {
            found.push(format!("{morning}: {}", line.trim()));
        }
    }
    found
}

#[test]
fn what_is_foretold_is_told_before_it_comes() {
    // 17 July is a Wednesday, three days before the gust; A1's first look opens on the 15th, A2's on the 17th, which is
    // foreseen, B1's after the gust.
    assert_eq!(
        told("--forecast perfect"),
        [
            "Thu 4 Jul 2024, 06:10: home: rain on new grafts, Fri 5 Jul to Fri 5 Jul: A1, A2",
            "Wed 17 Jul 2024, 06:10: home: URGENT, strong wind, Sat 20 Jul to Sat 20 Jul: A1, A2",
        ]
    );
}

#[test]
fn without_a_forecast_rain_is_told_afterwards_and_wind_not_at_all() {
    // 5 July is a Friday; its rain is known on Saturday and told on Monday.
    assert_eq!(
        told(""),
        ["Mon 8 Jul 2024, 06:10: home: rain on new grafts, Fri 5 Jul to Fri 5 Jul: A1, A2"]
    );
}
