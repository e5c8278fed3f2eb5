//! The later years of a maple batch, and the same in the southern half of the globe.

use super::season::{Season, maple};
use super::{check, check_on};

/// Grafted on 1 July 2026; 20 °C from 1 April to 30 September, 5 °C from 1 October to 31 March.
fn years() -> Season {
    // 1 July + 92 days = 1 October; winters of 182 days (183 in the leap year 2028), summers of 183.
    maple().weather("92x20 182x5 183x20 183x5 183x20 182x5 183x20 182x5 183x20 182x5")
}

#[test]
fn the_autumn_look_opens_with_the_first_week_below_7() {
    // Seven days with one of 20 °C have a mean of 7.1: the first with none ends on 7 October.
    check_on(
        &years(),
        "2026-10-07",
        "autumn-look",
        "ahead 2026-10-07..2026-11-06",
    );
    check_on(
        &years(),
        "2026-10-08",
        "autumn-look",
        "open 2026-10-07..2026-11-06 heat",
    );
    check_on(
        &years().records("2026-10-10 head-length 25"),
        "2026-10-11",
        "autumn-look",
        "done 2026-10-10",
    );
}

#[test]
fn a_cold_week_in_summer_is_no_leaf_fall() {
    let season = maple().weather("40x20 10x5 200x20");
    check(&season, 60, "autumn-look", "ahead -..-");
    check(
        &season.records("45 head-length 25"),
        60,
        "autumn-look",
        "ahead -..-",
    );
}

#[test]
fn the_take_is_counted_after_300_degree_days_of_the_year() {
    // Nothing above 5 °C before 1 April 2027, then 15 a day: 300 on 20 April.
    check_on(
        &years(),
        "2027-04-20",
        "take",
        "ahead 2027-04-20..2027-05-18",
    );
    check_on(
        &years(),
        "2027-04-21",
        "take",
        "open 2027-04-20..2027-05-18 heat",
    );
    check_on(
        &years().records("2027-04-25 take 88"),
        "2027-04-26",
        "take",
        "done 2027-04-25",
    );
    // A count in the autumn before is another one.
    check_on(
        &years().records("2026-11-01 take 90"),
        "2027-04-21",
        "take",
        "open 2027-04-20..2027-05-18 heat",
    );
}

#[test]
fn stumping_comes_in_the_first_dormant_season_after_a_full_season() {
    check_on(
        &years(),
        "2026-11-10",
        "stump",
        "ahead 2027-11-01..2027-12-31",
    );
    check_on(
        &years(),
        "2027-11-01",
        "stump",
        "ahead 2027-11-01..2027-12-31",
    );
    check_on(
        &years(),
        "2027-11-02",
        "stump",
        "open 2027-11-01..2027-12-31 calendar",
    );
    check_on(
        &years(),
        "2027-12-31",
        "stump",
        "closing 2027-11-01..2027-12-31 calendar",
    );
    check_on(
        &years(),
        "2028-01-01",
        "stump",
        "late 2027-11-01..2027-12-31 calendar",
    );
}

#[test]
fn docking_waits_for_24_months_and_for_a_head_of_30_cm() {
    let stumped = years().records("2027-11-20 stumped");
    check_on(&stumped, "2029-12-01", "dock", "ahead -..-");
    let short = stumped.clone().records("2029-10-10 head-length 29.5");
    check_on(&short, "2029-12-01", "dock", "ahead -..-");
    let long = stumped.clone().records("2029-10-10 head-length 30");
    check_on(&long, "2029-11-20", "dock", "ahead 2029-11-20..2030-11-20");
    check_on(
        &long,
        "2029-11-21",
        "dock",
        "open 2029-11-20..2030-11-20 calendar",
    );
    let measured_late = stumped.records("2029-12-05 head-length 45");
    check_on(
        &measured_late,
        "2029-12-05",
        "dock",
        "open 2029-12-05..2030-12-05 record",
    );
    // Stumping in parts counts from the last of them.
    let parts =
        years().records("2027-11-20 stumped 60, 2027-12-02 stumped 40, 2029-10-10 head-length 30");
    check_on(&parts, "2029-12-01", "dock", "ahead 2029-12-02..2030-12-02");
}

#[test]
fn after_docking_nothing_is_left_to_do() {
    let season =
        years().records("2027-11-20 stumped, 2029-10-10 head-length 30, 2029-11-25 docked");
    check_on(&season, "2029-11-26", "dock", "done 2029-11-25");
    let n = (super::season::date("2029-11-26") - season.day(0)).num_days();
    season.on(n, |care| assert!(!care.is_open()));
}

/// Grafted on 10 January 2027 in the south; 20 °C to 31 March, 5 °C to 30 September, and so on.
fn south() -> Season {
    // 10 January + 81 days = 1 April, + 183 = 1 October, + 183 (2028 is a leap year) = 1 April 2028.
    let season = Season::new("maple field T-graft", "2027-01-10");
    season
        .but(|s| s.site.latitude = -41.3)
        .weather("81x20 183x5 183x20 183x5 60x20")
}

#[test]
fn the_first_summer_is_the_same_in_the_south() {
    check_on(
        &south(),
        "2027-01-25",
        "callus-check",
        "open 2027-01-24..2027-01-31 heat",
    );
}

#[test]
fn dates_of_the_year_move_six_months_in_the_south() {
    check_on(
        &south(),
        "2027-04-08",
        "autumn-look",
        "open 2027-04-07..2027-05-07 heat",
    );
    // From 1 July 2027; nothing above 5 °C before 1 October: 300 on 20 October, which is 28 days before 17 November.
    check_on(
        &south(),
        "2027-10-21",
        "take",
        "open 2027-10-20..2027-11-17 heat",
    );
    check_on(
        &south(),
        "2028-05-02",
        "stump",
        "open 2028-05-01..2028-06-30 calendar",
    );
}

#[test]
fn the_southern_season_of_ties_begins_after_1_september() {
    // Tape off on 10 February; the first turn is 28 days later. The first week at 10 °C or more ends on 3 October.
    let season = south().records("2027-02-10 tape-off");
    check_on(
        &season,
        "2027-03-11",
        "ties-and-suckers",
        "open 2027-03-10..- calendar",
    );
    check_on(&season, "2027-06-01", "ties-and-suckers", "ahead -..-");
    check_on(
        &season,
        "2027-11-01",
        "ties-and-suckers",
        "open 2027-10-31..- calendar",
    );
}

#[test]
fn a_leap_day_is_a_day() {
    let season = Season::new("maple field T-graft", "2028-02-20").weather("60x20");
    check_on(
        &season,
        "2028-03-06",
        "callus-check",
        "open 2028-03-05..2028-03-12 heat",
    );
    // Stumped on a leap day: 24 months later is 28 February.
    let season = years().records("2028-02-29 stumped, 2029-10-10 head-length 30");
    check_on(
        &season,
        "2030-02-20",
        "dock",
        "ahead 2030-02-28..2031-02-28",
    );
}
